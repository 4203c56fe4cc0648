//! The chunks of a WAV file (RIFF, RF64, BW64, Wave64), read so that a header that lies does not lose the sound.
//!
//! Takes any source of bytes and its true length, gives the place of the sound, its layout, and where names and
//! times stand. Never believes a size that the file contradicts, unless told to; never reads more than a few
//! kilobytes; never panics on hostile bytes.
//!
//! Sources: EBU Tech 3306 (RF64), ITU-R BS.2088 (BW64); Wave64 from memory.

use std::io::{self, Read, Seek};

use super::format::{self, Codec, WaveFormat};
use super::peek::Peek;
use super::probe::TrustHeader;
use super::repair::Repair;

/// Chunks looked at before the file is taken for damaged. Real files have fewer than 30.
const MAX_CHUNKS: usize = 1_000;

/// Entries of the RF64 size table that are kept; real files have none or one.
const MAX_TABLE: usize = 64;

/// Fewer bytes than this after the sound are leftovers (padding of a disk, tags of a player) rather than sound of
/// which the header does not know: at 48 kHz, 24 bits and one channel they would be 28 ms.
const MAX_LEFTOVER_BYTES: u64 = 4_096;

/// How often a 32-bit size may have wrapped: 16 TB.
const MAX_WRAPS: u64 = 4_096;

/// A size of all ones: written as 'not known yet', or 'look into ds64'.
const UNKNOWN_32: u64 = 0xffff_ffff;

/// Chunks that follow the sound in real files. Four bytes that match one of them are hardly audio by accident.
const KNOWN: [[u8; 4]; 26] = [
    *b"LIST", *b"bext", *b"iXML", *b"cue ", *b"fact", *b"JUNK", *b"junk", *b"PAD ", *b"FLLR",
    *b"id3 ", *b"ID3 ", *b"smpl", *b"inst", *b"axml", *b"chna", *b"cart", *b"levl", *b"plst",
    *b"umid", *b"_PMX", *b"minf", *b"elm1", *b"regn", *b"fmt ", *b"data", *b"ds64",
];

/// The last 12 bytes of the Wave64 chunk names whose first four are those of the WAV chunk.
const WAVE64_TAIL: [u8; 12] =
    [0xf3, 0xac, 0xd3, 0x11, 0x8c, 0xd1, 0x00, 0xc0, 0x4f, 0x8e, 0xdb, 0x8a];

/// The name of the outermost Wave64 chunk.
const WAVE64_RIFF: [u8; 16] = [
    b'r', b'i', b'f', b'f', 0x2e, 0x91, 0xcf, 0x11, 0xa5, 0xd6, 0x28, 0xdb, 0x04, 0xc1, 0x00, 0x00,
];

/// The kinds of WAV file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Family {
    /// 32-bit sizes.
    Riff,
    /// 64-bit sizes in a `ds64` chunk, EBU Tech 3306.
    Rf64,
    /// The same, ITU-R BS.2088.
    Bw64,
    /// 64-bit sizes everywhere.
    Wave64,
}

impl Family {
    /// The kind whose mark these first bytes of a file are.
    pub(super) fn of(head: &[u8]) -> Option<Self> {
        let form = head.get(8..12) == Some(b"WAVE".as_slice());
        match head.get(..4)? {
            b"RIFF" if form => Some(Self::Riff),
            b"RF64" if form => Some(Self::Rf64),
            b"BW64" if form => Some(Self::Bw64),
            b"riff" if head.starts_with(&WAVE64_RIFF) => Some(Self::Wave64),
            _ => None,
        }
    }

    /// Its name.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Riff => "WAV",
            Self::Rf64 => "RF64",
            Self::Bw64 => "BW64",
            Self::Wave64 => "Wave64",
        }
    }

    fn first_chunk(self) -> u64 {
        if self == Self::Wave64 { 40 } else { 12 }
    }

    /// Chunks are padded to multiples of this.
    fn align(self) -> u64 {
        if self == Self::Wave64 { 8 } else { 2 }
    }
}

/// A chunk with names or times in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chunk {
    /// Its name.
    pub(super) id: [u8; 4],
    /// Where its body begins.
    pub(super) start: u64,
    /// Length of its body, within the file.
    pub(super) n_bytes: u64,
}

/// What a WAV file holds and where.
#[derive(Debug)]
pub(super) struct Layout {
    /// The kind of file.
    pub(super) family: Family,
    /// How its samples are laid out.
    pub(super) format: WaveFormat,
    /// Where the sound begins.
    pub(super) data_start: u64,
    /// Whole frames of sound.
    pub(super) n_frames: u64,
    /// The chunks `bext`, `iXML` and `LIST`.
    pub(super) notes: Vec<Chunk>,
    /// What was put right.
    pub(super) repairs: Vec<String>,
}

/// Why a file has no layout.
#[derive(Debug)]
pub(super) enum Fault {
    /// The source can't be read.
    Io(io::Error),
    /// The header is wrong beyond repair: the reason, as a clause.
    Header(String),
    /// There is a header but no sound.
    NoSound,
}

impl From<io::Error> for Fault {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

/// Finds the sound in a WAV file. `n_bytes` is the true length of the source.
pub(super) fn layout<R: Read + Seek>(
    source: &mut R,
    n_bytes: u64,
    trust: TrustHeader,
) -> Result<Layout, Fault> {
    let mut peek = Peek::new(source, n_bytes);
    let family =
        Family::of(peek.at(0, 16)?).ok_or_else(|| Fault::Header("it is no WAV file".to_owned()))?;
    let mut walk = Walk {
        peek,
        family,
        trust,
        ds64: Ds64::default(),
        format: None,
        data: None,
        notes: Vec::new(),
        repairs: Vec::new(),
    };
    walk.run()?;
    walk.finish()
}

/// The sizes of an RF64 file that need more than 32 bits.
#[derive(Debug, Default)]
struct Ds64 {
    data_bytes: u64,
    table: Vec<([u8; 4], u64)>,
}

/// The first bytes of a chunk.
#[derive(Clone, Copy, Debug)]
struct Head {
    id: [u8; 4],
    /// Whether the name could be one.
    plausible: bool,
    body: u64,
    /// What the size field says; `None` where it says that the size is not known.
    declared: Option<u64>,
}

#[derive(Clone, Copy, Debug)]
struct Data {
    start: u64,
    n_bytes: u64,
}

struct Walk<'a, R> {
    peek: Peek<'a, R>,
    family: Family,
    trust: TrustHeader,
    ds64: Ds64,
    format: Option<WaveFormat>,
    data: Option<Data>,
    notes: Vec<Chunk>,
    repairs: Vec<Repair>,
}

impl<R: Read + Seek> Walk<'_, R> {
    fn run(&mut self) -> Result<(), Fault> {
        let mut at = self.family.first_chunk();
        for _ in 0..MAX_CHUNKS {
            let Some(head) = self.head(at)? else { break };
            if !head.plausible {
                break;
            }
            let rest = self.peek.n_bytes() - head.body;
            let n_bytes = if head.id == *b"data" && self.data.is_none() {
                self.data_bytes(head, rest)?
            } else {
                head.declared.map_or(rest, |declared| declared.min(rest))
            };
            self.take(head, n_bytes)?;
            at = self.after(head.body, n_bytes)?;
        }
        Ok(())
    }

    /// The chunk that begins at a place, if the file goes on that far.
    fn head(&mut self, at: u64) -> io::Result<Option<Head>> {
        if self.family == Family::Wave64 {
            let Some(bytes) = self.peek.at(at, 24)?.first_chunk::<24>() else { return Ok(None) };
            let (id, tail) = ([bytes[0], bytes[1], bytes[2], bytes[3]], &bytes[4..16]);
            let id = if tail == WAVE64_TAIL { id } else { [0; 4] };
            let declared = number(&bytes[16..24]);
            // The size counts the 24 bytes of the head; a chunk smaller than that is no chunk, but for sound
            // whose size was never written.
            let plausible = declared >= 24 || id == *b"data";
            let declared = (declared < 1 << 63).then(|| declared.saturating_sub(24));
            return Ok(Some(Head { id, plausible, body: at + 24, declared }));
        }
        let Some(bytes) = self.peek.at(at, 8)?.first_chunk::<8>() else { return Ok(None) };
        let id = [bytes[0], bytes[1], bytes[2], bytes[3]];
        let plausible = id.iter().all(|byte| (0x20..0x7f).contains(byte))
            && id.iter().any(u8::is_ascii_alphabetic);
        let declared = match number(&bytes[4..8]) {
            UNKNOWN_32 if id == *b"data" => Some(self.ds64.data_bytes).filter(|&size| size > 0),
            UNKNOWN_32 => self.ds64.table.iter().find(|entry| entry.0 == id).map(|entry| entry.1),
            size => Some(size),
        };
        Ok(Some(Head { id, plausible, body: at + 8, declared }))
    }

    /// How much sound there is: what the size field says where the file agrees.
    fn data_bytes(&mut self, head: Head, rest: u64) -> io::Result<u64> {
        let declared = head.declared.unwrap_or(u64::MAX);
        if self.trust == TrustHeader::Yes && head.declared.is_some() {
            if declared > rest {
                self.repairs.push(Repair::Promised { declared_bytes: declared });
            }
            return Ok(declared.min(rest));
        }
        if head.declared.is_none() {
            self.repairs.push(Repair::NeverWritten);
            return Ok(rest);
        }
        if declared > rest {
            self.repairs.push(Repair::Promised { declared_bytes: declared });
            return Ok(rest);
        }
        if self.ends_well(head.body, declared)? {
            return Ok(declared);
        }
        if let Some(n_bytes) = self.unwrapped(head.body, declared, rest)? {
            self.repairs.push(Repair::Wrapped);
            return Ok(n_bytes);
        }
        let leftover = rest - declared;
        if declared > 0 && leftover < MAX_LEFTOVER_BYTES {
            self.repairs.push(Repair::Leftover { n_bytes: leftover });
            return Ok(declared);
        }
        self.repairs.push(match declared {
            0 => Repair::NeverWritten,
            _ => Repair::Outgrown { declared_bytes: declared },
        });
        Ok(rest)
    }

    /// Whether sound of this length is followed by the end of the file or by other chunks.
    fn ends_well(&mut self, body: u64, n_bytes: u64) -> io::Result<bool> {
        let end = body + n_bytes;
        let padded = body + n_bytes.next_multiple_of(self.family.align());
        Ok(padded >= self.peek.n_bytes()
            || self.chunks_follow(padded)?
            || (padded != end && self.chunks_follow(end)?))
    }

    /// Whether a chunk stands here that is known, or a row of plausible ones that fills the file.
    fn chunks_follow(&mut self, at: u64) -> io::Result<bool> {
        let mut at = at;
        for n_found in 0..MAX_CHUNKS {
            let Some(head) = self.head(at)? else { return Ok(n_found > 0) };
            let rest = self.peek.n_bytes() - head.body;
            let Some(n_bytes) = head.declared.filter(|&size| size <= rest) else {
                return Ok(n_found == 0 && KNOWN.contains(&head.id));
            };
            if n_found == 0 && KNOWN.contains(&head.id) {
                return Ok(true);
            }
            if !head.plausible {
                return Ok(false);
            }
            at = head.body + n_bytes.next_multiple_of(self.family.align());
        }
        Ok(false)
    }

    /// The true length of sound whose 32-bit size lost its upper bits.
    fn unwrapped(&mut self, body: u64, declared: u64, rest: u64) -> io::Result<Option<u64>> {
        if self.family != Family::Riff {
            return Ok(None);
        }
        for wraps in 1..=MAX_WRAPS {
            let n_bytes = declared + (wraps << 32);
            if n_bytes > rest {
                break;
            }
            if self.ends_well(body, n_bytes)? {
                return Ok(Some(n_bytes));
            }
        }
        Ok(None)
    }

    /// Keeps what a chunk tells.
    fn take(&mut self, head: Head, n_bytes: u64) -> Result<(), Fault> {
        let n_wanted = usize::try_from(n_bytes).unwrap_or(usize::MAX);
        match &head.id {
            b"ds64" => {
                let body = self.peek.at(head.body, n_wanted.min(28 + 12 * MAX_TABLE))?;
                self.ds64.data_bytes = body.get(8..16).map_or(0, number);
                let table = body.get(28..).unwrap_or_default().as_chunks::<12>().0;
                let entry = |e: &[u8; 12]| ([e[0], e[1], e[2], e[3]], number(&e[4..]));
                self.ds64.table = table.iter().map(entry).collect();
            }
            b"fmt " if self.format.is_none() => {
                let body = self.peek.at(head.body, n_wanted.min(64))?;
                let (format, frame_size_wrong) = format::parse(body).map_err(Fault::Header)?;
                self.format = Some(format);
                if frame_size_wrong {
                    self.repairs.push(Repair::FrameSize);
                }
            }
            b"data" if self.data.is_none() => {
                self.data = Some(Data { start: head.body, n_bytes });
            }
            b"bext" | b"iXML" | b"LIST" => {
                self.notes.push(Chunk { id: head.id, start: head.body, n_bytes });
            }
            _ => {}
        }
        Ok(())
    }

    /// Where the next chunk begins. Some writers forget the pad byte after a chunk of odd length.
    fn after(&mut self, body: u64, n_bytes: u64) -> io::Result<u64> {
        let end = body + n_bytes;
        let padded = body + n_bytes.next_multiple_of(self.family.align());
        if self.family == Family::Wave64 || padded == end || padded >= self.peek.n_bytes() {
            return Ok(padded);
        }
        if self.likeness(end)? > self.likeness(padded)? {
            self.repairs.push(Repair::MissingPad);
            return Ok(end);
        }
        Ok(padded)
    }

    /// How much this place looks like the begin of a chunk: 0 not, 1 somewhat, 2 surely.
    fn likeness(&mut self, at: u64) -> io::Result<u8> {
        Ok(match self.head(at)? {
            Some(head) if KNOWN.contains(&head.id) => 2,
            Some(head) if head.plausible => 1,
            _ => 0,
        })
    }

    fn finish(self) -> Result<Layout, Fault> {
        let cause = match (self.format, self.data) {
            (None, None) => "it ends inside its header",
            (None, Some(_)) => "its header does not say how the sound is stored",
            (Some(_), None) => "it ends before the sound begins",
            (Some(format), Some(data)) => return self.found(format, data),
        };
        Err(Fault::Header(cause.to_owned()))
    }

    fn found(mut self, format: WaveFormat, data: Data) -> Result<Layout, Fault> {
        let frame_bytes = format.frame_bytes as u64;
        let (n_frames, n_over) = (data.n_bytes / frame_bytes, data.n_bytes % frame_bytes);
        if n_frames == 0 {
            return Err(Fault::NoSound);
        }
        // A single byte over is the pad byte of a file that was read to its end.
        if n_over > 1 {
            self.repairs.push(Repair::LastFrameCut);
        }
        if matches!(format.codec, Codec::Other(_)) {
            // Another reader takes over, with its own view of the header.
            self.repairs.clear();
        }
        Ok(Layout {
            family: self.family,
            format,
            data_start: data.start,
            n_frames,
            notes: self.notes,
            repairs: self
                .repairs
                .iter()
                .map(|repair| repair.sentence(&format, data.n_bytes))
                .collect(),
        })
    }
}

/// A number, lowest byte first.
fn number(bytes: &[u8]) -> u64 {
    bytes.iter().rev().fold(0, |sum, &byte| sum << 8 | u64::from(byte))
}
