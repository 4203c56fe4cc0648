//! Switch and fader against the source.

use deskside::relate::handling::{entrances, idle, left_out, n_turns, share_percent};
use deskside::unit::Span;

fn spans(pairs: &[[f64; 2]]) -> Vec<Span> {
    pairs.iter().map(|pair| Span::new(pair[0], pair[1])).collect()
}

#[test]
fn an_entry_is_late_by_the_time_until_the_channel_opens() {
    let sounds = spans(&[[20.0, 40.0], [60.0, 80.0], [100.0, 110.0]]);
    // Open in time, 1.4 s late, and open all along.
    let on = spans(&[[19.0, 41.0], [61.4, 130.0]]);
    let found = entrances(&sounds, &on);
    let late: Vec<f64> = found.iter().map(|one| one.late_s).collect();
    assert_eq!(found.len(), 3);
    assert!(
        (late[0]).abs() < 1e-9 && (late[1] - 1.4).abs() < 1e-9 && late[2].abs() < 1e-9,
        "{late:?}"
    );
}

#[test]
fn breaths_and_calls_are_no_entries() {
    // A rest of 4 s; a call of half a second; a passage in which the channel stays closed.
    let sounds = spans(&[[20.0, 30.0], [34.0, 40.0], [60.0, 60.5], [80.0, 90.0]]);
    let found = entrances(&sounds, &spans(&[[0.0, 50.0]]));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].at_s - 20.0).abs() < 1e-9);
}

#[test]
fn a_short_sound_before_the_first_word_is_not_the_begin() {
    let sounds = spans(&[[42.4, 42.7], [43.3, 47.0]]);
    let found = entrances(&sounds, &spans(&[[43.0, 60.0]]));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].at_s - 43.3).abs() < 1e-9 && found[0].late_s.abs() < 1e-9, "{found:?}");
}

#[test]
fn words_with_gaps_between_enter_as_one() {
    let sounds = spans(&[[20.0, 20.6], [21.0, 21.7], [22.1, 22.9]]);
    let found = entrances(&sounds, &spans(&[[22.0, 60.0]]));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].late_s - 2.0).abs() < 1e-9, "{found:?}");
}

#[test]
fn a_channel_is_idle_where_it_is_open_and_its_source_rests() {
    let sounds = spans(&[[10.0, 20.0]]);
    let on = spans(&[[0.0, 15.0], [18.0, 40.0]]);
    let found = idle(&sounds, &on);
    assert_eq!(found, spans(&[[0.0, 9.8], [20.2, 40.0]]));
    let percent = share_percent(&found, &spans(&[[0.0, 40.0]]));
    assert!((percent - 100.0 * 29.6 / 40.0).abs() < 1e-9, "{percent}");
}

#[test]
fn a_channel_is_left_out_where_it_is_closed_and_its_source_sounds() {
    let sounds = spans(&[[10.0, 20.0], [20.3, 30.0], [50.0, 50.4]]);
    let found = left_out(&sounds, &spans(&[[0.0, 15.0]]), &spans(&[[0.0, 28.0], [40.0, 60.0]]));
    assert_eq!(found.len(), 1, "{found:?}: breaths don't part it, and half a second is nothing");
    assert!((found[0].start_s - 15.0).abs() < 1e-9 && (found[0].end_s - 28.0).abs() < 1e-9);
}

#[test]
fn a_fader_turns_when_it_comes_back_by_two_decibels() {
    let course = [0.0f32, 1.0, 3.0, 4.0, 3.0, 1.5, 2.5, 4.0, 3.9, 3.8];
    assert_eq!(n_turns(course.into_iter()), 2, "up to 4, down to 1.5, up to 4");
    assert_eq!(n_turns([0.0f32, 3.0, 6.0, 9.0].into_iter()), 0, "one way");
    assert_eq!(n_turns([0.0f32, 1.0, 0.0, 1.0, 0.0].into_iter()), 0, "too little");
}
