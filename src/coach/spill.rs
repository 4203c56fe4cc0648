//! What rules pick from pairs of spill: who hears whom, and sums and medians of levels of which only bounds may be known.
//!
//! Looks at pairs of the kind spill alone. Never takes an unsure level for a level: it is open then, and may be anything.

use std::borrow::Cow;

use super::pick;
use super::rule::{Guards, Observation};
use crate::reading::{Channel, Kinship, Pair, Reading};
use crate::session::Tap;
use crate::unit::{Fact, Span, Unmeasured};

/// Confidence of a level that passed every check of its measurement; below it a level bears no finding.
const STRICT: f64 = 0.7;

/// Guards of rules that rest on spill.
pub(super) const GUARDS: Guards = Guards { min_confidence: STRICT, ..Guards::USUAL };

/// A pair of spill with its two channels.
#[derive(Clone, Copy)]
pub(super) struct Spill<'a> {
    /// What was measured.
    pub(super) pair: &'a Pair,
    /// The channel whose source it is.
    pub(super) source: &'a Channel,
    /// The channel that hears it beside its own.
    pub(super) mic: &'a Channel,
}

/// Every pair of spill, in the order of the reading.
pub(super) fn all(reading: &Reading) -> impl Iterator<Item = Spill<'_>> {
    reading.pairs.iter().filter(|pair| pair.kinship == Kinship::Spill).filter_map(|pair| {
        let (source, mic) = pick::both(reading, pair)?;
        Some(Spill { pair, source, mic })
    })
}

/// Pairs of spill whose two recordings are taken right after the preamplifier, so that their levels are those of the microphones.
pub(super) fn raw(reading: &Reading) -> impl Iterator<Item = Spill<'_>> {
    all(reading).filter(|spill| spill.source.tap == Tap::Raw && spill.mic.tap == Tap::Raw)
}

impl Spill<'_> {
    /// An observation of both channels, whose roles make it a matter of this rule.
    pub(super) fn observed(&self, facts: Vec<Option<Fact>>) -> Observation {
        let Self { pair, source, mic } = self;
        let observation = Observation {
            confidence_cap: source.role_confidence.min(mic.role_confidence),
            ..pick::pair(source, mic, pair, facts)
        };
        let is_doubtful = source.role_by_sound.is_some() || mic.role_by_sound.is_some();
        if is_doubtful { observation.withheld(pick::DISAGREE) } else { observation }
    }
}

/// A value that is sure enough to bear a finding.
pub(super) fn sure(fact: &Fact) -> Option<f64> {
    fact.value().filter(|_| fact.confidence() >= STRICT)
}

/// Where it can be heard, from one pair after the other.
pub(super) fn evidence(spills: &[Spill<'_>]) -> Vec<Span> {
    spills.iter().filter_map(|spill| spill.pair.evidence.first().copied()).collect()
}

/// Names the neighbour that a microphone hears most, if one is known to stand above all others that were found.
pub(super) fn loudest_named(reading: &Reading, mic: &Channel) -> Option<Cow<'static, str>> {
    let heard: Vec<Spill<'_>> = raw(reading).filter(|spill| spill.mic.id == mic.id).collect();
    let known = heard.iter().filter_map(|spill| Some((sure(&spill.pair.bleed_db)?, spill.source)));
    let (loudest_db, loudest) = known.max_by(|one, other| one.0.total_cmp(&other.0))?;
    let is_below = |spill: &Spill<'_>| {
        let bleed_db = &spill.pair.bleed_db;
        let is_found = bleed_db.reason().is_none();
        spill.source.id == loudest.id || !is_found || ends(bleed_db).high_db < loudest_db
    };
    heard.iter().all(is_below).then(|| format!("Loudest neighbour: {}.", loudest.name).into())
}

/// Where a level is known to lie.
#[derive(Clone, Copy)]
struct Ends {
    /// Low end in dB, minus infinity where it is open.
    low_db: f64,
    /// High end in dB, infinity where it is open.
    high_db: f64,
    /// Confidence, 0 to 1; 1 where both ends are open, since nothing is claimed.
    confidence: f64,
}

const OPEN: Ends = Ends { low_db: f64::NEG_INFINITY, high_db: f64::INFINITY, confidence: 1.0 };

fn ends(fact: &Fact) -> Ends {
    let confidence = fact.confidence();
    match fact.ends() {
        Some([low_db, high_db]) if confidence >= STRICT => Ends { low_db, high_db, confidence },
        _ => OPEN,
    }
}

/// The fact between two ends, as sure as the least sure of what it rests on.
fn between(low_db: f64, high_db: f64, facts: &[&Fact]) -> Fact {
    /// Ends closer than this are one value.
    const SAME_DB: f64 = 1e-9;
    let confidence = facts.iter().fold(1.0, |least: f64, fact| least.min(ends(fact).confidence));
    match (low_db.is_finite(), high_db.is_finite()) {
        (true, true) if high_db - low_db < SAME_DB => Fact::sure(high_db, confidence),
        (true, true) => Fact::Range { low: low_db, high: high_db, confidence },
        (true, false) => Fact::AtLeast { at_least: low_db, confidence },
        (false, true) => Fact::AtMost { at_most: high_db, confidence },
        (false, false) => Fact::missing(
            facts
                .iter()
                .find_map(|fact| fact.reason().cloned())
                .unwrap_or(Unmeasured::Because("its spill is too uncertain")),
        ),
    }
}

/// Level of several sources together: the sum of their powers, in dB.
pub(super) fn sum(facts: &[&Fact]) -> Fact {
    let level_db = |end: fn(Ends) -> f64| {
        let powers = facts.iter().map(|fact| 10_f64.powf(end(ends(fact)) / 10.0));
        10.0 * powers.sum::<f64>().log10()
    };
    between(level_db(|ends| ends.low_db), level_db(|ends| ends.high_db), facts)
}

/// The level in the middle: as many lie above as below it.
pub(super) fn median(facts: &[&Fact]) -> Fact {
    let middle_db = |end: fn(Ends) -> f64| {
        let mut levels: Vec<f64> = facts.iter().map(|fact| end(ends(fact))).collect();
        levels.sort_by(f64::total_cmp);
        match levels.len() {
            0 => f64::NEG_INFINITY,
            n if n % 2 == 1 => levels[n / 2],
            n => f64::midpoint(levels[n / 2 - 1], levels[n / 2]),
        }
    };
    between(middle_db(|ends| ends.low_db), middle_db(|ends| ends.high_db), facts)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sums of powers worked by hand, to the digit they are given with.
    const TOLERANCE_DB: f64 = 0.005;

    fn value(level_db: f64) -> Fact {
        Fact::sure(level_db, 0.9)
    }

    fn at_most(level_db: f64) -> Fact {
        Fact::AtMost { at_most: level_db, confidence: 0.8 }
    }

    #[test]
    fn equal_powers_add_up_to_3_01_db_more() {
        let total = sum(&[&value(-10.0), &value(-10.0)]).value().expect("two values have a sum");
        assert!((total + 6.99).abs() < TOLERANCE_DB, "10 lg 2 is 3.01 dB, found {total}");
    }

    #[test]
    fn a_bound_in_a_sum_opens_its_low_end() {
        let Fact::Range { low, high, confidence } = sum(&[&value(-10.0), &at_most(-10.0)]) else {
            panic!("a value and a bound give a range")
        };
        assert!((low + 10.0).abs() < TOLERANCE_DB && (high + 6.99).abs() < TOLERANCE_DB);
        assert!((confidence - 0.8).abs() < TOLERANCE_DB, "the less sure counts");
        assert_eq!(sum(&[&at_most(-10.0)]), at_most(-10.0), "a bound alone stays one");
    }

    #[test]
    fn what_is_not_known_may_be_anything() {
        let missing = Fact::missing(Unmeasured::Silent);
        let unsure = Fact::sure(-3.0, 0.5);
        for open in [&missing, &unsure] {
            assert!(matches!(sum(&[&value(-10.0), open]), Fact::AtLeast { .. }), "{open:?}");
        }
        assert_eq!(sum(&[&missing]), missing, "the reason stays");
        assert!(matches!(sum(&[&unsure]), Fact::Missing { .. }), "unsure is no level");
        assert!(matches!(sum(&[]), Fact::Missing { .. }), "nothing has no level");
        assert!(matches!(median(&[]), Fact::Missing { .. }), "nothing has no middle");
    }

    #[test]
    fn the_middle_of_three_holds_although_one_is_a_bound() {
        let missing = Fact::missing(Unmeasured::Silent);
        assert_eq!(median(&[&value(-8.0), &value(-4.0), &at_most(-20.0)]), Fact::sure(-8.0, 0.8));
        assert_eq!(median(&[&value(-8.0), &value(-4.0)]), value(-6.0), "between the middle two");
        let open = median(&[&value(-8.0), &value(-4.0), &missing]);
        assert_eq!(open, Fact::Range { low: -8.0, high: -4.0, confidence: 0.9 }, "either of two");
    }
}
