//! Held spectra of signals whose transform is known.

use deskside::relate::grid::Grid;
use deskside::relate::spectrogram::SpectrogramMeter;
use deskside::unit::Span;
use realfft::RealFftPlanner;

use crate::support::sharing::{RATE_HZ, spectra};
use crate::support::signals::{noise, sine};

/// Sixteen bits of the loudest of sixteen frames, and a window that is not summed without error.
const TOLERANCE: f64 = 1e-3;

#[test]
fn a_sine_on_a_bin_has_a_quarter_of_its_amplitude_times_the_frame() {
    let grid = Grid::short(RATE_HZ);
    let (band, kept) = (14, grid.band(14).start);
    let bin = grid.bins()[kept];
    let hz = bin as f64 * f64::from(RATE_HZ) / grid.frame() as f64;
    let wave = sine(RATE_HZ, hz, 0.5, 0.0, RATE_HZ as usize);
    let frame = grid.frame() as f64;
    let held = spectra(grid, &[wave]);
    let n = held.n_frames();
    let (mut re, mut im) = (vec![0.0; n], vec![0.0; n]);
    held.read(0, kept, &mut re, &mut im);
    // A Hann window passes half of the amplitude, and a sine has half of it at its own bin.
    let expected = 0.5 * frame / 4.0;
    for (re, im) in re.iter().zip(&im) {
        let found = f64::from(re.hypot(*im));
        assert!((found / expected - 1.0).abs() < TOLERANCE, "{found}, not {expected}");
    }
    let power = held.band_power(0);
    let mean = f64::from(power[band][0]) * held.grid().band(band).len() as f64;
    // The window spreads a quarter of the power to each neighbour, which may be kept too.
    assert!(mean >= expected * expected * (1.0 - TOLERANCE) && mean <= 1.6 * expected * expected);
}

#[test]
fn kept_bins_are_those_of_a_whole_transform() {
    // An independent one: the realfft crate.
    for grid in [Grid::short(RATE_HZ), Grid::long(RATE_HZ)] {
        let samples = noise(9, 0.2, grid.frame());
        let forward = RealFftPlanner::<f32>::new().plan_fft_forward(grid.frame());
        let (mut input, mut whole) = (forward.make_input_vec(), forward.make_output_vec());
        for (n, (input, sample)) in input.iter_mut().zip(&samples).enumerate() {
            let turn = std::f64::consts::TAU * n as f64 / grid.frame() as f64;
            *input = (0.5 - 0.5 * turn.cos()) as f32 * sample;
        }
        forward.process(&mut input, &mut whole).unwrap();
        let held = spectra(grid.clone(), &[samples]);
        let mean = whole.iter().map(|bin| bin.norm()).sum::<f32>() / whole.len() as f32;
        for (kept, &bin) in grid.bins().iter().enumerate() {
            let (series, expected) = (held.series(0, kept), whole[bin]);
            let off = (series.re[0] - expected.re).hypot(series.im[0] - expected.im);
            assert!(off < 1e-3 * mean, "bin {bin}: off by {off} of {mean}");
        }
    }
}

#[test]
fn neighbours_are_the_same_read_together_and_apart() {
    // 28 frames: a whole block and a part of one.
    let held = spectra(Grid::short(RATE_HZ), &[noise(6, 0.2, 60_000)]);
    for (bin, together) in (7..12).zip(held.neighbours(0, 7..12)) {
        assert_eq!(together, held.series(0, bin));
    }
}

#[test]
fn spectra_do_not_depend_on_how_blocks_are_cut() {
    let grid = Grid::short(RATE_HZ);
    let samples = noise(4, 0.2, 60_000);
    let whole = spectra(grid.clone(), std::slice::from_ref(&samples));
    let mut meter = SpectrogramMeter::new(grid, 1);
    meter.begin(0.0);
    for part in samples.chunks(1777) {
        meter.push(&[part]);
    }
    let cut = meter.finish();
    assert_eq!(whole.n_frames(), cut.n_frames());
    assert_eq!(whole.band_power(0), cut.band_power(0));
}

#[test]
fn no_frame_spans_two_stretches() {
    let grid = Grid::short(RATE_HZ);
    let (frame, hop) = (grid.frame(), grid.hop());
    let loud = noise(5, 0.5, frame + 3 * hop + 7);
    let silent = vec![0.0f32; frame];
    let mut meter = SpectrogramMeter::new(grid, 1);
    meter.begin(10.0);
    meter.push(&[&loud]);
    meter.begin(50.0);
    meter.push(&[&silent]);
    let held = meter.finish();
    assert_eq!(held.stretches(), [(0, 10.0), (4, 50.0)]);
    assert_eq!(held.n_frames(), 5);
    let power = held.band_power(0);
    assert!(power[20][3] > 0.0, "the last frame of the loud stretch");
    assert!(power[20][4] <= 0.0, "the silent stretch hears nothing of the loud one");
}

#[test]
fn frames_that_hold_a_part_of_a_span_are_found_in_every_stretch() {
    let mut meter = SpectrogramMeter::new(Grid::short(RATE_HZ), 1);
    let samples = noise(5, 0.2, RATE_HZ as usize);
    for start_s in [10.0, 40.0] {
        meter.begin(start_s);
        meter.push(&[&samples]);
    }
    let mut held = meter.finish();
    let hop_s = held.grid().hop_s();
    let second = held.stretches()[1].0;
    // Frames last two hops: the fourth and fifth hop lie in the frames that begin with the third to the fifth.
    let within = held.frames_within(&[Span::new(40.0 + 3.1 * hop_s, 40.0 + 4.9 * hop_s)]);
    assert_eq!(within, [second + 2, second + 3, second + 4]);
    assert!(held.frames_within(&[Span::new(20.0, 39.0)]).is_empty(), "between the stretches");
    held.leave_out(&within);
    let n_left_out = held.left_out().iter().filter(|is| **is).count();
    assert_eq!(n_left_out, 3, "no other frame is left out");
}

#[test]
fn the_power_of_a_bin_is_that_of_its_series() {
    let held = spectra(Grid::short(RATE_HZ), &[noise(4, 0.2, 2 * RATE_HZ as usize)]);
    for (bin, power) in held.bin_powers(0).into_iter().enumerate() {
        let expected = held.series(0, bin).power();
        assert!((power / expected - 1.0).abs() < 1e-5, "bin {bin}: {power}, not {expected}");
    }
}
