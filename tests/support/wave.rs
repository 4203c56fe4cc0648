//! Small WAV files for tests, written by hand: an independent witness of the product's own reader and writer.

use std::path::Path;

/// A 24-bit PCM file with one plane a channel.
pub(crate) fn write_pcm24(path: &Path, rate_hz: u32, planes: &[&[f32]]) {
    std::fs::write(path, pcm24(rate_hz, planes)).unwrap();
}

/// The bytes of such a file.
pub(crate) fn pcm24(rate_hz: u32, planes: &[&[f32]]) -> Vec<u8> {
    let n_channels = u16::try_from(planes.len()).unwrap();
    let n_frames = planes[0].len();
    let n_data_bytes = u32::try_from(n_frames * planes.len() * 3).unwrap();
    let mut bytes = Vec::with_capacity(44 + n_data_bytes as usize);
    bytes.extend_from_slice(b"RIFF");
    bytes.extend_from_slice(&(36 + n_data_bytes).to_le_bytes());
    bytes.extend_from_slice(b"WAVEfmt ");
    bytes.extend_from_slice(&16u32.to_le_bytes());
    bytes.extend_from_slice(&1u16.to_le_bytes());
    bytes.extend_from_slice(&n_channels.to_le_bytes());
    bytes.extend_from_slice(&rate_hz.to_le_bytes());
    bytes.extend_from_slice(&(rate_hz * u32::from(n_channels) * 3).to_le_bytes());
    bytes.extend_from_slice(&(n_channels * 3).to_le_bytes());
    bytes.extend_from_slice(&24u16.to_le_bytes());
    bytes.extend_from_slice(b"data");
    bytes.extend_from_slice(&n_data_bytes.to_le_bytes());
    for frame in 0..n_frames {
        for plane in planes {
            #[expect(clippy::cast_possible_truncation, reason = "clamped to 24 bits")]
            let code = (f64::from(plane[frame]) * 8_388_608.0)
                .round()
                .clamp(-8_388_608.0, 8_388_607.0) as i32;
            bytes.extend_from_slice(&code.to_le_bytes()[..3]);
        }
    }
    bytes
}
