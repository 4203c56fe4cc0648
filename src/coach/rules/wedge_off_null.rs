//! Wedge not in the mic's quiet direction.
//!
//! Looks at the stage plot. Never gives a verdict on sound: it is a thing to check on stage.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, WedgeDirection};
use crate::unit::Unit;

pub(super) const RULE: Rule = Rule {
    id: "wedge-off-null",
    title: "Wedge not in the mic's quiet direction",
    group: Group::Feedback,
    tier: Tier::B,
    effect: 2,
    ease: 1,
    explains: &["ring-near"],
    measures: "Nominal level of the microphone's pattern towards the monitor loudspeaker that serves it, from the angle in space between its axis and the loudspeaker on the stage plot.",
    limbs: &[Limb {
        name: "level towards the wedge",
        unit: Unit::Db,
        windows: &[Window::at_most(-16.0, -10.0, SOURCE)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Plot],
    guards: Guards { min_active_s: 0.0, min_events: 0, ..Guards::USUAL },
    guard_text: "A plot that was checked on the day of the session, with the pattern, the place and the axis of the microphone.",
    absent: "the stage plot shows no monitor loudspeaker for a voice",
    heard: "{who} {is} open towards the wedge",
    why: "A wedge in a sensitive direction feeds back several decibels earlier.",
    advice: &[
        "Put the wedge into the quiet direction of the microphone.",
        "Find it behind the tail of a cardioid; of a supercardioid about 55 degrees off the tail, on either side or below.",
        "Tilt the microphone, which stays on the mouth, then the wedge; a flat angle invites feedback.",
        "Keep hands off the grille.",
    ],
    backing: &[SOURCE],
    shows: "The angle, and the level there.",
    fooled_by: "a plot that is out of date, or a microphone in the hand",
    other_causes: "a stand that was turned, or a wedge that was moved after the plot was drawn",
    question: "Where does the tail of this microphone point?",
    exercise: "Walk around one open microphone while speaking softly, and find where it hears least, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

const SOURCE: Source = Source::Computed(
    "first-order patterns: quiet at 180 degrees for a cardioid, 125 for a supercardioid, 110 for a hypercardioid",
);

fn observe(reading: &Reading) -> Vec<Observation> {
    let seen = reading.feedback.wedges.iter();
    seen.filter_map(|seen| observation(seen, reading)).collect()
}

fn observation(seen: &WedgeDirection, reading: &Reading) -> Option<Observation> {
    let channel = reading.channel(&seen.channel)?;
    let observation = Observation {
        confidence_cap: 1.0,
        is_raw: false,
        detail: Some(
            format!(
                "By the plot, {} stands {:.0} degrees off its axis.",
                seen.wedge, seen.angle_deg
            )
            .into(),
        ),
        ..Observation::of(channel, vec![Some(seen.level_db.clone())])
    };
    Some(if reading.feedback.is_plot_checked {
        observation
    } else {
        observation.withheld("the stage plot was not checked on the day of the session")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Role;
    use crate::unit::Fact;

    fn plot(level_db: f64, is_plot_checked: bool) -> Reading {
        let mut reading = session(vec![channel(17, Role::LeadVocal)]);
        reading.feedback.is_plot_checked = is_plot_checked;
        reading.feedback.wedges = vec![WedgeDirection {
            channel: "ch17".to_owned(),
            wedge: "W1".to_owned(),
            angle_deg: 150.0,
            level_db: Fact::sure(level_db, 0.8),
        }];
        reading
    }

    #[test]
    fn fires_when_the_wedge_is_heard() {
        assert_eq!(only(&RULE, &plot(-12.0, true)), Near, "over -16");
        assert_eq!(only(&RULE, &plot(-6.0, true)), Outside, "over -10");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &plot(-16.0, true)), OnTarget, "-16 is inside");
    }

    #[test]
    fn is_not_fooled_by_an_old_plot() {
        assert!(matches!(only(&RULE, &plot(-6.0, false)), NotJudged(_)), "nobody checked it");
    }
}
