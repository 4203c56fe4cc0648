//! Numbers that moved from one review to the other by more than they are sure of.
//!
//! Each has a step: twice what docs/accuracy.md gives as its error, and not less than 1 dB, about the smallest change of level that is
//! heard (from memory). A bound moved where all of it lies a step away.

use serde::Serialize;

use super::lineup::Pair;
use crate::coach::label;
use crate::reading::{Channel, Kinship, MainMix, MixChannel, Reading, SongMix};
use crate::session::is_same_name;
use crate::unit::{Fact, Unit};

/// Facts below this confidence are not compared, 0 to 1: they feed no note either.
const KNOWN: f64 = 0.5;

/// Spill is compared where its value is a confident one, 0 to 1.
const SURE: f64 = 0.7;

/// A number that moved.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moved {
    /// What it is: `loud level`.
    pub number: &'static str,
    /// Whose: a channel, two channels, a song; empty for the main mix.
    pub whose: String,
    /// Then.
    pub then: Fact,
    /// Now.
    pub now: Fact,
    /// Unit of both.
    pub unit: Unit,
    /// The least difference that is told.
    pub step: f64,
}

/// What is compared, and by which step.
struct Measure<T> {
    number: &'static str,
    unit: Unit,
    step: f64,
    of: fn(&T) -> &Fact,
}

const fn measure<T>(
    number: &'static str,
    unit: Unit,
    step: f64,
    of: fn(&T) -> &Fact,
) -> Measure<T> {
    Measure { number, unit, step, of }
}

/// Of a channel. Loud level: 90 % within 1 dB. Peak and loudness: exact to 0.2. What rests on pauses and quiet: 1.5 dB (judgement).
const OF_CHANNEL: [Measure<Channel>; 5] = [
    measure("loud level", Unit::Dbfs, 2.0, |channel| &channel.loud_level_dbfs),
    measure("top peak", Unit::Dbfs, 1.0, |channel| &channel.top_peak_dbfs),
    measure("own-to-spill", Unit::Db, 3.0, |channel| &channel.own_to_spill_db),
    measure("quiet level", Unit::Dbfs, 3.0, |channel| &channel.quiet_level_dbfs),
    measure("highest loudness over 3 s", Unit::Lufs, 1.0, |channel| &channel.short_term_max_lufs),
];

/// Of a channel in the mix: 95 % of gains within 1.7 dB.
const OF_MIX_CHANNEL: [Measure<MixChannel>; 2] = [
    measure("gain in the mix", Unit::Db, 3.4, |line| &line.usual_gain_db),
    measure("loudness re the whole mix", Unit::Lu, 3.4, |line| &line.re_mix_lu),
];

/// Of the main mix: loudness within 0.1 LU, its range within 1 LU.
const OF_MAIN: [Measure<MainMix>; 4] = [
    measure("loudness of the main mix", Unit::Lufs, 1.0, |main| &main.integrated_lufs),
    measure("true peak of the main mix", Unit::Dbtp, 1.0, |main| &main.true_peak_dbtp),
    measure("loudness range of the main mix", Unit::Lu, 2.0, |main| &main.loudness_range_lu),
    measure("talk re songs", Unit::Lu, 1.0, |main| &main.speech_vs_song_lu),
];

/// Spill: 95 % of confident values within 3 dB.
const SPILL_STEP_DB: f64 = 6.0;

/// A voice against the rest: within 0.5 dB in the scenes whose truth is known; doubled for what they don't hold.
const VOICE_STEP_LU: f64 = 2.0;

/// Everything that moved, and how many numbers were compared.
pub(super) fn moved(then: &Reading, now: &Reading, pairs: &[Pair<'_>]) -> (Vec<Moved>, usize) {
    let mut all = Vec::new();
    if let (Some(then), Some(now)) = (&then.main, &now.main) {
        all.extend(OF_MAIN.iter().map(|one| one.both("", then, now)));
    }
    all.extend(songs(then, now));
    for pair in pairs {
        all.extend(OF_CHANNEL.iter().map(|one| one.both(pair.label, pair.then, pair.now)));
        all.extend(in_mix(then, now, pair));
    }
    all.extend(spill(then, now, pairs));
    all.retain(|one| is_known(&one.then) && is_known(&one.now));
    let n_compared = all.len();
    all.retain(|one| gap(&one.then, &one.now).is_some_and(|gap| gap >= one.step));
    (all, n_compared)
}

impl<T> Measure<T> {
    fn both(&self, whose: &str, then: &T, now: &T) -> Moved {
        Moved {
            number: self.number,
            whose: whose.to_owned(),
            then: (self.of)(then).clone(),
            now: (self.of)(now).clone(),
            unit: self.unit,
            step: self.step,
        }
    }
}

fn is_known(fact: &Fact) -> bool {
    fact.confidence() >= KNOWN
}

fn in_mix(then: &Reading, now: &Reading, pair: &Pair<'_>) -> Vec<Moved> {
    match (line(then, pair.then), line(now, pair.now)) {
        (Some(then), Some(now)) => {
            OF_MIX_CHANNEL.iter().map(|one| one.both(pair.label, then, now)).collect()
        }
        _ => Vec::new(),
    }
}

/// A channel as it stands in the mix, if it reaches it.
fn line<'a>(reading: &'a Reading, channel: &Channel) -> Option<&'a MixChannel> {
    reading.mix.as_ref()?.channel(&channel.id).filter(|line| line.is_in_mix)
}

/// The songs of a mix that could be read back.
fn songs_of(reading: &Reading) -> &[SongMix] {
    reading.mix.as_ref().map_or(&[], |mix| mix.songs.as_slice())
}

/// Lead voices against the band, in songs of one title.
fn songs(then: &Reading, now: &Reading) -> Vec<Moved> {
    let name = |reading: &Reading, id: &str| -> String {
        reading.channel(id).map_or(id, |channel| label(channel, reading)).to_owned()
    };
    let mut found = Vec::new();
    for song in songs_of(now) {
        let is_it = |other: &&SongMix| is_same_name(&other.title, &song.title);
        let Some(other) = songs_of(then).iter().find(is_it) else { continue };
        for lead in &song.leads {
            let voice = name(now, &lead.channel);
            let same =
                other.leads.iter().find(|other| is_same_name(&name(then, &other.channel), &voice));
            found.extend(same.map(|same| Moved {
                number: "lead voice against the rest",
                whose: format!("{voice}, {}", song.title),
                then: same.over_rest_lu.clone(),
                now: lead.over_rest_lu.clone(),
                unit: Unit::Lu,
                step: VOICE_STEP_LU,
            }));
        }
    }
    found
}

/// What microphones hear of others.
fn spill(then: &Reading, now: &Reading, pairs: &[Pair<'_>]) -> Vec<Moved> {
    let of_now = |id: &str| pairs.iter().find(|pair| pair.now.id == id);
    let spills = now.pairs.iter().filter(|pair| pair.kinship == Kinship::Spill);
    let one = |pair: &crate::reading::Pair| {
        let (source, mic) = (of_now(&pair.source)?, of_now(&pair.mic)?);
        let same = then.pairs.iter().find(|other| {
            other.kinship == Kinship::Spill
                && other.source == source.then.id
                && other.mic == mic.then.id
        })?;
        let is_sure = |fact: &Fact| fact.confidence() >= SURE;
        (is_sure(&pair.bleed_db) && is_sure(&same.bleed_db)).then(|| Moved {
            number: "spill",
            whose: format!("{} in {}", source.label, mic.label),
            then: same.bleed_db.clone(),
            now: pair.bleed_db.clone(),
            unit: Unit::Db,
            step: SPILL_STEP_DB,
        })
    };
    spills.filter_map(one).collect()
}

/// How far two facts lie apart: the distance between the nearest ends of what each allows.
fn gap(then: &Fact, now: &Fact) -> Option<f64> {
    let ([then_low, then_high], [now_low, now_high]) = (then.ends()?, now.ends()?);
    Some((now_low - then_high).max(then_low - now_high))
}
