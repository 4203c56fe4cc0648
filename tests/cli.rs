//! The program from outside: good folders, hostile folders, exit codes, and what lands on disk.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use crate::support::{golden, wave};

const RATE_HZ: u32 = 48_000;

/// A plain sine, for folders that only have to be readable.
fn sine(freq_hz: f64, amplitude: f64, seconds: f64) -> Vec<f32> {
    let n_samples = (seconds * f64::from(RATE_HZ)) as usize;
    (0..n_samples)
        .map(|n| {
            let phase = std::f64::consts::TAU * freq_hz * n as f64 / f64::from(RATE_HZ);
            (amplitude * phase.sin()) as f32
        })
        .collect()
}

fn run(arguments: &[&str], dir: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_deskside")).args(arguments).current_dir(dir).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Asserts that a run stops with status 1 and one sentence that holds all of `words`.
fn refuses(output: &Output, words: &[&str]) {
    let message = text(&output.stderr);
    assert_eq!(
        output.status.code(),
        Some(1),
        "status of a run that can't go on; it said: {message}"
    );
    let errors: Vec<&str> = message.lines().filter(|line| line.starts_with("error: ")).collect();
    assert_eq!(errors.len(), 1, "one sentence says what is wrong, found: {message}");
    for word in words {
        assert!(errors[0].contains(word), "`{word}` is named in: {}", errors[0]);
    }
    assert!(!message.contains("panicked"), "no panic: {message}");
}

fn good_files(dir: &Path, n_files: usize) {
    for number in 1..=n_files {
        let plane = sine(100.0 + 37.0 * number as f64, 0.1, 1.5);
        wave::write_pcm24(&dir.join(format!("{number:02} Vox {number}.wav")), RATE_HZ, &[&plane]);
    }
}

fn review_json(dir: &Path) -> serde_json::Value {
    serde_json::from_slice(&fs::read(dir.join("review.json")).unwrap()).unwrap()
}

#[test]
fn the_demo_prints_what_the_readme_shows() {
    let dir = tempfile::tempdir().unwrap();
    let output = run(&["demo"], dir.path());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    golden::compare("corpus/demo/expected-cut.txt", &text(&output.stdout));
}

#[test]
fn an_empty_folder_is_refused_with_what_to_do() {
    let dir = tempfile::tempdir().unwrap();
    fs::create_dir(dir.path().join("night")).unwrap();
    refuses(&run(&["review", "night"], dir.path()), &["night", "no sound file"]);
    assert!(!dir.path().join("night-review").exists(), "nothing is written for a refused session");
}

#[test]
fn a_folder_without_audio_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    fs::create_dir(dir.path().join("night")).unwrap();
    fs::write(dir.path().join("night/setlist.txt"), "one song").unwrap();
    refuses(&run(&["review", "night"], dir.path()), &["night", "no sound file"]);
}

#[test]
fn a_missing_folder_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    refuses(&run(&["review", "nowhere"], dir.path()), &["nowhere"]);
}

#[test]
fn a_folder_of_unreadable_files_is_refused_and_every_file_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    fs::write(night.join("notes.wav"), "this is not audio at all, only words").unwrap();
    fs::write(night.join("empty.wav"), "").unwrap();
    let output = run(&["review", "night"], dir.path());
    refuses(&output, &["night"]);
    let message = text(&output.stderr);
    assert!(message.contains("notes.wav"), "the text file is named: {message}");
    assert!(message.contains("empty.wav"), "the empty file is named: {message}");
}

#[test]
fn the_spill_table_is_printed_on_request() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 2);
    const TITLE: &str = "What each microphone hears of the others";
    for format in ["table", "markdown"] {
        let asked = run(&["review", "night", "--spill", "--format", format], dir.path());
        assert!(text(&asked.stdout).contains(TITLE), "{format}: {}", text(&asked.stderr));
        let plain = run(&["review", "night", "--format", format], dir.path());
        assert!(!text(&plain.stdout).contains(TITLE), "{format}: not asked for");
    }
}

#[test]
fn one_unreadable_file_among_31_good_ones_is_named_and_the_rest_is_reviewed() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 31);
    fs::write(night.join("32 Choir.wav"), "RIFF but no more").unwrap();
    let output = run(&["review", "night"], dir.path());
    let message = text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "31 good files make a review: {message}");
    assert!(message.contains("32 Choir.wav"), "the unreadable file is named: {message}");
    let review = review_json(&dir.path().join("night-review"));
    assert_eq!(review["channels"].as_array().unwrap().len(), 31, "channels reviewed");
    let warnings = review["warnings"].to_string();
    assert!(warnings.contains("32 Choir.wav"), "the warning stands in the review: {warnings}");
}

#[test]
fn a_file_cut_off_by_a_power_loss_is_read_as_far_as_it_goes() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 2);
    let mut bytes = wave::pcm24(RATE_HZ, &[&sine(220.0, 0.1, 2.0)]);
    bytes.truncate(44 + 3 * 48_000 + 1);
    fs::write(night.join("03 Bass.wav"), bytes).unwrap();
    let output = run(&["review", "night", "--format", "json"], dir.path());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let review: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let bass = &review["channels"][2];
    assert_eq!(bass["name"], "Bass", "third channel");
    let duration_s = bass["duration_s"].as_f64().unwrap();
    assert!((duration_s - 1.0).abs() < 1e-6, "one second is left, found {duration_s} s");
    assert!(review["warnings"].to_string().contains("03 Bass.wav"), "the repair is reported");
}

#[test]
fn unknown_keys_in_session_toml_are_refused_with_the_key() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 1);
    fs::write(night.join("session.toml"), "name = \"Night\"\noperater = \"wren\"\n").unwrap();
    refuses(&run(&["review", "night"], dir.path()), &["session.toml", "operater"]);
}

#[cfg(unix)]
#[test]
fn a_folder_without_read_permission_is_refused() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;

    let dir = tempfile::tempdir().unwrap();
    fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o755)).unwrap();
    let program = dir.path().join("deskside");
    fs::copy(env!("CARGO_BIN_EXE_deskside"), &program).unwrap();
    fs::set_permissions(&program, fs::Permissions::from_mode(0o755)).unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 1);
    fs::set_permissions(&night, fs::Permissions::from_mode(0o000)).unwrap();
    let mut command = Command::new(&program);
    command.args(["review", "night"]).current_dir(dir.path());
    // Permissions do not bind the superuser: drop to a user without rights.
    if fs::read_dir(&night).is_ok() {
        command.uid(65_534).gid(65_534);
    }
    let output = command.output().unwrap();
    fs::set_permissions(&night, fs::Permissions::from_mode(0o755)).unwrap();
    refuses(&output, &["night", "ermission"]);
}

#[test]
fn wrong_usage_exits_with_2() {
    let dir = tempfile::tempdir().unwrap();
    for arguments in [&["review"][..], &["polish"], &["review", ".", "--notes", "0"]] {
        let status = run(arguments, dir.path()).status.code();
        assert_eq!(status, Some(2), "status of wrong usage {arguments:?}");
    }
}

#[test]
fn the_same_recordings_give_the_same_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 9);
    let mut reviews = Vec::new();
    for (out, jobs) in [("a", "1"), ("b", "2")] {
        let output = run(&["review", "night", "--out", out, "--jobs", jobs], dir.path());
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        reviews.push((fs::read(dir.path().join(out).join("review.json")).unwrap(), output.stdout));
    }
    assert_eq!(reviews[0].0, reviews[1].0, "review.json with one and with two threads");
}

#[test]
fn a_pipe_gets_no_colour_codes_and_no_progress() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 2);
    let output = run(&["review", "night"], dir.path());
    assert!(!output.stdout.contains(&0x1b), "no escape codes in a pipe");
    assert!(!output.stderr.contains(&0x1b), "no escape codes on a piped standard error");
}

#[test]
fn the_recordings_are_left_as_they_were() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 2);
    let before = fs::read(night.join("01 Vox 1.wav")).unwrap();
    assert_eq!(run(&["review", "night"], dir.path()).status.code(), Some(0));
    assert_eq!(fs::read(night.join("01 Vox 1.wav")).unwrap(), before, "the recording's bytes");
    let n_entries = fs::read_dir(&night).unwrap().count();
    assert_eq!(n_entries, 2, "nothing is added to the folder of recordings");
}

#[test]
fn a_review_that_cannot_be_written_leaves_nothing_behind() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 1);
    fs::write(dir.path().join("occupied"), "a file, not a folder").unwrap();
    refuses(&run(&["review", "night", "--out", "occupied"], dir.path()), &["occupied"]);
    assert_eq!(fs::read_to_string(dir.path().join("occupied")).unwrap(), "a file, not a folder");
}

#[test]
fn channels_write_gives_a_session_toml_that_reads_back_and_is_never_overwritten() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    good_files(&night, 3);
    assert_eq!(run(&["channels", "night", "--write"], dir.path()).status.code(), Some(0));
    assert!(night.join("session.toml").exists(), "a first session.toml is written");
    let output = run(&["channels", "night"], dir.path());
    assert_eq!(output.status.code(), Some(0), "it reads back: {}", text(&output.stderr));
    refuses(&run(&["channels", "night", "--write"], dir.path()), &["session.toml", "exists"]);
}

#[test]
fn several_folders_review_several_sessions_and_failures_do_not_stop_the_rest() {
    let dir = tempfile::tempdir().unwrap();
    for night in ["a", "c"] {
        fs::create_dir(dir.path().join(night)).unwrap();
        good_files(&dir.path().join(night), 1);
    }
    fs::create_dir(dir.path().join("b")).unwrap();
    let output = run(&["review", "a", "b", "c"], dir.path());
    assert_eq!(output.status.code(), Some(1), "one of three failed");
    for night in ["a-review", "c-review"] {
        assert!(dir.path().join(night).join("review.json").exists(), "{night} is there");
    }
}

#[test]
fn the_example_of_a_targets_file_is_one() {
    let dir = tempfile::tempdir().unwrap();
    let help = text(&run(&["targets", "check", "--help"], dir.path()).stdout);
    let (_, example) = help.split_once("Example:\n").expect("help shows an example");
    fs::write(dir.path().join("team.toml"), example).unwrap();
    let output = run(&["targets", "check", "team.toml"], dir.path());
    let told = text(&output.stdout);
    assert!(output.status.success(), "{}", text(&output.stderr));
    for word in ["bass-uneven", "gain-too-low", "-26", "drums-loud"] {
        assert!(told.contains(word), "`{word}` in: {told}");
    }
}

/// A kick that is cut off, long enough to be judged.
fn hot_file(dir: &Path) {
    let kick: Vec<f32> =
        sine(220.0, 1.3, 22.0).iter().map(|sample| sample.clamp(-0.999, 0.999)).collect();
    wave::write_pcm24(&dir.join("01 Kick.wav"), RATE_HZ, &[&kick]);
}

/// Ids of the rules of the notes of a review.
fn noted(review: &serde_json::Value) -> Vec<&str> {
    review["notes"].as_array().unwrap().iter().map(|note| note["rule"].as_str().unwrap()).collect()
}

#[test]
fn what_is_marked_on_purpose_is_not_shown_in_the_next_review() {
    let dir = tempfile::tempdir().unwrap();
    let night = dir.path().join("night");
    fs::create_dir(&night).unwrap();
    hot_file(&night);
    let output = run(&["review", "night"], dir.path());
    let printed = text(&output.stdout);
    let page = Path::new("night-review").join("review.html");
    assert_eq!(printed.lines().last().map(str::trim), page.to_str(), "the page is named last");
    let html = fs::read_to_string(dir.path().join(page)).unwrap();
    assert!(html.starts_with("<!DOCTYPE html>") && html.ends_with("</html>"), "a whole page");
    let out = dir.path().join("night-review");
    assert_eq!(noted(&review_json(&out)), ["clip-input"]);

    refuses(&run(&["mark", "night-review", "mud", "fits"], dir.path()), &["mud", "clip-input"]);
    let stranger = ["mark", "night-review", "clip-input", "fits", "--channel", "LV"];
    refuses(&run(&stranger, dir.path()), &["LV", "Kick"]);
    assert!(!out.join("marks.json").exists(), "a refused mark leaves nothing");
    let mark = ["mark", "night-review", "clip-input", "on-purpose", "--channel", "kick"];
    let marked = run(&mark, dir.path());
    assert_eq!(marked.status.code(), Some(0), "{}", text(&marked.stderr));

    let output = run(&["review", "night"], dir.path());
    let review = review_json(&out);
    assert!(!noted(&review).contains(&"clip-input"), "{}", text(&output.stderr));
    assert_eq!(review["hidden"][0]["rule"], "clip-input", "it is kept and named");
    assert!(text(&output.stdout).contains("not ours: 1 finding"), "{}", text(&output.stdout));
    let marks = out.join("marks.json");
    let marks = marks.to_str().unwrap();
    run(&["review", "night", "--out", "other", "--marks", marks, "--quiet"], dir.path());
    let other = review_json(&dir.path().join("other"));
    assert!(!noted(&other).contains(&"clip-input"), "marks can be taken along");

    fs::write(out.join("marks.json"), "{\"marks\": 3}").unwrap();
    let before = fs::read(out.join("review.json")).unwrap();
    refuses(&run(&["review", "night"], dir.path()), &["marks.json", "page"]);
    assert_eq!(fs::read(out.join("review.json")).unwrap(), before, "the review is left as it was");
}

#[test]
fn a_sheet_is_written_from_a_review_and_two_reviews_are_compared() {
    let dir = tempfile::tempdir().unwrap();
    let (first, second) = (dir.path().join("night"), dir.path().join("night2"));
    fs::create_dir(&first).unwrap();
    hot_file(&first);
    fs::create_dir(&second).unwrap();
    let softer = sine(220.0, 0.1, 22.0);
    wave::write_pcm24(&second.join("01 Kick.wav"), RATE_HZ, &[&softer]);
    run(&["review", "--quiet", "night", "night2"], dir.path());

    let printed =
        text(&run(&["sheet", "night-review", "--words", "Well done."], dir.path()).stdout);
    assert!(
        printed.contains("# Feedback sheet: night") && printed.contains("Well done."),
        "{printed}"
    );
    let done = run(&["sheet", "night-review", "--out", "for/wren.html"], dir.path());
    assert_eq!(done.status.code(), Some(0), "{}", text(&done.stderr));
    let html = fs::read_to_string(dir.path().join("for/wren.html")).unwrap();
    assert!(
        html.starts_with("<!DOCTYPE html>") && !html.contains("<audio"),
        "a page without sound"
    );
    refuses(
        &run(&["sheet", "night-review", "--out", "for/wren.html"], dir.path()),
        &["wren.html", "exists"],
    );
    refuses(
        &run(&["sheet", "night-review", "--out", "wren.pdf"], dir.path()),
        &["wren.pdf", "--format"],
    );
    refuses(&run(&["sheet", "night-review", "--note", "mud"], dir.path()), &["mud", "clip-input"]);
    refuses(&run(&["sheet", "night"], dir.path()), &["review.json"]);
    for part in ["--lead", "--line-check"] {
        let done = run(&["sheet", "night-review", part], dir.path());
        assert_eq!(done.status.code(), Some(0), "{part}: {}", text(&done.stderr));
    }

    // 1.3 of full scale, clipped to 0.999, against 0.1: 20 lg 9.99 = 20.0 dB.
    let done =
        run(&["compare", "night-review", "night2-review", "--page", "change.html"], dir.path());
    let printed = text(&done.stdout);
    assert!(printed.contains("gone") && printed.contains("-20.0 dB"), "{printed}");
    assert_eq!(printed.lines().last(), Some("written: change.html"));
    let json = run(&["compare", "night-review", "night2-review", "--format", "json"], dir.path());
    let found: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    let gone = found["findings"].as_array().unwrap().iter().find(|one| one["rule"] == "clip-input");
    assert_eq!(gone.unwrap()["course"], "gone");
    fs::write(dir.path().join("other.json"), "{\"schema\": \"deskside-review/99\"}").unwrap();
    refuses(&run(&["compare", "night-review", "other.json"], dir.path()), &["deskside-review/99"]);
    refuses(&run(&["compare", "night-review", "night/01 Kick.wav"], dir.path()), &["01 Kick.wav"]);
}
