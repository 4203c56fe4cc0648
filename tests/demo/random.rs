//! Tests of `demo::random`.

use deskside::demo::random::Random;

/// First numbers of the generator for the seed 1234567, as printed with other implementations of it (from memory).
const FIRST_OF_1234567: [u64; 5] = [
    6_457_827_717_110_365_317,
    3_203_168_211_198_807_973,
    9_817_491_932_198_370_423,
    4_593_380_528_125_082_431,
    16_408_922_859_458_223_821,
];

/// Numbers drawn for a statistic.
const N_DRAWS: u32 = 100_000;

/// Five standard errors of the mean of [`N_DRAWS`] numbers with a standard deviation of 1: 5 / sqrt(100 000).
const MEAN_TOLERANCE: f64 = 0.016;

/// Five standard errors of their variance: 5 sqrt(2 / 100 000), for a normal curve; less for a flatter one.
const VARIANCE_TOLERANCE: f64 = 0.023;

#[test]
fn stream_is_the_published_one() {
    let mut random = Random::new(1_234_567);
    let found = std::array::from_fn(|_| random.next_u64());
    assert_eq!(FIRST_OF_1234567, found, "the first five numbers");
}

#[test]
fn bell_has_mean_0_and_variance_1() {
    let mut random = Random::new(3);
    let draws: Vec<f64> = (0..N_DRAWS).map(|_| random.bell()).collect();
    let mean = draws.iter().sum::<f64>() / f64::from(N_DRAWS);
    let variance = draws.iter().map(|draw| draw * draw).sum::<f64>() / f64::from(N_DRAWS);
    assert!(mean.abs() < MEAN_TOLERANCE, "expected a mean of 0, found {mean}");
    assert!(
        (variance - 1.0).abs() < VARIANCE_TOLERANCE,
        "expected a variance of 1, found {variance}"
    );
    let widest = draws.iter().fold(0.0_f64, |widest, draw| widest.max(draw.abs()));
    assert!(widest <= 3.5, "expected no draw beyond 3.5, found {widest}");
}

#[test]
fn between_stays_between_and_fills_the_range() {
    let mut random = Random::new(4);
    let draws: Vec<f64> = (0..N_DRAWS).map(|_| random.between(-2.0, 6.0)).collect();
    assert!(draws.iter().all(|draw| (-2.0..6.0).contains(draw)), "all draws lie in the range");
    // An even scatter over 8 has a variance of 64/12.
    let mean = draws.iter().sum::<f64>() / f64::from(N_DRAWS);
    let variance = draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / f64::from(N_DRAWS);
    let ratio = variance / (64.0 / 12.0);
    assert!((ratio - 1.0).abs() < VARIANCE_TOLERANCE, "expected 64/12, found {variance}");
}

#[test]
fn branches_of_a_seed_do_not_resemble_each_other() {
    let (mut one, mut other) = (Random::branch(9, 0), Random::branch(9, 1));
    let product: f64 = (0..N_DRAWS).map(|_| 3.0 * one.signed() * other.signed()).sum();
    let correlation = product / f64::from(N_DRAWS);
    assert!(correlation.abs() < MEAN_TOLERANCE, "expected 0, found {correlation}");
}
