//! Counting: what is one row of nights and where it ends, what is left out, and how many rules are judged together.

use deskside::history::{
    Change, Habit, Marked, Night, Observation, Selection, habits, recurring, topic,
};
use deskside::session::Role;

use super::{night, seen};

fn all(nights: &[Night]) -> Vec<Habit> {
    habits(nights, &Selection { with_gear: true, ..Selection::default() }, &[])
}

fn only(nights: &[Night]) -> Habit {
    let mut found = all(nights);
    assert_eq!(found.len(), 1, "one habit");
    found.remove(0)
}

/// So many late entries of ten, night by night.
fn falling(n_late: &[u32]) -> Vec<Night> {
    let nights = (1..).zip(n_late);
    nights.map(|(day, n)| night(day, "wren", vec![seen("cue-late", "LV", *n, 10)])).collect()
}

const SEVEN: [u32; 7] = [8, 7, 6, 5, 4, 3, 2];

#[test]
fn a_falling_rate_is_steadier_and_a_rising_one_more_often() {
    assert_eq!(only(&falling(&SEVEN)).verdict.words(), "steadier");
    let mut rising = SEVEN;
    rising.reverse();
    assert_eq!(only(&falling(&rising)).verdict.words(), "more often than before");
    assert_eq!(only(&falling(&SEVEN[..5])).verdict.words(), "no clear change yet");
    assert_eq!(only(&falling(&SEVEN[..3])).verdict.words(), "too early to say");
}

#[test]
fn one_step_is_neither_praised_nor_alarming() {
    assert_eq!(only(&falling(&[3, 3, 3, 3, 3, 9])).verdict.words(), "no clear change yet");
    assert_eq!(only(&falling(&[9, 3, 3, 3, 3, 3])).verdict.words(), "no clear change yet");
}

#[test]
fn hits_and_chances_of_a_night_add_up() {
    let ones = vec![seen("cue-late", "LV", 1, 4), seen("cue-late", "Tpt", 2, 3)];
    let habit =
        only(&[night(1, "wren", ones), night(2, "wren", vec![seen("hum-buzz", "KB L", 0, 1)])]);
    assert_eq!(habit.dots.len(), 1, "a night without a chance is no night of the habit");
    assert_eq!((habit.rate.n_hits, habit.rate.n_chances), (3, 7));
}

#[test]
fn what_was_marked_away_is_no_habit_and_what_was_meant_so_comes_back_for_nobody() {
    let marked = |mark: &str, channel: &str| {
        let mut nights = Vec::new();
        for (day, operator) in (1..).zip(["wren", "heron", "wren", "heron"]) {
            let ones = vec![seen("cue-late", "LV", 3, 4), seen("cue-late", "Tpt", 0, 2)];
            let mut night = night(day, operator, ones);
            night.record.marks = vec![Marked {
                rule: "cue-late".to_owned(),
                channels: vec![channel.to_owned()],
                mark: mark.to_owned(),
            }];
            nights.push(night);
        }
        (all(&nights).len(), recurring(&nights).len())
    };
    assert_eq!(marked("fits", "LV"), (1, 1));
    assert_eq!(marked("on-purpose", "lv"), (0, 0), "it was wanted");
    assert_eq!(marked("does-not-fit", "LV"), (0, 0), "it was not so");
    assert_eq!(marked("not-ours", "LV"), (0, 1), "it is a matter of hall and gear");
    assert_eq!(marked("on-purpose", "Tpt"), (1, 1), "another channel was meant");
}

/// Changes something in the nights from the fourth on and expects the count to start anew there.
fn breaks_at_the_fourth(change: Change, mut alter: impl FnMut(&mut Night)) {
    let mut nights = falling(&SEVEN);
    nights[3..].iter_mut().for_each(&mut alter);
    let habit = only(&nights);
    assert_eq!(habit.breaks.len(), 1, "{change:?}");
    let found = (habit.breaks[0].before, &habit.breaks[0].changes[..]);
    assert_eq!(found, (3, &[change][..]), "before the fourth night");
    assert_eq!(habit.dots.len(), 7, "all nights are shown");
    assert_eq!(habit.counted().len(), 4, "four count");
    assert_eq!((habit.rate.n_hits, habit.rate.n_chances), (14, 40), "since the break");
    assert_eq!(habit.verdict.words(), "no clear change yet", "four nights are no trend");
}

fn each(night: &mut Night, alter: fn(&mut Observation)) {
    night.record.observations.iter_mut().for_each(alter);
}

#[test]
fn a_new_hall_line_up_tap_or_rule_starts_the_count_anew() {
    breaks_at_the_fourth(Change::Hall, |night| night.record.place = Some("barn".to_owned()));
    breaks_at_the_fourth(Change::LineUp, |night| {
        night.record.inputs = ["LV", "Organ", "Choir"].map(str::to_owned).to_vec();
    });
    breaks_at_the_fourth(Change::Tap, |night| each(night, |one| one.tap = "processed".to_owned()));
    breaks_at_the_fourth(Change::Rule, |night| {
        each(night, |one| one.rule_version = "two".to_owned());
    });
}

#[test]
fn a_guest_more_and_a_place_left_unsaid_are_no_change() {
    let mut nights = falling(&SEVEN);
    nights[3].record.inputs.push("Guest".to_owned());
    nights[4].record.place = None;
    nights[5].record.place = Some(" HALL ".to_owned());
    assert_eq!(only(&nights).breaks, []);
}

#[test]
fn role_and_channel_select() {
    let mut low = seen("gain-too-low", "LV + BV 1", 1, 1);
    low.role = "lead-vocal".to_owned();
    let nights = [night(1, "wren", vec![seen("cue-late", "Host HH", 1, 2), low])];
    let rules = |selection: Selection| -> Vec<&str> {
        habits(&nights, &selection, &[]).iter().map(|habit| habit.rule.id).collect()
    };
    let channel = |name: &str| Selection { channel: Some(name.to_owned()), ..Selection::default() };
    assert_eq!(rules(channel("host hh")), ["cue-late"]);
    assert_eq!(rules(channel("BV 1")), ["gain-too-low"], "one of a pair");
    assert_eq!(rules(channel("BV")), Vec::<&str>::new());
    let role = |role| Selection { role: Some(role), ..Selection::default() };
    assert_eq!(rules(role(Role::LeadVocal)), ["gain-too-low"]);
    assert_eq!(rules(role(Role::Speech)), ["cue-late"]);
}

#[test]
fn findings_about_gear_are_the_leads() {
    let nights = [night(1, "wren", vec![seen("hum-buzz", "KB L", 1, 1)])];
    assert!(habits(&nights, &Selection::default(), &[]).is_empty(), "not the operator's");
    assert_eq!(all(&nights).len(), 1, "the team's");
}

#[test]
fn with_many_rules_one_chance_trend_is_no_change() {
    // Five values up and one down: exact p = 0.0167 for six values with S = 13 (table in Gilbert 1987), below 0.05 alone.
    let shares = [1, 2, 3, 4, 6, 5];
    let rules = ["cue-late", "gain-too-low", "gain-too-hot", "clip-input", "mic-far", "open-mics"];
    let nights: Vec<Night> = (0..6)
        .map(|at| {
            let flat = [5, 4, 5, 4, 5, 4];
            let ones = rules.iter().enumerate().map(|(idx, rule)| {
                seen(rule, "LV", if idx == 0 { shares[at] } else { flat[at] }, 10)
            });
            night(at + 1, "wren", ones.collect())
        })
        .collect();
    let cue = all(&nights).into_iter().find(|habit| habit.rule.id == "cue-late").unwrap();
    let alone = cue.trend.unwrap();
    assert_eq!(alone.s, 13);
    assert!((alone.p - 2.0 * 6.0 / 720.0).abs() < 1e-12, "{alone:?}");
    assert!((cue.p_together.unwrap() - 6.0 * alone.p).abs() < 1e-12, "six rules: {cue:?}");
    assert_eq!(cue.verdict.words(), "no clear change yet");
}

#[test]
fn what_comes_back_whoever_operates_is_left_out() {
    let hum = |n_hits| seen("dead-channel", "KB L", n_hits, 1);
    let nights: Vec<Night> = [("wren", 1), ("heron", 1), ("wren", 0), ("heron", 1)]
        .into_iter()
        .zip(1..)
        .map(|((operator, hit), day)| {
            night(day, operator, vec![hum(hit), seen("cue-late", "LV", 1, 2)])
        })
        .collect();
    let found = recurring(&nights);
    assert_eq!(found.len(), 2, "both rules: {found:?}");
    let dead = found.iter().find(|one| one.rule == "dead-channel").unwrap();
    assert_eq!((dead.n_nights_hit, dead.n_nights, dead.n_labels), (3, 4, 2));
    assert!(
        habits(&nights, &Selection { with_gear: true, ..Selection::default() }, &found).is_empty()
    );
    assert_eq!(recurring(&nights[..3]), [], "three nights are too few");
}

#[test]
fn what_one_label_alone_does_is_no_matter_of_gear() {
    let late =
        |operator: &str, day, n_hits| night(day, operator, vec![seen("cue-late", "LV", n_hits, 4)]);
    let one: Vec<Night> = (1..=6).map(|day| late("wren", day, 3)).collect();
    assert_eq!(recurring(&one), [], "one label");
    let two: Vec<Night> =
        one.into_iter().chain([late("heron", 7, 0), late("heron", 8, 0)]).collect();
    assert_eq!(recurring(&two), [], "the other label does not have it");
    let mut rarely: Vec<Night> = (1..=6).map(|day| late("wren", day, 3)).collect();
    rarely.extend([late("heron", 7, 1), late("heron", 8, 2)]);
    assert_eq!(recurring(&rarely), [], "three of eight under the other label");
    rarely.push(late("heron", 9, 3));
    assert_eq!(recurring(&rarely).len(), 1, "six of twelve");
}

#[test]
fn the_topic_is_what_several_labels_share_most() {
    let nights = [
        night(1, "wren", vec![seen("cue-late", "LV", 4, 10), seen("mic-far", "LV", 9, 10)]),
        night(2, "heron", vec![seen("cue-late", "LV", 5, 10), seen("gain-too-low", "LV", 1, 10)]),
        night(3, "wren", vec![seen("gain-too-low", "LV", 2, 10)]),
    ];
    let topic = |is_first: fn(&str) -> bool| topic(&nights, &[], is_first);
    assert_eq!(topic(|_| true).as_deref(), Some("cue-late"), "mic-far is one label's");
    assert_eq!(topic(|rule| rule != "cue-late").as_deref(), Some("gain-too-low"));
    assert_eq!(topic(|rule| rule == "mic-far"), None);
}
