//! Powers by some bins and by whole third-octaves.
//!
//! Source: the definition: a sine of amplitude `a` has a mean square of `a^2 / 2`, whatever its frequency.

use deskside::relate::blend::blend;
use deskside::relate::grid::{Grid, N_BANDS, middle_hz};
use deskside::relate::shares::{Powers, shares};
use deskside::relate::whole_bands::to_whole_bands;

use crate::support::desk::{LENGTH_S, RATE_HZ, Strip, held, mix};
use crate::support::signals::{noise, sine};

/// The third-octave around 4 kHz, of which a bin in eight is kept.
const BAND: usize = 20;

#[test]
fn tones_on_kept_bins_and_between_them_read_their_true_power() {
    let grid = Grid::short(RATE_HZ);
    let kept = grid.bins()[grid.band(BAND)][4];
    assert!(grid.n_in_band(BAND) > 6 * grid.band(BAND).len(), "few bins are kept");
    let bin_hz = f64::from(RATE_HZ) / grid.frame() as f64;
    let n = LENGTH_S * RATE_HZ as usize;
    for (away, least_off_db) in [(0.0, 5.0), (1.5, 1.0)] {
        let hz = (kept as f64 + away) * bin_hz;
        let tone: Vec<f32> = sine(RATE_HZ, hz, 0.1, 0.0, n);
        let raw = vec![tone, noise(5, 0.01, n), noise(6, 0.01, n)];
        let strips = [Strip::plain(-2.0, -1.0), Strip::plain(-6.0, 1.0), Strip::plain(-3.0, 1.0)];
        let (held, patch) = held(&raw, &mix(&raw, &strips));
        let found = blend(&held, &patch).expect("there are channels and sound");
        let (mut slots, _) = shares(&held, &patch, &found, &found.course.gains, &[]);
        let before = slots.clone();
        let of_bins = 0.5 * 3.0 / 8.0 * (grid.frame() as f64).powi(2);
        let off_db = |power: f32| {
            let true_power = 0.1f64.powi(2) / 2.0 * 10f64.powf(-0.2);
            10.0 * (f64::from(power) / of_bins / true_power).log10()
        };
        let whole = |line: usize, _: f64| -> Option<Powers> {
            let of_tone = |band: usize| if band == BAND { 0.1f32.powi(2) / 2.0 } else { 0.0 };
            (line == 0).then(|| std::array::from_fn(of_tone))
        };
        to_whole_bands(&mut slots, &grid, &[], &[], whole);
        for (before, slot) in before.iter().zip(&slots).take(LENGTH_S - 1) {
            let plain_db = off_db(before.given[0][0][BAND]);
            assert!(plain_db.abs() > least_off_db, "by bins alone off by {plain_db:.2} dB");
            let whole_db = off_db(slot.given[0][0][BAND]);
            assert!(whole_db.abs() < 0.1, "{away} bins away: off by {whole_db:.2} dB");
            let main_db = off_db(slot.main[0][BAND]);
            assert!(main_db.abs() < 0.2, "{away} bins away: the mix is off by {main_db:.2} dB");
            assert_eq!(slot.rest, before.rest, "what is left stays");
            for band in (0..N_BANDS).filter(|band| grid.n_in_band(*band) == grid.band(*band).len())
            {
                let [is, was] = [slot, before].map(|slot| slot.given[0][0][band].to_bits());
                assert_eq!(is, was, "all bins are kept at {} Hz", middle_hz(band));
            }
        }
    }
}
