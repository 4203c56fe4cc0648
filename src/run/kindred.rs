//! Channels that turn out to hold one source, or one side of it only, though neither names nor notes say so.
//!
//! Takes what channels carry and how alike they are, gives pairs to look at, kin, and sentences about them. Never doubts what
//! a name says.

use super::meters::Common;
use super::pair_facts::blank;
use crate::measure::{crest, standing, tone};
use crate::reading::{Channel, Kinship, Pair};
use crate::relate::activity::Activity;
use crate::relate::alike::{Alike, Evidence, Heard, Kind, alike, one_sided};
use crate::relate::arrival::{ArrivalMeter, Mask};
use crate::relate::cast::Candidate;
use crate::relate::coherence::CoherenceMeter;
use crate::session::{Role, SessionChannel, Side};
use crate::unit::{Fact, Unmeasured};

/// Channels of one source are patched side by side, or with a channel or two between (common practice).
const APART: usize = 3;

/// Two channels that were found to hold one source.
pub(super) struct Kindred {
    pub(super) alike: Alike,
    pub(super) evidence: Evidence,
}

/// Pairs of neighbouring inputs whose names leave open whether they hold one source.
pub(super) fn suspects(candidates: &[Candidate], kin: &[(usize, usize)]) -> Vec<(usize, usize)> {
    let mut suspects = Vec::new();
    for first in 0..candidates.len() {
        for second in first + 1..candidates.len().min(first + APART + 1) {
            let is_known = kin.contains(&(first, second)) || kin.contains(&(second, first));
            let [a, b] = [&candidates[first], &candidates[second]];
            if a.is_heard && b.is_heard && !is_known && is_open(a.source.role, b.source.role) {
                suspects.push((first, second));
            }
        }
    }
    suspects
}

/// Whether two roles leave it open. Toms, voices and choirs stand in numbers; a kit's pieces have their names.
fn is_open(a: Role, b: Role) -> bool {
    let comes_twice = matches!(
        a,
        Role::Kick | Role::SnareTop | Role::Bass | Role::AcousticGuitar | Role::ElectricGuitar
    );
    a == Role::Unknown || b == Role::Unknown || (a == b && comes_twice)
}

/// What tells a drum from notes and a wire from a microphone, for one channel.
pub(super) fn heard(candidate: &Candidate, common: &Common, activity: &Activity) -> Heard {
    let spans = &activity.spans;
    Heard {
        loud_dbfs: standing::loud_level_dbfs(&common.levels.power, spans).ok(),
        crest_db: crest::active_db(&common.levels, spans).ok(),
        middle_hz: tone::tone(&common.thirds, spans).ok().and_then(|tone| tone.middle_hz()),
        is_line: (candidate.source.role != Role::Unknown).then_some(candidate.source.is_line),
    }
}

/// How alike some pairs of channels are as they are, with all that both hear.
pub(super) struct TwinMeters {
    suspects: Vec<(usize, usize)>,
    arrivals: ArrivalMeter,
    coherences: CoherenceMeter,
}

impl TwinMeters {
    /// Meters for these pairs.
    pub(super) fn new(suspects: &[(usize, usize)], n_channels: usize, rate_hz: u32) -> Self {
        let all = suspects.iter().map(|&(first, second)| (first, second, Mask::all())).collect();
        Self {
            suspects: suspects.to_vec(),
            arrivals: ArrivalMeter::new(rate_hz, all),
            coherences: CoherenceMeter::new(rate_hz, n_channels, suspects),
        }
    }

    /// The next block; `begins` is its place in the session where it does not adjoin the last.
    pub(super) fn push(&mut self, begins: Option<usize>, planes: &[&[f32]]) {
        if self.suspects.is_empty() {
            return;
        }
        if let Some(begins) = begins {
            self.arrivals.gap(begins as u64);
            self.coherences.gap();
        }
        rayon::join(|| self.arrivals.push(planes), || self.coherences.push(planes));
    }

    /// The pairs that hold one source.
    pub(super) fn finish(self, heard: &[Heard]) -> Vec<Kindred> {
        let found = self.arrivals.finish().into_iter().zip(self.coherences.finish());
        let evidence = self.suspects.into_iter().zip(found);
        let evidence = evidence.filter_map(|((first, second), (arrival, coherence))| {
            let coherence = coherence.ok()?;
            Some(Evidence {
                first,
                second,
                coherence,
                arrival: arrival.ok(),
                body_correlation: None,
            })
        });
        evidence
            .filter_map(|evidence| {
                let alike = alike(heard, &[evidence]).pop()?;
                Some(Kindred { alike, evidence })
            })
            .collect()
    }
}

/// The pairs of channels that were found to hold one source.
pub(super) fn pairs(channels: &[Channel], kindred: &[Kindred]) -> Vec<Pair> {
    let pair = |one: &Kindred| {
        let Alike { first, second, confidence, .. } = one.alike;
        let unknown = || Fact::missing(Unmeasured::Because("no single arrival stands out"));
        let sign = if first == one.evidence.first { 1.0 } else { -1.0 };
        let arrival = one.evidence.arrival;
        Pair {
            delay_s: arrival.map_or_else(unknown, |one| Fact::sure(sign * one.delay_s, confidence)),
            polarity: arrival.map_or_else(unknown, |one| Fact::sure(one.polarity, confidence)),
            coherence: Fact::sure(one.evidence.coherence.voice_band, confidence),
            ..blank(channels, first, second, Kinship::SameSource)
        }
    };
    kindred.iter().map(pair).collect()
}

/// A sentence for each of them.
pub(super) fn sentences(channels: &[Channel], kindred: &[Kindred]) -> Vec<String> {
    let sentence = |one: &Kindred| {
        let what = match one.alike.kind {
            Kind::OneSignal => "carry one signal, one later than the other",
            Kind::WireAndMicrophone => {
                "carry one source, the second later, like a wire and a microphone or two microphones"
            }
            Kind::SnareHeads => "sound like the two heads of one snare",
            Kind::KickInsideAndOutside => "sound like the inside and the outside of one kick",
            Kind::OneSided | Kind::Swapped => return None,
        };
        let [first, second] = names(channels, one.alike.first, one.alike.second);
        Some(format!(
            "{first} and {second} {what}: they are taken as one source; name them accordingly, or say in session.toml what each is"
        ))
    };
    kindred.iter().filter_map(sentence).collect()
}

/// A sentence for each stereo source of which one side is missing.
pub(super) fn one_sided_sentences(
    session: &[SessionChannel],
    channels: &[Channel],
    heard: &[Heard],
) -> Vec<String> {
    let sides = session.iter().enumerate().filter_map(|(left, channel)| {
        let right = channel.partner.filter(|&right| right < session.len())?;
        (channel.side == Some(Side::Left) && channel.role.is_input()).then_some((left, right))
    });
    let stereo: Vec<(usize, usize)> = sides.collect();
    let sentence = |one: &Alike| {
        let [sounds, missing] = names(channels, one.first, one.second);
        format!(
            "{missing} is silent or far softer than {sounds}, its other side: if the source is mono, one channel is enough"
        )
    };
    one_sided(heard, &stereo).iter().map(sentence).collect()
}

fn names(channels: &[Channel], first: usize, second: usize) -> [String; 2] {
    [first, second].map(|idx| format!("{} {}", channels[idx].number, channels[idx].name))
}
