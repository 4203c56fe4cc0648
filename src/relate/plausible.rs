//! What a source may give in a microphone, band by band, by what it gives in its own.
//!
//! Takes energies by microphone, source and band, takes out those that can't be. Never makes an energy greater.
//!
//! - A source that is hardly heard in its own microphone in a band isn't known there: what stands for it is what was left of the
//!   others.
//! - A way through air has no band that is far louder than its neighbours: two sources on one note were not told apart there.

use super::energies::{Mic, Sources};
use crate::dsp::percentile::percentile;

/// Least share of a source in what its own microphone hears of a band: -4 dB.
const CLEAR: f64 = 0.4;

/// Least share of a source's energy that its clear bands have to hold: others stand for all of it.
const ENOUGH: f64 = 0.5;

/// Bands to each side that are neighbours, and how much louder than their median a band may be: 4 dB.
const REACH: usize = 4;
const LOUDER: f64 = 2.5;

/// Takes out what can't be; `measured` is the energy of each microphone by band, `references` are the own microphones of the
/// sources.
pub fn clean(energies: &mut Sources, mics: &[Mic], references: &[usize], measured: &[Vec<f64>]) {
    for (source, reference) in references.iter().enumerate() {
        let Some(home) = mics.iter().position(|mic| mic.channel == *reference) else { continue };
        let own = energies[home][source].clone();
        let is_clear = clear(&own, &measured[home]);
        for (place, mic) in mics.iter().enumerate() {
            let there = &mut energies[place][source];
            if mic.own == Some(source) {
                let is_clear = clear(there, &measured[place]);
                keep(there, &is_clear);
            } else {
                keep(there, &is_clear);
                bound(there, &own, &is_clear);
            }
        }
    }
}

/// The bands in which a source is clearly heard; all where they hold too little of it.
fn clear(own: &[f64], measured: &[f64]) -> Vec<bool> {
    let is_clear: Vec<bool> =
        own.iter().zip(measured).map(|(own, all)| *own > CLEAR * all).collect();
    let clear: f64 = own.iter().zip(&is_clear).filter(|(_, clear)| **clear).map(|(x, _)| x).sum();
    let is_enough = clear >= ENOUGH * own.iter().sum::<f64>();
    if is_enough { is_clear } else { own.iter().map(|x| *x > 0.0).collect() }
}

fn keep(energies: &mut [f64], is_kept: &[bool]) {
    energies.iter_mut().zip(is_kept).filter(|(_, kept)| !**kept).for_each(|(x, _)| *x = 0.0);
}

/// Bounds the gain of each clear band by the median of those around it.
fn bound(there: &mut [f64], own: &[f64], is_clear: &[bool]) {
    let gains: Vec<Option<f64>> = there
        .iter()
        .zip(own)
        .zip(is_clear)
        .map(|((there, own), clear)| clear.then(|| there / own))
        .collect();
    for (band, (there, own)) in there.iter_mut().zip(own).enumerate() {
        let near = band.saturating_sub(REACH)..(band + REACH + 1).min(gains.len());
        let near: Vec<f64> = gains[near].iter().flatten().copied().collect();
        if let Some(median) = percentile(&near, 0.5) {
            *there = there.min(LOUDER * median * own);
        }
    }
}
