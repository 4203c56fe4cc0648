//! A WAV file whose samples need a decoder (A-law, µ-law), as a reader of packets for the decoding library.
//!
//! Takes a layout found by `chunks`, gives packets of whole frames. Never looks at the header again: the library's
//! own reader would, and would not repair it.

use std::io::{Seek, SeekFrom};

use symphonia::core::audio::Channels;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_PCM_ALAW, CODEC_ID_PCM_MULAW};
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters};
use symphonia::core::common::FourCc;
use symphonia::core::errors::{Result, SeekErrorKind, seek_error};
use symphonia::core::formats::{
    FormatId, FormatInfo, FormatReader, MediaInfo, SeekMode, SeekTo, SeekedTo, Track,
};
use symphonia::core::io::{MediaSourceStream, ReadBytes};
use symphonia::core::meta::{Metadata, MetadataLog};
use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use super::chunks::Layout;
use super::format::Codec;

/// Frames in a packet.
const PACKET_FRAMES: u64 = 4_096;

const INFO: FormatInfo = FormatInfo {
    format: FormatId::new(FourCc::new(*b"WAVF")),
    short_name: "wav-family",
    long_name: "RIFF, RF64, BW64 or Wave64",
};

/// The sound of a WAV file in packets.
pub(super) struct WaveReader<'s> {
    source: MediaSourceStream<'s>,
    media: MediaInfo,
    tracks: [Track; 1],
    metadata: MetadataLog,
    data_start: u64,
    frame_bytes: u64,
    n_frames: u64,
    position: u64,
}

impl<'s> WaveReader<'s> {
    /// Stands at the first frame.
    pub(super) fn new(mut source: MediaSourceStream<'s>, layout: &Layout) -> Result<Self> {
        let format = &layout.format;
        let n_channels = u16::try_from(format.n_channels).unwrap_or(u16::MAX);
        let mut codec = AudioCodecParameters::new();
        codec
            .for_codec(codec_id(format.codec))
            .with_sample_rate(format.rate_hz)
            .with_channels(Channels::Discrete(n_channels))
            .with_max_frames_per_packet(PACKET_FRAMES);
        let mut track = Track::new(0);
        track
            .with_codec_params(CodecParameters::Audio(codec))
            .with_num_frames(layout.n_frames)
            .with_duration(Duration::from(layout.n_frames));
        source.seek(SeekFrom::Start(layout.data_start))?;
        Ok(Self {
            source,
            media: MediaInfo::from_track(&track),
            tracks: [track],
            metadata: MetadataLog::default(),
            data_start: layout.data_start,
            frame_bytes: format.frame_bytes as u64,
            n_frames: layout.n_frames,
            position: 0,
        })
    }
}

fn codec_id(codec: Codec) -> AudioCodecId {
    if codec == Codec::ALaw { CODEC_ID_PCM_ALAW } else { CODEC_ID_PCM_MULAW }
}

impl FormatReader for WaveReader<'_> {
    fn format_info(&self) -> &FormatInfo {
        &INFO
    }

    fn media_info(&self) -> &MediaInfo {
        &self.media
    }

    fn metadata(&mut self) -> Metadata<'_> {
        self.metadata.metadata()
    }

    fn tracks(&self) -> &[Track] {
        &self.tracks
    }

    fn next_packet(&mut self) -> Result<Option<Packet>> {
        let n_frames = PACKET_FRAMES.min(self.n_frames - self.position);
        if n_frames == 0 {
            return Ok(None);
        }
        let n_bytes = usize::try_from(n_frames * self.frame_bytes).unwrap_or(usize::MAX);
        let bytes = self.source.read_boxed_slice_exact(n_bytes)?;
        let start = Timestamp::new(i64::try_from(self.position).unwrap_or(i64::MAX));
        self.position += n_frames;
        Ok(Some(Packet::new(0, start, Duration::from(n_frames), bytes)))
    }

    fn seek(&mut self, _: SeekMode, to: SeekTo) -> Result<SeekedTo> {
        let SeekTo::Timestamp { ts, .. } = to else {
            return seek_error(SeekErrorKind::Unseekable);
        };
        let frame = u64::try_from(ts.get()).ok().filter(|&frame| frame <= self.n_frames);
        let Some(frame) = frame else { return seek_error(SeekErrorKind::OutOfRange) };
        self.source.seek(SeekFrom::Start(self.data_start + frame * self.frame_bytes))?;
        self.position = frame;
        Ok(SeekedTo { track_id: 0, required_ts: ts, actual_ts: ts })
    }

    fn into_inner<'a>(self: Box<Self>) -> MediaSourceStream<'a>
    where
        Self: 'a,
    {
        self.source
    }
}
