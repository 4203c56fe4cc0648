//! Recordings of any length and number of channels, made of the rendered evening: real spill, real pauses, a main mix.

use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The main mix of the evening.
const MAIN: &str = "26 Main.wav";

/// What follows it is no input: an own recorder, a second tap, returns of effects.
const LAST_INPUT: &str = "25";

/// How far an input that is taken again is moved in time, so that it is no twin.
const MOVED_S: usize = 61;

/// The rendered evening.
pub(crate) struct Evening {
    inputs: Vec<PathBuf>,
    main: PathBuf,
}

impl Evening {
    /// Renders it below `dir`.
    pub(crate) fn render(dir: &Path) -> Self {
        let folder = dir.join("evening");
        let status = Command::new(env!("CARGO_BIN_EXE_deskside"))
            .args(["demo", "--full"])
            .arg(&folder)
            .current_dir(dir)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .expect("the program starts");
        assert!(status.success(), "the evening is rendered");
        let mut inputs: Vec<PathBuf> = fs::read_dir(&folder)
            .expect("the evening is there")
            .map(|entry| entry.expect("its files can be listed").path())
            .filter(|path| {
                let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
                name.ends_with(".wav") && name.get(..2).is_some_and(|number| number <= LAST_INPUT)
            })
            .collect();
        inputs.sort();
        assert!(!inputs.is_empty(), "the evening has inputs");
        Self { inputs, main: folder.join(MAIN) }
    }

    /// Writes `n_channels` inputs and the main mix of `n_minutes` into a new folder: the evening again and again, its inputs again
    /// once they are used up.
    pub(crate) fn write(&self, folder: &Path, n_channels: usize, n_minutes: usize) {
        fs::create_dir(folder).expect("the scratch folder is writable");
        for channel in 0..n_channels {
            let round = channel / self.inputs.len();
            let input = &self.inputs[channel % self.inputs.len()];
            let name = input.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let name = format!("{:02} {}", channel + 1, name.get(3..).unwrap_or(&name));
            Plain::read(input).write(&folder.join(name), n_minutes, round * MOVED_S);
        }
        Plain::read(&self.main).write(&main_in(folder, n_channels), n_minutes, 0);
    }
}

/// Where the main mix lies in a folder of recordings.
pub(crate) fn main_in(folder: &Path, n_channels: usize) -> PathBuf {
    folder.join(format!("{:02} Main.wav", n_channels + 1))
}

/// What is needed of a plain file: its format chunk, and its samples as they are stored.
struct Plain {
    format: Vec<u8>,
    data: Vec<u8>,
}

impl Plain {
    fn read(path: &Path) -> Self {
        let bytes = fs::read(path).expect("a rendered file can be read");
        let (mut at, mut format) = (12, Vec::new());
        loop {
            let size: [u8; 4] = bytes[at + 4..at + 8].try_into().expect("four bytes");
            let body = at + 8..at + 8 + u32::from_le_bytes(size) as usize;
            match &bytes[at..at + 4] {
                b"fmt " => format = bytes[body.clone()].to_vec(),
                b"data" => return Self { format, data: bytes[body].to_vec() },
                _ => {}
            }
            at = body.end + body.len() % 2;
        }
    }

    fn number(&self, at: usize, n_bytes: usize) -> usize {
        self.format[at..at + n_bytes].iter().rev().fold(0, |sum, &byte| sum * 256 + byte as usize)
    }

    fn write(&self, path: &Path, n_minutes: usize, moved_s: usize) {
        let (rate_hz, frame_bytes) = (self.number(4, 4), self.number(12, 2));
        let n_bytes = n_minutes * 60 * rate_hz * frame_bytes;
        let size = |n: usize| u32::try_from(n).expect("a file below 4 GiB").to_le_bytes();
        let mut file = BufWriter::with_capacity(1 << 20, File::create(path).expect("a new file"));
        let mut put = |bytes: &[u8]| file.write_all(bytes).expect("there is room on the disk");
        put(b"RIFF");
        put(&size(20 + self.format.len() + n_bytes));
        put(b"WAVEfmt ");
        put(&size(self.format.len()));
        put(&self.format);
        put(b"data");
        put(&size(n_bytes));
        let (mut from, mut n_left) = (moved_s * rate_hz * frame_bytes % self.data.len(), n_bytes);
        while n_left > 0 {
            let to = self.data.len().min(from + n_left);
            put(&self.data[from..to]);
            n_left -= to - from;
            from = 0;
        }
        file.flush().expect("there is room on the disk");
    }
}
