//! The invented weeks: what they hold, and what is said about them.

use deskside::history::{Habit, Night, Selection, Store, habits, recurring, weeks};

struct Team {
    store: Store,
    nights: Vec<Night>,
    _dir: tempfile::TempDir,
}

fn team() -> Team {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::open(&dir.path().join("history.sqlite")).unwrap();
    for record in weeks() {
        store.remember(&record).unwrap();
    }
    let nights = store.nights(None, usize::MAX).unwrap();
    Team { store, nights, _dir: dir }
}

fn habit(team: &Team, operator: &str, rule: &str) -> Habit {
    let nights = team.store.nights(Some(operator), 52).unwrap();
    let found = habits(&nights, &Selection::default(), &recurring(&team.nights));
    found.into_iter().find(|habit| habit.rule.id == rule).expect("the habit is there")
}

fn counts(habit: &Habit) -> Vec<String> {
    habit.dots.iter().map(|dot| format!("{}/{}", dot.rate.n_hits, dot.rate.n_chances)).collect()
}

#[test]
fn wren_gets_steadier_with_cues() {
    let cue = habit(&team(), "wren", "cue-late");
    assert_eq!(counts(&cue), ["5/9", "4/8", "5/10", "3/9", "2/8", "2/9", "1/10", "1/9"]);
    let trend = cue.trend.unwrap();
    // By hand: of 28 pairs one is equal (4/8 and 5/10), one rises (1/10 to 1/9), 26 fall.
    assert_eq!((trend.s, trend.n_pairs), (-25, 28));
    assert_eq!(cue.verdict.words(), "steadier");
    assert!(cue.measure.unwrap().slope.per_session < 0.0, "the latest entry comes earlier");
}

#[test]
fn heron_shows_no_clear_change_with_high_passes() {
    let passes = habit(&team(), "heron", "hpf-missing");
    assert_eq!(counts(&passes), ["3/8", "4/9", "3/8", "4/8", "3/9", "4/9"]);
    assert_eq!(passes.verdict.words(), "no clear change yet");
}

#[test]
fn with_kestrel_it_is_too_early_to_say() {
    let cue = habit(&team(), "kestrel", "cue-late");
    assert_eq!(cue.dots.len(), 3);
    assert_eq!(cue.verdict.words(), "too early to say");
}

#[test]
fn the_keyboard_hums_in_eight_of_ten_weeks_whoever_operates() {
    let team = team();
    let found = recurring(&team.nights);
    assert_eq!(found.len(), 1, "only the hum: {found:?}");
    let hum = &found[0];
    assert_eq!((hum.rule.as_str(), hum.channel.as_str()), ("hum-buzz", "KB L"));
    assert_eq!((hum.n_weeks_hit, hum.n_weeks, hum.n_labels), (8, 10, 3));
    for operator in ["wren", "heron", "kestrel"] {
        let nights = team.store.nights(Some(operator), 52).unwrap();
        let own = habits(&nights, &Selection::default(), &found);
        assert!(own.iter().all(|habit| habit.rule.id != "hum-buzz"), "not {operator}'s");
    }
}
