//! Roles of channels from their names.
//!
//! Takes the names of a whole list, gives a role with its confidence for each. Never guesses silently: a name that
//! may mean several things keeps its alternatives, a bare number stays unknown.

use super::context::considered;
use super::fold::words;
use super::language::language;
use super::line::is_line;
use super::matching::told;
use super::pairing::places;
use super::role::Role;
use super::tap::{RoleSource, Side};

/// What a channel's name tells.
#[derive(Clone, Debug, PartialEq)]
pub struct NameRole {
    /// The likeliest role; [`Role::Unknown`] if the name tells none.
    pub role: Role,
    /// How sure the role is, 0 to 1 (judgement, by the way it was matched); 0 for an unknown role.
    pub confidence: f64,
    /// Other roles the name may mean, likeliest first; empty for a plain name.
    pub alternatives: Vec<Role>,
    /// Side of a stereo pair.
    pub side: Option<Side>,
    /// Index of the other side in the list.
    pub partner: Option<usize>,
    /// [`RoleSource::Name`], or [`RoleSource::None`] for an unknown role.
    pub source: RoleSource,
    /// Whether the channel probably comes by wire (a DI, a player, a bus) and not from a microphone.
    pub is_line: bool,
}

/// Roles of a list of channels, in the list's order.
///
/// Names are compared in lower case without accents; longer matches win over shorter ones; the language is decided
/// by votes over the whole list, and words that mean several things by their neighbours.
pub fn roles(names: &[&str]) -> Vec<NameRole> {
    let split: Vec<Vec<String>> = names.iter().map(|name| words(name)).collect();
    let language = language(&split);
    let alone: Vec<_> = split.iter().map(|words| told(words, language)).collect();
    let told = considered(&alone, language);
    let by_role: Vec<_> = told.iter().map(|one| one.role).collect();
    let places = places(&split, &by_role, language);
    told.into_iter()
        .zip(places)
        .zip(&split)
        .map(|((one, place), words)| NameRole {
            is_line: is_line(one.role, words),
            source: if one.role == Role::Unknown { RoleSource::None } else { RoleSource::Name },
            role: one.role,
            confidence: one.confidence,
            alternatives: one.alternatives,
            side: place.side,
            partner: place.partner,
        })
        .collect()
}
