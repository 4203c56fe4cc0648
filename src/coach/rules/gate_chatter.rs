//! Gate opens and closes in bursts.
//!
//! Looks at how a gate switches between the two taps of a channel, and what it cuts. Never judges one tap alone: a pause and a closed gate look alike.

use crate::coach::parted::Parted;
use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Gate, Reading};
use crate::session::Role;
use crate::unit::Unit;

const ROLES: &[Role] =
    &[Role::Tom, Role::SnareTop, Role::SnareBottom, Role::Kick, Role::Speech, Role::LeadVocal];

pub(super) const RULE: Rule = Rule {
    id: "gate-chatter",
    title: "Gate opens and closes in bursts",
    group: Group::Dynamics,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &[],
    measures: "How often the gain between the two taps of a channel falls by 10 dB or more and comes back within 80 ms, and how often it falls while a stroke or word still rings less than 18 dB under its peak, per minute of its loudest stretches.",
    limbs: &[
        Limb {
            name: "flutter",
            unit: Unit::PerMinute,
            windows: &[Window::at_most(1.0, 4.0, Source::CommonPractice)],
        },
        Limb {
            name: "cut endings",
            unit: Unit::PerMinute,
            windows: &[Window::at_most(1.0, 4.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards { min_confidence: 0.7, ..Guards::USUAL },
    guard_text: "20 s of the source or three bursts; both taps of a channel, and nothing between them but a filter and a gain (residual of -25 dB or less).",
    absent: "no gate was recorded on both sides of its processing, and one recording alone can't tell a closed gate from a pause",
    heard: "{who} {is} chopped by a gate",
    why: "Chatter and clipped word ends are more distracting than the spill they remove.",
    advice: &[
        "Take the gate off a voice, and mute by hand.",
        "Lower the threshold, and set a hold of 100 to 200 ms and a longer release.",
        "Close it by 10 to 15 dB instead of fully.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The moments at which the gate flutters or cuts.",
    fooled_by: "a tremolo, playback that is cut up, muted strumming",
    other_causes: "spill that is nearly as loud as soft strokes or words",
    question: "Which ends of words and strokes does the gate close on?",
    exercise: "Set the hold from 0 to 200 ms on one drum, and hear when the flutter stops, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::between_taps(reading, ROLES)
        .filter_map(|(raw, between)| Some(observed(raw, between.gate.as_ref()?)))
        .collect()
}

fn observed(raw: &Channel, gate: &Gate) -> Observation {
    let mut at_s = [gate.flutter_at_s.as_slice(), &gate.cut_at_s].concat();
    at_s.sort_by(f64::total_cmp);
    Observation {
        n_events: at_s.len(),
        evidence: pick::at(&at_s),
        detail: advised(gate).map(Into::into),
        ..pick::through_mix(
            raw,
            vec![Some(gate.flutters_per_minute.clone()), gate.cuts_per_minute.clone()],
        )
    }
}

/// Whether a threshold can part the source from its spill, and where.
fn advised(gate: &Gate) -> Option<String> {
    let threshold_dbfs = gate.parting_dbfs.value()?;
    Some(match Parted::by(gate.overlap_percent.value()?) {
        Parted::ByGate => format!(
            "Peaks of about {threshold_dbfs:.0} dBFS part it from its spill: a threshold to start from."
        ),
        Parted::ByExpander => {
            "Its spill reaches soft hits: an expander of 6 to 12 dB suits better.".to_owned()
        }
        Parted::ByNothing => {
            "Its spill is as loud as soft hits: no threshold can part them.".to_owned()
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, processing, session};
    use crate::reading::Processing;
    use crate::session::Tap;
    use crate::unit::{Fact, Unmeasured};

    fn gated(flutters_per_minute: Fact) -> Reading {
        let raw = channel(5, Role::Tom);
        let mut behind = channel(29, Role::Tom);
        let gate = Gate {
            depth_db: Fact::exact(30.0),
            open_percent: Fact::exact(20.0),
            flutters_per_minute,
            cut_percent: Fact::exact(0.0),
            cuts_per_minute: Some(Fact::sure(0.0, 0.7)),
            parting_dbfs: Fact::exact(-24.0),
            overlap_percent: Fact::exact(5.0),
            flutter_at_s: vec![12.0, 14.0, 20.0],
            cut_at_s: Vec::new(),
            open: Vec::new(),
        };
        behind.processing = Some(Processing { gate: Some(gate), ..processing(&raw) });
        session(vec![raw, behind])
    }

    #[test]
    fn fires_when_a_gate_flutters() {
        let reading = gated(Fact::sure(3.0, 0.9));
        assert_eq!(only(&RULE, &reading), Near, "over 1");
        assert_eq!(only(&RULE, &gated(Fact::sure(9.0, 0.9))), Outside, "over 4");
        let found = observe(&reading);
        assert_eq!(found.len(), 1, "one observation of one drum");
        assert_eq!(found[0].channels, ["ch05"], "the raw channel");
        assert_eq!(found[0].evidence.len(), 3, "every moment");
    }

    #[test]
    fn fires_when_a_gate_cuts_endings() {
        let mut reading = gated(Fact::sure(0.0, 0.7));
        let between = reading.channels[1].processing.as_mut().expect("it has both taps");
        let gate = between.gate.as_mut().expect("it has a gate");
        gate.cuts_per_minute = Some(Fact::sure(30.0, 0.7));
        gate.cut_at_s = (0..26).map(|at| 2.0 * f64::from(at)).collect();
        gate.flutter_at_s.clear();
        assert_eq!(only(&RULE, &reading), Outside, "over 4");
        assert_eq!(observe(&reading)[0].n_events, 26, "every cut");
    }

    #[test]
    fn suggests_a_threshold_only_where_one_parts() {
        let at = |overlap_percent: f64| {
            let mut reading = gated(Fact::sure(3.0, 0.9));
            let between = reading.channels[1].processing.as_mut().expect("it has both taps");
            let gate = between.gate.as_mut().expect("it has a gate");
            gate.overlap_percent = Fact::exact(overlap_percent);
            observe(&reading)[0].detail.clone().expect("both facts are known")
        };
        assert!(at(10.0).contains("-24 dBFS"), "a gate works");
        assert!(at(11.0).contains("expander") && at(30.0).contains("expander"), "an expander");
        assert!(at(31.0).contains("no threshold"), "nothing parts them");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &gated(Fact::sure(1.0, 0.9))), OnTarget, "1 is inside");
    }

    #[test]
    fn is_not_fooled_by_taps_that_differ_by_more() {
        let reason = Unmeasured::Because("the taps differ by more than an equaliser and a gain");
        assert!(matches!(only(&RULE, &gated(Fact::missing(reason))), NotJudged(_)), "no counts");
    }

    #[test]
    fn has_nothing_to_say_with_one_tap() {
        assert!(judged(&RULE, &session(vec![channel(5, Role::Tom)])).is_empty(), "raw alone");
        let mut processed = channel(5, Role::Tom);
        processed.tap = Tap::Processed;
        assert!(judged(&RULE, &session(vec![processed])).is_empty(), "processed alone");
    }
}
