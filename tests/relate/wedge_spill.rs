//! Wedges in a microphone: playback that reaches a singer's microphone by loudspeakers at known levels and times.
//!
//! Source: white noise spreads its power evenly, so the band's part is its width over half the rate (textbook); ways of sound are
//! delays and gains.

use deskside::relate::wedge_spill::{Brought, Sought, WedgeMeter};
use deskside::unit::{Span, Unmeasured};

use crate::support::paths::add_delayed;
use crate::support::signals::noise;

const RATE_HZ: u32 = 48_000;

/// A minute in which the singer rests from second 10 on.
const LENGTH_S: usize = 60;
const RESTS: Span = Span { start_s: 10.0, end_s: 60.0 };

/// Sides of the playback and of a player in the mix, and what the wedge adds to the microphone, as factors.
const IN_MIX: [f64; 2] = [0.5, 0.4];
const WEDGE: f64 = 0.2;

/// The part of white noise that lies between 224 and 4467 Hz.
const BAND_SHARE: f64 = (4_467.0 - 224.0) / 24_000.0;

/// The least level misses the truth by so much: what the halves of the time scatter.
const WITHIN_DB: f64 = 0.5;

fn ms(ms: f64) -> f64 {
    ms * f64::from(RATE_HZ) / 1000.0
}

/// Playback, a player and the mix of both.
fn sources() -> [Vec<f32>; 3] {
    let n = LENGTH_S * RATE_HZ as usize;
    let (tape, player) = (noise(1, 0.1, n), noise(2, 0.1, n));
    let mut mix = vec![0.0; n];
    add_delayed(&mut mix, &tape, 0.0, IN_MIX[0]);
    add_delayed(&mut mix, &player, 0.0, IN_MIX[1]);
    [tape, player, mix]
}

/// Power of the wedge at the microphone, inside the band.
fn planted() -> f64 {
    let mix = 0.01 * (IN_MIX[0].powi(2) + IN_MIX[1].powi(2));
    WEDGE.powi(2) * mix * BAND_SHARE
}

/// The singer's microphone with the player on the stage, and what `add` brings.
fn mic(player: &[f32], add: impl FnOnce(&mut [f32])) -> Vec<f32> {
    let mut mic = noise(3, 0.001, player.len());
    add_delayed(&mut mic, player, ms(9.0), 0.1);
    let sings = 10 * RATE_HZ as usize;
    for (sample, voice) in mic.iter_mut().zip(noise(4, 0.3, sings)) {
        *sample += voice;
    }
    add(&mut mic);
    mic
}

fn brought_in_blocks(
    mic: &[f32],
    mix: &[f32],
    tape: &[f32],
    block: usize,
) -> Result<Brought, Unmeasured> {
    let sought = Sought { mic: 0, mixes: vec![1], wired: vec![2], resting: vec![RESTS] };
    let mut meter = WedgeMeter::new(RATE_HZ, vec![sought]);
    for from in (0..mic.len()).step_by(block) {
        let to = (from + block).min(mic.len());
        meter.push(&[&mic[from..to], &mix[from..to], &tape[from..to]]);
    }
    meter.finish().remove(0).remove(0)
}

fn brought(mic: &[f32], mix: &[f32], tape: &[f32]) -> Result<Brought, Unmeasured> {
    brought_in_blocks(mic, mix, tape, 65_536)
}

fn db(power: f64) -> f64 {
    10.0 * power.log10()
}

#[test]
fn a_wedge_is_told_at_its_level_and_time_beside_the_same_player_on_the_stage() {
    let [tape, player, mix] = sources();
    let mic = mic(&player, |mic| add_delayed(mic, &mix, ms(6.5), WEDGE));
    let found = brought(&mic, &mix, &tape).unwrap();
    let least = found.least.expect("a wedge stands out");
    assert!((db(least) - db(planted())).abs() < WITHIN_DB, "{} of {}", least, planted());
    assert!((found.arrival_s - 0.0065).abs() < 0.000_1, "arrives at {}", found.arrival_s);
    // The greatest level allows 2 dB for a hall that rings on.
    assert!((1.8..3.0).contains(&(db(found.most) - db(planted()))), "{}", found.most);
}

#[test]
fn both_ends_hold_a_wedge_in_a_room() {
    let [tape, player, mix] = sources();
    // Reflections behind the straight way: their powers add to it.
    let ways = [(5.0, 1.0), (9.5, -0.7), (17.0, 0.5), (26.0, -0.5), (45.0, 0.4), (62.0, 0.3)];
    let mic = mic(&player, |mic| {
        ways.iter().for_each(|&(at_ms, part)| add_delayed(mic, &mix, ms(at_ms), part * WEDGE));
    });
    let all = planted() * ways.iter().map(|(_, part)| part * part).sum::<f64>();
    let found = brought(&mic, &mix, &tape).unwrap();
    let least = found.least.expect("a wedge stands out");
    assert!(least < all && all < found.most, "{all} lies in {least} to {}", found.most);
    assert!(db(found.most) - db(least) < 8.0, "{} to {}", db(least), db(found.most));
}

#[test]
fn a_loudspeaker_of_the_hall_is_no_wedge() {
    let [tape, player, mix] = sources();
    let mic = mic(&player, |mic| add_delayed(mic, &tape, ms(12.0), WEDGE));
    let found = brought(&mic, &mix, &tape).unwrap();
    assert_eq!(found.least, None, "it arrives from more than two metres");
    assert!((found.arrival_s - 0.012).abs() < 0.000_1, "arrives at {}", found.arrival_s);
}

#[test]
fn players_on_the_stage_who_are_in_the_mix_are_no_wedge() {
    let [tape, player, mix] = sources();
    let found = brought(&mic(&player, |_| {}), &mix, &tape).unwrap();
    assert_eq!(found.least, None, "the playback is not heard");
    // The player is in the mix as well, and is not counted.
    let of_player = 0.01 * 0.1f64.powi(2) * BAND_SHARE;
    assert!(db(found.most) < db(of_player) - 20.0, "{} of {of_player}", found.most);
}

#[test]
fn a_mix_without_the_playback_tells_nothing() {
    let [tape, player, _] = sources();
    let mic = mic(&player, |mic| add_delayed(mic, &player, ms(6.5), WEDGE));
    assert!(
        matches!(brought(&mic, &player, &tape), Err(Unmeasured::Because(_))),
        "no wired source"
    );
}

#[test]
fn it_does_not_depend_on_how_blocks_are_cut() {
    let [tape, player, mix] = sources();
    let mic = mic(&player, |mic| add_delayed(mic, &mix, ms(6.5), WEDGE));
    let [one, other] = [1_000, 100_000].map(|block| brought_in_blocks(&mic, &mix, &tape, block));
    assert_eq!(one, other, "blocks of 1,000 and of 100,000 samples");
}
