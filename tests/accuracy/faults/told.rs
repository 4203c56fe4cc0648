//! What the program tells of a stage: the whole way, from files to findings.
//!
//! Takes files, gives a reading and whether a rule finds a channel off target. Never scores.

use deskside::audio::TrustHeader;
use deskside::coach::{Aims, Options, Outcome, coach};
use deskside::reading::{Channel, Reading};
use deskside::run;
use deskside::session::Session;

use super::band::RATE_HZ;
use super::wave;

/// A file: its name without the ending, and its samples.
pub(crate) type File<'a> = (&'a str, Vec<f32>);

/// What is read of some files.
pub(crate) fn read(files: &[File<'_>]) -> Reading {
    let folder = tempfile::tempdir().unwrap();
    for (name, plane) in files {
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), RATE_HZ, &[plane]);
    }
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    run::read(&session, TrustHeader::No, &|_| {}).unwrap()
}

/// The channel of a file.
pub(crate) fn channel<'a>(reading: &'a Reading, file: &str) -> &'a Channel {
    let named = |channel: &&Channel| file.ends_with(&channel.name);
    reading.channels.iter().find(named).unwrap()
}

/// Whether a rule finds the channel of a file off target.
pub(crate) fn is_found(reading: &Reading, rule: &str, file: &str) -> bool {
    let id = &channel(reading, file).id;
    let advice = coach(reading, &Aims::default(), &Options::default());
    advice.judgements.iter().any(|judgement| {
        judgement.rule.id == rule
            && judgement.channels.contains(id)
            && matches!(judgement.outcome, Outcome::Near | Outcome::Outside)
    })
}
