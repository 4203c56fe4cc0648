//! Lead voice too low against the band.
//!
//! Looks at the lead voice against the rest of the mix, song by song. Never speaks of the hall, which hears the stage as well.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{LeadMix, Reading};
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "recordings of 1946 to 2020: lead over accompaniment fell from about 5 to 1 dB, about 0 in rock and below in metal (Gerdes and Siedenburg, JASA Express Letters 2023)",
);
/// What a single step of a fader may be, in dB.
const MOST_STEP_DB: f64 = 6.0;

pub(super) const RULE: Rule = Rule {
    id: "voice-buried",
    title: "Lead voice too low against the band",
    group: Group::Balance,
    tier: Tier::A,
    effect: 4,
    ease: 1,
    explains: &["voice-masked", "lead-taken-over"],
    measures: "Loudness of the lead voice in the mix minus that of everything else, K-weighted, 3 s, median while it sings; and the share of that time below -4 LU; song by song.",
    limbs: &[
        Limb {
            name: "voice against band",
            unit: Unit::Lu,
            windows: &[
                Window::at_least(-3.0, -6.0, SOURCE).variant("loud-band"),
                Window::at_least(0.0, -3.0, SOURCE).variant("acoustic"),
                Window::at_least(-4.0, -8.0, Source::CommonPractice).variant("choir-led"),
                Window::at_least(-1.0, -4.0, SOURCE),
            ],
        },
        Limb {
            name: "time below -4 LU",
            unit: Unit::Percent,
            windows: &[
                Window::at_most(60.0, 60.0, Source::CommonPractice).variant("loud-band"),
                Window::at_most(20.0, 20.0, Source::CommonPractice).variant("acoustic"),
                Window::at_most(60.0, 60.0, Source::CommonPractice).variant("choir-led"),
                Window::at_most(30.0, 30.0, Source::CommonPractice),
            ],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "20 s of the voice in the song; the channels explain 0.6 of the mix or more; the style moves the target; said of the mix, not of the hall. A voice that mostly sings along with one that is 3 LU louder may be a backing voice.",
    absent: "the mix could not be read back, or no lead voice sings in a song",
    heard: "{who} {is} below the band",
    why: "If the words are lost, the song is lost.",
    advice: &[
        "Ask the loudest source of the band for a little less.",
        "Lower what competes by 2 to 3 dB rather than pushing the voice.",
        "Bring the voice up by about {db}, as far as feedback allows.",
        "Ride the fader: up in verses, choruses follow.",
    ],
    backing: &[SOURCE, Source::CommonPractice],
    shows: "The voice against the band over the song, the worst passage marked, and what competes most.",
    fooled_by: "a hall in which drums are heard from the stage: there the voice is lower still",
    other_causes: "backing singers on the same line, or the style of the song",
    question: "Which words could not be understood?",
    exercise: "Bring the band down until every word of a verse is clear, then back to just before a word is lost, 5 minutes.",
    praise: Some("The lead voice stood over the band in every song, {value} at worst."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let leads = songs.flat_map(|song| song.leads.iter().map(move |lead| (song, lead)));
    leads
        .filter_map(|(song, lead)| {
            let channel = reading.channel(&lead.channel)?;
            let percent = lead.buried_percent.value().unwrap_or(0.0);
            let observation = Observation {
                also: lead.taken_over.iter().map(|one| one.channel.clone()).collect(),
                songs: vec![song.title.clone()],
                evidence: lead.buried.clone(),
                active_s: lead.sung_s,
                affected_s: lead.sung_s * percent / 100.0,
                variant: pick::style(reading),
                change_db: change_db(lead),
                detail: Some(format!("In {}.", song.title).into()),
                unexplained_by: if is_lifted(reading, lead) { &["gain-too-low"] } else { &[] },
                ..pick::through_mix(
                    channel,
                    vec![Some(lead.over_rest_lu.clone()), Some(lead.buried_percent.clone())],
                )
            };
            Some(match song.leader_of(lead) {
                Some(_) => observation.withheld(ALONG),
                None => observation,
            })
        })
        .collect()
}

/// Why a voice is not judged as the lead.
const ALONG: &str = "it sings along with a louder voice, so that it may be a backing voice";

/// Whether the fader makes up for what the gain lacks: the voice is as high in the mix as anywhere else that evening.
fn is_lifted(reading: &Reading, lead: &LeadMix) -> bool {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    let same = songs.flat_map(|song| &song.leads).filter(|one| one.channel == lead.channel);
    let gains: Vec<f64> = same.filter_map(|one| one.gain_db.value()).collect();
    let highest = gains.iter().copied().fold(f64::MIN, f64::max);
    let lowest = gains.iter().copied().fold(f64::MAX, f64::min);
    let is_near = lead.gain_db.value().is_some_and(|gain_db| gain_db > highest - SAME_DB);
    is_near && highest - lowest > SAME_DB
}

/// Gains within this are the same, in dB.
const SAME_DB: f64 = 3.0;

/// Up to the target, by whole decibels and no more than a step.
fn change_db(lead: &LeadMix) -> Option<f64> {
    let missing_lu = -1.0 - lead.over_rest_lu.value()?;
    (missing_lu > 0.0).then(|| missing_lu.ceil().min(MOST_STEP_DB))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{self, Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::session::Role;
    use crate::unit::{Fact, Unmeasured};

    fn sung(over_lu: &[f64], buried_percent: f64) -> Reading {
        let mut reading = mixed(vec![channel(17, Role::LeadVocal)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        for (song, over_lu) in mix.songs.iter_mut().zip(over_lu) {
            song.leads[0].over_rest_lu = Fact::sure(*over_lu, 0.9);
            song.leads[0].buried_percent = Fact::sure(buried_percent, 0.9);
        }
        reading
    }

    #[test]
    fn fires_in_each_song_by_itself() {
        let judgements = judged(&RULE, &sung(&[1.0, -2.5], 10.0));
        assert_eq!(
            [&judgements[0].outcome, &judgements[1].outcome],
            [&OnTarget, &Near],
            "each song"
        );
        let judgement = &judged(&RULE, &sung(&[-11.0, -2.0], 10.0))[0];
        assert_eq!(judgement.outcome, Outside, "below -4");
        assert_eq!(judgement.measured[0].change_db, Some(6.0), "no more than a step");
        assert_eq!(only(&RULE, &sung(&[0.0, 0.0], 40.0)), Outside, "a third of the words");
    }

    #[test]
    fn stays_quiet_at_the_edge() {
        assert_eq!(only(&RULE, &sung(&[-1.0, 3.0], 30.0)), OnTarget, "-1 is inside");
    }

    /// Two voices by the names of lead voices: how many of 40 windows both sing, the other louder.
    fn sung_by_two(n_along: usize) -> Reading {
        let mut reading = sung(&[-9.0, -9.0], 80.0);
        let song = &mut reading.mix.as_mut().expect("it was mixed").songs[0];
        song.leads[0].over_rest_each_second_lu = vec![Some(-9.0); 40];
        let mut other = song.leads[0].clone();
        other.channel = "ch18".to_owned();
        other.over_rest_lu = Fact::sure(1.0, 0.9);
        other.buried_percent = Fact::sure(0.0, 0.9);
        other.over_rest_each_second_lu = (0..40).map(|at| (at < n_along).then_some(1.0)).collect();
        song.leads.push(other);
        reading.mix.as_mut().expect("it was mixed").songs.truncate(1);
        reading.channels.push(channel(18, Role::LeadVocal));
        reading
    }

    #[test]
    fn is_not_fooled_by_a_backing_voice_that_is_named_like_a_lead() {
        let outcomes = |n_along: usize| -> Vec<Outcome> {
            let reading = sung_by_two(n_along);
            judged(&RULE, &reading).iter().map(|one| one.outcome.clone()).collect()
        };
        let [along, lead] = &outcomes(36)[..] else { panic!("two voices") };
        assert!(matches!(along, NotJudged(why) if why.contains("sings along")), "{along:?}");
        assert_eq!(*lead, OnTarget, "the louder one is judged");
        assert_eq!(outcomes(20)[0], Outside, "half of the song is its own");
    }

    #[test]
    fn is_not_fooled_by_style_or_by_a_mix_that_is_not_explained() {
        let mut loud = sung(&[-2.5, -2.0], 50.0);
        loud.session.style = "loud-band".to_owned();
        assert_eq!(only(&RULE, &loud), OnTarget, "a loud band sings lower");
        let mut unknown = sung(&[-9.0, -9.0], 90.0);
        for song in &mut unknown.mix.as_mut().expect("it was mixed").songs {
            song.leads[0].over_rest_lu =
                Fact::missing(Unmeasured::Because("the channels explain too little of the mix"));
            song.leads[0].buried_percent = song.leads[0].over_rest_lu.clone();
        }
        assert!(matches!(only(&RULE, &unknown), NotJudged(_)), "nothing is told");
    }
}
