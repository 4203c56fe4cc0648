//! Directions of wedges: published patterns, and plots whose angles are known.

use deskside::relate::wedge::direction;
use deskside::session::note::Pattern;

use crate::support::feeding::assert_near;
use crate::support::reference::Table;

const PATTERNS: [(Pattern, &str); 6] = [
    (Pattern::Omni, "omnidirectional"),
    (Pattern::Subcardioid, "subcardioid (0.7/0.3)"),
    (Pattern::Cardioid, "cardioid"),
    (Pattern::Supercardioid, "supercardioid max front/back (0.366)"),
    (Pattern::Hypercardioid, "hypercardioid (0.25)"),
    (Pattern::FigureEight, "figure-eight"),
];

/// A microphone at the origin that looks along x, and a wedge so many degrees off.
fn level_db(pattern: Pattern, angle_deg: f64) -> f64 {
    let angle = angle_deg.to_radians();
    let wedge_m = [2.0 * angle.cos(), 0.0, 2.0 * angle.sin()];
    let found = direction(pattern, [0.0; 3], [3.0, 0.0, 0.0], wedge_m).unwrap();
    assert_near(found.angle_deg, angle_deg, 1e-6, "angle");
    found.level_db
}

#[test]
fn levels_at_the_side_and_behind_are_those_of_the_pattern() {
    // Polar equations of first order: tests/reference/polar_patterns.csv.
    let table = Table::read("polar_patterns.csv");
    for (pattern, name) in PATTERNS {
        let row = table.row("pattern", name);
        for (angle_deg, column) in [(90.0, "at_90deg_dB"), (180.0, "at_180deg_dB")] {
            // Deaf in theory, -30 dB in practice.
            let expected = table.number(row, column).max(-30.0);
            assert_near(level_db(pattern, angle_deg), expected, 0.05, name);
        }
    }
}

#[test]
fn the_quiet_direction_is_where_handbooks_have_it() {
    // Null angles 180, 125, 109 and 90 degrees: the same table.
    for (pattern, null_deg) in [
        (Pattern::Cardioid, 180.0),
        (Pattern::Supercardioid, 125.3),
        (Pattern::Hypercardioid, 109.5),
        (Pattern::FigureEight, 90.0),
    ] {
        assert!(level_db(pattern, null_deg) < -29.0, "{pattern:?} is deaf at {null_deg} degrees");
        assert!(level_db(pattern, null_deg - 40.0) > -20.0, "{pattern:?} hears beside it");
    }
}

#[test]
fn a_plot_without_a_direction_gives_none() {
    let origin = [0.0; 3];
    assert!(direction(Pattern::Cardioid, origin, [0.0; 3], [1.0, 0.0, 0.0]).is_err(), "no axis");
    assert!(direction(Pattern::Cardioid, origin, [1.0, 0.0, 0.0], origin).is_err(), "one place");
    let nowhere = [f64::NAN, 0.0, 0.0];
    assert!(direction(Pattern::Cardioid, origin, [1.0, 0.0, 0.0], nowhere).is_err(), "no number");
}
