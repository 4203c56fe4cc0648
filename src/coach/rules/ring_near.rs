//! On the edge of feedback.
//!
//! Looks at tones that hang on while somebody talks, in microphones, mixes and the hall. Never judges songs: there every note may hang on.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::coach::wording;
use crate::reading::{Channel, Reading, Ring, Ringing};
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
    measures: "Moments of talk in which a tone hangs on at one frequency while the voice moves on, in a microphone; or in a mix or the hall, where no microphone shows it.",
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
    guard_text: "20 s of talk; a frequency that stands 10 dB over what lies beside it on the mean of 6 s, and moments of 0.3 s or more in which it stays within 1.2 Hz; in mixes, choir and hall 12 dB and once more 8 dB, and no line input that plays it; what howls counts there.",
    absent: "nobody talks",
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

/// How sure the number of rings is: at 0.8 dB under instability trials told 4 of 5 in a talker's microphone and 7 of 10 in a mix, and of
/// talk without a loop 2 of 120 clips, in a mix, the choir or the hall 3 of 504.
const SURE: f64 = 0.7;

/// Time before and after that an ear needs, in seconds.
const AROUND_S: f64 = 2.0;

fn observe(reading: &Reading) -> Vec<Observation> {
    reading.feedback.ringing.iter().filter_map(|one| observation(one, reading)).collect()
}

fn observation(ringing: &Ringing, reading: &Reading) -> Option<Observation> {
    let channel = reading.channel(&ringing.channel)?;
    let most = ringing.rings.iter().max_by_key(|ring| ring.at.len());
    let n_most = most.map_or(0, |ring| ring.at.len());
    let often: Vec<&Ring> = ringing.rings.iter().filter(|ring| ring.at.len() > OFTEN).collect();
    let spans: Vec<Span> = most.iter().flat_map(|ring| ring.at.iter().copied()).collect();
    let count = |n: usize| match &ringing.not_measurable {
        Some(reason) => Fact::missing(reason.clone()),
        None => Fact::sure(n as f64, SURE),
    };
    let observation = Observation {
        subject: pick::loop_subject(channel),
        evidence: widened(&spans, AROUND_S),
        active_s: ringing.talk_s,
        affected_s: ringing.rings.iter().map(|ring| ring.rings_s).sum(),
        n_events: n_most,
        detail: most.map(|ring| tone(ring, channel).into()),
        is_raw: false,
        ..pick::by_role(channel, vec![Some(count(n_most)), Some(count(often.len()))])
    };
    Some(if ringing.talk_s > 0.0 { observation } else { observation.withheld(Ringing::NO_TALK) })
}

/// Rings at a second frequency count from the fourth on.
const OFTEN: usize = 3;

fn tone(ring: &Ring, channel: &Channel) -> String {
    let at = wording::tone(ring.frequency_hz);
    let where_from = match ring.heard_in.len().saturating_sub(1) {
        // A loop goes through a microphone: what a mix or the hall shows alone comes from one that was not recorded, or not near enough.
        _ if channel.role.family().only_hears_loops() => format!("; {}", pick::UNSEEN_LOOP),
        0 => String::new(),
        1 => "; one other channel shows it too".to_owned(),
        _ => "; other channels show it too".to_owned(),
    };
    format!("It rings at {at}, {:.1} s in all{where_from}.", ring.rings_s)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, judged, only, session};
    use crate::coach::wording::sentence;
    use crate::session::Role;
    use crate::unit::Unmeasured;

    fn ringing(n_rings: &[usize], talk_s: f64) -> Reading {
        ringing_at(Role::Speech, n_rings, talk_s)
    }

    fn ringing_at(role: Role, n_rings: &[usize], talk_s: f64) -> Reading {
        let mut reading = session(vec![channel(21, role), channel(22, Role::Main)]);
        let ring = |(idx, n): (usize, &usize)| {
            let at = |k: usize| Span::new(20.0 + 2.0 * k as f64, 20.6 + 2.0 * k as f64);
            Ring {
                frequency_hz: 400.0 * (idx + 1) as f64,
                heard_in: vec!["ch21".to_owned(), "ch22".to_owned()],
                rings_s: 0.6 * *n as f64,
                at: (0..*n).map(at).collect(),
            }
        };
        let rings = n_rings.iter().enumerate().map(ring).collect();
        let channel = "ch21".to_owned();
        reading.feedback.ringing = vec![Ringing { channel, talk_s, not_measurable: None, rings }];
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

    #[test]
    fn is_not_fooled_by_a_voice_that_only_sings() {
        let outcome = only(&RULE, &ringing_at(Role::LeadVocal, &[], 0.0));
        assert!(
            matches!(&outcome, NotJudged(why) if why.contains("notes that are held")),
            "{outcome:?}"
        );
    }

    #[test]
    fn fires_in_the_main_mix_the_choir_and_the_hall() {
        for role in [Role::Main, Role::MonitorMix, Role::Choir, Role::Room] {
            assert_eq!(only(&RULE, &ringing_at(role, &[5], 60.0)), Near, "{role:?}");
        }
    }

    #[test]
    fn tells_where_it_rings_and_whether_a_microphone_is_known() {
        let told = |role: Role| {
            let reading = ringing_at(role, &[9], 60.0);
            let judgements = judged(&RULE, &reading);
            sentence(&RULE, &judgements.iter().collect::<Vec<_>>(), &reading)
        };
        let of_main = told(Role::Main);
        assert!(of_main.contains("The main mix "), "{of_main}");
        assert!(of_main.contains("no recorded microphone shows it"), "{of_main}");
        assert!(told(Role::Room).contains("The hall "), "{}", told(Role::Room));
        let of_talker = told(Role::Speech);
        assert!(of_talker.contains("one other channel shows it too"), "{of_talker}");
    }

    #[test]
    fn is_not_fooled_by_a_hall_that_shows_none() {
        let mut reading = ringing_at(Role::Room, &[], 60.0);
        let reason = Unmeasured::Because("the hall hides it");
        reading.feedback.ringing[0].not_measurable = Some(reason);
        let outcome = only(&RULE, &reading);
        assert!(matches!(&outcome, NotJudged(why) if why.contains("hides it")), "{outcome:?}");
    }
}
