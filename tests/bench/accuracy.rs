//! How well a review tells what microphones share, and what the operator did: every scene of the corpus with truth, rendered, reviewed
//! and scored, then mixed by desks that are drawn by seed, reviewed and scored again, all beside the naive ways. Writes the tables of
//! docs/accuracy.md.
//!
//! `cargo bench --profile dev --bench accuracy` takes some minutes. `-- NAME ...` scores only these scenes and writes nothing;
//! `-- --keep FOLDER` renders there and uses again what is there already; `-- --shared` leaves the desks and their tables out;
//! `-- --anew N` draws all stages anew by the number N, without desks, and writes what comes out of all of them together; `-- --desks N`
//! mixes by other desks, only scores these, prints what was told beside what is true, and writes nothing: work on the program with numbers from 1000 on.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops where it can't go on"
)]

mod anew;
mod document;
#[path = "../accuracy/score/mod.rs"]
mod score;
#[expect(dead_code, reason = "only its random numbers are drawn")]
#[path = "../support/signals.rs"]
mod signals;
#[expect(dead_code, reason = "its figures of plain tones are for other tests")]
#[path = "../support/squeeze.rs"]
mod squeeze;

mod support {
    pub(crate) use crate::squeeze;
}

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use deskside::audio::TrustHeader;
use deskside::demo::{render_scene, scene::Scene};
use deskside::run;
use deskside::session::Session;

use score::mix::{self, desk::Kind, stage::row};
use score::table;
use score::told::Told;

/// The marks between which the tables stand.
const SHARED: (&str, &str) = ("<!-- shared -->\n", "<!-- /shared -->");
const ANEW: (&str, &str) = ("<!-- anew -->\n", "<!-- /anew -->");
const MIXED: (&str, &str) = ("<!-- mixed -->\n", "<!-- /mixed -->");

/// What is asked for.
#[derive(Default)]
struct Wish {
    names: Vec<String>,
    keep: Option<PathBuf>,
    anew: Option<u64>,
    desks: Option<u64>,
    shared_only: bool,
}

impl Wish {
    fn read() -> Self {
        let mut wish = Self::default();
        let mut words = std::env::args().skip(1).filter(|word| word != "--bench");
        while let Some(word) = words.next() {
            match word.as_str() {
                "--keep" => wish.keep = words.next().map(PathBuf::from),
                "--anew" => wish.anew = Some(words.next().unwrap().parse().unwrap()),
                "--desks" => wish.desks = Some(words.next().unwrap().parse().unwrap()),
                "--shared" => wish.shared_only = true,
                _ => wish.names.push(word),
            }
        }
        wish
    }
}

fn main() {
    let wish = Wish::read();
    let scratch = tempfile::tempdir().unwrap();
    let folder = wish.keep.as_deref().unwrap_or(scratch.path());
    let (mut scores, mut mixes) = (Vec::new(), Vec::new());
    for (number, scene) in scenes(wish.anew).iter().enumerate() {
        if !wish.names.is_empty() && !wish.names.contains(&scene.name) {
            continue;
        }
        let drawn = wish.anew.map_or(String::new(), |number| format!(", drawn anew {number}"));
        let stage = folder.join(format!("{}{drawn}", scene.name));
        if wish.desks.is_none() {
            scores.push(scored(scene, &stage));
        } else {
            rendered(scene, &stage);
        }
        if wish.desks.is_some() || !wish.shared_only && wish.anew.is_none() {
            for (idx, kind) in Kind::ALL.into_iter().enumerate() {
                let seed = wish.desks.unwrap_or(0) + (2 * number + idx) as u64 + 1;
                mixes.push(row(&stage, kind, seed));
                tell(mixes.last());
            }
        }
    }
    if wish.desks.is_some() {
        println!("{}", mix::table::tables(&mixes));
        return;
    }
    let shared = table::tables(&scores);
    let tables = match wish.anew {
        Some(_) => vec![(ANEW, all_only(&shared))],
        None if wish.shared_only => vec![(SHARED, shared)],
        None => vec![(SHARED, shared), (MIXED, mix::table::tables(&mixes))],
    };
    for (marks, tables) in tables {
        println!("{tables}");
        if wish.names.is_empty() {
            document::put("accuracy.md", marks, &tables);
        }
    }
}

/// Prints what was told of a mix beside what is true.
fn tell(row: Option<&mix::table::Row>) {
    let Some(row) = row else { return };
    println!("{}, {}", row.stage, row.kind.word());
    row.review.off.iter().for_each(|line| println!("  {line}"));
}

/// The tables without what is told of single scenes.
fn all_only(tables: &str) -> String {
    let is_header = |line: &str| line.starts_with("| scene") || line.starts_with("| ---");
    let lines = tables
        .lines()
        .filter(|line| is_header(line) || line.starts_with("| all |") || line.trim().is_empty());
    let mut kept: Vec<&str> = lines.collect();
    kept.dedup_by(|a, b| a.is_empty() && b.is_empty());
    kept.join("\n").trim().to_owned()
}

/// The scenes of the corpus that tell what things give alone, by name; drawn anew by a number.
fn scenes(number: Option<u64>) -> Vec<Scene> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/scenes");
    let mut paths: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let scenes = paths.iter().map(|path| {
        let text = fs::read_to_string(path).unwrap();
        Scene::parse(&number.map_or(text.clone(), |number| anew::anew(&text, number))).unwrap()
    });
    scenes.filter(|scene| scene.alone_told).collect()
}

fn rendered(scene: &Scene, folder: &Path) {
    if !folder.join("truth.json").exists() {
        render_scene(scene, folder, &mut |_| {}).unwrap();
    }
}

fn scored(scene: &Scene, folder: &Path) -> table::Scene {
    let begin = Instant::now();
    rendered(scene, folder);
    let rendered_s = begin.elapsed().as_secs_f64();
    let begin = Instant::now();
    let session = Session::open(folder, TrustHeader::No).unwrap();
    let reading = run::read(&session, TrustHeader::No, &|_| {}).unwrap();
    let read_s = begin.elapsed().as_secs_f64();
    println!("{}: rendered in {rendered_s:.1} s, read in {read_s:.1} s", scene.name);
    let score = table::Scene::of(folder, &Told::of(&reading));
    for one in &score.activity[0] {
        println!("  {:<14} F1 {:.3}, share off by {:.3}", one.channel, one.f1, one.share_off);
    }
    score
}
