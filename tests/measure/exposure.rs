//! Exposure against printed tables and worked examples.

use deskside::measure::exposure::{
    Criterion, FIVE_DB_ACTION, FIVE_DB_LIMIT, Stay, THREE_DB, daily_level_db, stays,
};
use deskside::measure::sound_level::{Calibration, SoundLevelMeter};
use deskside::unit::Unmeasured;

use crate::support::feeding::assert_near;
use crate::support::reference::Table;
use crate::support::signals::sine;

/// Digits of the tables and of the worked examples.
const TABLE_MIN: f64 = 1e-6;
const WORKED: f64 = 0.06;

fn hours(pairs: &[(f64, f64)]) -> Vec<Stay> {
    pairs.iter().map(|&(level_db, h)| Stay { level_db, time_s: 3_600.0 * h }).collect()
}

#[test]
fn allowed_times_are_those_of_both_publications() {
    let table = Table::read("exposure_allowed_time.csv");
    for row in 0..table.len() {
        let level_db = table.number(row, "level_dBA");
        for (criterion, column) in
            [(THREE_DB, "niosh_allowed_min"), (FIVE_DB_LIMIT, "osha_allowed_min")]
        {
            let expected = table.number(row, column);
            let found = criterion.allowed_s(level_db) / 60.0;
            assert_near(found / expected, 1.0, TABLE_MIN, &format!("{level_db} dB, {column}"));
        }
    }
    // Table G-16 of 29 CFR 1910.95: rounded to a whole or half hour at 92, 97 and 102 dB.
    let table = Table::read("osha_table_g16.csv");
    for row in 0..table.len() {
        let found_h = FIVE_DB_LIMIT.allowed_s(table.number(row, "level_dBA_slow")) / 3_600.0;
        assert_near(found_h, table.number(row, "hours_per_day"), 0.065, "table G-16");
    }
}

#[test]
fn a_shift_of_three_levels_reads_as_worked_by_hand() {
    let shift = hours(&[(90.0, 4.0), (94.0, 2.0), (80.0, 2.0)]);
    assert_near(daily_level_db(&shift).unwrap(), 90.618, 0.001, "daily level");
    let dose = THREE_DB.dose_percent(&shift);
    assert_near(dose, 366.6, WORKED, "dose, 3 dB");
    assert_near(THREE_DB.average_db(dose).unwrap(), 90.642, 0.001, "average, 3 dB");
    assert_near(FIVE_DB_ACTION.dose_percent(&shift), 99.78, WORKED, "dose, 5 dB");
    // 80 dB lies under the threshold of the limit: 4/8 + 2/4.595.
    assert_near(FIVE_DB_LIMIT.dose_percent(&shift), 93.53, WORKED, "dose, 5 dB, limit");
}

#[test]
fn one_rehearsal_reads_as_worked_by_hand() {
    let rehearsal = hours(&[(92.0, 2.5)]);
    assert_near(daily_level_db(&rehearsal).unwrap(), 86.95, 0.005, "daily level");
    assert_near(THREE_DB.dose_percent(&rehearsal), 157.5, WORKED, "3 dB");
    assert_near(FIVE_DB_LIMIT.dose_percent(&rehearsal), 41.2, WORKED, "5 dB");
}

#[test]
fn equal_doses_are_equal() {
    // SCENIHR 2008, table 3: as much as 85 dB for 8 h. 3 dB are 3.01 dB there: up to 0.06 dB off at 15 minutes.
    for (level_db, time_h) in [(88.0, 4.0), (91.0, 2.0), (94.0, 1.0), (97.0, 0.5), (100.0, 0.25)] {
        let stay = hours(&[(level_db, time_h)]);
        assert_near(daily_level_db(&stay).unwrap(), 85.0, 0.06, "daily level");
        assert_near(THREE_DB.dose_percent(&stay), 100.0, 1e-9, "dose");
    }
    // 92 dB for 8 h: 131.95 %, and an average of 92 dB.
    let dose = FIVE_DB_LIMIT.dose_percent(&hours(&[(92.0, 8.0)]));
    assert_near(dose, 131.95, WORKED, "dose");
    assert_near(FIVE_DB_LIMIT.average_db(dose).unwrap(), 92.0, 0.01, "average");
    // 1 Pa² over one hour of eight: 10 lg (1/8 / (20 µPa)²).
    let pascal_db = 10.0 * (1.0 / (20e-6f64 * 20e-6)).log10();
    assert_near(daily_level_db(&hours(&[(pascal_db, 1.0)])).unwrap(), 84.949, 0.001, "1 Pa² h");
}

#[test]
fn no_time_has_no_level_and_no_dose() {
    assert!(matches!(daily_level_db(&[]), Err(Unmeasured::TooShort { .. })), "no stay");
    assert_near(THREE_DB.dose_percent(&[]), 0.0, 0.0, "dose");
    assert_eq!(THREE_DB.average_db(0.0), None, "average");
    let below: Criterion = THREE_DB;
    assert_near(below.dose_percent(&hours(&[(79.9, 8.0)])), 0.0, 0.0, "under the threshold");
}

#[test]
fn a_recording_is_a_stay_of_its_seconds() {
    let plane = sine(48_000, 1_000.0, 0.1, 0.0, 10 * 48_000);
    let mut meter = SoundLevelMeter::new(48_000, &[Calibration::new(123.01).unwrap()]);
    meter.push(deskside::dsp::Group::new(&[&plane], 48_000));
    let level = meter.finish().remove(0).unwrap();
    let stays = stays(&level);
    assert_eq!(stays.len(), 10, "seconds");
    // 100 dB for 10 s of 900 s.
    assert_near(THREE_DB.dose_percent(&stays), 100.0 / 90.0, 0.01, "dose");
}
