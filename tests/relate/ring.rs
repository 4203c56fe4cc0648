//! Rings on the stage: one loop is told once, of its microphone; what is played or is the hall's own is none.

use deskside::measure::howl::{Ear, Held, HowlTrack, Peak, Steady, Stretch};
use deskside::relate::howl::Place;
use deskside::relate::ring::{Listening, stage_rings};
use deskside::unit::Span;

const HZ: f64 = 1250.0;

const TALK: [Span; 1] = [Span { start_s: 0.0, end_s: 60.0 }];

/// A channel in which a frequency stands out in 30 s of talk, and falls straight every three seconds.
fn track(hz: f64, over_db: f64) -> HowlTrack {
    let start_s = |n: u32| 10.0 + 3.0 * f64::from(n);
    let stretch = |n: u32| Stretch {
        start_s: start_s(n),
        end_s: start_s(n) + 2.9,
        n_windows: 23,
        peaks: vec![Peak { hz, over_db, moves_db: 7.0 }],
    };
    let steady = |n: u32| Steady {
        start_s: start_s(n) + 1.0,
        end_s: start_s(n) + 1.5,
        hz,
        is_straight: true,
    };
    HowlTrack {
        stretches: (0..10).map(stretch).collect(),
        steady: (0..10).map(steady).collect(),
        ..HowlTrack::default()
    }
}

/// A line input that holds a frequency for as long.
fn line(hz: f64) -> HowlTrack {
    let held = vec![Held { start_s: 12.0, end_s: 38.0, hz, peak_dbfs: -20.0 }];
    HowlTrack { held, ..HowlTrack::default() }
}

fn microphone(track: &HowlTrack) -> Listening<'_> {
    Listening { place: Place::Microphone, ear: Some(Ear::Close), track }
}

fn listener(track: &HowlTrack, ear: Ear) -> Listening<'_> {
    Listening { place: Place::Listener, ear: Some(ear), track }
}

#[test]
fn one_loop_is_told_once_of_the_microphone_that_rings_most() {
    let (main, own) = (track(HZ + 0.5, 18.0), track(HZ, 15.0));
    let (hall, spill) = (track(HZ - 0.4, 13.0), track(HZ + 0.2, 11.0));
    let all = stage_rings(
        &[
            listener(&main, Ear::Mixed),
            microphone(&spill),
            microphone(&own),
            listener(&hall, Ear::Afar),
        ],
        &TALK,
    );
    assert_eq!(all.len(), 1, "one loop in four channels: {all:?}");
    assert_eq!(all[0].source, 2, "it stands out 4 dB further there than in the other microphone");
    assert_eq!(all[0].heard_in, [0, 1, 2, 3], "and is heard everywhere");
    assert_eq!(all[0].ring.at.len(), 10, "every time");
}

#[test]
fn a_microphone_that_shows_it_faintly_is_named_before_a_mix() {
    let (main, faint) = (track(HZ, 14.0), track(HZ, 8.0));
    let all = stage_rings(&[listener(&main, Ear::Mixed), microphone(&faint)], &TALK);
    assert_eq!((all.len(), all[0].source), (1, 1), "8 dB ring by themselves in none: {all:?}");
    let other = track(2.0 * HZ, 8.0);
    let all = stage_rings(&[listener(&main, Ear::Mixed), microphone(&other)], &TALK);
    assert_eq!(all[0].source, 0, "no microphone shows it");
    assert_eq!(all[0].heard_in, [0], "nor does any other channel");
}

#[test]
fn a_talkers_microphone_that_shows_it_is_named_before_a_choirs() {
    let (own, choir) = (track(HZ, 9.5), track(HZ, 14.0));
    let of_choir = Listening { place: Place::Microphone, ear: Some(Ear::Afar), track: &choir };
    let all = stage_rings(&[of_choir, microphone(&own)], &TALK);
    assert_eq!((all.len(), all[0].source), (1, 1), "the choir hears it by way of the loudspeaker");
    let faint = track(HZ, 7.0);
    let all = stage_rings(&[of_choir, microphone(&faint)], &TALK);
    assert_eq!(all[0].source, 0, "the choir's own: the talker's microphone hears 7 dB less of it");
}

#[test]
fn what_a_line_input_plays_is_none_in_a_mix_and_one_in_the_talkers_microphone() {
    let (main, pad) = (track(HZ, 14.0), line(HZ));
    let played = Listening { place: Place::Line, ear: None, track: &pad };
    assert!(stage_rings(&[listener(&main, Ear::Mixed), played], &TALK).is_empty(), "it is played");
    let own = track(HZ, 14.0);
    let all = stage_rings(&[microphone(&own), listener(&main, Ear::Mixed), played], &TALK);
    assert_eq!(all.len(), 1, "a pad plays the loop's note by chance: the microphone tells");
}

#[test]
fn what_the_hall_rings_alone_is_its_own_where_a_mix_was_recorded() {
    let (hall, main) = (track(HZ, 14.0), track(2.0 * HZ, 5.0));
    let alone = stage_rings(&[listener(&hall, Ear::Afar)], &TALK);
    assert_eq!((alone.len(), alone[0].source), (1, 0), "nothing else was recorded");
    let beside = stage_rings(&[listener(&hall, Ear::Afar), listener(&main, Ear::Mixed)], &TALK);
    assert!(beside.is_empty(), "the main mix would ring too: {beside:?}");
}

#[test]
fn two_frequencies_and_two_times_are_two_loops() {
    let (low, high) = (track(HZ, 14.0), track(1300.0, 14.0));
    let all = stage_rings(&[microphone(&low), microphone(&high)], &TALK);
    assert_eq!(all.len(), 2, "{all:?}");
    let mut late = track(HZ, 14.0);
    late.steady.iter_mut().for_each(|one| {
        one.start_s += 100.0;
        one.end_s += 100.0;
    });
    late.stretches.iter_mut().for_each(|one| {
        one.start_s += 100.0;
        one.end_s += 100.0;
    });
    let talk = [TALK[0], Span::new(100.0, 160.0)];
    assert_eq!(stage_rings(&[microphone(&low), microphone(&late)], &talk).len(), 2, "later");
}

#[test]
fn nothing_rings_outside_of_talk_or_where_rings_are_not_looked_for() {
    let own = track(HZ, 18.0);
    assert!(stage_rings(&[microphone(&own)], &[]).is_empty(), "nobody talks");
    let unasked = Listening { place: Place::Microphone, ear: None, track: &own };
    assert!(stage_rings(&[unasked], &TALK).is_empty(), "an instrument");
    assert!(stage_rings(&[], &TALK).is_empty(), "no channel");
}
