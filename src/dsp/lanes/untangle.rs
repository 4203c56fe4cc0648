//! Spectra of real samples out of transforms of half their length.
//!
//! Takes the transform of a row whose even samples stood as real parts and whose odd ones as imaginary parts, gives the power of each bin
//! of the whole row. Never keeps anything.

use rustfft::num_complex::Complex32;

use super::LANES;
use super::isa::dispatch;

/// What bins of the even and the odd samples are put together with: `-j/2 exp(-2 pi j k / n)` for `k` from 1 up to a quarter of the
/// length, real and imaginary parts apart.
#[derive(Clone, Debug)]
pub struct Turns {
    re: Vec<f32>,
    im: Vec<f32>,
}

impl Turns {
    /// For rows of `n` samples.
    ///
    /// # Panics
    ///
    /// If `n` is no multiple of 4.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "turns are single precision"
    )]
    pub fn new(n: usize) -> Self {
        assert!(n > 0 && n.is_multiple_of(4), "a length that halves twice, got {n}");
        let angle = |k: usize| std::f64::consts::TAU * k as f64 / n as f64;
        Self {
            re: (1..n / 4).map(|k| (-0.5 * angle(k).sin()) as f32).collect(),
            im: (1..n / 4).map(|k| (-0.5 * angle(k).cos()) as f32).collect(),
        }
    }
}

/// Powers of `N` bins from below, and of their mirrors from above, both in rising order.
#[inline(always)]
fn powers<const N: usize>(
    low: &[Complex32],
    high: &[Complex32],
    turn_re: &[f32],
    turn_im: &[f32],
) -> [[f32; N]; 2] {
    let [mut low_re, mut low_im, mut high_re, mut high_im] = [[0.0f32; N]; 4];
    for k in 0..N {
        (low_re[k], low_im[k]) = (low[k].re, low[k].im);
        (high_re[k], high_im[k]) = (high[N - 1 - k].re, high[N - 1 - k].im);
    }
    let [mut low_power, mut high_power] = [[0.0f32; N]; 2];
    for k in 0..N {
        // Half the sum of both, and the turned half of their difference; the one from above is conjugate.
        let (sum_re, sum_im) = (0.5 * (low_re[k] + high_re[k]), 0.5 * (low_im[k] - high_im[k]));
        let (off_re, off_im) = (low_re[k] - high_re[k], low_im[k] + high_im[k]);
        let turned_re = turn_re[k] * off_re - turn_im[k] * off_im;
        let turned_im = turn_re[k] * off_im + turn_im[k] * off_re;
        let (re, im) = (sum_re + turned_re, sum_im + turned_im);
        low_power[k] = re * re + im * im;
        let (re, im) = (sum_re - turned_re, sum_im - turned_im);
        high_power[N - 1 - k] = re * re + im * im;
    }
    [low_power, high_power]
}

dispatch! {
    narrow
    /// Writes the power of each bin of a row of real samples to `power`, from 0 Hz to half the rate. `half` is the transform of its pairs
    /// of samples.
    ///
    /// # Panics
    ///
    /// If the lengths do not belong together: `n/2` values, turns for `n`, `n/2 + 1` powers.
    pub fn power_of_pairs[](half: &[Complex32], turns: &Turns, power: &mut [f32]) {
        let (n_half, n) = (half.len(), half.len() / 2 - 1);
        assert!(n_half.is_multiple_of(2) && power.len() == n_half + 1, "a power for each bin");
        assert!(turns.re.len() == n && turns.im.len() == n, "turns of the same length");
        let (low, high) = (&half[1..=n], &half[n_half / 2 + 1..]);
        let (low_power, high_power) = power[1..n_half].split_at_mut(n);
        let high_power = &mut high_power[1..];
        for from in (0..n - n % LANES).step_by(LANES) {
            let (ours, mirrors) = (from..from + LANES, n - from - LANES..n - from);
            let (turn_re, turn_im) = (&turns.re[ours.clone()], &turns.im[ours.clone()]);
            let [below, above] = powers::<LANES>(&low[ours.clone()], &high[mirrors.clone()], turn_re, turn_im);
            low_power[ours].copy_from_slice(&below);
            high_power[mirrors].copy_from_slice(&above);
        }
        for k in n - n % LANES..n {
            let mirror = n - 1 - k;
            [[low_power[k]], [high_power[mirror]]] =
                powers(&low[k..], &high[mirror..], &turns.re[k..], &turns.im[k..]);
        }
        let (first, middle) = (half[0], half[n_half / 2]);
        let (sum, difference) = (first.re + first.im, first.re - first.im);
        power[0] = sum * sum;
        power[n_half / 2] = middle.re * middle.re + middle.im * middle.im;
        power[n_half] = difference * difference;
    }
}
