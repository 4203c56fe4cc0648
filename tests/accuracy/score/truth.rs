//! The truth beside a rendered scene, as far as scores need it.
//!
//! Takes `truth.json`, gives plain data. Never a fact of the review's own.

use std::fs;
use std::path::Path;

use serde::Deserialize;

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

impl Truth {
    /// The truth beside the recordings of a folder.
    pub(crate) fn read(folder: &Path) -> Self {
        let text = fs::read_to_string(folder.join("truth.json")).expect("a rendered scene");
        serde_json::from_str(&text).expect("a truth that tells what things give alone")
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
        !matches!(self.role.as_str(), "overhead" | "room" | "talkback")
    }
}
