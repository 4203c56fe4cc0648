//! A team's own windows from its good nights: the arithmetic by hand, what is left out, and the file that comes out.

use deskside::coach::Aims;
use deskside::history::{GoodNight, Learnt, OwnWindow, learn};
use deskside::report::json::SCHEMA;
use deskside::report::targets::learnt;
use serde_json::{Value, json};

/// Ends are sums of few numbers.
const TOLERANCE: f64 = 1e-9;

/// A night in which a rule found these numbers on channels of a role.
fn night(day: usize, rule: &str, number: &str, role: &str, values: &[f64]) -> Value {
    let channel =
        |at: usize| json!({ "id": format!("ch{at:02}"), "role": role, "tap": "processed" });
    let judged = |(at, value): (usize, &f64)| {
        json!({
            "rule": rule, "channels": [format!("ch{at:02}")], "outcome": "on-target", "is_check": false, "is_doubted": false,
            "measured": [{ "name": number, "value": value, "unit": "dB" }],
        })
    };
    json!({
        "schema": SCHEMA,
        "session": { "name": format!("night {day}"), "date": format!("2031-05-{day:02}"), "place": "hall", "is_good": true },
        "channels": (0..values.len()).map(channel).collect::<Vec<_>>(),
        "observations": values.iter().enumerate().map(judged).collect::<Vec<_>>(),
    })
}

fn mud(day: usize, over_db: f64) -> Value {
    night(day, "mud", "low mids over window", "lead-vocal", &[over_db])
}

fn from(nights: &[Value]) -> Learnt {
    learn(nights.iter().map(|night| GoodNight::read(&night.to_string(), SCHEMA).unwrap()).collect())
}

fn only(found: &Learnt) -> &OwnWindow {
    assert_eq!(found.windows.len(), 1, "one window: {:?}", found.windows);
    &found.windows[0]
}

fn near(found: Option<f64>, expected: f64, what: &str) {
    let found = found.unwrap_or(f64::NAN);
    assert!((found - expected).abs() < TOLERANCE, "{what}: found {found}, expected {expected}");
}

#[test]
fn six_nights_move_the_window_halfway() {
    let values = [3.0, -1.0, 4.0, 0.0, 2.0, 1.0];
    let nights: Vec<Value> = (1..).zip(values).map(|(day, value)| mud(day, value)).collect();
    let found = from(&nights);
    let own = only(&found);
    assert_eq!(own.n_nights, 6);
    near(Some(own.middle), 1.5, "middle of -1 to 4");
    // Given: at most 0, near to 4; so its middle is -3, and the own middle (6 x 1.5 + 6 x -3) / 12 = -0.75. It reaches to
    // -0.75 + 3 = 2.25; nine tenths of the nights reach to 3.5.
    near(own.green.high, 3.5, "on target");
    near(own.amber.high, 7.5, "near, 4 dB wide as before");
    assert_eq!((own.green.low, own.amber.low), (None, None), "open below as before");
    assert!(!own.is_far);
}

#[test]
fn twenty_equal_nights_make_it_narrow() {
    let nights: Vec<Value> = (1..=20)
        .map(|day| {
            night(day, "dull", "upper middle against body", "speech", &[-14.0, -15.0, -16.0])
        })
        .collect();
    let found = from(&nights);
    let own = only(&found);
    // Given: at least -19, so its middle is -16; (20 x -15 + 6 x -16) / 26 - 2.
    near(own.green.low, (20.0 * -15.0 + 6.0 * -16.0) / 26.0 - 2.0, "on target");
    near(own.amber.low, own.green.low.unwrap() - 5.0, "near, 5 dB wide as before");
}

#[test]
fn fewer_than_six_nights_tell_nothing() {
    let nights: Vec<Value> = (1..=5).map(|day| mud(day, 1.0)).collect();
    let found = from(&nights);
    assert_eq!((found.n_nights, found.windows.len()), (5, 0));
}

#[test]
fn spoilt_nights_other_halls_and_nights_that_were_not_good_are_left_out() {
    let mut nights: Vec<Value> = (1..=9).map(|day| mud(day, 1.0)).collect();
    nights[0]["session"]["is_good"] = json!(false);
    nights[1]["session"]["place"] = json!("barn");
    let broken = json!({
        "rule": "dropout", "channels": [], "outcome": "outside", "is_check": false, "is_doubted": false, "measured": [],
    });
    nights[2]["observations"].as_array_mut().unwrap().push(broken);
    let found = from(&nights);
    assert_eq!((found.n_nights, only(&found).n_nights), (6, 6));
    let left_out: Vec<String> =
        found.left_out.iter().map(|(name, reason)| format!("{name}: {reason}")).collect();
    assert_eq!(
        left_out,
        [
            "night 1: it is marked as no good night",
            "night 2: it was in another hall than the last night",
            "night 3: `dropout` was far off target",
        ]
    );
}

#[test]
fn numbers_from_another_tap_do_not_compare() {
    let mut nights: Vec<Value> = (1..=9).map(|day| mud(day, 1.0)).collect();
    for night in &mut nights[..2] {
        night["channels"][0]["tap"] = json!("raw");
        night["observations"][0]["measured"][0]["value"] = json!(40.0);
    }
    // Before the EQ is another place than after it, also on one tap.
    nights[2]["observations"][0]["is_check"] = json!(true);
    assert_eq!(only(&from(&nights)).n_nights, 6, "six of nine");
}

#[test]
fn what_the_guards_refuse_is_not_learnt_and_what_is_in_doubt_is() {
    let mut nights: Vec<Value> = (1..=12).map(|day| mud(day, 2.0)).collect();
    for (at, night) in nights.iter_mut().enumerate() {
        night["observations"][0]["outcome"] = json!({ "not-judged": "a reason" });
        night["observations"][0]["is_doubted"] = json!(at < 7);
    }
    assert_eq!(only(&from(&nights)).n_nights, 7);
}

#[test]
fn rumble_and_levels_are_never_learnt() {
    for (rule, number) in [
        ("hpf-missing", "rumble"),
        ("gain-too-low", "loud level"),
        ("hum-buzz", "hum re the loud level"),
    ] {
        let nights: Vec<Value> =
            (1..=9).map(|day| night(day, rule, number, "lead-vocal", &[0.0])).collect();
        assert!(from(&nights).windows.is_empty(), "{rule}");
    }
}

#[test]
fn a_window_far_beyond_the_general_one_is_told() {
    let nights: Vec<Value> = (1..=9).map(|day| mud(day, 9.0)).collect();
    let found = from(&nights);
    assert!(only(&found).is_far, "up to {:?}, given 0", only(&found).green.high);
    assert!(learnt(&found).contains("got used to a fault"));
}

#[test]
fn what_comes_out_is_a_teams_file() {
    let nights: Vec<Value> = (1..=9).map(|day| mud(day, f64::from(day as u32) / 3.0)).collect();
    let file = learnt(&from(&nights));
    Aims::parse(&file).unwrap_or_else(|error| panic!("{error} in {file}"));
    for line in ["rule = \"mud\"", "role = \"lead-vocal\"", "nights = 9", "9 good nights"] {
        assert!(file.contains(line), "`{line}` in {file}");
    }
}
