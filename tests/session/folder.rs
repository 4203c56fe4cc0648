//! Folders as desks and recorders leave them: which files are parts of one recording, which are channels.

use std::fs;

use deskside::audio::{SampleFormat, TrustHeader, WaveSpec};
use deskside::session::{Role, RoleSource, Session, Side, Tap};

use crate::support::folders::{Scratch, stamped};

fn names(session: &Session) -> Vec<&str> {
    session.channels.iter().map(|channel| channel.name.as_str()).collect()
}

fn numbers(session: &Session) -> Vec<usize> {
    session.channels.iter().map(|channel| channel.number).collect()
}

fn parts(session: &Session) -> Vec<usize> {
    session.takes.iter().map(|take| take.parts.len()).collect()
}

fn warned(session: &Session, words: &str) -> bool {
    session.warnings.iter().any(|warning| warning.contains(words))
}

#[test]
fn mono_files_are_channels_in_desk_order() {
    let scratch = Scratch::new();
    for name in ["10 Bs DI.wav", "02_Sn Top.wav", "01 Kik.wav", "17 LV.wav"] {
        scratch.wave(name, 1, 480);
    }
    let session = scratch.session();
    assert_eq!(names(&session), ["Kik", "Sn Top", "Bs DI", "LV"], "names");
    assert_eq!(numbers(&session), [1, 2, 10, 17], "numbers");
    let roles: Vec<_> = session.channels.iter().map(|channel| channel.role).collect();
    assert_eq!(roles, [Role::Kick, Role::SnareTop, Role::Bass, Role::LeadVocal], "roles");
    assert_eq!(session.channels[2].id, "ch10", "ids carry the number");
    assert!(session.warnings.is_empty(), "nothing is doubtful: {:?}", session.warnings);
}

#[test]
fn numbered_mono_files_are_channels_of_their_own() {
    let scratch = Scratch::new();
    for number in 1..=4 {
        scratch.wave(&format!("CH{number:02}.WAV"), 1, 480);
    }
    let session = scratch.session();
    assert_eq!(names(&session), ["CH01", "CH02", "CH03", "CH04"], "names");
    assert_eq!(parts(&session), [1, 1, 1, 1], "no file continues another");
    assert!(session.channels.iter().all(|c| c.role_source == RoleSource::None), "no role");
}

#[test]
fn full_mono_files_of_one_length_are_channels_too() {
    let scratch = Scratch::new();
    for number in 1..=3 {
        scratch.hole(&format!("CH{number:02}.WAV"), 1, 715_000_000);
    }
    assert_eq!(parts(&scratch.session()), [1, 1, 1], "they ran side by side");
}

#[test]
fn parts_of_a_many_channel_recorder_are_one_take() {
    // 2 GiB of 32 channels at 24 bits are 22.4 million frames.
    for names in [
        ["take_0001.wav", "take_0002.wav", "take_0003.wav"],
        ["R_20310506-193000.wav", "R_20310506-193000-2.wav", "R_20310506-193000-3.wav"],
        ["00000009.WAV", "00000010.WAV", "00000011.WAV"],
    ] {
        let scratch = Scratch::new();
        scratch.hole(names[0], 32, 22_300_000).hole(names[1], 32, 22_300_000);
        scratch.hole(names[2], 32, 9_000_000);
        let session = scratch.session();
        assert_eq!(parts(&session), [3], "{names:?}: {:?}", session.warnings);
        assert_eq!(session.channels.len(), 32, "{names:?}");
        assert_eq!(session.takes[0].n_frames, Some(53_600_000), "{names:?}");
        assert!(session.warnings.is_empty(), "{names:?}: {:?}", session.warnings);
    }
}

#[test]
fn a_split_mono_recording_is_one_channel() {
    let scratch = Scratch::new();
    scratch.hole("hall_001.wav", 1, 715_000_000).hole("hall_002.wav", 1, 80_000_000);
    let session = scratch.session();
    assert_eq!(parts(&session), [2], "the first is full, the second shorter");
    assert_eq!(names(&session), ["hall"], "the number of the part is no name");
}

#[test]
fn channels_that_are_split_each_are_joined_each() {
    let scratch = Scratch::new();
    for channel in 1..=2 {
        scratch.hole(&format!("CH{channel:02}_0001.wav"), 1, 715_000_000);
        scratch.hole(&format!("CH{channel:02}_0002.wav"), 1, 80_000_000);
    }
    let session = scratch.session();
    assert_eq!(parts(&session), [2, 2], "{:?}", session.takes);
    assert_eq!(numbers(&session), [1, 2], "two channels");
}

#[test]
fn channels_that_were_split_together_are_joined_each_with_one_warning() {
    let scratch = Scratch::new();
    for name in ["01 LeadVox", "02 Gtr", "Kick"] {
        for (part, n_frames) in [(1, 4_800), (2, 4_800), (3, 1_000)] {
            scratch.wave(&format!("{name}_{part:03}.wav"), 1, n_frames);
        }
    }
    let session = scratch.session();
    assert_eq!(parts(&session), [3, 3, 3], "{:?}", session.takes);
    assert_eq!(session.takes[0].n_frames, Some(10_600));
    let told = session.warnings.iter().filter(|one| one.contains("recorder paused")).count();
    assert_eq!(told, 1, "{:?}", session.warnings);
}

#[test]
fn a_part_that_is_missing_is_told_and_the_rest_stays_one_take() {
    let scratch = Scratch::new();
    for name in ["REC_001.wav", "REC_002.wav", "REC_004.wav"] {
        scratch.wave(name, 8, 4_800);
    }
    scratch.wave("REC_005.wav", 8, 2_400);
    let session = scratch.session();
    assert_eq!(
        (session.takes.len(), session.takes[0].parts.len()),
        (1, 4),
        "one take of four files"
    );
    assert_eq!(session.channels.len(), 8, "no channel stands twice");
    assert_eq!(session.warnings.len(), 1, "{:?}", session.warnings);
    assert!(
        session.warnings[0].contains("between `REC_002.wav` and `REC_004.wav` a part is missing")
    );
}

#[test]
fn what_follows_a_missing_part_of_one_track_is_laid_where_the_others_have_it() {
    let scratch = Scratch::new();
    for name in ["Bass", "Kick", "Vox"] {
        for (number, n_frames) in [(1, 4_800), (2, 9_600), (3, 2_400)] {
            if (name, number) != ("Kick", 2) {
                scratch.wave(&format!("{name}_{number}.wav"), 1, n_frames);
            }
        }
    }
    let session = scratch.session();
    // 4 800 and 9 600 frames at 48 kHz are 0.3 s.
    let starts: Vec<(&str, usize, f64)> = session
        .takes
        .iter()
        .map(|take| (take.label.as_str(), take.parts.len(), (take.start_s * 1_000.0).round()))
        .collect();
    assert_eq!(
        starts,
        [
            ("Bass_1.wav", 3, 0.0),
            ("Kick_1.wav", 1, 0.0),
            ("Kick_3.wav", 1, 300.0),
            ("Vox_1.wav", 3, 0.0)
        ]
    );
    assert!(
        session.warnings.iter().any(|told| told.contains("a part before `Kick_3.wav` is missing"))
    );
}

#[test]
fn two_recorders_with_numbers_apart_are_not_one() {
    let scratch = Scratch::new();
    scratch.wave("Stage 1.wav", 8, 9_600).wave("Stage 3.wav", 8, 4_800);
    assert_eq!(scratch.session().takes.len(), 2, "nothing speaks of a part in between");
}

#[test]
fn numbered_channels_of_one_length_are_channels() {
    let scratch = Scratch::new();
    for name in ["Tom 1", "Tom 2", "Vox 1", "Vox 2"] {
        scratch.wave(&format!("{name}.wav"), 1, 4_800);
    }
    assert_eq!(parts(&scratch.session()), [1, 1, 1, 1], "equally long: side by side");
    // One name alone tells nothing: two microphones of which one was muted later.
    let scratch = Scratch::new();
    scratch.wave("Tom 1.wav", 1, 4_800).wave("Tom 2.wav", 1, 2_400).wave("Vox.wav", 1, 4_800);
    assert_eq!(parts(&scratch.session()), [1, 1, 1], "no company");
}

#[test]
fn parts_that_meet_by_time_stamp_are_joined_whatever_their_names() {
    let scratch = Scratch::new();
    scratch.spec("R_20310506-193000.wav", stamped(2, 70_200), 96_000);
    scratch.spec("R_20310506-193002.wav", stamped(2, 70_202), 48_000);
    let session = scratch.session();
    assert_eq!(parts(&session), [2], "the second starts where the first ends");
    assert!(session.warnings.is_empty(), "surely: {:?}", session.warnings);
}

#[test]
fn parts_meet_across_midnight() {
    let scratch = Scratch::new();
    scratch.spec("a_1.wav", stamped(4, 86_398), 96_000).spec("a_2.wav", stamped(4, 0), 48_000);
    assert_eq!(parts(&scratch.session()), [2], "a day has 86 400 s");
}

#[test]
fn files_with_one_start_are_never_joined() {
    let scratch = Scratch::new();
    scratch.spec("desk_1.wav", stamped(8, 70_200), 480).spec("desk_2.wav", stamped(8, 70_200), 960);
    assert_eq!(parts(&scratch.session()), [1, 1], "two recorders side by side");
}

#[test]
fn equally_long_files_of_many_channels_ran_side_by_side() {
    let scratch = Scratch::new();
    scratch.wave("desk_1.wav", 8, 480).wave("desk_2.wav", 8, 480);
    let session = scratch.session();
    assert_eq!(parts(&session), [1, 1], "stopped together");
    assert_eq!(session.channels.len(), 16, "16 channels");
    assert_eq!(numbers(&session), (1..=16).collect::<Vec<_>>(), "each has a number");
}

#[test]
fn files_split_by_the_clock_are_joined() {
    let scratch = Scratch::new();
    scratch.wave("t_1.wav", 8, 4800).wave("t_2.wav", 8, 4800).wave("t_3.wav", 8, 1000);
    let session = scratch.session();
    assert_eq!(parts(&session), [3], "equal, equal, rest");
}

#[test]
fn takes_of_a_recorder_that_was_stopped_are_joined_with_a_warning() {
    let scratch = Scratch::new();
    scratch.wave("take_1.wav", 8, 480).wave("take_2.wav", 8, 960);
    let session = scratch.session();
    assert_eq!(parts(&session), [2], "one recorder");
    assert!(warned(&session, "how long the recorder paused"), "{:?}", session.warnings);

    let scratch = Scratch::new();
    scratch.spec("t_1.wav", stamped(8, 100), 48_000).spec("t_2.wav", stamped(8, 161), 48_000);
    let session = scratch.session();
    assert_eq!(parts(&session), [2], "one recorder");
    assert!(warned(&session, "paused for 60 s"), "{:?}", session.warnings);
}

#[test]
fn track_names_inside_a_file_are_channel_names() {
    let scratch = Scratch::new();
    let spec = WaveSpec {
        track_names: ["Kik", "Sn Top", "", "LV"].map(str::to_owned).to_vec(),
        ..WaveSpec::new(48_000, 4, SampleFormat::Int24)
    };
    scratch.spec("show.wav", spec, 480);
    assert_eq!(names(&scratch.session()), ["Kik", "Sn Top", "CH03", "LV"], "from the file");
}

#[test]
fn a_range_in_a_file_name_numbers_its_channels() {
    let scratch = Scratch::new();
    scratch.wave("tracks 17-32.wav", 16, 480);
    assert_eq!(numbers(&scratch.session()), (17..=32).collect::<Vec<_>>(), "17 to 32");
}

#[test]
fn a_stereo_file_is_a_pair() {
    let scratch = Scratch::new();
    scratch.wave("13-14 Keys.wav", 2, 480).wave("01 Kik.wav", 1, 480);
    let session = scratch.session();
    assert_eq!(names(&session)[0], "Kik", "mono");
    let [left, right] = &session.channels[1..] else { panic!("two channels more") };
    assert_eq!((left.side, right.side), (Some(Side::Left), Some(Side::Right)), "sides");
    assert_eq!((left.partner, right.partner), (Some(2), Some(1)), "partners");
    assert_eq!((left.number, right.number), (13, 14), "numbers");
    assert_eq!(left.role, Role::Keys, "role");
}

#[test]
fn a_session_name_before_each_channel_is_no_role() {
    let scratch = Scratch::new();
    for name in ["Kik", "Bass", "Gtr", "LV"] {
        scratch.wave(&format!("Choir night - {name}.wav"), 1, 480);
    }
    let session = scratch.session();
    let mut found = names(&session);
    found.sort_unstable();
    assert_eq!(found, ["Bass", "Gtr", "Kik", "LV"], "the shared beginning is cut off");
}

#[test]
fn mono_copies_of_a_many_channel_file_are_noticed() {
    let scratch = Scratch::new();
    scratch.wave("all.wav", 3, 480);
    for name in ["mono/1 Kik.wav", "mono/2 Bass.wav", "mono/3 LV.wav"] {
        scratch.wave(name, 1, 480);
    }
    let session = scratch.session();
    assert_eq!(names(&session), ["Kik", "Bass", "LV"], "the named ones stay");
    assert!(
        warned(&session, "`all.wav` is left out: as many mono files"),
        "{:?}",
        session.warnings
    );
}

#[test]
fn time_stamps_align_takes() {
    let scratch = Scratch::new();
    scratch.spec("LV.wav", stamped(1, 70_200), 480_000);
    scratch.spec("Room.wav", stamped(1, 70_203), 240_000);
    let session = scratch.session();
    let starts_s: Vec<f64> = session.channels.iter().map(|channel| channel.start_s).collect();
    // Whole seconds in samples at 48 kHz are exact.
    assert!((starts_s[0] - 0.0).abs() < 1e-9 && (starts_s[1] - 3.0).abs() < 1e-9, "{starts_s:?}");
    assert_eq!(session.date.as_deref(), Some("2031-05-06"), "the date in the file");
}

#[test]
fn a_stamp_of_another_hour_is_not_believed() {
    let scratch = Scratch::new();
    scratch.spec("LV.wav", stamped(1, 70_200), 48_000);
    scratch.spec("Room.wav", stamped(1, 77_000), 48_000);
    let session = scratch.session();
    assert!(session.takes.iter().all(|take| take.start_s.abs() < 1e-9), "both at the start");
    assert!(warned(&session, "stamped 6800 s later"), "{:?}", session.warnings);
}

#[test]
fn the_clock_of_a_recorder_of_its_own_is_not_trusted() {
    let scratch = Scratch::new();
    scratch.spec("LV.wav", stamped(1, 70_200), 480_000);
    scratch.spec("Room.wav", stamped(1, 70_203), 240_000);
    scratch.text("session.toml", "[[channel]]\nfile = \"Room.wav\"\nown_clock = true");
    let session = scratch.session();
    assert!(session.takes.iter().all(|take| take.start_s.abs() < 1e-9), "no shift by stamp");
}

#[test]
fn most_channels_decide_the_rate_and_48_khz_a_tie() {
    let rates = |files: &[(&str, u32, u16)]| {
        let scratch = Scratch::new();
        for &(name, rate_hz, n_channels) in files {
            scratch.spec(name, WaveSpec::new(rate_hz, n_channels, SampleFormat::Int24), 480);
        }
        let session = scratch.session();
        (session.rate_hz, session.mixed_rates)
    };
    assert_eq!(rates(&[("a.wav", 44_100, 8), ("b.wav", 48_000, 1)]), (44_100, true), "most");
    assert_eq!(rates(&[("a.wav", 44_100, 1), ("b.wav", 48_000, 1)]), (48_000, true), "tie");
    assert_eq!(rates(&[("a.wav", 96_000, 1), ("b.wav", 48_000, 1)]), (48_000, true), "tie");
    assert_eq!(rates(&[("a.wav", 44_100, 1)]), (44_100, false), "alone");
}

#[test]
fn a_file_at_another_clock_is_noticed() {
    // 10 s recorded at 44.1 kHz, headed as 48 kHz, last 9.1875 s.
    let scratch = Scratch::new();
    scratch.wave("a.wav", 1, 480_000).wave("b.wav", 1, 480_000).wave("c.wav", 1, 441_000);
    let session = scratch.session();
    let ratio = session.clock_ratio.expect("it is noticed");
    assert!((ratio - 44_100.0 / 48_000.0).abs() < 1e-9, "44.1 over 48, found {ratio}");
    assert!(warned(&session, "`c.wav` lasts 0.919 times"), "{:?}", session.warnings);

    let scratch = Scratch::new();
    scratch.wave("a.wav", 1, 480_000).wave("b.wav", 1, 460_000);
    assert_eq!(scratch.session().clock_ratio, None, "stopped by hand");
}

#[test]
fn a_broken_file_is_a_warning_and_the_rest_goes_on() {
    let scratch = Scratch::new();
    scratch.wave("LV.wav", 1, 480).text("Kik.wav", "this is no sound");
    let session = scratch.session();
    assert_eq!(names(&session), ["LV"], "the other one");
    assert!(warned(&session, "`Kik.wav` is left out"), "{:?}", session.warnings);
    let folder = scratch.path().to_string_lossy().into_owned();
    assert!(!warned(&session, &folder), "no path of the machine: {:?}", session.warnings);
}

#[test]
fn a_folder_without_sound_is_an_error() {
    let empty = Scratch::new();
    let sentence = empty.open().expect_err("nothing to review").sentence();
    assert!(sentence.contains("no sound file was found"), "{sentence}");
    let broken = Scratch::new();
    broken.text("a.wav", "this is no sound");
    let sentence = broken.open().expect_err("nothing to review").sentence();
    assert!(sentence.contains("none of its 1 sound files can be used; `a.wav`"), "{sentence}");
    let missing = Session::open(&empty.path().join("nowhere"), TrustHeader::No);
    assert!(missing.expect_err("no folder").sentence().contains("cannot look into"), "no folder");
}

#[test]
fn hidden_files_reviews_and_deep_folders_are_left_out() {
    let scratch = Scratch::new();
    scratch.wave("a/b/LV.wav", 1, 480);
    scratch.wave("a/b/c/Kik.wav", 1, 480).wave(".trash/Bass.wav", 1, 480);
    scratch.wave("._Tpt.wav", 1, 480).wave("Tuesday-review/excerpt.wav", 1, 480);
    assert_eq!(names(&scratch.session()), ["LV"], "two levels down and no more");
}

#[cfg(unix)]
#[test]
fn a_link_in_a_circle_ends() {
    let scratch = Scratch::new();
    scratch.wave("a/LV.wav", 1, 480);
    std::os::unix::fs::symlink(scratch.path(), scratch.path().join("a/again")).expect("a link");
    std::os::unix::fs::symlink("nowhere.wav", scratch.path().join("a/lost.wav")).expect("a link");
    assert_eq!(names(&scratch.session()), ["LV"], "each folder once, dead links never");
}

#[cfg(unix)]
#[test]
fn a_name_that_is_no_utf_8_survives() {
    use std::os::unix::ffi::OsStrExt;
    let scratch = Scratch::new();
    scratch.wave("x.wav", 1, 480);
    let odd = std::ffi::OsStr::from_bytes(b"Fl\xfcgel L.wav");
    fs::rename(scratch.path().join("x.wav"), scratch.path().join(odd)).expect("renamed");
    let session = scratch.session();
    assert_eq!(session.takes[0].parts[0].file_name(), Some(odd), "the path is kept as it is");
    assert_eq!(session.channels[0].name, "Fl\u{fffd}gel L", "the name shows the odd letter");
}

#[test]
fn the_note_has_the_last_word() {
    let scratch = Scratch::new();
    scratch.wave("desk.wav", 4, 480).wave("Keys.wav", 2, 480).wave("tone.wav", 1, 480);
    scratch.text(
        "session.toml",
        "name = \"Tuesday\"\n\
         [[channel]]\nfile = \"desk.wav\"\nindex = 1\nname = \"LV\"\nrole = \"lead vocal\"\n\
         [[channel]]\nfile = \"desk.wav\"\nindex = 2\nname = \"LV comp\"\nprocessed_of = \"LV\"\n\
         [[channel]]\nfile = \"desk.wav\"\nindex = 3\nskip = true\n\
         [[channel]]\nfile = \"desk.wav\"\nindex = 4\nname = \"Hall\"\nrole = \"room\"\n\
         calibration = { file = \"tone.wav\", level_db_spl = 94 }\n\
         [[channel]]\nfile = \"Keys.wav\"\nname = \"Piano\"\nline = false\n\
         [[channel]]\nfile = \"gone.wav\"\nrole = \"bass\"\n",
    );
    let session = scratch.session();
    assert_eq!(session.name, "Tuesday", "name");
    assert_eq!(names(&session), ["LV", "LV comp", "Hall", "Piano L", "Piano R"], "names");
    let [lead, comp, hall, left, _] = &session.channels[..] else { panic!("five channels") };
    assert_eq!((lead.role, lead.role_source), (Role::LeadVocal, RoleSource::Stated), "stated");
    assert_eq!((comp.raw, comp.tap), (Some(0), Tap::Processed), "raw and processed");
    assert_eq!((hall.role, hall.tap), (Role::Room, Tap::Room), "room");
    assert!(!left.is_line, "a stated microphone");
    assert!(
        warned(&session, "`gone.wav`, which is not among the recordings"),
        "{:?}",
        session.warnings
    );
}

#[test]
fn an_unclear_note_is_a_warning() {
    let scratch = Scratch::new();
    scratch.wave("desk.wav", 4, 480);
    scratch
        .text("session.toml", "[[channel]]\nfile = \"desk.wav\"\nrole = \"bass\"\npartner = \"x\"");
    let session = scratch.session();
    assert!(warned(&session, "add its `index`, 1 to 4"), "{:?}", session.warnings);
}

#[test]
fn processed_taps_are_found_by_name() {
    let scratch = Scratch::new();
    scratch.wave("01 LV.wav", 1, 480).wave("02 LV proc.wav", 1, 480);
    let session = scratch.session();
    assert_eq!(session.channels[1].raw, Some(0), "of the same input");
    assert_eq!(session.channels[1].tap, Tap::Processed, "processed");
}

#[test]
fn sixty_four_channels_have_lawful_places() {
    let scratch = Scratch::new();
    scratch.wave("desk.wav", 32, 480).wave("stage.wav", 30, 480).wave("Main.wav", 2, 480);
    let session = scratch.session();
    assert_eq!(session.channels.len(), 64, "all of them");
    let mut ids: Vec<_> = session.channels.iter().map(|channel| &channel.id).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), 64, "every id once");
    for channel in &session.channels {
        let take = &session.takes[channel.take_idx];
        assert!(channel.plane_idx < take.n_channels, "{} lies in its take", channel.id);
        assert_eq!((channel.rate_hz, channel.n_frames), (take.rate_hz, take.n_frames), "facts");
        if let Some(partner) = channel.partner {
            let id = session.channels[partner].partner.map(|back| &session.channels[back].id);
            assert_eq!(id, Some(&channel.id), "partners are mutual");
        }
    }
}
