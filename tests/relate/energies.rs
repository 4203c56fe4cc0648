//! Energies of two players in three microphones, against the gains that they were mixed with.

use deskside::relate::energies::{Energies, Mic};
use deskside::relate::grid::{Grid, N_BANDS};
use deskside::relate::separation::separate;

use crate::support::feeding::assert_near;
use crate::support::sharing::{RATE_HZ, SPILL, microphones, presence, spectra};

/// Half a minute of noise tells a gain within this, in dB.
const TOLERANCE_DB: f64 = 0.7;

/// Both players in their own microphones, and in a third that stands for none of them.
fn energies() -> Energies {
    let mut channels = microphones(32).to_vec();
    let third = channels[0].iter().zip(&channels[1]).map(|(one, other)| 0.5 * one + 0.1 * other);
    channels.push(third.collect());
    let held = spectra(Grid::middle(RATE_HZ), &channels);
    let presence = presence(&held);
    let mics: Vec<Mic> = [Some(0), Some(1), None]
        .into_iter()
        .enumerate()
        .map(|(channel, own)| Mic { channel, own, kin: Vec::new() })
        .collect();
    Energies::new(&held, &separate(&held, &[0, 1], Some(&presence)), &presence, &mics)
}

#[test]
fn gains_are_those_that_were_mixed() {
    let energies = energies();
    // The third hears the first by its own microphone at half, and by the other's at a tenth of what that hears.
    let there = [0.5 + 0.1 * SPILL[0], 0.5 * SPILL[1] + 0.1];
    for (source, mic, gain) in
        [(0, 1, SPILL[0]), (1, 0, SPILL[1]), (0, 2, there[0]), (1, 2, there[1])]
    {
        let gains = energies.gains(source, source, mic);
        for (band, power) in gains.iter().enumerate().take(N_BANDS).skip(8) {
            let error_db = 10.0 * f64::from(power / gain.powi(2)).log10();
            assert!(error_db.abs() < 2.0, "{source} in {mic}, band {band}: off by {error_db} dB");
        }
        let level_db =
            10.0 * (energies.level(mic, source) / energies.level(source, source)).log10();
        let expected_db = 20.0 * f64::from(gain).log10();
        assert_near(level_db, expected_db, TOLERANCE_DB, &format!("{source} in {mic}"));
    }
}
