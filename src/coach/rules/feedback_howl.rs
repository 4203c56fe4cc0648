//! Feedback.
//!
//! Looks at howls that a microphone holds. Never takes a note for one that a line input or an amplifier plays.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, wording};
use crate::reading::{Channel, Howl, Reading};
use crate::unit::spans::widened;
use crate::unit::{Fact, Unit};

/// A howl this long is a long one, in seconds: it stands above the notes.
const LONG_S: f64 = 1.0;

/// Time before and after that an ear needs, in seconds.
const AROUND_S: f64 = 1.5;

pub(super) const RULE: Rule = Rule {
    id: "feedback-howl",
    title: "Feedback",
    group: Group::Feedback,
    tier: Tier::B,
    effect: 4,
    ease: 1,
    explains: &["ring-near"],
    measures: "Lasting tones that stay on one frequency, rise from far below, and have no overtones, in an open microphone, else in a mix or the room.",
    limbs: &[
        Limb {
            name: "howls",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 1.0, Source::CommonPractice)],
        },
        Limb {
            name: "the longest",
            unit: Unit::Seconds,
            windows: &[Window::at_most(LONG_S, LONG_S, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "No line input and no guitar amplifier may hold the same tone meanwhile, louder or earlier; a tone that one channel holds alone counts for less, and so does one that no microphone holds.",
    absent: "no microphone, mix or room was recorded",
    heard: "{who} {is} howling",
    why: "It is unpleasant and can hurt ears.",
    advice: &[
        "Mute or lower the microphone that howls, at once.",
        "Move the mouth closer, the wedge lower, and the wedge into the quiet direction of the microphone.",
        "Close microphones that nobody uses.",
        "Cut the frequency narrowly in that monitor or microphone, as the last step.",
    ],
    backing: &[Source::Published(
        "van Waterschoot and Moonen, Fifty years of acoustic feedback control, Proc. IEEE 99(2), 2011",
    )],
    shows: "Time, frequency with the name of the note, and the channel where it starts.",
    fooled_by: "a flute, a whistle, a test tone, or a guitar held in front of its amplifier",
    other_causes: "a wedge that was turned up, a hand around the grille, or a microphone carried before a loudspeaker",
    question: "What was opened or raised just before?",
    exercise: "Find the three microphones that are nearest to a loudspeaker, and say for each what to close first, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: Some(
        "If it howls: close or lower the microphone that was opened or raised last. If it does not stop at once, lower the main and all monitor sends until it stops, then find the cause. Ring out a system only in an empty room, one output at a time, slowly, with ear protection and nobody wearing in-ears.",
    ),
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let feedback = &reading.feedback;
    let mut sources: Vec<&str> = Vec::new();
    for howl in &feedback.howls {
        if !sources.contains(&howl.channel.as_str()) {
            sources.push(&howl.channel);
        }
    }
    let observed: Vec<Observation> = sources
        .iter()
        .filter_map(|id| {
            let channel = reading.channel(id)?;
            let howls: Vec<&Howl> =
                feedback.howls.iter().filter(|howl| howl.channel == *id).collect();
            let observation = of(&howls, Observation::of(channel, Vec::new()));
            let detail = tones(&howls, channel, reading).into();
            let subject = pick::loop_subject(channel);
            Some(Observation { subject, detail: Some(detail), is_raw: false, ..observation })
        })
        .collect();
    if !observed.is_empty() || feedback.looked_at.is_empty() {
        return observed;
    }
    let none = vec![Some(Fact::sure(0.0, NONE)), None];
    let duration_s = reading.session.duration_s;
    vec![Observation { subject: Some("The stage"), ..Observation::of_session(none, duration_s) }]
}

/// How sure it is that no howl was missed: the share that trials found.
const NONE: f64 = 0.9;

fn of(howls: &[&Howl], observation: Observation) -> Observation {
    let sure = howls.iter().map(|howl| howl.confidence).fold(0.0, f64::max);
    let longest = howls.iter().map(|howl| howl.span.length_s()).fold(0.0, f64::max);
    let spans: Vec<_> = howls.iter().map(|howl| howl.span).collect();
    Observation {
        facts: vec![Some(Fact::sure(howls.len() as f64, sure)), Some(Fact::sure(longest, sure))],
        evidence: widened(&spans, AROUND_S),
        affected_s: spans.iter().map(|span| span.length_s()).sum(),
        // A howl is heard however little the source plays.
        active_s: Guards::USUAL.min_active_s.max(observation.active_s),
        n_events: howls.len(),
        confidence_cap: 1.0,
        is_safety: longest > LONG_S || howls.len() > 1,
        ..observation
    }
}

/// The longest howl with its growth and all that hold it, and where a second one lies.
fn tones(howls: &[&Howl], channel: &Channel, reading: &Reading) -> String {
    let by_length = |a: &&&Howl, b: &&&Howl| a.span.length_s().total_cmp(&b.span.length_s());
    let Some(longest) = howls.iter().max_by(by_length) else { return String::new() };
    let at = wording::tone(longest.frequency_hz);
    let grew = match longest.growth_db_per_s {
        grew if grew >= 1.0 => format!(", growing by {grew:.0} dB a second"),
        _ => String::new(),
    };
    let name = |id: &String| reading.channel(id).map_or(id, |channel| &channel.name).clone();
    let others: Vec<String> =
        longest.heard_in.iter().filter(|id| **id != longest.channel).map(name).collect();
    let where_from = match others.as_slice() {
        _ if channel.role.family().only_hears_loops() => pick::UNSEEN_LOOP.to_owned(),
        [] => "no other channel holds it".to_owned(),
        [other] => format!("{other} holds it too"),
        others => format!("{} hold it too", wording::list(others)),
    };
    let is_other =
        |howl: &&&Howl| (howl.frequency_hz / longest.frequency_hz).log2().abs() > SEMITONE;
    let another = howls.iter().filter(is_other).max_by(by_length);
    let another = another.map_or_else(String::new, |howl| {
        format!(" Another lies at {}.", wording::tone(howl.frequency_hz))
    });
    let length_s = longest.span.length_s();
    format!("The tone lies at {at}, for {length_s:.1} s{grew}; {where_from}.{another}")
}

/// Howls this far apart have two frequencies, in octaves.
const SEMITONE: f64 = 1.0 / 12.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::coach::wording::sentence;
    use crate::session::Role;
    use crate::unit::Span;

    fn howling(lengths_s: &[f64], confidence: f64) -> Reading {
        let mut reading = session(vec![channel(16, Role::LeadVocal), channel(21, Role::Speech)]);
        reading.feedback.looked_at = vec!["ch16".to_owned(), "ch21".to_owned()];
        let howl = |(n, length_s): (usize, &f64)| {
            let start_s = 100.0 + 40.0 * n as f64;
            Howl {
                channel: "ch16".to_owned(),
                heard_in: vec!["ch16".to_owned(), "ch21".to_owned()],
                span: Span::new(start_s, start_s + length_s),
                frequency_hz: 2500.0,
                peak_dbfs: -12.0,
                over_programme_db: 8.0,
                growth_db_per_s: 40.0,
                confidence,
            }
        };
        reading.feedback.howls = lengths_s.iter().enumerate().map(howl).collect();
        reading
    }

    #[test]
    fn fires_when_a_microphone_howls() {
        assert_eq!(only(&RULE, &howling(&[0.8], 0.9)), Near, "one short howl");
        assert_eq!(only(&RULE, &howling(&[1.4], 0.9)), Outside, "a long one");
        assert_eq!(only(&RULE, &howling(&[0.6, 0.7], 0.9)), Outside, "two");
        let told = judged(&RULE, &howling(&[0.8], 0.9))[0].observation.detail.clone();
        let told = told.expect("the tone is told");
        assert!(told.contains("2500 Hz, near D sharp 7"), "{told}");
    }

    #[test]
    fn tells_growth_others_and_a_second_tone() {
        let mut reading = howling(&[0.8, 1.4, 0.6], 0.9);
        reading.feedback.howls[2].frequency_hz = 630.0;
        let detail = |reading: &Reading| {
            judged(&RULE, reading)[0].observation.detail.clone().expect("the tone is told")
        };
        let told = detail(&reading);
        assert!(
            told.contains("for 1.4 s, growing by 40 dB a second; speech 21 holds it too."),
            "{told}"
        );
        assert!(told.ends_with("Another lies at 630 Hz, near D sharp 5."), "{told}");
        reading.feedback.howls[1].growth_db_per_s = 0.0;
        assert!(!detail(&reading).contains("growing"), "no straight rise was seen");
    }

    #[test]
    fn fires_in_a_mix_whose_microphone_was_not_recorded() {
        let mut reading = howling(&[1.4], 0.63);
        reading.channels.push(channel(26, Role::Main));
        reading.feedback.howls[0].channel = "ch26".to_owned();
        let judgements = judged(&RULE, &reading);
        let told = sentence(&RULE, &judgements.iter().collect::<Vec<_>>(), &reading);
        assert!(told.contains("The main mix may be howling"), "{told}");
        assert!(told.contains("no recorded microphone shows it"), "{told}");
    }

    #[test]
    fn stays_quiet_where_nothing_howls() {
        assert_eq!(only(&RULE, &howling(&[], 0.9)), OnTarget, "none");
        let unheard = session(vec![channel(16, Role::LeadVocal)]);
        assert!(judged(&RULE, &unheard).is_empty(), "nothing was looked at");
    }

    #[test]
    fn is_not_fooled_by_a_tone_that_is_half_sure() {
        assert!(matches!(only(&RULE, &howling(&[0.8], 0.4)), NotJudged(_)), "it may be a flute");
    }

    #[test]
    fn a_long_howl_or_a_second_one_stands_above_the_notes() {
        assert!(observe(&howling(&[1.4], 0.9))[0].is_safety, "it can hurt");
        assert!(observe(&howling(&[0.6, 0.7], 0.9))[0].is_safety, "two can come again");
        assert!(!observe(&howling(&[0.8], 0.9))[0].is_safety, "a short one is a note");
    }
}
