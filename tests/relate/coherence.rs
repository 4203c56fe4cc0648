//! Coherence against closed forms, the published table, and an independent library on the same samples.

use deskside::relate::coherence::{Coherence, CoherenceMeter};
use deskside::unit::Unmeasured;

use crate::support::feeding::assert_near;
use crate::support::oracle;
use crate::support::paths::delayed;
use crate::support::reference::Table;
use crate::support::signals::{amplitude, noise, scaled, shaped_noise};

const RATE_HZ: u32 = 48_000;

/// 10 s are 233 frames: a bin strays by `sqrt(2 c/n) (1 - c)`, at most 0.04; the mean of hundreds of bins by a tenth of that.
const TOLERANCE: f64 = 0.008;

fn coherences(
    planes: &[&[f32]],
    pairs: &[(usize, usize)],
    block: usize,
) -> Vec<Result<Coherence, Unmeasured>> {
    let mut meter = CoherenceMeter::new(RATE_HZ, planes.len(), pairs);
    for from in (0..planes[0].len()).step_by(block) {
        let to = (from + block).min(planes[0].len());
        let blocks: Vec<&[f32]> = planes.iter().map(|plane| &plane[from..to]).collect();
        meter.push(&blocks);
    }
    meter.finish()
}

fn of_two(first: &[f32], second: &[f32]) -> Result<Coherence, Unmeasured> {
    coherences(&[first, second], &[(0, 1)], 20_000).remove(0)
}

/// Twenty bins of a third-octave against all of them: their sampling adds to that of the frames.
const ORACLE_TOLERANCE: f64 = 0.01;

#[test]
fn coherence_is_what_an_independent_library_finds() {
    for pair in oracle::pairs() {
        let found = of_two(&pair.first, &pair.second).unwrap();
        assert_near(found.full, pair.coherence[0], ORACLE_TOLERANCE, &pair.name);
        assert_near(found.voice_band, pair.coherence[1], ORACLE_TOLERANCE, &pair.name);
    }
}

fn sum(a: &[f32], b: &[f32]) -> Vec<f32> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}

#[test]
fn coherence_follows_the_noise_as_the_table_says() {
    // gamma^2 = SNR/(1+SNR) for noise in one channel (Bendat and Piersol, from memory).
    let table = Table::read("coherence_vs_snr.csv");
    let source = noise(1, 0.1, 10 * RATE_HZ as usize);
    for row in 0..table.len() {
        let snr_db = table.number(row, "snr_dB");
        let disturbed = sum(&source, &noise(2, 0.1 / amplitude(snr_db), source.len()));
        let found = of_two(&source, &disturbed).unwrap();
        let expected = table.number(row, "gamma2_theory");
        assert_near(found.full, expected, TOLERANCE, &format!("{snr_db} dB"));
        assert_near(found.voice_band, expected, 2.0 * TOLERANCE, &format!("{snr_db} dB, voices"));
    }
}

#[test]
fn strangers_share_nothing_even_in_a_few_loud_moments() {
    let n_samples = 20 * RATE_HZ as usize;
    let (a, b) = (noise(1, 0.1, n_samples), noise(2, 0.1, n_samples));
    assert_near(of_two(&a, &b).unwrap().full, 0.0, TOLERANCE, "steady");
    // Twenty bursts of a frame or two: chance makes 1/30 where a count of frames would expect 1/440.
    let gate = |plane: &[f32]| -> Vec<f32> {
        let is_open = |at: usize| at % 48_000 < 5_000;
        plane.iter().enumerate().map(|(at, x)| if is_open(at) { *x } else { 0.0 }).collect()
    };
    assert_near(of_two(&gate(&a), &gate(&b)).unwrap().full, 0.0, 1.5 * TOLERANCE, "bursts");
}

#[test]
fn delay_sign_gain_and_tone_leave_one_signal_one() {
    let source = noise(1, 0.1, 10 * RATE_HZ as usize);
    let mut last = 0.0;
    let dull: Vec<f32> = delayed(&source, 30.4, -0.2)
        .iter()
        .map(|sample| {
            last = 0.8 * last + 0.2 * sample;
            last
        })
        .collect();
    let found = of_two(&source, &dull).unwrap();
    // A frame holds all but 30 of 4096 samples of what the other frame holds: (1 - 30/4096)^2 at worst.
    assert!(found.full > 0.985 && found.voice_band > 0.985, "{found:?}");
    assert_near(of_two(&source, &source).unwrap().full, 1.0, 1e-9, "itself");
    let louder = scaled(&dull, 256.0);
    // A power of two is exact in floating point; sums of weights are not.
    assert_near(of_two(&source, &louder).unwrap().full, found.full, 1e-12, "gain");
}

#[test]
fn energy_weighs() {
    // Nine tenths of either channel's power are shared, below 300 Hz; the rest, within the band of voices, is not.
    let n_samples = 10 * RATE_HZ as usize;
    let band = |seed: u64, power: f64, low_hz: f64, high_hz: f64| {
        let density = |hz: f64| f64::from(u8::from(low_hz < hz && hz < high_hz));
        shaped_noise(seed, RATE_HZ, n_samples, (0.01 * power).sqrt(), density)
    };
    let shared = band(1, 0.9, 60.0, 280.0);
    let first = sum(&shared, &band(2, 0.1, 500.0, 2_500.0));
    let second = sum(&shared, &band(3, 0.1, 500.0, 2_500.0));
    let found = of_two(&first, &second).unwrap();
    assert_near(found.full, 0.9, TOLERANCE, "all");
    assert_near(found.voice_band, 0.0, TOLERANCE, "voices");
}

#[test]
fn order_blocks_and_company_change_nothing() {
    let a = noise(1, 0.1, 5 * RATE_HZ as usize);
    let b = sum(&a, &noise(2, 0.1, a.len()));
    let c = noise(3, 0.1, a.len());
    let whole = coherences(&[&a, &b], &[(0, 1)], a.len());
    for block in [501, 4096, 33_000] {
        assert_eq!(coherences(&[&a, &b], &[(0, 1)], block), whole, "blocks of {block}");
    }
    let among = coherences(&[&c, &b, &a], &[(0, 1), (2, 1), (1, 2)], 4096);
    assert_eq!(among[1], whole[0], "a third channel");
    let (there, back) = (among[1].as_ref().unwrap(), among[2].as_ref().unwrap());
    assert_near(there.full, back.full, 1e-12, "the other way round");
}

#[test]
fn other_rates_see_the_same_bands() {
    for rate_hz in [44_100, 96_000] {
        let a = noise(1, 0.1, 10 * rate_hz as usize);
        let b = sum(&a, &noise(2, 0.1, a.len()));
        let mut meter = CoherenceMeter::new(rate_hz, 2, &[(0, 1)]);
        meter.push(&[&a, &b]);
        let found = meter.finish().remove(0).unwrap();
        assert_near(found.full, 0.5, TOLERANCE, "as much noise as signal");
    }
}

#[test]
fn no_frame_spans_a_gap() {
    let a = noise(1, 0.1, 4095);
    let mut meter = CoherenceMeter::new(RATE_HZ, 2, &[(0, 1)]);
    for _ in 0..200 {
        meter.push(&[&a, &a]);
        meter.gap();
    }
    assert_eq!(meter.finish(), [Err(Unmeasured::TooShort { have_s: 0.0, need_s: 3.0 })]);
}

#[test]
fn silence_a_single_bang_and_short_takes_have_no_coherence() {
    let n_samples = 5 * RATE_HZ as usize;
    let (a, silent) = (noise(1, 0.1, n_samples), vec![0.0; n_samples]);
    assert_eq!(of_two(&a, &silent), Err(Unmeasured::Silent));
    assert!(
        matches!(of_two(&a[..90_000], &a[..90_000]), Err(Unmeasured::TooShort { .. })),
        "1.9 s"
    );
    let mut bang = silent;
    bang[100_000..102_000].copy_from_slice(&a[..2_000]);
    assert_eq!(
        of_two(&bang, &bang),
        Err(Unmeasured::Because("too few moments in which both channels sound"))
    );
}
