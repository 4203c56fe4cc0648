//! Meters for pairs of channels: sides of a stereo source, two channels on one source, and the same signal twice.

use rayon::prelude::*;

use super::queue::Piece;
use crate::dsp::Group;
use crate::reading::Kinship;
use crate::relate::reduction::{Reduction, ReductionMeter};
use crate::relate::same_source::{self, SameSourceMeter};
use crate::relate::stereo::{Agreement, MAX_PAIRS, StereoMeter};
use crate::relate::twin::{Twin, TwinMeter};
use crate::session::{Role, SessionChannel, Side};
use crate::unit::Unmeasured;

/// Where a source has its body, in Hz (common practice): a snare rings higher than other sources.
const BODY_HZ: [f64; 2] = [60.0, 500.0];
const SNARE_BODY_HZ: [f64; 2] = [150.0, 800.0];

/// What pairs of channels say.
pub(super) struct Kin {
    /// Left, right and how they agree.
    pub(super) stereo: Vec<(usize, usize, Result<Agreement, Unmeasured>)>,
    /// Two channels on one source.
    pub(super) same_source: Vec<(usize, usize, Result<same_source::Kin, Unmeasured>)>,
    /// Raw and processed tap of one channel, and what lies between.
    pub(super) taps: Vec<(usize, usize, Result<Reduction, Unmeasured>)>,
    /// Channels that carry one signal.
    pub(super) twins: Vec<Twin>,
}

/// Meters for all pairs of a session.
pub(super) struct KinMeters {
    stereo: Vec<(Vec<(usize, usize)>, StereoMeter)>,
    same_source: Vec<(usize, usize, SameSourceMeter)>,
    taps: Vec<(usize, usize, ReductionMeter)>,
    twins: TwinMeter,
}

impl KinMeters {
    pub(super) fn new(channels: &[SessionChannel], session_hz: u32) -> Self {
        let pairs = pairs(channels);
        let of = |kinship: Kinship| {
            pairs.iter().filter(move |pair| pair.2 == kinship).map(|pair| (pair.0, pair.1))
        };
        let stereo = of(Kinship::StereoPair)
            .collect::<Vec<_>>()
            .chunks(MAX_PAIRS)
            .map(|some| (some.to_vec(), StereoMeter::new(session_hz, some.len())))
            .collect();
        let same_source = of(Kinship::SameSource)
            .map(|(first, second)| {
                let is_snare = channels[first].role == Role::SnareTop;
                let body_hz = if is_snare { SNARE_BODY_HZ } else { BODY_HZ };
                (first, second, SameSourceMeter::new(session_hz, body_hz))
            })
            .collect();
        let behind = channels.iter().enumerate();
        let taps = behind
            .filter_map(|(idx, channel)| Some((channel.raw?, idx, ReductionMeter::new(session_hz))))
            .collect();
        Self { stereo, same_source, taps, twins: TwinMeter::new(channels.len()) }
    }

    /// The work on the next block of all channels.
    pub(super) fn pieces<'a>(
        &'a mut self,
        planes: &'a [&'a [f32]],
        session_hz: u32,
    ) -> Vec<Piece<'a>> {
        let Self { stereo, same_source, taps, twins } = self;
        let mut pieces: Vec<Piece<'a>> = vec![Box::new(|| twins.push(planes))];
        for (some, meter) in stereo {
            pieces.push(Box::new(move || {
                let sides = some.iter().flat_map(|&(left, right)| [left, right]);
                let sides: Vec<&[f32]> = sides.map(|channel| planes[channel]).collect();
                meter.push(Group::new(&sides, session_hz));
            }));
        }
        for (first, second, meter) in same_source {
            pieces.push(Box::new(|| meter.push(planes[*first], planes[*second])));
        }
        for (raw, processed, meter) in taps {
            pieces.push(Box::new(|| meter.push(planes[*raw], planes[*processed])));
        }
        pieces
    }

    pub(super) fn finish(self) -> Kin {
        Kin {
            stereo: self
                .stereo
                .into_iter()
                .flat_map(|(some, meter)| some.into_iter().zip(meter.finish()))
                .map(|((left, right), agreement)| (left, right, agreement))
                .collect(),
            same_source: self
                .same_source
                .into_iter()
                .map(|(first, second, meter)| (first, second, meter.finish()))
                .collect(),
            taps: self
                .taps
                .into_par_iter()
                .map(|(raw, processed, meter)| (raw, processed, meter.finish()))
                .collect(),
            twins: self.twins.finish(),
        }
    }
}

/// Left and right of the main mix, where it has two sides.
pub(super) fn main_sides(channels: &[SessionChannel]) -> Option<[usize; 2]> {
    let pairs = pairs(channels).into_iter();
    let mut stereo = pairs.filter(|pair| pair.2 == Kinship::StereoPair);
    stereo.find(|pair| channels[pair.0].role == Role::Main).map(|(left, right, _)| [left, right])
}

/// Pairs that names and notes make: left or upper or wired channel first.
pub(super) fn pairs(channels: &[SessionChannel]) -> Vec<(usize, usize, Kinship)> {
    let mut pairs = Vec::new();
    for (idx, channel) in channels.iter().enumerate() {
        if let (Some(Side::Left), Some(partner)) = (channel.side, channel.partner)
            && partner < channels.len()
        {
            pairs.push((idx, partner, Kinship::StereoPair));
        }
    }
    let mut same_source = Vec::new();
    for (first, a) in channels.iter().enumerate() {
        for (second, b) in channels.iter().enumerate() {
            if is_same_source(a, b) && first != second {
                same_source.push((first, second, Kinship::SameSource));
            }
        }
    }
    // A channel with two such partners belongs to one of several snares, kicks or basses: which is not known.
    let n_partners = |idx: usize| {
        same_source.iter().filter(|(first, second, _)| *first == idx || *second == idx).count()
    };
    let is_sole =
        |pair: &&(usize, usize, Kinship)| n_partners(pair.0) == 1 && n_partners(pair.1) == 1;
    pairs.extend(same_source.iter().filter(is_sole).copied());
    pairs
}

/// Whether two channels stand on one source: the two heads of a snare, the inside and outside of a kick, a wire and a
/// microphone on one instrument.
fn is_same_source(a: &SessionChannel, b: &SessionChannel) -> bool {
    match (a.role, b.role) {
        (Role::SnareTop, Role::SnareBottom) => true,
        (Role::Kick, Role::Kick) => a.number < b.number,
        (Role::Bass, Role::Bass) | (Role::AcousticGuitar, Role::AcousticGuitar) => {
            a.is_line && !b.is_line
        }
        _ => false,
    }
}
