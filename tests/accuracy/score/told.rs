//! What a review tells, by names of channels.
//!
//! Takes a reading, gives what scores need of it. Witnesses fill in the same.

use deskside::reading::{Kinship, Reading};
use deskside::unit::{Fact, Span, Unmeasured};

/// What is told of a scene.
#[derive(Clone, Debug, Default)]
pub(crate) struct Told {
    /// When each channel's own source sounds.
    pub(crate) active: Vec<(String, Vec<Span>)>,
    /// What is told of pairs.
    pub(crate) pairs: Vec<Pair>,
}

/// What is told of a pair.
#[derive(Clone, Debug)]
pub(crate) struct Pair {
    pub(crate) source: String,
    pub(crate) mic: String,
    pub(crate) kinship: Kinship,
    pub(crate) bleed_db: Fact,
    pub(crate) delay_s: Fact,
    pub(crate) polarity: Fact,
}

impl Pair {
    /// A pair of which nothing is told.
    pub(crate) fn new(source: &str, mic: &str, kinship: Kinship) -> Self {
        let nothing = || Fact::missing(Unmeasured::Because("nothing was measured"));
        Self {
            source: source.to_owned(),
            mic: mic.to_owned(),
            kinship,
            bleed_db: nothing(),
            delay_s: nothing(),
            polarity: nothing(),
        }
    }
}

impl Told {
    /// What a reading tells.
    pub(crate) fn of(reading: &Reading) -> Self {
        let name = |id: &str| {
            let channel = reading.channels.iter().find(|channel| channel.id == id);
            channel.map_or_else(|| id.to_owned(), |channel| channel.name.clone())
        };
        let channels = reading.channels.iter();
        Self {
            active: channels
                .map(|channel| (channel.name.clone(), channel.sounding.clone()))
                .collect(),
            pairs: reading
                .pairs
                .iter()
                .map(|pair| Pair {
                    source: name(&pair.source),
                    mic: name(&pair.mic),
                    kinship: pair.kinship,
                    bleed_db: pair.bleed_db.clone(),
                    delay_s: pair.delay_s.clone(),
                    polarity: pair.polarity.clone(),
                })
                .collect(),
        }
    }
}
