//! Stereo pairs of microphones that hear the stage from opposite sides.
//!
//! Takes the separated sources of the chosen minutes, gives for each stereo pair how sources lean in it, and a sentence where two
//! pairs disagree about all of them. Says nothing where levels and arrivals don't tell one story.

use super::spill_facts::BLUNT;
use crate::reading::Channel;
use crate::relate::alike::{Alike, Kind, Sight, swapped};
use crate::relate::energies::{Energies, Mic};
use crate::relate::separation::Separation;
use crate::relate::spectrogram::Spectrogram;
use crate::relate::way::ways;
use crate::session::{Family, SessionChannel, Side, Tap};

/// Least share of a source in what a pair hears, in dB.
const HEARD_DB: f64 = -20.0;

/// Arrivals closer than this tell no side, in seconds: 7 cm.
const APART_S: f64 = 0.000_2;

/// How sure a finding has to be: three sources at least, and none that speaks against it.
const NEEDS_CONFIDENCE: f64 = 0.9;

/// Two stereo pairs that hear the stage from opposite sides, each left then right.
pub(super) struct Opposite {
    pairs: [(usize, usize); 2],
}

/// Stereo pairs of microphones as they leave the preamplifiers, left then right.
pub(super) fn pairs(channels: &[SessionChannel]) -> Vec<(usize, usize)> {
    let is_mic = |idx: usize| {
        let channel = &channels[idx];
        (channel.role.is_input() || channel.role.family() == Family::Ambience)
            && !channel.is_line
            && matches!(channel.tap, Tap::Raw | Tap::Room)
            && channel.raw.is_none()
    };
    let sides = channels.iter().enumerate().filter_map(|(left, channel)| {
        let right = channel.partner.filter(|&right| right < channels.len())?;
        let is_pair = channel.side == Some(Side::Left) && is_mic(left) && is_mic(right);
        is_pair.then_some((left, right))
    });
    sides.collect()
}

/// Pairs that are swapped against each other. `sounds` says for each source in which frames it sounds.
pub(super) fn opposite(
    stereo: &[(usize, usize)],
    short: &Spectrogram,
    separated: &Separation,
    sounds: &[Vec<bool>],
) -> Vec<Opposite> {
    if stereo.len() < 2 {
        return Vec::new();
    }
    let seen = sights(stereo, short, separated, sounds);
    let mut found = Vec::new();
    for first in 0..stereo.len() {
        for second in first + 1..stereo.len() {
            let lefts = [stereo[first].0, stereo[second].0];
            let alike = swapped(lefts, &seen[first], &seen[second]);
            let is_sure =
                |one: &Alike| one.kind == Kind::Swapped && one.confidence >= NEEDS_CONFIDENCE;
            if matches!(alike, Ok(Some(one)) if is_sure(&one)) {
                found.push(Opposite { pairs: [stereo[first], stereo[second]] });
            }
        }
    }
    found
}

/// How the sources lean in each pair, by level and by arrival; those that do not clearly are left out.
fn sights(
    stereo: &[(usize, usize)],
    short: &Spectrogram,
    separated: &Separation,
    sounds: &[Vec<bool>],
) -> Vec<Vec<Sight>> {
    let sides: Vec<usize> = stereo.iter().flat_map(|&(left, right)| [left, right]).collect();
    let mics: Vec<Mic> =
        sides.iter().map(|&channel| Mic { channel, own: None, kin: Vec::new() }).collect();
    let presence: Vec<Vec<f32>> = sounds
        .iter()
        .map(|sounds| sounds.iter().map(|&sounds| f32::from(u8::from(sounds))).collect())
        .collect();
    let energies = Energies::new(short, separated, &presence, &mics);
    let n_sources = separated.references.len();
    let wanted: Vec<(usize, usize)> = sides
        .iter()
        .flat_map(|&channel| (0..n_sources).map(move |source| (source, channel)))
        .collect();
    let arrivals = ways(short, &separated.references, &separated.demix, sounds, &wanted);
    let arrival = |side: usize, source: usize| {
        arrivals[side * n_sources + source].filter(|way| way.quality >= BLUNT)
    };
    let sight =
        |pair: usize, source: usize| {
            let [left, right] = [2 * pair, 2 * pair + 1];
            // A pair sees itself in the middle.
            let home = separated.references[source];
            let both = energies.level(left, source) + energies.level(right, source);
            let all: f64 = (0..n_sources)
                .map(|source| energies.level(left, source) + energies.level(right, source))
                .sum();
            let is_heard = both > all * 10f64.powf(HEARD_DB / 10.0) && !sides.contains(&home);
            let lag_s = arrival(left, source)?.delay_s - arrival(right, source)?.delay_s;
            let ratio = energies.level(left, source) / energies.level(right, source);
            (is_heard && ratio.is_finite() && ratio > 0.0 && lag_s.abs() >= APART_S)
                .then(|| Sight { source, lean_db: 10.0 * ratio.log10(), lag_s: Some(lag_s) })
        };
    (0..stereo.len())
        .map(|pair| (0..n_sources).filter_map(|source| sight(pair, source)).collect())
        .collect()
}

/// A sentence for each of them.
pub(super) fn sentences(channels: &[Channel], found: &[Opposite]) -> Vec<String> {
    let name = |idx: usize| format!("{} {}", channels[idx].number, channels[idx].name);
    let sentence = |one: &Opposite| {
        let [first, second] =
            one.pairs.map(|(left, right)| format!("{} and {}", name(left), name(right)));
        format!(
            "{first} hear the stage the other way round than {second}: what is left in one pair is right in the other; check which side is plugged where"
        )
    };
    found.iter().map(sentence).collect()
}
