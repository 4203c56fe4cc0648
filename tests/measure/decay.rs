//! Decay from an impulse: closed forms of ISO 3382, and claps and balloons in simulated halls.

#![expect(clippy::cast_possible_truncation, reason = "signals are made in double precision")]

use deskside::measure::decay::{
    Decay, OCTAVES_HZ, after_impulse, fall_db, for_amplified_music_s, for_speech_s, of_energy,
};
use deskside::unit::Unmeasured;

use crate::support::feeding::assert_near;
use crate::support::reference::Table;
use crate::support::rooms::{self, RATE_HZ, balloon, clap};
use crate::support::signals::Rng;

const RATE: f64 = 48_000.0;

/// What is asked of a clap: the just noticeable difference of a decay time (ISO 3382-1, table A.1).
const NOTICED: f64 = 0.05;

/// A width at which nothing is let off a curve that is no line.
const WIDTH_HZ: f64 = 1e6;

/// Closed forms are met within this: the curve is sampled and starts at 0 dB, not at -0.1 dB.
const CLOSED_FORM: f64 = 0.02;

/// Energies of decays that fall by 60 dB in the times given, each with a weight, for 6 s.
fn falling(parts: &[(f64, f64)]) -> Vec<f64> {
    let at = |n: usize| {
        let power = |&(weight, t60_s): &(f64, f64)| {
            weight * (-13.815_510_557_964_274 * n as f64 / RATE / t60_s).exp()
        };
        parts.iter().map(power).sum()
    };
    (0..6 * RATE_HZ as usize).map(at).collect()
}

fn check_times(name: &str, parts: &[(f64, f64)]) {
    let table = Table::read("iso3382_schroeder_fits.csv");
    let row = table.row("decay_p2", name);
    let found = of_energy(&falling(parts), 0.0, RATE, WIDTH_HZ);
    for (found, column) in [(found.edt, "EDT_s"), (found.t20, "T20_s"), (found.t30, "T30_s")] {
        let ratio = found.unwrap().t60_s / table.number(row, column);
        assert_near(ratio, 1.0, CLOSED_FORM, &format!("{name}, {column}"));
    }
}

#[test]
fn single_and_double_slopes_have_the_times_of_iso_3382() {
    check_times("single T=1.0", &[(1.0, 1.0)]);
    check_times("double 0.5 s + 0.01*2.0 s", &[(1.0, 0.5), (0.01, 2.0)]);
}

#[test]
fn clarity_of_an_exponential_decay_is_that_of_iso_3382() {
    let table = Table::read("iso3382_exponential_decay.csv");
    for row in 0..table.len() {
        let t60_s = table.number(row, "T_s");
        let found = of_energy(&falling(&[(1.0, t60_s)]), 0.0, RATE, WIDTH_HZ);
        let name = |what: &str| format!("{what} of {t60_s} s");
        assert_near(found.c50_db.unwrap(), table.number(row, "C50_dB"), 0.01, &name("C50"));
        assert_near(found.c80_db.unwrap(), table.number(row, "C80_dB"), 0.01, &name("C80"));
        assert_near(found.d50.unwrap(), table.number(row, "D50"), 0.001, &name("D50"));
    }
}

#[test]
fn a_bent_decay_has_one_time_in_a_narrow_band_only() {
    // From -5 to -35 dB one straight line explains 0.955 of the variance of these two (definition of r²).
    let energy = falling(&[(1.0, 0.3), (0.01, 1.0)]);
    let in_band = |width_hz: f64| of_energy(&energy, 0.0, RATE, width_hz);
    let wide = in_band(WIDTH_HZ);
    let t30 = wide.t30.clone().unwrap();
    assert_near(t30.r2, 0.955, 0.005, "straightness");
    assert!((wide.widest_s().unwrap() / t30.t60_s - 1.0).abs() > NOTICED, "not of 30 dB");
    // 0.98 - 3 / (B T), with B T = 50.
    assert_eq!(in_band(50.0 / t30.t60_s).widest_s(), Ok(t30.t60_s), "no straighter than noise");
}

#[test]
fn noise_that_falls_evenly_has_a_time_in_every_octave() {
    // The shortest halls: 20 resonances at 63 Hz, so that the curve is far from a line by chance alone.
    for seed in 50..62 {
        let mut rng = Rng::new(seed);
        let heard = rooms::response(&mut rng, rooms::SHAPE.map(|shape| 0.35 * shape), 8.0, 2.0);
        let plane: Vec<f32> = heard.iter().map(|&x| x as f32).collect();
        for (decay, octave_hz) in after_impulse(&plane, RATE_HZ).iter().zip(OCTAVES_HZ) {
            let t30_s = decay.t30.clone().unwrap().t60_s;
            assert_eq!(decay.widest_s(), Ok(t30_s), "{octave_hz:.0} Hz of hall {seed}");
        }
    }
}

#[test]
fn steady_noise_under_the_decay_is_taken_out() {
    // Energies without scatter, so that only the arithmetic counts: noise 50 dB under the begin.
    let mut energy = falling(&[(1.0, 1.2)]);
    energy.iter_mut().for_each(|power| *power += 1e-5);
    let found = of_energy(&energy, 0.0, RATE, WIDTH_HZ);
    assert_near(found.t30.unwrap().t60_s, 1.2, 1.2 * CLOSED_FORM, "T30");
    assert_near(found.t20.unwrap().t60_s, 1.2, 1.2 * CLOSED_FORM, "T20");
    assert_near(found.c80_db.unwrap(), 1.795, 0.05, "C80");
    assert_near(found.range_db, 50.0, 0.5, "range");
}

/// Decays of an impulse in a hall, and of the hall itself without noise; the noise lies `snr_db` under the loudest 10 ms.
fn in_a_hall(seed: u64, impulse: &[f64], snr_db: f64) -> [Vec<Decay>; 2] {
    rooms::in_a_hall(seed, impulse, snr_db).map(|sound| after_impulse(&sound, RATE_HZ))
}

/// Octaves of 24 halls: answered, and of those within 5 % and within 10 % of the hall.
fn score(impulse: impl Fn(&mut Rng) -> Vec<f64>, snr_db: f64) -> [usize; 4] {
    let mut counts = [0; 4];
    for seed in 0..24 {
        let [found, truth] = in_a_hall(seed, &impulse(&mut Rng::new(100 + seed)), snr_db);
        // 125 Hz and above: a clap has nothing to say about 63 Hz.
        for (found, truth) in found.iter().zip(&truth).skip(1) {
            let truth_s = truth.t30.clone().unwrap().t60_s;
            counts[0] += 1;
            if let Ok(found_s) = found.widest_s() {
                let off = (found_s / truth_s - 1.0).abs();
                counts[1] += 1;
                counts[2] += usize::from(off <= NOTICED);
                counts[3] += usize::from(off <= 2.0 * NOTICED);
            }
        }
    }
    counts
}

#[test]
fn nine_of_ten_octaves_of_a_clap_are_right() {
    let [all, answered, right, nearly] = score(clap, 60.0);
    assert!(answered * 10 >= all * 9, "{answered} of {all} octaves answered");
    assert!(right * 100 >= answered * 93, "{right} of {answered} within 5 %");
    assert!(nearly * 100 >= answered * 98, "{nearly} of {answered} within 10 %");
}

#[test]
fn nine_of_ten_octaves_of_a_balloon_are_right() {
    let [all, answered, right, _] = score(|_| balloon(), 60.0);
    assert!(answered * 10 >= all * 9, "{answered} of {all} octaves answered");
    assert!(right * 100 >= answered * 93, "{right} of {answered} within 5 %");
}

#[test]
fn little_range_gives_fewer_figures_instead_of_wrong_ones() {
    let [all, answered, _, nearly] = score(clap, 35.0);
    assert!(answered < all, "{answered} of {all} octaves answered");
    assert!(nearly * 100 >= answered * 85, "{nearly} of {answered} within 10 %");
    let [found, _] = in_a_hall(3, &clap(&mut Rng::new(1)), 10.0);
    assert!(found.iter().all(|decay| decay.t30.is_err()), "nothing at 10 dB: {found:?}");
}

#[test]
fn nothing_silence_and_odd_rates_have_no_decay() {
    for samples in [&[][..], &[0.0; 48_000], &[0.5], &[f32::NAN; 100]] {
        let found = after_impulse(samples, RATE_HZ);
        assert_eq!(found.len(), OCTAVES_HZ.len(), "an answer for each octave");
        assert!(found.iter().all(|decay| decay.t20.is_err()), "{} samples", samples.len());
    }
    let click: Vec<f32> = (0..16_000).map(|at| f32::from(u8::from(at == 100))).collect();
    let found = after_impulse(&click, 8_000);
    let reason = Unmeasured::Because("the octave lies above half of the sample rate");
    assert_eq!(found[7].edt, Err(reason), "8 kHz at a rate of 8 kHz");
}

#[test]
fn recommended_times_are_those_of_din_18041() {
    // DIN 18041:2016, use A2 (speech).
    let table = Table::read("rt_recommended_vs_volume.csv");
    for row in 0..table.len() {
        let volume_m3 = table.number(row, "V_m3");
        let expected_s = table.number(row, "DIN18041_A2_speech_s");
        assert_near(for_speech_s(volume_m3).unwrap(), expected_s, 1e-6, &format!("{volume_m3} m3"));
    }
    assert!(for_speech_s(40.0).is_err() && for_speech_s(8000.0).is_err(), "outside the rule");
}

/// N. W. Adelman-Larsen, E. R. Thompson, A. C. Gade, JASA 127(1), 2010 (from memory): 0.6 to 1.2 s in 1000 to 6000 m3.
#[test]
fn amplified_music_is_liked_up_to_1_2_s_in_halls_of_1000_to_6000_m3() {
    for volume_m3 in [1000.0, 2500.0, 6000.0] {
        assert_near(for_amplified_music_s(volume_m3).unwrap(), 1.2, 1e-9, "longest");
    }
    let [small, large] = [400.0, 9000.0].map(for_amplified_music_s);
    assert!(small.is_err() && large.is_err(), "nobody asked there");
}

#[test]
fn a_fall_is_drawn_with_the_slope_of_its_decay() {
    // 60 dB in 1.2 s: 1 dB each 20 ms.
    let mut rng = Rng::new(11);
    let fade = |n: usize| 10f64.powf(-3.0 * n as f64 / RATE / 1.2);
    let plane: Vec<f32> =
        (0..3 * RATE_HZ as usize).map(|n| (0.5 * fade(n) * rng.normal()) as f32).collect();
    let fall = fall_db(&plane, RATE_HZ, 0.02, 1.0);
    assert_eq!(fall.len(), 50, "a second in steps of 20 ms");
    let mean = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
    assert_near(mean(&fall[30..50]) - mean(&fall[5..25]), -25.0, 1.0, "25 steps later");
    assert!(fall_db(&[0.0; 4800], RATE_HZ, 0.02, 1.0).is_empty(), "silence does not fall");
}
