//! Facts about recorders beside the one that recorded most channels.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::unit::Fact;

/// A further recorder, and how its clock ran against that of the session.
///
/// The recorder of the main mix stands with the mix.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Recorder {
    /// Ids of the channels that it recorded.
    pub channels: Vec<String>,
    /// Whether it recorded the hall alone: a device of its own is expected there.
    pub is_in_hall: bool,
    /// How much faster its clock ran; a range around 0 where less was found than can be told.
    pub drift_ppm: Fact,
    /// The same over its take: how much later the same sound stands at its end, in milliseconds.
    pub drift_ms: Fact,
    /// Smallest drift that can be told from air that warms and from people who move, at this length.
    pub smallest_ppm: Option<f64>,
    /// The same over its take, in milliseconds.
    pub smallest_ms: Option<f64>,
    /// Sources that bear it out.
    pub n_sources: usize,
}
