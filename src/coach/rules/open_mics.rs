//! Idle microphones left open.
//!
//! Looks at how many microphones are open in the mix while their players rest. Counts the kit as one, and never a rest below 20 s.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Idle, Reading, SongMix};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "open-mics",
    title: "Idle microphones left open",
    group: Group::Feedback,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &["cymbal-wash", "ring-near"],
    measures: "How many microphones are open in the mix at a time while their source rests for more than 20 s, mean over each song, and over talk.",
    limbs: &[Limb {
        name: "idle open microphones",
        unit: Unit::Count,
        windows: &[Window::between([0.0, 2.0], [0.0, 5.0], SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 30.0, ..Guards::USUAL },
    guard_text: "30 s of the song or of talk; rests above 20 s only; the kit counts as one; only where the mix tells whether a channel is open.",
    absent: "the mix could not be read back",
    heard: "{who} {is} open while nobody uses them",
    why: "Open microphones add stage sound and bring feedback closer, and no music.",
    advice: &[
        "Close a microphone when its player leaves it.",
        "Use mute groups: speech, choir, backing voices, drums.",
        "Turn down by 10 to 15 dB instead of muting where entries come suddenly.",
    ],
    backing: &[SOURCE],
    shows: "A lane for each microphone: open and idle in grey, and what it costs in dB.",
    fooled_by: "singers who wait for the chorus",
    other_causes: "one microphone that hears for several players",
    question: "Which microphones does nobody use in this song?",
    exercise: "Close every microphone that rests, through one song, and open each before its next word, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(mix) = &reading.mix else { return Vec::new() };
    let observation = |idle: &Idle, part: &str, songs: Vec<String>| Observation {
        channels: idle.channels.clone(),
        subject: idle.channels.is_empty().then_some("The microphones"),
        songs,
        evidence: idle.evidence.clone(),
        affected_s: idle.looked_at_s,
        active_s: idle.looked_at_s,
        detail: idle.cost_db.value().filter(|cost_db| *cost_db >= LEAST_COST_DB).map(|cost_db| {
            format!("In {part} this costs about {cost_db:.0} dB of gain before feedback.").into()
        }),
        ..Observation::of_session(vec![Some(idle.mean_count.clone())], idle.looked_at_s)
    };
    let in_song = |song: &SongMix| {
        Some(observation(song.idle.as_ref()?, &song.title, vec![song.title.clone()]))
    };
    let in_talk = [&mix.idle_in_talk].into_iter().filter(|idle| idle.looked_at_s > 0.0);
    let in_talk = in_talk.map(|idle| observation(idle, "talk", Vec::new()));
    mix.songs.iter().filter_map(in_song).chain(in_talk).collect()
}

/// A smaller cost is not worth a sentence, in dB.
const LEAST_COST_DB: f64 = 1.0;

const SOURCE: Source = Source::Published(
    "each doubling of open microphones costs 3 dB of gain before feedback: 10 lg of their number (Davis and Patronis, Sound System Engineering, from memory)",
);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};
    use crate::session::Role;
    use crate::unit::Fact;

    fn idle(mean_count: f64) -> Reading {
        let mut reading = mixed(vec![channel(5, Role::Choir), channel(6, Role::Speech)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        mix.songs[0].idle = Some(Idle {
            mean_count: Fact::sure(mean_count, 0.9),
            channels: vec!["ch05".to_owned(), "ch06".to_owned()],
            cost_db: Fact::sure(2.4, 0.9),
            ..mix.idle_in_songs.clone()
        });
        reading
    }

    #[test]
    fn fires_when_many_stand_open() {
        assert_eq!(only(&RULE, &idle(2.5)), Near, "over 2");
        assert_eq!(only(&RULE, &idle(6.0)), Outside, "over 5");
    }

    #[test]
    fn stays_quiet_at_two() {
        assert_eq!(only(&RULE, &idle(2.0)), OnTarget, "2 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_short_song() {
        let mut reading = idle(6.0);
        let mix = reading.mix.as_mut().expect("it was mixed");
        mix.songs[0].idle.as_mut().expect("it was looked at").looked_at_s = 20.0;
        assert!(matches!(judged(&RULE, &reading)[0].outcome, NotJudged(_)), "20 s are too short");
    }
}
