//! What the main mix, a hall microphone and a choir microphone hear of talk: with a loop under its edge, and without any.
//!
//! Two microphones reach one loudspeaker, run sample by sample; the hall hears that loudspeaker, and the talker from afar.

use deskside::demo::source::{Instrument, Note};
use deskside::measure::howl::Ear;

use super::howling::{
    CLIP_S, Loop, N, RATE, band, between, chords, fit, in_room, part, pick, played, rms, room, tone,
};
use super::planted::{Dice, amplitude};
use super::rooms::convolved;

/// Length of each clip: two of those, one behind the other, for rings come back.
pub(crate) const TALK_S: f64 = 2.0 * CLIP_S;
const LONG: usize = 2 * N;

/// Places, in the order of all arrays here.
pub(crate) const PLACES: [&str; 4] =
    ["talker's microphone", "main mix", "hall microphone", "choir microphone"];

/// Numbers of the places besides the first.
pub(crate) const MAIN: usize = 1;
pub(crate) const HALL: usize = 2;
pub(crate) const CHOIR: usize = 3;

/// How each hears talk.
pub(crate) const EARS: [Ear; 4] = [Ear::Close, Ear::Mixed, Ear::Afar, Ear::Afar];

/// Talk at four places, with a loop that stands under its edge.
pub(crate) struct Heard {
    /// What each of [`PLACES`] hears.
    pub(crate) clips: [Vec<f32>; 4],
    /// Frequencies of the loop within 1 dB of the one that is nearest to the edge, and within 6 dB.
    pub(crate) near_hz: Vec<f64>,
    pub(crate) own_hz: Vec<f64>,
}

/// Somebody talks; the loop of the talker's microphone, or else that of the choir's, stands `under_db` under the edge all the time.
pub(crate) fn heard(seed: u64, under_db: f64, is_choir: bool) -> Heard {
    let mut dice = Dice::new(170_000 + seed);
    let source = [0, 1].map(|_| part(Instrument::Host, &mut dice)).concat();
    let paths = [Loop::any(&mut dice), Loop::any(&mut dice)];
    // The one whose loop it is comes back louder by this.
    let lead = amplitude(between(&mut dice, 8.0, 16.0));
    let gains = [0, 1].map(|at| {
        let is_lead = (at == 1) == is_choir;
        paths[at].edge * if is_lead { 1.0 } else { 1.0 / lead }
    });
    // As far as talk reaches the choir's microphone through the air.
    let far = afar(&source, &mut dice, [-12.0, 0.0]);
    let far_gain = amplitude(between(&mut dice, -24.0, -12.0)) * rms(&source) / rms(&far);
    let around = Loop::of_all(&[(&paths[0], gains[0]), (&paths[1], gains[1])]);
    let drive = amplitude(-under_db) * around.edge;
    let mut speaker = vec![0.0f32; LONG];
    let mut all = [vec![0.0; LONG], vec![0.0; LONG], vec![0.0; LONG]];
    for at in 0..LONG {
        let own = 0.4 * source[at] + 1e-4 * dice.normal();
        let talker = own + paths[0].back(&speaker, at);
        let choir = 0.4 * far_gain * far[at] + 1e-4 * dice.normal() + paths[1].back(&speaker, at);
        let main = gains[0] * talker + gains[1] * choir;
        speaker[at] = (drive * main) as f32;
        for (place, x) in all.iter_mut().zip([talker, main, choir]) {
            place[at] = x;
        }
    }
    let [talker, main, choir] = all;
    let loud: Vec<f64> = speaker.iter().map(|&x| f64::from(x)).collect();
    let hall = hall(&loud, &mut dice);
    let clips = [talker, main, hall, choir].map(|x| fit(&levelled(&x)));
    Heard { clips, near_hz: around.near_hz, own_hz: around.own_hz }
}

/// At -20 dBFS rms.
fn levelled(x: &[f64]) -> Vec<f64> {
    let gain = 0.1 / rms(x).max(1e-9);
    x.iter().map(|x| gain * x).collect()
}

/// A sound in a hall of 0.8 to 2 s, heard from afar.
fn afar(x: &[f64], dice: &mut Dice, direct_db: [f64; 2]) -> Vec<f64> {
    let (t60_s, direct_db) = (between(dice, 0.8, 2.0), between(dice, direct_db[0], direct_db[1]));
    let mut response = room(dice, t60_s, direct_db, t60_s);
    let top = rms(&response) * (response.len() as f64).sqrt();
    // Low down a hall has modes of its own, each a resonance that falls at about its rate: levels are those of its energy, of which an
    // exponential fall by 60 dB in a time holds that time over 13.8.
    for _ in 0..12 {
        let (hz, phase) = (between(dice, 50.0, 220.0), between(dice, 0.0, 1.0));
        let fall_s = t60_s * between(dice, 0.9, 1.4);
        let energy = 0.5 * fall_s * RATE / 13.8;
        let level = top * amplitude(between(dice, -26.0, -14.0)) / energy.sqrt();
        for (at, x) in response.iter_mut().enumerate().skip(64) {
            let time_s = at as f64 / RATE;
            *x += level
                * (-6.9078 * time_s / fall_s).exp()
                * (std::f64::consts::TAU * (hz * time_s + phase)).sin();
        }
    }
    let mut heard = convolved(x, &response);
    heard.truncate(x.len());
    heard
}

/// What the hall microphone hears of a loudspeaker, over its noise.
fn hall(loudspeaker: &[f64], dice: &mut Dice) -> Vec<f64> {
    let mut heard = afar(loudspeaker, dice, [-12.0, 2.0]);
    let floor = rms(&heard) * amplitude(between(dice, -50.0, -25.0));
    let mut last = 0.0;
    for x in &mut heard {
        // Dark, as the noise of rooms is; a low-pass of first order leaves 0.1 / 1.9 of the power.
        last += 0.1 * (dice.normal() - last);
        *x += floor * (1.9f64 / 0.1).sqrt() * last;
    }
    heard
}

/// What may be taken for a loop while somebody talks.
pub(crate) const BESIDE_TALK: [&str; 7] = [
    "a reverb effect",
    "a hum",
    "music played behind it",
    "chords held behind it",
    "an organ behind it",
    "applause",
    "four tones that stay",
];

/// Levels of these re the talk, in dB.
const BESIDE_DB: [[f64; 2]; 7] = [
    [-18.0, -3.0],
    [-45.0, -20.0],
    [-30.0, -8.0],
    [-30.0, -10.0],
    [-30.0, -10.0],
    [-20.0, 0.0],
    [-40.0, -20.0],
];

/// Somebody talks without any loop, and kind `beside` of [`BESIDE_TALK`] is heard too, at one of [`PLACES`].
pub(crate) fn without_loop(seed: u64, place: usize, beside: usize) -> Vec<f32> {
    let mut dice = Dice::new(190_000 + seed);
    let pitch = between(&mut dice, 40.0, 62.0);
    let mut main: Vec<f64> = Vec::new();
    let effect_s = between(&mut dice, 1.0, 3.0);
    let effect = room(&mut dice, effect_s, -40.0, effect_s);
    let [low_db, high_db] = BESIDE_DB[beside];
    let level_db = between(&mut dice, low_db, high_db);
    for _ in 0..2 {
        let note = Note { start_s: 0.1, length_s: CLIP_S - 0.2, pitch, velocity: 0.7 };
        let dry = played(Instrument::Host, &[note], &mut dice);
        let talk = in_room(&dry, &mut dice);
        let others = others(&talk, beside, &effect, &mut dice);
        let gain = amplitude(level_db) * rms(&talk) / rms(&others).max(1e-9);
        main.extend(talk.iter().zip(&others).map(|(talk, other)| talk + gain * other));
    }
    match place {
        HALL => main = hall(&main, &mut dice),
        CHOIR => main = afar(&main, &mut dice, [-12.0, 0.0]),
        _ => {}
    }
    let mut heard = levelled(&main);
    heard.iter_mut().for_each(|x| *x += 2e-4 * dice.normal());
    fit(&heard)
}

fn others(talk: &[f64], beside: usize, effect: &[f64], dice: &mut Dice) -> Vec<f64> {
    let sum = |sum: Vec<f64>, x: Vec<f64>| sum.iter().zip(&x).map(|(a, b)| a + b).collect();
    match beside {
        0 => {
            let mut wet = convolved(talk, effect);
            wet.truncate(N);
            wet
        }
        1 => (1..12)
            .map(|k| tone(50.0 * f64::from(k), f64::from(k).powf(-0.5)))
            .fold(vec![0.0; N], sum),
        2 => band(dice, 0.0),
        3 => chords(dice),
        4 => organ(dice),
        5 => part(Instrument::Applause, dice),
        _ => (0..4)
            .map(|_| tone(300.0 * 20f64.powf(dice.even()), amplitude(-15.0 * dice.even())))
            .fold(vec![0.0; N], sum),
    }
}

/// Notes of an organ, each held for 1 to 6 s, with or without the room.
fn organ(dice: &mut Dice) -> Vec<f64> {
    let (mut notes, mut start_s) = (Vec::new(), 0.2);
    while start_s < CLIP_S - 1.0 {
        let length_s = between(dice, 1.0, 6.0).min(CLIP_S - 0.1 - start_s);
        for _ in 0..=pick(dice, 3) {
            let pitch = between(dice, 48.0, 84.0).floor();
            notes.push(Note { start_s, length_s, pitch, velocity: 0.6 });
        }
        start_s += length_s;
    }
    let dry = played(Instrument::OrganLeft, &notes, dice);
    if dice.even() < 0.5 { dry } else { in_room(&dry, dice) }
}
