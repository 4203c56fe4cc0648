//! A mix that was read section by section, put together: what each channel gave in each second of the session.
//!
//! Takes the readings of sections in any order, gives powers and gains by second, and when each channel was open. A group of channels
//! that carry one signal stands at its first channel. Never judges.

use super::grid::{N_BANDS, bands_between, middle_hz};
use super::hand::swing_db;
use super::held_powers::HeldPowers;
use super::mixture::{InMix, Mixture};
use super::opened::Switched;
use super::pump;
use super::shares::{Powers, Slot};
use crate::dsp::biquad::gain_db;
use crate::dsp::weighting;
use crate::unit::Span;
use crate::unit::spans::total_s;

/// K weighting of each third-octave at its middle, as a factor of power.
#[derive(Clone, Debug)]
pub struct Ear([f64; N_BANDS]);

impl Ear {
    /// K weighting as ITU-R BS.1770 gives it.
    pub fn new() -> Self {
        const RATE_HZ: u32 = 48_000;
        let sections = weighting::k(RATE_HZ);
        Self(std::array::from_fn(|band| {
            10f64.powf(gain_db(&sections, f64::from(RATE_HZ), middle_hz(band)) / 10.0)
        }))
    }

    /// Weighted sum of the powers of all third-octaves.
    pub fn power(&self, powers: &Powers) -> f64 {
        self.0.iter().zip(powers).map(|(weight, &power)| weight * f64::from(power)).sum()
    }
}

impl Default for Ear {
    fn default() -> Self {
        Self::new()
    }
}

/// Sum of the powers between two frequencies, in Hz.
pub fn power_between(powers: &Powers, low_hz: f64, high_hz: f64) -> f64 {
    powers[bands_between(low_hz, high_hz)].iter().map(|&power| f64::from(power)).sum()
}

/// A second of the session.
#[derive(Clone, Debug)]
pub struct Second {
    /// Both sides of the mix together.
    pub main: Powers,
    /// What no channel explains.
    pub rest: Powers,
    /// Both sides without lead voices and effects.
    pub backing: Powers,
    /// What each line gives to both sides; what a group gives stands at its first line, 0 at the others.
    pub given: Vec<HeldPowers>,
}

impl Second {
    /// What a line gives to both sides; for the two behind the last see [`Board::unexplained`] and [`Board::backing`].
    pub fn of_line(&self, line: usize) -> Powers {
        match self.given.get(line) {
            Some(given) => given.powers(),
            None if line == self.given.len() => self.rest,
            None => self.backing,
        }
    }
}

/// A line of the desk: a channel that may be in the mix.
#[derive(Clone, Debug, Default)]
pub struct Line {
    /// Its place in the session.
    pub channel: usize,
    /// Gain to both sides re its raw tap, second by second.
    pub gain_db: Vec<Option<f32>>,
    /// The operator's part of its gain, second by second, re its raw tap.
    pub fader_db: Vec<Option<f32>>,
    /// When it was open; where nothing tells, as before.
    pub on: Vec<Span>,
    /// When that can be told.
    pub told: Vec<Span>,
    /// When it was opened or closed, each within a stretch.
    pub switches: Vec<Switched>,
    /// What was found in each section, in order.
    pub sections: Vec<InSection>,
}

/// A line in a section.
#[derive(Clone, Debug, Default)]
pub struct InSection {
    /// Power that it gave, over all seconds: how much a figure of this section counts.
    pub weight: f64,
    /// Whether it reached the mix.
    pub is_heard: bool,
    /// Whether it may have reached the mix though it does not seem so.
    pub is_unclear: bool,
    /// Whether it is one of a group that carries one signal.
    pub is_grouped: bool,
    /// Pan, -1 to 1.
    pub pan: Option<f64>,
    /// 1 or -1.
    pub polarity: Option<f64>,
    /// Equaliser by third-octave of the grid re its median.
    pub eq_db: Vec<Option<f64>>,
    /// Where that is not told, what it is at most.
    pub eq_most_db: Vec<Option<f64>>,
    /// Swing of its gain besides the fader, and how that follows the level.
    pub swing: Option<(f64, f64)>,
    /// How far what follows the level swings.
    pub follows_db: Option<f64>,
    /// How often it closed, a minute.
    pub closings_per_min: f64,
    on: Vec<Span>,
    told: Vec<Span>,
    switches: Vec<Switched>,
}

/// A section.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// When.
    pub span: Span,
    /// Share of the power of the mix that is explained; none in silence.
    pub explained_share: Option<f64>,
    /// Swing of what moves all channels at once, in dB.
    pub bus_swing_db: f64,
    /// The same in time with the music, in dB; none where it keeps no time.
    pub bus_pump_db: Option<f64>,
}

/// The mix of a session.
#[derive(Clone, Debug)]
pub struct Board {
    /// Second by second; none where nothing was read.
    pub seconds: Vec<Option<Second>>,
    /// The lines, in the order of the patch.
    pub lines: Vec<Line>,
    /// The sections, in order.
    pub sections: Vec<Section>,
    /// Places of lines that carried one signal in some section.
    pub groups: Vec<Vec<usize>>,
    /// Mean power of each line's own recording in the section where that is highest, so far.
    loudest: Vec<f64>,
}

/// Seconds that the gain of an open channel rests on.
const NEEDS_SECONDS: usize = 10;

/// Gaps in what was open that are a seam between sections, in seconds: two frames.
const SEAM_S: f64 = 0.13;

/// A channel this far under the loudest of a group's members, or under its own loudest section, has no part in the group, in dB: what is
/// left there is noise and hum, which are alike in many channels.
const FAINT_DB: f64 = -30.0;

impl Board {
    /// A board for these channels of a session and its sections.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length is not negative and far below 2^52 s"
    )]
    pub fn new(channels: &[usize], sections: &[Span]) -> Self {
        let end_s = sections.last().map_or(0.0, |section| section.end_s);
        let n_seconds = end_s.max(0.0).ceil() as usize;
        let line = |&channel: &usize| Line {
            channel,
            gain_db: vec![None; n_seconds],
            fader_db: vec![None; n_seconds],
            sections: vec![InSection::default(); sections.len()],
            ..Line::default()
        };
        let section = |&span: &Span| Section {
            span,
            explained_share: None,
            bus_swing_db: 0.0,
            bus_pump_db: None,
        };
        Self {
            seconds: vec![None; n_seconds],
            lines: channels.iter().map(line).collect(),
            sections: sections.iter().map(section).collect(),
            groups: Vec::new(),
            loudest: vec![0.0; channels.len()],
        }
    }

    /// The line behind the last: what no channel explains.
    pub fn unexplained(&self) -> usize {
        self.lines.len()
    }

    /// The line behind that: all that lead voices are heard against, added up as it is and not as powers. What reaches two microphones
    /// may add up to more or to less.
    pub fn backing(&self) -> usize {
        self.lines.len() + 1
    }

    /// The gain that each line has where it is open, from the sections that were added: the highest median of a section.
    pub fn expected_db(&self) -> Vec<Option<f64>> {
        let of_line = |line: &Line| {
            let of_section = |section: &Section| {
                let (from, to) = (place(section.span.start_s), place(section.span.end_s));
                let seconds = line.gain_db.get(from..to.min(line.gain_db.len()))?;
                let mut gains: Vec<f32> = seconds.iter().flatten().copied().collect();
                gains.sort_by(f32::total_cmp);
                (gains.len() >= NEEDS_SECONDS).then(|| f64::from(gains[gains.len() / 2]))
            };
            self.sections.iter().filter_map(of_section).max_by(f64::total_cmp)
        };
        self.lines.iter().map(of_line).collect()
    }

    /// Parts a section in two, of which neither was put yet.
    pub fn part(&mut self, section: usize, at_s: f64) {
        let mut behind = self.sections[section];
        self.sections[section].span.end_s = at_s;
        behind.span.start_s = at_s;
        self.sections.insert(section + 1, behind);
        for line in &mut self.lines {
            line.sections.insert(section + 1, InSection::default());
        }
    }

    /// Puts a section in its place. They may come in any order.
    pub fn put(&mut self, section: usize, mixture: &Mixture) {
        let powers: Vec<f64> =
            (0..mixture.channels.len()).map(|member| raw_power(mixture, member)).collect();
        for (loudest, power) in self.loudest.iter_mut().zip(&powers) {
            *loudest = loudest.max(*power);
        }
        let groups = self.loud_groups(mixture, &powers);
        for slot in &mixture.slots {
            if let Some(here) = self.seconds.get_mut(place(slot.start_s)) {
                *here = Some(joined(slot, &groups));
            }
        }
        for (idx, channel) in mixture.channels.iter().enumerate() {
            let group = groups.iter().find(|group| group.0.contains(&idx));
            self.put_line(section, idx, channel, group, mixture);
        }
        for (members, _) in groups {
            if !self.groups.contains(&members) {
                self.groups.push(members);
            }
        }
        self.sections[section].explained_share = mixture.explained_share;
        self.sections[section].bus_swing_db = swing_db(mixture.bus_db.clone());
        self.sections[section].bus_pump_db = pump::swing_db(&mixture.bus_db, mixture.hop_s).ok();
    }

    /// Groups without members that are hardly there.
    fn loud_groups(&self, mixture: &Mixture, powers: &[f64]) -> Vec<Group> {
        let faint = 10f64.powf(FAINT_DB / 10.0);
        let is_loud = |group: &[usize]| {
            let most = group.iter().map(|&member| powers[member]).fold(0.0, f64::max);
            let is_there = |&member: &usize| {
                powers[member] > faint * most && powers[member] > faint * self.loudest[member]
            };
            group.iter().all(is_there)
                && group.iter().any(|&member| mixture.channels[member].is_heard)
        };
        let groups = mixture.groups.iter().enumerate();
        groups
            .filter(|(_, group)| is_loud(group))
            .map(|(place, group)| (group.clone(), place))
            .collect()
    }

    /// Joins what was open over the borders of sections.
    pub fn finish(&mut self) {
        for line in &mut self.lines {
            for section in &mut line.sections {
                join(&mut line.on, &section.on);
                join(&mut line.told, &section.told);
                line.switches.append(&mut section.switches);
                (section.on, section.told) = (Vec::new(), Vec::new());
            }
        }
        self.groups.sort();
    }

    fn put_line(
        &mut self,
        section: usize,
        idx: usize,
        channel: &InMix,
        group: Option<&Group>,
        mixture: &Mixture,
    ) {
        let line = &mut self.lines[idx];
        let mut weight = 0.0;
        let mut faders: Vec<(usize, f32, f32)> = Vec::new();
        for (at, slot) in mixture.slots.iter().enumerate() {
            let second = place(slot.start_s);
            weight += slot.given[idx].iter().flatten().map(|&x| f64::from(x)).sum::<f64>();
            let gain_db = match group {
                Some(group) => of_group_db(slot, group),
                None => channel.gain_db.get(at).copied().flatten(),
            };
            if let Some(here) = line.gain_db.get_mut(second) {
                *here = gain_db.map(single);
            }
            let middle = usize::midpoint(slot.frames[0], slot.frames[1]);
            let fader = channel.hand.as_ref().ok().and_then(|hand| hand.fader_db.get(middle));
            if let (Some(&fader), Some(gain_db)) = (fader, gain_db) {
                faders.push((second, fader, single(gain_db) - fader));
            }
        }
        // Faders are told re the usual of their section: the median gain brings them to one scale.
        faders.sort_by(|a, b| a.2.total_cmp(&b.2));
        let usual_db = faders.get(faders.len() / 2).map_or(0.0, |one| one.2);
        for (second, fader_db, _) in faders {
            if let Some(here) = line.fader_db.get_mut(second) {
                *here = Some(fader_db + usual_db);
            }
        }
        let alone = vec![idx];
        let members = group.map_or(&alone, |group| &group.0);
        // Which of them was open can't be told: the longest account of it holds for all.
        let members_in_mix = members.iter().map(|&member| &mixture.channels[member]);
        let longest = members_in_mix.max_by(|a, b| total_s(&a.on).total_cmp(&total_s(&b.on)));
        line.sections[section] = InSection {
            weight,
            is_heard: members.iter().any(|&member| mixture.channels[member].is_heard),
            is_unclear: channel.is_unclear,
            is_grouped: group.is_some(),
            pan: channel.pan,
            polarity: channel.polarity,
            eq_db: channel.eq_db.clone(),
            eq_most_db: channel.eq_most_db.clone(),
            swing: channel.hand.as_ref().ok().map(|hand| (hand.swing_db, hand.slope)),
            closings_per_min: channel.closings_per_min,
            follows_db: channel.hand.as_ref().ok().map(|hand| hand.follows_db),
            on: longest.map_or_else(Vec::new, |one| one.on.clone()),
            switches: longest.map_or_else(Vec::new, |one| one.switches.clone()),
            told: channel.told.clone(),
        };
    }
}

/// Members of a group, and its place among the groups of the section.
type Group = (Vec<usize>, usize);

/// Mean power of a channel's own recording in a section.
#[expect(clippy::cast_precision_loss, reason = "a section has few seconds")]
fn raw_power(mixture: &Mixture, member: usize) -> f64 {
    let raw = mixture.slots.iter().flat_map(|slot| &slot.raw[member]);
    raw.map(|&x| f64::from(x)).sum::<f64>() / mixture.slots.len().max(1) as f64
}

/// Adds stretches behind others; those that a seam parts are joined.
fn join(all: &mut Vec<Span>, more: &[Span]) {
    for span in more {
        match all.last_mut() {
            Some(last) if span.start_s - last.end_s < SEAM_S => {
                last.end_s = last.end_s.max(span.end_s);
            }
            _ => all.push(*span),
        }
    }
}

/// What a group gives over what its members carry, in dB.
fn of_group_db(slot: &Slot, (members, place): &Group) -> Option<f64> {
    let sum = |powers: &Powers| powers.iter().map(|&x| f64::from(x)).sum::<f64>();
    let raw: f64 = members.iter().map(|&member| sum(&slot.raw[member])).sum();
    let given = sum(&slot.together[*place]);
    (raw > 0.0 && given > 0.0).then(|| 10.0 * (given / raw).log10())
}

/// A second with groups at their first members.
fn joined(slot: &Slot, groups: &[Group]) -> Second {
    let both = |sides: &[Powers; 2]| std::array::from_fn(|band| sides[0][band] + sides[1][band]);
    let mut given: Vec<HeldPowers> =
        slot.given.iter().map(|sides| HeldPowers::new(&both(sides))).collect();
    for (members, place) in groups {
        for &member in members {
            given[member] = HeldPowers::SILENT;
        }
        given[members[0]] = HeldPowers::new(&slot.together[*place]);
    }
    Second { main: both(&slot.main), rest: both(&slot.rest), backing: both(&slot.backing), given }
}

/// The second in which a moment lies that is told to the second.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a time in the session is not negative"
)]
pub(super) fn place(at_s: f64) -> usize {
    at_s.round() as usize
}

#[expect(clippy::cast_possible_truncation, reason = "decibels fit f32")]
fn single(db: f64) -> f32 {
    db as f32
}
