//! The table of channels as found in a folder.

use deskside::audio::{SampleFormat, TrustHeader, WaveSpec, WaveWriter};
use deskside::report::channels::{self, Row};
use deskside::report::{Look, text};
use deskside::session::Session;

fn row(number: usize, name: &str, role: &'static str) -> Row {
    Row {
        number,
        name: name.to_owned(),
        role,
        found: "name",
        tap: "raw",
        partner: None,
        duration_s: Some(500.0),
        rate_hz: 48_000,
        bits: 24,
        is_float: false,
        warnings: Vec::new(),
    }
}

fn rows() -> Vec<Row> {
    let mut rows =
        vec![row(1, "Kik", "kick"), row(7, "OH L", "overhead"), row(8, "OH R", "overhead")];
    rows[1].partner = Some("L with 8".to_owned());
    rows[2].partner = Some("R with 7".to_owned());
    rows.push(Row {
        rate_hz: 44_100,
        bits: 32,
        is_float: true,
        ..row(17, "LV \u{1b}[31mred", "lead vocal")
    });
    rows.push(Row {
        warnings: vec![
            "the header promises 8:20, the data ends after 3:10; read to its end".to_owned(),
        ],
        duration_s: Some(190.0),
        ..row(21, "A very long name that somebody typed in a hurry 🎤", "electric guitar")
    });
    rows
}

fn printed() -> String {
    channels::table(Look::PIPE, &rows(), &["`notes.txt` is no recording, left out".to_owned()])
}

#[test]
fn the_table_names_every_channel_and_what_to_know_about_it() {
    let printed = printed();
    for part in [
        "Kik",
        "overhead",
        "L with 8",
        "44.1/32f",
        "48/24",
        "08:20",
        "lead vocal",
        "21 A very long name…: the header promises",
        " - `notes.txt` is no recording",
    ] {
        assert!(printed.contains(part), "`{part}` is missing:\n{printed}");
    }
}

#[test]
fn the_table_keeps_to_80_columns_and_holds_no_control_codes() {
    let printed = printed();
    for line in printed.lines() {
        assert!(text::width(line) <= 80, "{} columns: {line}", text::width(line));
        assert!(!line.chars().any(char::is_control), "{line:?}");
    }
}

#[test]
fn a_folder_is_shown_with_its_length_its_files_and_its_channels() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("tuesday");
    std::fs::create_dir(&folder).unwrap();
    for name in ["01 Kick", "02 OH L", "03 OH R", "04 Lead Vox"] {
        let spec = WaveSpec::new(48_000, 1, SampleFormat::Int24);
        let mut file = WaveWriter::create(&folder.join(format!("{name}.wav")), spec).unwrap();
        file.write(&[&[0.25; 96_000]]).unwrap();
        file.finish().unwrap();
    }
    let session = Session::open(&folder, TrustHeader::No).unwrap();
    let printed = channels::found(Look::PIPE, &session);
    assert!(
        printed.starts_with("tuesday\n2.0 s · 4 channels · 4 files · 48 kHz\n\n nr   name"),
        "{printed}"
    );
    for part in ["L with 3", "R with 2", "overhead", "lead vocal", "48/24"] {
        assert!(printed.contains(part), "`{part}` is missing:\n{printed}");
    }
    assert!(!printed.contains(&*scratch.path().to_string_lossy()), "a path of the machine");
}
