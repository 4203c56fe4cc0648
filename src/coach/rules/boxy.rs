//! Boxy middle.
//!
//! Looks at the 355-891 Hz band against the role's window and its neighbours. Never counts the natural body of speech.

use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::{pick, windows};
use crate::reading::{Channel, Reading};
use crate::session::Role;
use crate::unit::{Fact, Unit, Unmeasured};

const ROLES: &[Role] = &[
    Role::Kick,
    Role::SnareTop,
    Role::SnareBottom,
    Role::Tom,
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::AcousticGuitar,
    Role::Choir,
];

pub(super) const RULE: Rule = Rule {
    id: "boxy",
    title: "Boxy middle",
    group: Group::Tone,
    tier: Tier::B,
    effect: 2,
    ease: 2,
    explains: &[],
    measures: "Share of 355-891 Hz above the role's window, and above both neighbour bands by 6 dB more than in the window.",
    limbs: &[
        Limb {
            name: "body over window",
            unit: Unit::Db,
            windows: &[
                Window::near_above(6.0, Source::CommonPractice).roles(&[Role::Speech]),
                Window::at_most(0.0, 4.0, Source::CommonPractice),
            ],
        },
        Limb {
            name: "contrast to neighbours",
            unit: Unit::Db,
            windows: &[Window::at_most(6.0, 6.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::All,
    needs: &[],
    guards: Guards { min_own_to_spill_db: Some(10.0), ..Guards::USUAL },
    guard_text: "Outside the window in 60 % of active blocks or more, in two songs or one long talk; own-to-spill of 10 dB or more; before the EQ it is a check for the mentor. Speech only from 6 dB over the window.",
    absent: "no drum, voice, choir or acoustic guitar was recorded",
    heard: "{who} {is} boxy",
    why: "It sounds like a cardboard box.",
    advice: &[
        "Move the microphone: kick nearer the beater, tom aimed at the edge.",
        "Dampen or retune the drum.",
        "Cut 3 dB at most, broadly at 400-600 Hz, and listen in the band.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Spectrum over the window.",
    fooled_by: "the natural body of speech, which peaks here",
    other_causes: "a small booth, an undamped drum, or a microphone in the middle of the skin",
    question: "Does it change when the microphone moves a hand width?",
    exercise: "Move one drum microphone through three places and describe the body of each, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::MentorCheck("the EQ"),
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::as_mixed(reading, ROLES)
        .iter()
        .map(|channel| {
            let over = pick::over_window(channel, windows::BODY);
            pick::tone(
                reading,
                channel,
                Some(windows::BODY),
                vec![Some(over), Some(contrast(channel))],
            )
        })
        .collect()
}

/// How much more the body stands above the nearer of its neighbours than the middles of the windows do, in dB.
fn contrast(channel: &Channel) -> Fact {
    let middle = |band| windows::middle(channel.role, band);
    let above = |neighbour: usize| {
        let usual_db = middle(windows::BODY)? - middle(neighbour)?;
        let [body, other] =
            [windows::BODY, neighbour].map(|band| pick::bands(&channel.spectrum.band_db, &[band]));
        Some(pick::map(&pick::minus(&body, &other), |db| db - usual_db))
    };
    match (above(windows::THICK), above(windows::NOSE)) {
        (Some(below), Some(beyond)) => pick::join(&below, &beyond, f64::min),
        _ => Fact::missing(Unmeasured::Because("there is no window for what the channel carries")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Tap;

    /// A channel whose body stands so far over its window while its neighbours lie so far under their middles.
    fn boxed(role: Role, over_db: f64, dip_db: f64) -> Reading {
        let mut input = channel(1, role);
        let high = windows::window(role, windows::BODY).1.expect("the role has a window here");
        input.spectrum.band_db[windows::BODY] = Fact::exact(high + over_db);
        for band in [windows::THICK, windows::NOSE] {
            let middle = windows::middle(role, band).expect("the role has a window here");
            input.spectrum.band_db[band] = Fact::exact(middle - dip_db);
        }
        input.spectrum.band_out_percent[windows::BODY] = 80.0;
        input.tap = Tap::Processed;
        session(vec![input])
    }

    #[test]
    fn fires_when_the_body_stands_over_window_and_neighbours() {
        assert_eq!(only(&RULE, &boxed(Role::Tom, 5.0, 4.0)), Outside, "5 dB over, clear contrast");
        assert_eq!(only(&RULE, &boxed(Role::Tom, 1.0, 4.0)), Near, "1 dB over");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_window() {
        assert_eq!(only(&RULE, &boxed(Role::Tom, 0.0, 4.0)), OnTarget, "the end is inside");
    }

    #[test]
    fn is_not_fooled_by_the_body_of_speech_or_a_full_sound() {
        assert_eq!(only(&RULE, &boxed(Role::Speech, 5.0, 4.0)), OnTarget, "speech peaks here");
        assert_eq!(
            only(&RULE, &boxed(Role::Tom, 1.0, -6.0)),
            OnTarget,
            "the neighbours are up as well"
        );
    }
}
