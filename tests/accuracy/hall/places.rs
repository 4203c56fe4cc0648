//! Rings in the main mix, the hall and the choir's microphone, with loops under the edge and without any.

use std::fmt::Write as _;
use std::ops::Range;

use deskside::dsp::Group;
use deskside::measure::howl::{HowlMeter, HowlTrack, Look, NearRing, near_rings};
use deskside::relate::howl::Place;
use deskside::relate::ring::{Listening, stage_rings};
use deskside::unit::Span;
use rayon::prelude::*;

use super::FRESH;
use crate::support::howling::{RATE_HZ, is_one_of};
use crate::support::places::{
    BESIDE_TALK, CHOIR, EARS, HALL, Heard, MAIN, PLACES, TALK_S, heard, without_loop,
};

const CLIPS: Range<u64> = FRESH..FRESH + 24;

/// How far under the edge the loops stand, in dB.
const UNDER_DB: [f64; 3] = [0.8, 3.0, 6.0];

/// A further frequency of the loop is told within this, in Hz: half a bin of 256 ms.
const OWN_HZ: f64 = 2.0;

const TALK: [Span; 1] = [Span { start_s: 0.0, end_s: TALK_S }];

fn track(clip: &[f32]) -> HowlTrack {
    let mut meter = HowlMeter::new(RATE_HZ, &[Look::Rings]);
    for block in clip.chunks(16_384) {
        meter.push(Group::new(&[block], RATE_HZ));
    }
    meter.finish().remove(0)
}

/// What one loop gives: at each place whether it is told, and whether something else is; the same of all places together, each loop once.
struct Told {
    places: [[bool; 2]; 4],
    /// Told of the microphone that it comes from, of another channel, something else, or more than once at one frequency.
    stage: [bool; 4],
}

fn told(heard: &Heard, is_choir: bool) -> Told {
    let tracks: Vec<HowlTrack> = heard.clips.iter().map(|clip| track(clip)).collect();
    let is_near = |ring: &NearRing| is_one_of(ring.hz, &heard.near_hz);
    let is_else = |ring: &NearRing| {
        !is_near(ring) && !heard.own_hz.iter().any(|hz| (hz - ring.hz).abs() < OWN_HZ)
    };
    let places = [0, MAIN, HALL, CHOIR].map(|place| {
        let rings = near_rings(&tracks[place], &TALK, EARS[place]);
        [rings.iter().any(is_near), rings.iter().any(is_else)]
    });
    let kinds = [Place::Microphone, Place::Listener, Place::Listener, Place::Microphone];
    let listening: Vec<Listening<'_>> = (0..4)
        .map(|at| Listening { place: kinds[at], ear: Some(EARS[at]), track: &tracks[at] })
        .collect();
    let all = stage_rings(&listening, &TALK);
    let own = if is_choir { CHOIR } else { 0 };
    let is_twice = all.iter().enumerate().any(|(at, one)| {
        all[..at].iter().any(|other| (other.ring.hz - one.ring.hz).abs() < OWN_HZ)
    });
    let stage = [
        all.iter().any(|one| is_near(&one.ring) && one.source == own),
        all.iter().any(|one| is_near(&one.ring) && one.source != own),
        all.iter().any(|one| is_else(&one.ring)),
        is_twice,
    ];
    Told { places, stage }
}

pub(super) fn table() -> String {
    let n_clips = CLIPS.count();
    let mut out = format!(
        "\nThe same in four places at once, in {n_clips} loops each of the talker's microphone and of a choir's microphone that hears the talk\n\
         from afar: both reach one loudspeaker, the main mix is their sum, and a hall of 0.8 to 2 s brings it to the hall microphone. Talk of\n\
         {TALK_S:.0} s. In mixes, choir and hall a ring has to come back. Aims: 75 % told at 0.8 dB in the main mix, and by a choir's microphone of\n\
         its own loop; the main mix falls short of it, and the hall shows half or fewer, so that it tells what it shows, but none there says\n\
         nothing.\n\n\
         | loop of | under the edge, dB | talker | main mix | hall | choir | with one that the loop has not, in any |\n\
         | --- | --- | --- | --- | --- | --- | --- |\n"
    );
    let mut stage = String::new();
    for (is_choir, of) in [(false, "talker"), (true, "choir")] {
        for under_db in UNDER_DB {
            let one = |seed: u64| told(&heard(seed, under_db, is_choir), is_choir);
            let all: Vec<Told> = CLIPS.into_par_iter().map(one).collect();
            let near = |place: usize| all.iter().filter(|one| one.places[place][0]).count();
            let n_else = all.iter().filter(|one| one.places.iter().any(|place| place[1])).count();
            let _ = writeln!(
                out,
                "| {of} | {under_db} | {} | {} | {} | {} | {n_else} |",
                near(0),
                near(MAIN),
                near(HALL),
                near(CHOIR)
            );
            let n = |of: usize| all.iter().filter(|one| one.stage[of]).count();
            let _ = writeln!(
                stage,
                "| {of} | {under_db} | {} | {} | {} | {} |",
                n(0),
                n(1),
                n(2),
                n(3)
            );
        }
    }
    let _ = write!(
        out,
        "\nAll four together, as the review tells them:\n\n\
         | loop of | under the edge, dB | told of its microphone | told of another channel | with one that the loop has not | told twice |\n\
         | --- | --- | --- | --- | --- | --- |\n{stage}"
    );
    out.push_str(&without());
    out
}

/// Talk that may be taken for a loop.
fn without() -> String {
    let n_clips = CLIPS.count();
    let mut out = format!(
        "\nTalk without any loop in these places, {n_clips} clips each. A reverb effect of 1 to 3 s lies 3 to 18 dB under the talk, a hum 20 to 45 dB, music\n\
         8 to 30 dB, chords and an organ 10 to 30 dB, applause up to 20 dB, tones 20 to 40 dB; the hall has 12 modes of its own below 220 Hz.\n\n\
         | besides | {} | {} | {} |\n| --- | --- | --- | --- |\n",
        PLACES[MAIN], PLACES[HALL], PLACES[CHOIR]
    );
    for (beside, name) in BESIDE_TALK.into_iter().enumerate() {
        let [main, hall, choir] = [MAIN, HALL, CHOIR].map(|place| {
            let is_told = |seed: &u64| {
                let clip = track(&without_loop(*seed, place, beside));
                !near_rings(&clip, &TALK, EARS[place]).is_empty()
            };
            CLIPS.into_par_iter().filter(is_told).count()
        });
        let _ = writeln!(out, "| {name} | {main} | {hall} | {choir} |");
    }
    out
}
