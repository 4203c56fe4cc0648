//! The role that one name tells.
//!
//! Takes the words of a name and the language of its list, gives the role, how sure it is, and what else it may be.
//! Never looks at other channels: `context` does.

use super::language::AMBIGUOUS_ABROAD;
use super::lexicon::{LEXICON, Language, Meaning};
use super::role::Role;

/// Most words that one entry of the table spans.
const MAX_RUN: usize = 4;

/// Shortest word of another language than the list's that is believed: shorter ones are initials of anything.
const MIN_FOREIGN_LETTERS: usize = 5;

/// How sure each kind of match is: shares of right names that the way of matching is trusted with (judgement).
const SURE: f64 = 0.95;
const SURE_INITIALS: f64 = 0.85;
const SURE_COMPOUND: f64 = 0.8;
const SURE_ABBREVIATED: f64 = 0.6;
const FOREIGN: f64 = 0.7;
const SECOND_ROLE: f64 = 0.85;
const OLD_LABEL: f64 = 0.7;

/// Words that qualify a channel as often as they name it: any other role in the name wins.
const YIELDING: [&str; 50] = [
    "acoustic",
    "alto",
    "amp",
    "aux",
    "bar",
    "bari",
    "baritone",
    "base",
    "board",
    "comp",
    "cue",
    "cues",
    "floor",
    "foh",
    "foot",
    "front",
    "general",
    "geral",
    "grand",
    "guide",
    "hall",
    "haupt",
    "hh",
    "lead",
    "lider",
    "lr",
    "main",
    "mains",
    "master",
    "media",
    "mix",
    "over",
    "pa",
    "pc",
    "play",
    "principal",
    "rack",
    "rec",
    "record",
    "recorder",
    "salida",
    "saida",
    "solo",
    "sop",
    "soprano",
    "sortie",
    "stereo",
    "ten",
    "tenor",
    "tom",
];

/// Words for a way to wear or hold a microphone: whoever uses it names the role.
const DEVICES: [&str; 21] = [
    "lav",
    "lavalier",
    "lapel",
    "lapela",
    "headset",
    "hs",
    "handheld",
    "hhmic",
    "wirelesshh",
    "ansteck",
    "ansteckmik",
    "handmik",
    "funkmik",
    "solapa",
    "diadema",
    "inalambrico",
    "microcravate",
    "serretete",
    "mainhf",
    "hfmain",
    "bastao",
];

/// Plain words for a guitar: any other role wins, and so does a word for an acoustic one.
pub(super) const PLAIN_GUITARS: [&str; 8] =
    ["gtr", "git", "guitar", "gt", "gitarre", "guitarra", "guitare", "guitel"];

/// Plain words for a singer, without lead or backing.
pub(super) const PLAIN_VOICES: [&str; 21] = [
    "vox",
    "voc",
    "vocal",
    "singer",
    "sing",
    "gesang",
    "stimme",
    "sanger",
    "sangerin",
    "ges",
    "voz",
    "cantante",
    "voix",
    "chant",
    "chanteur",
    "chanteuse",
    "cantor",
    "cantora",
    "vocals",
    "voice",
    "vocalist",
];

/// Ranges of a choir: singers, saxophones and, as `bass`, an instrument.
pub(super) const RANGES: [&str; 9] =
    ["sop", "soprano", "alto", "ten", "tenor", "bar", "bari", "baritone", "bass"];

/// Words that send a snare to its lower head.
const BELOW: [&str; 14] = [
    "bot", "bott", "btm", "bottom", "under", "dn", "down", "unten", "abajo", "bas", "dessous",
    "baixo", "inferior", "embaixo",
];

/// Words of one or two letters that mean "not in use" only when they stand alone.
const ALONE: [&str; 6] = ["na", "nc", "xx", "none", "free", "empty"];

/// Words that only count channels: `CH07`, `Input 3`, `Spur 4`.
const COUNTERS: [&str; 26] = [
    "ch", "chan", "channel", "chn", "input", "in", "inp", "track", "tracks", "trk", "tr", "kanal",
    "spur", "eingang", "canal", "entrada", "pista", "voie", "piste", "entree", "faixa", "mic",
    "mono", "audio", "line", "file",
];

/// What a name tells.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Told {
    pub(super) role: Role,
    pub(super) confidence: f64,
    /// Other roles the name may mean, likeliest first.
    pub(super) alternatives: Vec<Role>,
    /// The word that decided, spaces left out; empty for [`Role::Unknown`].
    pub(super) key: String,
}

impl Told {
    const fn nothing() -> Self {
        Self { role: Role::Unknown, confidence: 0.0, alternatives: Vec::new(), key: String::new() }
    }

    /// Another role instead, which leaves the old one as an alternative.
    pub(super) fn turned(mut self, role: Role, confidence: f64) -> Self {
        if role != self.role {
            self.alternatives.retain(|&other| other != role);
            self.alternatives.insert(0, self.role);
            self.role = role;
        }
        self.confidence = confidence;
        self
    }

    fn or(&mut self, role: Role) {
        if role != self.role && role != Role::Unknown && !self.alternatives.contains(&role) {
            self.alternatives.push(role);
        }
    }
}

/// A run of words that the table knows.
#[derive(Clone, Debug)]
struct Match {
    start: usize,
    end: usize,
    key: String,
    /// Likeliest first, never empty.
    roles: Vec<Role>,
    confidence: f64,
}

impl Match {
    const fn length(&self) -> usize {
        self.end - self.start
    }

    fn covers(&self, other: &Self) -> bool {
        self.start <= other.start && other.end <= self.end && self.length() > other.length()
    }

    /// Which match names the channel if there are several: what it is used for, before who sings, before what plays.
    fn rank(&self) -> u8 {
        let key = self.key.as_str();
        if YIELDING.contains(&key) {
            return 1;
        }
        if DEVICES.contains(&key) || PLAIN_GUITARS.contains(&key) {
            return 2;
        }
        match self.roles[0] {
            Role::Spare | Role::FxReturn | Role::Talkback | Role::Timecode => 9,
            Role::Click | Role::MonitorMix => 8,
            Role::Playback => 7,
            Role::Speech => 6,
            Role::BackingVocal => 5,
            Role::LeadVocal if PLAIN_VOICES.contains(&key) => 4,
            Role::LeadVocal => 5,
            Role::Room => 4,
            _ => 3,
        }
    }
}

/// The role that a name tells.
pub(super) fn told(words: &[String], language: Language) -> Told {
    if counts_only(words) {
        return Told::nothing();
    }
    let matches = matches(words, language);
    let Some(best) = matches.iter().max_by(|a, b| {
        // The first of equals: `max_by` would take the last.
        (a.rank(), a.key.len(), b.start).cmp(&(b.rank(), b.key.len(), a.start))
    }) else {
        return Told::nothing();
    };
    let mut told = Told {
        role: best.roles[0],
        confidence: best.confidence,
        alternatives: best.roles[1..].to_vec(),
        key: best.key.clone(),
    };
    let role = told.role;
    for other in matches.iter().filter(|other| other.rank() >= 3 && other.roles[0] != role) {
        told.confidence *= SECOND_ROLE;
        told.or(other.roles[0]);
    }
    if words.iter().any(|word| word == "old") {
        told.confidence *= OLD_LABEL;
    }
    refine(told, best, &matches, words)
}

/// What a second word of the name makes of the role.
fn refine(told: Told, best: &Match, matches: &[Match], words: &[String]) -> Told {
    let has = |list: &[&str]| words.iter().any(|word| list.contains(&word.as_str()));
    let plain_voice = PLAIN_VOICES.contains(&told.key.as_str());
    if told.role == Role::SnareTop && has(&BELOW) {
        return told.turned(Role::SnareBottom, SURE_INITIALS);
    }
    if plain_voice && has(&RANGES) {
        return told.turned(Role::BackingVocal, SURE_COMPOUND);
    }
    // `Vox 2` is the second singer; `02 Vox` is the second channel.
    let number = words.get(best.end).and_then(|word| word.parse::<u32>().ok());
    if plain_voice && number.is_some_and(|n| n >= 2) {
        return told.turned(Role::BackingVocal, SURE_ABBREVIATED);
    }
    let acoustic = matches.iter().any(|found| found.roles[0] == Role::AcousticGuitar);
    if PLAIN_GUITARS.contains(&told.key.as_str()) && acoustic {
        return told.turned(Role::AcousticGuitar, SURE_INITIALS);
    }
    // `flute patch` is a sound of the keyboard.
    if has(&["patch"]) && told.role.is_input() {
        return told.turned(Role::Keys, SURE_ABBREVIATED);
    }
    told
}

/// Whether a name only counts: letters that say "channel" beside a number, or no letters at all. `2trk` is a word.
pub(super) fn counts_only(words: &[String]) -> bool {
    if !LEXICON.meanings(&words.concat()).is_empty() {
        return false;
    }
    let (numbers, letters): (Vec<_>, Vec<_>) = words.iter().partition(|word| is_number(word));
    letters.is_empty()
        || (!numbers.is_empty() && letters.iter().all(|word| COUNTERS.contains(&word.as_str())))
}

fn is_number(word: &str) -> bool {
    word.chars().all(char::is_numeric)
}

/// Every run of words that the table knows, without those inside a longer one.
fn matches(words: &[String], language: Language) -> Vec<Match> {
    let mut found = Vec::new();
    for start in 0..words.len() {
        for end in (start + 1..=words.len().min(start + MAX_RUN)).rev() {
            found.extend(exact(words, start, end, language));
        }
    }
    for (idx, word) in words.iter().enumerate() {
        let known = found.iter().any(|m: &Match| (m.start..m.end).contains(&idx));
        if !known && !is_number(word) {
            found.extend(loose(word, idx, language));
        }
    }
    let letters = words.iter().filter(|word| !is_number(word)).count();
    found.retain(|m| !ALONE.contains(&m.key.as_str()) || m.length() == letters);
    let longest = found.clone();
    found.retain(|m| !longest.iter().any(|other| other.covers(m)));
    found
}

/// The words from `start` to `end` as one entry of the table.
fn exact(words: &[String], start: usize, end: usize, language: Language) -> Option<Match> {
    let key = words[start..end].concat();
    let (meanings, swap) = match LEXICON.meanings(&key) {
        [] if end - start == 2 => (LEXICON.swapped(&key), true),
        meanings => (meanings, false),
    };
    let (roles, share) = roles_of(&key, meanings, language)?;
    let confidence = match key.len() {
        _ if swap => SURE_INITIALS,
        0..=2 => SURE_INITIALS,
        _ => SURE,
    };
    Some(Match { start, end, key, roles, confidence: confidence * share })
}

/// A single word that is no entry as it stands: plural, written-out umlaut, compound or abbreviation.
fn loose(word: &str, idx: usize, language: Language) -> Option<Match> {
    let at = |key: &str, roles: Vec<Role>, confidence: f64| Match {
        start: idx,
        end: idx + 1,
        key: key.to_owned(),
        roles,
        confidence,
    };
    let known = |key: &str| roles_of(key, LEXICON.meanings(key), language);
    if word.len() >= 5 {
        let umlauts = word.replace("ae", "a").replace("oe", "o").replace("ue", "u");
        let stems = ["s", "es", "n", "en"].iter().filter_map(|ending| word.strip_suffix(ending));
        for key in stems.chain(std::iter::once(umlauts.as_str())) {
            if let Some((roles, share)) = known(key) {
                return Some(at(key, roles, SURE_COMPOUND * share));
            }
        }
    }
    if let Some((key, roles)) = compound(word, language) {
        return Some(at(&key, roles, SURE_COMPOUND));
    }
    if word.len() < 4 {
        return None;
    }
    let mut roles: Vec<_> = LEXICON
        .abbreviated(word)
        .filter(|m| m.language == language || m.language == Language::English)
        .map(|m| m.role)
        .collect();
    roles.sort_unstable();
    roles.dedup();
    (roles.len() == 1).then(|| at(word, roles, SURE_ABBREVIATED))
}

/// A word made of two known words, or of a known word and one that says how it is picked up: `Tenorsax`, `Saalmikro`.
fn compound(word: &str, language: Language) -> Option<(String, Vec<Role>)> {
    const TAILS: [&str; 10] =
        ["mic", "mik", "mikro", "amp", "verstarker", "di", "links", "rechts", "left", "right"];
    let known = |part: &str| {
        (part.len() >= 3)
            .then(|| roles_of(part, LEXICON.meanings(part), language))
            .flatten()
            .map(|(roles, _)| roles)
    };
    (1..word.len()).rev().filter(|&cut| word.is_char_boundary(cut)).find_map(|cut| {
        let (head, tail) = word.split_at(cut);
        let head_roles = known(head)?;
        if TAILS.contains(&tail) {
            return Some((head.to_owned(), head_roles));
        }
        // The second part carries the meaning, unless it is a word that yields: `Bassgitarre`, `Gitarrenamp`.
        let tail_roles = known(tail)?;
        if YIELDING.contains(&tail) {
            Some((head.to_owned(), head_roles))
        } else {
            Some((tail.to_owned(), tail_roles))
        }
    })
}

/// Roles of an entry, likeliest first, in the list's language before English before any other, and a factor on the confidence.
fn roles_of(key: &str, meanings: &[Meaning], language: Language) -> Option<(Vec<Role>, f64)> {
    let of = |wanted: Language| meanings.iter().filter(move |m| m.language == wanted);
    let mut roles = Vec::new();
    for meaning in of(language).chain(of(Language::English)) {
        if !roles.contains(&meaning.role) {
            roles.push(meaning.role);
        }
    }
    if !roles.is_empty() {
        return Some((roles, 1.0));
    }
    if key.len() < MIN_FOREIGN_LETTERS || AMBIGUOUS_ABROAD.contains(&key) {
        return None;
    }
    let first = meanings.first()?.role;
    Some((vec![first], FOREIGN))
}
