//! Preamplifiers that are turned in a song, and what looks like it: players and bands that get louder, amplifiers, faders.
//!
//! Takes a seed, gives scores microphone by microphone.

use deskside::demo::random::Random;
use deskside::demo::source::Instrument;
use deskside::reading::Reading;
use rayon::prelude::*;

use super::band::{Band, amplitude, at_mic, by_wire, samples};
use super::score::Score;
use super::told::{File, channel, read};
use super::trial::Row;

/// How far a found moment may lie from the planted one: a step hides behind a phrase of the microphone's own source.
const NEAR_S: f64 = 5.0;

/// Stages of a seed with steps, and without any.
const N_TURNED: u64 = 6;
const N_ALIKE: u64 = 4;

/// Players on the stage, in the order of their files.
const GUITAR: usize = 3;
const LEAD: usize = 5;
/// Those who rest enough while others play.
const RESTING: [usize; 3] = [4, LEAD, 6];

/// A song of a minute and a half in which singers and the fiddle rest now and then.
fn song(seed: u64) -> Band {
    let all = [[4.0, 98.0]];
    let lead: Vec<[f64; 2]> =
        (0..6).map(|n| [8.0, 15.0].map(|at| at + 15.0 * f64::from(n))).collect();
    let backing: Vec<[f64; 2]> =
        (0..4).map(|n| [12.0, 17.0].map(|at| at + 20.0 * f64::from(n))).collect();
    Band::drawn(
        seed,
        102.0,
        vec![
            at_mic("01 Kick", Instrument::Kick, &all),
            at_mic("02 Snare", Instrument::SnareTop, &all),
            by_wire("03 Bass DI", Instrument::Bass, &all),
            at_mic("04 E Git", Instrument::ElectricGuitar, &all),
            at_mic("05 Fiddle", Instrument::Fiddle, &[[6.0, 18.0], [36.0, 48.0], [66.0, 78.0]]),
            at_mic("06 Lead Vox", Instrument::LeadVoice, &lead),
            at_mic("07 BV", Instrument::BackingVoice(1), &backing),
        ],
    )
}

/// Turned by some dB from a moment on, within 10 ms.
fn turn(x: &mut [f32], at_s: f64, change_db: f64) {
    let (from, edge) = (samples(at_s), samples(0.01) as f64);
    for (n, x) in x[from..].iter_mut().enumerate() {
        *x *= amplitude(change_db * (n as f64 / edge).min(1.0)) as f32;
    }
}

/// Steps of 3 to 8 dB up or down in two microphones of each stage.
pub(crate) fn turned(seed: u64) -> Vec<Row> {
    let one = |number: u64| {
        let band = song(10 * seed + number);
        let mut heard = band.heard(&band.sounds());
        let mut random = Random::branch(band.seed, 8200);
        let skipped = *random.pick(&RESTING);
        let mut planted = Vec::new();
        for mic in RESTING.into_iter().filter(|mic| *mic != skipped) {
            let change_db = random.between(3.0, 8.0) * *random.pick(&[1.0, -1.0]);
            let at_s = random.between(25.0, 80.0);
            turn(&mut heard[mic], at_s, change_db);
            planted.push((mic, at_s, change_db));
        }
        rows(&band, &read(&band.files(heard)), &planted)
    };
    (0..N_TURNED).into_par_iter().flat_map_iter(one).collect()
}

/// None: a singer and a guitar's amplifier get louder and stay so, a band gets louder around its singer, faders of the mix move.
pub(crate) fn alike(seed: u64) -> Vec<Row> {
    let one = |number: u64| {
        let band = song(10 * seed + 900 + number);
        let mut sounds = band.sounds();
        let mut random = Random::branch(band.seed, 8300);
        let mut change = |players: &[usize], [from_s, to_s]: [f64; 2]| {
            let (at_s, change_db) = (random.between(from_s, to_s), random.between(3.0, 8.0));
            players.iter().for_each(|player| turn(&mut sounds[*player], at_s, change_db));
        };
        match number % 2 {
            0 => {
                change(&[LEAD], [25.0, 45.0]);
                change(&[GUITAR], [55.0, 80.0]);
            }
            _ => change(&[0, 1, 2, GUITAR], [30.0, 75.0]),
        }
        let heard = band.heard(&sounds);
        let mix = mixed(&heard, &mut random);
        let mut files: Vec<File<'_>> = band.files(heard);
        files.push(("08 Main", mix));
        rows(&band, &read(&files), &[])
    };
    (0..N_ALIKE).into_par_iter().flat_map_iter(one).collect()
}

/// The mix of all, in which the fader of the lead and that of the guitar are moved.
fn mixed(heard: &[Vec<f32>], random: &mut Random) -> Vec<f32> {
    let mut mix = vec![0.0_f32; heard[0].len()];
    for (idx, file) in heard.iter().enumerate() {
        let mut file = file.clone();
        if [LEAD, GUITAR].contains(&idx) {
            turn(&mut file, random.between(20.0, 80.0), random.between(3.0, 8.0));
        }
        mix.iter_mut().zip(&file).for_each(|(x, file)| *x += 0.4 * file);
    }
    mix
}

/// Ups against ups, downs against downs.
fn rows(band: &Band, reading: &Reading, planted: &[(usize, f64, f64)]) -> Vec<Row> {
    let row = |(idx, name): (usize, &str)| {
        let own: Vec<[f64; 2]> = planted
            .iter()
            .filter(|(mic, ..)| *mic == idx)
            .map(|(_, at_s, change_db)| [*at_s, *change_db])
            .collect();
        let steps = channel(reading, name).microphone.gain_steps.as_deref();
        let found: Vec<[f64; 2]> =
            steps.unwrap_or_default().iter().map(|step| [step.at_s, step.change_db]).collect();
        let mut score = Score::default();
        for is_up in [true, false] {
            let moments = |all: &[[f64; 2]]| -> Vec<f64> {
                all.iter().filter(|one| (one[1] > 0.0) == is_up).map(|one| one[0]).collect()
            };
            score.add(Score::of(&moments(&own), &moments(&found), NEAR_S));
        }
        let clip = format!("stage {}, {name}: {own:.1?}, found {found:.1?}", band.seed);
        Row { clip, score }
    };
    band.players.iter().map(|player| player.name).enumerate().map(row).collect()
}
