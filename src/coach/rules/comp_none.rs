//! Level swings too much for the mix.
//!
//! Looks at the spread between soft and loud parts of solo voices. Never speaks to the trainee about a recording taken before compressor and fader.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Reading};
use crate::session::Tap;
use crate::unit::Unit;

const SOURCE: Source = Source::Published(
    "common practice; short-term peaks of speech lie 10 dB over its long-term level (Byrne et al., JASA 1994)",
);
/// Below this the pauses count as soft voice, in dB.
const CLEAN_DB: f64 = 12.0;

pub(super) const RULE: Rule = Rule {
    id: "comp-none",
    title: "Level swings too much for the mix",
    group: Group::Dynamics,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &["voice-buried"],
    measures: "95th minus 10th percentile of the voice's loudness; right after the preamplifier the spread of whole phrases.",
    limbs: &[
        Limb {
            name: "level spread",
            unit: Unit::Lu,
            windows: &[Window::at_most(12.0, 18.0, SOURCE).variant("processed")],
        },
        Limb {
            name: "phrase spread",
            unit: Unit::Lu,
            windows: &[Window::at_most(18.0, 18.0, SOURCE).variant("raw")],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of the voice; phrases instead of frames where own-to-spill is under 12 dB; before compressor and fader above 18 LU only, and for the mentor.",
    absent: "no voice was recorded",
    heard: "{who} {is} far apart between soft and loud",
    why: "Soft words vanish and loud notes jump out.",
    advice: &[
        "Keep a steady distance to the microphone.",
        "Ride the fader on verses and choruses.",
        "Set a compressor to 3:1 and about 6, at most 9 dB on loud phrases, without make-up at first; watch for feedback.",
    ],
    backing: &[SOURCE],
    shows: "Loudness trace with soft and loud phrases named.",
    fooled_by: "musical dynamics, spill counted as voice, or a singer who joins in the chorus only",
    other_causes: "changing distance to the microphone, or music that asks for it",
    question: "Were the soft words heard in the hall?",
    exercise: "Ride one voice through a song so that every word is heard, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::MentorFinding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let voices = reading.with_role(pick::SOLO_VOICES);
    voices
        .map(|voice| Observation { detail: start(voice).map(Into::into), ..spread(voice, reading) })
        .collect()
}

/// Where to begin.
fn start(voice: &Channel) -> Option<String> {
    let threshold_dbfs = voice.starts.start_threshold_dbfs.value()?;
    Some(format!(
        "At 3:1 a threshold of about {threshold_dbfs:.0} dBFS, before other processing, would take 6 to 9 dB off loud phrases (some compressors 4 dB more): a place to start from."
    ))
}

fn spread(voice: &Channel, reading: &Reading) -> Observation {
    if let Some(in_mix) = reading.mix.as_ref().and_then(|mix| mix.channel(&voice.id))
        && voice.tap == Tap::Raw
        && is_clean(voice)
        && in_mix.level_spread_lu.value().is_some()
    {
        let facts = vec![Some(in_mix.level_spread_lu.clone()), None];
        return Observation { variant: "processed", ..pick::through_mix(voice, facts) };
    }
    if voice.tap == Tap::Raw {
        let facts = vec![None, Some(voice.phrase_spread_lu.clone())];
        return Observation { variant: "raw", ..pick::by_role(voice, facts) };
    }
    let spread = if is_clean(voice) { &voice.level_spread_lu } else { &voice.phrase_spread_lu };
    Observation { variant: "processed", ..pick::by_role(voice, vec![Some(spread.clone()), None]) }
}

/// Whether the pauses of a voice are much softer than the voice.
fn is_clean(voice: &Channel) -> bool {
    voice.is_line || voice.own_to_spill_db.value().is_some_and(|db| db >= CLEAN_DB)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only, session};
    use crate::session::Role;
    use crate::unit::Fact;

    fn voice(tap: Tap, frames_lu: f64, phrases_lu: f64) -> Channel {
        let mut voice = channel(17, Role::LeadVocal);
        voice.tap = tap;
        voice.level_spread_lu = Fact::exact(frames_lu);
        voice.phrase_spread_lu = Fact::exact(phrases_lu);
        voice
    }

    #[test]
    fn fires_when_the_voice_swings_too_much() {
        assert_eq!(only(&RULE, &session(vec![voice(Tap::Processed, 13.0, 5.0)])), Near, "over 12");
        assert_eq!(
            only(&RULE, &session(vec![voice(Tap::Processed, 19.0, 5.0)])),
            Outside,
            "over 18"
        );
        assert_eq!(
            only(&RULE, &session(vec![voice(Tap::Raw, 9.0, 18.5)])),
            Outside,
            "raw phrases over 18"
        );
    }

    #[test]
    fn tells_what_reaches_the_mix_where_that_is_known() {
        let mut reading = mixed(vec![voice(Tap::Raw, 9.0, 10.0)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        mix.channels[0].level_spread_lu = Fact::sure(19.0, 0.9);
        let judgement = &judged(&RULE, &reading)[0];
        assert_eq!(judgement.outcome, Outside, "over 18 in the mix");
        assert!(!judgement.observation.is_raw, "a finding for the operator");
    }

    #[test]
    fn stays_quiet_at_the_edges_of_the_target() {
        assert_eq!(
            only(&RULE, &session(vec![voice(Tap::Processed, 12.0, 5.0)])),
            OnTarget,
            "12 is inside"
        );
        assert_eq!(
            only(&RULE, &session(vec![voice(Tap::Raw, 30.0, 18.0)])),
            OnTarget,
            "18 is inside"
        );
    }

    #[test]
    fn is_not_fooled_by_spill_counted_as_voice() {
        let mut far = voice(Tap::Processed, 20.0, 8.0);
        far.own_to_spill_db = Fact::exact(11.0);
        assert_eq!(only(&RULE, &session(vec![far])), OnTarget, "phrases count, not frames");
    }
}
