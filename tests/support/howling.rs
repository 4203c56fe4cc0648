//! Microphones with loudspeakers that feed back.
//!
//! Loops are run sample by sample through a room with the gain ramped over the most stable one, limited as a loudspeaker is,
//! and pulled down when it has become loud; what feedback adds is known from the same loop 10 dB further down.

use std::f64::consts::TAU;

use deskside::demo::source::{Instrument, Note, phrase, render};
use deskside::dsp::biquad::{Filter, band_pass};
use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

use super::planted::{Dice, amplitude};
use super::rooms::convolved;

/// Rate of all signals here, in Hz.
pub(crate) const RATE_HZ: u32 = 16_000;
pub(super) const RATE: f64 = 16_000.0;

/// Length of each clip, in seconds.
pub(crate) const CLIP_S: f64 = 9.0;
pub(super) const N: usize = (CLIP_S * RATE) as usize;

/// What a loop adds.
pub(crate) struct Truth {
    /// Frequencies within 12 dB of the strongest in its last 0.6 s.
    pub(crate) lines_hz: Vec<f64>,
    /// Those of the loop that come near.
    pub(crate) near_hz: Vec<f64>,
    /// What feedback adds over the programme.
    pub(crate) over_db: f64,
    /// When the gain has been raised, and when it is pulled down.
    pub(crate) span_s: [f64; 2],
}

pub(super) fn between(dice: &mut Dice, low: f64, high: f64) -> f64 {
    low + (high - low) * dice.even()
}

pub(super) fn pick(dice: &mut Dice, n: usize) -> usize {
    ((dice.even() * n as f64) as usize).min(n - 1)
}

pub(super) fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|x| x * x).sum::<f64>() / x.len().max(1) as f64).sqrt()
}

fn peak(x: &[f64]) -> f64 {
    x.iter().fold(1e-9, |peak: f64, x| peak.max(x.abs()))
}

/// What an instrument plays, with its highest sample at -6 dBFS.
pub(super) fn played(instrument: Instrument, notes: &[Note], dice: &mut Dice) -> Vec<f64> {
    let seed = (dice.even() * 1e6) as u64;
    let x = render(instrument, notes, N, RATE_HZ, seed);
    let top = x.iter().fold(1e-9f32, |top, x| top.max(x.abs()));
    x.iter().map(|&x| 0.5 * f64::from(x / top)).collect()
}

pub(super) fn part(instrument: Instrument, dice: &mut Dice) -> Vec<f64> {
    let notes = phrase(instrument, CLIP_S, (dice.even() * 1e6) as u64);
    played(instrument, &notes, dice)
}

/// A room: first sound, then noise that falls, longer below.
pub(super) fn room(dice: &mut Dice, t60_s: f64, direct_db: f64, time_s: f64) -> Vec<f64> {
    let n = (time_s * RATE) as usize;
    let mut tail = vec![0.0; n];
    for (mid_hz, longer) in
        [(125.0, 1.2), (250.0, 1.1), (500.0, 1.0), (1000.0, 1.0), (2000.0, 0.9), (4000.0, 0.7)]
    {
        let mut filter = Filter::new(band_pass(RATE, mid_hz / 1.41, mid_hz * 1.41, 2));
        for (at, x) in tail.iter_mut().enumerate().skip(64) {
            let falls = (-6.9078 * at as f64 / RATE / (t60_s * longer)).exp();
            *x += filter.step(dice.normal()) * falls;
        }
    }
    let gain = amplitude(-direct_db) / (rms(&tail) * (n as f64).sqrt());
    tail.iter_mut().for_each(|x| *x *= gain);
    tail[0] += 1.0;
    tail
}

pub(super) fn in_room(x: &[f64], dice: &mut Dice) -> Vec<f64> {
    let (t60_s, direct_db) = (between(dice, 0.4, 1.2), between(dice, -3.0, 8.0));
    let mut heard = convolved(x, &room(dice, t60_s, direct_db, 0.5));
    heard.truncate(N);
    heard
}

/// Three other instruments in a room.
pub(super) fn band(dice: &mut Dice, level_db: f64) -> Vec<f64> {
    let cast = [
        Instrument::Kick,
        Instrument::SnareTop,
        Instrument::Bass,
        Instrument::KeysLeft,
        Instrument::ElectricGuitar,
        Instrument::LeadVoice,
        Instrument::HiHat,
        Instrument::OrganLeft,
    ];
    let mut sum = vec![0.0; N];
    let first = pick(dice, cast.len());
    for step in [0, 3, 5] {
        let x = part(cast[(first + step) % cast.len()], dice);
        let gain = 1.0 / rms(&x).max(1e-9);
        sum.iter_mut().zip(&x).for_each(|(sum, x)| *sum += gain * x);
    }
    let heard = in_room(&sum, dice);
    let gain = amplitude(level_db) / rms(&heard).max(1e-9);
    heard.iter().map(|x| gain * x).collect()
}

/// The loop of a loudspeaker and a microphone: response of 0.25 s behind a delay.
pub(super) struct Loop {
    taps: Vec<f32>,
    delay: usize,
    /// Gain at which it is on the edge, and the frequencies within 1 dB of that.
    pub(super) edge: f64,
    pub(super) near_hz: Vec<f64>,
    /// Those within 6 dB of it.
    pub(super) own_hz: Vec<f64>,
}

impl Loop {
    pub(super) fn any(dice: &mut Dice) -> Self {
        let (t60_s, direct_db) = (between(dice, 0.4, 1.2), between(dice, -4.0, 4.0));
        let response = room(dice, t60_s, direct_db, 0.25);
        let edges = (between(dice, 100.0, 250.0), between(dice, 4000.0, 7000.0));
        let mut sections = band_pass(RATE, edges.0, edges.1, 2);
        for _ in 0..3 {
            let at_hz = 200.0 * 25f64.powf(dice.even());
            let gain_db = between(dice, -4.0, 6.0);
            sections.push(deskside::dsp::biquad::Biquad::peak(RATE, at_hz, 2.0, gain_db));
        }
        let mut filter = Filter::new(sections);
        let taps: Vec<f64> = response.iter().map(|&x| filter.step(x)).collect();
        Self::of(&taps, (between(dice, 0.004, 0.020) * RATE) as usize)
    }

    /// The loop of a response behind a delay.
    pub(super) fn of(taps: &[f64], delay: usize) -> Self {
        let n = 1 << 17;
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(n);
        let (mut input, mut bins) = (fft.make_input_vec(), fft.make_output_vec());
        input[delay..delay + taps.len()].copy_from_slice(taps);
        fft.process(&mut input, &mut bins).unwrap();
        // It sings where a turn comes back in phase.
        let bin_hz = RATE / n as f64;
        let is_crossing =
            |pair: &[Complex64]| pair[0].re > 0.0 && (pair[0].im > 0.0) != (pair[1].im > 0.0);
        let crossings: Vec<(f64, f64)> = bins
            .windows(2)
            .enumerate()
            .filter(|(bin, pair)| {
                (80.0..7600.0).contains(&(*bin as f64 * bin_hz)) && is_crossing(pair)
            })
            .map(|(bin, pair)| (bin as f64 * bin_hz, pair[0].norm().max(pair[1].norm())))
            .collect();
        let top = crossings.iter().map(|crossing| crossing.1).fold(1e-9, f64::max);
        let within = |share: f64| {
            let near = crossings.iter().filter(|crossing| crossing.1 > share * top);
            near.map(|crossing| crossing.0).collect()
        };
        Self {
            taps: taps.iter().rev().map(|&x| x as f32).collect(),
            delay,
            edge: 1.0 / top,
            near_hz: within(0.89),
            own_hz: within(0.5),
        }
    }

    /// The loop of several microphones that reach one loudspeaker, each with a gain.
    pub(super) fn of_all(all: &[(&Self, f64)]) -> Self {
        let reach = |one: &Self| one.delay + one.taps.len();
        let mut sum = vec![0.0; all.iter().map(|(one, _)| reach(one)).max().unwrap_or(0)];
        for (one, gain) in all {
            let taps = one.taps.iter().rev();
            sum[one.delay..].iter_mut().zip(taps).for_each(|(x, &tap)| *x += gain * f64::from(tap));
        }
        Self::of(&sum, 0)
    }

    /// What comes back at sample `at` of what the loudspeaker gave.
    pub(super) fn back(&self, speaker: &[f32], at: usize) -> f64 {
        let n = self.taps.len();
        let Some(last) = at.checked_sub(self.delay) else { return 0.0 };
        let have = n.min(last + 1);
        let (given, taps) = (&speaker[last + 1 - have..=last], &self.taps[n - have..]);
        let mut sums = [0.0f32; 16];
        let (given, given_rest) = given.as_chunks::<16>();
        let (taps, taps_rest) = taps.as_chunks::<16>();
        for (given, taps) in given.iter().zip(taps) {
            for lane in 0..16 {
                sums[lane] += given[lane] * taps[lane];
            }
        }
        let rest: f32 = given_rest.iter().zip(taps_rest).map(|(a, b)| a * b).sum();
        f64::from(sums.iter().sum::<f32>() + rest)
    }
}

/// What is heard beside a loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Programme {
    /// Talk, singing or an instrument, alone or with others.
    Any,
    /// A talker alone.
    Talk,
    /// Singing or an instrument, alone or with others.
    Music,
}

impl Programme {
    const fn cast(self) -> [Instrument; 4] {
        use Instrument::{AcousticGuitar, Host, LeadVoice, Saxophone};
        match self {
            Self::Any => [Host, LeadVoice, AcousticGuitar, Saxophone],
            Self::Talk => [Host; 4],
            Self::Music => [LeadVoice, LeadVoice, AcousticGuitar, Saxophone],
        }
    }
}

/// A microphone with feedback over the edge.
pub(crate) fn howling(seed: u64) -> (Vec<f32>, Truth) {
    howling_in(seed, Programme::Any)
}

/// A microphone with feedback `over_db` over the edge at most, in a programme.
pub(crate) fn howling_in(seed: u64, programme: Programme) -> (Vec<f32>, Truth) {
    let mut dice = Dice::new(70_000 + seed);
    let over_db = [0.2, 0.5, 1.0, 2.0, 3.0][pick(&mut dice, 5)];
    let source = part(programme.cast()[pick(&mut dice, 4)], &mut dice);
    let around = Loop::any(&mut dice);
    let start_s = between(&mut dice, 2.0, 3.0);
    let ramp_s = between(&mut dice, 0.2, 1.0);
    let limit = amplitude(between(&mut dice, -6.0, 6.0));
    let react_s = between(&mut dice, 0.5, 3.0);
    let fall_s = between(&mut dice, 0.2, 0.8);
    let mut speakers = [vec![0.0f32; N], vec![0.0f32; N]];
    let (mut heard, mut added) = (vec![0.0; N], vec![0.0; N]);
    let (mut power, mut loudest, mut down_s) = (0.0, 0.0f64, CLIP_S - 1.5);
    let mut is_loud = false;
    for at in 0..N {
        let time_s = at as f64 / RATE;
        let dry = 0.4 * source[at] + 1e-4 * dice.normal();
        let up = ((time_s - start_s) / ramp_s).clamp(0.0, 1.0);
        let down = ((time_s - down_s) / fall_s).clamp(0.0, 1.0);
        let level_db = -10.0 + (10.0 + over_db) * up - (over_db + 8.0) * down;
        for (turn, gain_db) in [level_db, -10.0].into_iter().enumerate() {
            let sum = dry + around.back(&speakers[turn], at);
            let driven = sum * amplitude(gain_db) * around.edge;
            speakers[turn][at] = (limit * (driven / limit).tanh()) as f32;
            heard[at] = if turn == 0 { sum } else { heard[at] };
            added[at] = if turn == 0 { sum } else { added[at] - sum };
        }
        power += (heard[at].powi(2) - power) / 1600.0;
        if time_s < start_s {
            loudest = loudest.max(power);
        } else if !is_loud && up >= 1.0 && power > 1.5 * loudest {
            is_loud = true;
            down_s = down_s.min(time_s + react_s);
        }
    }
    let before = &heard[..(start_s * RATE) as usize];
    let mut levels: Vec<f64> = before.chunks(3200).map(rms).collect();
    levels.sort_by(f64::total_cmp);
    let usual = levels[3 * levels.len() / 4];
    let last = &added[((down_s - 0.6) * RATE) as usize..(down_s * RATE) as usize];
    let truth = Truth {
        lines_hz: lines(last),
        near_hz: around.near_hz.clone(),
        over_db: 20.0 * (rms(last) / usual).max(1e-9).log10(),
        span_s: [start_s + ramp_s, down_s],
    };
    if programme != Programme::Talk && !seed.is_multiple_of(3) {
        let level_db = 20.0 * usual.log10()
            + between(&mut dice, -15.0, if seed % 3 == 2 { 3.0 } else { -5.0 });
        let others = band(&mut dice, level_db);
        heard.iter_mut().zip(&others).for_each(|(x, other)| *x += other);
    }
    (fit(&heard), truth)
}

/// Whether a frequency is one of some: within half a semitone, as voices of one howl lie apart.
pub(crate) fn is_one_of(hz: f64, lines_hz: &[f64]) -> bool {
    lines_hz.iter().any(|line_hz| (hz - line_hz).abs() <= 3.0_f64.max(0.029 * line_hz))
}

/// Somebody sings into a microphone without any loop.
pub(crate) fn sung(seed: u64) -> Vec<f32> {
    let mut dice = Dice::new(110_000 + seed);
    let source = part(Instrument::LeadVoice, &mut dice);
    let heard: Vec<f64> = source.iter().map(|x| 0.4 * x + 1e-4 * dice.normal()).collect();
    fit(&heard)
}

/// Talk into a loop that stands under its edge.
pub(crate) struct Ringing {
    pub(crate) clip: Vec<f32>,
    /// Frequencies of the loop that stand within 1 dB of the one that is nearest to the edge, and within 6 dB.
    pub(crate) near_hz: Vec<f64>,
    pub(crate) own_hz: Vec<f64>,
}

/// Somebody talks into a microphone whose loop stands `under_db` under the edge all the time.
pub(crate) fn ringing(seed: u64, under_db: f64) -> Ringing {
    let mut dice = Dice::new(90_000 + seed);
    let source = part(Instrument::Host, &mut dice);
    let around = Loop::any(&mut dice);
    let mut speaker = vec![0.0f32; N];
    let mut heard = vec![0.0; N];
    for at in 0..N {
        let sum = 0.4 * source[at] + 1e-4 * dice.normal() + around.back(&speaker, at);
        speaker[at] = (sum * amplitude(-under_db) * around.edge) as f32;
        heard[at] = sum;
    }
    Ringing { clip: fit(&heard), near_hz: around.near_hz, own_hz: around.own_hz }
}

/// What may be taken for a loop while somebody talks.
pub(crate) const BESIDE_TALK: [&str; 5] =
    ["a room", "a hum", "a band behind it", "chords held behind it", "four tones that stay"];

/// Somebody talks, without any loop, and kind `beside` of [`BESIDE_TALK`] is heard too.
pub(crate) fn talking(seed: u64, beside: usize) -> Vec<f32> {
    let mut dice = Dice::new(130_000 + seed);
    let pitch = between(&mut dice, 40.0, 62.0);
    let note = Note { start_s: 0.1, length_s: CLIP_S - 0.2, pitch, velocity: 0.7 };
    let dry = played(Instrument::Host, &[note], &mut dice);
    let mut heard = in_room(&dry, &mut dice);
    let talk_db = 20.0 * rms(&heard).log10();
    let others = match beside {
        1 => (1..12)
            .map(|k| tone(50.0 * f64::from(k), f64::from(k).powf(-0.5)))
            .fold(vec![0.0; N], |sum, x| sum.iter().zip(&x).map(|(a, b)| a + b).collect()),
        2 => band(&mut dice, 0.0),
        3 => chords(&mut dice),
        4 => (0..4)
            .map(|_| tone(300.0 * 20f64.powf(dice.even()), amplitude(-15.0 * dice.even())))
            .fold(vec![0.0; N], |sum, x| sum.iter().zip(&x).map(|(a, b)| a + b).collect()),
        _ => vec![0.0; N],
    };
    let [low_db, high_db] =
        [[0.0, 0.0], [-45.0, -20.0], [-30.0, -8.0], [-30.0, -10.0], [-40.0, -20.0]][beside];
    let gain = amplitude(talk_db + between(&mut dice, low_db, high_db)) / rms(&others).max(1e-9);
    for (x, other) in heard.iter_mut().zip(&others) {
        *x += gain * other + 2e-4 * dice.normal();
    }
    fit(&heard)
}

pub(super) fn tone(hz: f64, top: f64) -> Vec<f64> {
    (0..N).map(|at| top * (TAU * hz * at as f64 / RATE).sin()).collect()
}

/// Chords of four notes held for 2 to 8 s, in a room.
pub(super) fn chords(dice: &mut Dice) -> Vec<f64> {
    let cast =
        [Instrument::SynthPad, Instrument::OrganLeft, Instrument::KeysLeft, Instrument::Choir];
    let instrument = cast[pick(dice, cast.len())];
    let (mut notes, mut start_s) = (Vec::new(), 0.2);
    while start_s < CLIP_S - 1.0 {
        let length_s = between(dice, 2.0, 8.0).min(CLIP_S - 0.1 - start_s);
        let root = between(dice, 46.0, 60.0).floor();
        notes.extend([0.0, 4.0, 7.0, 12.0].map(|step| Note {
            start_s,
            length_s,
            pitch: root + step,
            velocity: 0.6,
        }));
        start_s += length_s;
    }
    let dry = played(instrument, &notes, dice);
    in_room(&dry, dice)
}

pub(super) fn fit(x: &[f64]) -> Vec<f32> {
    let gain = 0.98 / peak(x).max(1.0);
    x.iter().map(|x| (gain * x) as f32).collect()
}

/// Frequencies of the peaks within 12 dB of the highest.
fn lines(x: &[f64]) -> Vec<f64> {
    let n = 1 << 17;
    let fft = RealFftPlanner::<f64>::new().plan_fft_forward(n);
    let (mut input, mut bins) = (fft.make_input_vec(), fft.make_output_vec());
    for (at, (slot, x_at)) in input.iter_mut().zip(x).enumerate() {
        let turn = TAU * at as f64 / x.len() as f64;
        *slot = x_at
            * (0.359 - 0.488 * turn.cos() + 0.141 * (2.0 * turn).cos()
                - 0.012 * (3.0 * turn).cos());
    }
    fft.process(&mut input, &mut bins).unwrap();
    let power: Vec<f64> = bins.iter().map(Complex64::norm_sqr).collect();
    let top = power.iter().copied().fold(0.0, f64::max);
    let reach = (6.0 * n as f64 / RATE) as usize;
    let is_top = |bin: &usize| {
        let around = &power[bin.saturating_sub(reach)..(bin + reach + 1).min(power.len())];
        power[*bin] > 0.063 * top && around.iter().all(|&other| other <= power[*bin])
    };
    (1..power.len() - 1).filter(is_top).map(|bin| bin as f64 * RATE / n as f64).collect()
}
