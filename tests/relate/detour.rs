//! Detours against a stage whose microphones have places: the inequality of the triangle (common practice of surveying), and walls as
//! mirrors.

use deskside::dsp::air::USUAL_TEMPERATURE_C;
use deskside::dsp::air::speed_of_sound_m_s;
use deskside::relate::detour::{Heard, Path, Ways};

use crate::support::signals::Rng;

/// A player this near to the own microphone, in metres.
const CLOSE_M: f64 = 0.3;

type Place = [f64; 2];

fn distance_m(a: Place, b: Place) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// A stage of players, each with a microphone `CLOSE_M` away in some direction.
fn stage(rng: &mut Rng, n: usize) -> Vec<(Place, Place)> {
    let player = |_| {
        let at = [8.0 * rng.even(), 5.0 * rng.even()];
        let turn = std::f64::consts::TAU * rng.even();
        (at, [at[0] + CLOSE_M * turn.cos(), at[1] + CLOSE_M * turn.sin()])
    };
    (0..n).map(player).collect()
}

/// How every player arrives everywhere by the straight way; `longer_m` says what a way is longer.
fn heard(stage: &[(Place, Place)], longer_m: impl Fn(usize, usize) -> f64) -> Vec<Heard> {
    let mut heard = Vec::new();
    for (source, (at, own)) in stage.iter().enumerate() {
        for (mic, (_, other)) in stage.iter().enumerate().filter(|(mic, _)| *mic != source) {
            let path_m = distance_m(*at, *other) + longer_m(source, mic) - distance_m(*at, *own);
            let delay_s = path_m / speed_of_sound_m_s(USUAL_TEMPERATURE_C);
            heard.push(Heard { source, mic, delay_s, is_close: true, is_witness: true });
        }
    }
    heard
}

fn paths(heard: &[Heard]) -> Vec<Path> {
    let ways = Ways::new(heard);
    heard.iter().map(|one| ways.path(one)).collect()
}

fn detours(heard: &[Heard]) -> Vec<bool> {
    paths(heard).into_iter().map(|path| path == Path::Detour).collect()
}

#[test]
fn straight_ways_are_never_detours() {
    for seed in 0..200 {
        let stage = stage(&mut Rng::new(seed), 8);
        let told = paths(&heard(&stage, |_, _| 0.0));
        assert!(told.iter().all(|path| *path == Path::MayBeDirect), "stage {seed}: {told:?}");
    }
}

#[test]
fn a_reflection_of_one_player_is_told_by_the_way_back() {
    for seed in 0..200 {
        let stage = stage(&mut Rng::new(seed), 2);
        // Longer than the ways back and forth can differ: 0.6 m and 1.2 m.
        let heard = heard(&stage, |source, _| if source == 0 { 2.0 } else { 0.0 });
        let told = detours(&heard);
        // A player who is there before the own microphone hears him says nothing.
        assert_eq!(told[0], heard[1].delay_s > 0.0, "stage {seed}");
        assert!(!told[1], "stage {seed}");
    }
}

#[test]
fn a_third_microphone_on_the_way_tells_too() {
    let place = |x: f64| ([x, 0.0], [x + 0.1, 0.0]);
    let stage = [place(0.0), place(2.0), place(4.0)];
    // Player and microphone 0 and 2 hear each other by a wall only.
    let by_wall =
        |source: usize, mic: usize| if source + mic == 2 && source != 1 { 3.0 } else { 0.0 };
    let told = detours(&heard(&stage, by_wall));
    assert_eq!(told, [false, true, false, false, true, false]);
}

#[test]
fn who_is_no_witness_contradicts_nobody() {
    let stage = stage(&mut Rng::new(7), 6);
    let mut heard = heard(&stage, |source, _| if source == 0 { 9.0 } else { 0.0 });
    assert!(detours(&heard).contains(&true));
    heard.iter_mut().for_each(|one| one.is_witness = false);
    assert!(!detours(&heard).contains(&true));
}

#[test]
fn who_is_heard_elsewhere_long_before_is_somebody_else() {
    let one = |delay_s, is_close| Heard { source: 0, mic: 1, delay_s, is_close, is_witness: true };
    let path = |delay_s, is_close| paths(&[one(delay_s, is_close)])[0];
    // A player 0.3 m from the own microphone is at most 0.3 m nearer to another: 0.9 ms.
    assert_eq!(path(-0.000_9, true), Path::MayBeDirect);
    assert_eq!(path(-0.005, true), Path::Stranger, "1.7 m nearer");
    assert_eq!(path(-0.005, false), Path::MayBeDirect, "an overhead of the whole kit");
}
