//! Courses of gains against an independent library that solves them at once.

use deskside::relate::ride::Equations;
use deskside::relate::walk::course;

use crate::support::oracle::{even, solution};

/// Single precision, and turns that end.
const TOLERANCE: f64 = 1e-3;

const HOP_S: f64 = 2048.0 / 48_000.0;

/// Equations of the case `walk` of the table, frame by frame.
fn given() -> Equations {
    let (n, n_frames) = (3, 20);
    let rows = even(27, n_frames * 6 * n);
    let gains: Vec<f64> = even(28, n_frames * n).iter().map(|x| 1.0 + 0.3 * x).collect();
    let (mut products, mut with_main) = (Vec::new(), Vec::new());
    for (rows, gains) in rows.chunks_exact(6 * n).zip(gains.chunks_exact(n)) {
        for a in 0..n {
            let cell = |b: usize| 5.0 * rows.chunks_exact(n).map(|x| x[a] * x[b]).sum::<f64>();
            products.extend((0..n).map(|b| cell(b) as f32));
            with_main.push((0..n).map(|b| cell(b) * gains[b]).sum::<f64>() as f32);
        }
    }
    Equations::new(n, products, with_main)
}

#[test]
fn the_course_is_that_of_an_independent_library() {
    let found = course(&given(), HOP_S, &[0]);
    for (place, expected) in solution("walk").iter().enumerate() {
        let got = f64::from(found.gains[place % 3][place / 3]);
        assert!((got - expected[0]).abs() < TOLERANCE, "{place}: {got}, not {}", expected[0]);
    }
}

#[test]
fn nothing_is_carried_from_one_stretch_to_the_next() {
    let frames = |gain: f32| vec![gain; 30];
    let with_main: Vec<f32> = [frames(100.0), frames(300.0)].concat();
    let equations = Equations::new(1, vec![100.0; 60], with_main);
    let torn = &course(&equations, HOP_S, &[0, 30]).gains[0];
    assert!((torn[29] - 1.0).abs() < 0.01 && (torn[30] - 3.0).abs() < 0.01, "{torn:?}");
    let whole = &course(&equations, HOP_S, &[0]).gains[0];
    assert!(whole[29] > 1.2 && whole[30] < 2.8, "one course bends: {whole:?}");
}

#[test]
fn what_is_heard_less_is_known_less() {
    let equations = Equations::new(2, [100.0, 0.0, 0.0, 1.0].repeat(50), [100.0, 1.0].repeat(50));
    let found = course(&equations, HOP_S, &[0]);
    assert!(found.deviations[0][25] < 0.1 && found.deviations[1][25] > 0.2, "{found:?}");
    let nothing = Equations::new(1, vec![0.0; 50], vec![0.0; 50]);
    let held = course(&nothing, HOP_S, &[0]);
    assert!(held.gains[0].iter().all(|gain| (gain - 1.0).abs() < 1e-3), "held at 1");
}
