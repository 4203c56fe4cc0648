//! Rings: talk into loops that stand under the edge.

use std::fmt::Write as _;
use std::ops::Range;

use deskside::dsp::Group;
use deskside::measure::howl::{HowlMeter, Look, NearRing, near_rings};
use deskside::unit::Span;
use rayon::prelude::*;

use super::FRESH;
use crate::support::howling::{self, CLIP_S, RATE_HZ, is_one_of};

const CLIPS: Range<u64> = FRESH..FRESH + 24;

/// How far under the edge the loops stand, in dB.
const UNDER_DB: [f64; 5] = [0.3, 0.8, 1.5, 3.0, 6.0];

fn rings(clip: &[f32]) -> Vec<NearRing> {
    let mut meter = HowlMeter::new(RATE_HZ, &[Look::Rings]);
    for block in clip.chunks(16_384) {
        meter.push(Group::new(&[block], RATE_HZ));
    }
    near_rings(&meter.finish().remove(0).steady, &[Span::new(0.0, CLIP_S)])
}

pub(super) fn table() -> String {
    let sung: usize =
        CLIPS.into_par_iter().filter(|seed| !rings(&howling::sung(*seed)).is_empty()).count();
    let mut out = format!(
        "Rings of talk into {} loops each that stand so far under the edge all the time. Bars: 75 % told at 0.8 dB, nothing at 6 dB.\n\
         Held notes of singing without any loop would pass for rings in {sung} of {} clips: rings are looked for in talk alone.\n\n\
         | under the edge, dB | told | clips with another frequency |\n| --- | --- | --- |\n",
        CLIPS.count(),
        CLIPS.count()
    );
    for under_db in UNDER_DB {
        let told: Vec<(bool, bool)> = CLIPS
            .into_par_iter()
            .map(|seed| {
                let (clip, near_hz) = howling::ringing(seed, under_db);
                let found = rings(&clip);
                let is_near = |ring: &NearRing| is_one_of(ring.hz, &near_hz);
                (found.iter().any(is_near), found.iter().any(|ring| !is_near(ring)))
            })
            .collect();
        let n = |of: fn(&(bool, bool)) -> bool| told.iter().filter(|one| of(one)).count();
        let _ = writeln!(out, "| {under_db} | {} | {} |", n(|one| one.0), n(|one| one.1));
    }
    out
}
