//! Backing voices above the lead.
//!
//! Looks at backing voices against the lead while both sing; the worst song counts. Never guesses who leads: the lead is the lead voice that sings longest.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{BackingMix, Reading, SongMix};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "backing-over-lead",
    title: "Backing voices above the lead",
    group: Group::Balance,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["voice-buried"],
    measures: "Loudness in the mix of all backing voices together minus the lead, and of the loudest single one, K-weighted, 3 s, while both sing; the worst song counts.",
    limbs: &[
        Limb {
            name: "all backing voices against the lead",
            unit: Unit::Lu,
            windows: &[Window::at_most(-1.0, 2.0, Source::CommonPractice)],
        },
        Limb {
            name: "one backing voice against the lead",
            unit: Unit::Lu,
            windows: &[Window::at_most(-3.0, 0.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 10.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "10 s in which both sing; the channels explain 0.6 of the mix or more.",
    absent: "the mix could not be read back, or no backing voice sings with a lead",
    heard: "{who} {is} above the lead",
    why: "The ear follows the loudest voice and loses the tune.",
    advice: &[
        "Lower the loudest backing voice by 2 to 3 dB.",
        "Check which microphone the lead uses tonight.",
        "Ask backing singers to stand half a step back.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A bar for each voice in the chorus that is named.",
    fooled_by: "duets, and choruses in unison",
    other_causes: "a lead who changes from song to song",
    question: "Whose voice carries the tune in this chorus?",
    exercise: "Bring the backing voices from nothing to just under the lead, by ear, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let told = songs.filter_map(|song| Some((song, loudest(song)?)));
    let worst = told.max_by(|a, b| over_lu(a.1).total_cmp(&over_lu(b.1)));
    worst
        .and_then(|(song, voice)| {
            let channel = reading.channel(&voice.channel)?;
            let facts =
                vec![Some(song.backing_over_lead_lu.clone()), Some(voice.over_lead_lu.clone())];
            Some(Observation {
                also: vec![voice.lead.clone()],
                songs: vec![song.title.clone()],
                evidence: voice.evidence.clone(),
                active_s: voice.together_s,
                affected_s: voice.together_s,
                change_db: Some(-3.0),
                ..pick::through_mix(channel, facts)
            })
        })
        .into_iter()
        .collect()
}

fn loudest(song: &SongMix) -> Option<&BackingMix> {
    let told = song.backing.iter().filter(|voice| voice.over_lead_lu.value().is_some());
    told.max_by(|a, b| over_lu(a).total_cmp(&over_lu(b)))
}

fn over_lu(voice: &BackingMix) -> f64 {
    voice.over_lead_lu.value().unwrap_or(f64::NEG_INFINITY)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{backing, judged, only};
    use crate::session::Role;

    #[test]
    fn fires_when_a_backing_voice_is_louder_than_the_lead() {
        assert_eq!(only(&RULE, &backing(&[-2.0, -9.0], 0.0)), Near, "one over -3");
        let judgement = &judged(&RULE, &backing(&[1.5, -9.0], 3.0))[0];
        assert_eq!(judgement.outcome, Outside, "one over the lead");
        assert_eq!(judgement.channels, ["ch18"], "the loudest is named");
    }

    #[test]
    fn stays_quiet_at_the_edges() {
        assert_eq!(only(&RULE, &backing(&[-3.0, -8.0], -1.0)), OnTarget, "-3 and -1 are inside");
    }

    #[test]
    fn is_not_fooled_by_a_few_notes_or_by_other_roles() {
        let mut short = backing(&[2.0, -9.0], 3.0);
        for voice in &mut short.mix.as_mut().expect("it was mixed").songs[0].backing {
            voice.together_s = 6.0;
        }
        assert!(matches!(only(&RULE, &short), NotJudged(_)), "6 s are too short");
        let mut other = backing(&[2.0, -9.0], 3.0);
        other.channels[1].role_by_sound = Some(Role::LeadVocal);
        assert!(matches!(only(&RULE, &other), NotJudged(_)), "it may be the lead");
    }
}
