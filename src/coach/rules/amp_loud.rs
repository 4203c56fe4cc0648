//! One amplifier or instrument leaks into most other microphones.
//!
//! Looks at what voices and acoustic instruments hear of one loud source. Never speaks of 'most' with fewer than three microphones.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::spill::{self, Spill};
use crate::reading::{Channel, Reading};
use crate::session::{Family, Role, Tap};
use crate::unit::{Fact, Unit, Unmeasured};

/// Sources with an amplifier on the stage, or loud by themselves; a DI may stand for an amplifier.
const LOUD: &[Role] =
    &[Role::ElectricGuitar, Role::Keys, Role::Bass, Role::Percussion, Role::Brass];

/// Spill on target, in dB re the microphone's own source.
const GREEN_DB: f64 = -15.0;

/// With fewer other microphones there is no 'most of them'.
const MIN_MICS: usize = 3;

/// Microphones that a note names.
const NAMED: usize = 2;

/// Why nothing is said of a microphone whose pair was not measured.
static UNPAIRED: Fact =
    Fact::missing(Unmeasured::Because("its spill was not measured in most microphones"));

pub(super) const RULE: Rule = Rule {
    id: "amp-loud",
    title: "One amplifier or instrument leaks into most other microphones",
    group: Group::Source,
    tier: Tier::B,
    effect: 3,
    ease: 2,
    explains: &["mic-far", "voice-buried", "lead-taken-over"],
    measures: "Median, over the microphones of voices and acoustic instruments, of the source's level there minus the level of the microphone's own source.",
    limbs: &[Limb {
        name: "median spill",
        unit: Unit::Db,
        windows: &[Window::at_most(GREEN_DB, -8.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: spill::GUARDS,
    guard_text: "20 s of the source; three other microphones or more; spill that passed every check; a sound that arrives later there, so that the same part played twice does not count.",
    absent: "no spill of an amplifier or loud instrument was found in other microphones",
    heard: "{who} {is} loud in most other microphones",
    why: "The source stays loud even with its own fader down.",
    advice: &[
        "Turn the amplifier down and tilt it toward the player's head.",
        "Move it to the quiet side of the microphones.",
        "Ask for a DI or an amplifier simulation if the player agrees.",
        "Lower that fader: the source reaches the mix through other channels.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Small grid of sources and microphones with the spill, the loudest named.",
    fooled_by: "two sources in unison, or playback that doubles the part",
    other_causes: "singers far from their microphones, or wedges that carry the source",
    question: "How loud is it in the hall with its own fader down?",
    exercise: "Take its fader down in one song and listen to what is left of it, 2 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let sources = reading.with_role(LOUD).filter(|source| source.tap == Tap::Raw);
    sources.filter_map(|source| observed(reading, source)).collect()
}

fn observed(reading: &Reading, source: &Channel) -> Option<Observation> {
    let mut heard: Vec<Spill<'_>> = spill::raw(reading)
        .filter(|spill| spill.source.id == source.id && is_listener(spill.mic))
        .collect();
    if heard.is_empty() {
        return None;
    }
    heard.sort_by(|one, other| level_db(other).total_cmp(&level_db(one)));
    let n_mics = reading.channels.iter().filter(|mic| is_other(source, mic)).count();
    let mut levels: Vec<&Fact> = heard.iter().map(|spill| &spill.pair.bleed_db).collect();
    // A microphone without a pair may hear anything.
    levels.resize(levels.len().max(n_mics), &UNPAIRED);
    let n_loud = heard.iter().filter(|spill| level_db(spill) > GREEN_DB).count();
    let (loud, n_later) = (&heard[..n_loud], heard[..n_loud].iter().filter(arrives_later).count());
    Some(
        Observation {
            also: loud.iter().map(|spill| spill.mic.id.clone()).collect(),
            evidence: spill::evidence(&heard[..heard.len().min(NAMED)]),
            detail: named(loud),
            ..pick::by_role(source, vec![Some(spill::median(&levels))])
        }
        .doubted(levels.len() < MIN_MICS, "there are too few other microphones to speak of most")
        .doubted(
            n_later * 2 < n_loud,
            "it is not known to arrive later there, so the same part may be played twice",
        ),
    )
}

/// A microphone of a voice or an acoustic instrument that was used.
fn is_listener(mic: &Channel) -> bool {
    let is_acoustic = mic.role.family() == Family::Voice
        || matches!(mic.role, Role::AcousticGuitar | Role::Strings | Role::Woodwind | Role::Brass);
    is_acoustic && !mic.is_line && mic.tap == Tap::Raw && mic.active_s > 0.0
}

/// One that is no second microphone on the source itself.
fn is_other(source: &Channel, mic: &Channel) -> bool {
    is_listener(mic) && mic.role != source.role
}

/// Its level if that is sure; the others come last.
fn level_db(spill: &Spill<'_>) -> f64 {
    spill::sure(&spill.pair.bleed_db).unwrap_or(f64::NEG_INFINITY)
}

fn arrives_later(spill: &&Spill<'_>) -> bool {
    spill::sure(&spill.pair.delay_s).is_some_and(|delay_s| delay_s > 0.0)
}

fn named(loud: &[Spill<'_>]) -> Option<std::borrow::Cow<'static, str>> {
    let names: Vec<&str> = loud.iter().take(NAMED).map(|spill| spill.mic.name.as_str()).collect();
    (!names.is_empty()).then(|| format!("Loudest in: {}.", names.join(", ")).into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session, spilled};

    /// A guitar amplifier with its level in three vocal microphones, arriving this much later.
    fn guitar(levels_db: [f64; 3], delay_s: f64) -> Reading {
        let amp = channel(11, Role::ElectricGuitar);
        let mics = [17, 18, 19].map(|number| channel(number, Role::LeadVocal));
        let pairs = mics.iter().zip(levels_db).map(|(mic, level_db)| {
            let mut pair = spilled(&amp, mic, level_db);
            pair.delay_s = Fact::sure(delay_s, 0.9);
            pair
        });
        let pairs = pairs.collect();
        Reading { pairs, ..session([vec![amp], mics.to_vec()].concat()) }
    }

    #[test]
    fn fires_when_half_of_the_other_microphones_hear_it_well() {
        assert_eq!(
            only(&RULE, &guitar([-20.0, -14.9, -10.0], 0.01)),
            Near,
            "the middle one counts"
        );
        assert_eq!(only(&RULE, &guitar([-20.0, -7.9, -6.0], 0.01)), Outside, "over -8");
        let judgement = &judged(&RULE, &guitar([-20.0, -7.9, -6.0], 0.01))[0];
        let detail = judgement.observation.detail.as_deref();
        assert_eq!(detail, Some("Loudest in: lead vocal 19, lead vocal 18."), "over -15 dB");
        assert_eq!(judgement.observation.also, ["ch19", "ch18"], "effects show there");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &guitar([-20.0, -15.0, -6.0], 0.01)), OnTarget, "-15 is inside");
    }

    #[test]
    fn is_not_fooled_by_playback_that_doubles_the_part() {
        let outcome = only(&RULE, &guitar([-9.0, -9.0, -9.0], -0.002));
        assert!(matches!(outcome, NotJudged(_)), "it does not arrive later");
    }

    #[test]
    fn is_not_fooled_by_two_microphones_or_by_unsure_levels() {
        let mut few = guitar([-6.0, -6.0, -6.0], 0.01);
        few.channels.pop();
        few.pairs.pop();
        assert!(matches!(only(&RULE, &few), NotJudged(_)), "two are not most");
        let mut unsure = guitar([-6.0, -6.0, -6.0], 0.01);
        for pair in &mut unsure.pairs[..2] {
            pair.bleed_db = Fact::sure(-6.0, 0.5);
        }
        assert!(matches!(only(&RULE, &unsure), NotJudged(_)), "two of three may be anything");
        let mut unpaired = guitar([-6.0, -6.0, -6.0], 0.01);
        unpaired.pairs.truncate(1);
        assert!(matches!(only(&RULE, &unpaired), NotJudged(_)), "two of three were not measured");
    }
}
