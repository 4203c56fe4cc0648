//! Voice covered where words are told apart.
//!
//! Looks at how much of the lead voice stands out between 800 Hz and 4 kHz, song by song. Never speaks of less than 30 s of singing.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{LeadMix, Reading, SongMix};
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "band-audibility step of ANSI S3.5-1997 (for speech good above 0.75, poor below 0.45, from memory)",
);

pub(super) const RULE: Rule = Rule {
    id: "voice-masked",
    title: "Voice covered in the 1-4 kHz range",
    group: Group::Balance,
    tier: Tier::B,
    effect: 4,
    ease: 2,
    explains: &[],
    measures: "Audibility index: mean over third-octaves from 800 Hz to 4 kHz of (voice minus rest + 15) / 30, held within 0 and 1, weighted by their importance for speech; the worst song counts.",
    limbs: &[Limb {
        name: "audibility",
        unit: Unit::Ratio,
        windows: &[
            Window::at_least(0.4, 0.3, SOURCE).variant("loud-band"),
            Window::at_least(0.4, 0.3, SOURCE).variant("choir-led"),
            Window::at_least(0.5, 0.4, SOURCE),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 30.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "30 s of the voice in the song; the channels explain 0.6 of the mix or more; the style moves the target.",
    absent: "the mix could not be read back, or no lead voice sings in a song",
    heard: "{who} {is} covered where words are told apart",
    why: "Of two sounds in one range the louder wins, and words go.",
    advice: &[
        "Lower or thin out what covers it while the voice sings: a simpler part, another octave.",
        "Dip that channel by 2 to 4 dB around the covered frequency, wide.",
        "Pan guitars and keys apart only where the whole hall hears both sides.",
        "Lift the voice last.",
    ],
    backing: &[SOURCE],
    shows: "Voice and rest by third-octave, and what covers it most.",
    fooled_by: "backing voices in unison, and consonants, which are short",
    other_causes: "a part written on top of the voice",
    question: "What plays in the same range as the words?",
    exercise: "Mute one channel after the other during a verse and listen when the words come out, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    worst(reading)
        .into_iter()
        .filter_map(|(song, lead)| {
            let channel = reading.channel(&lead.channel)?;
            let by = lead.covered_by.as_ref().and_then(|id| reading.channel(id));
            let detail = by.zip(lead.covered_hz.value()).map(|(by, hz)| {
                format!("It is covered most around {hz:.0} Hz, there by {}.", by.name).into()
            });
            Some(Observation {
                songs: vec![song.title.clone()],
                evidence: lead.buried.clone(),
                active_s: lead.sung_s,
                affected_s: lead.sung_s,
                variant: pick::style(reading),
                detail,
                ..pick::through_mix(channel, vec![Some(lead.audibility_index.clone())])
            })
        })
        .collect()
}

/// Each lead voice in the song in which it is covered most; where nothing tells, in its first.
fn worst(reading: &Reading) -> Vec<(&SongMix, &LeadMix)> {
    let index = |lead: &LeadMix| lead.audibility_index.value().unwrap_or(f64::INFINITY);
    let mut worst: Vec<(&SongMix, &LeadMix)> = Vec::new();
    for song in reading.mix.iter().flat_map(|mix| &mix.songs) {
        for lead in song.leading() {
            match worst.iter_mut().find(|(_, known)| known.channel == lead.channel) {
                Some(known) if index(lead) < index(known.1) => *known = (song, lead),
                Some(_) => {}
                None => worst.push((song, lead)),
            }
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::session::Role;
    use crate::unit::Fact;

    fn sung(index: f64) -> Reading {
        let mut reading = mixed(vec![channel(12, Role::Keys), channel(17, Role::LeadVocal)]);
        for song in &mut reading.mix.as_mut().expect("it was mixed").songs {
            song.leads[0].audibility_index = Fact::sure(index, 0.9);
            song.leads[0].covered_by = Some("ch12".to_owned());
        }
        reading
    }

    #[test]
    fn fires_when_words_are_covered() {
        assert_eq!(only(&RULE, &sung(0.45)), Near, "below 0.5");
        let judgement = &judged(&RULE, &sung(0.2))[0];
        assert_eq!(judgement.outcome, Outside, "below 0.4");
        let detail = judgement.observation.detail.as_deref().unwrap_or_default();
        assert!(detail.contains("1000 Hz") && detail.contains("keys 12"), "{detail}");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &sung(0.5)), OnTarget, "0.5 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_few_words() {
        let mut reading = sung(0.1);
        for song in &mut reading.mix.as_mut().expect("it was mixed").songs {
            song.leads[0].sung_s = 25.0;
        }
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "25 s are too short");
    }
}
