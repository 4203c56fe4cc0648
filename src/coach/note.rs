//! From judgements of one rule to one note: worst channel first, texts filled in.
//!
//! Never decides whether the note is shown.

use super::advice::{Folded, Held, Note};
use super::judge::{Judgement, Severity};
use super::past::{Past, Recurred};
use super::rule::{Page, Rule};
use super::wording;
use crate::reading::Reading;
use crate::session::Role;

/// Places in time kept with a note: enough to find it, few enough to read.
const MAX_EVIDENCE: usize = 10;

/// One note over the findings of one rule, in any order. `None` if none is off target.
pub(super) fn note(
    findings: &[&Judgement],
    folds: Vec<Folded>,
    page: Page,
    held: Option<Held>,
    reading: &Reading,
    past: &Past,
) -> Option<Note> {
    let findings = worst_first(findings);
    let worst = *findings.first()?;
    let rule = worst.rule;
    let confidence = wording::confidence(&findings);
    let severity = worst.severity()?;
    let mut channels: Vec<String> = Vec::new();
    for id in findings.iter().flat_map(|finding| &finding.channels) {
        if !channels.contains(id) {
            channels.push(id.clone());
        }
    }
    let evidence = findings.iter().flat_map(|finding| finding.evidence.iter().copied());
    let recurred = past.recurred(&findings, page, reading);
    let exposure = exposure(&findings, reading);
    Some(Note {
        rule,
        title: rule.title,
        group: rule.group,
        tier: worst.tier,
        page,
        severity,
        confidence,
        channels,
        sentence: wording::sentence(rule, &findings, reading),
        sure: wording::sure(confidence),
        measured: findings.iter().filter_map(|finding| finding.measured.first().cloned()).collect(),
        target: worst.target?,
        evidence: evidence.take(MAX_EVIDENCE).collect(),
        excerpts: Vec::new(),
        why: rule.why,
        advice: wording::advice(rule, &findings),
        recurred,
        folds,
        is_check: worst.is_check,
        held,
        is_whole: worst.observation.subject.is_some() && worst.observation.role == Role::Unknown,
        weight: weight(rule, severity, confidence, exposure)
            * recurred.map_or(1.0, Recurred::weight),
    })
}

/// Findings of one rule as they stand inside the note of their cause.
pub(super) fn folded(
    findings: &[&Judgement],
    into: &'static Rule,
    reading: &Reading,
) -> Option<Folded> {
    let findings = worst_first(findings);
    let rule = findings.first()?.rule;
    Some(Folded {
        rule: rule.id,
        title: rule.title,
        channels: findings.iter().flat_map(|finding| finding.channels.clone()).collect(),
        into: into.id,
        sentence: wording::sentence(rule, &findings, reading),
    })
}

/// Outside before near, then the furthest off, then desk order.
fn worst_first<'a>(findings: &[&'a Judgement]) -> Vec<&'a Judgement> {
    let mut findings = findings.to_vec();
    findings.sort_by(|left, right| {
        right
            .severity()
            .cmp(&left.severity())
            .then(left.margin.total_cmp(&right.margin))
            .then(left.channels.cmp(&right.channels))
    });
    findings
}

/// What a note is worth to the trainee: effect x severity x exposure x confidence / root of ease (common practice).
///
/// Recurrence over stored sessions is a further factor.
fn weight(rule: &Rule, severity: Severity, confidence: f64, exposure: f64) -> f64 {
    let severity = match severity {
        Severity::Amber => 1.0,
        Severity::Red => 2.0,
    };
    f64::from(rule.effect) * severity * exposure * confidence / f64::from(rule.ease).sqrt()
}

/// 0.5 + 0.5 x affected seconds / seconds of the programme, 0.5 to 1; of the times that it could have happened where these are counted.
fn exposure(findings: &[&Judgement], reading: &Reading) -> f64 {
    let counted = findings.iter().filter_map(|finding| finding.observation.chances);
    let (n_hits, n_chances) =
        counted.fold((0, 0), |sum, one| (sum.0 + one.n_hits, sum.1 + one.n_chances));
    let affected_s: f64 = findings.iter().map(|finding| finding.observation.affected_s).sum();
    #[expect(clippy::cast_precision_loss, reason = "a session has few entries")]
    let (affected, eligible) = match n_chances {
        0 => (affected_s, reading.programme_s()),
        _ => (n_hits as f64, n_chances as f64),
    };
    let share = if eligible > 0.0 { affected / eligible } else { 1.0 };
    0.5 + 0.5 * share.clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::RULES;
    use crate::coach::aims::Aims;
    use crate::coach::example::{channel, session};
    use crate::coach::judge::{Outcome, judge};
    use crate::coach::rule::Observation;
    use crate::reading::Channel;
    use crate::unit::{Fact, Span};

    /// More words than this are not read at the desk.
    const MAX_WORDS: usize = 60;

    /// A note of a rule as long as it gets: unsure, late in the evening, with a change, over so many channels.
    fn longest(rule: &'static Rule, n_channels: usize, is_raw: bool) -> Note {
        let channels = (1..=n_channels).map(|number| Channel {
            name: format!("BV {number}"),
            ..channel(number, Role::BackingVocal)
        });
        let reading = session(channels.collect());
        let subject = (rule.observe)(&reading).iter().find_map(|observation| observation.subject);
        let findings: Vec<Judgement> = reading
            .channels
            .iter()
            .map(|channel| {
                let far = Fact::sure(-123.4, 0.75);
                let observation = Observation {
                    subject,
                    evidence: vec![Span::new(3_723.0, 3_733.0)],
                    change_db: Some(12.0),
                    is_raw,
                    own_to_spill_db: None,
                    variant: rule.limbs[0].windows[0].variant,
                    ..Observation::of(channel, vec![Some(far); rule.limbs.len()])
                };
                let judgement = judge(rule, observation, &Aims::default());
                Judgement {
                    outcome: Outcome::Outside,
                    target: judgement.target.or(first_target(rule)),
                    ..judgement
                }
            })
            .collect();
        let findings: Vec<&Judgement> = findings.iter().collect();
        note(&findings, Vec::new(), Page::Trainee, None, &reading, &Past::default())
            .expect("it is a finding")
    }

    fn first_target(rule: &Rule) -> Option<crate::coach::Target> {
        let limb = rule.limbs.first()?;
        let window = limb.windows.first()?;
        Some(crate::coach::Target {
            low: window.green.low,
            high: window.green.high,
            unit: limb.unit,
            source: "",
        })
    }

    #[test]
    fn no_note_has_more_than_60_words() {
        let mut long = Vec::new();
        for rule in RULES {
            for (n_channels, is_raw) in [(1, true), (1, false), (3, true), (3, false), (6, true)] {
                let note = longest(rule, n_channels, is_raw);
                let text = format!(
                    "{} {} {} Sure: {}.",
                    note.sentence, note.why, note.advice[0], note.sure
                );
                let n_words = text.split_whitespace().count();
                if n_words > MAX_WORDS {
                    long.push(format!("{n_words} words: {text}"));
                }
                assert!(!text.contains('{'), "everything is filled in: {text}");
            }
        }
        assert!(long.is_empty(), "{}", long.join("\n"));
    }
}
