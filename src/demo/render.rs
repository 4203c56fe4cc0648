//! Renders an evening to a folder: recordings, `session.toml` and `truth.json`.
//!
//! Takes a scene and a folder, gives files. Never writes outside the folder.

use std::{fs, path::Path};

use crate::{
    demo::{
        field::PIECE, note::session_toml, record::Recorder, scene::Scene, take::Take, truth::Truth,
    },
    error::{Error, system},
};

/// Share of the work that the dry sounds take, about.
const STEMS_SHARE: f64 = 0.2;

/// Which evening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// The short one: 90 seconds.
    Cut,
    /// The whole one: 8 minutes 20 seconds, some 2 GB.
    Full,
}

/// Renders a built-in evening to a folder, which is made if need be; `progress` hears shares of the work from 0 to 1.
///
/// # Errors
///
/// If the system doesn't let the folder or a file be written.
pub fn render(which: Which, folder: &Path, progress: &mut dyn FnMut(f64)) -> Result<(), Error> {
    let scene = match which {
        Which::Cut => Scene::cut(),
        Which::Full => Scene::full(),
    };
    render_scene(&scene, folder, progress)
}

/// Renders any scene; like [`render`].
///
/// # Errors
///
/// If the system doesn't let the folder or a file be written.
pub fn render_scene(
    scene: &Scene,
    folder: &Path,
    progress: &mut dyn FnMut(f64),
) -> Result<(), Error> {
    fs::create_dir_all(folder).map_err(|error| refused(folder, &error))?;
    progress(0.0);
    let mut take = Take::new(scene);
    let mut recorder = Recorder::create(scene, folder)?;
    let n_pieces = scene.length_samples().div_ceil(PIECE).max(1);
    let mut n_done = 0_usize;
    progress(STEMS_SHARE);
    while let Some(piece) = take.next_piece() {
        recorder.write(&piece)?;
        n_done += 1;
        progress(STEMS_SHARE + (1.0 - STEMS_SHARE) * n_done as f64 / n_pieces as f64);
    }
    recorder.finish()?;
    save(folder, "session.toml", &session_toml(scene))?;
    let path = folder.join("truth.json");
    let truth = serde_json::to_string_pretty(&Truth::from_take(scene, &take));
    let truth = truth.map_err(|error| refused(&path, &error.into()))?;
    save(folder, "truth.json", &(truth + "\n"))
}

fn save(folder: &Path, name: &str, text: &str) -> Result<(), Error> {
    let path = folder.join(name);
    fs::write(&path, text).map_err(|error| refused(&path, &error))
}

fn refused(path: &Path, error: &std::io::Error) -> Error {
    Error::new("cannot write", path, system(error), "choose a folder with room and write access")
}
