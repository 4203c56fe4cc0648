//! Voices: sharp S sounds, mouths that turn away, microphones that are far off; planted, and what looks like them.
//!
//! Takes a seed, gives scores voice by voice.

use deskside::coach;
use deskside::demo::random::Random;
use deskside::demo::source::Instrument;
use deskside::dsp::Group;
use deskside::dsp::biquad::{Biquad, Filter, band_pass};
use deskside::measure::voice::{VoiceMeter, ess_db};
use deskside::measure::{LevelMeter, standing};
use deskside::unit::Span;
use rayon::prelude::*;

use super::band::{Band, Player, at_mic, by_wire};
use super::clip::{Clip, Material, RATE_HZ, amplitude, of_notes, samples};
use super::level::{active, loud_db};
use super::plant::stored;
use super::score::Score;
use super::told::{is_found, read};
use super::trial::Row;

/// What sounds beside a voice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Beside {
    /// S sounds, 6 dB under to 1 dB over the loud level.
    SharpS,
    /// S sounds, 20 to 13 dB under it.
    SoftS,
    /// Bursts of T of 6 to 14 ms, 14 to 6 dB under it, three a second.
    Bursts,
    /// A hi-hat in the microphone, 20 to 12 dB under it.
    HiHat,
}

/// Voices of half a minute with sharp S sounds, with soft ones, with bright consonants and beside a hi-hat.
pub(crate) fn sharp_s(material: &Material) -> Vec<Row> {
    let all = [Beside::SharpS, Beside::SoftS, Beside::Bursts, Beside::HiHat];
    let mut rows = Vec::new();
    for (number, voice) in material.voices.iter().enumerate() {
        let voice = mild(voice);
        for beside in all {
            let mut clip = voice.clone();
            add_beside(&mut clip, beside, number as u64);
            let found_db = ess_of(&voice.x, &clip.x);
            let is_found = found_db.is_some_and(|found_db| found_db > sharp_db());
            let name = format!("{} {number}, {beside:?}: {found_db:.1?} dB", voice.name);
            rows.push(Row {
                clip: name,
                score: Score::of_clip(beside == Beside::SharpS, is_found),
            });
        }
    }
    rows
}

/// Treble that is taken off a voice, whose own S sounds would lie 7 to 9 dB under its loud level, in dB.
const MILD_DB: f64 = -12.0;

/// The same voice with mild S sounds of its own.
fn mild(voice: &Clip) -> Clip {
    let shelf = Biquad::high_shelf(f64::from(RATE_HZ), 4000.0, MILD_DB);
    let mut filter = Filter::new(vec![shelf]);
    Clip { x: voice.x.iter().map(|x| filter.step(*x)).collect(), ..voice.clone() }
}

/// What the rule allows of S sounds re the loud level, in dB.
fn sharp_db() -> f64 {
    let rule = coach::rule("ess-hot").unwrap();
    rule.limbs[0].windows[0].green.high.unwrap()
}

/// S sounds as the program reads them; when the voice sounds is told by the clean clip.
fn ess_of(clean: &[f64], x: &[f64]) -> Option<f64> {
    let plane = stored(x);
    let planes = [plane.as_slice()];
    let group = Group::new(&planes, RATE_HZ);
    let (mut voice, mut level) = (VoiceMeter::new(RATE_HZ, 1), LevelMeter::new(RATE_HZ, 1));
    voice.push(group);
    level.push(group);
    let active = active(clean);
    let loud_dbfs = standing::loud_level_dbfs(&level.finish()[0].power, &active).ok()?;
    ess_db(&voice.finish()[0], &active, loud_dbfs).ok()
}

fn add_beside(clip: &mut Clip, beside: Beside, number: u64) {
    let loud_dbfs = loud_db(&clip.x);
    let mut random = clip.random.clone();
    if beside == Beside::HiHat {
        let who = Instrument::HiHat;
        let length_s = clip.x.len() as f64 / f64::from(RATE_HZ);
        let notes = deskside::demo::source::phrase(who, length_s, number);
        let hat = of_notes(who, &notes, length_s, number);
        let gain = amplitude(loud_dbfs + random.between(-20.0, -12.0) - loud_db(&hat));
        clip.x.iter_mut().zip(&hat).for_each(|(x, hat)| *x += gain * hat);
        return;
    }
    let (every_s, length_s, level_db) = match beside {
        Beside::Bursts => ([0.2, 0.5], [0.006, 0.014], [-14.0, -6.0]),
        Beside::SharpS => ([0.5, 2.0], [0.07, 0.15], [-6.0, 1.0]),
        _ => ([0.5, 2.0], [0.07, 0.15], [-20.0, -13.0]),
    };
    // One singer, one sharpness, a decibel or two from sound to sound.
    let usual_db = random.between(level_db[0] + 1.5, level_db[1] - 1.5);
    for span in active(&clip.x) {
        let mut at_s = span.start_s + random.between(0.1, every_s[1]);
        while at_s + 0.2 < span.end_s {
            let length_s = random.between(length_s[0], length_s[1]);
            let level_dbfs = loud_dbfs + usual_db + random.between(-1.5, 1.5);
            hiss(&mut clip.x[samples(at_s)..], length_s, amplitude(level_dbfs), &mut random);
            at_s += random.between(every_s[0], every_s[1]);
        }
    }
}

/// Noise of teeth, 4.5 to 9 kHz, of an RMS.
fn hiss(x: &mut [f64], length_s: f64, rms: f64, random: &mut Random) {
    let mut filter = Filter::new(band_pass(f64::from(RATE_HZ), 4500.0, 9000.0, 2));
    let n = samples(length_s);
    let noise: Vec<f64> = (0..n).map(|_| filter.step(random.bell())).collect();
    let power = noise.iter().map(|x| x * x).sum::<f64>() / n as f64;
    for (at, (x, noise)) in x.iter_mut().zip(&noise).enumerate() {
        let edge = (at.min(n - at) as f64 / samples(0.002) as f64).min(1.0);
        *x += rms / power.sqrt() * edge * noise;
    }
}

/// What a minute and a half of a talk, or all of it, is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Talk {
    /// From the side: treble 7 to 12 dB down, the voice 1 to 3 dB softer.
    Turned,
    /// As ever.
    Plain,
    /// Dull all the time, by 7 to 12 dB.
    Dull,
    /// Softer by 3 to 6 dB, and duller by half of that.
    Softer,
    /// Another talker.
    Another,
}

/// Talks of near five minutes: two that are turned away from for a while, four that are not.
pub(crate) fn turned(seed: u64) -> Vec<Row> {
    const DRAWS: u64 = 2;
    let all = [Talk::Turned, Talk::Turned, Talk::Plain, Talk::Dull, Talk::Softer, Talk::Another];
    let cases: Vec<(u64, Talk)> = (0..DRAWS)
        .flat_map(|draw| all.into_iter().zip(0..).map(move |(talk, at)| (10 * draw + at, talk)))
        .collect();
    let one = |(number, talk): (u64, Talk)| {
        let band = talkers(100 * seed + number, talk);
        let mut sounds = band.sounds();
        let mut random = Random::branch(band.seed, 8400);
        let from_s = random.between(50.0, 150.0);
        let part = Span::new(from_s, from_s + random.between(80.0, 100.0));
        let whole = Span::new(0.0, band.length_s);
        let (where_to, treble_db, level_db) = match talk {
            Talk::Turned => (part, random.between(-12.0, -7.0), random.between(-3.0, -1.0)),
            Talk::Dull => (whole, random.between(-12.0, -7.0), 0.0),
            Talk::Softer => {
                let softer_db = random.between(-6.0, -3.0);
                (part, 0.5 * softer_db, softer_db)
            }
            Talk::Plain | Talk::Another => (part, 0.0, 0.0),
        };
        changed(&mut sounds[0], where_to, treble_db, level_db);
        if talk == Talk::Another {
            taken_over(&mut sounds, part);
        }
        let reading = read(&band.files(band.heard(&sounds)));
        let is_told = is_found(&reading, "mic-offaxis", band.players[0].name);
        let fall = &super::told::channel(&reading, band.players[0].name).microphone.treble_fall;
        let fall = fall.as_ref().map(|fall| (fall.fall_db.clone(), fall.explained_db));
        let clip = format!("talk {}, {talk:?}, {treble_db:.0} dB: {fall:.1?}", band.seed);
        Row { clip, score: Score::of_clip(talk == Talk::Turned, is_told) }
    };
    cases.into_par_iter().map(one).collect()
}

/// Somebody talks for four and a half minutes, with pauses; a singer's microphone stands open; another talker waits.
fn talkers(seed: u64, talk: Talk) -> Band {
    let mut random = Random::branch(seed, 8500);
    let mut at_s = 2.0;
    let mut talks: Vec<[f64; 2]> = Vec::new();
    while at_s < 272.0 {
        let length_s = random.between(4.0, 9.0);
        talks.push([at_s, at_s + length_s]);
        at_s += length_s + random.between(0.8, 1.8);
    }
    let mut players = vec![
        at_mic("01 Host HH", Instrument::Host, &talks),
        at_mic("02 Lead Vox", Instrument::LeadVoice, &[]),
        by_wire("03 Keys", Instrument::KeysLeft, &[[282.0, 285.0]]),
    ];
    if talk == Talk::Another {
        players.push(at_mic("04 Talkback", Instrument::Talkback, &talks));
    }
    Band::drawn(seed, 288.0, players)
}

/// A stretch with less treble and softer.
fn changed(x: &mut [f32], part: Span, treble_db: f64, level_db: f64) {
    let mut filter = Filter::new(vec![Biquad::high_shelf(f64::from(RATE_HZ), 4000.0, treble_db)]);
    let to = samples(part.end_s).min(x.len());
    for x in &mut x[samples(part.start_s)..to] {
        *x = (amplitude(level_db) * filter.step(f64::from(*x))) as f32;
    }
}

/// The last player talks into the first microphone for a while, and never into another.
fn taken_over(sounds: &mut [Vec<f32>], part: Span) {
    let Some((other, rest)) = sounds.split_last_mut() else { return };
    let range = samples(part.start_s)..samples(part.end_s);
    rest[0][range.clone()].copy_from_slice(&other[range]);
    other.fill(0.0);
}

/// How a vocal microphone stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stand {
    /// One is far from its singer: 10 to 16 dB more of the stage.
    Far,
    /// None.
    Near,
    /// All hear that much more: the band is loud.
    Loud,
    /// One is dull and its gain is low.
    Low,
}

/// Songs with three singers, one of whom is far from the microphone, and songs in which nobody is.
pub(crate) fn far(seed: u64) -> Vec<Row> {
    let all = [Stand::Far, Stand::Far, Stand::Far, Stand::Near, Stand::Loud, Stand::Low];
    let cases: Vec<(u64, Stand)> =
        (0..2).flat_map(|draw| all.into_iter().zip(10 * draw..).map(|(s, n)| (n, s))).collect();
    let one = |(number, stand): (u64, Stand)| {
        let mut band = singers(100 * seed + 50 + number);
        let mut random = Random::branch(band.seed, 8600);
        let chosen = *random.pick(&SINGERS);
        let more_db = random.between(10.0, 16.0);
        for singer in SINGERS {
            let player: &mut Player = &mut band.players[singer];
            match stand {
                Stand::Far if singer == chosen => player.hears_db = more_db,
                Stand::Loud => player.hears_db = more_db,
                Stand::Low if singer == chosen => player.level_dbfs -= 12.0,
                _ => {}
            }
        }
        let mut sounds = band.sounds();
        if stand == Stand::Low {
            changed(&mut sounds[chosen], Span::new(0.0, band.length_s), -9.0, 0.0);
        }
        let reading = read(&band.files(band.heard(&sounds)));
        let row = |singer: usize| {
            let name = band.players[singer].name;
            let is_planted = stand == Stand::Far && singer == chosen;
            let own = &super::told::channel(&reading, name).own_to_spill_db;
            let clip = format!("song {}, {name}, {stand:?}, {more_db:.0} dB: {own:.1?}", band.seed);
            let is_told = is_found(&reading, "mic-far", name);
            Row { clip, score: Score::of_clip(is_planted, is_told) }
        };
        SINGERS.map(row)
    };
    cases.into_par_iter().flat_map_iter(one).collect()
}

/// The singers of the song.
const SINGERS: [usize; 3] = [4, 5, 6];

fn singers(seed: u64) -> Band {
    let all = [[3.0, 78.0]];
    let sung = |from_s: f64, every_s: f64, length_s: f64| -> Vec<[f64; 2]> {
        let n = ((74.0 - from_s) / every_s) as u32;
        let start = |n: u32| from_s + every_s * f64::from(n);
        (0..n).map(|n| [start(n), start(n) + length_s]).collect()
    };
    Band::drawn(
        seed,
        80.0,
        vec![
            at_mic("01 Kick", Instrument::Kick, &all),
            at_mic("02 Snare", Instrument::SnareTop, &all),
            by_wire("03 Bass DI", Instrument::Bass, &all),
            at_mic("04 E Git", Instrument::ElectricGuitar, &all),
            at_mic("05 Lead Vox", Instrument::LeadVoice, &sung(6.0, 14.0, 8.0)),
            at_mic("06 BV 1", Instrument::BackingVoice(1), &sung(10.0, 16.0, 9.0)),
            at_mic("07 BV 2", Instrument::BackingVoice(2), &sung(8.0, 18.0, 10.0)),
        ],
    )
}
