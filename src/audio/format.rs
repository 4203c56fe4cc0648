//! The `fmt ` chunk of a WAV file: how its samples are laid out.
//!
//! Takes the body of the chunk, gives a [`WaveFormat`] or the reason why it is none. Never trusts the frame size
//! over channels and bits.

use std::ops::RangeInclusive;

use super::pcm::Sample;

/// Most channels that are taken for real; a header could name 65 535.
pub(super) const MAX_CHANNELS: usize = 1024;

/// Sample rates that are taken for real, in Hz: from telephone speech halved to twice the fastest converters.
pub(super) const RATES_HZ: RangeInclusive<u32> = 4_000..=1_536_000;

/// `WAVE_FORMAT_EXTENSIBLE`: the real format tag stands in the first two bytes of the sub-format.
const EXTENSIBLE: u16 = 0xfffe;

/// How a sample is coded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Codec {
    /// Plain numbers.
    Pcm(Sample),
    /// Eight-bit companded speech, ITU-T G.711 A-law.
    ALaw,
    /// Eight-bit companded speech, ITU-T G.711 µ-law.
    MuLaw,
    /// Anything else, with its format tag.
    Other(u16),
}

/// The layout of the samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WaveFormat {
    /// How a sample is coded.
    pub(super) codec: Codec,
    /// Channels in a frame.
    pub(super) n_channels: usize,
    /// Sample rate, in Hz.
    pub(super) rate_hz: u32,
    /// Bits that carry sound in each sample.
    pub(super) bits: u32,
    /// Bytes of a frame: one sample of every channel.
    pub(super) frame_bytes: usize,
}

/// Reads the body of a `fmt ` chunk; the flag tells that its frame size was wrong.
pub(super) fn parse(body: &[u8]) -> Result<(WaveFormat, bool), String> {
    let Some((tag, n_channels, rate_hz, frame_bytes, bits)) = fixed_part(body) else {
        return Err(format!("its format description has {} bytes, 16 are needed", body.len()));
    };
    let (tag, valid_bits) = match (tag, body.get(18..26)) {
        (EXTENSIBLE, Some(extension)) => {
            let valid_bits = u16::from_le_bytes([extension[0], extension[1]]);
            (u16::from_le_bytes([extension[6], extension[7]]), valid_bits)
        }
        // An extensible header cut short: whole-number samples are by far the likeliest.
        (EXTENSIBLE, None) => (1, bits),
        _ => (tag, bits),
    };
    let n_channels = usize::from(n_channels);
    if n_channels == 0 || n_channels > MAX_CHANNELS {
        return Err(format!("its header names {n_channels} channels, 1 to {MAX_CHANNELS} can be"));
    }
    if !RATES_HZ.contains(&rate_hz) {
        return Err(format!("its header names a sample rate of {rate_hz} Hz"));
    }
    let frame_bytes = usize::from(frame_bytes);
    let codec = codec(tag, bits, frame_bytes, n_channels)?;
    let true_frame_bytes = match codec {
        Codec::Pcm(sample) => n_channels * sample.bytes(),
        Codec::ALaw | Codec::MuLaw => n_channels,
        Codec::Other(_) => frame_bytes.max(1),
    };
    let container_bits = u32::from(bits);
    let valid_bits = u32::from(valid_bits);
    let bits = if (1..=container_bits).contains(&valid_bits) { valid_bits } else { container_bits };
    let format = WaveFormat { codec, n_channels, rate_hz, bits, frame_bytes: true_frame_bytes };
    Ok((format, frame_bytes != true_frame_bytes))
}

fn fixed_part(body: &[u8]) -> Option<(u16, u16, u32, u16, u16)> {
    let body = body.first_chunk::<16>()?;
    let word = |at: usize| u16::from_le_bytes([body[at], body[at + 1]]);
    let rate_hz = u32::from_le_bytes([body[4], body[5], body[6], body[7]]);
    Some((word(0), word(2), rate_hz, word(12), word(14)))
}

fn codec(tag: u16, bits: u16, frame_bytes: usize, n_channels: usize) -> Result<Codec, String> {
    let bytes = usize::from(bits.div_ceil(8));
    // A frame larger than its bits need holds each sample left-justified in a larger container.
    let container = frame_bytes / n_channels;
    let roomy = frame_bytes.is_multiple_of(n_channels) && container > bytes && container <= 4;
    let sample = match (tag, if roomy && bits > 0 { container } else { bytes }) {
        (1, 1) => Sample::U8,
        (1, 2) => Sample::I16,
        (1, 3) => Sample::I24,
        (1, 4) => Sample::I32,
        (3, 4) => Sample::F32,
        (3, 8) => Sample::F64,
        (6, _) => return Ok(Codec::ALaw),
        (7, _) => return Ok(Codec::MuLaw),
        (1 | 3, _) => return Err(format!("its header names samples of {bits} bits")),
        _ => return Ok(Codec::Other(tag)),
    };
    Ok(Codec::Pcm(sample))
}
