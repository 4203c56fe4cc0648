//! Monitors leak into microphones.
//!
//! Looks at what monitor mixes bring into the microphones of voices. Never takes players on the stage for a wedge: only a source that
//! comes by wire tells.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "wedge-spill",
    title: "Monitors leak into microphones",
    group: Group::Feedback,
    tier: Tier::C,
    effect: 2,
    ease: 2,
    explains: &["ring-near"],
    measures: "What monitor mixes bring into a voice's microphone while the voice rests, 250 Hz to 4 kHz, against the loud voice.",
    limbs: &[Limb {
        name: "wedge against the voice",
        unit: Unit::Db,
        windows: &[Window::at_most(-15.0, -8.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "20 s of playback by wire that is in a monitor mix while the voice rests; it arrives 1 to 8 ms behind the mix, as a wedge within two metres does. Keys by wire give an upper bound alone: they may have an amplifier. Mixes noted as in-ear are left out.",
    absent: "no monitor mix was recorded beside a voice's microphone",
    heard: "{who} {is} hearing a monitor loudspeaker",
    why: "The hall hears the wedge through that microphone, dull and late.",
    advice: &[
        "Lower the wedge, and raise only what the singer needs.",
        "Move the wedge into the quiet direction of the microphone.",
        "Give one or two people in-ears, if the team has them: limiter on, both ears in, volume moderate.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The mix, the time behind it, and long rests of the voice.",
    fooled_by: "a loudspeaker for the hall within two metres, or a wedge whose mix was not recorded",
    other_causes: "a microphone far from the mouth, or one that points at the wedge",
    question: "What does the singer need from this wedge, and what could leave it?",
    exercise: "Play one verse, lower the wedge by 3 dB at a time until its singer asks for more, 4 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let voices = reading.with_role(pick::SOLO_VOICES);
    voices.filter_map(|voice| observation(voice, reading)).collect()
}

fn observation(voice: &Channel, reading: &Reading) -> Option<Observation> {
    let wedge = voice.microphone.wedge.as_ref()?;
    let mix = wedge.mix.as_ref().and_then(|id| reading.channel(id));
    let detail = mix.zip(wedge.arrival_s).map(|(mix, arrival_s)| {
        format!("It arrives {:.0} ms behind {}.", 1000.0 * arrival_s, mix.name).into()
    });
    Some(Observation {
        detail,
        evidence: wedge.at.clone(),
        ..pick::by_role(voice, vec![Some(wedge.re_loud_db.clone())])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::reading::WedgeSound;
    use crate::session::Role;
    use crate::unit::Fact;

    fn heard(re_loud_db: Fact) -> Vec<Channel> {
        let mut voice = channel(17, Role::LeadVocal);
        let mix = Some("ch33".to_owned());
        voice.microphone.wedge =
            Some(WedgeSound { mix, re_loud_db, arrival_s: Some(0.007), at: Vec::new() });
        vec![voice, channel(33, Role::MonitorMix)]
    }

    fn outcome(low: f64, high: f64) -> Outcome {
        only(&RULE, &session(heard(Fact::Range { low, high, confidence: 0.7 })))
    }

    #[test]
    fn fires_where_a_wedge_comes_near_the_voice() {
        assert_eq!(outcome(-14.0, -9.0), Near, "less than 15 dB under the voice");
        assert_eq!(outcome(-7.0, -2.0), Outside, "less than 8 dB under it");
        let reading = session(heard(Fact::Range { low: -7.0, high: -2.0, confidence: 0.7 }));
        let detail = judged(&RULE, &reading)[0].observation.detail.clone();
        assert!(detail.is_some_and(|told| told.contains("7 ms behind")), "the time is told");
    }

    #[test]
    fn stays_quiet_far_under_the_voice() {
        assert_eq!(outcome(-30.0, -16.0), OnTarget, "15 dB under it and more");
        assert!(matches!(outcome(-18.0, -9.0), NotJudged(_)), "both sides of a border");
    }

    #[test]
    fn is_not_fooled_by_keys_that_may_have_an_amplifier() {
        let at_most = |at_most| Fact::AtMost { at_most, confidence: 0.7 };
        let loud = session(heard(at_most(-3.0)));
        assert!(matches!(only(&RULE, &loud), NotJudged(_)), "a bound may be the amplifier");
        assert_eq!(only(&RULE, &session(heard(at_most(-20.0)))), OnTarget, "all of it is low");
        let none = session(vec![channel(17, Role::LeadVocal)]);
        assert!(judged(&RULE, &none).iter().all(|one| one.channels.is_empty()), "no mix recorded");
    }
}
