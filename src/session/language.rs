//! The language that a channel list is written in.
//!
//! Takes the words of every name of a list, gives one language by votes. Never looks at a single name alone:
//! `alto` is a viola in a French list and a singer elsewhere.

use super::lexicon::{LEXICON, Language, Meaning};

/// Votes that a language needs before it displaces English, whose words stand in every list.
const VOTES_NEEDED: f64 = 1.5;

/// Share of the names that has to vote, so that one odd word in a long list decides nothing.
const SHARE_NEEDED: f64 = 0.05;

/// Words that mean different things in two languages, or are also first names: they are decided, they don't vote.
pub(super) const AMBIGUOUS_ABROAD: [&str; 14] = [
    "aire",
    "alto",
    "base",
    "caja",
    "cc",
    "charles",
    "charleston",
    "conductor",
    "coral",
    "general",
    "solo",
    "trompa",
    "viola",
    "western",
];

/// Words that name no role but a language.
const HINTS: [(Language, &[&str]); 4] = [
    (
        Language::German,
        &[
            "links", "rechts", "oben", "unten", "vorne", "hinten", "innen", "aussen", "mikro",
            "mik", "kanal", "und", "hoch", "tief", "gross", "klein", "abnahme",
        ],
    ),
    (
        Language::Spanish,
        &[
            "izq",
            "izquierda",
            "der",
            "derecha",
            "arriba",
            "abajo",
            "mano",
            "ninos",
            "segunda",
            "inalambrico",
            "entrada",
            "y",
        ],
    ),
    (
        Language::French,
        &[
            "gauche", "droite", "voie", "dessus", "dessous", "haut", "bas", "jardin", "cour",
            "entree", "et", "avec",
        ],
    ),
    (
        Language::Portuguese,
        &["esq", "esquerda", "dir", "direita", "cima", "embaixo", "mao", "fio", "sem", "e"],
    ),
];

/// The language of a list, English unless another has the votes.
pub(super) fn language(names: &[Vec<String>]) -> Language {
    let mut votes = [0.0_f64; Language::ALL.len()];
    for words in names {
        for (tally, vote) in votes.iter_mut().zip(ballot(words)) {
            *tally += vote;
        }
    }
    let needed = VOTES_NEEDED.max(SHARE_NEEDED * names.len() as f64);
    let mut winner = (Language::English, needed);
    for (language, &tally) in Language::ALL.iter().zip(&votes).skip(1) {
        if tally > winner.1 {
            winner = (*language, tally);
        }
    }
    winner.0
}

/// What one name votes: a word of a single language counts 1, a word of two counts half for each.
fn ballot(words: &[String]) -> [f64; Language::ALL.len()] {
    let mut votes = [0.0; Language::ALL.len()];
    for (idx, word) in words.iter().enumerate() {
        let pair = words.get(idx + 1).map(|next| format!("{word}{next}"));
        for key in std::iter::once(word).chain(pair.as_ref()) {
            let languages = languages_of(key);
            for language in &languages {
                votes[position(*language)] += 1.0 / languages.len() as f64;
            }
        }
    }
    votes
}

/// Languages that the word tells apart: none if it is an English word too.
fn languages_of(key: &str) -> Vec<Language> {
    if AMBIGUOUS_ABROAD.contains(&key) {
        return Vec::new();
    }
    let mut languages: Vec<_> =
        LEXICON.meanings(key).iter().map(|meaning: &Meaning| meaning.language).collect();
    languages
        .extend(HINTS.iter().filter(|(_, words)| words.contains(&key)).map(|(hinted, _)| *hinted));
    languages.sort_unstable();
    languages.dedup();
    if languages.contains(&Language::English) { Vec::new() } else { languages }
}

const fn position(language: Language) -> usize {
    language as usize
}
