//! Passages of the main mix as files beside a review.
//!
//! Takes the notes, writes WAV files into the folder `excerpts` and names them in the notes. Clears away only what an earlier review
//! wrote there.

use std::fs;
use std::path::Path;

use crate::audio::{SampleFormat, TrustHeader, WaveSpec, WaveWriter};
use crate::coach::{Advice, Excerpt, Note, audition};
use crate::error::Error;
use crate::reading::Reading;
use crate::run;
use crate::session::Session;

/// Folder of the passages, below that of the review.
pub(super) const FOLDER: &str = "excerpts";

/// Ends of their names.
const AS_IT_WAS: &str = "-as-it-was.wav";
const CHANGED: &str = "-changed.wav";

/// Notes beside the trainee's that get passages, at most.
const MOST_FURTHER: usize = 5;

/// Writes the passages of all notes that have one.
pub(super) fn write(
    session: &Session,
    reading: &Reading,
    trust: TrustHeader,
    advice: &mut Advice,
    out: &Path,
    progress: &dyn Fn(f64),
) -> Result<(), Error> {
    let folder = out.join(FOLDER);
    clear(&folder);
    let further = advice
        .mentor
        .iter_mut()
        .filter(|note| audition(note, reading).is_some_and(|one| one.change.is_some()))
        .take(MOST_FURTHER);
    let mut notes: Vec<&mut Note> = advice.notes.iter_mut().chain(further).collect();
    let n_notes = notes.len().max(1);
    for (idx, note) in notes.iter_mut().enumerate() {
        let Some(wanted) = audition(note, reading) else { continue };
        let Some(found) = run::excerpt(session, reading, trust, &wanted) else { continue };
        let stem = format!("{:02}-{}", idx + 1, note.rule.id);
        let was = format!("{stem}{AS_IT_WAS}");
        write_one(&folder, &was, &found.as_it_was, found.rate_hz)?;
        note.excerpts.push(Excerpt {
            file: format!("{FOLDER}/{was}"),
            span: wanted.span,
            change: None,
        });
        if let (Some(sides), Some((_, _, words))) = (&found.changed, wanted.change) {
            let changed = format!("{stem}{CHANGED}");
            write_one(&folder, &changed, sides, found.rate_hz)?;
            note.excerpts.push(Excerpt {
                file: format!("{FOLDER}/{changed}"),
                span: wanted.span,
                change: Some(words),
            });
        }
        #[expect(clippy::cast_precision_loss, reason = "notes are few")]
        progress((idx + 1) as f64 / n_notes as f64);
    }
    Ok(())
}

fn write_one(folder: &Path, name: &str, sides: &[Vec<f32>; 2], rate_hz: u32) -> Result<(), Error> {
    fs::create_dir_all(folder).map_err(|source| {
        Error::new("cannot write", folder, source.to_string(), "choose another folder with --out")
    })?;
    let spec = WaveSpec::new(rate_hz, 2, SampleFormat::Int24);
    let mut writer = WaveWriter::create(&folder.join(name), spec)?;
    writer.write(&[&sides[0], &sides[1]])?;
    writer.finish()
}

/// Removes what an earlier review wrote. What can't be removed is written over or stays.
fn clear(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let is_ours =
            name.to_str().is_some_and(|name| name.ends_with(AS_IT_WAS) || name.ends_with(CHANGED));
        if is_ours {
            let _ = fs::remove_file(entry.path());
        }
    }
    // Only an empty folder goes.
    let _ = fs::remove_dir(folder);
}
