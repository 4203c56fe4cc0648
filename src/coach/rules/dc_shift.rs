//! DC offset.
//!
//! Looks at the offset of every channel. Never is misled by low notes: the measurement takes a median of blocks.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "dc-shift",
    title: "DC offset",
    group: Group::Recording,
    tier: Tier::A,
    effect: 1,
    ease: 1,
    explains: &[],
    measures: "Absolute mean of the channel over 10 s blocks, median.",
    limbs: &[Limb {
        name: "offset",
        unit: Unit::Dbfs,
        windows: &[Window::at_most(-60.0, -40.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "Median over blocks; 20 s of recording.",
    absent: "no channel was recorded",
    heard: "{who} {is} shifted from zero",
    why: "Offset wastes headroom and clicks at mutes and edits.",
    advice: &[
        "Switch the high-pass on.",
        "Try another DI or input, and have the input checked if it stays.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Value of each channel.",
    fooled_by: "very low notes in short blocks",
    other_causes: "a faulty DI or preamplifier",
    question: "Does the offset stay with the input or with the instrument?",
    exercise: "Swap two inputs and read both offsets, 5 minutes.",
    praise: None,
    page: Page::Lead,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let channels = reading.channels.iter();
    channels
        .map(|channel| Observation {
            // The offset is there whether the source sounds or not.
            active_s: channel.duration_s,
            affected_s: channel.duration_s,
            confidence_cap: 1.0,
            ..Observation::of(channel, vec![Some(channel.dc_dbfs.clone())])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Role;
    use crate::unit::Fact;

    fn shifted(dc_dbfs: f64) -> Reading {
        let mut input = channel(5, Role::Tom);
        input.dc_dbfs = Fact::exact(dc_dbfs);
        session(vec![input])
    }

    #[test]
    fn fires_when_the_offset_is_large() {
        assert_eq!(only(&RULE, &shifted(-59.0)), Near, "over -60");
        assert_eq!(only(&RULE, &shifted(-39.0)), Outside, "over -40");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &shifted(-60.0)), OnTarget, "-60 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_recording_too_short_to_tell() {
        let mut short = shifted(-30.0);
        short.channels[0].duration_s = 8.0;
        assert!(matches!(only(&RULE, &short), NotJudged(_)), "8 s hold no block");
    }
}
