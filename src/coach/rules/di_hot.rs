//! DI or line source too strong.
//!
//! Looks at peaks and flat tops of line inputs. Never counts a peak that came less than three times.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::Reading;
use crate::session::Role;
use crate::unit::Unit;

/// A line signal stands at least this far over its noise, in dB.
const CLEAN_DB: f64 = 50.0;
/// Fewer events may be one loud note.
const MIN_EVENTS: usize = 3;

pub(super) const RULE: Rule = Rule {
    id: "di-hot",
    title: "DI or line source too strong",
    group: Group::Gain,
    tier: Tier::A,
    effect: 2,
    ease: 1,
    explains: &["clip-input"],
    measures: "Top peak or flat tops of a line input whose loud level stands 50 dB or more over its noise.",
    limbs: &[
        Limb {
            name: "top peak",
            unit: Unit::Dbfs,
            windows: &[Window::at_most(-6.0, -2.0, Source::CommonPractice)],
        },
        Limb {
            name: "flat tops",
            unit: Unit::Count,
            windows: &[Window::at_most(0.0, 0.0, Source::CommonPractice)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards::USUAL,
    guard_text: "Level over noise of 50 dB or more; three peaks or flat tops or more.",
    absent: "no line input of an instrument was recorded",
    heard: "{who} {is} strong at the source",
    why: "A strong line signal overloads DI or preamplifier before the meter shows it.",
    advice: &[
        "Keep the instrument at three quarters to full and lower the desk gain.",
        "Switch the pad in (usually 20 dB) if the gain is at its lowest.",
        "Check the line/mic switch and the kind of cable.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Waveform of the worst event.",
    fooled_by: "a synthesiser patch with one loud single note",
    other_causes: "a line signal on a microphone input",
    question: "Is it one patch or the whole evening?",
    exercise: "Step through the player's five loudest patches and read the peaks, 5 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .filter(|input| {
            input.is_line && input.role != Role::ElectricGuitar && pick::LINE.contains(&input.role)
        })
        .map(|input| {
            let over_noise =
                pick::minus(&input.loud_level_dbfs, &input.quiet_level_above_200_hz_dbfs);
            let tops = pick::flat_tops(input)
                .filter(|_| input.flat_tops.count == 0 || input.flat_tops.count >= MIN_EVENTS);
            Observation {
                n_events: input.n_top_peaks.max(input.flat_tops.count),
                evidence: pick::at(&input.top_peaks_at_s),
                ..pick::raw_by_role(input, vec![Some(pick::repeated_peak(input)), tops])
            }
            .doubted(
                over_noise.value().is_none_or(|db| db < CLEAN_DB),
                "its level over noise is not known to be 50 dB",
            )
            .doubted(pick::has_own_scale(input), pick::OWN_SCALE)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, only, session};
    use crate::reading::Events;
    use crate::unit::Fact;

    fn keys(peak_dbfs: f64, n_peaks: usize) -> Reading {
        let mut keys = channel(13, Role::Keys);
        keys.top_peak_dbfs = Fact::exact(peak_dbfs);
        keys.n_top_peaks = n_peaks;
        session(vec![keys])
    }

    #[test]
    fn fires_when_peaks_come_close_to_full_scale() {
        assert_eq!(only(&RULE, &keys(-5.5, 3)), Near, "over -6");
        assert_eq!(only(&RULE, &keys(-1.5, 3)), Outside, "over -2");
        let mut clipped = keys(-7.0, 3);
        clipped.channels[0].flat_tops = Events { count: 3, at_s: vec![1.0, 2.0, 3.0] };
        assert_eq!(only(&RULE, &clipped), Outside, "flat tops");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &keys(-6.0, 3)), OnTarget, "-6 is inside");
    }

    #[test]
    fn is_not_fooled_by_one_loud_note_or_a_noisy_input() {
        assert!(matches!(only(&RULE, &keys(-1.0, 2)), NotJudged(_)), "two peaks only");
        let mut noisy = keys(-1.0, 5);
        noisy.channels[0].quiet_level_above_200_hz_dbfs = Fact::exact(-60.0);
        assert!(matches!(only(&RULE, &noisy), NotJudged(_)), "42 dB over noise");
    }
}
