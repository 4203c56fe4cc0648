//! Digital silence and dropouts: what is planted is found where it was planted, what looks like it is not.

use deskside::measure::silence::{Silence, SilenceMeter};

use crate::support::planted::{
    Dice, RATE_HZ, UNEVEN, amplitude, in_blocks, mix, samples, sine, stored,
};

fn measure(plane: Vec<f32>, lengths: &[usize]) -> Silence {
    let mut meter = SilenceMeter::new(RATE_HZ, 1);
    in_blocks(&[plane], RATE_HZ, lengths, |group| meter.push(group));
    meter.finish().remove(0)
}

fn programme(time_s: f64) -> Vec<f32> {
    let noise = Dice::new(21).dark_noise(900.0, 0.05, samples(time_s));
    stored(&mix(&noise, &sine(196.0, 0.2, time_s)), 24)
}

#[test]
fn planted_zeros_inside_sound_are_found_to_the_sample() {
    let mut plane = programme(20.0);
    for (at_s, len) in [(2.0, 64), (7.5, 480), (13.0, 4096), (18.25, 8192)] {
        plane[samples(at_s)..samples(at_s) + len].fill(0.0);
    }
    let found = measure(plane, &UNEVEN);
    // The sample before may be 0 by chance, and the first zero then lies one sample earlier.
    assert_eq!(found.n_dropouts, 4, "{found:?}");
    for (found_s, at_s) in found.dropouts_at_s.iter().zip([2.0, 7.5, 13.0, 18.25]) {
        assert!((found_s - at_s).abs() < 2.0 / 48_000.0, "found {found_s}, planted {at_s}");
    }
}

#[test]
fn planted_repeated_blocks_are_found() {
    for period in [32usize, 64, 128, 256, 512, 1024, 2048] {
        let mut plane = programme(6.0);
        let at = samples(3.0);
        plane.copy_within(at - period..at, at);
        let found = measure(plane, &UNEVEN);
        assert_eq!(found.n_dropouts, 1, "block of {period}: {found:?}");
        assert!((found.dropouts_at_s[0] - 3.0).abs() < 0.001, "block of {period}: {found:?}");
    }
}

#[test]
fn digital_silence_is_no_dropout() {
    let mut plane = programme(10.0);
    plane[..samples(2.0)].fill(0.0);
    plane[samples(9.0)..].fill(0.0);
    let found = measure(plane, &UNEVEN);
    assert_eq!(found.n_dropouts, 0, "start and end are no gaps");
    assert!((found.digital_silence_percent - 30.0).abs() < 0.001, "{found:?}");
    let unused = measure(vec![0.0; samples(3.0)], &UNEVEN);
    assert_eq!(unused, Silence { digital_silence_percent: 100.0, ..Silence::default() }, "unused");
}

/// A gate fades within some milliseconds; what it lets through ends soft, whatever follows.
#[test]
fn gated_hits_are_no_dropouts() {
    let mut plane = programme(10.0);
    for (n, x) in plane.iter_mut().enumerate() {
        let place = n % samples(0.25);
        let gain = match place {
            p if p < samples(0.11) => 1.0,
            p if p < samples(0.15) => 1.0 - (p - samples(0.11)) as f32 / samples(0.04) as f32,
            _ => 0.0,
        };
        *x *= gain;
    }
    assert_eq!(measure(plane, &UNEVEN).n_dropouts, 0, "closing in 40 ms");
}

#[test]
fn metronome_of_hard_bursts_is_no_row_of_dropouts() {
    let mut plane = stored(&sine(1000.0, 0.7, 10.0), 16);
    for (n, x) in plane.iter_mut().enumerate() {
        if n % samples(0.2) > samples(0.06) {
            *x = 0.0;
        }
    }
    assert_eq!(measure(plane, &UNEVEN).n_dropouts, 0, "the signal is made of bursts");
}

/// 1500 Hz at 48 kHz repeats every 32 samples: equal to the last bit, and no fault.
#[test]
fn tone_that_fits_a_block_is_no_repetition() {
    for hz in [1500.0, 375.0, 187.5] {
        assert_eq!(measure(stored(&sine(hz, 0.5, 5.0), 24), &UNEVEN).n_dropouts, 0, "{hz} Hz");
    }
}

#[test]
fn faint_noise_of_16_bits_is_neither() {
    let plane = stored(&Dice::new(2).noise(amplitude(-88.0), samples(20.0)), 16);
    assert_eq!(measure(plane, &UNEVEN).n_dropouts, 0, "noise of some steps");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let mut plane = programme(6.0);
    plane[100_000..100_900].fill(0.0);
    plane.copy_within(199_488..200_000, 200_000);
    let whole = measure(plane.clone(), &[1 << 22]);
    assert_eq!(whole.n_dropouts, 2, "both are found: {whole:?}");
    assert_eq!(measure(plane.clone(), &UNEVEN), whole, "uneven blocks");
    assert_eq!(measure(plane, &[1]), whole, "single samples");
}
