//! What worked well: one rule that was met everywhere with room to spare.
//!
//! What the same operator had off target before comes first; then operating habits, for they are what an operator does; then the rule
//! with the greatest effect.

use super::advice::Strength;
use super::judge::{Judgement, Outcome};
use super::past::Past;
use super::rule::{Group, Rule};
use super::rules::RULES;
use super::wording;
use crate::reading::Reading;

/// Room inside the target, in widths of the near range.
const ROOM: f64 = 0.5;
/// A rule below this effect says little when it is met (habits aside).
const MIN_EFFECT: u8 = 3;

/// The strength to name, if there is one.
pub(super) fn strongest(
    judgements: &[Judgement],
    reading: &Reading,
    past: &Past,
) -> Option<Strength> {
    let mut praised: Vec<(&'static Rule, Strength)> = RULES
        .iter()
        .filter_map(|rule| Some((*rule, strength(rule, judgements, reading, past)?)))
        .collect();
    // The sort keeps register order among equals.
    praised.sort_by_key(|(rule, _)| {
        let is_new = past.of_rule(rule.id).0 > 0;
        (!is_new, rule.group != Group::Habits, std::cmp::Reverse(rule.effect))
    });
    praised.into_iter().next().map(|(_, strength)| strength)
}

fn strength(
    rule: &'static Rule,
    judgements: &[Judgement],
    reading: &Reading,
    past: &Past,
) -> Option<Strength> {
    let praise = rule.praise?;
    let (n_before, n_sessions) = past.of_rule(rule.id);
    if rule.effect < MIN_EFFECT && rule.group != Group::Habits && n_before == 0 {
        return None;
    }
    let all: Vec<&Judgement> =
        judgements.iter().filter(|judgement| judgement.rule.id == rule.id).collect();
    let met: Vec<&Judgement> =
        all.iter().copied().filter(|judgement| judgement.outcome == Outcome::OnTarget).collect();
    let is_off = all.iter().any(|judgement| judgement.severity().is_some());
    let is_clear = met
        .iter()
        .all(|judgement| judgement.margin >= ROOM && judgement.confidence >= rule.tier.floor());
    // With half or more unjudged, 'everywhere' would say too much.
    if is_off || !is_clear || met.is_empty() || met.len() * 2 < all.len() {
        return None;
    }
    let n = match met.as_slice() {
        [only] if only.observation.n_events > 0 => only.observation.n_events,
        many => many.len(),
    };
    let evidence: Vec<_> =
        met.iter().flat_map(|judgement| judgement.evidence.clone()).take(1).collect();
    let when = evidence.first().map_or_else(
        || format!("00:00 to {}", wording::clock(reading.session.duration_s)),
        |span| wording::time(*span),
    );
    let value = met[0].measured.first().map_or_else(String::new, wording::amount);
    let sentence = praise.replace("{n}", &n.to_string()).replace("{value}", &value);
    let before = match (n_before, n_sessions) {
        (0, _) => String::new(),
        (_, 1) => " It was off target in the session before.".to_owned(),
        _ => format!(" It was off target in {n_before} of the {n_sessions} sessions before."),
    };
    Some(Strength { rule: rule.id, sentence: format!("{when}. {sentence}{before}"), evidence })
}
