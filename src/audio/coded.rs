//! Sound that needs a decoder: FLAC, AIFF, CAF, MP4, Ogg, MP3, and the rarer kinds of WAV.
//!
//! Takes a reader of packets, gives planes of `f32`. A packet that can't be decoded becomes silence of its length,
//! so that what follows keeps its time. Never gives samples of another channel count than the first packet's.

use std::fs::File;
use std::path::Path;

use symphonia::core::codecs::audio::well_known as id;
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions,
};
use symphonia::core::errors::Error as CodecError;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, SeekMode, SeekTo, Track, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;
use symphonia::core::units::Timestamp;

use super::repair::spoken;

/// Longest silence put in for one packet, in seconds: no codec has longer packets.
const MAX_SILENCE_S: usize = 1;

/// What a decoder needs before it sounds right after a jump, in frames: a few packets of the lossy codecs.
const RUN_UP_FRAMES: u64 = 8_192;

/// What the decoder's container says of the sound.
#[derive(Clone, Debug)]
pub(super) struct Coding {
    /// Name of the container.
    pub(super) container: String,
    /// Channels.
    pub(super) n_channels: usize,
    /// Sample rate, in Hz.
    pub(super) rate_hz: u32,
    /// Bits of a sample, 0 where the codec has none.
    pub(super) bits: u32,
    /// Whether samples are floats.
    pub(super) is_float: bool,
    /// Whether the codec threw sound away.
    pub(super) is_lossy: bool,
    /// Length, where the container says it.
    pub(super) n_frames: Option<u64>,
}

/// The sound of a file that needs a decoder.
pub(super) struct CodedFile {
    reader: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: Track,
    coding: Coding,
    /// Decoded, not yet given; all of one length.
    pending: Vec<Vec<f32>>,
    n_given: usize,
    /// Frames before this one are dropped: set by a jump.
    wanted: Option<u64>,
    /// Frames decoded since the start of the file.
    position: u64,
    ended: bool,
    n_lost: usize,
    complaint: Option<String>,
}

/// A stream of bytes for the decoding library.
pub(super) fn source(file: File) -> MediaSourceStream<'static> {
    MediaSourceStream::new(Box::new(file), MediaSourceStreamOptions::default())
}

/// Opens a file of any kind that the decoding library knows.
pub(super) fn open(file: File, path: &Path) -> Result<CodedFile, CodecError> {
    let mut hint = Hint::new();
    if let Some(extension) = path.extension().and_then(|extension| extension.to_str()) {
        hint.with_extension(extension);
    }
    let probe = symphonia::default::get_probe();
    let reader =
        probe.probe(&hint, source(file), FormatOptions::default(), MetadataOptions::default())?;
    CodedFile::new(reader)
}

impl CodedFile {
    /// Decodes the first packet, which settles channels and rate.
    pub(super) fn new(reader: Box<dyn FormatReader>) -> Result<Self, CodecError> {
        let track = reader.default_track(TrackType::Audio).cloned();
        let track = track.ok_or(CodecError::Unsupported("no track with sound"))?;
        let codec = track.codec_params.as_ref().and_then(|codec| codec.audio());
        let codec = codec.ok_or(CodecError::Unsupported("a track without codec"))?;
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(codec, &AudioDecoderOptions::default())?;
        let coding = coding(reader.format_info().short_name, codec, track.num_frames);
        let mut coded = Self {
            reader,
            decoder,
            track,
            coding,
            pending: Vec::new(),
            n_given: 0,
            wanted: None,
            position: 0,
            ended: false,
            n_lost: 0,
            complaint: None,
        };
        while coded.n_pending() == 0 && !coded.ended {
            coded.decode_one()?;
        }
        if coded.coding.n_channels == 0 || coded.coding.rate_hz == 0 || coded.n_pending() == 0 {
            return Err(CodecError::DecodeError("no packet could be decoded"));
        }
        Ok(coded)
    }

    /// What the container says.
    pub(super) fn coding(&self) -> &Coding {
        &self.coding
    }

    /// What went wrong so far, in sentences.
    pub(super) fn complaints(&self) -> Vec<String> {
        let lost = (self.n_lost > 0).then(|| {
            format!("{} pieces could not be decoded; silence stands in their place.", self.n_lost)
        });
        lost.into_iter().chain(self.complaint.clone()).collect()
    }

    /// Appends up to `n_frames` frames; fewer come at the end only.
    pub(super) fn read(
        &mut self,
        n_frames: usize,
        planes: &mut [Vec<f32>],
    ) -> Result<usize, CodecError> {
        let mut n_done = 0;
        while n_done < n_frames {
            let n_now = self.n_pending().min(n_frames - n_done);
            for (plane, pending) in planes.iter_mut().zip(&self.pending) {
                plane.extend_from_slice(&pending[self.n_given..self.n_given + n_now]);
            }
            self.n_given += n_now;
            n_done += n_now;
            if self.n_pending() == 0 {
                if self.ended {
                    break;
                }
                self.decode_one()?;
            }
        }
        Ok(n_done)
    }

    /// Moves to a frame; beyond the end nothing more comes.
    pub(super) fn seek(&mut self, frame: u64) -> Result<(), CodecError> {
        self.pending.iter_mut().for_each(Vec::clear);
        self.n_given = 0;
        self.ended = self.coding.n_frames.is_some_and(|n_frames| frame >= n_frames);
        if self.ended {
            return Ok(());
        }
        let target = frame.saturating_sub(RUN_UP_FRAMES);
        let start = self.track.start_ts.get();
        let ts = Timestamp::new(start.saturating_add(i64::try_from(target).unwrap_or(i64::MAX)));
        let to = SeekTo::Timestamp { ts, track_id: self.track.id };
        match self.reader.seek(SeekMode::Accurate, to) {
            Ok(_) => {}
            Err(CodecError::SeekError(_)) => {
                self.ended = true;
                return Ok(());
            }
            Err(error) => return Err(error),
        }
        self.decoder.reset();
        self.wanted = Some(frame);
        Ok(())
    }

    fn n_pending(&self) -> usize {
        self.pending.first().map_or(0, Vec::len) - self.n_given
    }

    /// Decodes the next packet of the track into `pending`.
    fn decode_one(&mut self) -> Result<(), CodecError> {
        let packet = match self.reader.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => {
                self.ended = true;
                return Ok(());
            }
            Err(CodecError::IoError(error))
                if error.kind() != std::io::ErrorKind::UnexpectedEof =>
            {
                return Err(CodecError::IoError(error));
            }
            Err(error) => {
                self.stop(&error);
                return Ok(());
            }
        };
        if packet.track_id != self.track.id {
            return Ok(());
        }
        if self.wanted.is_some() {
            let start = packet.pts.get().saturating_sub(self.track.start_ts.get());
            self.position = u64::try_from(start).unwrap_or(0);
        }
        self.n_given = 0;
        let n_silent = usize::try_from(packet.dur.get()).unwrap_or(usize::MAX);
        match self.decoder.decode(&packet) {
            Ok(buffer) => {
                let spec = buffer.spec();
                let (n_channels, rate_hz) = (spec.channels().count(), spec.rate());
                if self.pending.is_empty() {
                    self.coding.n_channels = n_channels;
                    self.coding.rate_hz = rate_hz;
                }
                if (n_channels, rate_hz) != (self.coding.n_channels, self.coding.rate_hz) {
                    self.stop(&CodecError::ResetRequired);
                    return Ok(());
                }
                buffer.copy_to_vecs_planar::<f32>(&mut self.pending);
            }
            Err(CodecError::DecodeError(_) | CodecError::IoError(_)) => {
                self.n_lost += 1;
                let n_most = MAX_SILENCE_S * self.coding.rate_hz as usize;
                self.pending.iter_mut().for_each(|plane| {
                    plane.clear();
                    plane.resize(n_silent.min(n_most), 0.0);
                });
            }
            Err(error) => self.stop(&error),
        }
        self.drop_before_wanted();
        Ok(())
    }

    /// After a jump: drops what lies before the wanted frame.
    fn drop_before_wanted(&mut self) {
        let n_new = self.pending.first().map_or(0, Vec::len);
        if let Some(wanted) = self.wanted {
            let n_early =
                usize::try_from(wanted.saturating_sub(self.position)).unwrap_or(usize::MAX);
            self.n_given = n_early.min(n_new);
            if n_early < n_new {
                self.wanted = None;
            }
        }
        self.position += n_new as u64;
    }

    /// The rest can't be read.
    fn stop(&mut self, error: &CodecError) {
        self.ended = true;
        self.pending.iter_mut().for_each(Vec::clear);
        self.n_given = 0;
        let at = spoken(self.position as f64 / f64::from(self.coding.rate_hz.max(1)));
        let cause = match error {
            CodecError::IoError(_) => "the file ends inside a piece of sound",
            CodecError::ResetRequired => "the kind of sound changes there",
            _ => "the file is damaged there",
        };
        self.complaint = Some(format!("Nothing could be read after {at}: {cause}."));
    }
}

fn coding(short_name: &str, codec: &AudioCodecParameters, n_frames: Option<u64>) -> Coding {
    let container = match short_name {
        "isomp4" => "MP4".to_owned(),
        "ogg" => "Ogg".to_owned(),
        "wave" | "wav-family" => "WAV".to_owned(),
        other => other.to_ascii_uppercase(),
    };
    let is_lossy = is_lossy(codec.codec);
    Coding {
        container,
        n_channels: codec.channels.as_ref().map_or(0, |channels| channels.count()),
        rate_hz: codec.sample_rate.unwrap_or(0),
        bits: if is_lossy { 0 } else { codec.bits_per_sample.unwrap_or(0) },
        is_float: matches!(
            codec.codec,
            id::CODEC_ID_PCM_F32LE
                | id::CODEC_ID_PCM_F32BE
                | id::CODEC_ID_PCM_F64LE
                | id::CODEC_ID_PCM_F64BE
        ),
        is_lossy,
        n_frames,
    }
}

fn is_lossy(codec: AudioCodecId) -> bool {
    matches!(
        codec,
        id::CODEC_ID_MP1
            | id::CODEC_ID_MP2
            | id::CODEC_ID_MP3
            | id::CODEC_ID_AAC
            | id::CODEC_ID_VORBIS
            | id::CODEC_ID_PCM_ALAW
            | id::CODEC_ID_PCM_MULAW
            | id::CODEC_ID_ADPCM_MS
            | id::CODEC_ID_ADPCM_IMA_WAV
            | id::CODEC_ID_ADPCM_IMA_QT
    )
}
