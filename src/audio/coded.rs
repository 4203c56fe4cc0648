//! Sound that needs a decoder: FLAC, AIFF, CAF, MP4, Ogg, MP3, and the rarer kinds of WAV.
//!
//! Takes a reader of packets, gives planes of `f32`. A packet that can't be decoded becomes silence of its length,
//! so that what follows keeps its time. Never gives samples of another channel count than the first packet's.

use std::fs::File;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use symphonia::core::codecs::audio::well_known as id;
use symphonia::core::codecs::audio::{
    AudioCodecId, AudioCodecParameters, AudioDecoder, AudioDecoderOptions,
};
use symphonia::core::errors::{Error as CodecError, SeekErrorKind};
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, SeekMode, SeekTo, Track, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;
use symphonia::core::packet::Packet;
use symphonia::core::units::Timestamp;

use super::format::{MAX_CHANNELS, RATES_HZ};
use super::repair::spoken;

/// Longest silence put in for one packet, in seconds: no codec has longer packets.
const MAX_SILENCE_S: usize = 1;

/// Longest silence put in for frames that are missing, in seconds: their numbers may be damaged too.
const MAX_GAP_S: u64 = 3_600;

/// Less than this, in frames, may be missing at the end: some containers count the padding of the last packet.
const MAX_PADDING: u64 = 8_192;

/// What a decoder needs before it sounds right after a jump, in frames: a few packets of the lossy codecs.
const RUN_UP_FRAMES: u64 = 8_192;

/// More samples than a packet has, for which the decoding library would have to find room. FLAC has up to 65 535 in
/// each of eight channels.
const MAX_PACKET: u64 = 1 << 22;

/// More frames than a FLAC block can have (RFC 9639, 9.1.1).
const MAX_FLAC_BLOCK: u64 = 65_536;

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
    /// Whether a packet is decoded with the help of those before it.
    pub(super) builds_on: bool,
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
    /// Silence to be given before `pending`, for frames that are missing in the file.
    n_silent: usize,
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
    let reader = guarded(|| {
        let (format, metadata) = (FormatOptions::default(), MetadataOptions::default());
        symphonia::default::get_probe().probe(&hint, source(file), format, metadata)
    })?;
    CodedFile::new(reader)
}

/// Calls the decoding library. Hostile bytes can make it panic; that is then an error of this file alone.
fn guarded<T>(work: impl FnOnce() -> Result<T, CodecError>) -> Result<T, CodecError> {
    catch_unwind(AssertUnwindSafe(work)).unwrap_or(Err(CodecError::DecodeError("decoder failed")))
}

impl CodedFile {
    /// Decodes the first packet, which settles channels and rate.
    pub(super) fn new(reader: Box<dyn FormatReader>) -> Result<Self, CodecError> {
        let track = reader.default_track(TrackType::Audio).cloned();
        let track = track.ok_or(CodecError::Unsupported("no track with sound"))?;
        let codec = track.codec_params.as_ref().and_then(|codec| codec.audio());
        let codec = codec.ok_or(CodecError::Unsupported("a track without codec"))?;
        sane(codec)?;
        let options = AudioDecoderOptions::default();
        let decoder =
            guarded(|| symphonia::default::get_codecs().make_audio_decoder(codec, &options))?;
        let coding = coding(reader.format_info().short_name, codec, track.num_frames);
        let mut coded = Self {
            reader,
            decoder,
            track,
            coding,
            pending: Vec::new(),
            n_given: 0,
            n_silent: 0,
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

    /// The next frame that is given.
    pub(super) fn at(&self) -> u64 {
        self.position.saturating_sub((self.n_pending() + self.n_silent) as u64)
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
            let n_silent = self.n_silent.min(n_frames - n_done);
            for plane in planes.iter_mut() {
                plane.resize(plane.len() + n_silent, 0.0);
            }
            self.n_silent -= n_silent;
            n_done += n_silent;
            let n_now = self.n_pending().min(n_frames - n_done);
            for (plane, pending) in planes.iter_mut().zip(&self.pending) {
                plane.extend_from_slice(&pending[self.n_given..self.n_given + n_now]);
            }
            self.n_given += n_now;
            n_done += n_now;
            if self.n_pending() == 0 && self.n_silent == 0 {
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
        (self.n_given, self.n_silent) = (0, 0);
        self.ended = self.coding.n_frames.is_some_and(|n_frames| frame >= n_frames);
        if self.ended {
            return Ok(());
        }
        let target = frame.saturating_sub(RUN_UP_FRAMES);
        if self.coding.container == "FLAC" && target < self.position {
            // The library's FLAC reader takes frames with a lower number than the last one for noise, and forgets
            // the last one only when it has to search: a jump elsewhere before the one back makes it search.
            let far = self.coding.n_frames.map_or(target + MAX_FLAC_BLOCK, |n_frames| {
                (n_frames - 1).min(target + MAX_FLAC_BLOCK)
            });
            let _ = self.jump(far);
        }
        match self.jump(target) {
            Ok(()) => {}
            Err(CodecError::SeekError(SeekErrorKind::OutOfRange)) => {
                self.ended = true;
                return Ok(());
            }
            Err(error) => return Err(error),
        }
        self.decoder.reset();
        self.wanted = Some(frame);
        Ok(())
    }

    fn jump(&mut self, frame: u64) -> Result<(), CodecError> {
        let start = self.track.start_ts.get();
        let ts = Timestamp::new(start.saturating_add(i64::try_from(frame).unwrap_or(i64::MAX)));
        let to = SeekTo::Timestamp { ts, track_id: self.track.id };
        guarded(|| self.reader.seek(SeekMode::Accurate, to)).map(|_| ())
    }

    fn n_pending(&self) -> usize {
        self.pending.first().map_or(0, Vec::len) - self.n_given
    }

    /// The next packet of the file; `None` at its end.
    fn next_packet(&mut self) -> Result<Option<Packet>, CodecError> {
        match guarded(|| self.reader.next_packet()) {
            Ok(Some(packet)) => return Ok(Some(packet)),
            Ok(None) => self.end(),
            Err(CodecError::IoError(error)) if error.kind() != io::ErrorKind::UnexpectedEof => {
                return Err(CodecError::IoError(error));
            }
            Err(error) => self.stop(&error),
        }
        Ok(None)
    }

    /// Decodes the next packet of the track into `pending`.
    fn decode_one(&mut self) -> Result<(), CodecError> {
        let Some(packet) = self.next_packet()? else { return Ok(()) };
        if packet.track_id != self.track.id {
            return Ok(());
        }
        self.place(&packet);
        self.n_given = 0;
        match self.decode(&packet) {
            Ok((n_channels, rate_hz)) => {
                if (n_channels, rate_hz) != (self.coding.n_channels, self.coding.rate_hz) {
                    self.stop(&CodecError::ResetRequired);
                    return Ok(());
                }
            }
            Err(CodecError::DecodeError(_) | CodecError::IoError(_)) => {
                self.n_lost += 1;
                let n_most = MAX_SILENCE_S * self.coding.rate_hz as usize;
                let n_frames = usize::try_from(packet.dur.get()).unwrap_or(usize::MAX).min(n_most);
                for plane in &mut self.pending {
                    plane.clear();
                    plane.resize(n_frames, 0.0);
                }
            }
            Err(error) => self.stop(&error),
        }
        self.drop_before_wanted();
        Ok(())
    }

    /// Decodes a packet into `pending`; gives its channels and rate, which the first one settles.
    fn decode(&mut self, packet: &Packet) -> Result<(usize, u32), CodecError> {
        let is_first = self.pending.is_empty();
        let found = guarded(|| {
            let buffer = self.decoder.decode(packet)?;
            buffer.copy_to_vecs_planar::<f32>(&mut self.pending);
            Ok((buffer.spec().channels().count(), buffer.spec().rate()))
        })?;
        if is_first {
            (self.coding.n_channels, self.coding.rate_hz) = found;
        }
        Ok(found)
    }

    /// Settles where a packet stands. Where frames carry numbers, a missing one leaves a gap that is filled.
    fn place(&mut self, packet: &Packet) {
        let start = packet.pts.get().saturating_sub(self.track.start_ts.get());
        let start = u64::try_from(start).unwrap_or(0);
        if self.wanted.is_some() {
            self.position = start;
        } else if self.coding.container == "FLAC" && start > self.position {
            let n_left = self.coding.n_frames.map(|n| n.saturating_sub(self.position));
            let n_most = n_left.unwrap_or(MAX_GAP_S * u64::from(self.coding.rate_hz));
            let n_gap = (start - self.position).min(n_most);
            self.n_silent = usize::try_from(n_gap).unwrap_or(0);
            self.n_lost += 1;
            self.position = start;
        }
    }

    /// The file has no more packets.
    fn end(&mut self) {
        self.ended = true;
        let n_missing = self.coding.n_frames.unwrap_or(0).saturating_sub(self.position);
        if !self.coding.is_lossy && self.wanted.is_none() && n_missing > MAX_PADDING {
            let missing = spoken(n_missing as f64 / f64::from(self.coding.rate_hz.max(1)));
            self.complaint = Some(format!("The file ends {missing} earlier than its header says."));
        }
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

/// Refuses what would make the decoding library ask for all memory.
fn sane(codec: &AudioCodecParameters) -> Result<(), CodecError> {
    let n_channels = codec.channels.as_ref().map_or(0, |channels| channels.count());
    let n_frames = codec.max_frames_per_packet.max(codec.frames_per_block).unwrap_or(0);
    let rate_hz = codec.sample_rate.unwrap_or(*RATES_HZ.start());
    let n_samples = n_frames.saturating_mul(n_channels.max(1) as u64);
    if n_channels > MAX_CHANNELS || n_samples > MAX_PACKET || !RATES_HZ.contains(&rate_hz) {
        return Err(CodecError::LimitError("a header that can't be true"));
    }
    Ok(())
}

fn coding(short_name: &str, codec: &AudioCodecParameters, n_frames: Option<u64>) -> Coding {
    let container = match short_name {
        "isomp4" => "MP4".to_owned(),
        "ogg" => "Ogg".to_owned(),
        "wave" => "WAV".to_owned(),
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
        builds_on: matches!(
            codec.codec,
            id::CODEC_ID_MP1
                | id::CODEC_ID_MP2
                | id::CODEC_ID_MP3
                | id::CODEC_ID_AAC
                | id::CODEC_ID_VORBIS
        ),
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
