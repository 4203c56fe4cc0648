//! Preamp gain changed while playing.
//!
//! Looks at microphones in songs. Never takes a source that gets louder for a turned gain: what the microphone hears of the others has
//! to move as well.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, GainStep, Reading};
use crate::unit::{Fact, Unit};

/// How sure a step is whose source was heard to move with it, and one whose source rests on one side.
const SURE: [f64; 2] = [0.85, 0.7];

/// A step is heard best with so much on either side, in seconds.
const AROUND_S: f64 = 5.0;

pub(super) const RULE: Rule = Rule {
    id: "gain-step",
    title: "Preamp gain changed while playing",
    group: Group::Gain,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "Sudden lasting steps of 2 dB or more in all that a microphone hears of the others, in all third-octaves alike; its own source does not speak against it. The song with most.",
    limbs: &[Limb {
        name: "steps in a song",
        unit: Unit::Count,
        windows: &[Window::at_most(0.0, 2.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Microphones whose source rests for 20 s in songs while others play; 5 s on either side in which the others are heard alone, within 30 s of the same song. Half of the steps or more hide behind the source. Inputs by wire are not looked at.",
    absent: "no microphone rests enough while others play",
    heard: "{who} {is} set anew at the preamp during a song",
    why: "A step moves every monitor, send and compressor of that channel at once.",
    advice: &[
        "Set the gain in the line check; use the fader later.",
        "Ask the stage before the gain has to move, and go in steps of 1 to 2 dB between songs.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The moments, and by how much the first.",
    fooled_by: "a loudspeaker for the players beside the microphone that is turned while its singer rests",
    other_causes: "a pad or a battery that fails, or a microphone that was swapped",
    question: "What was the gain turned for at that moment?",
    exercise: "Play one song with all preamps left alone and only faders moved, 4 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading).filter_map(of).collect()
}

fn of(input: &Channel) -> Option<Observation> {
    let steps = input.microphone.gain_steps.as_ref()?;
    let in_song = |song: &str| steps.iter().filter(|step| step.song == song).count();
    let most = steps.iter().map(|step| in_song(&step.song)).max().unwrap_or(0);
    let song = steps.iter().find(|step| in_song(&step.song) == most).map(|step| &step.song);
    let worst: Vec<&GainStep> = steps.iter().filter(|step| Some(&step.song) == song).collect();
    let is_sure = worst.iter().all(|step| step.is_confirmed);
    let around = |step: &&GainStep| pick::around(step.at_s, AROUND_S);
    Some(Observation {
        n_events: most,
        evidence: worst.iter().map(around).collect(),
        songs: song.into_iter().cloned().collect(),
        detail: worst.first().map(|step| {
            let way = if step.change_db < 0.0 { "down" } else { "up" };
            format!("{:.0} dB {way} in {}.", step.change_db.abs(), step.song).into()
        }),
        ..Observation::of(input, vec![Some(Fact::sure(most as f64, SURE[usize::from(!is_sure)]))])
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::session::Role;

    fn turned(steps: &[(&str, f64)]) -> Channel {
        let mut voice = channel(17, Role::LeadVocal);
        let step = |(song, at_s): &(&str, f64)| GainStep {
            song: (*song).to_owned(),
            at_s: *at_s,
            change_db: 4.0,
            is_confirmed: true,
        };
        voice.microphone.gain_steps = Some(steps.iter().map(step).collect());
        voice
    }

    #[test]
    fn fires_on_a_step() {
        assert_eq!(only(&RULE, &session(vec![turned(&[("A", 60.0)])])), Near, "one");
        let three = [("A", 60.0), ("A", 90.0), ("A", 120.0)];
        assert_eq!(only(&RULE, &session(vec![turned(&three)])), Outside, "three in a song");
    }

    #[test]
    fn stays_quiet_without_a_step() {
        assert_eq!(only(&RULE, &session(vec![turned(&[])])), OnTarget, "none");
    }

    #[test]
    fn is_not_fooled_by_steps_in_several_songs() {
        let spread = [("A", 60.0), ("B", 300.0), ("C", 600.0)];
        assert_eq!(only(&RULE, &session(vec![turned(&spread)])), Near, "one in each");
        let wired = session(vec![channel(10, Role::Bass)]);
        assert!(judged(&RULE, &wired).iter().all(|one| one.channels.is_empty()), "not looked at");
    }
}
