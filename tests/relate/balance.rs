//! Who is how loud against whom.

use deskside::relate::audibility::audibility;
use deskside::relate::balance::{
    Levels, Window, each_second, middle_db, share_percent, stretches, usual_db,
};
use deskside::relate::board::{Board, Ear, Second};
use deskside::relate::grid::{N_BANDS, middle_hz};
use deskside::relate::held_powers::HeldPowers;
use deskside::unit::{Span, Unmeasured};

/// Powers are held within 0.02 dB.
const HELD_DB: f64 = 0.02;

/// A board of two lines whose levels at 1 kHz are given second by second, in dB.
fn board(levels_db: &[[f64; 2]]) -> Board {
    let mut board = Board::new(&[3, 7], &[Span::new(0.0, levels_db.len() as f64)]);
    for (second, levels_db) in board.seconds.iter_mut().zip(levels_db) {
        let given = levels_db.map(|level_db| {
            let mut powers = [0.0; N_BANDS];
            powers[14] = 10f32.powf(level_db as f32 / 10.0);
            powers
        });
        let main = std::array::from_fn(|band| given[0][band] + given[1][band]);
        *second = Some(Second {
            main,
            rest: [0.0; N_BANDS],
            backing: given[1],
            given: given.iter().map(HeldPowers::new).collect(),
        });
    }
    board
}

#[test]
fn third_octaves_are_weighted_as_the_standard_says() {
    // ITU-R BS.1770: about +0.7 dB at 1 kHz, +4 dB well above 2 kHz, a high-pass below 100 Hz.
    let ear = Ear::new();
    let level_db = |band: usize| {
        let mut powers = [0.0; N_BANDS];
        powers[band] = 1.0;
        10.0 * ear.power(&powers).log10()
    };
    assert!((middle_hz(14) - 1000.0).abs() < 1.0, "{}", middle_hz(14));
    assert!((level_db(14) - 0.70).abs() < 0.1, "{}", level_db(14));
    assert!((level_db(24) - 4.0).abs() < 0.1, "{}", level_db(24));
    assert!(level_db(0) < -4.0, "{}", level_db(0));
}

#[test]
fn a_voice_lies_as_far_under_the_rest_as_it_was_put() {
    let mut levels = vec![[-6.0, 0.0]; 20];
    levels.extend([[3.0, 0.0]; 10]);
    let board = board(&levels);
    let sings = [Span::new(2.0, 30.0)];
    let windows = Levels::loudness(&board).over(&[0], &[1], Span::new(0.0, 30.0), &sings);
    assert_eq!(windows.len(), 27, "from second 1 or 2 on in windows of 3 s: {}", windows.len());
    assert!((usual_db(&windows).unwrap() + 6.0).abs() < HELD_DB);
    let low = share_percent(&windows, |window| window.over_db < -4.0).unwrap();
    assert!((50.0..75.0).contains(&low), "{low}");
    let found = stretches(&windows, |window| window.over_db < -4.0);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].end_s <= 22.0, "{found:?}");
}

#[test]
fn each_second_holds_the_window_that_begins_there_and_nothing_where_the_voice_rests() {
    let mut levels = vec![[-6.0, 0.0]; 14];
    levels.extend([[3.0, 0.0]; 10]);
    // It sings from 4 to 8 s and from 14 s on; windows of 3 s of which it fills two thirds begin at 3 to 6 s and from 13 s on.
    let sings = [Span::new(4.0, 8.0), Span::new(14.0, 24.0)];
    let within = Span::new(0.5, 24.0);
    let windows = Levels::loudness(&board(&levels)).over(&[0], &[1], within, &sings);
    let course = each_second(&windows, within);
    let heard: Vec<usize> =
        (0..course.len()).filter(|&at| course[at].is_some()).map(|at| at + 1).collect();
    assert_eq!(heard, [3, 4, 5, 6, 13, 14, 15, 16, 17, 18, 19, 20, 21], "seconds of the session");
    let at = |second: usize| course[second - 1].unwrap();
    assert!((at(4) + 6.0).abs() < HELD_DB, "{}", at(4));
    assert!((at(16) - 3.0).abs() < HELD_DB, "{}", at(16));
}

#[test]
fn a_voice_that_rests_has_no_balance() {
    let board = board(&[[0.0, 0.0]; 20]);
    let windows =
        Levels::loudness(&board).over(&[0], &[1], Span::new(0.0, 20.0), &[Span::new(5.0, 7.0)]);
    assert!(matches!(usual_db(&windows), Err(Unmeasured::TooFewEvents { .. })), "{windows:?}");
}

#[test]
fn the_middle_of_windows_is_their_interquartile_mean() {
    // The worked example of handbooks of statistics for twelve values (from memory): 6.5.
    let levels = [5.0, 8.0, 4.0, 38.0, 8.0, 6.0, 9.0, 7.0, 7.0, 3.0, 1.0, 6.0];
    let window = |over_db: f64| Window { span: Span::new(0.0, 3.0), over_db };
    let windows: Vec<Window> = levels.into_iter().map(window).collect();
    assert!((middle_db(&windows).unwrap() - 6.5).abs() < 1e-9);
    assert!(matches!(middle_db(&windows[..4]), Err(Unmeasured::TooFewEvents { .. })));
}

#[test]
fn seconds_that_were_not_read_have_no_windows() {
    let mut board = board(&[[0.0, 0.0]; 12]);
    board.seconds[5] = None;
    let all = [Span::new(0.0, 12.0)];
    let windows = Levels::loudness(&board).over(&[0], &[1], all[0], &all);
    assert_eq!(windows.len(), 7, "windows over the sixth second are missing");
}

#[test]
fn audibility_runs_from_15_db_under_to_15_db_over() {
    let index = |over_db: f64| {
        let mut board = board(&[[0.0, 0.0]; 20]);
        for second in board.seconds.iter_mut().flatten() {
            let own = [10f32.powf(over_db as f32 / 10.0); N_BANDS];
            second.given = vec![HeldPowers::new(&own), HeldPowers::new(&[1.0; N_BANDS])];
        }
        let all = [Span::new(0.0, 20.0)];
        audibility(&board, &[0], &[1], all[0], &all).unwrap()
    };
    for (over_db, expected) in [(-20.0, 0.0), (-15.0, 0.0), (0.0, 0.5), (7.5, 0.75), (20.0, 1.0)] {
        let found = index(over_db);
        assert!((found.index - expected).abs() < HELD_DB / 30.0, "{over_db}: {}", found.index);
        assert_eq!(found.covered_by, Some(1));
    }
}

#[test]
fn the_third_octave_that_is_covered_most_is_named() {
    let mut board = board(&[[0.0, 0.0]; 20]);
    for second in board.seconds.iter_mut().flatten() {
        let mut other = [1.0; N_BANDS];
        other[17] = 10.0;
        second.given = vec![HeldPowers::new(&[1.0; N_BANDS]), HeldPowers::new(&other)];
    }
    let all = [Span::new(0.0, 20.0)];
    let found = audibility(&board, &[0], &[1], all[0], &all).unwrap();
    assert!((found.covered_hz - 2000.0).abs() < 20.0, "{}", found.covered_hz);
    let short = audibility(&board, &[0], &[1], Span::new(0.0, 6.0), &all);
    assert!(matches!(short, Err(Unmeasured::TooLittleActive { .. })), "six seconds tell nothing");
}
