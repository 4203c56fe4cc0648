//! On the edge of feedback.
//!
//! Looks at tones that hang on in a microphone while somebody talks. Never judges songs: there every note may hang on.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::wording;
use crate::reading::{Reading, Ring, Ringing};
use crate::unit::spans::widened;
use crate::unit::{Fact, Span, Unit};

pub(super) const RULE: Rule = Rule {
    id: "ring-near",
    title: "On the edge of feedback",
    group: Group::Feedback,
    tier: Tier::C,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Moments of talk in which a tone hangs on at one frequency while the voice moves on.",
    limbs: &[
        Limb {
            name: "rings at one frequency",
            unit: Unit::Count,
            windows: &[Window::at_most(3.0, 8.0, Source::CommonPractice)],
        },
        Limb {
            name: "frequencies that ring",
            unit: Unit::Count,
            windows: &[Window::at_most(1.0, 1.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[],
    guards: Guards::USUAL,
    guard_text: "20 s of talk into the microphone; a frequency that stands 10 dB over what lies beside it on the mean of 6 s, and moments of 0.3 s or more in which it stays within 1.2 Hz; what howls counts there.",
    absent: "nobody talks into a microphone",
    heard: "{who} {is} ringing",
    why: "Hollow, ringing words: the system has no reserve left.",
    advice: &[
        "Lower that microphone in the wedges by 3 dB.",
        "Move the mouth closer to the microphone.",
        "Close microphones that nobody uses.",
        "Cut narrowly at the frequency shown, as the last step.",
    ],
    backing: &[Source::Published(
        "run about 6 dB below the onset of feedback (Davis and Patronis, Sound System Engineering, from memory)",
    )],
    shows: "The frequency, and when it rang.",
    fooled_by: "a resonance of the hall, a drum that rings along, or an effect",
    other_causes: "a hand around the grille, a low ceiling over the stage, or a wedge that was turned up",
    question: "Which words sound hollow, and which wedge carries this voice?",
    exercise: "Say one word every five seconds into the microphone, listen to what hangs on, and lower its wedge until nothing does, 3 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

/// How sure the number of rings is: trials told 4 of 5 at 0.8 dB under instability, and of talk without a loop 2 of 120 clips.
const SURE: f64 = 0.7;

/// Time before and after that an ear needs, in seconds.
const AROUND_S: f64 = 2.0;

fn observe(reading: &Reading) -> Vec<Observation> {
    let heard = reading.feedback.ringing.iter().filter(|one| one.talk_s > 0.0);
    heard.filter_map(|one| observation(one, reading)).collect()
}

fn observation(ringing: &Ringing, reading: &Reading) -> Option<Observation> {
    let channel = reading.channel(&ringing.channel)?;
    let most = ringing.rings.iter().max_by_key(|ring| ring.at.len());
    let n_most = most.map_or(0, |ring| ring.at.len());
    let often: Vec<&Ring> = ringing.rings.iter().filter(|ring| ring.at.len() > OFTEN).collect();
    let spans: Vec<Span> = most.iter().flat_map(|ring| ring.at.iter().copied()).collect();
    Some(Observation {
        evidence: widened(&spans, AROUND_S),
        active_s: ringing.talk_s,
        affected_s: ringing.rings.iter().map(|ring| ring.rings_s).sum(),
        n_events: n_most,
        detail: most.map(|ring| tone(ring).into()),
        is_raw: false,
        ..pick::by_role(
            channel,
            vec![Some(Fact::sure(n_most as f64, SURE)), Some(Fact::sure(often.len() as f64, SURE))],
        )
    })
}

/// Rings at a second frequency count from the fourth on.
const OFTEN: usize = 3;

fn tone(ring: &Ring) -> String {
    let at = wording::tone(ring.frequency_hz);
    format!("It rings at {at}, {:.1} s in all.", ring.rings_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::session::Role;

    fn ringing(n_rings: &[usize], talk_s: f64) -> Reading {
        let mut reading = session(vec![channel(21, Role::Speech)]);
        let ring = |(idx, n): (usize, &usize)| {
            let at = |k: usize| Span::new(20.0 + 2.0 * k as f64, 20.6 + 2.0 * k as f64);
            Ring {
                frequency_hz: 400.0 * (idx + 1) as f64,
                rings_s: 0.6 * *n as f64,
                at: (0..*n).map(at).collect(),
            }
        };
        let rings = n_rings.iter().enumerate().map(ring).collect();
        reading.feedback.ringing = vec![Ringing { channel: "ch21".to_owned(), talk_s, rings }];
        reading
    }

    #[test]
    fn fires_when_a_microphone_rings_often() {
        assert_eq!(only(&RULE, &ringing(&[5], 60.0)), Near, "over 3");
        assert_eq!(only(&RULE, &ringing(&[9], 60.0)), Outside, "over 8");
        assert_eq!(only(&RULE, &ringing(&[5, 4], 60.0)), Outside, "two frequencies");
    }

    #[test]
    fn stays_quiet_at_three() {
        assert_eq!(only(&RULE, &ringing(&[3], 60.0)), OnTarget, "3 is inside");
        assert_eq!(only(&RULE, &ringing(&[], 60.0)), OnTarget, "none");
    }

    #[test]
    fn is_not_fooled_by_a_few_words() {
        let reading = ringing(&[2], 10.0);
        assert!(matches!(only(&RULE, &reading), NotJudged(_)), "10 s are too short");
    }
}
