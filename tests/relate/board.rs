//! Sections put together.

use deskside::relate::board::Board;
use deskside::relate::held_powers::HeldPowers;
use deskside::relate::mixture::mixture;
use deskside::unit::Span;

use crate::support::desk::{LENGTH_S, Strip, held, median, microphones, mix};

fn strips() -> Vec<Strip> {
    [(-3.0, 0.0), (-6.0, -0.5), (-12.0, 0.5), (0.0, 0.2), (-9.0, -0.2), (-4.0, 0.0)]
        .map(|(gain_db, pan)| Strip::plain(gain_db, pan))
        .to_vec()
}

#[test]
fn seconds_gains_and_openings_stand_at_their_places() {
    let raw = microphones();
    let mut settings = strips();
    settings[1].mute_s = Some([6.0, 13.0]);
    let (held, patch) = held(&raw, &mix(&raw, &settings));
    let found = mixture(&held, &patch, &[]).expect("there is sound");
    let channels: Vec<usize> = (10..16).collect();
    let mut board = Board::new(&channels, &[Span::new(0.0, LENGTH_S as f64)]);
    board.put(0, &found);
    board.finish();
    assert_eq!(board.lines[2].channel, 12);
    assert!(board.seconds.iter().take(LENGTH_S - 1).all(Option::is_some), "every second was read");
    for (line, strip) in board.lines.iter().zip(&settings) {
        let gains: Vec<f64> = line.gain_db.iter().flatten().map(|&db| f64::from(db)).collect();
        assert!(
            (median(&gains) - strip.gain_db).abs() < 0.35,
            "{}: {}",
            line.channel,
            median(&gains)
        );
    }
    let on = &board.lines[1].on;
    assert_eq!(on.len(), 2, "{on:?}");
    assert!((on[0].end_s - 6.0).abs() < 0.1 && (on[1].start_s - 13.0).abs() < 0.1, "{on:?}");
    assert!(board.lines[1].gain_db[8..12].iter().all(Option::is_none), "no gain while closed");
    // What all give adds up to the mix, as far as they don't hear each other.
    let second = board.seconds[3].as_ref().expect("it was read");
    let given: f32 = second.given.iter().flat_map(HeldPowers::powers).sum();
    let main: f32 = second.main.iter().sum();
    assert!((0.8..1.25).contains(&(given / main)), "{}", given / main);
}

#[test]
fn an_open_channel_stays_open_over_the_border_of_sections() {
    let raw = microphones();
    let main = mix(&raw, &strips());
    let border_s = LENGTH_S as f64;
    let sections = [Span::new(0.0, border_s), Span::new(border_s, 2.0 * border_s)];
    let channels: Vec<usize> = (0..6).collect();
    let mut parted = Board::new(&channels, &[Span::new(0.0, 2.0 * border_s)]);
    parted.part(0, border_s);
    let (held, patch) = held(&raw, &main);
    let found = mixture(&held, &patch, &[]).expect("there is sound");
    let mut later = found.clone();
    for channel in &mut later.channels {
        for on in &mut channel.on {
            on.start_s += LENGTH_S as f64;
            on.end_s += LENGTH_S as f64;
        }
    }
    for mut board in [Board::new(&channels, &sections), parted] {
        board.put(1, &later);
        board.put(0, &found);
        board.finish();
        let spans: Vec<Span> = board.sections.iter().map(|section| section.span).collect();
        assert_eq!(spans, sections, "parted or not");
        for line in &board.lines {
            assert_eq!(line.on.len(), 1, "{:?}", line.on);
            assert_eq!(line.sections.len(), 2);
        }
    }
}

#[test]
fn one_signal_on_two_channels_stands_at_the_first() {
    let mut raw = microphones();
    raw.push(raw[2].clone());
    let mut settings = strips();
    settings.push(Strip::plain(-9.0, 0.4));
    let (held, patch) = held(&raw, &mix(&raw, &settings));
    let found = mixture(&held, &patch, &[]).expect("there is sound");
    let mut board = Board::new(&(0..7).collect::<Vec<usize>>(), &[Span::new(0.0, LENGTH_S as f64)]);
    board.put(0, &found);
    board.finish();
    assert_eq!(board.groups, vec![vec![2, 6]]);
    let second = board.seconds[3].as_ref().expect("it was read");
    assert_eq!(second.given[6], HeldPowers::SILENT, "all of it stands at the first");
    assert!(second.of_line(2).iter().sum::<f32>() > 0.0);
    assert!(board.lines[2].sections[0].is_grouped && board.lines[6].sections[0].is_grouped);
}

#[test]
fn a_channel_that_is_closed_in_a_section_is_told_by_what_it_gave_in_another() {
    let raw = microphones();
    let border_s = LENGTH_S as f64;
    let sections = [Span::new(0.0, border_s), Span::new(border_s, 2.0 * border_s)];
    let mut board = Board::new(&(0..6).collect::<Vec<usize>>(), &sections);
    let (open, patch) = held(&raw, &mix(&raw, &strips()));
    board.put(0, &mixture(&open, &patch, &[]).expect("there is sound"));
    let mut closed = strips();
    closed[2].gain_db = -60.0;
    let (closed, _) = held(&raw, &mix(&raw, &closed));
    let expected_db = board.expected_db();
    assert!(expected_db[2].is_some_and(|db| (db + 12.0).abs() < 0.5), "{expected_db:?}");
    let found = mixture(&closed, &patch, &expected_db).expect("there is sound");
    let open_s: f64 = found.channels[2].on.iter().map(|span| span.length_s()).sum();
    assert!(open_s < 1.0, "{:?}", found.channels[2].on);
    assert!(!found.channels[2].told.is_empty(), "what it hears tells");
}
