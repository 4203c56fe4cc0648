//! Tests of `measure::wander`.

use deskside::dsp::thirds::N_BANDS;
use deskside::measure::phrases::Phrase;
use deskside::measure::wander::{WANDER_NEEDS_PHRASES, low_end_correlation, rank_correlation};
use deskside::measure::{Thirds, Trace};
use deskside::unit::{Span, Unmeasured};

use crate::support::feeding::assert_near;

/// Rounding of a quotient of small whole numbers.
const EXACT: f64 = 1e-12;

/// Length of a planted phrase, in seconds: five steps of 0.2 s.
const PHRASE_S: f64 = 1.0;

/// Phrases with these levels, and thirds in which the low end of each stands this far above the middle.
fn planted(levels_db: &[f64], low_ends_db: &[f64]) -> (Thirds, Vec<Phrase>) {
    let band = |band: usize| {
        let mut trace = Trace::new(0.2);
        for (level_db, low_end_db) in levels_db.iter().zip(low_ends_db) {
            // Bands 7 to 9 are 125 to 200 Hz (IEC 61260-1, counted from 25 Hz).
            let low_db = if (7..10).contains(&band) { *low_end_db } else { 0.0 };
            let power = 10f64.powf((level_db + low_db) / 10.0);
            (0..5).for_each(|_| trace.push_power(power));
        }
        trace
    };
    let phrases = levels_db.iter().zip(0_u32..).map(|(&level_lufs, number)| {
        let start_s = f64::from(number) * PHRASE_S;
        Phrase { span: Span::new(start_s, start_s + PHRASE_S), level_lufs }
    });
    (Thirds { bands: (0..N_BANDS).map(band).collect() }, phrases.collect())
}

fn found(levels_db: &[f64], low_ends_db: &[f64]) -> Result<f64, Unmeasured> {
    let (thirds, phrases) = planted(levels_db, low_ends_db);
    low_end_correlation(&thirds, &phrases)
}

const RISING: [f64; 9] = [-30.0, -29.0, -27.0, -26.0, -25.0, -22.0, -21.0, -20.0, -18.0];

#[test]
fn the_textbook_example_of_ten_pupils_is_found() {
    // Ranks of ten pupils in mathematics and music: Kendall, Rank Correlation Methods (1948), chapter 1 (from memory);
    // 1 - 6 x 182 / 990 = -0.103.
    let mathematics = [7.0, 4.0, 3.0, 10.0, 6.0, 2.0, 9.0, 8.0, 1.0, 5.0];
    let music = [5.0, 7.0, 3.0, 10.0, 1.0, 9.0, 6.0, 2.0, 8.0, 4.0];
    let rho = rank_correlation(&mathematics, &music).expect("both vary");
    assert_near(rho, 1.0 - 6.0 * 182.0 / 990.0, EXACT, "rank correlation");
}

#[test]
fn equal_values_share_their_mean_rank() {
    // Ranks 1, 2.5, 2.5, 4 and 1, 2, 3, 4: products 4.5, squares 4.5 and 5.
    let rho = rank_correlation(&[1.0, 2.0, 2.0, 9.0], &[0.0, 5.0, 6.0, 7.0]).expect("both vary");
    assert_near(rho, 4.5 / (4.5_f64 * 5.0).sqrt(), EXACT, "with a tie");
}

#[test]
fn over_all_orders_of_six_the_mean_is_zero_and_the_variance_a_fifth() {
    // Without any relation the variance is 1 / (n - 1) (Kendall 1948, from memory).
    let mut orders: Vec<Vec<f64>> = vec![Vec::new()];
    for value in 0_u32..6 {
        let longer = |order: &Vec<f64>| {
            let order = order.clone();
            (0..=order.len()).map(move |at| {
                let mut order = order.clone();
                order.insert(at, f64::from(value));
                order
            })
        };
        orders = orders.iter().flat_map(longer).collect();
    }
    assert_eq!(orders.len(), 720, "orders of six");
    let first: Vec<f64> = (0_u32..6).map(f64::from).collect();
    let all = orders.iter().map(|order| rank_correlation(&first, order).expect("they vary"));
    let (sum, squares) =
        all.fold((0.0, 0.0), |(sum, squares), rho| (sum + rho, squares + rho * rho));
    assert_near(sum / 720.0, 0.0, EXACT, "mean");
    assert_near(squares / 720.0, 0.2, EXACT, "variance");
}

#[test]
fn only_the_order_counts_and_the_sign_is_that_of_a_closer_mouth() {
    // The low end grows with the level, evenly or not.
    assert_near(found(&RISING, &RISING.map(|db| db / 3.0)).unwrap(), 1.0, EXACT, "closer");
    assert_near(
        found(&RISING, &RISING.map(|db| 20.0 * (db / 10.0).exp())).unwrap(),
        1.0,
        EXACT,
        "bent",
    );
    assert_near(found(&RISING, &RISING.map(|db| -db)).unwrap(), -1.0, EXACT, "brighter");
}

#[test]
fn few_or_like_phrases_and_low_rates_have_no_value() {
    let few = &RISING[..WANDER_NEEDS_PHRASES - 1];
    let reason = Unmeasured::TooFewEvents { have: 7, need: 8 };
    assert_eq!(found(few, few), Err(reason), "seven phrases");
    assert!(found(&[-20.0; 9], &RISING).is_err(), "all equally loud");
    let (mut thirds, phrases) = planted(&RISING, &RISING);
    thirds.bands.truncate(18);
    let reason = Unmeasured::Because("the sample rate is too low");
    assert_eq!(low_end_correlation(&thirds, &phrases), Err(reason), "no band at 1.6 kHz");
}
