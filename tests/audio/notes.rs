//! Names, dates and start times from `bext` (EBU Tech 3285), iXML and `LIST`.

use deskside::audio::{FileFacts, TrustHeader, probe};
use proptest::prelude::*;

use crate::support::wavefile::{Kind, chunk, plain_format, put, riff, samples};

/// A `bext` body of version 2: 602 bytes and a coding history.
fn extension(date: &[u8; 10], time: &[u8; 8], start: u64) -> Vec<u8> {
    let mut body = vec![0; 602];
    body[..22].copy_from_slice(b"Take 3, hall rehearsal");
    body[320..330].copy_from_slice(date);
    body[330..338].copy_from_slice(time);
    body[338..346].copy_from_slice(&start.to_le_bytes());
    body[346] = 2;
    body.extend_from_slice(b"A=PCM,F=48000,W=24,M=mono,T=self made\r\n");
    body
}

fn facts(n_channels: u16, before: &[Vec<u8>], after: &[Vec<u8>]) -> FileFacts {
    let data = samples(Kind::S24, 100, usize::from(n_channels));
    let format = plain_format(Kind::S24, n_channels, 48_000);
    let middle = [chunk(b"fmt ", &format), chunk(b"data", &data)];
    let bytes = riff(&[before, &middle, after].concat());
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.wav", &bytes);
    let facts = probe(&path, TrustHeader::No).expect("the file can be read");
    assert!(facts.repairs.is_empty(), "{:?}", facts.repairs);
    assert_eq!(facts.n_frames, Some(100), "length");
    facts
}

fn named(n_channels: u16, tracks: &str) -> Vec<Option<String>> {
    let xml = format!("<?xml version=\"1.0\"?><BWFXML><TRACK_LIST>{tracks}</TRACK_LIST></BWFXML>");
    facts(n_channels, &[chunk(b"iXML", xml.as_bytes())], &[]).track_names
}

fn names(expected: &[&str]) -> Vec<Option<String>> {
    expected.iter().map(|name| (!name.is_empty()).then(|| (*name).to_owned())).collect()
}

#[test]
fn broadcast_notes_are_read_before_and_after_the_sound() {
    let notes = [
        chunk(b"bext", &extension(b"2031-05-06", b"19:30:00", 12_345_678)),
        chunk(
            b"iXML",
            b"<BWFXML><TRACK_LIST><TRACK_COUNT>1</TRACK_COUNT><TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX>\
              <INTERLEAVE_INDEX>1</INTERLEAVE_INDEX><NAME>Kick</NAME></TRACK></TRACK_LIST></BWFXML>",
        ),
    ];
    for facts in [facts(1, &notes, &[]), facts(1, &[], &notes)] {
        assert_eq!(facts.start_samples, Some(12_345_678), "start");
        assert_eq!(facts.date.as_deref(), Some("2031-05-06"), "date");
        assert_eq!(facts.time.as_deref(), Some("19:30:00"), "time");
        assert_eq!(facts.description.as_deref(), Some("Take 3, hall rehearsal"), "description");
        assert_eq!(facts.track_names, names(&["Kick"]), "names");
    }
}

#[test]
fn dates_are_checked_and_written_one_way() {
    let cases = [
        (b"2031-05-06", Some("2031-05-06")),
        (b"2031:05:06", Some("2031-05-06")),
        (b"2031/05/06", None),
        (b"2028-02-29", Some("2028-02-29")),
        (b"2100-02-29", None),
        (b"2031-02-29", None),
        (b"2031-13-01", None),
        (b"2031-00-01", None),
        (b"2031-04-31", None),
        (b"0000-00-00", None),
        (b"\0\0\0\0\0\0\0\0\0\0", None),
        (b"2031-05-\xff6", None),
    ];
    for (date, expected) in cases {
        let facts = facts(1, &[chunk(b"bext", &extension(date, b"19:30:00", 1))], &[]);
        assert_eq!(facts.date.as_deref(), expected, "{date:?}");
    }
}

#[test]
fn times_are_checked_and_written_one_way() {
    let cases = [
        (b"19:30:59", Some("19:30:59")),
        (b"19_30.05", Some("19:30:05")),
        (b"24:00:00", None),
        (b"23:60:00", None),
        (b"23:00:60", None),
        (b"\0\0\0\0\0\0\0\0", None),
    ];
    for (time, expected) in cases {
        let facts = facts(1, &[chunk(b"bext", &extension(b"2031-05-06", time, 1))], &[]);
        assert_eq!(facts.time.as_deref(), expected, "{time:?}");
    }
}

#[test]
fn a_start_that_was_never_set_is_none() {
    let start = |time, start| {
        facts(1, &[chunk(b"bext", &extension(b"2031-05-06", time, start))], &[]).start_samples
    };
    assert_eq!(start(b"19:30:00", 0), None, "0 at half past seven was never set");
    assert_eq!(start(b"00:00:00", 0), Some(0), "0 at midnight is midnight");
    assert_eq!(start(b"19:30:00", u64::MAX), None, "beyond any night");
}

#[test]
fn short_chunks_give_what_they_hold() {
    let body = extension(b"2031-05-06", b"19:30:00", 5);
    for n_bytes in [0, 10, 256, 325, 330, 340] {
        let facts = facts(1, &[chunk(b"bext", &body[..n_bytes])], &[]);
        assert_eq!(facts.date.is_some(), n_bytes >= 330, "{n_bytes} bytes");
        assert_eq!(facts.start_samples, None, "{n_bytes} bytes");
    }
}

#[test]
fn names_stand_where_the_file_has_them() {
    let by_place = "<TRACK><INTERLEAVE_INDEX>2</INTERLEAVE_INDEX><NAME>Snare</NAME></TRACK>\
                    <TRACK><INTERLEAVE_INDEX>1</INTERLEAVE_INDEX><NAME>Kick</NAME></TRACK>";
    assert_eq!(named(3, by_place), names(&["Kick", "Snare", ""]), "by place in the file");
    let by_channel = "<TRACK><CHANNEL_INDEX>2</CHANNEL_INDEX><NAME>B</NAME></TRACK>\
                      <TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><NAME>A</NAME></TRACK>";
    assert_eq!(named(2, by_channel), names(&["A", "B"]), "by place at the recorder");
    let later_inputs = "<TRACK><CHANNEL_INDEX>17</CHANNEL_INDEX><NAME>A</NAME></TRACK>\
                        <TRACK><CHANNEL_INDEX>18</CHANNEL_INDEX><NAME>B</NAME></TRACK>";
    assert_eq!(named(2, later_inputs), names(&["A", "B"]), "in order");
    let both = "<TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><INTERLEAVE_INDEX>2</INTERLEAVE_INDEX><NAME>B</NAME></TRACK>";
    assert_eq!(named(2, both), names(&["", "B"]), "the place in the file wins");
}

#[test]
fn the_list_of_a_whole_recorder_does_not_name_a_single_channel() {
    let list = "<TRACK><INTERLEAVE_INDEX>1</INTERLEAVE_INDEX><NAME>Kick</NAME></TRACK>\
                <TRACK><INTERLEAVE_INDEX>2</INTERLEAVE_INDEX><NAME>Snare</NAME></TRACK>";
    assert_eq!(named(1, list), names(&[""]), "which of both it is stays open");
}

#[test]
fn names_are_tidied() {
    let name = |name: &str| named(1, &format!("<TRACK><NAME>{name}</NAME></TRACK>")).remove(0);
    assert_eq!(name(" Gtr &amp; Vox &#39;L&#x27; "), Some("Gtr & Vox 'L'".to_owned()), "entities");
    assert_eq!(name("<![CDATA[Kick <in>]]>"), Some("Kick <in>".to_owned()), "quoted text");
    assert_eq!(name("  "), None, "blank");
    assert_eq!(name("K\u{7}ick"), Some("K ick".to_owned()), "control characters");
    assert_eq!(name("Stimme Anführer"), Some("Stimme Anführer".to_owned()), "umlauts");
    assert_eq!(name(&"x".repeat(5_000)).map(|name| name.len()), Some(200), "length");
}

#[test]
fn broken_xml_gives_the_names_before_the_break() {
    let tracks = "<TRACK><NAME>Kick</NAME></TRACK><TRACK><NAME>Sna</TRACK>";
    assert_eq!(named(2, tracks), names(&["Kick", ""]), "names");
}

#[test]
fn list_info_fills_what_the_broadcast_chunk_leaves_open() {
    let entry = |id: &[u8; 4], text: &[u8]| chunk(id, text);
    let body =
        [b"INFO".to_vec(), entry(b"INAM", b"Self-made take\0"), entry(b"ICRD", b"2031-05-06\0")]
            .concat();
    let list = chunk(b"LIST", &body);
    let alone = std::slice::from_ref(&list);
    for found in [facts(1, alone, &[]), facts(1, &[], alone)] {
        assert_eq!(found.description.as_deref(), Some("Self-made take"), "title");
        assert_eq!(found.date.as_deref(), Some("2031-05-06"), "date");
    }
    let bext = chunk(b"bext", &extension(b"2031-01-01", b"19:30:00", 1));
    let found = facts(1, &[bext, list], &[]);
    assert_eq!(found.date.as_deref(), Some("2031-01-01"), "the broadcast chunk wins");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_in_the_notes_leave_the_sound_readable(
        bext in proptest::collection::vec(any::<u8>(), 0..700),
        xml in "(<TRACK>|</TRACK>|<NAME>|</NAME>|<CHANNEL_INDEX>|&[a-z#0-9]{0,4};?|[0-9]{1,22}|[ -~]|\\PC){0,60}",
        list in proptest::collection::vec(any::<u8>(), 0..100),
    ) {
        let list = [b"INFO".to_vec(), list].concat();
        let notes = [chunk(b"bext", &bext), chunk(b"iXML", xml.as_bytes()), chunk(b"LIST", &list)];
        prop_assert_eq!(facts(2, &notes, &[]).track_names.len(), 2);
    }
}
