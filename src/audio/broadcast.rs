//! Names, dates and start times that recorders write into WAV files.
//!
//! Takes the chunks `bext`, `iXML` and `LIST`, gives checked values; what is wrong or absent is `None`. Never reads
//! more than 256 KiB of a chunk.
//!
//! Sources: EBU Tech 3285 (`bext`: description at byte 0, date at 320, time at 330, samples since midnight at 338);
//! iXML from memory.

use std::io::{self, Read, Seek};

use quick_xml::Reader;
use quick_xml::events::Event;

use super::chunks::Layout;
use super::peek::Peek;

/// A start later than this, in seconds, is taken for a mistake: the count begins at midnight, but time lines of
/// several days occur.
const MAX_START_S: u64 = 4 * 86_400;

/// Characters of a name that are kept.
const MAX_NAME: usize = 200;

/// What a file says about itself.
#[derive(Debug, Default)]
pub(super) struct Notes {
    /// Start, in samples since midnight.
    pub(super) start_samples: Option<u64>,
    /// `YYYY-MM-DD`.
    pub(super) date: Option<String>,
    /// `HH:MM:SS`.
    pub(super) time: Option<String>,
    /// What the recording is.
    pub(super) description: Option<String>,
    /// Names of the channels, in the order of the file.
    pub(super) track_names: Vec<Option<String>>,
}

/// Reads what a file says about itself.
pub(super) fn notes<R: Read + Seek>(
    source: &mut R,
    n_bytes: u64,
    layout: &Layout,
) -> io::Result<Notes> {
    let n_channels = layout.format.n_channels;
    let mut notes = Notes { track_names: vec![None; n_channels], ..Notes::default() };
    let mut peek = Peek::new(source, n_bytes);
    let mut info = Notes::default();
    for chunk in &layout.notes {
        let body = peek.at(chunk.start, usize::try_from(chunk.n_bytes).unwrap_or(usize::MAX))?;
        match &chunk.id {
            b"bext" => extension(body, layout.format.rate_hz, &mut notes),
            b"iXML" => notes.track_names = track_names(body, n_channels),
            _ => list(body, &mut info),
        }
    }
    notes.date = notes.date.or(info.date);
    notes.description = notes.description.or(info.description);
    Ok(notes)
}

/// The broadcast extension.
fn extension(body: &[u8], rate_hz: u32, notes: &mut Notes) {
    notes.description = body.get(..256).and_then(text);
    notes.date = body.get(320..330).and_then(date);
    notes.time = body.get(330..338).and_then(time);
    let Some(start) = body.get(338..346).and_then(|bytes| bytes.first_chunk::<8>()) else { return };
    let start = u64::from_le_bytes(*start);
    // A start of 0 is midnight only if the clock agrees; most often the field was never set.
    let set = start > 0 || notes.time.as_deref() == Some("00:00:00");
    let lawful = start <= MAX_START_S * u64::from(rate_hz);
    notes.start_samples = (set && lawful).then_some(start);
}

/// The title and the date of a `LIST` chunk of the kind `INFO`.
fn list(body: &[u8], notes: &mut Notes) {
    let Some(mut rest) = body.strip_prefix(b"INFO") else { return };
    while let Some((head, after)) = rest.split_first_chunk::<8>() {
        let size = u32::from_le_bytes([head[4], head[5], head[6], head[7]]);
        let size = usize::try_from(size).unwrap_or(usize::MAX).min(after.len());
        let entry = &after[..size];
        match &head[..4] {
            b"INAM" => notes.description = text(entry),
            b"ICRD" => notes.date = entry.get(..10).and_then(date),
            _ => {}
        }
        rest = after.get(size.saturating_add(size & 1)..).unwrap_or_default();
    }
}

/// Text up to the first zero byte, without control characters; `None` if nothing is left.
fn text(bytes: &[u8]) -> Option<String> {
    let end = bytes.iter().position(|&byte| byte == 0).unwrap_or(bytes.len());
    tidy(&String::from_utf8_lossy(&bytes[..end]))
}

fn tidy(text: &str) -> Option<String> {
    let words: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let tidy: String = words.trim().chars().take(MAX_NAME).collect();
    (!tidy.is_empty()).then_some(tidy)
}

/// Two or four decimal digits.
fn digits(bytes: &[u8]) -> Option<u32> {
    let all = bytes.iter().all(u8::is_ascii_digit);
    all.then(|| bytes.iter().fold(0, |sum, digit| 10 * sum + u32::from(digit - b'0')))
}

/// Whether this is one of the five separators that the standard allows.
fn separates(byte: u8) -> bool {
    matches!(byte, b'-' | b'_' | b':' | b' ' | b'.')
}

fn date(bytes: &[u8]) -> Option<String> {
    let (year, month, day) = (digits(&bytes[..4])?, digits(&bytes[5..7])?, digits(&bytes[8..10])?);
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let last = match month {
        2 => 28 + u32::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    let lawful = separates(bytes[4])
        && separates(bytes[7])
        && year >= 1900
        && (1..=12).contains(&month)
        && (1..=last).contains(&day);
    lawful.then(|| format!("{year:04}-{month:02}-{day:02}"))
}

fn time(bytes: &[u8]) -> Option<String> {
    let (hour, minute, second) =
        (digits(&bytes[..2])?, digits(&bytes[3..5])?, digits(&bytes[6..8])?);
    let lawful =
        separates(bytes[2]) && separates(bytes[5]) && hour < 24 && minute < 60 && second < 60;
    lawful.then(|| format!("{hour:02}:{minute:02}:{second:02}"))
}

/// One track of an iXML chunk.
#[derive(Debug, Default)]
struct Track {
    /// Place in the file, from 1.
    interleave: Option<usize>,
    /// Place at the recorder, from 1.
    channel: Option<usize>,
    name: String,
}

/// The channel names of an iXML chunk: one for each channel, by place in the file if given, else by place at the
/// recorder, else in order.
fn track_names(body: &[u8], n_channels: usize) -> Vec<Option<String>> {
    let tracks = tracks(&String::from_utf8_lossy(body));
    let mut names = vec![None; n_channels];
    // The list of a whole recorder in the file of one channel says nothing about which channel it is.
    let place = |track: &Track, order: usize| {
        track.interleave.or(track.channel.filter(|&c| c <= n_channels)).unwrap_or(order + 1)
    };
    if tracks.iter().enumerate().any(|(order, track)| place(track, order) > n_channels) {
        return names;
    }
    for (order, track) in tracks.iter().enumerate() {
        let slot = place(track, order).checked_sub(1).and_then(|idx| names.get_mut(idx));
        if let Some(slot @ None) = slot {
            *slot = tidy(&track.name);
        }
    }
    names
}

/// The tracks of an iXML chunk, as far as it can be read.
fn tracks(xml: &str) -> Vec<Track> {
    let mut reader = Reader::from_str(xml.trim_end_matches('\0'));
    let (mut tracks, mut track, mut field) = (Vec::new(), None, Vec::new());
    let mut content = String::new();
    loop {
        match reader.read_event() {
            Ok(Event::Start(start)) => {
                field = start.local_name().as_ref().to_vec();
                content.clear();
                if field == b"TRACK" {
                    track = Some(Track::default());
                }
            }
            Ok(Event::Text(text)) => content.push_str(&text.decode().unwrap_or_default()),
            Ok(Event::CData(data)) => content.push_str(&data.decode().unwrap_or_default()),
            Ok(Event::GeneralRef(entity)) => content.push(character(&entity)),
            Ok(Event::End(end)) => {
                if end.local_name().as_ref() == b"TRACK" {
                    tracks.extend(track.take());
                } else if let Some(track) = &mut track {
                    let number = content.trim().parse().ok();
                    match field.as_slice() {
                        b"INTERLEAVE_INDEX" => track.interleave = number,
                        b"CHANNEL_INDEX" => track.channel = number,
                        b"NAME" => track.name.clone_from(&content),
                        _ => {}
                    }
                }
                field.clear();
            }
            Ok(Event::Eof) | Err(_) => return tracks,
            Ok(_) => {}
        }
    }
}

/// The character that an entity stands for; a question mark if unknown.
fn character(entity: &quick_xml::events::BytesRef<'_>) -> char {
    if let Ok(Some(c)) = entity.resolve_char_ref() {
        return c;
    }
    match &entity[..] {
        b"amp" => '&',
        b"lt" => '<',
        b"gt" => '>',
        b"apos" => '\'',
        b"quot" => '"',
        _ => '?',
    }
}
