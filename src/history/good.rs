//! A team's own windows, from its good nights.
//!
//! Takes reviews of nights that the team agreed were good, gives ends of targets for the tone of each role. Listening decides which
//! nights are good, not the program. Never learns levels, hum or rumble: a team can get used to a fault.
//!
//! With `n` nights whose middle is `m`, and `d` the middle of the given window, the own middle is `(n m + 6 d) / (n + 6)`. The own
//! window reaches from the 10th to the 90th percentile of the nights, and at least 3 dB to either side of the middle with 6 nights,
//! 2 dB from 20 nights on. The range that counts as near moves along.

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize;

use super::record::head;
use crate::coach::{self, Ends, Group, Limb, Rule, Window};
use crate::dsp::percentile::{median, percentile};
use crate::session::Role;
use crate::unit::Unit;

/// From so many nights on something is learnt; the given window weighs as much as so many.
pub const MIN_NIGHTS: usize = 6;
/// An own window that lies farther beyond the given one is worth a word to the lead, in dB.
const FAR_DB: f64 = 6.0;
/// Least reach to either side of the middle with few nights, in dB.
const REACH_DB: f64 = 3.0;
/// The same with many nights, in dB.
const SURE_REACH_DB: f64 = 2.0;
/// That many.
const MANY_NIGHTS: usize = 20;
/// Rules about tone that hold against the ear of a team. Rumble is none of them.
const RULES: [&str; 7] = ["mud", "boxy", "thin", "harsh", "dull", "ess-hot", "close-boom"];

/// A night as far as windows are learnt from it.
#[derive(Clone, Debug, PartialEq)]
pub struct GoodNight {
    /// Name of the session.
    pub name: String,
    /// Its date, if known.
    pub date: Option<String>,
    place: Option<String>,
    is_good: Option<bool>,
    /// A rule about the recording itself that was far off target.
    spoilt: Option<String>,
    values: Vec<Value>,
}

/// One number of one channel.
#[derive(Clone, Debug, PartialEq)]
struct Value {
    rule: String,
    number: String,
    role: Role,
    /// What the number was measured on: the tap, and whether that is before the EQ.
    tap: (String, bool),
    value: f64,
}

/// What a team's good nights come to.
#[derive(Clone, Debug)]
pub struct Learnt {
    /// How many nights were learnt from.
    pub n_nights: usize,
    /// Nights that were left out, each with the reason.
    pub left_out: Vec<(String, String)>,
    /// The windows, in the order of rules and roles.
    pub windows: Vec<OwnWindow>,
}

/// The window of one number for one role.
#[derive(Clone, Debug)]
pub struct OwnWindow {
    /// The rule.
    pub rule: &'static Rule,
    /// The number.
    pub limb: &'static Limb,
    /// The role.
    pub role: Role,
    /// Nights behind it.
    pub n_nights: usize,
    /// Middle of the nights, in the unit of the number.
    pub middle: f64,
    /// On target.
    pub green: Ends,
    /// Near.
    pub amber: Ends,
    /// Whether it lies so far beyond the given window that the lead should know.
    pub is_far: bool,
}

#[derive(Deserialize)]
struct Review {
    session: Session,
    channels: Vec<Channel>,
    observations: Vec<Judged>,
}

#[derive(Deserialize)]
struct Session {
    name: String,
    date: Option<String>,
    place: Option<String>,
    is_good: Option<bool>,
}

#[derive(Deserialize)]
struct Channel {
    id: String,
    role: Role,
    tap: String,
}

#[derive(Deserialize)]
struct Judged {
    rule: String,
    channels: Vec<String>,
    outcome: serde_json::Value,
    is_check: bool,
    is_doubted: bool,
    measured: Vec<Measured>,
}

#[derive(Deserialize)]
struct Measured {
    name: String,
    value: Option<f64>,
}

impl GoodNight {
    /// Reads the text of a review whose format is named `schema`.
    ///
    /// # Errors
    ///
    /// In a clause, if the text is no review or of another version.
    pub fn read(text: &str, schema: &str) -> Result<Self, String> {
        head(text, schema)?;
        let review: Review = serde_json::from_str(text)
            .map_err(|error| format!("it was written by another version: {error}"))?;
        let Review { session, channels, observations } = review;
        let spoilt = observations.iter().find(|one| {
            coach::rule(&one.rule).is_some_and(|rule| rule.group == Group::Recording)
                && one.outcome == "outside"
        });
        Ok(Self {
            name: session.name,
            date: session.date,
            place: session.place,
            is_good: session.is_good,
            spoilt: spoilt.map(|one| one.rule.clone()),
            values: observations.iter().flat_map(|one| values(one, &channels)).collect(),
        })
    }

    /// Why nothing is learnt from it, if so.
    fn fault(&self, place: Option<&str>) -> Option<String> {
        if self.is_good == Some(false) {
            return Some("it is marked as no good night".to_owned());
        }
        if let Some(rule) = &self.spoilt {
            return Some(format!("`{rule}` was far off target"));
        }
        let is_elsewhere = self.place.as_deref().zip(place).is_some_and(|(own, last)| own != last);
        is_elsewhere.then(|| "it was in another hall than the last night".to_owned())
    }
}

/// The numbers of a judgement about tone that hold: guards met, whatever the outcome.
fn values(one: &Judged, channels: &[Channel]) -> Vec<Value> {
    let holds = one.outcome.is_string() || one.is_doubted;
    let (true, [id], true) = (holds, one.channels.as_slice(), RULES.contains(&one.rule.as_str()))
    else {
        return Vec::new();
    };
    let Some(channel) = channels.iter().find(|channel| channel.id == *id) else {
        return Vec::new();
    };
    one.measured
        .iter()
        .filter_map(|measured| {
            Some(Value {
                rule: one.rule.clone(),
                number: measured.name.clone(),
                role: channel.role,
                tap: (channel.tap.clone(), one.is_check),
                value: measured.value?,
            })
        })
        .collect()
}

/// Learns from nights, in any order.
pub fn learn(mut nights: Vec<GoodNight>) -> Learnt {
    nights.sort_by(|a, b| (&a.date, &a.name).cmp(&(&b.date, &b.name)));
    let place = nights.iter().rev().find_map(|night| night.place.clone());
    let mut left_out = Vec::new();
    nights.retain(|night| match night.fault(place.as_deref()) {
        Some(reason) => {
            left_out.push((night.name.clone(), reason));
            false
        }
        None => true,
    });
    let windows = RULES.iter().filter_map(|id| coach::rule(id)).flat_map(|rule| {
        rule.limbs.iter().filter(|limb| limb.unit == Unit::Db).map(move |limb| (rule, limb))
    });
    let windows = windows
        .flat_map(|(rule, limb)| Role::ALL.into_iter().map(move |role| (rule, limb, role)))
        .filter_map(|(rule, limb, role)| own_window(&nights, rule, limb, role))
        .collect();
    Learnt { n_nights: nights.len(), left_out, windows }
}

fn own_window(
    nights: &[GoodNight],
    rule: &'static Rule,
    limb: &'static Limb,
    role: Role,
) -> Option<OwnWindow> {
    let given = limb.windows.iter().find(|window| {
        (window.roles.is_empty() || window.roles.contains(&role)) && window.variant.is_empty()
    })?;
    let is_it =
        |value: &&Value| value.rule == rule.id && value.number == limb.name && value.role == role;
    // What was recorded at another place of the desk does not compare: the most frequent one counts.
    let mut taps: BTreeMap<&(String, bool), BTreeSet<usize>> = BTreeMap::new();
    for (idx, night) in nights.iter().enumerate() {
        for value in night.values.iter().filter(is_it) {
            taps.entry(&value.tap).or_default().insert(idx);
        }
    }
    let (tap, _) = taps.iter().max_by_key(|(_, nights)| nights.len())?;
    let middles: Vec<f64> = nights
        .iter()
        .filter_map(|night| {
            let own = night.values.iter().filter(is_it).filter(|value| value.tap == **tap);
            median(&own.map(|value| value.value).collect::<Vec<f64>>())
        })
        .collect();
    if middles.len() < MIN_NIGHTS {
        return None;
    }
    let (green, amber) = ends(given, &middles)?;
    let beyond = |own: Option<f64>, given: Option<f64>, sign: f64| {
        own.zip(given).is_some_and(|(own, given)| sign * (own - given) > FAR_DB)
    };
    Some(OwnWindow {
        rule,
        limb,
        role,
        n_nights: middles.len(),
        middle: median(&middles)?,
        green,
        amber,
        is_far: beyond(green.high, given.green.high, 1.0)
            || beyond(green.low, given.green.low, -1.0),
    })
}

/// Ends of the own window over the middles of the nights: on target, near.
fn ends(given: &Window, middles: &[f64]) -> Option<(Ends, Ends)> {
    #[expect(clippy::cast_precision_loss, reason = "nights are few")]
    let [n, min_nights, many] = [middles.len(), MIN_NIGHTS, MANY_NIGHTS].map(|n| n as f64);
    // A window with one end is taken for one that reaches 3 dB inwards from there to its middle.
    let usual = match (given.green.low, given.green.high) {
        (Some(low), Some(high)) => f64::midpoint(low, high),
        (Some(low), None) => low + REACH_DB,
        (None, Some(high)) => high - REACH_DB,
        (None, None) => return None,
    };
    let own = (n * median(middles)? + min_nights * usual) / (n + min_nights);
    let experience = ((n - min_nights) / (many - min_nights)).clamp(0.0, 1.0);
    let reach = REACH_DB + (SURE_REACH_DB - REACH_DB) * experience;
    let low = percentile(middles, 0.1)?.min(own - reach);
    let high = percentile(middles, 0.9)?.max(own + reach);
    let green = Ends { low: given.green.low.map(|_| low), high: given.green.high.map(|_| high) };
    let moved =
        |own: Option<f64>, green: Option<f64>, amber: Option<f64>| Some(own? + amber? - green?);
    let amber = Ends {
        low: moved(green.low, given.green.low, given.amber.low),
        high: moved(green.high, given.green.high, given.amber.high),
    };
    Some((green, amber))
}
