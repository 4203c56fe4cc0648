//! # What the operator did
//!
//! The mix of a section as plain data: for each channel its gain second by second, pan, equaliser, when it was open, and what moved its gain.
//!
//! - **Formula:** contribution of channel `k` to a side in a second, `sum |E_k(f)|^2 g_k(t)^2 |x_k(f,t)|^2` (see the reading of a mix); gain:
//!   contribution over the power of the raw channel; pan: `(4/pi) atan2(sqrt R, sqrt L) - 1` of the section; equaliser: mean `|E|^2` of both sides
//!   in a third-octave re the median third-octave; explained share: `1 - power of the rest / power of the mix`
//! - **Unit:** dB; pan -1 (left) to 1 (right); share 0 to 1
//! - **Range:** gains above -20 dB of the mix within 0.3 dB in the median; where channels carry one signal only their group can be told
//! - **Source:** own trials on simulated desks
//! - **Window:** a section of up to two minutes, in slots of a second
//! - **No value:** seconds in which the channel is closed or nothing tells; third-octaves in which it lies more than 20 dB under the mix
//! - **Misleads when:** the explained share is low: something is in the mix that was not recorded, or a setting was changed within the section

use super::blend::{Blend, blend};
use super::colour::Patch;
use super::grid::N_BANDS;
use super::hand::{Hand, Ridden, bus_db, hand};
use super::opened::{Opened, Switched, opened, settled};
use super::shares::{Powers, Slot, shares};
use super::spectrogram::Spectrogram;
use super::torn::torn;
use crate::unit::{Span, Unmeasured};

use rayon::prelude::*;
use realfft::num_complex::Complex64;

/// Channels whose coherence reaches this carry one signal: only their sum can be told.
const ONE_SIGNAL: f64 = 0.9;

/// From this coherence on, what each of two channels gives is told with little certainty.
const UNSURE: f64 = 0.5;

/// A channel this far under the median gain of the others is not in the mix, in dB.
const LEFT_OUT_DB: f64 = -40.0;

/// How alike the phases of a channel's colour are that reaches the mix: those of channels that were closed in simulated mixes stay
/// below.
const IN_PHASE: f64 = 0.6;

/// A filter may turn the phases of a colour round; what gives this much more than what is left unexplained is no chance fit all the same.
const OVER_REST: f64 = 4.0;

/// What is not this far under the median gain of the others, in dB, and gives this share of the mix may well be in it: a fit by chance to
/// what was not recorded looks alike.
const UNCLEAR_DB: f64 = -15.0;
const UNCLEAR_SHARE: f64 = 1e-3;

/// Deviation of a gain up to which a second has a value.
const KNOWN: f32 = 0.35;

/// A third-octave counts for the equaliser if the channel makes this share of the mix there.
const EQ_SHARE: f64 = 0.01;

/// The mix of a section.
#[derive(Clone, Debug)]
pub struct Mixture {
    /// The seconds, in order: powers by third-octave of the mix, the rest, and every channel and group.
    pub slots: Vec<Slot>,
    /// Each channel of the patch, in its order.
    pub channels: Vec<InMix>,
    /// Channels that carry one signal, by their places in `channels`; `Slot::together` stands in the same order.
    pub groups: Vec<Vec<usize>>,
    /// Pairs of places that are told apart with little certainty.
    pub unsure: Vec<[usize; 2]>,
    /// Share of the mix that the channels explain; none in silence.
    pub explained_share: Option<f64>,
    /// For each channel when its way through the desk was changed, if it was, in seconds of the session.
    pub torn_s: Vec<Option<f64>>,
    /// What moves all channels at once, frame by frame, in dB: a compressor on the mix.
    pub bus_db: Vec<f32>,
    /// From frame to frame, in seconds.
    pub hop_s: f64,
}

/// A channel in the mix.
#[derive(Clone, Debug)]
pub struct InMix {
    /// The channel's place in the session.
    pub channel: usize,
    /// Whether it reaches the mix at any time.
    pub is_heard: bool,
    /// Whether it may reach the mix where it does not seem to: too little of it is heard beside what was not recorded.
    pub is_unclear: bool,
    /// Gain to both sides re its raw tap, second by second, in dB.
    pub gain_db: Vec<Option<f64>>,
    /// Pan, -1 to 1.
    pub pan: Option<f64>,
    /// 1, or -1 if the desk inverts it.
    pub polarity: Option<f64>,
    /// When it was open; where nothing tells, as before. Empty if it is not heard.
    pub on: Vec<Span>,
    /// When it can be told whether it was open; gaps up to 2 s are closed.
    pub told: Vec<Span>,
    /// When it was opened or closed, each within a stretch. Empty if it is not heard.
    pub switches: Vec<Switched>,
    /// How often it closed, a minute: more than five is a gate.
    pub closings_per_min: f64,
    /// Equaliser by third-octave, re the median third-octave, in dB.
    pub eq_db: Vec<Option<f64>>,
    /// Where that is not told, what it is at most.
    pub eq_most_db: Vec<Option<f64>>,
    /// What moved the gain.
    pub hand: Result<Hand, Unmeasured>,
}

/// Reads the mix of a section. None without channels or sound.
///
/// `expected_db` holds for each channel the gain that it has elsewhere when it is open, if that is known.
pub fn mixture(held: &Spectrogram, patch: &Patch, expected_db: &[Option<f64>]) -> Option<Mixture> {
    let blend = blend(held, patch)?;
    let hop_s = held.grid().hop_s();
    let n = patch.channels.len();
    let groups = groups(&blend.coherence);
    let is_twin: Vec<bool> =
        (0..n).map(|k| groups.iter().any(|group| group.contains(&k))).collect();
    let states = states(held, patch, &blend, &is_twin, expected_db);
    let gains: Vec<Vec<f32>> = blend
        .course
        .gains
        .iter()
        .zip(&states)
        .map(|(gains, state)| {
            gains.iter().zip(&state.open).map(|(&g, &open)| if open { g } else { 0.0 }).collect()
        })
        .collect();
    let (slots, changes) = shares(held, patch, &blend, &gains, &groups);
    let mut torn = torn(&slots, &changes);
    // Where one of several that carry one signal is closed, the way of the signal changes: that is told of the group.
    torn.iter_mut().zip(&is_twin).filter(|one| *one.1).for_each(|(torn, _)| *torn = None);
    let (polarities, reach) = reaching(held, &blend, &slots, &groups, &states);
    let ridden: Vec<Ridden<'_>> = (0..n)
        .map(|k| Ridden {
            gains: &blend.course.gains[k],
            deviations: &blend.course.deviations[k],
            energy: &blend.energy[k],
            open: &states[k].open,
        })
        .collect();
    let of_bus: Vec<Ridden<'_>> =
        (0..n).filter(|&k| reach[k] == Reach::Heard).map(|k| ridden[k]).collect();
    let mut bus_db = bus_db(&of_bus, hop_s);
    bus_db.resize(held.n_frames(), 0.0);
    let channels = (0..n)
        .into_par_iter()
        .map(|k| {
            let read = Read {
                held,
                blend: &blend,
                slots: &slots,
                state: &states[k],
                gains: &gains[k],
                polarity: polarities[k],
            };
            if torn[k].is_some() {
                return read.unclear(patch.channels[k]);
            }
            read.channel(patch.channels[k], k, reach[k], hand(&ridden[k], &bus_db, hop_s))
        })
        .collect();
    let unsure = pairs_between(&blend.coherence, UNSURE, ONE_SIGNAL);
    let share = |rest: f64, main: f64| (main > 0.0).then(|| 1.0 - rest / main);
    let all = |of: fn(&Slot) -> &[Powers; 2]| slots.iter().map(|slot| both(of(slot))).sum::<f64>();
    let explained_share = share(all(|slot| &slot.rest), all(|slot| &slot.main));
    let torn_s = torn.iter().map(|frame| Some(middle_s(held, (*frame)?) - hop_s)).collect();
    Some(Mixture { channels, groups, unsure, explained_share, torn_s, bus_db, hop_s, slots })
}

/// Whether each channel was open.
fn states(
    held: &Spectrogram,
    patch: &Patch,
    blend: &Blend,
    is_twin: &[bool],
    expected_db: &[Option<f64>],
) -> Vec<Opened> {
    let hop_s = held.grid().hop_s();
    let first = |k: usize| {
        let expected_db = expected_db.get(k).copied().flatten();
        let expected =
            expected_db.and_then(|db| Some(10f64.powf(db / 20.0) / factor(held, patch, blend, k)?));
        opened(&blend.equations, &blend.course.gains, k, hop_s, expected)
    };
    let states = (0..patch.channels.len()).into_par_iter().map(first).collect();
    settled(&blend.equations, states, is_twin, hop_s)
}

/// Whether a channel reaches the mix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reach {
    /// It does.
    Heard,
    /// It does not, in the whole section.
    Closed,
    /// Either.
    Unclear,
}

/// Sign of each channel's colour, and whether the channel reaches the mix: a way through a desk keeps the phases of its colour alike, a
/// chance fit does not.
fn reaching(
    held: &Spectrogram,
    blend: &Blend,
    slots: &[Slot],
    groups: &[Vec<usize>],
    states: &[Opened],
) -> (Vec<Option<f64>>, Vec<Reach>) {
    let n = states.len();
    let of_group = |k: usize| -> Vec<usize> {
        groups.iter().find(|group| group.contains(&k)).cloned().unwrap_or_else(|| vec![k])
    };
    let phases: Vec<(Option<f64>, f64)> =
        (0..n).into_par_iter().map(|k| phases(held, blend, slots, &of_group(k), k)).collect();
    // What each member of a group gives is never known, what all give is.
    let is_known = |k: usize| {
        let known = |slot| known_gain_db(slot, &states[k], &blend.course.deviations[k], k);
        of_group(k).len() > 1 || slots.iter().any(|slot| known(slot).is_some())
    };
    let reach = |(k, re_others_db): (usize, Option<f64>)| {
        let Some(db) = re_others_db.filter(|&db| db > LEFT_OUT_DB && is_known(k)) else {
            return Reach::Closed;
        };
        if phases[k].1 > IN_PHASE || gives_more(slots, k, |slot| &slot.rest, OVER_REST) {
            return Reach::Heard;
        }
        let is_there = gives_more(slots, k, |slot| &slot.main, UNCLEAR_SHARE);
        if db > UNCLEAR_DB && is_there { Reach::Unclear } else { Reach::Closed }
    };
    let reach = gains_re_others_db(slots, n).into_iter().enumerate().map(reach).collect();
    (phases.into_iter().map(|one| one.0).collect(), reach)
}

/// Gain of a channel to both sides where its moving gain is 1; none if it is silent.
#[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
fn factor(held: &Spectrogram, patch: &Patch, blend: &Blend, k: usize) -> Option<f64> {
    let powers = held.bin_powers(patch.channels[k]);
    let (mut raw, mut given) = (0.0, 0.0);
    for band in 0..N_BANDS {
        let bins = held.grid().band(band);
        let stands_for = held.grid().n_in_band(band) as f64 / bins.len().max(1) as f64;
        for bin in bins {
            let colour: f64 = blend.colours.iter().map(|side| side[bin][k].norm_sqr()).sum();
            raw += stands_for * powers[bin];
            given += stands_for * powers[bin] * colour;
        }
    }
    (raw > 0.0 && given > 0.0).then(|| (given / raw).sqrt())
}

/// Middle of a frame, in seconds of the session: a frame lasts two hops.
#[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
fn middle_s(held: &Spectrogram, frame: usize) -> f64 {
    let place = held.stretches().partition_point(|stretch| stretch.0 <= frame).saturating_sub(1);
    let (first, start_s) = held.stretches().get(place).copied().unwrap_or((0, 0.0));
    start_s + (frame - first + 1) as f64 * held.grid().hop_s()
}

/// Channels that are one signal with a channel before them.
fn groups(coherence: &[Vec<f64>]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (a, row) in coherence.iter().enumerate() {
        if groups.iter().any(|group| group.contains(&a)) {
            continue;
        }
        let same = (a + 1..row.len()).filter(|&b| row[b] >= ONE_SIGNAL);
        let group: Vec<usize> = std::iter::once(a).chain(same).collect();
        if group.len() > 1 {
            groups.push(group);
        }
    }
    groups
}

fn pairs_between(coherence: &[Vec<f64>], low: f64, high: f64) -> Vec<[usize; 2]> {
    let n = coherence.len();
    let pairs = (0..n).flat_map(|a| (a + 1..n).map(move |b| [a, b]));
    pairs.filter(|&[a, b]| (low..high).contains(&coherence[a][b])).collect()
}

/// Gain of each channel re the median of all; none where it gives nothing.
fn gains_re_others_db(slots: &[Slot], n: usize) -> Vec<Option<f64>> {
    let gain_db = |k: usize| {
        let sum = |powers: &Powers| powers.iter().map(|&x| f64::from(x)).sum::<f64>();
        let raw: f64 = slots.iter().map(|slot| sum(&slot.raw[k])).sum();
        let given: f64 = slots.iter().map(|slot| slot.given[k].iter().map(sum).sum::<f64>()).sum();
        (raw > 0.0 && given > 0.0).then(|| 10.0 * (given / raw).log10())
    };
    let gains: Vec<Option<f64>> = (0..n).map(gain_db).collect();
    let mut known: Vec<f64> = gains.iter().flatten().copied().collect();
    known.sort_by(f64::total_cmp);
    let usual_db = known.get(known.len() / 2).copied().unwrap_or(0.0);
    gains.into_iter().map(|gain| Some(gain? - usual_db)).collect()
}

/// Whether a channel gives more than so many times the power of something: no chance fit gives more than all that is left unexplained.
fn gives_more(slots: &[Slot], k: usize, than: fn(&Slot) -> &[Powers; 2], times: f64) -> bool {
    let given: f64 = slots.iter().map(|slot| both(&slot.given[k])).sum();
    let power: f64 = slots.iter().map(|slot| both(than(slot))).sum();
    given > times * power
}

/// Power of all third-octaves of both sides.
fn both(sides: &[Powers; 2]) -> f64 {
    sides.iter().flatten().map(|&x| f64::from(x)).sum()
}

/// Gaps between told frames that are closed, in seconds.
const TOLD_GAP_S: f64 = 2.0;

fn widened_gaps(spans: Vec<Span>) -> Vec<Span> {
    let mut joined: Vec<Span> = Vec::new();
    for span in spans {
        match joined.last_mut() {
            Some(last) if span.start_s - last.end_s <= TOLD_GAP_S => last.end_s = span.end_s,
            _ => joined.push(span),
        }
    }
    joined
}

/// Gain of a channel to both sides in a second, if it is open and known for half of it.
fn known_gain_db(slot: &Slot, state: &Opened, deviations: &[f32], k: usize) -> Option<f64> {
    let sum = |powers: &Powers| powers.iter().map(|&x| f64::from(x)).sum::<f64>();
    let [first, end] = slot.frames;
    let n_good = (first..end).filter(|&t| state.open[t] && deviations[t] < KNOWN).count();
    let raw = sum(&slot.raw[k]);
    let given: f64 = slot.given[k].iter().map(sum).sum();
    let is_good = 2 * n_good >= end - first && raw > 0.0 && given > 0.0;
    is_good.then(|| 10.0 * (given / raw).log10())
}

/// Sign of a channel's colours, and how alike their phases are; bins weighted by the pressure of the channel.
/// Members of a group count together.
fn phases(
    held: &Spectrogram,
    blend: &Blend,
    slots: &[Slot],
    members: &[usize],
    k: usize,
) -> (Option<f64>, f64) {
    let (mut sum, mut turns, mut all) = (0.0, Complex64::default(), 0.0);
    for band in 0..N_BANDS {
        let raw: f64 = slots.iter().map(|slot| f64::from(slot.raw[k][band])).sum();
        let weight = raw.sqrt();
        for bin in held.grid().band(band) {
            let sides = blend.colours.iter().flat_map(|side| members.iter().map(|&k| side[bin][k]));
            let both: Complex64 = sides.sum();
            sum += weight * both.re;
            if both.norm() > 0.0 {
                turns += weight * both / both.norm();
                all += weight;
            }
        }
    }
    let alike = if all > 0.0 { turns.norm() / all } else { 0.0 };
    ((sum != 0.0).then(|| sum.signum()), alike)
}

struct Read<'a> {
    held: &'a Spectrogram,
    blend: &'a Blend,
    slots: &'a [Slot],
    state: &'a Opened,
    gains: &'a [f32],
    polarity: Option<f64>,
}

impl Read<'_> {
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    fn channel(
        &self,
        channel: usize,
        k: usize,
        reach: Reach,
        hand: Result<Hand, Unmeasured>,
    ) -> InMix {
        let is_heard = reach == Reach::Heard;
        let hop_s = self.held.grid().hop_s();
        let deviations = &self.blend.course.deviations[k];
        let gain_db =
            |slot: &Slot| known_gain_db(slot, self.state, deviations, k).filter(|_| is_heard);
        let n_closings = self.state.open.windows(2).filter(|two| two[0] && !two[1]).count();
        let minutes = self.gains.len() as f64 * hop_s / 60.0;
        let (eq_db, eq_most_db) = self.eq_db(k, is_heard);
        InMix {
            channel,
            is_heard,
            is_unclear: reach == Reach::Unclear,
            gain_db: self.slots.iter().map(gain_db).collect(),
            pan: self.pan(k).filter(|_| is_heard),
            polarity: self.polarity.filter(|_| is_heard),
            on: if is_heard { self.spans(&self.state.open) } else { Vec::new() },
            told: widened_gaps(self.spans(&self.state.told)),
            switches: if is_heard { self.switches() } else { Vec::new() },
            closings_per_min: n_closings as f64 / minutes.max(f64::MIN_POSITIVE),
            eq_db,
            eq_most_db,
            hand: if is_heard { hand } else { Err(Unmeasured::Because("it is not in the mix")) },
        }
    }

    /// A channel whose way was changed: it is in the mix, and no more is told.
    fn unclear(&self, channel: usize) -> InMix {
        InMix {
            channel,
            is_heard: true,
            is_unclear: false,
            gain_db: vec![None; self.slots.len()],
            pan: None,
            polarity: None,
            on: self.spans(&vec![true; self.gains.len()]),
            told: Vec::new(),
            switches: Vec::new(),
            closings_per_min: 0.0,
            eq_db: vec![None; N_BANDS],
            eq_most_db: vec![None; N_BANDS],
            hand: Err(Unmeasured::Because("its tone or its pan was changed on the way")),
        }
    }

    fn pan(&self, k: usize) -> Option<f64> {
        let side = |side: usize| {
            self.slots.iter().flat_map(|slot| slot.given[k][side]).map(f64::from).sum::<f64>()
        };
        let (left, right) = (side(0), side(1));
        (left + right > 0.0)
            .then(|| 4.0 / std::f64::consts::PI * right.sqrt().atan2(left.sqrt()) - 1.0)
    }

    /// The switches, in seconds: a border lies half a hop before the middle of the first frame behind it.
    fn switches(&self) -> Vec<Switched> {
        let border_s = |frame: usize| middle_s(self.held, frame) - self.held.grid().hop_s() / 2.0;
        let switches = self.state.switches.iter();
        switches
            .map(|one| Switched {
                opens: one.opens,
                within: Span::new(border_s(one.earliest), border_s(one.latest)),
            })
            .collect()
    }

    /// Stretches of the frames for which something holds.
    fn spans(&self, holds: &[bool]) -> Vec<Span> {
        let half_s = self.held.grid().hop_s() / 2.0;
        let starts: Vec<usize> = self.held.stretches().iter().map(|stretch| stretch.0).collect();
        let mut spans: Vec<Span> = Vec::new();
        for (frame, _) in holds.iter().enumerate().filter(|one| *one.1) {
            let middle_s = middle_s(self.held, frame);
            // The first frame of a stretch begins with it.
            let is_first = starts.contains(&frame);
            let from_s = middle_s - if is_first { 2.0 * half_s } else { half_s };
            match spans.last_mut() {
                Some(last) if from_s - last.end_s < half_s => last.end_s = middle_s + half_s,
                _ => spans.push(Span::new(from_s, middle_s + half_s)),
            }
        }
        spans
    }

    /// The equaliser by third-octave, and bounds for those in which the channel is too soft to tell.
    #[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
    fn eq_db(&self, k: usize, is_heard: bool) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
        let sum =
            |of: &dyn Fn(&Slot) -> f32| self.slots.iter().map(|s| f64::from(of(s))).sum::<f64>();
        // Mean factor, and its share of what would just be told.
        let of_band = |band: usize| {
            let given = sum(&|slot| slot.given[k][0][band] + slot.given[k][1][band]);
            let main = sum(&|slot| slot.main[0][band] + slot.main[1][band]);
            let bins = self.held.grid().band(band);
            let n = bins.len().max(1) as f64;
            let sides = bins.flat_map(|bin| self.blend.colours.iter().map(move |side| &side[bin]));
            let mean = sides.map(|colours| colours[k].norm_sqr()).sum::<f64>() / n;
            let is_there = is_heard && given > 0.0 && main > 0.0 && mean > 0.0;
            is_there.then(|| (10.0 * mean.log10(), given / (EQ_SHARE * main)))
        };
        let bands: Vec<Option<(f64, f64)>> = (0..N_BANDS).map(of_band).collect();
        let mut known: Vec<f64> =
            bands.iter().flatten().filter(|band| band.1 > 1.0).map(|band| band.0).collect();
        known.sort_by(f64::total_cmp);
        let Some(usual) = known.get(known.len() / 2).copied() else {
            return (vec![None; N_BANDS], vec![None; N_BANDS]);
        };
        let told = |band: &Option<(f64, f64)>| {
            band.filter(|&(_, share)| share > 1.0).map(|(mean_db, _)| mean_db - usual)
        };
        let most = |band: &Option<(f64, f64)>| {
            let soft = band.filter(|&(_, share)| share <= 1.0);
            soft.map(|(mean_db, share)| mean_db - 10.0 * share.log10() - usual)
        };
        (bands.iter().map(told).collect(), bands.iter().map(most).collect())
    }
}
