//! Sound files that are broken, odd or hostile.

use std::fs::OpenOptions;
use std::path::Path;

use super::{CHANNELS, Case, N_FRAMES, REVIEW, beside, night};
use crate::support::codedfile::{aiff, flac};
use crate::support::wavefile::{
    Kind, chunk, ds64, plain, plain_format, put, riff, samples, sized_chunk, sized_riff,
    tagged_format, wave64,
};

fn header(format: Vec<u8>) -> Vec<u8> {
    riff(&[chunk(b"fmt ", &format), chunk(b"data", &[1; 60])])
}

/// A good format, and the sound behind a size field that says `size`.
fn sized(size: u32) -> Vec<u8> {
    let format = chunk(b"fmt ", &plain_format(Kind::S24, 1, 48_000));
    riff(&[format, sized_chunk(b"data", size, &samples(Kind::S24, N_FRAMES, 1))])
}

/// A file of floats that hold one value.
fn floats(value: f32) -> Vec<u8> {
    let data = value.to_le_bytes().repeat(N_FRAMES);
    riff(&[chunk(b"fmt ", &plain_format(Kind::F32, 1, 48_000)), chunk(b"data", &data)])
}

/// The same in double precision.
fn doubles(value: f64) -> Vec<u8> {
    let data = value.to_le_bytes().repeat(N_FRAMES);
    riff(&[chunk(b"fmt ", &plain_format(Kind::F64, 1, 48_000)), chunk(b"data", &data)])
}

/// A sparse file: a header and a hole behind it.
fn hole(folder: &Path, head: &[u8], n_bytes: u64) {
    let path = put(&night(folder), "02 Desk.wav", head);
    let file = OpenOptions::new().write(true).open(path).unwrap();
    file.set_len(head.len() as u64 + n_bytes).unwrap();
}

/// 2.5 hours of 32 channels at 24 bits.
const LONG_FRAMES: u64 = 9_000 * 48_000;
const LONG_BYTES: u64 = LONG_FRAMES * 96;

fn opus() -> Vec<u8> {
    let mut ogg = b"OggS\0\x02\0\0\0\0\0\0\0\0\x01\0\0\0\0\0\0\0\0\0\0\0\x01\x13".to_vec();
    ogg.extend_from_slice(b"OpusHead\x01\x02\x38\x01\x80\xbb\0\0\0\0\0");
    ogg
}

pub(super) const TABLE: &[Case] = &[
    Case {
        what: "an empty file",
        lay: |folder| beside(folder, b""),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is empty (0 bytes) (copy it again from the recorder, or move it out of the folder)",
    },
    Case {
        what: "text with the name of sound",
        lay: |folder| beside(folder, b"Bass was too loud tonight.\r\n"),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it holds text, not sound (move it out of the folder)",
    },
    Case {
        what: "zeros with the name of sound",
        lay: |folder| beside(folder, &[0; 5_000]),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: no sound was found in it",
    },
    Case {
        what: "a header cut off in its first bytes",
        lay: |folder| beside(folder, &plain(Kind::S24, 100, 1, 48_000)[..13]),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it ends inside its header (copy it again from the recorder, or move it out of the folder)",
    },
    Case {
        what: "a header cut off before the sound",
        lay: |folder| beside(folder, &plain(Kind::S24, 100, 1, 48_000)[..36]),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it ends before the sound begins",
    },
    Case {
        what: "a header and no sound",
        lay: |folder| beside(folder, &plain(Kind::S24, 100, 1, 48_000)[..44]),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: there is a header but no sound after it",
    },
    Case {
        what: "no format in the header",
        lay: |folder| beside(folder, &riff(&[chunk(b"data", &[1; 60])])),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: its header does not say how the sound is stored",
    },
    Case {
        what: "no channel",
        lay: |folder| beside(folder, &header(plain_format(Kind::S24, 0, 48_000))),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: its header names 0 channels, 1 to 1024 can be",
    },
    Case {
        what: "five thousand channels",
        lay: |folder| beside(folder, &header(tagged_format(1, 8, 5_000, 48_000))),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: its header names 5000 channels, 1 to 1024 can be",
    },
    Case {
        what: "a sample rate of nothing",
        lay: |folder| beside(folder, &header(plain_format(Kind::S24, 1, 0))),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: its header names a sample rate of 0 Hz",
    },
    Case {
        what: "samples of 48 bits",
        lay: |folder| beside(folder, &header(tagged_format(1, 48, 1, 48_000))),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: its header names samples of 48 bits",
    },
    Case {
        what: "a format of ten bytes",
        lay: |folder| beside(folder, &header(vec![0; 10])),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: its format description has 10 bytes, 16 are needed",
    },
    Case {
        what: "a codec that is not known",
        lay: |folder| beside(folder, &header(tagged_format(0x2_000, 16, 2, 48_000))),
        arguments: REVIEW,
        code: 0,
        says: "its sound is coded in a way that can't be decoded here (format tag 8192) (convert it to WAV with plain samples, or to FLAC)",
    },
    Case {
        what: "Opus",
        lay: |folder| beside(folder, &opus()),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is Opus, which can't be decoded here (convert it to WAV or FLAC)",
    },
    Case {
        what: "WavPack",
        lay: |folder| beside(folder, &[b"wvpk".as_slice(), &[1; 100]].concat()),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is WavPack, which can't be decoded here (convert it to WAV or FLAC)",
    },
    Case {
        what: "FLAC cut off in its header",
        lay: |folder| beside(folder, &flac(2_000, 1)[..40]),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is damaged or cut off",
    },
    Case {
        what: "AIFF cut off in its header",
        lay: |folder| beside(folder, &aiff(2_000, 1)[..40]),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is damaged or cut off",
    },
    Case {
        what: "a size of 0 before sound",
        lay: |folder| beside(folder, &sized(0)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: The header does not say how long the sound is (power lost while recording?); the file was read to its end, 0.2 s.",
    },
    Case {
        what: "a size of all ones before sound",
        lay: |folder| beside(folder, &sized(u32::MAX)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: The header does not say how long the sound is (power lost while recording?); the file was read to its end, 0.2 s.",
    },
    Case {
        what: "a size past the end",
        lay: |folder| beside(folder, &sized(3 * 48_000)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: The header promises 1.0 s, the file holds 0.2 s; it was read to its end.",
    },
    Case {
        what: "a size written half way",
        lay: |folder| beside(folder, &sized(3 * 4_800)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: The header knows of 0.1 s, the file goes on to 0.2 s; it was read to its end (--trust-header stops earlier).",
    },
    Case {
        what: "a trusted header without length",
        lay: |folder| beside(folder, &sized(0)),
        arguments: &["review", "night", "--no-excerpts", "--trust-header"],
        code: 0,
        says: "warning: `02 Bass.wav` is left out: there is a header but no sound after it (leave out --trust-header, or move it out of the folder)",
    },
    Case {
        what: "an end inside a sample",
        lay: |folder| {
            let whole = plain(Kind::S24, N_FRAMES, 1, 48_000);
            beside(folder, &whole[..whole.len() - 1]);
        },
        arguments: REVIEW,
        code: 0,
        says: "The file ends inside a sample; the incomplete one was left out.",
    },
    Case {
        what: "a frame size that does not fit",
        lay: |folder| {
            let mut format = plain_format(Kind::S24, 1, 48_000);
            format[12] = 7;
            let data = samples(Kind::S24, N_FRAMES, 1);
            beside(folder, &riff(&[chunk(b"fmt ", &format), chunk(b"data", &data)]));
        },
        arguments: REVIEW,
        code: 0,
        says: "The frame size in the header does not fit its channels and bits; it was worked out from them.",
    },
    Case {
        what: "a pad byte forgotten",
        lay: |folder| {
            let (format, data) =
                (plain_format(Kind::S24, 1, 48_000), samples(Kind::S24, N_FRAMES, 1));
            let odd = sized_chunk(b"LIST", 5, b"INFOx");
            beside(folder, &riff(&[odd, chunk(b"fmt ", &format), chunk(b"data", &data)]));
        },
        arguments: REVIEW,
        code: 0,
        says: "A pad byte is missing in the header; the next part was found without it.",
    },
    Case {
        what: "a few bytes behind the sound",
        lay: |folder| {
            let mut bytes = plain(Kind::S24, N_FRAMES, 1, 48_000);
            bytes.extend([0x55; 17]);
            beside(folder, &bytes);
        },
        arguments: REVIEW,
        code: 0,
        says: "17 bytes after the sound belong to nothing known; they were left out.",
    },
    Case {
        what: "an RF64 file whose sizes were never written",
        lay: |folder| {
            let (format, data) =
                (plain_format(Kind::S24, 1, 48_000), samples(Kind::S24, N_FRAMES, 1));
            let parts =
                [ds64(0, 0, 0), chunk(b"fmt ", &format), sized_chunk(b"data", u32::MAX, &data)];
            beside(folder, &sized_riff(b"RF64", u32::MAX, &parts));
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: The header does not say how long the sound is",
    },
    Case {
        what: "a Wave64 file that promises more than it holds",
        lay: |folder| {
            let (format, data) =
                (plain_format(Kind::S24, 1, 48_000), samples(Kind::S24, N_FRAMES, 1));
            beside(folder, &wave64(&format, &data, 24 + 3 * 48_000));
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: The header promises 1.0 s, the file holds 0.2 s; it was read to its end.",
    },
    Case {
        what: "2.5 hours of 32 channels behind a size that wrapped",
        lay: |folder| {
            let format = chunk(b"fmt ", &plain_format(Kind::S24, 32, 48_000));
            let data = sized_chunk(b"data", u32::try_from(LONG_BYTES & 0xffff_ffff).unwrap(), &[]);
            hole(folder, &sized_riff(b"RIFF", 36, &[format, data]), LONG_BYTES);
        },
        arguments: CHANNELS,
        code: 0,
        says: "`02 Desk.wav`: The sound is too long for the size field of this kind of file; its length of 2 h 30 min 00 s was worked out from the file size.",
    },
    Case {
        what: "2.5 hours of 32 channels as RF64",
        lay: |folder| {
            let format = chunk(b"fmt ", &plain_format(Kind::S24, 32, 48_000));
            let sizes = ds64(72 + LONG_BYTES, LONG_BYTES, LONG_FRAMES);
            let data = sized_chunk(b"data", u32::MAX, &[]);
            hole(folder, &sized_riff(b"RF64", u32::MAX, &[sizes, format, data]), LONG_BYTES);
        },
        arguments: CHANNELS,
        code: 0,
        says: "raw 2:30:00 48/24",
    },
    Case {
        what: "floats that are no numbers",
        lay: |folder| beside(folder, &floats(f32::NAN)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: 9600 samples are not numbers that sound can have and were read as silence",
    },
    Case {
        what: "floats without end",
        lay: |folder| beside(folder, &floats(f32::NEG_INFINITY)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: 9600 samples are not numbers that sound can have and were read as silence",
    },
    Case {
        what: "floats 600 dB above full scale",
        lay: |folder| beside(folder, &floats(1e30)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: 9600 samples are not numbers that sound can have and were read as silence",
    },
    Case {
        what: "doubles that no float can hold",
        lay: |folder| beside(folder, &doubles(1e300)),
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav`: 9600 samples are not numbers that sound can have and were read as silence",
    },
];

#[test]
fn bad_sound_files_are_told_and_the_good_one_is_reviewed() {
    super::check(TABLE);
}
