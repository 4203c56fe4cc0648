//! Breathing or pumping.
//!
//! Looks at gain that moves in time with the music: of a channel with both taps, and of the whole mix. Never speaks of a fader.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Reading, SegmentKind};
use crate::session::Role;
use crate::unit::Unit;

const ROLES: &[Role] = &[Role::LeadVocal, Role::BackingVocal, Role::Speech, Role::Bass];

pub(super) const RULE: Rule = Rule {
    id: "comp-pump",
    title: "Breathing or pumping",
    group: Group::Dynamics,
    tier: Tier::C,
    effect: 2,
    ease: 2,
    explains: &[],
    measures: "Swing of the gain of a channel between its two taps, or of all channels of the mix at once, as far as it keeps time at 1 to 8 Hz.",
    limbs: &[Limb {
        name: "swing of the gain",
        unit: Unit::Db,
        windows: &[Window::at_most(3.0, 5.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Between],
    guards: Guards { min_confidence: 0.7, ..Guards::USUAL },
    guard_text: "20 s in which the gain keeps time, which is 20 beats; both taps of a channel, or a mix that could be read back.",
    absent: "no channel was recorded on both sides of its processing, and what moves the mix keeps no time",
    heard: "{who} {is} breathing in time with the music",
    why: "The background surges up whenever the voice pauses.",
    advice: &[
        "Set a longer release, and a higher threshold.",
        "Take the low end of the kick out of what drives the compressor of the mix.",
        "Compress the mix less.",
    ],
    backing: &[Source::CommonPractice],
    shows: "The gain over ten seconds, with the hits of the kick.",
    fooled_by: "a side chain in playback that is meant so, and a tremolo",
    other_causes: "a loud kick or a plosive that drives the compressor",
    question: "What moves when the singer stops for a breath?",
    exercise: "Set the release from 50 to 500 ms while the band plays, and listen to the cymbals, 4 minutes.",
    praise: None,
    page: Page::Mentor,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    let taps = reading.channels.iter().filter(|channel| ROLES.contains(&channel.role));
    let channels = taps.filter_map(|channel| {
        let pump_db = &channel.processing.as_ref()?.pump_db;
        Some(pick::through_mix(channel, vec![Some(pump_db.clone())]))
    });
    let of_mix = reading.mix.iter().map(|mix| {
        let song_s: f64 =
            reading.segments_of(SegmentKind::Song).map(|song| song.span.length_s()).sum();
        Observation {
            subject: Some("The mix"),
            evidence: reading
                .segments_of(SegmentKind::Song)
                .map(|song| song.span)
                .take(1)
                .collect(),
            ..Observation::of_session(vec![Some(mix.bus_pump_db.clone())], song_s)
        }
    });
    channels.chain(of_mix).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, NotJudged, OnTarget, Outside};
    use crate::coach::example::{channel, mixed, only, processing};
    use crate::reading::Processing;
    use crate::unit::Fact;

    fn mix(pump_db: f64, confidence: f64) -> Reading {
        let mut reading = mixed(vec![channel(1, Role::Kick)]);
        let mix = reading.mix.as_mut().expect("it was mixed");
        mix.bus_pump_db = Fact::sure(pump_db, confidence);
        reading
    }

    #[test]
    fn fires_when_the_mix_or_a_voice_breathes() {
        assert_eq!(only(&RULE, &mix(4.0, 0.8)), Near, "over 3");
        assert_eq!(only(&RULE, &mix(6.0, 0.8)), Outside, "over 5");
        let mut voice = channel(17, Role::LeadVocal);
        let between = processing(&voice);
        voice.processing = Some(Processing { pump_db: Fact::sure(6.0, 0.9), ..between });
        assert_eq!(only(&RULE, &mixed(vec![voice])), Outside, "over 5");
    }

    #[test]
    fn stays_quiet_at_the_edge_of_the_target() {
        assert_eq!(only(&RULE, &mix(3.0, 0.8)), OnTarget, "3 is inside");
    }

    #[test]
    fn is_not_fooled_by_a_trace_that_is_rough() {
        assert!(matches!(only(&RULE, &mix(8.0, 0.5)), NotJudged(_)), "half sure");
    }
}
