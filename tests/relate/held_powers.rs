//! Powers in two bytes: what comes back.

use deskside::relate::grid::N_BANDS;
use deskside::relate::held_powers::HeldPowers;

/// Half of a step: the upper half of a single-precision number has seven bits behind the first one (IEEE 754).
const HALF_A_STEP: f32 = 1.0 / 256.0;

#[test]
fn powers_come_back_within_half_a_step() {
    for tenth_db in -1_500..300i16 {
        let powers: [f32; N_BANDS] = std::array::from_fn(|band| {
            10f32.powf((f32::from(tenth_db) + band as f32 / 27.0) / 100.0)
        });
        let held = HeldPowers::new(&powers).powers();
        for (power, held) in powers.into_iter().zip(held) {
            assert!((held / power - 1.0).abs() <= HALF_A_STEP, "{power}: {held}");
        }
    }
}

#[test]
fn silence_is_silence() {
    assert_eq!(HeldPowers::new(&[0.0; N_BANDS]), HeldPowers::SILENT);
    assert!(HeldPowers::SILENT.powers().iter().all(|&power| power <= 0.0), "nothing");
}
