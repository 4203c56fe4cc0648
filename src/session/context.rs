//! What the rest of the list says about a name that may mean several things.
//!
//! Takes what every name tells by itself, gives the same with neighbours considered. Never makes a sure role of
//! an unsure one: what stays open keeps its alternatives for the sound to decide.

use super::lexicon::Language;
use super::matching::{PLAIN_GUITARS, RANGES, Told};
use super::role::{Family, Role};

/// How far a neighbour counts, in channels.
const REACH: usize = 2;

/// Confidence of a name that the list supports, that it leaves open, and that it speaks against (judgement).
const SUPPORTED: f64 = 0.75;
const OPEN: f64 = 0.5;
const DOUBTED: f64 = 0.35;

/// Confidence of a range of a choir among singers and away from winds: a high voice and a reed sound too alike to say more (judgement).
const AMONG_SINGERS: f64 = 0.85;

/// The list with every ambiguous word considered in its place.
pub(super) fn considered(told: &[Told], language: Language) -> Vec<Told> {
    (0..told.len()).map(|idx| settle(told, idx, language)).collect()
}

fn settle(told: &[Told], idx: usize, language: Language) -> Told {
    let one = told[idx].clone();
    let list = List { told, idx };
    let key = one.key.as_str();
    match key {
        "hh" => hi_hat_or_handheld(one, &list),
        "tom" => tom_or_person(one, &list),
        "bass" if list.has_range_nearby() => one.turned(Role::BackingVocal, SUPPORTED),
        _ if RANGES.contains(&key) && one.role == Role::BackingVocal => singer_or_sax(one, &list),
        _ if PLAIN_GUITARS.contains(&key) && one.role == Role::ElectricGuitar => {
            open(one, SUPPORTED, &[Role::AcousticGuitar])
        }
        "surdo" if list.near(|role| role == Role::Tom) => one.turned(Role::Tom, SUPPORTED),
        "surdo" => one.turned(Role::Percussion, SUPPORTED),
        "principal" => lead_or_main(one, &list),
        "vocal" if matches!(language, Language::Spanish | Language::Portuguese) => {
            open(one, SUPPORTED, &[Role::BackingVocal])
        }
        "coro" => open(one, SUPPORTED, &[Role::BackingVocal]),
        "coros" => open(one, SUPPORTED, &[Role::Choir]),
        "viola" if language == Language::Portuguese => open(one, OPEN, &[Role::AcousticGuitar]),
        "lead" => open(one, OPEN, &[Role::ElectricGuitar, Role::Keys]),
        "back" => open(one, SUPPORTED, &[Role::Playback]),
        "hall" => open(one, SUPPORTED, &[Role::Room, Role::FxReturn]),
        "aux" => open(one, OPEN, &[Role::FxReturn, Role::Main]),
        "horn" | "horns" => open(one, SUPPORTED, &[Role::Woodwind]),
        "foh" => open(one, SUPPORTED, &[Role::Talkback]),
        "fone" => open(one.turned(Role::MonitorMix, SUPPORTED), SUPPORTED, &[Role::Talkback]),
        _ => one,
    }
}

/// `hh` is a hi-hat among drums and a handheld among voices; the sound has the last word.
fn hi_hat_or_handheld(one: Told, list: &List<'_>) -> Told {
    let drums = list.near(|role| role.family() == Family::Drums);
    let voices = list.near(|role| role.family() == Family::Voice);
    let other_hat = list.anywhere(|role| role == Role::HiHat, |key| key != "hh");
    match (drums, voices) {
        _ if other_hat => open(one.turned(Role::Speech, SUPPORTED), SUPPORTED, &[Role::HiHat]),
        (true, false) => open(one.turned(Role::HiHat, SUPPORTED), SUPPORTED, &[Role::Speech]),
        (false, true) => open(one.turned(Role::Speech, OPEN), OPEN, &[Role::HiHat]),
        _ => open(one.turned(Role::HiHat, OPEN), OPEN, &[Role::Speech]),
    }
}

/// `Tom` alone may be a singer: it is a drum where there are drums.
fn tom_or_person(one: Told, list: &List<'_>) -> Told {
    let singer = [Role::LeadVocal, Role::BackingVocal];
    if list.near(|role| role.family() == Family::Drums) {
        open(one, 0.9, &singer)
    } else if list.anywhere(|role| role.family() == Family::Drums, |_| true) {
        open(one, OPEN, &singer)
    } else {
        open(one, DOUBTED, &singer)
    }
}

/// `alto`, `tenor`, `bari` beside winds and away from singers are saxophones.
fn singer_or_sax(one: Told, list: &List<'_>) -> Told {
    let winds = list.near(|role| matches!(role, Role::Woodwind | Role::Brass));
    let singers = list.has_range_nearby() || list.near(|role| role.family() == Family::Voice);
    match (winds, singers) {
        (true, false) => one.turned(Role::Woodwind, SUPPORTED),
        (false, true) => {
            Told { confidence: AMONG_SINGERS, ..open(one, AMONG_SINGERS, &[Role::Woodwind]) }
        }
        _ => open(one, OPEN, &[Role::Woodwind]),
    }
}

/// `principal` is the main voice, or the main bus where the voice stands elsewhere.
fn lead_or_main(one: Told, list: &List<'_>) -> Told {
    let other_lead = list.anywhere(|role| role == Role::LeadVocal, |key| key != "principal");
    let role = if other_lead { Role::Main } else { Role::LeadVocal };
    open(one.turned(role, OPEN), OPEN, &[Role::LeadVocal, Role::Main])
}

/// The same role, not surer than `confidence`, with what else it may be.
fn open(mut one: Told, confidence: f64, others: &[Role]) -> Told {
    one.confidence = one.confidence.min(confidence);
    for &other in others {
        if other != one.role && !one.alternatives.contains(&other) {
            one.alternatives.push(other);
        }
    }
    one
}

/// The list as one of its channels sees it.
struct List<'a> {
    told: &'a [Told],
    idx: usize,
}

impl List<'_> {
    fn others(&self) -> impl Iterator<Item = (usize, &Told)> {
        self.told.iter().enumerate().filter(|(idx, _)| *idx != self.idx)
    }

    /// Whether a close neighbour other than a second one of the same word has such a role.
    fn near(&self, wanted: impl Fn(Role) -> bool) -> bool {
        let key = &self.told[self.idx].key;
        self.others()
            .filter(|(idx, other)| idx.abs_diff(self.idx) <= REACH && other.key != *key)
            .any(|(_, other)| wanted(other.role))
    }

    fn anywhere(&self, wanted: impl Fn(Role) -> bool, by: impl Fn(&str) -> bool) -> bool {
        self.others().any(|(_, other)| wanted(other.role) && by(&other.key))
    }

    /// Whether other ranges of a choir stand close by: then `bass` is a singer.
    fn has_range_nearby(&self) -> bool {
        self.others().filter(|(idx, _)| idx.abs_diff(self.idx) <= REACH + 1).any(|(_, other)| {
            other.role == Role::BackingVocal
                && other.key != "bass"
                && RANGES.contains(&other.key.as_str())
        })
    }
}
