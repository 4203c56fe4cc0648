//! The speed of sound against the standard's table.

use deskside::dsp::air::speed_of_sound_m_s;

use crate::support::feeding::assert_near;
use crate::support::reference::Table;

/// Digits of the table (`corpus/reference/speed_of_sound.csv`, ISO 9613-1:1993 by an independent library).
const TOLERANCE_M_S: f64 = 1e-6;

/// The handbook's `331.3 sqrt(1 + t/273.15)` differs by 0.0152 m/s at most: 0.004 %, a seventh of a millimetre in 3 m.
const HANDBOOK_TOLERANCE_M_S: f64 = 0.016;

#[test]
fn sound_runs_as_fast_as_the_standard_says() {
    let table = Table::read("speed_of_sound.csv");
    for row in 0..table.len() {
        let temperature_c = table.number(row, "temp_C");
        let found = speed_of_sound_m_s(temperature_c);
        let what = format!("{temperature_c} °C");
        assert_near(found, table.number(row, "iso9613_1_m_s"), TOLERANCE_M_S, &what);
        assert_near(found, table.number(row, "331.3_sqrt_m_s"), HANDBOOK_TOLERANCE_M_S, &what);
    }
}
