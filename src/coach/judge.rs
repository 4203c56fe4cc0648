//! One observation against its targets: on target, near, outside, or not judged and why.
//!
//! A bound or a range counts only when all of it lies beyond a border. Never decides who sees the outcome.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::aims::Aims;
use super::chance::{self, Chances};
use super::marks::Verdict;
use super::rule::{Combine, Ends, Limb, Observation, RawWording, Rule, Tier, Window};
use crate::unit::{Fact, Span, Unit, Unmeasured};

/// What a number says against its target.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Within the target.
    OnTarget,
    /// Beyond the first border.
    Near,
    /// Beyond the second border.
    Outside,
    /// Not judged: the reason, as a clause.
    NotJudged(String),
}

/// How far a finding is off target; pages say 'near' and 'outside'.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Near the target.
    Amber,
    /// Outside it.
    Red,
}

/// One measured number of a judgement.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Measured {
    /// What it is called.
    pub name: &'static str,
    /// Ids of the channels it was measured on; empty for the whole session.
    pub channels: Vec<String>,
    /// The number, a bound or a range, with its confidence.
    #[serde(flatten)]
    pub fact: Fact,
    /// Its unit.
    pub unit: Unit,
    /// Suggested change of the gain on these channels, in dB; negative for down.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub change_db: Option<f64>,
}

/// The target of a judgement: ends are inside, a missing end is open.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Target {
    /// Low end.
    pub low: Option<f64>,
    /// High end.
    pub high: Option<f64>,
    /// Unit of both.
    pub unit: Unit,
    /// Where it comes from.
    pub source: &'static str,
}

/// One observation with its outcome.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Judgement {
    /// The rule; JSON holds its id.
    pub rule: &'static Rule,
    /// Ids of the channels; empty for the whole session.
    pub channels: Vec<String>,
    /// The outcome.
    pub outcome: Outcome,
    /// Confidence, 0 to 1.
    pub confidence: f64,
    /// The numbers, the deciding one first.
    pub measured: Vec<Measured>,
    /// Target of the deciding number.
    pub target: Option<Target>,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
    /// Whether this is a check and not a finding.
    pub is_check: bool,
    /// Whether its number is known and off target, but not judged, for it may have other reasons.
    pub is_doubted: bool,
    /// Whether the team marked it as done on purpose.
    pub is_on_purpose: bool,
    /// What the team said of it before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mark: Option<Verdict>,
    /// How far it is to be trusted, marks included.
    #[serde(skip)]
    #[schemars(skip)]
    pub(super) tier: Tier,
    /// What a habit counts.
    #[serde(flatten)]
    pub chances: Chances,
    /// Version of the rule: counts compare within one.
    pub rule_version: String,
    /// How far inside its target it lies, in widths of the near range; negative beyond it.
    #[serde(skip)]
    #[schemars(skip)]
    pub(super) margin: f64,
    #[serde(skip)]
    #[schemars(skip)]
    pub(super) observation: Observation,
}

impl Judgement {
    /// The same, marked as done on purpose or not, with what a habit counts.
    pub(super) fn counted(mut self, is_on_purpose: bool, rule_version: &str) -> Self {
        self.is_on_purpose = is_on_purpose;
        self.chances = chance::of(&self);
        rule_version.clone_into(&mut self.rule_version);
        self
    }

    /// How far it is off target, if it is.
    pub const fn severity(&self) -> Option<Severity> {
        match self.outcome {
            Outcome::Near => Some(Severity::Amber),
            Outcome::Outside => Some(Severity::Red),
            Outcome::OnTarget | Outcome::NotJudged(_) => None,
        }
    }

    /// Whether it could not be judged.
    pub const fn is_open(&self) -> bool {
        matches!(self.outcome, Outcome::NotJudged(_))
    }

    /// Whether the team does not want to see it.
    pub fn is_hidden(&self) -> bool {
        self.is_on_purpose || self.mark.is_some_and(Verdict::hides)
    }
}

/// Judges what a rule observed.
pub(super) fn judge(rule: &'static Rule, observation: Observation, aims: &Aims) -> Judgement {
    let limbs = judge_limbs(rule, &observation, aims);
    let (outcome, deciding) = unmet_guard(rule, &observation)
        .map_or_else(|| combine(rule, &limbs), |reason| (Outcome::NotJudged(reason), 0));
    let doubt = observation.doubt.filter(|_| matches!(outcome, Outcome::Near | Outcome::Outside));
    let outcome = doubt.map_or(outcome, |doubt| Outcome::NotJudged(doubt.to_owned()));
    let is_check = observation.is_raw
        && matches!(rule.raw_wording, RawWording::Check(_) | RawWording::MentorCheck(_));
    let outcome = match outcome {
        Outcome::Outside if is_check => Outcome::Near,
        outcome => outcome,
    };
    let confidence = limbs
        .get(deciding)
        .map_or(0.0, |limb| limb.fact.confidence().min(observation.confidence_cap));
    let outcome =
        if confidence < rule.guards.min_confidence && !matches!(outcome, Outcome::NotJudged(_)) {
            Outcome::NotJudged("what was measured is too uncertain".to_owned())
        } else {
            outcome
        };
    let margin = match outcome {
        Outcome::OnTarget => limbs.iter().map(margin).fold(f64::INFINITY, f64::min),
        _ => limbs.get(deciding).map_or(0.0, margin),
    };
    Judgement {
        rule,
        channels: observation.channels.clone(),
        outcome,
        confidence,
        target: limbs.get(deciding).map(|limb| target(limb.limb, &limb.window)),
        measured: measured(&limbs, deciding, &observation),
        evidence: observation.evidence.clone(),
        is_check,
        is_doubted: doubt.is_some(),
        is_on_purpose: false,
        mark: None,
        tier: aims.said().tier(rule.id, rule.tier),
        chances: Chances::default(),
        rule_version: String::new(),
        margin,
        observation,
    }
}

/// One limb that applies, with its fact and outcome.
struct JudgedLimb {
    limb: &'static Limb,
    fact: Fact,
    window: Window,
    outcome: Outcome,
}

fn judge_limbs(rule: &Rule, observation: &Observation, aims: &Aims) -> Vec<JudgedLimb> {
    rule.limbs
        .iter()
        .zip(&observation.facts)
        .filter_map(|(limb, fact)| {
            let fact = fact.clone()?;
            let window = limb.windows.iter().find(|window| {
                (window.roles.is_empty() || window.roles.contains(&observation.role))
                    && (window.variant.is_empty() || window.variant == observation.variant)
            })?;
            let window = aims.window(rule.id, limb.name, observation, *window);
            let outcome = compare(&fact, &window);
            Some(JudgedLimb { limb, fact, window, outcome })
        })
        .collect()
}

/// A fact against a target.
fn compare(fact: &Fact, window: &Window) -> Outcome {
    let Some([low, high]) = fact.ends() else {
        let reason = fact.reason().map_or_else(String::new, Unmeasured::in_general);
        return Outcome::NotJudged(reason);
    };
    // A green end without its amber end means: near at most on this side.
    let is_beyond = |ends: Ends| {
        ends.low.is_some_and(|end| high < end) || ends.high.is_some_and(|end| low > end)
    };
    let is_inside = window.green.low.is_none_or(|end| low >= end)
        && window.green.high.is_none_or(|end| high <= end);
    if is_beyond(window.amber) {
        Outcome::Outside
    } else if is_beyond(window.green) {
        Outcome::Near
    } else if is_inside {
        Outcome::OnTarget
    } else {
        Outcome::NotJudged(
            "only a bound of the number is known, and it lies on both sides".to_owned(),
        )
    }
}

/// The outcome of all limbs, and the place of the one that decides.
fn combine(rule: &Rule, limbs: &[JudgedLimb]) -> (Outcome, usize) {
    // From mild to grave; an open limb is no proof of being on target, but hides no finding.
    let grade = |outcome: &Outcome| match outcome {
        Outcome::OnTarget => 0,
        Outcome::NotJudged(_) => 1,
        Outcome::Near => 2,
        Outcome::Outside => 3,
    };
    let mut best: Option<usize> = None;
    for (idx, limb) in limbs.iter().enumerate() {
        let is_taken = best.is_none_or(|best| {
            let (new, old) = (grade(&limb.outcome), grade(&limbs[best].outcome));
            match rule.combine {
                Combine::Worst => new > old,
                Combine::All => new < old,
            }
        });
        if is_taken {
            best = Some(idx);
        }
    }
    best.map_or_else(
        || (Outcome::NotJudged("there is no target for what the channel carries".to_owned()), 0),
        |best| (limbs[best].outcome.clone(), best),
    )
}

/// The first guard that doesn't hold, in words.
fn unmet_guard(rule: &Rule, observation: &Observation) -> Option<String> {
    if let Some(reason) = observation.withheld {
        return Some(reason.to_owned());
    }
    let guards = &rule.guards;
    let has_events = guards.min_events > 0 && observation.n_events >= guards.min_events;
    if observation.active_s < guards.min_active_s && !has_events {
        let have_s = observation.active_s;
        let reason = Unmeasured::TooLittleActive { have_s, need_s: guards.min_active_s };
        return Some(reason.in_general());
    }
    let needed = guards.min_own_to_spill_db?;
    match observation.own_to_spill_db.as_ref()? {
        Fact::Missing { not_measurable } => {
            Some(format!("its spill is not known: {}", not_measurable.in_general()))
        }
        Fact::Value { value: level, .. } | Fact::AtLeast { at_least: level, .. }
            if *level >= needed =>
        {
            None
        }
        Fact::Range { low, .. } if *low >= needed => None,
        _ => Some("the microphone hears too much of its neighbours".to_owned()),
    }
}

fn target(limb: &Limb, window: &Window) -> Target {
    Target {
        low: window.green.low,
        high: window.green.high,
        unit: limb.unit,
        source: window.source.text(),
    }
}

fn measured(limbs: &[JudgedLimb], deciding: usize, observation: &Observation) -> Vec<Measured> {
    let mut order: Vec<usize> = (0..limbs.len()).collect();
    order.sort_by_key(|idx| *idx != deciding);
    order
        .into_iter()
        .map(|idx| Measured {
            name: limbs[idx].limb.name,
            channels: observation.channels.clone(),
            fact: limbs[idx].fact.clone(),
            unit: limbs[idx].limb.unit,
            change_db: observation.change_db,
        })
        .collect()
}

/// How far inside its target a limb lies, in widths of the near range; negative beyond it.
fn margin(limb: &JudgedLimb) -> f64 {
    let (low, high) = match limb.fact {
        Fact::Value { value, .. } => (value, value),
        Fact::AtMost { at_most, .. } => (at_most, at_most),
        Fact::AtLeast { at_least, .. } => (at_least, at_least),
        Fact::Range { low, high, .. } => (low, high),
        Fact::Missing { .. } => return 0.0,
    };
    // Nothing lies below none: a count of zero has all the room there is.
    let is_least = matches!(limb.limb.unit, Unit::Count | Unit::Milliseconds) && high <= 0.0;
    let side = |inside: f64, green: f64, amber: Option<f64>| {
        let width = amber.map_or(1.0, |amber| (green - amber).abs());
        if width > 0.0 { inside / width } else { inside }
    };
    if is_least && limb.window.green.high.is_some() {
        return 1.0;
    }
    let Window { green, amber, .. } = limb.window;
    let low = green.low.map(|end| side(low - end, end, amber.low));
    let high = green.high.map(|end| side(end - high, end, amber.high));
    low.into_iter().chain(high).fold(f64::INFINITY, f64::min)
}
