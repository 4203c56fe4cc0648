//! Tests of the register: every rule exists once, in order, with its own file and examples.

use std::collections::BTreeSet;
use std::path::Path;

use deskside::coach::{Combine, Group, Page, RESERVED, RULES, Tier};

/// How many rules each group has.
const PER_GROUP: [(Group, usize); 12] = [
    (Group::Source, 6),
    (Group::Microphone, 10),
    (Group::Gain, 10),
    (Group::Polarity, 6),
    (Group::Tone, 11),
    (Group::Dynamics, 6),
    (Group::Balance, 12),
    (Group::Effects, 2),
    (Group::Feedback, 7),
    (Group::Loudness, 6),
    (Group::Recording, 8),
    (Group::Habits, 5),
];

fn ids() -> Vec<&'static str> {
    RULES.iter().map(|rule| rule.id).chain(RESERVED.iter().map(|rule| rule.id)).collect()
}

#[test]
fn every_rule_exists_once() {
    let ids = ids();
    let unique: BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(unique.len(), ids.len(), "no name twice");
    for (group, expected) in PER_GROUP {
        let found = RULES.iter().filter(|rule| rule.group == group).count()
            + RESERVED.iter().filter(|rule| rule.group == group).count();
        assert_eq!(found, expected, "rules about {}", group.word());
    }
}

#[test]
fn rules_stand_in_the_order_of_fixing() {
    assert!(RULES.is_sorted_by_key(|rule| rule.group), "judged rules");
    assert!(RESERVED.is_sorted_by_key(|rule| rule.group), "reserved rules");
}

#[test]
fn names_are_kebab_case() {
    for id in ids() {
        let is_kebab = id.chars().all(|letter| letter.is_ascii_lowercase() || letter == '-');
        assert!(is_kebab && !id.starts_with('-') && !id.ends_with('-'), "{id}");
    }
}

#[test]
fn causes_name_known_effects_and_run_in_no_ring() {
    let ids = ids();
    let explains =
        |id: &str| RULES.iter().find(|rule| rule.id == id).map_or(&[][..], |rule| rule.explains);
    for rule in RULES {
        for effect in rule.explains {
            assert!(ids.contains(effect), "{} explains {effect}, which is no rule", rule.id);
        }
        let mut reached: BTreeSet<&str> = BTreeSet::new();
        let mut open: Vec<&str> = rule.explains.to_vec();
        while let Some(effect) = open.pop() {
            if reached.insert(effect) {
                open.extend(explains(effect));
            }
        }
        assert!(!reached.contains(rule.id), "{} explains itself", rule.id);
    }
}

#[test]
fn every_rule_has_its_file_with_three_kinds_of_examples() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/coach/rules");
    for rule in RULES {
        let path = folder.join(format!("{}.rs", rule.id.replace('-', "_")));
        let text = std::fs::read_to_string(&path).expect("the rule has its file");
        for kind in ["fn fires_", "fn stays_quiet_", "fn is_not_fooled_by_"] {
            assert!(text.contains(kind), "{} has no `{kind}`", rule.id);
        }
    }
    let n_files = std::fs::read_dir(&folder).expect("the folder is there").count();
    assert_eq!(n_files, RULES.len() + 1, "one file a rule, and the register");
}

#[test]
fn every_rule_has_limbs_with_targets_in_order() {
    for rule in RULES {
        assert!((1..=3).contains(&rule.limbs.len()), "{}: one to three numbers", rule.id);
        assert!(
            rule.combine == Combine::Worst || rule.limbs.len() > 1,
            "{}: 'all' of one number",
            rule.id
        );
        assert!(rule.effect <= 4 && (1..=3).contains(&rule.ease), "{}: effect and ease", rule.id);
        assert!(!rule.backing.is_empty(), "{}: something stands behind the advice", rule.id);
        assert!(
            rule.tier != Tier::C || rule.page == Page::Mentor,
            "{}: an experimental rule is the mentor's",
            rule.id
        );
        for window in rule.limbs.iter().flat_map(|limb| limb.windows) {
            let ends = [window.amber.low, window.green.low, window.green.high, window.amber.high];
            let ends: Vec<f64> = ends.into_iter().flatten().collect();
            assert!(ends.is_sorted() && !ends.is_empty(), "{}: {ends:?}", rule.id);
            assert!(!window.source.text().is_empty(), "{}: a border has a source", rule.id);
        }
    }
}
