//! Lead voice far above the band.
//!
//! Looks at the lead voice against the rest of the mix, song by song. Judges nothing without a hall microphone: what the hall hears of the band from the stage is not in the mix.

use super::stage_loud;
use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::{Role, Tap};
use crate::unit::Unit;
use crate::unit::spans::{both, longest};

const SOURCE: Source = Source::Published(
    "recordings of 1946 to 2020: lead over accompaniment up to about 5 dB on average (Gerdes and Siedenburg, JASA Express Letters 2023)",
);
/// Steps by which the rest comes up, in dB.
const MOST_STEP_DB: f64 = 3.0;
/// Passages that are told.
const EVIDENCE: usize = 3;
/// Upper edge of the target, in LU.
const MOST_LU: f64 = 6.0;

pub(super) const RULE: Rule = Rule {
    id: "voice-on-top",
    title: "Lead voice far above the band",
    group: Group::Balance,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness of the lead voice in the mix minus that of everything else, K-weighted, 3 s, median while it sings; song by song.",
    limbs: &[Limb {
        name: "voice against band",
        unit: Unit::Lu,
        windows: &[
            Window::at_most(9.0, 12.0, Source::CommonPractice).variant("choir-led"),
            Window::at_most(9.0, 12.0, Source::CommonPractice).variant("acoustic"),
            Window::at_most(MOST_LU, 9.0, SOURCE),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "20 s of the voice in the song; only with a hall microphone: where the stage is heard in the hall, a mix with much voice is right.",
    absent: "the mix could not be read back, or no lead voice sings in a song",
    heard: "{who} {is} far above the band",
    why: "The band sounds small, and every breath is exposed.",
    advice: &[
        "Bring keys and guitars up by 2 to 3 dB before lowering the voice.",
        "Check it by ear in the hall, not on headphones.",
    ],
    backing: &[SOURCE, Source::CommonPractice],
    shows: "The voice against the band over the song, and the softest channels.",
    fooled_by: "a small hall with a loud stage, and speech over music",
    other_causes: "a band that plays softer than at the sound check",
    question: "Which instruments could be heard in the hall without the loudspeakers?",
    exercise: "Bring one instrument up until it is missed when it goes, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let has_room = reading
        .channels
        .iter()
        .any(|channel| channel.role == Role::Room || channel.tap == Tap::Room);
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let leads = songs.flat_map(|song| song.leads.iter().map(move |lead| (song, lead)));
    leads
        .filter_map(|(song, lead)| {
            let channel = reading.channel(&lead.channel)?;
            let observation = Observation {
                songs: vec![song.title.clone()],
                evidence: longest(&both(&channel.active, &[song.span]), EVIDENCE),
                active_s: lead.sung_s,
                affected_s: lead.sung_s,
                variant: pick::style(reading),
                change_db: change_db(lead.over_rest_lu.value()),
                detail: Some(format!("In {}.", song.title).into()),
                ..pick::through_mix(channel, vec![Some(lead.over_rest_lu.clone())])
            };
            Some(if !has_room {
                observation.withheld("only a hall microphone tells what the hall hears of the band")
            } else if is_stage_loud(reading, &song.title) {
                observation.withheld("the hall hears the band from the stage as well")
            } else {
                observation
            })
        })
        .collect()
}

/// Whether the stage is surely above its target in a song, at a hall microphone.
fn is_stage_loud(reading: &Reading, title: &str) -> bool {
    let songs = reading.room.iter().flat_map(|room| &room.songs);
    songs
        .filter(|song| song.title == title)
        .any(|song| song.stage_db.ends().is_some_and(|[low, _]| low > stage_loud::MOST_DB))
}

/// Down to the target, by whole decibels and no more than a step.
fn change_db(over_lu: Option<f64>) -> Option<f64> {
    let beyond_lu = over_lu? - MOST_LU;
    (beyond_lu > 0.0).then(|| -beyond_lu.ceil().min(MOST_STEP_DB))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only, with_room};
    use crate::unit::Fact;

    fn sung(over_lu: f64, with_room: bool) -> Reading {
        let mut channels = vec![channel(17, Role::LeadVocal)];
        channels.extend(with_room.then(|| channel(28, Role::Room)));
        let mut reading = mixed(channels);
        for song in &mut reading.mix.as_mut().expect("it was mixed").songs {
            song.leads[0].over_rest_lu = Fact::sure(over_lu, 0.9);
        }
        reading
    }

    #[test]
    fn fires_when_the_band_is_small() {
        assert_eq!(only(&RULE, &sung(7.0, true)), Near, "over 6");
        assert_eq!(only(&RULE, &sung(9.5, true)), Outside, "over 9");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &sung(6.0, true)), OnTarget, "6 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_hall_that_nobody_recorded() {
        assert!(matches!(only(&RULE, &sung(12.0, false)), NotJudged(_)), "the stage may be loud");
        let mut loud = sung(12.0, true);
        loud.room = with_room(|room| {
            for song in &mut room.songs {
                song.stage_db = Fact::Range { low: -4.0, high: 1.0, confidence: 0.7 };
            }
        })
        .room;
        assert!(matches!(only(&RULE, &loud), NotJudged(_)), "the stage is heard in the hall");
        let mut acoustic = sung(8.0, true);
        acoustic.session.style = "acoustic".to_owned();
        assert_eq!(only(&RULE, &acoustic), OnTarget, "words come first there");
    }
}
