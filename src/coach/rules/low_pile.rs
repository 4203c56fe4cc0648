//! Low end builds up from many channels.
//!
//! Looks at which channels feed the low end of the mix in songs. Kick, bass, toms, keys and playback belong there and are not counted.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::SegmentKind;
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::Fact;
use crate::unit::Unit;

/// What has low notes of its own.
const LOW_ROLES: &[Role] =
    &[Role::Kick, Role::Bass, Role::Tom, Role::Keys, Role::Playback, Role::Percussion];
/// Share of the low end of the mix from which on a channel adds to it, in percent.
const ADDS_PERCENT: f64 = 3.0;
/// Channels that a sentence names.
const NAMED: usize = 3;

pub(super) const RULE: Rule = Rule {
    id: "low-pile",
    title: "Low end builds up from many channels",
    group: Group::Tone,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["mud", "mix-tilt"],
    measures: "How many channels other than kick, bass, toms, keys and playback each give 3 % or more of the mix between 56 and 224 Hz, in songs.",
    limbs: &[Limb {
        name: "channels that add to the low end",
        unit: Unit::Count,
        windows: &[Window::at_most(2.0, 4.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards { min_active_s: 60.0, min_confidence: 0.6, ..Guards::USUAL },
    guard_text: "A minute of songs; what reaches the mix counts, spill of the bass as well.",
    absent: "the mix could not be read back, or no song was found",
    heard: "{who} {is} piling up in the low end",
    why: "Ten channels with a little rumble make one muddy mix.",
    advice: &[
        "Set a high-pass on every channel that needs no lows.",
        "Lower wedges and the bass amplifier.",
        "Take lows off keys and guitars with a shelf then.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Who feeds the range from 56 to 224 Hz.",
    fooled_by: "spill of the bass, which reaches the mix all the same",
    other_causes: "a low instrument among them",
    question: "Which channels would nobody miss below 100 Hz?",
    exercise: "Switch the high-pass of five channels on and off in turn and listen to the whole mix, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let told =
        pick::lines(reading).filter_map(|(channel, in_mix)| match in_mix.low_share_percent {
            Fact::Value { value, confidence } => Some((channel, value, confidence)),
            _ => None,
        });
    let Some(sure) = told.clone().map(|one| one.2).reduce(f64::min) else { return Vec::new() };
    let adds = |&(channel, percent, _): &(&Channel, f64, f64)| {
        percent >= ADDS_PERCENT && !LOW_ROLES.contains(&channel.role)
    };
    let mut adding: Vec<(&Channel, f64, f64)> = told.filter(adds).collect();
    adding.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut ids: Vec<String> = adding.iter().map(|one| one.0.id.clone()).collect();
    let song_s: f64 = reading.segments_of(SegmentKind::Song).map(|song| song.span.length_s()).sum();
    #[expect(clippy::cast_precision_loss, reason = "a desk has few channels")]
    let count = Fact::sure(ids.len() as f64, sure);
    let also = ids.split_off(NAMED.min(ids.len()));
    vec![Observation {
        subject: ids.is_empty().then_some("The low end"),
        channels: ids,
        also,
        affected_s: song_s,
        ..Observation::of_session(vec![Some(count)], song_s)
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only};

    fn adding(n: usize) -> Reading {
        let mut channels = vec![channel(1, Role::Kick), channel(2, Role::Bass)];
        channels.extend((0..n).map(|idx| channel(10 + idx, Role::BackingVocal)));
        let mut reading = mixed(channels);
        for one in &mut reading.mix.as_mut().expect("it was mixed").channels {
            one.low_share_percent = Fact::sure(8.0, 0.85);
        }
        reading
    }

    #[test]
    fn fires_when_many_add_to_the_low_end() {
        assert_eq!(only(&RULE, &adding(3)), Near, "over 2");
        let judgement = &judged(&RULE, &adding(6))[0];
        assert_eq!(judgement.outcome, Outside, "over 4");
        assert_eq!(judgement.channels.len(), 3, "three are named");
    }

    #[test]
    fn stays_quiet_at_two() {
        assert_eq!(only(&RULE, &adding(2)), OnTarget, "2 is inside");
    }

    #[test]
    fn is_not_fooled_by_kick_and_bass() {
        assert_eq!(only(&RULE, &adding(0)), OnTarget, "they belong there");
    }
}
