//! Left and right of a stereo pair, by name.
//!
//! Takes the words of every name, gives each channel's side and its partner. Never pairs by sound.

use super::lexicon::Language;
use super::role::Role;
use super::tap::Side;

/// Words for a side. French theatres say `jardin` and `cour` for the house's left and right.
const SIDES: [(&str, Side); 24] = [
    ("l", Side::Left),
    ("r", Side::Right),
    ("left", Side::Left),
    ("right", Side::Right),
    ("lft", Side::Left),
    ("rgt", Side::Right),
    ("li", Side::Left),
    ("re", Side::Right),
    ("links", Side::Left),
    ("rechts", Side::Right),
    ("sl", Side::Left),
    ("sr", Side::Right),
    ("izq", Side::Left),
    ("der", Side::Right),
    ("izquierda", Side::Left),
    ("derecha", Side::Right),
    ("gauche", Side::Left),
    ("droite", Side::Right),
    ("jardin", Side::Left),
    ("cour", Side::Right),
    ("esq", Side::Left),
    ("dir", Side::Right),
    ("esquerda", Side::Left),
    ("direita", Side::Right),
];

/// A channel's place in a stereo pair.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) side: Option<Side>,
    pub(super) partner: Option<usize>,
}

/// The place of every channel. A side needs no partner; a partner is the nearest channel of the same stem and other side.
pub(super) fn places(names: &[Vec<String>], roles: &[Role], language: Language) -> Vec<Place> {
    let split: Vec<_> = names.iter().map(|words| side_and_stem(words, language)).collect();
    let mut places: Vec<_> =
        split.iter().map(|(side, _)| Place { side: *side, partner: None }).collect();
    for idx in 0..names.len() {
        let Some(side) = places[idx].side.filter(|_| places[idx].partner.is_none()) else {
            continue;
        };
        let partner = (0..names.len())
            .filter(|&other| places[other].partner.is_none())
            .filter(|&other| places[other].side.is_some_and(|s| s != side))
            .filter(|&other| split[other].1 == split[idx].1)
            .min_by_key(|&other| other.abs_diff(idx));
        if let Some(other) = partner {
            places[idx].partner = Some(other);
            places[other].partner = Some(idx);
        }
    }
    pair_numbers(names, roles, &mut places);
    places
}

/// The side that a name ends or begins with, and the rest of the name without the channel's number.
fn side_and_stem(words: &[String], language: Language) -> (Option<Side>, Vec<String>) {
    let stem: Vec<String> = match words.first() {
        Some(first) if words.len() > 1 && first.parse::<u32>().is_ok() => words[1..].to_vec(),
        _ => words.to_vec(),
    };
    let last = stem.len().saturating_sub(1);
    for idx in [last, 0] {
        let Some(word) = stem.get(idx) else { continue };
        if let Some(side) = side_of(word, language) {
            let mut rest = stem.clone();
            rest.remove(idx);
            return (Some(side), rest);
        }
    }
    // Glued to a short abbreviation: `ohl`, `kbr`, `mixl`.
    const GLUED: [&str; 8] = ["oh", "kb", "mix", "pb", "main", "fx", "trx", "aud"];
    for (idx, word) in stem.iter().enumerate() {
        for (letter, side) in [('l', Side::Left), ('r', Side::Right)] {
            if let Some(head) = word.strip_suffix(letter)
                && GLUED.contains(&head)
            {
                let mut rest = stem.clone();
                head.clone_into(&mut rest[idx]);
                return (Some(side), rest);
            }
        }
    }
    (None, stem)
}

fn side_of(word: &str, language: Language) -> Option<Side> {
    match word {
        // One letter, and French alone says so.
        "g" if language == Language::French => Some(Side::Left),
        "d" if language == Language::French => Some(Side::Right),
        _ => SIDES.iter().find(|(known, _)| *known == word).map(|(_, side)| *side),
    }
}

/// Overheads, playback, main and returns are often numbered 1 and 2: the pair stands side by side, and there is no third.
fn pair_numbers(names: &[Vec<String>], roles: &[Role], places: &mut [Place]) {
    const STEREO: [Role; 4] = [Role::Overhead, Role::Playback, Role::Main, Role::FxReturn];
    let numbered = |idx: usize| -> Option<(u32, &[String])> {
        let (last, stem) = names[idx].split_last()?;
        Some((last.parse().ok()?, stem))
    };
    for idx in 0..names.len().saturating_sub(1) {
        let (Some((1, stem)), Some((2, next))) = (numbered(idx), numbered(idx + 1)) else {
            continue;
        };
        let third = names.get(idx + 2).is_some_and(|_| {
            numbered(idx + 2).is_some_and(|(number, other)| number == 3 && other == stem)
        });
        let free = places[idx] == Place::default() && places[idx + 1] == Place::default();
        let stereo = STEREO.contains(&roles[idx]) && roles[idx] == roles[idx + 1];
        if stem == next && stereo && free && !third {
            places[idx] = Place { side: Some(Side::Left), partner: Some(idx + 1) };
            places[idx + 1] = Place { side: Some(Side::Right), partner: Some(idx) };
        }
    }
}
