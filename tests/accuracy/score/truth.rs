//! The truth beside a rendered scene, as far as scores need it.
//!
//! Takes `truth.json`, gives plain data. Never a fact of the review's own.

use std::fs;
use std::path::Path;

use serde::Deserialize;

use super::percentile;

/// Frames this far under the 98th percentile are pauses, in dB.
pub(crate) const ACTIVE_DB: f64 = 25.0;

/// A silent frame, in dBFS: under every sounding one.
pub(crate) const SILENT_DBFS: f64 = -200.0;

/// What is true of a scene.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct Truth {
    /// Name of the scene.
    pub(crate) scene: String,
    /// Its channels.
    pub(crate) channels: Vec<Channel>,
    /// How every channel's own sources reach every other.
    pub(crate) spill: Vec<Row>,
}

/// What is true of a channel.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct Channel {
    pub(crate) name: String,
    pub(crate) role: String,
    pub(crate) file: String,
    pub(crate) own_alone: Option<Alone>,
}

/// What a channel's own sources give in it by themselves.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct Alone {
    pub(crate) thing: String,
    pub(crate) is_mic: bool,
    pub(crate) step_s: f64,
    pub(crate) level_dbfs: Vec<Option<f64>>,
}

/// How a channel's own sources reach another.
#[derive(Clone, Debug, Deserialize)]
pub(crate) struct Row {
    pub(crate) source: String,
    pub(crate) mic: String,
    pub(crate) one_thing: bool,
    pub(crate) bleed_db: Option<f64>,
    pub(crate) delay_s: Option<f64>,
    pub(crate) polarity: Option<f64>,
    pub(crate) is_direct_loudest: bool,
}

impl Alone {
    /// Levels of frames of two steps, one step apart.
    pub(crate) fn frames_dbfs(&self) -> Vec<f64> {
        let power = |db: &Option<f64>| db.map_or(0.0, |db| 10f64.powf(db / 10.0));
        let level =
            |pair: &[Option<f64>]| 10.0 * (pair.iter().map(power).sum::<f64>() / 2.0).log10();
        self.level_dbfs.windows(2).map(|pair| level(pair).max(SILENT_DBFS)).collect()
    }

    /// How long they sound, in seconds.
    fn active_s(&self) -> Option<f64> {
        let levels = self.frames_dbfs();
        let least = percentile(&levels, 98.0)? - ACTIVE_DB;
        let n_active =
            levels.iter().filter(|level| **level > least && **level > SILENT_DBFS).count();
        (n_active > 0).then_some(n_active as f64 * self.step_s)
    }
}

impl Truth {
    /// The truth beside the recordings of a folder.
    pub(crate) fn read(folder: &Path) -> Self {
        let text = fs::read_to_string(folder.join("truth.json")).expect("a rendered scene");
        let mut truth: Self =
            serde_json::from_str(&text).expect("a truth that tells what things give alone");
        truth.while_sounding();
        truth
    }

    /// Makes spill of whole takes the spill while each source sounds.
    fn while_sounding(&mut self) {
        let active_s: Vec<(String, Option<f64>)> = self
            .channels
            .iter()
            .map(|one| (one.name.clone(), one.own_alone.as_ref().and_then(Alone::active_s)))
            .collect();
        let of = |name: &str| active_s.iter().find(|(one, _)| one == name).and_then(|(_, s)| *s);
        for row in &mut self.spill {
            let longer = of(&row.source).zip(of(&row.mic)).map(|(source, mic)| source / mic);
            row.bleed_db = row.bleed_db.zip(longer).map(|(db, longer)| db - 10.0 * longer.log10());
        }
    }

    /// A channel by name.
    pub(crate) fn channel(&self, name: &str) -> Option<&Channel> {
        self.channels.iter().find(|channel| channel.name == name)
    }

    /// Name of the thing that a channel holds.
    pub(crate) fn thing(&self, name: &str) -> Option<&str> {
        self.channel(name)?.own_alone.as_ref().map(|alone| alone.thing.as_str())
    }

    /// How a channel's own sources reach another.
    pub(crate) fn row(&self, source: &str, mic: &str) -> Option<&Row> {
        self.spill.iter().find(|row| row.source == source && row.mic == mic)
    }

    /// The pairs whose spill is scored: a thing by its first channel, and a microphone that is another thing's own. Overheads and
    /// room microphones are left out on both sides: they hear the others on purpose.
    pub(crate) fn spill_pairs(&self) -> impl Iterator<Item = &Row> {
        self.spill.iter().filter(|row| {
            let is_first = self.thing(&row.source) == Some(row.source.as_str());
            let mic = self.channel(&row.mic);
            let is_mic =
                mic.and_then(|mic| mic.own_alone.as_ref()).is_some_and(|alone| alone.is_mic);
            let is_close = |name: &str| self.channel(name).is_some_and(Channel::is_close);
            is_first && is_mic && !row.one_thing && is_close(&row.source) && is_close(&row.mic)
        })
    }
}

impl Channel {
    /// Whether it is meant for one thing and not for all that sounds around it.
    pub(crate) fn is_close(&self) -> bool {
        is_close(&self.role)
    }
}

/// Whether a microphone of a role is meant for one thing and not for all that sounds around it.
pub(crate) fn is_close(role: &str) -> bool {
    !matches!(role, "overhead" | "room" | "talkback")
}
