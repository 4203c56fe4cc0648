//! What is fed with hostile bytes: one plain function for each reader of what people and machines hand in.
//!
//! Takes any bytes, asserts what must hold of any input. `targets/*.rs` hands these functions to a coverage-guided fuzzer,
//! `smoke.rs` to the tests of every day.

use std::cell::OnceCell;
use std::fs;
use std::path::{Path, PathBuf};

use deskside::audio::{Stream, TrustHeader, is_audio_name};
use deskside::coach::{Aims, Marks, Sheet, Stored, line_card};
use deskside::comparison::compare;
use deskside::dsp::Group;
use deskside::error::Error;
use deskside::history::{GoodNight, Record};
use deskside::measure::clipping::FlatTopMeter;
use deskside::measure::falls::FallsMeter;
use deskside::measure::voice::VoiceMeter;
use deskside::measure::{LevelMeter, LoudnessMeter, ThirdsMeter, TruePeakMeter};
use deskside::report::json::SCHEMA;
use deskside::report::{Look, comparison, sheet};
use deskside::session::{Role, highpass_corner_hz, is_same_name, low, note, roles};
use deskside::{page, report};
use serde_json::Value;

/// Frames read at a place of a file.
const N_FRAMES: usize = 300;

/// A good review of many notes.
pub const REVIEW: &str = include_str!("seeds/review/evening.json");

/// Most changes of the good review.
const MAX_EDITS: usize = 16;

/// Most channels of a list: no desk has more.
const MAX_NAMES: usize = 256;

thread_local! {
    /// Where the bytes of sound files are put, one folder a thread.
    static FOLDER: OnceCell<tempfile::TempDir> = const { OnceCell::new() };
}

/// WAV files of every family: the chunk reader and the plain samples behind it.
pub fn chunks(bytes: &[u8]) {
    // Anything else goes to the decoding library, which has a target of its own. Wave64 begins in small letters.
    if bytes.get(8..12) != Some(b"WAVE") && !bytes.starts_with(b"riff") {
        return;
    }
    let path = put("x.wav", bytes);
    for trust in [TrustHeader::No, TrustHeader::Yes] {
        match Stream::open(&path, trust) {
            Ok(stream) => listen(stream),
            Err(error) => expect_sentence(&error),
        }
    }
}

/// Files that need a decoder.
pub fn coded(bytes: &[u8]) {
    let ending = match bytes {
        [b'f', b'L', b'a', b'C', ..] => "flac",
        [b'F', b'O', b'R', b'M', ..] => "aiff",
        [b'c', b'a', b'f', b'f', ..] => "caf",
        [b'O', b'g', b'g', b'S', ..] => "ogg",
        [_, _, _, _, b'f', b't', b'y', b'p', ..] => "m4a",
        [b'R', b'I' | b'F', ..] => "wav",
        _ => "mp3",
    };
    let path = put(&format!("x.{ending}"), bytes);
    match Stream::open(&path, TrustHeader::No) {
        Ok(stream) => listen(stream),
        Err(error) => expect_sentence(&error),
    }
}

/// Texts of `session.toml`.
pub fn note(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Err(error) = note::parse(text, Path::new("session.toml")) {
        expect_sentence(&error);
    }
}

/// Texts of a file of a team's targets.
pub fn aims(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match Aims::parse(text) {
        Ok(aims) => {
            let look = Look::PIPE;
            let shown = report::targets::changed(look, deskside::coach::RULES, &aims);
            assert!(!shown.is_empty(), "what is read is shown");
        }
        Err(error) => expect_told(error.to_string()),
    }
}

/// Texts of `marks.json`; what is read must be written and read again as it was.
pub fn marks(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match Marks::parse(text) {
        Ok(marks) => {
            let again = Marks::parse(&marks.to_json());
            assert_eq!(again.as_ref(), Ok(&marks), "marks read back");
        }
        Err(error) => expect_told(error.to_string()),
    }
}

/// Stored reviews, as text or as edits of a good one: read back, and everything written from them.
pub fn review(bytes: &[u8]) {
    if !bytes.starts_with(b"{") {
        return read_back(&edited(bytes));
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        read_back(text);
    }
}

/// Reads a review in every way and writes everything that can be written from it.
fn read_back(text: &str) {
    match Record::read(text, SCHEMA) {
        Ok(_) => {}
        Err(cause) => expect_told(cause),
    }
    if let Err(cause) = GoodNight::read(text, SCHEMA) {
        expect_told(cause);
    }
    let stored = match Stored::read(text, SCHEMA) {
        Ok(stored) => stored,
        Err(cause) => return expect_told(cause),
    };
    let marks = Marks::default();
    let card = line_card(&stored);
    let mut pages = vec![page::leads(&stored), page::line_check(&stored, &card)];
    let mut texts = vec![sheet::leads(&stored), sheet::line_check(&stored, &card)];
    if let Ok(feedback) = Sheet::new(&stored, &marks, &[], "Words.") {
        pages.push(page::feedback(&feedback));
        texts.push(sheet::feedback(&feedback));
    }
    let found = compare(&stored, &stored);
    pages.push(page::comparison(&found));
    texts.push(comparison::table(Look::PIPE, &found));
    let json = comparison::json(&found);
    assert!(json.starts_with('{') && json.trim_end().ends_with('}'), "a whole object");
    assert!(pages.iter().all(|page| page.ends_with("</html>")), "whole pages");
    for text in texts {
        assert!(!text.contains("NaN") && !text.contains("inf dB"), "numbers only: {text}");
    }
}

/// A good review with changes, four bytes each: which value, and what comes in its place. Bytes of a text seldom leave it a text; so
/// every input reaches what lies behind the parser.
fn edited(bytes: &[u8]) -> String {
    let mut review: Value = serde_json::from_str(REVIEW).expect("the review is JSON");
    for &[low, high, what, which] in bytes.as_chunks::<4>().0.iter().take(MAX_EDITS) {
        let mut n_left = usize::from(u16::from_le_bytes([low, high])) % (n_values(&review) + 1);
        if let Some(place) = nth(&mut review, &mut n_left) {
            *place = replaced(place, what, which);
        }
    }
    review.to_string()
}

/// Values in a value, itself among them.
fn n_values(value: &Value) -> usize {
    1 + match value {
        Value::Array(values) => values.iter().map(n_values).sum(),
        Value::Object(values) => values.values().map(n_values).sum(),
        _ => 0,
    }
}

/// The value of a number, in reading order.
fn nth<'a>(value: &'a mut Value, n_left: &mut usize) -> Option<&'a mut Value> {
    if *n_left == 0 {
        return Some(value);
    }
    *n_left -= 1;
    match value {
        Value::Array(values) => values.iter_mut().find_map(|value| nth(value, n_left)),
        Value::Object(values) => values.values_mut().find_map(|value| nth(value, n_left)),
        _ => None,
    }
}

/// What may come in place of a value.
fn replaced(value: &Value, what: u8, which: u8) -> Value {
    const NUMBERS: [f64; 8] = [0.0, -1.0, 1.0, 1e300, -1e300, 1e-300, 1e18, 0.5];
    const TEXTS: [&str; 8] =
        ["", "ch01", "ch99", "\u{1b}[31m\n", "</script>", "\u{feff}\u{202e}", "kick", "mix"];
    let which_of = usize::from(which) % 8;
    match (what % 8, value) {
        (0, _) => NUMBERS[which_of].into(),
        (1, _) => TEXTS[which_of].into(),
        (2, _) => Value::Null,
        (3, _) => Value::Bool(which.is_multiple_of(2)),
        (4, Value::Array(values)) => values.iter().skip(which_of).cloned().collect(),
        (5, Value::Array(values)) => {
            std::iter::repeat_n(values, which_of).flatten().cloned().collect()
        }
        (4 | 5, Value::Number(number)) => {
            (number.as_f64().unwrap_or(0.0) * NUMBERS[which_of]).into()
        }
        (6, _) => u64::MAX.into(),
        (7, Value::Object(values)) => {
            let kept = values.iter().enumerate().filter(|(idx, _)| *idx != usize::from(which));
            kept.map(|(_, (key, value))| (key.clone(), value.clone())).collect()
        }
        _ => value.clone(),
    }
}

/// Lists of channel names, one a line.
pub fn names(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let names: Vec<&str> = text.lines().take(MAX_NAMES).collect();
    let found = roles(&names);
    assert_eq!(found.len(), names.len(), "a role for each name");
    for (idx, (name, one)) in names.iter().zip(&found).enumerate() {
        assert!((0.0..=1.0).contains(&one.confidence), "{one:?}");
        assert!(!one.alternatives.contains(&one.role), "no alternative to itself: {one:?}");
        if let Some(partner) = one.partner {
            assert!(partner != idx, "no side of itself: {name:?}");
            assert_eq!(found[partner].partner, Some(idx), "partners know each other: {name:?}");
        }
        if let Some(corner_hz) = highpass_corner_hz(one.role, name) {
            assert!(corner_hz.is_finite() && corner_hz > 0.0, "{corner_hz} Hz");
        }
        let _ = (low(one.role, name), Role::from_word(name), is_audio_name(Path::new(name)));
        let next = names.get(idx + 1).unwrap_or(name);
        assert_eq!(is_same_name(name, next), is_same_name(next, name), "{name:?}, {next:?}");
        assert!(is_same_name(name, name), "{name:?} is its own name");
    }
}

/// Samples of some channels, cut into blocks: the meters and the vector kernels below them. The first byte tells how many channels, the
/// second how long blocks are; cut or whole, the answer is one.
pub fn meters(bytes: &[u8]) {
    let Some((&[channels, block], samples)) = bytes.split_first_chunk::<2>() else { return };
    let n_channels = usize::from(channels % 8) + 1;
    let samples = samples.as_chunks::<4>().0.iter().map(|bytes| f32::from_le_bytes(*bytes));
    // The reader lets nothing else pass.
    let samples: Vec<f32> =
        samples.map(|x| if x.abs() <= 2_147_483_648.0 { x } else { 0.0 }).collect();
    let n_frames = samples.len() / n_channels;
    let planes: Vec<&[f32]> = samples.chunks_exact(n_frames.max(1)).take(n_channels).collect();
    if planes.len() < n_channels {
        return;
    }
    let whole = measured(&planes, n_frames);
    assert_eq!(whole, measured(&planes, usize::from(block) + 1), "blocks make no difference");
    assert!(!whole.contains("NaN") && !whole.contains("inf"), "numbers only: {whole:.500}");
}

/// What meters say of planes that are fed in blocks.
fn measured(planes: &[&[f32]], n_block: usize) -> String {
    const RATE_HZ: u32 = 48_000;
    let n_channels = planes.len();
    let mut level = LevelMeter::new(RATE_HZ, n_channels);
    let mut loudness = LoudnessMeter::new(RATE_HZ, n_channels);
    let mut thirds = ThirdsMeter::new(RATE_HZ, n_channels);
    let mut true_peak = TruePeakMeter::new(RATE_HZ, n_channels);
    let mut falls = FallsMeter::new(RATE_HZ, n_channels);
    let mut voice = VoiceMeter::new(RATE_HZ, n_channels);
    let mut flat_tops = FlatTopMeter::new(RATE_HZ, n_channels);
    for from in (0..planes[0].len()).step_by(n_block.max(1)) {
        let to = (from + n_block.max(1)).min(planes[0].len());
        let block: Vec<&[f32]> = planes.iter().map(|plane| &plane[from..to]).collect();
        let group = Group::new(&block, RATE_HZ);
        level.push(group);
        loudness.push(group);
        thirds.push(group);
        true_peak.push(group);
        falls.push(group);
        voice.push(group);
        flat_tops.push(group);
    }
    let first = (level.finish(), loudness.finish(), thirds.finish(), true_peak.finish());
    format!("{first:?} {:?}", (falls.finish(), voice.finish(), flat_tops.finish()))
}

/// Writes the bytes into this thread's folder.
fn put(name: &str, bytes: &[u8]) -> PathBuf {
    FOLDER.with(|folder| {
        let folder = folder.get_or_init(|| tempfile::tempdir().expect("a scratch folder"));
        let path = folder.path().join(name);
        fs::write(&path, bytes).expect("the scratch folder can be written");
        path
    })
}

/// Reads a little here and there.
fn listen(mut stream: Stream) {
    let n_channels = stream.facts().n_channels;
    assert!(n_channels > 0 && stream.facts().rate_hz > 0, "{:?}", stream.facts());
    assert_eq!(stream.facts().track_names.len(), n_channels, "a place for each name");
    for start in [0, 50, 1_000_000, u64::MAX] {
        let mut planes = vec![Vec::new(); n_channels];
        match stream.seek(start).and_then(|()| stream.read(N_FRAMES, &mut planes)) {
            Ok(n_got) => {
                assert!(n_got <= N_FRAMES, "{n_got} frames");
                assert!(planes.iter().all(|plane| plane.len() == n_got), "planes of one length");
            }
            Err(error) => expect_sentence(&error),
        }
        assert!(planes.iter().flatten().all(|sample| sample.is_finite()), "numbers only");
    }
    for repair in stream.repairs() {
        expect_clause(repair.trim_end_matches('.'));
    }
}

/// A cause as the program tells it.
fn expect_told(cause: String) {
    expect_sentence(&Error::new("cannot use", Path::new("x"), cause, "hand in another one"));
}

/// One line that says what is wrong and what to do.
fn expect_sentence(error: &Error) {
    expect_clause(&error.cause);
    expect_clause(&error.hint);
}

/// Words on one line.
fn expect_clause(clause: &str) {
    assert!(!clause.trim().is_empty(), "no empty clause");
    assert!(!clause.contains(['\n', '\r']), "one line: {clause:?}");
}
