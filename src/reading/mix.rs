//! Facts about what the operator did, read back from the channels and the main mix.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Spectrum;
use crate::unit::{Fact, Span};

/// What the operator did with the mix.
///
/// Levels of channels are their contributions to both sides of the main mix together. A group of channels that carry one
/// signal counts as one, under the id of its first channel. Where the channels explain too little of a stretch, facts about it
/// are missing.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Mix {
    /// How much later the mix stands in its recording than the channels it was made of, at the begin of the session.
    pub latency_s: Fact,
    /// How much faster the clock of the mix's recorder ran than that of the channels.
    pub drift_ppm: Fact,
    /// Whether that was so much that the mix was read by its own clock.
    pub has_own_clock: bool,
    /// Share of the power of the mix that the channels explain, 0 to 1.
    pub explained_share: Fact,
    /// The same, second by second from the begin of the session; none where nothing is in the mix or nothing was read.
    #[serde(default)]
    pub explained_each_second_share: Vec<Option<f64>>,
    /// Swing of what moves all channels at once, as a compressor on the mix does: 90th minus 10th percentile.
    pub bus_swing_db: Fact,
    /// The same as far as it keeps time with the music, as a compressor does that pumps.
    pub bus_pump_db: Fact,
    /// Pairs of channels that are open together and hear one source, one later than the other.
    pub open_pairs: Vec<OpenPair>,
    /// Stretches that were read by themselves, in order.
    pub sections: Vec<MixSection>,
    /// Channels that may be in the mix, in desk order.
    pub channels: Vec<MixChannel>,
    /// Ids of channels that carry one signal: only their sum can be told.
    pub groups: Vec<Vec<String>>,
    /// The songs, in order.
    pub songs: Vec<SongMix>,
    /// Returns of effects minus talkers, in talk to the audience from 3 s after a song on.
    pub effects_re_speech_lu: Fact,
    /// Where the effects are loudest then.
    pub effects_in_talk: Vec<Span>,
    /// Microphones that are open while their sources rest, in songs.
    pub idle_in_songs: Idle,
    /// The same while somebody speaks to the audience.
    pub idle_in_talk: Idle,
}

/// A stretch of the mix that was read by itself: colours and pans stand still in it.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct MixSection {
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// Share of the power of the mix that the channels explain, 0 to 1.
    pub explained_share: Fact,
}

/// A channel in the mix.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct MixChannel {
    /// Its id.
    pub channel: String,
    /// Whether it reaches the mix at any time.
    pub is_in_mix: bool,
    /// Power on both sides re the channel's own recording, second by second from the begin of the session; none where the channel is
    /// closed or nothing tells.
    pub gain_db: Vec<Option<f64>>,
    /// Median of that over the seconds in which its own source sounds.
    pub usual_gain_db: Fact,
    /// The same minus the median over all channels that are in the mix.
    pub gain_re_others_db: Fact,
    /// Pan, -1 (left) to 1 (right).
    pub pan: Fact,
    /// 1, or -1 if the desk inverts it.
    pub polarity: Fact,
    /// How much later it enters the mix than the others, as an insert makes it; 0 where none shows.
    pub insert_s: f64,
    /// When it was open; where nothing tells, as before.
    pub on: Vec<Span>,
    /// When it was opened or closed. Where nothing of it is heard the stretch is long: it lies somewhere within.
    #[serde(default)]
    pub switches: Vec<Switched>,
    /// Equaliser by third-octave re the median third-octave, at the frequencies of the channel's spectrum; none where the channel
    /// is not heard.
    pub eq_db: Vec<Option<f64>>,
    /// Tone as it reaches the mix.
    pub tone: Option<Spectrum>,
    /// What a compressor takes off in loud moments, beyond soft ones.
    pub gain_reduction_db: Fact,
    /// How a gate shows: how often it closes in a minute.
    pub closings_per_minute: Fact,
    /// Spread of its loudness in the mix while its own source sounds: 95th minus 10th percentile of 400 ms, middle of all songs.
    pub level_spread_lu: Fact,
    /// Its loudness minus that of the whole mix, while its own source sounds.
    pub re_mix_lu: Fact,
    /// Share of the mix between 56 and 224 Hz that it gives in songs, 0 to 100.
    pub low_share_percent: Fact,
    /// Share of the time in which it is open while its own source rests, 0 to 100; a range where too little of it is heard to tell
    /// whether it was closed.
    pub idle_open_percent: Fact,
    /// The same within songs.
    pub idle_open_in_songs_percent: Fact,
    /// Where it is open and its source rests in songs: the longest stretches.
    pub idle_open: Vec<Span>,
    /// Time in songs in which its own source sounds and it is closed, in seconds.
    pub left_out_s: Fact,
    /// Where: the longest stretches.
    pub left_out: Vec<Span>,
    /// Each time its source begins after a rest, and when the channel was open.
    pub entries: Vec<Entry>,
    /// How often its slow gain turns by 2 dB or more, a minute, in songs.
    pub turns_per_minute: Fact,
}

/// A channel is opened or closed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Switched {
    /// Whether it opens.
    pub opens: bool,
    /// From when to when that may have been.
    pub within: Span,
}

/// A source begins after a rest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Entry {
    /// When it begins, in seconds.
    pub at_s: f64,
    /// How much later its channel is open; 0 if it was open before.
    pub late_s: Fact,
}

/// Microphones that are open while their sources rest.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Idle {
    /// How many at a time, mean.
    pub mean_count: Fact,
    /// Ids of those that are, most of the time first.
    pub channels: Vec<String>,
    /// What they cost in gain before feedback: 10 lg (all open / those in use).
    pub cost_db: Fact,
    /// Time that was looked at, in seconds.
    pub looked_at_s: f64,
    /// Where most are open.
    pub evidence: Vec<Span>,
}

/// A song in the mix.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SongMix {
    /// Title.
    pub title: String,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// Share of the power of the mix that the channels explain, 0 to 1.
    pub explained_share: Fact,
    /// Lead voices.
    pub leads: Vec<LeadMix>,
    /// Backing voices that sing with the lead.
    pub backing: Vec<BackingMix>,
    /// All backing voices together minus the lead, while both sing.
    pub backing_over_lead_lu: Fact,
    /// Passages without voices in which one instrument carries the melody.
    pub solos: Vec<SoloMix>,
    /// Overheads and hi-hat minus the whole kit.
    pub overheads_re_kit_lu: Fact,
    /// Ids of those.
    pub overheads: Vec<String>,
    /// Returns of effects minus lead voices, while these sing.
    pub effects_re_voice_lu: Fact,
    /// Share of the mix between 5.6 and 17.8 kHz, in dB; only where a kit plays.
    pub treble_db: Fact,
    /// How far that moves: 90th minus 10th percentile of seconds.
    pub treble_movement_db: Fact,
    /// Ids of the channels that give most of it, most first.
    pub treble_from: Vec<String>,
    /// Microphones that are open while their sources rest; none where that was not looked at song by song.
    #[serde(default)]
    pub idle: Option<Idle>,
}

impl SongMix {
    /// How much louder another voice has to be, in LU, and in what share of its windows, for a voice to sing along with it.
    const LOUDER_LU: f64 = 3.0;
    const MOSTLY: f64 = 0.7;

    /// The louder voice with which a lead voice sings most of its time, if there is one: it may be a backing voice by another name.
    pub fn leader_of(&self, lead: &LeadMix) -> Option<&LeadMix> {
        let own = &lead.over_rest_each_second_lu;
        let n_sung = own.iter().flatten().count();
        let is_louder = |other: &&LeadMix| {
            let both = own.iter().zip(&other.over_rest_each_second_lu);
            let louder = both.filter(|(own, other)| {
                own.zip(**other).is_some_and(|(own, other)| other >= own + Self::LOUDER_LU)
            });
            other.channel != lead.channel && louder.count() as f64 > Self::MOSTLY * n_sung as f64
        };
        self.leads.iter().filter(|_| n_sung > 0).find(is_louder)
    }

    /// Lead voices without those that sing along with a louder one.
    pub fn leading(&self) -> impl Iterator<Item = &LeadMix> {
        self.leads.iter().filter(|lead| self.leader_of(lead).is_none())
    }
}

/// Two channels that are open together and hear one source, one later than the other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OpenPair {
    /// Id of the source's own channel.
    pub source: String,
    /// Id of the other.
    pub mic: String,
    /// How long both are open and the source sounds, in seconds.
    pub together_s: f64,
    /// Level of the source by way of the other channel minus by way of its own, as they are mixed.
    pub level_db: Fact,
    /// Arrival in the other minus arrival in its own.
    pub delay_s: f64,
    /// Highest minus lowest response of the sum up to 16 kHz.
    pub ripple_db: Fact,
    /// When both are open and the source sounds: the longest stretches.
    pub evidence: Vec<Span>,
}

/// A lead voice in a song.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct LeadMix {
    /// Its id.
    pub channel: String,
    /// How long it sings, in seconds.
    pub sung_s: f64,
    /// Its gain in the mix while it sings, median.
    pub gain_db: Fact,
    /// Loudness of the voice minus that of the rest, median of 3 s windows in which it sings.
    pub over_rest_lu: Fact,
    /// The same in each window: one that begins at every second from the first whole second of the song on; none where the voice
    /// rests or nothing tells.
    #[serde(default)]
    pub over_rest_each_second_lu: Vec<Option<f64>>,
    /// Share of these windows in which the voice lies more than 4 LU under the rest, 0 to 100.
    pub buried_percent: Fact,
    /// Where it lies lowest.
    pub buried: Vec<Span>,
    /// Voice minus rest between 1 and 4 kHz, mean of the middle half of these windows.
    pub over_rest_1_to_4_khz_db: Fact,
    /// The same in each of these windows.
    #[serde(default)]
    pub over_rest_1_to_4_khz_each_second_db: Vec<Option<f64>>,
    /// Audibility index between 800 Hz and 4 kHz, after the band-audibility step of ANSI S3.5, 0 to 1.
    pub audibility_index: Fact,
    /// Third-octave in which the voice is covered most, in Hz.
    pub covered_hz: Fact,
    /// Id of the channel that covers it there.
    pub covered_by: Option<String>,
    /// Instruments that are more than 2 LU louder than the voice while it sings, most first.
    pub taken_over: Vec<TakenOver>,
}

/// An instrument that takes over while a voice sings.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct TakenOver {
    /// Its id.
    pub channel: String,
    /// Share of the time in which the voice sings, 0 to 100.
    pub share_percent: Fact,
    /// By how much it is louder in that time, median.
    pub over_voice_lu: Fact,
    /// Where: the longest stretches.
    pub evidence: Vec<Span>,
}

/// A backing voice in a song.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct BackingMix {
    /// Its id.
    pub channel: String,
    /// Id of the lead that it sings with.
    pub lead: String,
    /// How long both sing, in seconds.
    pub together_s: f64,
    /// Its loudness minus that of the lead in that time.
    pub over_lead_lu: Fact,
    /// Where: the longest stretches.
    pub evidence: Vec<Span>,
}

/// A passage in which one instrument carries the melody.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SoloMix {
    /// Id of the instrument.
    pub channel: String,
    /// When.
    #[serde(flatten)]
    pub span: Span,
    /// Whether a cue of `session.toml` says so.
    pub is_cued: bool,
    /// Its loudness minus that of the rest.
    pub over_rest_lu: Fact,
    /// Its gain minus its gain in the rest of the song.
    pub lift_db: Fact,
}

impl Mix {
    /// The channel with an id.
    pub fn channel(&self, id: &str) -> Option<&MixChannel> {
        self.channels.iter().find(|channel| channel.channel == id)
    }
}
