//! The meters of up to eight channels, fed block by block.
//!
//! What must be heard before any resampling (flat tops, true peak, offset, silence, clicks) is kept apart from what is
//! measured at the session's rate (levels, loudness, third-octaves, hum, the details of voices).

use rayon::prelude::*;

use super::queue::Piece;
use super::stream::Wanted;
use crate::dsp::group::MAX_CHANNELS;
use crate::dsp::lanes::{Isa, for_each_pack};
use crate::dsp::{Group, LowRate};
use crate::measure::Trace;
use crate::measure::above::AboveMeter;
use crate::measure::clicks::{ClickMeter, Clicks};
use crate::measure::clipping::{FlatTopMeter, FlatTops};
use crate::measure::dc::{Dc, DcMeter};
use crate::measure::howl::{HowlMeter, HowlTrack, Lane, Look};
use crate::measure::hum::{HumMeter, Windows};
use crate::measure::level::{LevelMeter, Levels};
use crate::measure::loudness::{Loudness, LoudnessMeter};
use crate::measure::silence::{Silence, SilenceMeter};
use crate::measure::thirds::{Thirds, ThirdsMeter};
use crate::measure::true_peak::{TruePeak, TruePeakMeter};
use crate::measure::voice::{VoiceMeter, VoiceTrack};
use crate::unit::Unmeasured;

/// What a channel's own samples say, before any resampling.
pub(super) struct Native {
    pub(super) flat_tops: FlatTops,
    pub(super) true_peak: Result<TruePeak, Unmeasured>,
    pub(super) dc: Result<Dc, Unmeasured>,
    pub(super) silence: Silence,
    pub(super) clicks: Clicks,
}

/// Meters at the file's rate, for the channels of one recorder.
pub(super) struct NativeMeters {
    flat_tops: FlatTopMeter,
    true_peak: TruePeakMeter,
    dc: DcMeter,
    silence: SilenceMeter,
    clicks: ClickMeter,
}

impl NativeMeters {
    pub(super) fn new(rate_hz: u32, n_channels: usize) -> Self {
        Self {
            flat_tops: FlatTopMeter::new(rate_hz, n_channels),
            true_peak: TruePeakMeter::new(rate_hz, n_channels),
            dc: DcMeter::new(rate_hz, n_channels),
            silence: SilenceMeter::new(rate_hz, n_channels),
            clicks: ClickMeter::new(rate_hz, n_channels),
        }
    }

    pub(super) fn push(&mut self, group: Group<'_>) {
        self.flat_tops.push(group);
        self.true_peak.push(group);
        self.dc.push(group);
        self.silence.push(group);
        self.clicks.push(group);
    }

    pub(super) fn finish(self) -> Vec<Native> {
        let mut rest = self
            .true_peak
            .finish()
            .into_iter()
            .zip(self.dc.finish())
            .zip(self.silence.finish())
            .zip(self.clicks.finish());
        self.flat_tops
            .finish()
            .into_iter()
            .map(|flat_tops| {
                let (((true_peak, dc), silence), clicks) =
                    rest.next().expect("every meter gives one result a channel");
                Native { flat_tops, true_peak, dc, silence, clicks }
            })
            .collect()
    }
}

/// Corner above which sources without low notes are followed, in Hz: where a voice's high-pass usually stands (common
/// practice).
const CORNER_HZ: f64 = 120.0;

/// What a channel says at the session's rate.
pub(super) struct Common {
    pub(super) levels: Levels,
    /// Level above [`CORNER_HZ`], for channels that are asked for it.
    pub(super) above: Option<Trace>,
    pub(super) loudness: Loudness,
    pub(super) thirds: Thirds,
    pub(super) hum: Result<Windows, Unmeasured>,
    /// For channels that may carry a voice.
    pub(super) voice: Option<VoiceTrack>,
    pub(super) howl: HowlTrack,
}

/// Meters at the session's rate, for up to eight channels.
pub(super) struct CommonMeters {
    levels: LevelMeter,
    above: AboveMeter,
    loudness: LoudnessMeter,
    thirds: ThirdsMeter,
    /// What hum and howls are looked for in.
    low: LowRate,
    hum: HumMeter,
    /// Where any of the channels may be a voice.
    voice: Option<VoiceMeter>,
    may_be_voice: Vec<bool>,
    howl: HowlMeter,
}

impl CommonMeters {
    /// `wanted` has one entry a channel.
    pub(super) fn new(rate_hz: u32, wanted: &[Wanted]) -> Self {
        let n_channels = wanted.len();
        let looks: Vec<Look> = wanted.iter().map(|one| one.look).collect();
        let may_be_voice: Vec<bool> = wanted.iter().map(|one| one.may_be_voice).collect();
        let wants_above: Vec<bool> = wanted.iter().map(|one| one.wants_above).collect();
        let low = LowRate::new(Isa::best(), rate_hz);
        Self {
            levels: LevelMeter::new(rate_hz, n_channels),
            above: AboveMeter::new(rate_hz, &wants_above, CORNER_HZ),
            loudness: LoudnessMeter::new(rate_hz, n_channels),
            thirds: ThirdsMeter::new(rate_hz, n_channels),
            hum: HumMeter::new(low.rate_hz(), n_channels),
            voice: may_be_voice.contains(&true).then(|| VoiceMeter::new(rate_hz, n_channels)),
            may_be_voice,
            howl: HowlMeter::new(low.rate_hz(), &looks),
            low,
        }
    }

    /// The work on a block, in two pieces of about one length. It is packed in each: so two cores can share a set.
    pub(super) fn pieces<'a>(&'a mut self, planes: Vec<&'a [f32]>, rate_hz: u32) -> [Piece<'a>; 2] {
        let Self { levels, above, loudness, thirds, low, hum, voice, howl, .. } = self;
        let same_planes = planes.clone();
        let in_bands = move || {
            for_each_pack(Isa::best(), Group::new(&same_planes, rate_hz), |frames| {
                thirds.take(frames);
            });
        };
        let rest = move || {
            for_each_pack(Isa::best(), Group::new(&planes, rate_hz), |frames| {
                levels.take(frames);
                above.take(frames);
                loudness.take(frames);
                let low = low.take(frames);
                hum.take(low);
                howl.take(low);
                if let Some(voice) = voice {
                    voice.take(frames);
                }
            });
            howl.lanes().par_iter_mut().for_each(Lane::look);
        };
        [Box::new(rest), Box::new(in_bands)]
    }

    pub(super) fn finish(self) -> Vec<Common> {
        let mut voices = self.voice.map(|meter| meter.finish().into_iter());
        let mut rest = self
            .loudness
            .finish()
            .into_iter()
            .zip(self.thirds.finish())
            .zip(self.above.finish())
            .zip(self.hum.finish())
            .zip(self.howl.finish());
        let mut common = Vec::with_capacity(MAX_CHANNELS);
        for (levels, may_be_voice) in self.levels.finish().into_iter().zip(self.may_be_voice) {
            let ((((loudness, thirds), above), hum), howl) =
                rest.next().expect("every meter gives one result a channel");
            let voice = voices.as_mut().and_then(Iterator::next).filter(|_| may_be_voice);
            common.push(Common { levels, above, loudness, thirds, hum, voice, howl });
        }
        common
    }
}
