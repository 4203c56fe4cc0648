//! When a channel is open, from equations that are known.

use deskside::relate::opened::opened;
use deskside::relate::ride::Equations;

use crate::support::signals::Rng;

const HOP_S: f64 = 2048.0 / 48_000.0;

/// Frames of a channel that is heard with `power`, closed in some frames, with noise on the equations.
fn heard(n_frames: usize, power: f32, closed: std::ops::Range<usize>) -> (Equations, Vec<f32>) {
    let mut rng = Rng::new(5);
    let gain = |frame: usize| if closed.contains(&frame) { 0.0 } else { 1.0 };
    let gains: Vec<f32> = (0..n_frames).map(gain).collect();
    let with_main =
        gains.iter().map(|gain| power * gain + power.sqrt() * rng.normal() as f32).collect();
    (Equations::new(1, vec![power; n_frames], with_main), gains)
}

#[test]
fn a_closing_is_found_to_the_frame_where_the_channel_is_loud() {
    let (equations, gains) = heard(800, 400.0, 300..400);
    let found = opened(&equations, &[gains], 0, HOP_S, None);
    let closed: Vec<usize> = (0..800).filter(|&frame| !found.open[frame]).collect();
    assert_eq!(closed, (300..400).collect::<Vec<_>>());
    assert!(found.told.iter().all(|&told| told), "every frame tells");
}

#[test]
fn what_rings_at_a_quarter_of_the_gain_beside_a_closing_is_no_opening() {
    let mut rng = Rng::new(8);
    let power = 400.0f32;
    // Closed from 300 to 500, and from 400 on something like it is heard.
    let gain = |frame: usize| match frame {
        300..400 => 0.0,
        400..500 => 0.25,
        _ => 1.0,
    };
    let gains: Vec<f32> = (0..1000).map(gain).collect();
    let with_main =
        gains.iter().map(|gain| power * gain + power.sqrt() * rng.normal() as f32).collect();
    let equations = Equations::new(1, vec![power; 1000], with_main);
    let found = opened(&equations, &[gains], 0, HOP_S, None);
    let closed: Vec<usize> = (0..1000).filter(|&frame| !found.open[frame]).collect();
    assert_eq!(closed, (300..500).collect::<Vec<_>>());
}

#[test]
fn gaps_of_a_few_frames_and_silence_are_no_closings() {
    let (equations, gains) = heard(800, 400.0, 300..306);
    assert!(opened(&equations, &[gains], 0, HOP_S, None).open.iter().all(|&open| open), "256 ms");
    let (equations, gains) = heard(800, 1.0, 300..400);
    let silent = opened(&equations, &[gains], 0, HOP_S, None);
    assert!(silent.open.iter().all(|&open| open), "too little is heard to tell");
    assert!(silent.told.iter().all(|&told| !told), "and no frame says that it tells");
}

#[test]
fn a_switch_in_silence_is_told_as_the_stretch_in_which_it_may_lie() {
    let mut rng = Rng::new(9);
    // Closed from 330 to 600, and nothing is played from 300 to 360.
    let power = |frame: usize| if (300..360).contains(&frame) { 0.0f32 } else { 400.0 };
    let gains: Vec<f32> =
        (0..800).map(|frame| if (330..600).contains(&frame) { 0.0 } else { 1.0 }).collect();
    let with_main = (0..800)
        .map(|frame| power(frame) * gains[frame] + power(frame).sqrt() * rng.normal() as f32)
        .collect();
    let equations = Equations::new(1, (0..800).map(power).collect(), with_main);
    let found = opened(&equations, &[gains], 0, HOP_S, None);
    let [closing, opening] = found.switches[..] else { panic!("{:?}", found.switches) };
    assert!(!closing.opens && opening.opens, "{:?}", found.switches);
    // A frame that is heard speaks for itself: at the price of one in twenty it may be one beside.
    assert!((299..=300).contains(&closing.earliest), "{closing:?}");
    assert!((360..=361).contains(&closing.latest), "{closing:?}");
    assert!((closing.earliest..=closing.latest).contains(&closing.frame), "{closing:?}");
    assert_eq!(opening.frame, 600);
    assert!(opening.earliest >= 599 && opening.latest <= 601, "{opening:?}");
}

#[test]
fn no_frames_have_no_course() {
    let found = opened(&Equations::new(1, Vec::new(), Vec::new()), &[Vec::new()], 0, HOP_S, None);
    assert!(found.open.is_empty() && found.usual.is_empty(), "{found:?}");
}
