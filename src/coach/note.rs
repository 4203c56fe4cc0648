//! From judgements of one rule to one note: worst channel first, texts filled in.
//!
//! Never decides whether the note is shown.

use super::advice::{Folded, Held, Note};
use super::judge::{Judgement, Severity};
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
    Some(Note {
        rule,
        title: rule.title,
        group: rule.group,
        tier: rule.tier,
        page,
        severity,
        confidence,
        channels,
        sentence: wording::sentence(rule, &findings, reading),
        sure: wording::sure(confidence),
        measured: findings.iter().filter_map(|finding| finding.measured.first().cloned()).collect(),
        target: worst.target?,
        evidence: evidence.take(MAX_EVIDENCE).collect(),
        why: rule.why,
        advice: wording::advice(rule, &findings, reading),
        folds,
        is_check: worst.is_check,
        held,
        is_whole: worst.observation.subject.is_some() && worst.observation.role == Role::Unknown,
        weight: weight(rule, severity, confidence, exposure(&findings, reading)),
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
/// Recurrence over stored sessions is a further factor, 1 without them.
fn weight(rule: &Rule, severity: Severity, confidence: f64, exposure: f64) -> f64 {
    let severity = match severity {
        Severity::Amber => 1.0,
        Severity::Red => 2.0,
    };
    f64::from(rule.effect) * severity * exposure * confidence / f64::from(rule.ease).sqrt()
}

/// 0.5 + 0.5 x affected seconds / seconds of the programme, 0.5 to 1.
fn exposure(findings: &[&Judgement], reading: &Reading) -> f64 {
    let affected_s: f64 = findings.iter().map(|finding| finding.observation.affected_s).sum();
    let programme_s = reading.programme_s();
    let share = if programme_s > 0.0 { affected_s / programme_s } else { 1.0 };
    0.5 + 0.5 * share.clamp(0.0, 1.0)
}
