//! What stored sessions say to a review: the right ones, newest first, without what was marked away.

use deskside::coach::Seen;
use deskside::history::{Marked, Store, past};

use super::{night, record, seen};

fn marked(channels: &[&str], mark: &str) -> Vec<Marked> {
    let channels = channels.iter().map(|name| (*name).to_owned()).collect();
    vec![Marked { rule: "cue-late".to_owned(), channels, mark: mark.to_owned() }]
}

#[test]
fn neither_the_night_itself_nor_later_ones_count() {
    let dir = tempfile::tempdir().unwrap();
    let mut store = Store::open(&dir.path().join("history.sqlite")).unwrap();
    for day in [3, 10, 17, 24] {
        let n_hits = u32::from(day == 10);
        let mut record = record(day, "wren", vec![seen("cue-late", "LV", n_hits, 4)]);
        record.focus = Some(format!("focus of {day}"));
        store.remember(&record).unwrap();
    }
    store.remember(&record(11, "heron", vec![seen("cue-late", "LV", 1, 4)])).unwrap();
    let this = deskside::history::identity("rehearsal", Some("2031-05-17"), 5400.0);
    let past = store.past(Some("wren"), Some("2031-05-17"), &this).unwrap();
    assert_eq!(past.n_sessions, 3, "three others of the label are stored");
    let focus: Vec<_> = past.own.iter().map(|night| night.focus.as_deref().unwrap()).collect();
    assert_eq!(focus, ["focus of 10", "focus of 3"], "newest first, none of tonight or later");
    let expected = Seen {
        rule: "cue-late".to_owned(),
        rule_version: "one".to_owned(),
        place: "LV".to_owned(),
        is_hit: true,
    };
    assert_eq!(past.own[0].seen, [expected]);
    assert_eq!(past.team.len(), 3, "the other label counts for the team");
    let past = store.past(None, Some("2031-05-17"), &this).unwrap();
    assert!(past.own.is_empty(), "without a label nobody's sessions are the operator's");
}

#[test]
fn what_was_marked_away_counts_neither_way_and_marks_add_up() {
    let say = |mark: &str| {
        let mut night = night(3, "wren", vec![seen("cue-late", "LV", 2, 4)]);
        night.record.marks = marked(&["LV", "Tpt"], mark);
        let nights = [night];
        let past = past(&nights, &nights);
        (past.own[0].seen.len(), past.team[0].seen.len(), past.marks["cue-late"])
    };
    assert_eq!(say("fits"), (1, 1, (1, 1)));
    assert_eq!(say("not-ours"), (0, 1, (1, 1)), "it is still there for the lead");
    assert_eq!(say("on-purpose"), (0, 0, (1, 1)));
    assert_eq!(say("does-not-fit"), (0, 0, (0, 1)));
}
