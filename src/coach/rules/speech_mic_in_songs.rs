//! Speech microphone open during songs.
//!
//! Looks at how long a speech channel is open in songs while nobody speaks into it. Never speaks of a talker who sings.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::reading::SegmentKind;
use crate::session::Role;
use crate::unit::Span;
use crate::unit::Unit;
use crate::unit::spans::{both, total_s};

pub(super) const RULE: Rule = Rule {
    id: "speech-mic-in-songs",
    title: "Speech microphone open during songs",
    group: Group::Habits,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &["open-mics"],
    measures: "Share of the songs in which a speech channel is open in the mix while its talker is silent.",
    limbs: &[Limb {
        name: "open and silent in songs",
        unit: Unit::Percent,
        windows: &[Window::at_most(5.0, 30.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 30.0, ..Guards::USUAL },
    guard_text: "30 s of songs; the talker is silent in nearly all of them.",
    absent: "the mix could not be read back",
    heard: "{who} {is} open during songs",
    why: "It adds stage sound and feedback risk for nothing.",
    advice: &[
        "Mute the speech microphone as the first bar starts.",
        "Put all speech microphones on one mute group.",
    ],
    backing: &[Source::CommonPractice],
    shows: "A lane of the channel: open and silent.",
    fooled_by: "a talker who leads the singing",
    other_causes: "a spoken part in the song",
    question: "What tells that the talk is over?",
    exercise: "Mute the speech microphone on the first beat of five songs, 3 minutes.",
    praise: Some("The speech microphones were closed during songs."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let songs: Vec<Span> =
        reading.segments_of(SegmentKind::Song).map(|segment| segment.span).collect();
    let song_s = total_s(&songs);
    pick::in_mix(reading, &[Role::Speech])
        .filter(|_| song_s > 0.0)
        .map(|(channel, in_mix)| {
            let spoken_s = total_s(&both(&channel.active, &songs));
            let percent = in_mix.idle_open_in_songs_percent.clone();
            Observation {
                evidence: in_mix.idle_open.clone(),
                active_s: song_s,
                affected_s: song_s * percent.ends().map_or(0.0, |ends| ends[0]) / 100.0,
                ..pick::through_mix(channel, vec![Some(percent)])
            }
            .doubted(spoken_s > SPEAKS * song_s, "the talker speaks or sings in the songs")
        })
        .collect()
}

/// A talker who sounds in more of the songs takes part in them.
const SPEAKS: f64 = 0.1;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only};
    use crate::unit::Fact;

    fn open(percent: f64) -> Reading {
        let mut host = channel(21, Role::Speech);
        host.active = vec![Span::new(10.0, 95.0), Span::new(410.0, 590.0)];
        let mut reading = mixed(vec![host]);
        reading.mix.as_mut().expect("it was mixed").channels[0].idle_open_in_songs_percent =
            Fact::sure(percent, 0.9);
        reading
    }

    #[test]
    fn fires_when_it_stays_open() {
        assert_eq!(only(&RULE, &open(12.0)), Near, "over 5 %");
        assert_eq!(only(&RULE, &open(46.0)), Outside, "over 30 %");
    }

    #[test]
    fn stays_quiet_at_the_first_bar() {
        assert_eq!(only(&RULE, &open(5.0)), OnTarget, "5 % is inside");
    }

    #[test]
    fn is_not_fooled_by_a_talker_who_sings() {
        let mut reading = open(46.0);
        reading.channels[0].active = vec![Span::new(10.0, 590.0)];
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "the talker takes part");
    }
}
