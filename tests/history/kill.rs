//! A program that is ended at any moment while it writes leaves whole sessions and nothing else.

use std::fmt::Write as _;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread;
use std::time::Instant;

use deskside::report::json::SCHEMA;

use crate::support::signals::Rng;

/// How often the program is ended.
const N_KILLS: usize = 200;
/// How often it is started at most: some are done before their moment comes.
const MOST_STARTS: usize = 1_000;
/// Sessions that it is given each time.
const N_SESSIONS: usize = 4;
/// Judgements of each session.
const N_JUDGED: i64 = 120;

/// A review with so many judgements.
fn review(number: usize) -> String {
    let mut judged = String::new();
    for place in 0..N_JUDGED {
        let comma = if place == 0 { "" } else { "," };
        let _ = write!(
            judged,
            r#"{comma}{{"rule":"cue-late","rule_version":"00000001","channels":["ch01"],"outcome":"near","confidence":0.9,
               "measured":[{{"name":"latest entry","value":0.7,"unit":"s"}}],"n_hits":1,"n_chances":3}}"#
        );
    }
    format!(
        r#"{{"schema":"{SCHEMA}","session":{{"name":"night {number}","date":"2031-05-02","operator":"wren","place":null,
           "style":"song-led","is_rehearsal":true,"is_good":null,"duration_s":5400.0}},
           "channels":[{{"id":"ch01","name":"LV","role":"lead-vocal","tap":"raw"}}],"observations":[{judged}],
           "notes":[{{"rule":"cue-late"}}],"mentor":[],"lead":[]}}"#
    )
}

/// Sessions of a history whose judgements are not all there.
fn n_half(path: &Path) -> i64 {
    let connection = rusqlite::Connection::open(path).unwrap();
    let check: String =
        connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)).unwrap();
    assert_eq!(check, "ok", "the file is whole");
    let count = |query: &str| connection.query_row(query, [], |row| row.get::<_, i64>(0)).unwrap();
    if count("PRAGMA user_version") == 0 {
        // It was ended before there were tables: then there is none of them.
        assert_eq!(count("SELECT COUNT(*) FROM sqlite_schema"), 0, "all tables or none");
        return 0;
    }
    let stray = "SELECT COUNT(*) FROM observation WHERE session NOT IN (SELECT id FROM session)";
    assert_eq!(count(stray), 0, "no judgement without its session");
    count(&format!(
        "SELECT COUNT(*) FROM session s WHERE
           (SELECT COUNT(*) FROM observation o WHERE o.session = s.id) <> {N_JUDGED}
           OR (SELECT COUNT(*) FROM note n WHERE n.session = s.id) <> 1"
    ))
}

#[test]
fn ended_200_times_at_random_moments_it_leaves_whole_sessions() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("history.sqlite");
    let mut files = Vec::new();
    for number in 0..N_SESSIONS {
        let file = dir.path().join(format!("{number}.json"));
        fs::write(&file, review(number)).unwrap();
        files.push(file);
    }
    let start = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_deskside"));
        command.args(["history", "add", "--history"]).arg(&path).args(&files);
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    };
    // Left alone it tells how long it takes on this machine; the file is new, so the tables are made as well.
    let begin = Instant::now();
    assert!(start().wait().unwrap().success(), "left alone it succeeds");
    let mut whole = begin.elapsed();
    let mut rng = Rng::new(8128);
    let mut n_ended = 0;
    for start_number in 0..MOST_STARTS {
        // Now and then from the beginning, else over what is there.
        if start_number % 4 == 0 {
            fs::remove_file(&path).unwrap();
        }
        let mut program = start();
        // Not to wait for something, but to meet it anywhere.
        let waited = whole.mul_f64(rng.even());
        thread::sleep(waited);
        // An end that no program can put off or clean up after.
        program.kill().unwrap();
        let is_ended = program.wait().unwrap().code().is_none();
        // How long it takes swings with what else the machine does: the moments follow it.
        whole = if is_ended { whole.mul_f64(1.05) } else { waited };
        n_ended += usize::from(is_ended);
        assert_eq!(n_half(&path), 0, "half a session after {start_number} starts");
        if n_ended == N_KILLS {
            break;
        }
    }
    assert_eq!(n_ended, N_KILLS, "ended in the middle within {MOST_STARTS} starts");
}
