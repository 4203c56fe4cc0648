//! Scratch folders of small recordings: silence is enough where only headers are read.

use std::fs;
use std::path::{Path, PathBuf};

use deskside::audio::{SampleFormat, TrustHeader, WaveSpec, WaveWriter};
use deskside::error::Error;
use deskside::session::Session;

/// A folder that vanishes with the value.
pub(crate) struct Scratch {
    folder: tempfile::TempDir,
}

impl Scratch {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a scratch folder") }
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// The path of a file, its folders made.
    pub(crate) fn at(&self, label: &str) -> PathBuf {
        let path = self.folder.path().join(label);
        fs::create_dir_all(path.parent().expect("it has a folder")).expect("the folder is made");
        path
    }

    /// A file of 48 kHz and 24 bits.
    pub(crate) fn wave(&self, label: &str, n_channels: u16, n_frames: usize) -> &Self {
        self.spec(label, WaveSpec::new(48_000, n_channels, SampleFormat::Int24), n_frames)
    }

    pub(crate) fn spec(&self, label: &str, spec: WaveSpec, n_frames: usize) -> &Self {
        let silence = vec![0.0_f32; n_frames];
        let planes = vec![silence.as_slice(); usize::from(spec.n_channels)];
        let mut writer = WaveWriter::create(&self.at(label), spec).expect("the file begins");
        writer.write(&planes).expect("the silence is written");
        writer.finish().expect("the file ends");
        self
    }

    /// A file whose data is a hole in the disk: it may be as large as recorders make them.
    pub(crate) fn hole(&self, label: &str, n_channels: u16, n_frames: u32) -> &Self {
        let frame_bytes = n_channels * 3;
        let n_data = n_frames * u32::from(frame_bytes);
        let mut header = Vec::from(*b"RIFF");
        header.extend((n_data + 36).to_le_bytes());
        header.extend(b"WAVEfmt ");
        header.extend(16_u32.to_le_bytes());
        header.extend(1_u16.to_le_bytes());
        header.extend(n_channels.to_le_bytes());
        header.extend(48_000_u32.to_le_bytes());
        header.extend((48_000 * u32::from(frame_bytes)).to_le_bytes());
        header.extend(frame_bytes.to_le_bytes());
        header.extend(24_u16.to_le_bytes());
        header.extend(b"data");
        header.extend(n_data.to_le_bytes());
        let path = self.at(label);
        fs::write(&path, &header).expect("the header is written");
        let file = fs::OpenOptions::new().write(true).open(&path).expect("the file opens");
        file.set_len(header.len() as u64 + u64::from(n_data)).expect("the file grows");
        self
    }

    pub(crate) fn text(&self, label: &str, text: &str) -> &Self {
        fs::write(self.at(label), text).expect("the text is written");
        self
    }

    pub(crate) fn open(&self) -> Result<Session, Error> {
        Session::open(self.path(), TrustHeader::No)
    }

    /// The session in the folder.
    pub(crate) fn session(&self) -> Session {
        match self.open() {
            Ok(session) => session,
            Err(error) => panic!("{}", error.sentence()),
        }
    }
}

/// A file with a start, in seconds since midnight.
pub(crate) fn stamped(n_channels: u16, start_s: u64) -> WaveSpec {
    WaveSpec {
        start_samples: Some(start_s * 48_000),
        date: Some("2031-05-06".to_owned()),
        ..WaveSpec::new(48_000, n_channels, SampleFormat::Int24)
    }
}
