//! Backing voices cannot be heard.
//!
//! Looks at each backing voice against the lead while both sing, in its best song. Never speaks of a singer whose microphone hears mostly others.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::BackingMix;
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "backing-lost",
    title: "Backing voices cannot be heard",
    group: Group::Balance,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Loudness in the mix of a backing voice minus that of the lead, K-weighted, 3 s, while both sing; its best song counts.",
    limbs: &[Limb {
        name: "backing voice against the lead",
        unit: Unit::Lu,
        windows: &[Window::at_least(-12.0, -18.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards {
        min_active_s: 20.0,
        min_own_to_spill_db: Some(8.0),
        min_confidence: 0.6,
        ..Guards::USUAL
    },
    guard_text: "20 s in which both sing; own-to-spill of 8 dB or more; the channels explain 0.6 of the mix or more.",
    absent: "the mix could not be read back, or no backing voice sings with a lead",
    heard: "{who} {is} hardly in the mix",
    why: "A voice that nobody hears sings for nothing.",
    advice: &[
        "Open the channel and bring the voices to a blend under the lead.",
        "Give all backing microphones the same gain and distance.",
        "Ask the singer to come closer.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A bar for each voice, and the seconds that were sung unheard.",
    fooled_by: "a singer who sings along for pleasure",
    other_causes: "a spare microphone",
    question: "Which voices can be told apart in this chorus?",
    exercise: "Close all voices but one, name it, and go on to the next, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::in_mix(reading, &[Role::BackingVocal])
        .filter_map(|(channel, _)| {
            let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
            let sung = songs.flat_map(|song| song.backing.iter().map(move |voice| (song, voice)));
            let (song, voice) =
                sung.filter(|(_, voice)| voice.channel == channel.id).max_by(|a, b| {
                    let over = |one: &BackingMix| one.over_lead_lu.value().unwrap_or(f64::MIN);
                    over(a.1).total_cmp(&over(b.1))
                })?;
            Some(Observation {
                songs: vec![song.title.clone()],
                evidence: voice.evidence.clone(),
                active_s: voice.together_s,
                affected_s: voice.together_s,
                change_db: Some(3.0),
                ..pick::through_mix(channel, vec![Some(voice.over_lead_lu.clone())])
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{backing, only};
    use crate::unit::Fact;

    #[test]
    fn fires_when_a_voice_is_lost() {
        assert_eq!(only(&RULE, &backing(&[-15.0, -9.0], -8.0)), Near, "below -12");
        assert_eq!(only(&RULE, &backing(&[-20.0, -9.0], -8.0)), Outside, "below -18");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &backing(&[-12.0, -9.0], -8.0)), OnTarget, "-12 is inside");
    }

    #[test]
    fn is_not_fooled_by_spill() {
        let mut spill = backing(&[-20.0, -9.0], -8.0);
        spill.channels[1].own_to_spill_db = Fact::exact(5.0);
        assert!(matches!(only(&RULE, &spill), NotJudged(_)), "it hears mostly others");
    }
}
