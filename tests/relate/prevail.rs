//! Cells of a source whose shares are known.

use deskside::relate::grid::N_BANDS;
use deskside::relate::prevail::{Pair, cells};

/// The same series in every band.
fn bands(series: &[f32]) -> Vec<Vec<f32>> {
    vec![series.to_vec(); N_BANDS]
}

#[test]
fn a_cell_is_chosen_where_the_source_prevails_in_both_and_is_loud() {
    // Alone; beside as much of others at home; alone but 30 dB softer; drowned in the other microphone.
    let source = [1.0, 1.0, 0.001, 1.0];
    let (source_bands, home) = (bands(&source), bands(&[1.0, 2.0, 0.001, 1.0]));
    let mic = bands(&[0.1, 0.1, 0.0001, 1.0]);
    let source: Vec<&[f32]> = source_bands.iter().map(Vec::as_slice).collect();
    let gains = [0.1; N_BANDS];
    let found = cells(&Pair {
        source: &source,
        home: &home,
        mic: &mic,
        gains: &gains,
        sounds: &[true; 9],
        disturbed: None,
    });
    let all = (1 << N_BANDS) - 1;
    assert_eq!(found, [all, 0, 0, 0]);
}

#[test]
fn bands_are_chosen_one_by_one() {
    let source_bands = bands(&[1.0; 3]);
    let source: Vec<&[f32]> = source_bands.iter().map(Vec::as_slice).collect();
    let (home, mic) = (bands(&[1.0; 3]), bands(&[0.1; 3]));
    let mut gains = [0.0; N_BANDS];
    gains[4] = 0.1;
    let found = cells(&Pair {
        source: &source,
        home: &home,
        mic: &mic,
        gains: &gains,
        sounds: &[true; 9],
        disturbed: None,
    });
    assert_eq!(found, [1 << 4; 3]);
}

#[test]
fn frames_near_the_other_source_are_left_out() {
    let source_bands = bands(&[1.0; 9]);
    let source: Vec<&[f32]> = source_bands.iter().map(Vec::as_slice).collect();
    let (home, mic, gains) = (bands(&[1.0; 9]), bands(&[0.1; 9]), [0.1; N_BANDS]);
    let mut disturbed = [false; 9];
    disturbed[4] = true;
    let pair = Pair {
        sounds: &[true; 9],
        source: &source,
        home: &home,
        mic: &mic,
        gains: &gains,
        disturbed: Some(&disturbed),
    };
    let chosen: Vec<bool> = cells(&pair).into_iter().map(|cell| cell != 0).collect();
    assert_eq!(chosen, [true, true, false, false, false, false, false, true, true]);
}
