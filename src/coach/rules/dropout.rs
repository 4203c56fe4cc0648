//! Gaps or clicks in the recording.
//!
//! Looks at gaps and clicks that several channels share, and at those of one channel. Never takes a pluck, a key or a hit for a click:
//! alone, clicks count where they are many and nothing is struck.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Events, Reading};
use crate::session::{Family, Role, Tap};
use crate::unit::spans::total_s;
use crate::unit::{Fact, Unit};

/// Gaps closer than this are one moment, in seconds: one recorder breaks all its tracks at one block.
const GAPS_TOGETHER_S: f64 = 0.01;
/// Clicks closer than this are one moment, in seconds: a clock breaks all tracks at one sample, while a hit reaches two
/// microphones a foot apart a millisecond apart.
const CLICKS_TOGETHER_S: f64 = 0.0001;
/// Fewer channels than this are not 'every channel'.
const MIN_ALL: usize = 3;
/// Fewer channels than this may click together by chance.
const MIN_CLICKS: usize = 4;
/// Clicks of one channel that count: fewer, or rarer while it sounds, may be a lip or a key. In trials one clip in 112 had a false one.
const MIN_ALONE: usize = 6;
const MIN_ALONE_PER_MIN: f64 = 1.0;

pub(super) const RULE: Rule = Rule {
    id: "dropout",
    title: "Gaps or clicks in the recording",
    group: Group::Recording,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &["radio-fade"],
    measures: "Runs of zeros or repeated samples of 1 ms or more inside sound, and single-sample jumps, that fall together in several channels.",
    limbs: &[
        Limb {
            name: "moments in several channels",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 3.0, Source::CommonPractice)],
        },
        Limb {
            name: "moments in every channel",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 0.0, Source::CommonPractice)],
        },
        Limb {
            name: "moments in one channel",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 3.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "A gap in two channels or more, or a click in every channel, at the same moment; every channel means at least three and all that sound then. In one channel a gap, or clicks where nothing is struck or plucked, at least six and one a minute; not in playback.",
    absent: "no channel was recorded",
    heard: "{who} {is} broken by gaps or clicks",
    why: "A fault of the recorder, its clock, or one channel's cable or link, not of the mix; measurements there are left out.",
    advice: &[
        "Use a faster card or disk, formatted in the desk, and fewer tracks.",
        "Check the clock and the network cable.",
        "Change the cable and check the wireless link of a channel that breaks alone.",
        "Split long takes.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Times, and how many channels at once, or the one.",
    fooled_by: "edits, or a gate in a processed recording",
    other_causes: "a slow card, a loose clock cable",
    question: "Which card and which port were used?",
    exercise: "Record ten minutes of all tracks on the card in use and check for gaps.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    if reading.channels.is_empty() {
        return Vec::new();
    }
    let moments = moments(reading);
    let alone = reading.channels.iter().filter_map(|channel| alone(channel, &moments));
    let shared: Vec<&Moment<'_>> =
        moments.iter().filter(|moment| is_shared(moment, reading)).collect();
    let n_all = shared.iter().filter(|moment| is_everywhere(moment, reading)).count();
    let at_s: Vec<f64> = shared.iter().map(|moment| moment.at_s).collect();
    let together = Observation {
        subject: Some("The recording"),
        evidence: pick::at(&at_s),
        n_events: shared.len(),
        ..Observation::of_session(
            vec![Some(Fact::exact(shared.len() as f64)), Some(Fact::exact(n_all as f64)), None],
            reading.session.duration_s,
        )
    };
    std::iter::once(together).chain(alone).collect()
}

/// What breaks in one channel while the others go on.
fn alone(channel: &Channel, moments: &[Moment<'_>]) -> Option<Observation> {
    let is_alone = |at_s: &f64| {
        let here = |moment: &&Moment<'_>| (moment.at_s - at_s).abs() <= GAPS_TOGETHER_S;
        moments.iter().filter(here).all(|moment| moment.channels.len() == 1)
    };
    let of = |events: &Events| -> Vec<f64> {
        events.at_s.iter().copied().filter(|at_s| is_alone(at_s)).collect()
    };
    let mut at_s = of(&channel.dropouts);
    let clicks_s = of(&channel.clicks);
    let per_min = clicks_s.len() as f64 * 60.0 / total_s(&channel.active).max(1.0);
    if is_smooth(channel) && clicks_s.len() >= MIN_ALONE && per_min >= MIN_ALONE_PER_MIN {
        at_s.extend(clicks_s);
        at_s.sort_by(f64::total_cmp);
    }
    let count = Fact::exact(at_s.len() as f64);
    let observation = Observation {
        evidence: pick::at(&at_s),
        n_events: at_s.len(),
        // Samples are counted, whatever the source does.
        confidence_cap: 1.0,
        ..Observation::of(channel, vec![None, None, Some(count)])
    };
    match channel.role {
        _ if at_s.is_empty() => None,
        Role::Playback => Some(observation.withheld("playback may be made with such gaps")),
        _ if channel.tap == Tap::Processed => Some(observation.withheld(pick::PROCESSED)),
        _ => Some(observation),
    }
}

/// Whether nothing is struck or plucked there that clicks by nature.
fn is_smooth(channel: &Channel) -> bool {
    matches!(channel.role.family(), Family::Voice | Family::Melody)
}

/// Gaps and clicks that fall together.
struct Moment<'a> {
    at_s: f64,
    channels: Vec<&'a str>,
    has_gap: bool,
}

fn moments(reading: &Reading) -> Vec<Moment<'_>> {
    let mut all: Vec<(f64, &str, bool)> = Vec::new();
    for channel in &reading.channels {
        all.extend(channel.dropouts.at_s.iter().map(|at_s| (*at_s, channel.id.as_str(), true)));
        all.extend(channel.clicks.at_s.iter().map(|at_s| (*at_s, channel.id.as_str(), false)));
    }
    all.sort_by(|left, right| left.0.total_cmp(&right.0).then(left.1.cmp(right.1)));
    let mut moments: Vec<Moment<'_>> = Vec::new();
    for (at_s, id, is_gap) in all {
        if let Some(moment) = moments.last_mut().filter(|moment| {
            let together_s =
                if is_gap || moment.has_gap { GAPS_TOGETHER_S } else { CLICKS_TOGETHER_S };
            at_s - moment.at_s <= together_s
        }) {
            moment.has_gap |= is_gap;
            if !moment.channels.contains(&id) {
                moment.channels.push(id);
            }
        } else {
            moments.push(Moment { at_s, channels: vec![id], has_gap: is_gap });
        }
    }
    moments
}

/// Whether several channels share it; a click alone may be a hit that two microphones hear.
fn is_shared(moment: &Moment<'_>, reading: &Reading) -> bool {
    (moment.has_gap && moment.channels.len() > 1) || is_everywhere(moment, reading)
}

/// Whether every channel that sounds then shows the gap.
fn is_everywhere(moment: &Moment<'_>, reading: &Reading) -> bool {
    let sounds = |channel: &&Channel| channel.active.iter().any(|span| span.holds(moment.at_s));
    moment.channels.len() >= if moment.has_gap { MIN_ALL } else { MIN_CLICKS }
        && reading
            .channels
            .iter()
            .filter(sounds)
            .all(|channel| moment.channels.contains(&channel.id.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{self, Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};

    /// Three channels with gaps at these moments.
    fn gaps(at_s: [&[f64]; 3]) -> Reading {
        let channels = at_s.iter().enumerate().map(|(idx, at_s)| {
            let mut input = channel(idx + 1, Role::LeadVocal);
            input.dropouts = Events { count: at_s.len(), at_s: at_s.to_vec() };
            input
        });
        session(channels.collect())
    }

    #[test]
    fn fires_when_channels_break_together() {
        assert_eq!(only(&RULE, &gaps([&[60.0], &[60.01], &[]])), Near, "two of three");
        assert_eq!(only(&RULE, &gaps([&[60.0], &[60.0], &[60.0]])), Outside, "every channel");
        let often: &[f64] = &[60.0, 70.0, 80.0, 90.0];
        assert_eq!(only(&RULE, &gaps([often, often, &[]])), Outside, "more than three");
    }

    #[test]
    fn stays_quiet_without_gaps() {
        assert_eq!(only(&RULE, &gaps([&[], &[], &[]])), OnTarget, "none");
    }

    #[test]
    fn is_not_fooled_by_a_hit_that_two_microphones_hear() {
        let mut reading = gaps([&[], &[], &[]]);
        for input in &mut reading.channels[..2] {
            input.clicks = Events { count: 1, at_s: vec![60.0] };
        }
        assert_eq!(only(&RULE, &reading), OnTarget, "clicks count in every channel only");
    }

    #[test]
    fn is_not_fooled_by_a_hit_that_travels_past_all_microphones() {
        let mut reading = session((1..=4).map(|n| channel(n, Role::LeadVocal)).collect());
        for (idx, input) in reading.channels.iter_mut().enumerate() {
            input.clicks = Events { count: 1, at_s: vec![60.0 + 0.0015 * idx as f64] };
        }
        assert_eq!(only(&RULE, &reading), OnTarget, "sound takes 1.5 ms for half a metre");
        for input in &mut reading.channels {
            input.clicks.at_s = vec![60.0];
        }
        assert_eq!(only(&RULE, &reading), Outside, "a clock clicks everywhere at once");
    }

    /// The third limb of the first channel.
    fn alone(reading: &Reading) -> Outcome {
        judged(&RULE, reading).get(1).map_or(OnTarget, |judgement| judgement.outcome.clone())
    }

    #[test]
    fn fires_when_one_channel_breaks() {
        let gaps_s = [60.0, 61.0, 62.0, 63.0];
        assert_eq!(
            judged(&RULE, &gaps([&gaps_s, &[], &[]]))[0].outcome,
            OnTarget,
            "none is shared"
        );
        assert_eq!(alone(&gaps([&gaps_s, &[], &[]])), Outside, "four");
        assert_eq!(alone(&gaps([&gaps_s[..1], &[], &[]])), Near, "one");
        assert_eq!(alone(&clicking(Role::LeadVocal, 40)), Outside, "a cable that crackles");
    }

    /// A channel that clicks alone; the others of the session are still.
    fn clicking(role: Role, n: usize) -> Reading {
        let mut reading = gaps([&[], &[], &[]]);
        let at_s = (0..n).map(|n| 20.0 + 1.7 * n as f64).collect();
        reading.channels[0].clicks = Events { count: n, at_s };
        reading.channels[0].role = role;
        reading
    }

    #[test]
    fn stays_quiet_at_a_few_clicks_of_one_channel() {
        assert_eq!(alone(&clicking(Role::LeadVocal, 5)), OnTarget, "lips click");
    }

    #[test]
    fn is_not_fooled_by_what_clicks_by_nature() {
        assert_eq!(alone(&clicking(Role::AcousticGuitar, 40)), OnTarget, "plucks");
        assert_eq!(alone(&clicking(Role::SnareTop, 40)), OnTarget, "hits");
        let mut made = gaps([&[60.0], &[], &[]]);
        made.channels[0].role = Role::Playback;
        assert!(matches!(alone(&made), NotJudged(_)), "an edit");
        let mut gated = gaps([&[60.0], &[], &[]]);
        gated.channels[0].tap = Tap::Processed;
        assert!(matches!(alone(&gated), NotJudged(_)), "a gate, a mute");
    }
}
