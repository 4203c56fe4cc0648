//! Why something was not judged: every silence gets its reason, like reasons together.
//!
//! Never repeats the channels of a rule that was judged.

use super::advice::NotJudged;
use super::judge::{Judgement, Outcome};
use super::reserved::RESERVED;
use super::rule::{Need, Rule};
use crate::reading::Reading;
use crate::session::Tap;

/// Silences as they are found, like reasons together.
#[derive(Default)]
pub(super) struct Silences {
    list: Vec<NotJudged>,
}

impl Silences {
    /// A rule that looked at nothing.
    pub(super) fn whole(&mut self, rule: &'static Rule, reason: &str) {
        self.add(rule.id, &[], reason);
    }

    /// A judgement, if it is a silence.
    pub(super) fn note(&mut self, judgement: &Judgement) {
        if let Outcome::NotJudged(reason) = &judgement.outcome {
            self.add(judgement.rule.id, &judgement.channels, reason);
        }
    }

    /// What was not judged: what silences most rules first, then in register order of the first rule.
    pub(super) fn list(mut self) -> Vec<NotJudged> {
        self.list.sort_by_key(|silence| std::cmp::Reverse(silence.rules.len()));
        self.list
    }

    fn add(&mut self, rule: &'static str, channels: &[String], reason: &str) {
        let known = self.list.iter().position(|silence| {
            silence.reason == reason && silence.channels.is_empty() == channels.is_empty()
        });
        let idx = known.unwrap_or_else(|| {
            self.list.push(NotJudged {
                rules: Vec::new(),
                channels: Vec::new(),
                reason: reason.to_owned(),
            });
            self.list.len() - 1
        });
        let silence = &mut self.list[idx];
        if !silence.rules.contains(&rule) {
            silence.rules.push(rule);
        }
        for id in channels {
            if !silence.channels.contains(id) {
                silence.channels.push(id.clone());
            }
        }
    }
}

/// Why a rule found nothing to look at.
pub(super) fn absence(rule: &'static Rule, reading: &Reading) -> &'static str {
    let has_tap = |tap| reading.channels.iter().any(|channel| channel.tap == tap);
    let missing = rule.needs.iter().find_map(|need| match need {
        Need::Main if reading.main.is_none() => Some("the main mix was not recorded"),
        Need::Raw if !has_tap(Tap::Raw) => {
            Some("no channel was recorded right after its preamplifier")
        }
        Need::Processed if !has_tap(Tap::Processed) => {
            Some("no channel was recorded after its processing")
        }
        Need::Quiet if reading.quiet.is_empty() => {
            Some("there is no stretch in which every channel is quiet")
        }
        _ => None,
    });
    missing.unwrap_or(rule.absent)
}

/// The rules that are not judged yet, like needs together.
pub(super) fn reserved() -> Vec<NotJudged> {
    let mut list: Vec<NotJudged> = Vec::new();
    for rule in RESERVED {
        match list.iter_mut().find(|silence| silence.reason == rule.needs) {
            Some(silence) => silence.rules.push(rule.id),
            None => list.push(NotJudged {
                rules: vec![rule.id],
                channels: Vec::new(),
                reason: rule.needs.to_owned(),
            }),
        }
    }
    list
}
