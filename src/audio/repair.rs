//! What was put right, or found missing, in the header of a WAV file, and the sentence that says so.
//!
//! Takes byte counts, gives sentences in seconds. Never decides: that is done in `chunks`.

use super::format::WaveFormat;

/// One way in which a header and its file disagreed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Repair {
    /// The size of the sound is 0 or 'unknown', yet there is sound.
    NeverWritten,
    /// The header promises more than the file holds.
    Promised { declared_bytes: u64 },
    /// The header knows of less than the file holds.
    Outgrown { declared_bytes: u64 },
    /// The size of the sound needs more than 32 bits and was written without the upper ones.
    Wrapped,
    /// Some bytes after the sound belong to nothing.
    Leftover { n_bytes: u64 },
    /// A chunk of odd length is not followed by its pad byte.
    MissingPad,
    /// The file ends inside a frame.
    LastFrameCut,
    /// The frame size in the header does not fit channels and bits.
    FrameSize,
}

impl Repair {
    /// What happened and what was done, for the user. `len_bytes` is the length that is read.
    pub(super) fn sentence(self, format: &WaveFormat, len_bytes: u64) -> String {
        let length = |n_bytes| spoken(seconds(format, n_bytes));
        match self {
            Self::NeverWritten => format!(
                "The header does not say how long the sound is (power lost while recording?); the file was read to \
                 its end, {}.",
                length(len_bytes)
            ),
            Self::Promised { declared_bytes } => format!(
                "The header promises {}, the file holds {}; it was read to its end.",
                length(declared_bytes),
                length(len_bytes)
            ),
            Self::Outgrown { declared_bytes } => format!(
                "The header knows of {}, the file goes on to {}; it was read to its end \
                 (--trust-header stops earlier).",
                length(declared_bytes),
                length(len_bytes)
            ),
            Self::Wrapped => format!(
                "The sound is too long for the size field of this kind of file; its length of {} was worked out from \
                 the file size.",
                length(len_bytes)
            ),
            Self::Leftover { n_bytes } => {
                format!("{n_bytes} bytes after the sound belong to nothing known; they were left out.")
            }
            Self::MissingPad => {
                "A pad byte is missing in the header; the next part was found without it.".to_owned()
            }
            Self::LastFrameCut => {
                "The file ends inside a sample; the incomplete one was left out.".to_owned()
            }
            Self::FrameSize => {
                "The frame size in the header does not fit its channels and bits; it was worked out from them."
                    .to_owned()
            }
        }
    }
}

fn seconds(format: &WaveFormat, n_bytes: u64) -> f64 {
    (n_bytes / format.frame_bytes as u64) as f64 / f64::from(format.rate_hz)
}

/// A duration as people say it: `12.3 s`, `4 min 05 s`, `1 h 02 min 03 s`.
pub(super) fn spoken(duration_s: f64) -> String {
    if duration_s < 60.0 {
        return format!("{duration_s:.1} s");
    }
    let (hours_s, minutes_s) = (duration_s % 3600.0, duration_s % 60.0);
    let minutes = (hours_s / 60.0).floor();
    if duration_s < 3600.0 {
        return format!("{minutes:.0} min {:02.0} s", minutes_s.floor());
    }
    format!(
        "{:.0} h {minutes:02.0} min {:02.0} s",
        (duration_s / 3600.0).floor(),
        minutes_s.floor()
    )
}
