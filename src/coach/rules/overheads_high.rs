//! Overheads higher than the hall needs.
//!
//! Looks at overheads and hi-hat against the whole kit in the mix. Outside only where the drums are known to stand behind a screen or cymbals reach the voices.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SongMix};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "overheads-high",
    title: "Overheads higher than the hall needs",
    group: Group::Balance,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &["cymbal-wash"],
    measures: "Loudness of overheads and hi-hat in the mix minus that of the whole kit, K-weighted, over a song; the middle of all songs.",
    limbs: &[Limb {
        name: "cymbals against the kit",
        unit: Unit::Lu,
        windows: &[Window::near_above(-8.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 30.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "30 s of songs with drums; near at most, since how large the hall is decides.",
    absent: "the mix could not be read back, or no overheads were recorded",
    heard: "{who} {is} high in the mix",
    why: "Cymbals reach the hall from the stage already.",
    advice: &[
        "Pull the overheads down; raise them only if cymbals are missing.",
        "Set a high-pass at 150 to 300 Hz.",
        "Mute the hi-hat.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Where the treble of the mix comes from.",
    fooled_by: "a large hall, drums behind a screen, brushes",
    other_causes: "a kit that is played softly",
    question: "Are the cymbals heard with their faders closed?",
    exercise: "Close the overheads for one song and listen in the hall what is missing, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let mut told: Vec<&SongMix> =
        songs.filter(|song| song.overheads_re_kit_lu.value().is_some()).collect();
    let level = |song: &SongMix| song.overheads_re_kit_lu.value().unwrap_or(0.0);
    told.sort_by(|a, b| level(a).total_cmp(&level(b)));
    let Some(middle) = told.get(told.len() / 2) else { return Vec::new() };
    let Some(first) = middle.overheads.first().and_then(|id| reading.channel(id)) else {
        return Vec::new();
    };
    let length_s: f64 = told.iter().map(|song| song.span.length_s()).sum();
    vec![Observation {
        channels: middle.overheads.clone(),
        songs: vec![middle.title.clone()],
        active_s: length_s,
        affected_s: length_s,
        change_db: Some(-4.0),
        ..pick::through_mix(first, vec![Some(middle.overheads_re_kit_lu.clone())])
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::session::Role;
    use crate::unit::{Fact, Unmeasured};

    fn high(levels_lu: [f64; 2]) -> Reading {
        let mut reading = mixed(vec![channel(7, Role::Overhead), channel(8, Role::Overhead)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        for (song, level_lu) in mix.songs.iter_mut().zip(levels_lu) {
            song.overheads_re_kit_lu = Fact::sure(level_lu, 0.85);
            song.overheads = vec!["ch07".to_owned(), "ch08".to_owned()];
        }
        reading
    }

    #[test]
    fn fires_when_cymbals_lead_the_kit() {
        assert_eq!(only(&RULE, &high([-9.0, -5.0])), Near, "over -8");
        assert_eq!(only(&RULE, &high([-2.0, -1.0])), Near, "near at most: the hall decides");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &high([-10.0, -8.0])), OnTarget, "-8 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_mix_that_is_not_explained() {
        let mut unknown = high([-2.0, -2.0]);
        for song in &mut unknown.mix.as_mut().expect("it was mixed").songs {
            song.overheads_re_kit_lu =
                Fact::missing(Unmeasured::Because("the channels explain too little of the mix"));
        }
        assert!(judged(&RULE, &unknown).is_empty(), "nothing is told");
    }
}
