//! How often a rule could have fired and did: what habits are counted from, and the version of a rule within which counts compare.
//!
//! Takes a judgement or a rule with the team's targets. Counts nothing where nothing was claimed: what was not judged, is a mere
//! check, is done on purpose or is not sure enough for a note is no chance.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::Serialize;

use super::aims::Aims;
use super::judge::{Judgement, Outcome};
use super::rule::{Rule, Window};

/// How often something happened of the times it could have: entries, songs, minutes, or one for a channel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Chances {
    /// How often it happened.
    pub n_hits: usize,
    /// How often it could have; 0 where nothing was claimed.
    pub n_chances: usize,
}

/// The chances behind a judgement.
pub(super) fn of(judgement: &Judgement) -> Chances {
    let is_claimed = !matches!(judgement.outcome, Outcome::NotJudged(_))
        && !judgement.is_check
        && !judgement.is_on_purpose
        && judgement.confidence >= judgement.rule.tier.floor();
    if !is_claimed {
        return Chances::default();
    }
    let whole = Chances { n_hits: usize::from(judgement.severity().is_some()), n_chances: 1 };
    judgement.observation.chances.unwrap_or(whole)
}

/// The version of a rule: it changes when what is measured, a target in force or a guard changes. Eight hexadecimal digits.
pub(super) fn version(rule: &Rule, aims: &Aims) -> String {
    let mut text = format!("{} {:?} {:?}", rule.measures, rule.combine, rule.guards);
    for limb in rule.limbs {
        let _ = write!(text, "; {} {:?}", limb.name, limb.unit);
        let given = limb.windows.iter().map(|window| (None, *window));
        for (role, window) in given.chain(aims.replaced(rule, limb)) {
            let Window { roles, variant, green, amber, source: _ } = window;
            let _ = write!(text, ", {role:?} {roles:?} {variant} {green:?} {amber:?}");
        }
    }
    format!("{:08x}", hash(text.as_bytes()))
}

/// FNV-1a of 32 bits (Fowler, Noll and Vo): equal text, equal number, on every machine.
fn hash(bytes: &[u8]) -> u32 {
    const START: u32 = 0x811c_9dc5;
    const PRIME: u32 = 0x0100_0193;
    bytes.iter().fold(START, |hash, byte| (hash ^ u32::from(*byte)).wrapping_mul(PRIME))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::example::{channel, judged, session};
    use crate::coach::rule;
    use crate::session::{Role, Tap};

    #[test]
    fn the_hash_is_the_published_one() {
        // Test vectors of the FNV authors (from memory): "", "a", "foobar".
        assert_eq!(hash(b""), 0x811c_9dc5);
        assert_eq!(hash(b"a"), 0xe40c_292c);
        assert_eq!(hash(b"foobar"), 0xbf9c_f968);
    }

    #[test]
    fn a_version_changes_with_the_teams_target_and_only_for_its_rule() {
        let own = "[[target]]\nrule = 'mic-far'\ngreen_low = 11\n";
        let (usual, team) = (Aims::default(), Aims::parse(own).expect("it is a targets file"));
        let far = rule("mic-far").expect("it is a rule");
        let low = rule("gain-too-low").expect("it is a rule");
        assert_ne!(version(far, &usual), version(far, &team), "another target");
        assert_eq!(version(low, &usual), version(low, &team), "the same targets");
        assert_ne!(version(far, &usual), version(low, &usual), "another rule");
    }

    #[test]
    fn a_check_before_the_desk_and_an_unsure_finding_are_no_chance() {
        let far = rule("hpf-missing").expect("it is a rule");
        let raw = judged(far, &session(vec![channel(21, Role::Speech)]));
        assert!(raw.iter().all(|one| one.is_check && of(one) == Chances::default()), "{raw:?}");
        let mut after = channel(21, Role::Speech);
        after.tap = Tap::Processed;
        let mut sure = judged(far, &session(vec![after])).remove(0);
        sure.outcome = Outcome::Near;
        sure.confidence = 0.9;
        assert_eq!(of(&sure), Chances { n_hits: 1, n_chances: 1 });
        sure.outcome = Outcome::OnTarget;
        assert_eq!(of(&sure), Chances { n_hits: 0, n_chances: 1 });
        sure.is_on_purpose = true;
        assert_eq!(of(&sure), Chances::default());
        sure.is_on_purpose = false;
        sure.confidence = 0.69;
        assert_eq!(of(&sure), Chances::default());
    }
}
