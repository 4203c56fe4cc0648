//! How well a review tells what microphones share, and what the operator did: every scene of the corpus with truth, rendered, reviewed
//! and scored, then mixed by desks that are drawn by seed, reviewed and scored again, all beside the naive ways. Writes the tables of
//! docs/accuracy.md.
//!
//! `cargo bench --profile dev --bench accuracy` takes some minutes. `-- NAME ...` scores only these scenes and writes nothing;
//! `-- --keep FOLDER` renders there and uses again what is there already.

#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a benchmark prints its figures and stops where it can't go on"
)]

mod document;
#[path = "../accuracy/score/mod.rs"]
mod score;
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
const MIXED: (&str, &str) = ("<!-- mixed -->\n", "<!-- /mixed -->");

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| word != "--bench").collect();
    let keep_at = words.iter().position(|word| word == "--keep");
    let kept = keep_at.and_then(|at| words.get(at + 1)).map(PathBuf::from);
    let is_name =
        |(at, _): &(usize, &String)| keep_at.is_none_or(|keep| *at != keep && *at != keep + 1);
    let names: Vec<&String> =
        words.iter().enumerate().filter(is_name).map(|(_, word)| word).collect();
    let scratch = tempfile::tempdir().unwrap();
    let folder = kept.as_deref().unwrap_or(scratch.path());
    let (mut scores, mut mixes) = (Vec::new(), Vec::new());
    for (number, scene) in scenes().iter().enumerate() {
        if !names.is_empty() && !names.iter().any(|name| **name == scene.name) {
            continue;
        }
        let stage = folder.join(&scene.name);
        scores.push(scored(scene, &stage));
        for (idx, kind) in Kind::ALL.into_iter().enumerate() {
            mixes.push(row(&stage, kind, (2 * number + idx) as u64 + 1));
        }
    }
    let tables = [(SHARED, table::tables(&scores)), (MIXED, mix::table::tables(&mixes))];
    for (marks, tables) in tables {
        println!("{tables}");
        if names.is_empty() {
            document::put("accuracy.md", marks, &tables);
        }
    }
}

/// The scenes of the corpus that tell what things give alone, by name.
fn scenes() -> Vec<Scene> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/scenes");
    let mut paths: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let scenes = paths.iter().map(|path| Scene::parse(&fs::read_to_string(path).unwrap()).unwrap());
    scenes.filter(|scene| scene.alone_told).collect()
}

fn scored(scene: &Scene, folder: &Path) -> table::Scene {
    let begin = Instant::now();
    if !folder.join("truth.json").exists() {
        render_scene(scene, folder, &mut |_| {}).unwrap();
    }
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
