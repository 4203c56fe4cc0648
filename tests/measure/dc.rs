//! DC offset: what is planted is found, tones and slow rumble are none.

use deskside::measure::dc::{Dc, DcMeter};
use deskside::unit::Unmeasured;

use crate::support::planted::{Dice, RATE_HZ, UNEVEN, amplitude, in_blocks, samples, sine, stored};

fn measure(plane: Vec<f32>, lengths: &[usize]) -> Result<Dc, Unmeasured> {
    let mut meter = DcMeter::new(RATE_HZ, 1);
    in_blocks(&[plane], RATE_HZ, lengths, |group| meter.push(group));
    meter.finish().remove(0)
}

/// The mean of 480 000 samples of noise at -20 dBFS lies within 4 sigma = 5.8e-4 of 0: 5 % of an offset at -40 dBFS.
const TOLERANCE_DB: f64 = 0.5;

#[test]
fn planted_offset_is_found_under_noise_and_keeps_its_sign() {
    for (offset_db, sign) in [(-40.0, 1.0), (-30.0, -1.0), (-20.0, 1.0)] {
        let noise = Dice::new(3).noise(0.1, samples(35.0));
        let x: Vec<f64> = noise.iter().map(|x| x + sign * amplitude(offset_db)).collect();
        let dc = measure(stored(&x, 24), &UNEVEN).unwrap();
        assert!(
            (dc.level_dbfs - offset_db).abs() < TOLERANCE_DB,
            "{} not {offset_db}",
            dc.level_dbfs
        );
        assert!(dc.is_steady(), "{} % share a sign", dc.same_sign_percent);
    }
}

/// The mean of a sine over T seconds is at most A / (pi f T): -62 dB for 40 Hz and 10 s.
#[test]
fn low_bass_note_is_no_offset() {
    let dc = measure(stored(&sine(41.2, 0.9, 30.0), 24), &[8192]).unwrap();
    assert!(dc.level_dbfs < -60.0, "found {} dBFS", dc.level_dbfs);
}

#[test]
fn swaying_mean_is_not_steady() {
    let x = sine(0.021, 0.05, 200.0);
    assert!(!measure(stored(&x, 24), &[8192]).unwrap().is_steady(), "the mean changes sign");
}

#[test]
fn result_does_not_depend_on_how_blocks_are_cut() {
    let plane = stored(&Dice::new(8).noise(0.2, samples(27.0)), 24);
    assert_eq!(measure(plane.clone(), &UNEVEN), measure(plane, &[1 << 20]), "uneven and whole");
}

#[test]
fn silent_and_very_short_recordings_have_none() {
    assert_eq!(measure(vec![0.0; samples(20.0)], &[4096]), Err(Unmeasured::Silent), "silence");
    let short = measure(vec![0.5; samples(0.5)], &[4096]);
    assert_eq!(short, Err(Unmeasured::TooShort { have_s: 0.5, need_s: 1.0 }), "half a second");
}
