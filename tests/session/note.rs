//! `session.toml`: the full example, times and dates, and what is refused.

use std::path::Path;

use deskside::session::note::{
    Kind, LevelControl, MainBus, Pattern, SessionNote, Style, Target, parse, read,
};
use deskside::session::{Role, Side, Tap};

const EXAMPLE: &str = include_str!("../../docs/session.example.toml");

fn note(text: &str) -> SessionNote {
    match parse(text, Path::new("session.toml")) {
        Ok(note) => note,
        Err(error) => panic!("{}", error.sentence()),
    }
}

/// The whole sentence of the error that a text makes.
fn refusal(text: &str) -> String {
    parse(text, Path::new("session.toml")).expect_err("the text is refused").sentence()
}

/// What is said of a text names the place and what to do.
fn check(text: &str, cause: &str, hint: &str) {
    let sentence = refusal(text);
    assert!(sentence.starts_with("cannot understand `session.toml`: "), "{sentence}");
    assert!(sentence.contains(cause), "the cause `{cause}` stands in: {sentence}");
    assert!(sentence.contains(hint), "the hint `{hint}` stands in: {sentence}");
    assert!(!sentence.contains('\n'), "it is one sentence: {sentence}");
}

#[test]
fn the_example_holds_what_it_says() {
    let note = note(EXAMPLE);
    assert_eq!(note.date.as_deref(), Some("2031-05-06"), "date");
    assert_eq!(note.kind, Some(Kind::Rehearsal), "kind");
    assert_eq!(note.main_bus, Some(MainBus::Hall), "bus");
    assert_eq!(note.style, Some(Style::SongLed), "style");
    assert_eq!(note.target, Some(Target::Hall), "target");
    let song = &note.songs[0];
    assert_eq!((song.start_s, song.end_s), (80.0, Some(190.0)), "01:20 to 03:10");
    assert_eq!((song.cues[0].at_s, song.cues[0].text.as_str()), (138.0, "fiddle solo"), "02:18");
    assert_eq!(note.songs[1].start_s.to_bits(), 215.0_f64.to_bits(), "plain seconds");
    let lead = &note.channels[1];
    assert_eq!((lead.role, lead.pattern), (Some(Role::LeadVocal), Some(Pattern::Supercardioid)));
    assert_eq!(note.channels[3].side, Some(Side::Left), "side");
    let room = &note.channels[6];
    assert_eq!((room.tap, room.level_control), (Some(Tap::Room), Some(LevelControl::Off)), "room");
    let tone = room.calibration.as_ref().expect("the tone is noted");
    assert_eq!((tone.start_s, tone.end_s, tone.level_db_spl), (Some(2.0), Some(12.0), Some(94.0)));
}

/// Keys that the parser itself lists when it meets an unknown one at such a place.
fn keys_at(text: &str) -> Vec<String> {
    let error = toml::from_str::<SessionNote>(text).expect_err("the key is unknown");
    error.message().split('`').skip(3).step_by(2).map(str::to_owned).collect()
}

#[test]
fn the_example_uses_every_key() {
    let places = [
        "zzz = 1",
        "[limit]\nzzz = 1",
        "[hall]\nzzz = 1",
        "[hall.sweep]\nzzz = 1",
        "[stage]\nzzz = 1",
        "[[stage.wedge]]\nzzz = 1",
        "[[song]]\nzzz = 1",
        "[[channel]]\nzzz = 1",
        "[[channel]]\n[channel.calibration]\nzzz = 1",
    ];
    let mut n_keys = 0;
    for place in places {
        for key in keys_at(place) {
            n_keys += 1;
            let used = EXAMPLE.lines().any(|line| {
                let line = line.trim_start();
                line.starts_with(&format!("{key} ="))
                    || line.contains(&format!("{{ {key} ="))
                    || line.starts_with(&format!("[{key}]"))
                    || line.starts_with(&format!("[[{key}]]"))
                    || line.contains(&format!(".{key}]"))
            });
            assert!(used, "`{key}` of `{}` stands in the example", place.escape_debug());
        }
    }
    // Counted in the list of what an operator may state: were the parser's message to change, none would be found.
    assert!(n_keys >= 60, "keys are found at all, {n_keys}");
}

#[test]
fn an_empty_note_states_nothing() {
    assert_eq!(note(""), SessionNote::default(), "no key, no statement");
}

#[test]
fn a_misspelt_key_is_named_with_the_right_one() {
    check(
        "[[channel]]\nfile = \"a.wav\"\nroel = \"kick\"",
        "line 3: there is no key `roel`",
        "write `role`",
    );
    check("operater = \"wren\"", "line 1: there is no key `operater`", "write `operator`");
    check("[[channel]]\nfil = \"a.wav\"", "there is no key `fil`", "write `file`");
    check("bananas = 1", "there is no key `bananas`", "write one of name, date");
}

#[test]
fn an_unknown_word_is_named_with_the_right_one() {
    check(
        "kind = \"rehersal\"",
        "line 1, key `kind`: `rehersal` is not known",
        "write `rehearsal`",
    );
    check(
        "[[channel]]\nfile = \"a.wav\"\nrole = \"lead vocals\"",
        "line 3, key `role`: there is no role `lead vocals`",
        "write `lead vocal`",
    );
    check(
        "[[channel]]\nfile = \"a.wav\"\ntap = \"post\"",
        "key `tap`",
        "write one of raw, processed",
    );
}

#[test]
fn a_wrong_kind_of_value_is_named_with_the_right_kind() {
    check("good = \"yes\"", "key `good`: found string \"yes\"", "write true or false");
    check("name = 7", "key `name`", "write a text in quotes");
    check("[[channel]]\nfile = \"a.wav\"\nfader_db = \"low\"", "key `fader_db`", "write a number");
    check("[[channel]]\nfile = \"a.wav\"\nposition = [1, 2]", "key `position`", "three");
}

#[test]
fn broken_toml_names_its_line() {
    check("name = \"a\"\nplace = \"b", "line 2", "session.example.toml");
}

#[test]
fn times_are_seconds_or_clock() {
    let start =
        |value: &str| note(&format!("[[song]]\ntitle = \"a\"\nstart = {value}")).songs[0].start_s;
    for (value, expected_s) in [
        ("90", 90.0),
        ("90.5", 90.5),
        ("\"01:30\"", 90.0),
        ("\"1:30.5\"", 90.5),
        ("\"90:00\"", 5400.0),
        ("\"1:30:00\"", 5400.0),
    ] {
        let found_s = start(value);
        assert_eq!(found_s.to_bits(), f64::to_bits(expected_s), "{value} is {found_s} s");
    }
}

#[test]
fn what_is_no_time_is_refused() {
    for value in [
        "-3",
        "\"1:75\"",
        "\"1:61:00\"",
        "\"soon\"",
        "\"\"",
        "\"1:-5\"",
        "nan",
        "inf",
        "\"1:2:3:4\"",
    ] {
        let text = format!("[[song]]\ntitle = \"a\"\nstart = {value}");
        check(&text, "line 3, key `start`", "write seconds or \"mm:ss\"");
    }
}

#[test]
fn dates_follow_the_calendar() {
    for date in ["\"2031-05-06\"", "2031-05-06", "\"2032-02-29\"", "\"2000-02-29\""] {
        assert!(note(&format!("date = {date}")).date.is_some(), "{date} is a day");
    }
    // 1900 was no leap year, 2000 was one.
    for date in [
        "\"2031-02-29\"",
        "\"1900-02-29\"",
        "\"2031-13-01\"",
        "\"6.5.2031\"",
        "\"2031-04-31\"",
        "\"\"",
    ] {
        check(&format!("date = {date}"), "line 1, key `date`", "write year-month-day");
    }
}

#[test]
fn a_cue_has_a_time_inside_its_song() {
    let song =
        |cue: &str| format!("[[song]]\ntitle = \"a\"\nstart = 60\nend = 120\ncues = [\"{cue}\"]");
    assert_eq!(note(&song("01:30 Nell takes over")).songs[0].cues[0].text, "Nell takes over");
    check(&song("fiddle"), "`fiddle` is no cue", "02:18 fiddle");
    check(&song("00:30 fiddle"), "lies outside the song", "start of the recording");
    check(&song("02:01 fiddle"), "lies outside the song", "start of the recording");
}

#[test]
fn values_that_make_no_sense_are_refused() {
    let channel = |line: &str| format!("[[channel]]\nfile = \"a.wav\"\nname = \"A\"\n{line}");
    check("air_temperature_c = 210", "air_temperature_c is 210", "from -30 to 50");
    check("air_temperature_c = nan", "air_temperature_c is NaN", "write a number");
    check("[hall]\nvolume_m3 = 0", "volume_m3 is 0", "write a number");
    let sweep = |keys: &str| format!("[hall.sweep]\nstart = 2\nlength_s = 5\n{keys}");
    check(&sweep("from_hz = 1\nto_hz = 100"), "hall.sweep.from_hz is 1", "from 10 to");
    check(&sweep("from_hz = 8000\nto_hz = 80"), "does not rise by an octave", "lowest frequency");
    check(&sweep("from_hz = 80"), "the key `to_hz` is missing", "add a line");
    check("[limit]\nlaeq_db = 95", "the key `window_min` is missing", "add a line");
    check("[[song]]\ntitle = \"a\"\nstart = 9\nend = 3", "ends before it starts", "later");
    check(&channel("index = 0"), "index 0", "count from 1");
    check(&channel("index = -1"), "key `index`", "whole number");
    check(&channel("axis = [0, 0, 0]"), "points nowhere", "direction");
    check(&channel("raw_of = \"B\"\nprocessed_of = \"C\""), "both", "keep the one");
    check("[[channel]]\nrole = \"kick\"", "neither `file` nor `name`", "add the file");
    check("[[channel]]\nname = \"A\"\nindex = 2", "no `file`", "add its `file`");
    check(&channel("calibration = { level_db_spl = 94 }"), "no times", "`start` and `end`");
    check(
        &channel("calibration = { level_db_spl = 94, dbfs_to_db_spl = 120 }"),
        "a tone and a step",
        "keep",
    );
    check(&channel("calibration = {}"), "neither a tone nor a step", "dbfs_to_db_spl");
    check(
        "[[channel]]\nfile = \"a.wav\"\n[[channel]]\nfile = \"a.wav\"\nindex = 1",
        "two [[channel]] entries speak of `a.wav`",
        "its own `index`",
    );
}

#[test]
fn a_byte_order_mark_is_no_key() {
    assert_eq!(note("\u{feff}name = \"A\"").name.as_deref(), Some("A"), "some editors write one");
}

#[test]
fn a_folder_without_a_note_has_none() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    assert_eq!(read(folder.path()).expect("no error"), None, "no file, no note");
}

#[test]
fn a_note_in_another_encoding_is_refused() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    std::fs::write(folder.path().join("session.toml"), b"name = \"Fl\xfcgel\"").expect("written");
    let sentence = read(folder.path()).expect_err("it is refused").sentence();
    assert!(sentence.contains("no UTF-8 text (save it again as UTF-8"), "{sentence}");
}

proptest::proptest! {
    #[test]
    fn any_text_is_a_note_or_one_sentence(text in "[a-z_\\[\\]=\"' .0-9:{},#\n]{0,60}") {
        if let Err(error) = parse(&text, Path::new("session.toml")) {
            let sentence = error.sentence();
            assert!(!sentence.contains('\n'), "one line: {sentence}");
            assert!(!error.hint.is_empty(), "with advice: {sentence}");
        }
    }
}
