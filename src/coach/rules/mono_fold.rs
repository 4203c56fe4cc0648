//! Main mix loses level in mono.
//!
//! Looks at the loudness of each song in mono against stereo. Never speaks of one song alone, which may be wide on purpose.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SongLoudness};
use crate::unit::{Fact, Unit, Unmeasured};

const SOURCE: Source = Source::Computed(
    "uncorrelated sides give -3 LU, identical sides 0 (from the summing of ITU-R BS.1770)",
);

pub(super) const RULE: Rule = Rule {
    id: "mono-fold",
    title: "Main mix loses level in mono",
    group: Group::Polarity,
    tier: Tier::A,
    effect: 3,
    ease: 1,
    explains: &[],
    measures: "Loudness of (L+R)/2 on both sides minus loudness of L and R, whole range and 224-3548 Hz; the second worst song counts.",
    limbs: &[
        Limb {
            name: "mono against stereo",
            unit: Unit::Lu,
            windows: &[Window::at_least(-3.0, -6.0, SOURCE)],
        },
        Limb {
            name: "mono against stereo, middle range",
            unit: Unit::Lu,
            windows: &[Window::at_least(-3.0, -6.0, SOURCE)],
        },
    ],
    combine: Combine::Worst,
    needs: &[Need::Main],
    guards: Guards::USUAL,
    guard_text: "Two songs or more that lose level.",
    absent: "the main mix was not recorded",
    heard: "{who} {is} weaker in mono",
    why: "Many seats, phones and the foyer loudspeaker hear mono.",
    advice: &[
        "Find the wide source (keys, playback, effect) and mend its polarity.",
        "Pan key parts closer to the middle.",
    ],
    backing: &[SOURCE],
    shows: "Loss in each band, and the channel that explains it.",
    fooled_by: "a wide effect on purpose in one song",
    other_causes: "a stereo source with one side inverted",
    question: "Which part goes missing in mono?",
    exercise: "Listen to one chorus in stereo and mono in turn and name what goes, 3 minutes.",
    praise: Some("The main mix held its level in mono, {value} at worst."),
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let Some(main) = reading.main.as_ref().filter(|main| main.right.is_some()) else {
        return Vec::new();
    };
    let mut songs: Vec<(&SongLoudness, f64)> =
        main.songs.iter().filter_map(|song| Some((song, song.mono_fold_lu.value()?))).collect();
    songs.sort_by(|left, right| left.1.total_cmp(&right.1));
    // One song may be wide on purpose; the second worst speaks for two.
    let Some((song, _)) = songs.get(1) else {
        let fact = Fact::missing(Unmeasured::Because("it takes two songs to tell"));
        return vec![pick::main_mix(reading, vec![Some(fact)])];
    };
    vec![Observation {
        songs: songs.iter().take(2).map(|(song, _)| song.title.clone()).collect(),
        evidence: songs.iter().take(2).map(|(song, _)| song.span).collect(),
        affected_s: songs.iter().take(2).map(|(song, _)| song.span.length_s()).sum(),
        ..pick::main_mix(
            reading,
            vec![Some(song.mono_fold_lu.clone()), Some(song.mono_fold_mid_lu.clone())],
        )
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{main_mix, only, song, with_main};

    fn songs(losses_lu: &[f64]) -> Reading {
        let mut main = main_mix();
        main.songs = losses_lu
            .iter()
            .map(|loss_lu| SongLoudness {
                mono_fold_lu: Fact::exact(*loss_lu),
                ..song("Brambles", 100.0)
            })
            .collect();
        with_main(main)
    }

    #[test]
    fn fires_when_two_songs_lose_level() {
        assert_eq!(only(&RULE, &songs(&[-3.5, -4.0, 0.0])), Near, "two songs over 3 LU");
        assert_eq!(only(&RULE, &songs(&[-7.0, -8.0])), Outside, "two songs over 6 LU");
    }

    #[test]
    fn stays_quiet_at_what_unrelated_sides_lose() {
        assert_eq!(only(&RULE, &songs(&[-3.0, -3.0])), OnTarget, "-3 LU is inside");
    }

    #[test]
    fn is_not_fooled_by_one_wide_song() {
        assert_eq!(only(&RULE, &songs(&[-9.0, -1.0, -0.5])), OnTarget, "one song only");
        assert!(matches!(only(&RULE, &songs(&[-9.0])), NotJudged(_)), "there is no second song");
    }
}
