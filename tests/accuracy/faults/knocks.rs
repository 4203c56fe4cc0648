//! Knocks and rustle at microphones in their pauses, and plugs that are pulled or put in: planted, and what looks like them.
//!
//! Takes a seed, gives scores microphone by microphone. Sounds are built here and know nothing of the meters.

use std::f64::consts::TAU;

use deskside::demo::random::Random;
use deskside::demo::source::Instrument;
use deskside::dsp::biquad::{Filter, band_pass, low_pass};
use deskside::unit::Span;
use deskside::unit::spans::{widened, without};
use rayon::prelude::*;

use super::band::{Band, RATE_HZ, amplitude, at_mic, by_wire, samples, sounding};
use super::score::Score;
use super::told::{channel, read};
use super::trial::Row;

/// How far a found moment may lie from the planted one: a rustle is told in steps of 0.2 s.
const NEAR_S: f64 = 0.25;
const NEAR_BANG_S: f64 = 0.05;

/// Stages of a seed with knocks, with rustle, and with plugs.
const N_KNOCKED: u64 = 4;
const N_RUBBED: u64 = 2;
const N_PULLED: u64 = 6;

/// Adds a sound to a file.
fn add(file: &mut [f32], at_s: f64, sound: &[f64], level_dbfs: f64) {
    let gain = amplitude(level_dbfs);
    let file = file[samples(at_s)..].iter_mut();
    file.zip(sound).for_each(|(x, sound)| *x += (gain * sound) as f32);
}

/// Brought to a level of 0 dBFS in its strongest 20 ms.
fn levelled(mut x: Vec<f64>) -> Vec<f64> {
    let power = |part: &[f64]| part.iter().map(|x| x * x).sum::<f64>() / part.len() as f64;
    let top = x.chunks(samples(0.02)).map(power).fold(1e-12, f64::max).sqrt();
    x.iter_mut().for_each(|x| *x /= top);
    x
}

/// A hand or a foot at a stand: two modes of 35 to 110 Hz that fall by 60 dB in 0.15 to 0.5 s, and the contact, 4 ms below 600 Hz.
fn knock(random: &mut Random) -> Vec<f64> {
    let modes = [0, 1].map(|_| {
        (random.between(35.0, 110.0), random.between(0.15, 0.5), random.between(0.4, 1.0))
    });
    let mut filter = Filter::new(low_pass(f64::from(RATE_HZ), 600.0, 2));
    let touch = random.between(0.3, 1.5);
    let at = |n: usize| {
        let since_s = n as f64 / f64::from(RATE_HZ);
        let rise = (since_s / 0.003).min(1.0);
        let ring: f64 = modes
            .iter()
            .map(|(hz, fall_s, top)| {
                top * amplitude(-60.0 * since_s / fall_s) * (TAU * hz * since_s).sin()
            })
            .sum();
        rise * ring + filter.step(touch * (-since_s / 0.004).exp() * random.bell())
    };
    levelled((0..samples(0.6)).map(at).collect())
}

/// Cloth at a clip: noise from 1 to 6 kHz in strokes, 0.3 to 1.5 s long.
fn rustle(random: &mut Random) -> Vec<f64> {
    let length_s = random.between(0.3, 1.5);
    let (stroke_hz, phase) = (random.between(2.0, 6.0), random.between(0.0, TAU));
    let mut filter = Filter::new(band_pass(f64::from(RATE_HZ), 1000.0, 6000.0, 1));
    let at = |n: usize| {
        let since_s = n as f64 / f64::from(RATE_HZ);
        let edge = (since_s.min(length_s - since_s) / 0.03).clamp(0.0, 1.0);
        let stroke = 0.6 + 0.4 * (TAU * stroke_hz * since_s + phase).sin();
        filter.step(edge * stroke * random.bell())
    };
    levelled((0..samples(length_s)).map(at).collect())
}

/// Places in stretches, `n` at most, no two closer than `apart_s`.
fn places(random: &mut Random, within: &[Span], n: usize, apart_s: f64) -> Vec<f64> {
    let mut places: Vec<f64> = Vec::new();
    for _ in 0..400 {
        if places.len() == n || within.is_empty() {
            break;
        }
        let span = random.pick(within);
        let at_s = random.between(span.start_s, span.end_s);
        if places.iter().all(|place| (place - at_s).abs() > apart_s) {
            places.push(at_s);
        }
    }
    places.sort_by(f64::total_cmp);
    places
}

/// A talk and a song: kit, bass, guitar, fiddle, two singers and a host, each with rests.
fn evening(seed: u64) -> Band {
    let song = [[30.0, 74.0]];
    let mut players = vec![
        at_mic("01 Kick", Instrument::Kick, &song),
        at_mic("02 Snare", Instrument::SnareTop, &song),
        by_wire("03 Bass DI", Instrument::Bass, &song),
        at_mic("04 E Git", Instrument::ElectricGuitar, &song),
        at_mic("05 Fiddle", Instrument::Fiddle, &[[30.0, 44.0], [56.0, 64.0]]),
        at_mic("06 Lead Vox", Instrument::LeadVoice, &[[35.0, 43.0], [50.0, 58.0], [65.0, 72.0]]),
        at_mic("07 BV", Instrument::BackingVoice(1), &[[52.0, 58.0], [66.0, 71.0]]),
        at_mic("08 Host HH", Instrument::Host, &[[3.0, 25.0]]),
    ];
    // A kick is loud on a stage.
    players[0].stage_db = 8.0;
    Band::drawn(seed, 78.0, players)
}

/// Microphones that hands and cloth reach.
const HELD: [usize; 4] = [4, 5, 6, 7];

/// What is planted in pauses.
type Sound = fn(&mut Random) -> Vec<f64>;

/// Knocks in the pauses of these, 14 dB under to 4 dB over the loud level; and steps on the stage that all microphones hear,
/// beside kicks that belong.
pub(crate) fn knocks(seed: u64) -> Vec<Row> {
    let one = |number| in_pauses(10 * seed + number, knock);
    (0..N_KNOCKED).into_par_iter().flat_map_iter(one).collect()
}

/// The same with cloth.
pub(crate) fn rustles(seed: u64) -> Vec<Row> {
    let one = |number| in_pauses(10 * seed + N_KNOCKED + number, rustle);
    (0..N_RUBBED).into_par_iter().flat_map_iter(one).collect()
}

fn in_pauses(seed: u64, made: Sound) -> Vec<Row> {
    let band = evening(seed);
    let sounds = band.sounds();
    let mut heard = band.heard(&sounds);
    let mut random = Random::branch(seed, 8000);
    let whole = Span::new(2.0, band.length_s - 3.0);
    let planted: Vec<(usize, Vec<f64>)> = HELD
        .into_iter()
        .map(|mic| {
            let rests = without(&[whole], &widened(&sounding(&sounds[mic]), 1.5));
            let at_s = places(&mut random, &rests, 3, 2.0);
            for &at_s in &at_s {
                let level_dbfs = band.players[mic].level_dbfs + random.between(-14.0, 4.0);
                add(&mut heard[mic], at_s, &made(&mut random), level_dbfs);
            }
            (mic, at_s)
        })
        .collect();
    // Somebody steps on the stage while the host talks, or behind that.
    let own: Vec<Span> = planted
        .iter()
        .flat_map(|(_, at_s)| at_s)
        .map(|at_s| Span::new(at_s - 1.0, at_s + 1.0))
        .collect();
    for at_s in places(&mut random, &without(&[Span::new(3.0, 29.0)], &own), 3, 2.0) {
        let sound = knock(&mut random);
        for (player, file) in band.players.iter().zip(&mut heard) {
            if !player.is_line {
                add(file, at_s, &sound, player.level_dbfs + random.between(-12.0, -2.0));
            }
        }
    }
    let reading = read(&band.files(heard));
    let row = |(mic, at_s): &(usize, Vec<f64>)| {
        let name = band.players[*mic].name;
        let thumps = channel(&reading, name).microphone.thumps.as_ref();
        let found_s = thumps.map_or(&[][..], |thumps| &thumps.at_s);
        let clip = format!("stage {seed}, {name}: planted {at_s:.2?}, found {found_s:.2?}");
        Row { clip, score: Score::of(at_s, found_s, NEAR_S) }
    };
    planted.iter().map(row).collect()
}

/// A song in which those on wires rest now and then.
fn wired(seed: u64) -> Band {
    let song = [[4.0, 62.0]];
    Band::drawn(
        seed,
        66.0,
        vec![
            at_mic("01 Kick", Instrument::Kick, &song),
            at_mic("02 Snare", Instrument::SnareTop, &song),
            at_mic("03 Hat", Instrument::HiHat, &song),
            by_wire("04 Bass DI", Instrument::Bass, &[[4.0, 22.0], [44.0, 62.0]]),
            by_wire("05 Ac Gtr DI", Instrument::AcousticGuitar, &[[4.0, 34.0], [56.0, 62.0]]),
            by_wire("06 Keys", Instrument::KeysLeft, &[[4.0, 14.0], [36.0, 62.0]]),
            at_mic("07 Lead Vox", Instrument::LeadVoice, &[[10.0, 26.0], [32.0, 58.0]]),
            at_mic("08 Fiddle", Instrument::Fiddle, &[[14.0, 40.0]]),
        ],
    )
}

/// Rests of the lines: where a plug is pulled and put in again, and what else sounds there.
const RESTS: [(usize, [f64; 2]); 3] = [(3, [23.0, 43.0]), (4, [35.0, 55.0]), (5, [15.0, 35.0])];

/// Noise of what is plugged in, in dBFS: pickups and pedals.
const PLUGGED_DBFS: f64 = -66.0;

/// A bang of a contact: it falls by 60 dB in 20 to 80 ms.
fn bang(random: &mut Random) -> Vec<f64> {
    let fall_s = random.between(0.02, 0.08);
    let hz = random.between(40.0, 400.0);
    let at = |n: usize| {
        let since_s = n as f64 / f64::from(RATE_HZ);
        let swing = (TAU * hz * since_s).cos() + 0.5 * random.bell();
        amplitude(-60.0 * since_s / fall_s) * swing
    };
    levelled((0..samples(0.15)).map(at).collect())
}

/// Plugs that are pulled and put in again, with bangs of -26 to -6 dBFS; and plucks that are damped at once, with and without music
/// right behind them, rim shots, things that fall.
pub(crate) fn plugs(seed: u64) -> Vec<Row> {
    (0..N_PULLED).into_par_iter().flat_map_iter(|number| pulled(10 * seed + number)).collect()
}

fn pulled(seed: u64) -> Vec<Row> {
    let band = wired(seed);
    let mut heard = band.heard(&band.sounds());
    let mut random = Random::branch(seed, 8100);
    for (line, _) in RESTS {
        let noise = amplitude(PLUGGED_DBFS + random.between(-6.0, 6.0));
        heard[line].iter_mut().for_each(|x| *x += (noise * random.bell()) as f32);
    }
    // One line is pulled, on another somebody plucks once, on the third somebody plucks and goes on softly.
    let turn = (random.unit() * 3.0) as usize;
    let [pulled, plucked, begun] = [0, 1, 2].map(|step| RESTS[(turn + step) % 3]);
    let off = [pulled.1[0] + random.between(4.0, 6.0), pulled.1[1] - random.between(4.0, 6.0)];
    let hiss = amplitude(-92.0);
    heard[pulled.0][samples(off[0])..samples(off[1])]
        .iter_mut()
        .for_each(|x| *x = (hiss * random.bell()) as f32);
    for at_s in off {
        add(&mut heard[pulled.0], at_s, &bang(&mut random), random.between(-26.0, -6.0));
    }
    let at_s = plucked.1[0] + random.between(5.0, 15.0);
    add(&mut heard[plucked.0], at_s, &bang(&mut random), random.between(-26.0, -10.0));
    let at_s = begun.1[1] - random.between(5.0, 10.0);
    add(&mut heard[begun.0], at_s, &bang(&mut random), random.between(-26.0, -10.0));
    soft_notes(&mut heard[begun.0], at_s + random.between(0.1, 1.0), begun.1[1], &mut random);
    // Something falls: all microphones hear it.
    let (at_s, sound) = (random.between(8.0, 58.0), bang(&mut random));
    for (player, file) in band.players.iter().zip(&mut heard).filter(|(one, _)| !one.is_line) {
        add(file, at_s, &sound, player.level_dbfs + random.between(-4.0, 8.0));
    }
    let reading = read(&band.files(heard));
    let row = |(idx, player): (usize, &super::band::Player)| {
        let at_s = if idx == pulled.0 { &off[..] } else { &[] };
        let found_s = &channel(&reading, player.name).plug_pops.at_s;
        let clip = format!("stage {seed}, {}: {at_s:.2?}, found {found_s:.2?}", player.name);
        Row { clip, score: Score::of(at_s, found_s, NEAR_BANG_S) }
    };
    band.players.iter().enumerate().map(row).collect()
}

/// A string that is plucked softly, again and again, for some time.
fn soft_notes(file: &mut [f32], from_s: f64, to_s: f64, random: &mut Random) {
    let mut at_s = from_s;
    while at_s + 1.2 < to_s {
        let hz = random.between(80.0, 300.0);
        let note = |n: usize| {
            let since_s = n as f64 / f64::from(RATE_HZ);
            amplitude(-30.0 * since_s) * (TAU * hz * since_s).sin()
        };
        let note: Vec<f64> = (0..samples(1.1)).map(note).collect();
        add(file, at_s, &note, random.between(-44.0, -34.0));
        at_s += random.between(0.3, 0.7);
    }
}
