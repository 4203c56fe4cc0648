//! Rings: talk into loops that stand under the edge.

use std::fmt::Write as _;
use std::ops::Range;

use deskside::dsp::Group;
use deskside::measure::howl::{Ear, HowlMeter, Look, NearRing, near_rings};
use deskside::unit::Span;
use rayon::prelude::*;

use super::FRESH;
use crate::support::howling::{self, CLIP_S, RATE_HZ, Ringing, is_one_of};

const CLIPS: Range<u64> = FRESH..FRESH + 24;

/// How far under the edge the loops stand, in dB.
const UNDER_DB: [f64; 5] = [0.3, 0.8, 1.5, 3.0, 6.0];

/// A further frequency of the loop is told within this, in Hz: half a bin of 256 ms.
const OWN_HZ: f64 = 2.0;

fn rings(clip: &[f32]) -> Vec<NearRing> {
    let mut meter = HowlMeter::new(RATE_HZ, &[Look::Rings]);
    for block in clip.chunks(16_384) {
        meter.push(Group::new(&[block], RATE_HZ));
    }
    near_rings(&meter.finish().remove(0), &[Span::new(0.0, CLIP_S)], Ear::Close)
}

pub(super) fn table() -> String {
    let sung: usize =
        CLIPS.into_par_iter().filter(|seed| !rings(&howling::sung(*seed)).is_empty()).count();
    let mut out = format!(
        "Rings of talk into {} loops each that stand so far under the edge all the time. Told is a frequency within 1 dB of the one that\n\
         is nearest to the edge; further ones of the same loop stand up to 6 dB under that. Bars: 75 % told at 0.8 dB, nothing at 6 dB.\n\
         Held notes of singing without any loop would pass for rings in {sung} of {} clips: rings are looked for in talk alone.\n\n\
         | under the edge, dB | told | clips with a further one of the loop | clips with one that the loop has not |\n| --- | --- | --- | --- |\n",
        CLIPS.count(),
        CLIPS.count()
    );
    for under_db in UNDER_DB {
        let told: Vec<[bool; 3]> =
            CLIPS.into_par_iter().map(|seed| told(&howling::ringing(seed, under_db))).collect();
        let n = |of: usize| told.iter().filter(|one| one[of]).count();
        let _ = writeln!(out, "| {under_db} | {} | {} | {} |", n(0), n(1), n(2));
    }
    out.push_str(&without_loop());
    out
}

/// Talk that may be taken for a loop.
fn without_loop() -> String {
    let mut out = format!(
        "\nTalk without any loop, {} clips each, at a microphone in a room: a hum of 50 Hz lies 20 to 45 dB under the voice, a band 8 to 30 dB,\n\
         chords 10 to 30 dB, tones 20 to 40 dB.\n\n| besides | clips with a ring |\n| --- | --- |\n",
        CLIPS.count()
    );
    for (beside, name) in howling::BESIDE_TALK.into_iter().enumerate() {
        let told = CLIPS
            .into_par_iter()
            .filter(|seed| !rings(&howling::talking(*seed, beside)).is_empty())
            .count();
        let _ = writeln!(out, "| {name} | {told} |");
    }
    out
}

/// Whether a near frequency of the loop is told, a further one, and one that it has not.
fn told(ringing: &Ringing) -> [bool; 3] {
    let found = rings(&ringing.clip);
    let is_near = |ring: &NearRing| is_one_of(ring.hz, &ringing.near_hz);
    let is_own = |ring: &NearRing| ringing.own_hz.iter().any(|hz| (hz - ring.hz).abs() < OWN_HZ);
    let is_further = |ring: &NearRing| !is_near(ring) && is_own(ring);
    let is_none = |ring: &NearRing| !is_near(ring) && !is_own(ring);
    [found.iter().any(is_near), found.iter().any(is_further), found.iter().any(is_none)]
}
