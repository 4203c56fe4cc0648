//! Writes WAV files, block by block.
//!
//! Takes planes of `f32` with full scale at 1, gives a file that appears under its name when it is whole. Never
//! overwrites a file before then, and never leaves a half-written one behind.
//!
//! Sources: EBU Tech 3285 (`bext`), EBU Tech 3306 (RF64 in place of a `JUNK` chunk when 32-bit sizes do not reach).

use std::fs::{self, File};
use std::io::{self, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use crate::error::{Error, system};

/// How samples are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SampleFormat {
    /// 24 bits: rounded to the nearest step, held at full scale, without dither.
    Int24,
    /// 32-bit float, as given.
    Float32,
}

impl SampleFormat {
    fn bytes(self) -> u16 {
        match self {
            Self::Int24 => 3,
            Self::Float32 => 4,
        }
    }

    fn tag(self) -> u16 {
        match self {
            Self::Int24 => 1,
            Self::Float32 => 3,
        }
    }
}

/// What a file to be written is like.
#[derive(Clone, Debug)]
pub struct WaveSpec {
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Channels, 1 to 1024.
    pub n_channels: u16,
    /// How samples are stored.
    pub format: SampleFormat,
    /// Start, in samples since midnight, if it is to be told.
    pub start_samples: Option<u64>,
    /// Day, `YYYY-MM-DD`, told along with the start.
    pub date: Option<String>,
    /// Names of the channels, in order; none are written if there are none.
    pub track_names: Vec<String>,
}

impl WaveSpec {
    /// A file without start and names.
    pub fn new(rate_hz: u32, n_channels: u16, format: SampleFormat) -> Self {
        Self { rate_hz, n_channels, format, start_samples: None, date: None, track_names: vec![] }
    }

    fn frame_bytes(&self) -> u16 {
        self.n_channels * self.format.bytes()
    }
}

/// A WAV file that is being written.
pub struct WaveWriter {
    path: PathBuf,
    part_path: PathBuf,
    /// `None` once the file is whole.
    file: Option<BufWriter<File>>,
    spec: WaveSpec,
    n_frames: u64,
    bytes: Vec<u8>,
}

impl WaveWriter {
    /// Begins a file. It stands beside its final name, with `.part` added, until [`WaveWriter::finish`].
    ///
    /// # Errors
    ///
    /// If the system does not let it be written.
    ///
    /// # Panics
    ///
    /// If there are not 1 to 1024 channels, or the rate is 0.
    pub fn create(path: &Path, spec: WaveSpec) -> Result<Self, Error> {
        assert!((1..=1024).contains(&spec.n_channels), "a file has 1 to 1024 channels");
        assert!(spec.rate_hz > 0, "the sample rate is above 0");
        let mut part_path = path.as_os_str().to_owned();
        part_path.push(".part");
        let part_path = PathBuf::from(part_path);
        let file = File::create(&part_path).map_err(|error| write_error(path, &error))?;
        let mut file = BufWriter::with_capacity(1 << 18, file);
        let head = header(&spec, 0);
        let written = file.write_all(&head);
        let writer = Self {
            path: path.to_owned(),
            part_path,
            file: Some(file),
            spec,
            n_frames: 0,
            bytes: Vec::new(),
        };
        written.map_err(|error| write_error(path, &error))?;
        Ok(writer)
    }

    /// Writes the same frames of all channels.
    ///
    /// # Errors
    ///
    /// If the system can't write, as on a full disk.
    ///
    /// # Panics
    ///
    /// If the planes are not one for each channel, or differ in length.
    pub fn write(&mut self, planes: &[&[f32]]) -> Result<(), Error> {
        assert_eq!(planes.len(), usize::from(self.spec.n_channels), "a plane for each channel");
        let n_frames = planes[0].len();
        assert!(planes.iter().all(|plane| plane.len() == n_frames), "planes are equally long");
        self.bytes.clear();
        for frame_idx in 0..n_frames {
            for plane in planes {
                let sample = plane[frame_idx];
                match self.spec.format {
                    SampleFormat::Int24 => {
                        self.bytes.extend_from_slice(&quantised(sample).to_le_bytes()[..3]);
                    }
                    SampleFormat::Float32 => self.bytes.extend_from_slice(&sample.to_le_bytes()),
                }
            }
        }
        self.n_frames += n_frames as u64;
        let written = self.file.as_mut().map_or(Ok(()), |file| file.write_all(&self.bytes));
        written.map_err(|error| write_error(&self.path, &error))
    }

    /// Completes the header and gives the file its name.
    ///
    /// # Errors
    ///
    /// If the system can't write.
    pub fn finish(mut self) -> Result<(), Error> {
        self.complete().map_err(|error| write_error(&self.path, &error))
    }

    fn complete(&mut self) -> io::Result<()> {
        let Some(file) = &mut self.file else { return Ok(()) };
        let n_bytes = self.n_frames * u64::from(self.spec.frame_bytes());
        if n_bytes % 2 == 1 {
            file.write_all(&[0])?;
        }
        file.seek(SeekFrom::Start(0))?;
        file.write_all(&header(&self.spec, self.n_frames))?;
        file.flush()?;
        fs::rename(&self.part_path, &self.path)?;
        self.file = None;
        Ok(())
    }
}

impl Drop for WaveWriter {
    fn drop(&mut self) {
        if self.file.take().is_some() {
            // Nothing more can be done if the unfinished file does not go away.
            let _ = fs::remove_file(&self.part_path);
        }
    }
}

/// The nearest of the 24-bit steps, held at full scale; what is no number becomes 0.
#[expect(clippy::cast_possible_truncation, reason = "clamped to 24 bits before")]
fn quantised(sample: f32) -> i32 {
    let scaled = f64::from(sample) * 8_388_608.0;
    let rounded = scaled + 0.5_f64.copysign(scaled);
    rounded.clamp(-8_388_608.0, 8_388_607.0) as i32
}

/// Everything before the samples: of the same length whatever the number of frames.
fn header(spec: &WaveSpec, n_frames: u64) -> Vec<u8> {
    let data_bytes = n_frames * u64::from(spec.frame_bytes());
    let mut notes = Vec::new();
    if let Some(start) = spec.start_samples {
        push_chunk(&mut notes, *b"bext", &extension(spec, start));
    }
    if !spec.track_names.is_empty() {
        push_chunk(&mut notes, *b"iXML", track_list(&spec.track_names).as_bytes());
    }
    push_chunk(&mut notes, *b"fmt ", &format_body(spec));
    // Name of the form, the place for 64-bit sizes, the other chunks, the head of the data, and its pad byte.
    let riff_bytes = 4 + 36 + notes.len() as u64 + 8 + data_bytes + data_bytes % 2;
    let mut head = Vec::new();
    match (u32::try_from(riff_bytes), u32::try_from(data_bytes)) {
        (Ok(riff_bytes), Ok(data_bytes)) => {
            head.extend_from_slice(b"RIFF");
            head.extend_from_slice(&riff_bytes.to_le_bytes());
            head.extend_from_slice(b"WAVE");
            push_chunk(&mut head, *b"JUNK", &[0; 28]);
            head.extend_from_slice(&notes);
            head.extend_from_slice(b"data");
            head.extend_from_slice(&data_bytes.to_le_bytes());
        }
        _ => {
            head.extend_from_slice(b"RF64");
            head.extend_from_slice(&u32::MAX.to_le_bytes());
            head.extend_from_slice(b"WAVE");
            let sizes = [riff_bytes, data_bytes, n_frames].map(u64::to_le_bytes);
            push_chunk(&mut head, *b"ds64", &[sizes.as_flattened(), &[0; 4]].concat());
            head.extend_from_slice(&notes);
            head.extend_from_slice(b"data");
            head.extend_from_slice(&u32::MAX.to_le_bytes());
        }
    }
    head
}

fn push_chunk(to: &mut Vec<u8>, id: [u8; 4], body: &[u8]) {
    let size = u32::try_from(body.len()).expect("chunks before the samples are small");
    to.extend_from_slice(&id);
    to.extend_from_slice(&size.to_le_bytes());
    to.extend_from_slice(body);
    if body.len() % 2 == 1 {
        to.push(0);
    }
}

/// Plain for one and two channels; beyond that the extensible form, with no loudspeaker named for any channel.
fn format_body(spec: &WaveSpec) -> Vec<u8> {
    let extensible = spec.n_channels > 2;
    let mut body = Vec::new();
    let tag = if extensible { 0xfffe } else { spec.format.tag() };
    let bits = 8 * spec.format.bytes();
    // The rate in bytes is a hint for players; it may not fit.
    let byte_rate = spec.rate_hz.saturating_mul(u32::from(spec.frame_bytes()));
    body.extend_from_slice(&u16::to_le_bytes(tag));
    body.extend_from_slice(&spec.n_channels.to_le_bytes());
    body.extend_from_slice(&spec.rate_hz.to_le_bytes());
    body.extend_from_slice(&byte_rate.to_le_bytes());
    body.extend_from_slice(&spec.frame_bytes().to_le_bytes());
    body.extend_from_slice(&bits.to_le_bytes());
    if extensible {
        body.extend_from_slice(&22_u16.to_le_bytes());
        body.extend_from_slice(&bits.to_le_bytes());
        body.extend_from_slice(&[0; 4]);
        body.extend_from_slice(&spec.format.tag().to_le_bytes());
        body.extend_from_slice(&[0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71]);
    }
    body
}

fn extension(spec: &WaveSpec, start_samples: u64) -> Vec<u8> {
    let mut body = vec![0; 602];
    if let Some(date) = spec.date.as_ref().filter(|date| date.len() == 10) {
        body[320..330].copy_from_slice(date.as_bytes());
    }
    let second = start_samples / u64::from(spec.rate_hz) % 86_400;
    let time = format!("{:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60);
    body[330..338].copy_from_slice(time.as_bytes());
    body[338..346].copy_from_slice(&start_samples.to_le_bytes());
    body[346] = 1;
    body
}

fn track_list(names: &[String]) -> String {
    let track = |(idx, name): (usize, &String)| {
        let (n, name) = (idx + 1, quick_xml::escape::escape(name.as_str()));
        format!(
            "<TRACK><CHANNEL_INDEX>{n}</CHANNEL_INDEX><INTERLEAVE_INDEX>{n}</INTERLEAVE_INDEX>\
             <NAME>{name}</NAME></TRACK>"
        )
    };
    let tracks: String = names.iter().enumerate().map(track).collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><BWFXML><IXML_VERSION>1.5</IXML_VERSION>\
         <TRACK_LIST><TRACK_COUNT>{}</TRACK_COUNT>{tracks}</TRACK_LIST></BWFXML>",
        names.len()
    )
}

fn write_error(path: &Path, error: &io::Error) -> Error {
    Error::new(
        "cannot write",
        path,
        system(error),
        "check the folder's rights and the room on the disk",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::{TrustHeader, probe};

    /// A size that no test should write out: the header of such a file, and silence that takes no room.
    #[test]
    fn beyond_4_gib_the_header_is_rf64_of_the_same_length() {
        let mut spec = WaveSpec::new(48_000, 32, SampleFormat::Int24);
        spec.track_names = vec!["Kick".to_owned()];
        let n_frames = 1 << 26;
        let head = header(&spec, n_frames);
        assert_eq!(head.len(), header(&spec, 0).len(), "the header is written twice");
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("x.wav");
        fs::write(&path, &head).expect("the scratch folder can be written");
        let file = File::options().write(true).open(&path).expect("the file is there");
        file.set_len(head.len() as u64 + 96 * n_frames).expect("sparse files are known");
        let facts = probe(&path, TrustHeader::No).expect("the file can be read");
        assert_eq!(
            (facts.container.as_str(), facts.n_frames),
            ("RF64", Some(n_frames)),
            "{facts:?}"
        );
        assert!(facts.repairs.is_empty(), "{:?}", facts.repairs);
        // EBU Tech 3306: the sizes of the form and of the sound, and the number of frames, 64 bits each.
        let sizes = [head.len() as u64 - 8 + 96 * n_frames, 96 * n_frames, n_frames];
        assert_eq!(&head[20..44], sizes.map(u64::to_le_bytes).as_flattened(), "the sizes in ds64");
    }

    #[test]
    fn up_to_4_gib_the_header_is_riff() {
        let spec = WaveSpec::new(48_000, 1, SampleFormat::Float32);
        let most = (u64::from(u32::MAX) - 100) / 4;
        assert!(header(&spec, most).starts_with(b"RIFF"), "the sizes fit");
        assert!(header(&spec, most + 100).starts_with(b"RF64"), "they do not");
    }
}
