//! What rules pick from a reading: roles, passages to listen to, and arithmetic on facts that keeps their confidence.
//!
//! Never measures and never judges.

use std::borrow::Cow;

use super::rule::{Observation, Page};
use super::windows;
use crate::reading::{
    Channel, Events, MixChannel, Pair, Processing, Reading, Room, SegmentKind, SoloMix,
};
use crate::session::{Role, Tap};
use crate::unit::spans::{self, longest, shared_s, total_s};
use crate::unit::{Fact, Span, Unmeasured};

/// Talkers and solo singers.
pub(super) const SOLO_VOICES: &[Role] = &[Role::Speech, Role::LeadVocal, Role::BackingVocal];
/// Singers.
pub(super) const SINGERS: &[Role] = &[Role::LeadVocal, Role::BackingVocal];
/// Sources that sound on, judged by their loud level.
pub(super) const SUSTAINED: &[Role] = &[
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::Choir,
    Role::Bass,
    Role::AcousticGuitar,
    Role::ElectricGuitar,
    Role::Keys,
    Role::Strings,
    Role::Brass,
    Role::Woodwind,
];
/// Drums, judged by the peaks of their hits.
pub(super) const DRUMS: &[Role] =
    &[Role::Kick, Role::SnareTop, Role::SnareBottom, Role::Tom, Role::Percussion];
/// Cymbals, judged by the peaks of their hits.
pub(super) const CYMBALS: &[Role] = &[Role::HiHat, Role::Overhead];

/// Instruments and playback that may come by wire.
pub(super) const LINE: &[Role] =
    &[Role::Bass, Role::AcousticGuitar, Role::ElectricGuitar, Role::Keys, Role::Playback];

/// Why a level says nothing where the file has a scale of its own.
pub(super) const OWN_SCALE: &str =
    "the file goes above full scale, so the scale of its levels is its own";
/// Why a floor is not known.
pub(super) const NO_QUIET: &str = "fewer than 5 s of quiet were found";
/// Why a role is no ground for a judgement.
pub(super) const DISAGREE: &str = "name and sound disagree about what the channel carries";
/// Why a raw number says nothing here.
pub(super) const PROCESSED: &str = "the recording is taken after the channel's processing";

/// Time before and after a moment that an ear needs, in seconds.
const AROUND_S: f64 = 0.5;

/// An observation of one channel whose target hangs on its role: role and activity bound its confidence.
pub(super) fn by_role(channel: &Channel, facts: Vec<Option<Fact>>) -> Observation {
    let observation = Observation {
        confidence_cap: channel.active_confidence.min(channel.role_confidence),
        evidence: passage(channel),
        ..Observation::of(channel, facts)
    };
    if channel.role_by_sound.is_some() {
        return observation.withheld(DISAGREE);
    }
    if channel.role == Role::Unknown {
        return observation.withheld("what the channel carries is not known");
    }
    observation
}

/// Tops below this come from before the desk, in dBFS.
const BELOW_DBFS: f64 = -1.0;

/// Whether tops are cut off below full scale: before the desk, where its gain changes nothing.
pub(super) fn is_cut_before_the_desk(input: &Channel) -> bool {
    let level_dbfs = input.flat_top_level_dbfs.value();
    input.flat_tops.count > 0 && level_dbfs.is_some_and(|level_dbfs| level_dbfs < BELOW_DBFS)
}

/// What is told of a loop that no recorded microphone shows, after what it does.
pub(super) const UNSEEN_LOOP: &str =
    "no recorded microphone shows it: close them one by one to find it";

/// What shows a loop where it is no microphone.
pub(super) fn loop_subject(channel: &Channel) -> Option<&'static str> {
    match channel.role {
        Role::Main => Some("The main mix"),
        Role::Room => Some("The hall"),
        _ => None,
    }
}

/// Raw channels of some roles whose processed tap was recorded too, each with what lies between the taps.
pub(super) fn between_taps<'a>(
    reading: &'a Reading,
    roles: &'a [Role],
) -> impl Iterator<Item = (&'a Channel, &'a Processing)> + Clone {
    reading.between_taps().filter(|(raw, _)| roles.contains(&raw.role))
}

/// An observation of the hall over some time, as its microphone hears it.
pub(super) fn of_hall(room: &Room, facts: Vec<Option<Fact>>, length_s: f64) -> Observation {
    Observation {
        channels: vec![room.channel.clone()],
        subject: Some("The hall"),
        ..Observation::of_session(facts, length_s)
    }
}

/// The same of the passages of talk: none where no hall microphone was recorded.
pub(super) fn of_talk(reading: &Reading, fact: impl Fn(&Room) -> Fact) -> Vec<Observation> {
    let talk: Vec<Span> = reading.segments_of(SegmentKind::Talk).map(|one| one.span).collect();
    let talk_s = total_s(&talk);
    let observation = |room: &Room| Observation {
        evidence: longest(&talk, 2),
        ..of_hall(room, vec![Some(fact(room))], talk_s)
    };
    reading.room.iter().map(observation).collect()
}

/// An observation of one channel as it reaches the mix.
pub(super) fn through_mix(channel: &Channel, facts: Vec<Option<Fact>>) -> Observation {
    Observation { is_raw: false, ..by_role(channel, facts) }
}

/// The same with a passage in each song: what an operator does with a channel may change from song to song.
pub(super) fn through_songs(
    reading: &Reading,
    channel: &Channel,
    facts: Vec<Option<Fact>>,
) -> Observation {
    let observation = through_mix(channel, facts);
    let evidence: Vec<Span> = reading
        .segments_of(SegmentKind::Song)
        .filter_map(|song| spans::passage(&spans::both(&channel.active, &[song.span])))
        .collect();
    if evidence.is_empty() { observation } else { Observation { evidence, ..observation } }
}

/// Channels that may be in the mix, with what was done to them.
pub(super) fn lines(reading: &Reading) -> impl Iterator<Item = (&Channel, &MixChannel)> + Clone {
    let all = reading.mix.iter().flat_map(|mix| &mix.channels);
    all.filter_map(|one| Some((reading.channel(&one.channel)?, one)))
}

/// Channels with one of the roles that reach the mix, with what was done to them.
pub(super) fn in_mix<'a>(
    reading: &'a Reading,
    roles: &'a [Role],
) -> impl Iterator<Item = (&'a Channel, &'a MixChannel)> {
    lines(reading).filter(|(channel, one)| one.is_in_mix && roles.contains(&channel.role))
}

/// An observation for each solo, with a suggested change. Without a cue it is a question for the mentor.
pub(super) fn solos(
    reading: &Reading,
    change_db: f64,
    facts: impl Fn(&SoloMix) -> Vec<Option<Fact>>,
) -> Vec<Observation> {
    let songs = reading.mix.iter().flat_map(|mix| &mix.songs);
    songs
        .flat_map(|song| song.solos.iter().map(move |solo| (song, solo)))
        .filter_map(|(song, solo)| {
            let channel = reading.channel(&solo.channel)?;
            Some(Observation {
                songs: vec![song.title.clone()],
                evidence: vec![solo.span],
                active_s: solo.span.length_s(),
                affected_s: solo.span.length_s(),
                change_db: Some(change_db),
                page: (!solo.is_cued).then_some(Page::Mentor),
                ..through_mix(channel, facts(solo))
            })
        })
        .collect()
}

/// Channels with one of the roles, as they are to be judged by their tone: those that were recorded before their processing as they
/// reach the mix, where that is known.
pub(super) fn as_mixed<'a>(reading: &'a Reading, roles: &'a [Role]) -> Vec<Cow<'a, Channel>> {
    let as_mixed = |channel: &'a Channel| {
        let in_mix = reading.mix.as_ref().and_then(|mix| mix.channel(&channel.id));
        let tone = in_mix.filter(|_| channel.tap == Tap::Raw).and_then(|one| one.tone.clone());
        tone.map_or(Cow::Borrowed(channel), |spectrum| {
            Cow::Owned(Channel { spectrum, tap: Tap::Processed, ..channel.clone() })
        })
    };
    reading.with_role(roles).map(as_mixed).collect()
}

/// The style of the session as a variant of targets; empty for the default.
pub(super) fn style(reading: &Reading) -> &'static str {
    ["loud-band", "acoustic", "choir-led"]
        .into_iter()
        .find(|style| reading.session.style == *style)
        .unwrap_or("")
}

/// The same, where only a recording right after the preamplifier tells.
pub(super) fn raw_by_role(channel: &Channel, facts: Vec<Option<Fact>>) -> Observation {
    let observation = by_role(channel, facts);
    if channel.tap == Tap::Raw { observation } else { observation.withheld(PROCESSED) }
}

/// Channels that bring a source to the desk, in desk order.
pub(super) fn inputs(reading: &Reading) -> impl Iterator<Item = &Channel> {
    reading.channels.iter().filter(|channel| channel.role.is_input())
}

/// A passage in which the channel's own source sounds.
pub(super) fn passage(channel: &Channel) -> Vec<Span> {
    spans::passage(&channel.active).into_iter().collect()
}

/// Events as places to listen to.
pub(super) fn moments(events: &Events) -> Vec<Span> {
    at(&events.at_s)
}

/// Moments as places to listen to.
pub(super) fn at(moments_s: &[f64]) -> Vec<Span> {
    moments_s.iter().map(|at_s| around(*at_s, AROUND_S)).collect()
}

/// A moment with some time before and after it, in seconds.
pub(super) fn around(at_s: f64, either_s: f64) -> Span {
    Span::new((at_s - either_s).max(0.0), at_s + either_s)
}

/// The top peak as a source shows it: a peak that came less than three times is a bound only (a cough, a dropped microphone).
pub(super) fn repeated_peak(channel: &Channel) -> Fact {
    match &channel.top_peak_dbfs {
        Fact::Value { value, confidence } if channel.n_top_peaks < 3 => {
            Fact::AtMost { at_most: *value, confidence: *confidence }
        }
        fact => fact.clone(),
    }
}

/// How many flat tops count: none of playback (mastered), of guitar and keys only those at full scale (distortion, square waves).
pub(super) fn flat_tops(channel: &Channel) -> Option<Fact> {
    const FULL_SCALE_DBFS: f64 = -0.1;
    let is_by_design = match channel.role {
        Role::Playback => true,
        Role::ElectricGuitar | Role::Keys => channel
            .flat_top_level_dbfs
            .value()
            .is_none_or(|level_dbfs| level_dbfs < FULL_SCALE_DBFS),
        _ => false,
    };
    (!is_by_design || (channel.flat_tops.count == 0 && channel.role != Role::Playback))
        .then(|| Fact::exact(channel.flat_tops.count as f64))
}

/// A floating-point file that goes above full scale has a scale of its own.
pub(super) fn has_own_scale(channel: &Channel) -> bool {
    channel.is_float && channel.top_peak_dbfs.value().is_some_and(|peak_dbfs| peak_dbfs > 0.0)
}

/// The two channels of a pair.
pub(super) fn both<'a>(reading: &'a Reading, pair: &Pair) -> Option<(&'a Channel, &'a Channel)> {
    Some((reading.channel(&pair.source)?, reading.channel(&pair.mic)?))
}

/// An observation of a pair, over the time of the one that sounds less.
pub(super) fn pair(
    source: &Channel,
    mic: &Channel,
    pair: &Pair,
    facts: Vec<Option<Fact>>,
) -> Observation {
    let shorter = if source.active_s < mic.active_s { source } else { mic };
    Observation {
        channels: vec![pair.source.clone(), pair.mic.clone()],
        role: source.role,
        evidence: pair.evidence.clone(),
        is_raw: source.tap == Tap::Raw && mic.tap == Tap::Raw,
        own_to_spill_db: None,
        confidence_cap: 1.0,
        ..Observation::of(shorter, facts)
    }
}

/// An observation of the main mix over the whole session.
pub(super) fn main_mix(reading: &Reading, facts: Vec<Option<Fact>>) -> Observation {
    let main = reading.main.iter();
    Observation {
        channels: main
            .flat_map(|main| std::iter::once(main.left.clone()).chain(main.right.clone()))
            .collect(),
        subject: Some("The main mix"),
        role: Role::Main,
        variant: if reading.session.main_bus == "hall" { "hall" } else { "stream" },
        ..Observation::of_session(facts, reading.session.duration_s)
    }
}

/// Whether a channel was heard in two songs or one long talk, which a finding about tone needs.
pub(super) fn was_heard_widely(reading: &Reading, channel: &Channel) -> bool {
    const IN_SONG_S: f64 = 20.0;
    const IN_TALK_S: f64 = 60.0;
    let heard_s = |within: Span| shared_s(&channel.active, within);
    let n_songs = reading
        .segments_of(SegmentKind::Song)
        .filter(|song| heard_s(song.span) >= IN_SONG_S)
        .count();
    let is_talk =
        reading.segments_of(SegmentKind::Talk).any(|talk| heard_s(talk.span) >= IN_TALK_S);
    n_songs >= 2 || is_talk
}

/// Share of blocks in which a band has to lie outside its window, 0 to 100.
const LASTING_PERCENT: f64 = 60.0;

/// An observation about tone: no finding unless it lasts and was heard in more than one place.
pub(super) fn tone(
    reading: &Reading,
    channel: &Channel,
    band: Option<usize>,
    facts: Vec<Option<Fact>>,
) -> Observation {
    let share = |band: usize| channel.spectrum.band_out_percent.get(band).copied();
    let is_lasting =
        band.is_none_or(|band| share(band).is_some_and(|share| share >= LASTING_PERCENT));
    by_role(channel, facts)
        .doubted(!is_lasting, "its tone leaves the window now and then only")
        .doubted(
            !was_heard_widely(reading, channel),
            "it was heard in fewer than two songs and no long talk",
        )
}

/// How far a band's share lies over the high end of the role's window, in dB.
pub(super) fn over_window(channel: &Channel, band: usize) -> Fact {
    windows::window(channel.role, band).1.map_or(
        Fact::missing(Unmeasured::Because("there is no window for what the channel carries")),
        |high_db| map(&bands(&channel.spectrum.band_db, &[band]), |level_db| level_db - high_db),
    )
}

/// A function of two facts, with the lower confidence; bounds and ranges have no place in it.
pub(super) fn join(left: &Fact, right: &Fact, value: impl Fn(f64, f64) -> f64) -> Fact {
    match (left, right) {
        (Fact::Value { value: a, confidence: c }, Fact::Value { value: b, confidence: d }) => {
            Fact::sure(value(*a, *b), c.min(*d))
        }
        (Fact::Missing { not_measurable }, _) | (_, Fact::Missing { not_measurable }) => {
            Fact::missing(not_measurable.clone())
        }
        _ => Fact::missing(Unmeasured::Because("only a bound of it is known")),
    }
}

/// Left minus right.
pub(super) fn minus(left: &Fact, right: &Fact) -> Fact {
    join(left, right, |left, right| left - right)
}

/// A function of one value; bounds and ranges have no place in it.
pub(super) fn map(fact: &Fact, value: impl Fn(f64) -> f64) -> Fact {
    join(fact, fact, |only, _| value(only))
}

/// Level of several bands together, in dB.
pub(super) fn bands(levels: &[Fact], places: &[usize]) -> Fact {
    let power = |level_db: f64| 10_f64.powf(level_db / 10.0);
    let silent = Fact::missing(Unmeasured::Because("its tone was not measured"));
    let level = |place: &usize| levels.get(*place).unwrap_or(&silent).clone();
    places
        .iter()
        .map(level)
        .reduce(|sum, next| {
            join(&sum, &next, |sum, next| 10.0 * (power(sum) + power(next)).log10())
        })
        .unwrap_or(silent)
}
