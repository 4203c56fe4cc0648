//! An instrument takes over while the voice sings.
//!
//! Looks at instruments that are louder in the mix than the lead voice while it sings; the worst song counts. Judges drums by their loudness over 3 s only.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::reading::{LeadMix, SongMix, TakenOver};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "lead-taken-over",
    title: "An instrument takes over while the voice sings",
    group: Group::Balance,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Share of the time in which the lead voice sings and one instrument is more than 2 LU louder in the mix, K-weighted, 3 s; the worst song counts.",
    limbs: &[Limb {
        name: "louder than the voice",
        unit: Unit::Percent,
        windows: &[
            Window::at_most(30.0, 60.0, Source::CommonPractice).variant("loud-band"),
            Window::at_most(10.0, 25.0, Source::CommonPractice),
        ],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "20 s of the voice in the song; the channels explain 0.6 of the mix or more; the style moves the target.",
    absent: "the mix could not be read back, or no lead voice sings in a song",
    heard: "{who} {is} louder than the voice while it sings",
    why: "The instrument tells the story instead of the singer.",
    advice: &[
        "Ask the player to leave room under the words.",
        "Bring the fader back after a solo, and mark the place.",
        "Lower it by about 3 dB in verses.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A lane of the voice and of that instrument, with the times.",
    fooled_by: "call and response, or spoken words over a loud beat",
    other_causes: "a part that was arranged as loud as the voice",
    question: "Where does the ear go in this verse: to the words or to the instrument?",
    exercise: "Find, in one song, every place where an instrument is louder than the words, with a pencil, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(mix) = &reading.mix else { return Vec::new() };
    let mut worst: Vec<(&SongMix, &LeadMix, &TakenOver)> = Vec::new();
    for song in &mix.songs {
        for lead in song.leading() {
            for one in &lead.taken_over {
                let share = |one: &TakenOver| one.share_percent.value().unwrap_or(0.0);
                match worst.iter_mut().find(|(_, _, known)| known.channel == one.channel) {
                    Some(known) if share(known.2) < share(one) => *known = (song, lead, one),
                    Some(_) => {}
                    None => worst.push((song, lead, one)),
                }
            }
        }
    }
    worst
        .into_iter()
        .filter_map(|(song, lead, one)| {
            let channel = reading.channel(&one.channel)?;
            let percent = one.share_percent.value().unwrap_or(0.0);
            Some(Observation {
                songs: vec![song.title.clone()],
                evidence: one.evidence.clone(),
                active_s: lead.sung_s,
                affected_s: lead.sung_s * percent / 100.0,
                variant: pick::style(reading),
                change_db: Some(-3.0),
                ..pick::through_mix(channel, vec![Some(one.share_percent.clone())])
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::session::Role;
    use crate::unit::{Fact, Span};

    fn over(percents: &[f64]) -> Reading {
        let mut reading =
            mixed(vec![channel(12, Role::ElectricGuitar), channel(17, Role::LeadVocal)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        for (song, percent) in mix.songs.iter_mut().zip(percents) {
            song.leads[0].taken_over = vec![TakenOver {
                channel: "ch12".to_owned(),
                share_percent: Fact::sure(*percent, 0.85),
                over_voice_lu: Fact::sure(4.0, 0.85),
                evidence: vec![Span::new(150.0, 160.0)],
            }];
        }
        reading
    }

    #[test]
    fn fires_on_the_worst_song() {
        assert_eq!(only(&RULE, &over(&[5.0, 18.0])), Near, "over 10 %");
        let judgement = &judged(&RULE, &over(&[38.0, 5.0]))[0];
        assert_eq!(judgement.outcome, Outside, "over 25 %");
        assert_eq!(judgement.channels, ["ch12"], "the instrument is named");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &over(&[10.0, 0.0])), OnTarget, "10 % is inside");
    }

    #[test]
    fn is_not_fooled_by_a_loud_style() {
        let mut reading = over(&[30.0, 10.0]);
        reading.session.style = "loud-band".to_owned();
        assert_eq!(only(&RULE, &reading), OnTarget, "a loud band plays over its singer");
    }
}
