//! How the hall answers: first reflections as mirror images, the late tail as decaying noise.
//!
//! Takes a hall, a source and a microphone, gives paths and impulse responses. A shoebox with equal walls; never
//! simulates diffraction or what stands in the way.

use realfft::RealFftPlanner;

use crate::demo::{
    geometry::{Point, cosine, distance_m, minus, pattern_factor, random_energy_efficiency},
    random::Random,
    scene::{Hall, Microphone, Pattern},
};

/// Nobody comes closer to a source than this, in metres: a membrane or a mouth isn't a point.
const CLOSEST_M: f64 = 0.04;

/// Corner of the treble loss of a directional microphone on its axis and behind it, in Hz (common practice: mild).
const FRONT_CORNER_HZ: f64 = 40_000.0;
const BACK_CORNER_HZ: f64 = 8_000.0;

/// Corner of the treble loss at a wall, in Hz: curtains, wood, plaster (common practice).
const WALL_CORNER_HZ: f64 = 7_000.0;

/// The late tail sets in about so long after its start, in seconds, when the first reflections are through.
const ONSET_S: f64 = 0.015;

/// From here responses fade out up to half the sample rate, in Hz, so that they are short in time.
const FADE_HZ: f64 = 20_000.0;

/// Natural logarithm of the factor of pressure in 60 dB.
const SIXTY_DB: f64 = 6.907_755_278_982_137;

/// What radiates.
#[derive(Clone, Copy, Debug)]
pub struct Emitter {
    /// Where it is.
    pub at_m: Point,
    /// Which way it radiates; of no meaning if it does all around.
    pub facing: Point,
    /// Omnidirectional part of its radiation.
    pub omni: f64,
    /// What it is late by before it radiates, in seconds.
    pub latency_s: f64,
}

/// One way from a source to a microphone.
#[derive(Clone, Copy, Debug)]
pub struct Path {
    /// Its length, in metres.
    pub distance_m: f64,
    /// Factor of pressure against 1 m, negative behind a null.
    pub factor: f64,
    /// Corners of its treble losses, in Hz.
    corners_hz: [f64; 2],
}

/// Omnidirectional part of a pattern.
pub fn omni(pattern: Pattern) -> f64 {
    match pattern {
        Pattern::Omni => 1.0,
        Pattern::Cardioid => 0.5,
        Pattern::Supercardioid => 0.37,
        Pattern::Hypercardioid => 0.25,
    }
}

/// The ways from a source to a microphone: straight, then by floor, ceiling and the four walls.
pub fn paths(hall: &Hall, emitter: &Emitter, mic: &Microphone) -> Vec<Path> {
    let mut ways = vec![path(emitter, mic, 1.0, FRONT_CORNER_HZ)];
    let on_stage = emitter.at_m[1].min(mic.at_m[1]) > -0.2;
    for axis in 0..3 {
        let low = if axis == 2 && on_stage { 0.0 } else { hall.low_m[axis] };
        for wall in [low, hall.high_m[axis]] {
            let mut image = *emitter;
            image.at_m[axis] = 2.0 * wall - emitter.at_m[axis];
            image.facing[axis] = -emitter.facing[axis];
            ways.push(path(&image, mic, hall.wall_reflection, WALL_CORNER_HZ));
        }
    }
    ways
}

fn path(emitter: &Emitter, mic: &Microphone, reflection: f64, wall_hz: f64) -> Path {
    let distance_m = distance_m(emitter.at_m, mic.at_m).max(CLOSEST_M);
    let hears = cosine(mic.axis, minus(emitter.at_m, mic.at_m));
    let radiates = cosine(emitter.facing, minus(mic.at_m, emitter.at_m));
    let directional = mic.pattern != Pattern::Omni;
    let off_axis = if directional { 0.5 * (1.0 - hears) } else { 0.0 };
    let factor = pattern_factor(omni(mic.pattern), hears) * pattern_factor(emitter.omni, radiates);
    Path {
        distance_m,
        factor: reflection * factor / distance_m,
        corners_hz: [FRONT_CORNER_HZ + off_axis * (BACK_CORNER_HZ - FRONT_CORNER_HZ), wall_hz],
    }
}

/// The impulse response of some paths, `n` samples long, by way of a spectrum of `2 n`.
///
/// # Panics
///
/// If `n` is 0.
pub fn early(paths: &[Path], latency_s: f64, speed_m_s: f64, rate_hz: u32, n: usize) -> Vec<f32> {
    let rate = f64::from(rate_hz);
    let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(2 * n);
    let mut spectrum = inverse.make_input_vec();
    let bin_hz = rate / (2 * n) as f64;
    for path in paths {
        let angle = -std::f64::consts::TAU * bin_hz * (path.distance_m / speed_m_s + latency_s);
        let turn = realfft::num_complex::Complex::from_polar(1.0, angle);
        let mut phase = realfft::num_complex::Complex::new(path.factor / (2 * n) as f64, 0.0);
        for (bin, value) in spectrum.iter_mut().enumerate() {
            let hz = bin as f64 * bin_hz;
            let loss: f64 =
                path.corners_hz.iter().map(|corner| 1.0 + (hz / corner) * (hz / corner)).product();
            *value += phase * (fade(hz, rate) / loss.sqrt());
            phase *= turn;
        }
    }
    let mut response = inverse.make_output_vec();
    if let (Some(first), Some(last)) = (spectrum.first().copied(), spectrum.last().copied()) {
        let end = spectrum.len() - 1;
        spectrum[0] = first.re.into();
        spectrum[end] = last.re.into();
    }
    inverse.process(&mut spectrum, &mut response).expect("lengths fit, the ends are real");
    response.truncate(n);
    response.into_iter().map(single).collect()
}

fn fade(hz: f64, rate: f64) -> f64 {
    let top_hz = rate / 2.0;
    let share = ((hz - FADE_HZ) / (top_hz - FADE_HZ)).clamp(0.0, 1.0);
    (0.5 * std::f64::consts::PI * share).cos().powi(2)
}

/// Power of the late sound against the direct sound at 1 m, for a source that radiates all around and a microphone
/// that hears all around.
///
/// # Formula
///
/// ```text
/// 16 pi / R,  R = A/(1 - a),  A = 0.161 V/T,  a = A/S
/// ```
///
/// where `V` is the volume in m³, `S` the surface in m², `T` the decay time at 500 Hz to 1 kHz in s (Sabine; room constant
/// as in Beranek, Acoustics: from memory).
pub fn late_power(hall: &Hall) -> f64 {
    let [x, y, z] = minus(hall.high_m, hall.low_m);
    let surface_m2 = 2.0 * (x * y + y * z + z * x);
    let absorption_m2 = 0.161 * x * y * z / middle_t60_s(hall);
    let room_constant_m2 = absorption_m2 / (1.0 - absorption_m2 / surface_m2);
    16.0 * std::f64::consts::PI / room_constant_m2 * 10_f64.powf(hall.late_trim_db / 10.0)
}

/// The late tail in a microphone for a source of 1 at 1 m, `n` samples long.
///
/// White noise from `start_s` on, split into octaves, each falling by its decay time; tails of two seeds have nothing to do with each other.
///
/// # Panics
///
/// If `n` is 0.
pub fn late(
    hall: &Hall,
    pattern: Pattern,
    start_s: f64,
    rate_hz: u32,
    n: usize,
    seed: u64,
) -> Vec<f32> {
    let rate = f64::from(rate_hz);
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let mut chance = Random::new(seed);
    let mut noise: Vec<f64> = (0..n).map(|_| chance.bell()).collect();
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut noise, &mut spectrum).expect("lengths fit");
    let power = late_power(hall) * random_energy_efficiency(omni(pattern));
    let scale = (2.0 * SIXTY_DB * power / (rate * middle_t60_s(hall))).sqrt() / n as f64;
    let mut tail = vec![0.0_f64; n];
    for idx in 0..hall.decay.len() {
        let mut band: Vec<_> = spectrum
            .iter()
            .enumerate()
            .map(|(bin, value)| value * share_of_band(hall, idx, bin as f64 * rate / n as f64))
            .collect();
        let end = band.len() - 1;
        band[0] = 0.0.into();
        band[end] = 0.0.into();
        let mut sound = inverse.make_output_vec();
        inverse.process(&mut band, &mut sound).expect("lengths fit, the ends are real");
        let t60_s = hall.decay[idx].t60_s;
        for (place, (out, x)) in tail.iter_mut().zip(sound).enumerate() {
            let t_s = (place as f64 / rate - start_s).max(0.0);
            let onset = 1.0 - (-(t_s / ONSET_S).powi(2)).exp();
            *out += x * scale * onset * (-SIXTY_DB * t_s / t60_s).exp();
        }
    }
    tail.into_iter().map(single).collect()
}

/// Share of a frequency that belongs to an octave: all of its middle, less near its edges; shares of neighbours add up to 1.
fn share_of_band(hall: &Hall, idx: usize, hz: f64) -> f64 {
    let octaves = (hz.max(1.0) / hall.decay[idx].octave_hz).log2();
    let outermost = if octaves < 0.0 { idx == 0 } else { idx + 1 == hall.decay.len() };
    // From a third to two thirds of an octave off its middle, one octave hands over to the next.
    if outermost { 1.0 } else { (2.0 - 3.0 * octaves.abs()).clamp(0.0, 1.0) }
}

/// Decay time at 500 Hz to 1 kHz, in seconds; 1 s for a hall that states none there.
fn middle_t60_s(hall: &Hall) -> f64 {
    let middle: Vec<f64> = hall
        .decay
        .iter()
        .filter(|decay| (400.0..1500.0).contains(&decay.octave_hz))
        .map(|decay| decay.t60_s)
        .collect();
    if middle.is_empty() { 1.0 } else { middle.iter().sum::<f64>() / middle.len() as f64 }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a sample: single precision is what recordings hold"
)]
fn single(x: f64) -> f32 {
    x as f32
}
