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
//! - **Window:** a section of up to five minutes, in slots of a second
//! - **No value:** seconds in which the channel is closed or nothing tells; third-octaves in which it lies more than 20 dB under the mix
//! - **Misleads when:** the explained share is low: something is in the mix that was not recorded, or a setting was changed within the section

use super::blend::{Blend, blend};
use super::colour::Patch;
use super::grid::N_BANDS;
use super::hand::{Hand, Ridden, bus_db, hand};
use super::opened::{Opened, opened};
use super::shares::{Powers, Slot, shares};
use super::spectrogram::Spectrogram;
use crate::unit::{Span, Unmeasured};

/// Channels whose coherence reaches this carry one signal: only their sum can be told.
const ONE_SIGNAL: f64 = 0.9;

/// From this coherence on, what each of two channels gives is told with little certainty.
const UNSURE: f64 = 0.5;

/// A channel this far under the median gain of the others is not in the mix, in dB.
const LEFT_OUT_DB: f64 = -40.0;

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
    /// Share of the mix that the channels explain, second by second; none in silence.
    pub explained: Vec<Option<f64>>,
    /// The same of the whole section.
    pub explained_share: Option<f64>,
    /// What moves all channels at once, frame by frame, in dB: a compressor on the mix.
    pub bus_db: Vec<f32>,
    /// Middle of each frame, in seconds of the session.
    pub frame_s: Vec<f64>,
}

/// A channel in the mix.
#[derive(Clone, Debug)]
pub struct InMix {
    /// The channel's place in the session.
    pub channel: usize,
    /// Whether it reaches the mix at any time.
    pub is_heard: bool,
    /// Gain to the left re its raw tap, second by second, in dB.
    pub gain_left_db: Vec<Option<f64>>,
    /// The same to the right.
    pub gain_right_db: Vec<Option<f64>>,
    /// The same of both sides' power together.
    pub gain_db: Vec<Option<f64>>,
    /// Pan, -1 to 1.
    pub pan: Option<f64>,
    /// 1, or -1 if the desk inverts it.
    pub polarity: Option<f64>,
    /// When it was open; where nothing tells, as before. Empty if it is not heard.
    pub on: Vec<Span>,
    /// Time in which it can be told whether it was open, in seconds.
    pub told_s: f64,
    /// How often it closed, a minute: more than five is a gate.
    pub closings_per_min: f64,
    /// Equaliser by third-octave, re the median third-octave, in dB.
    pub eq_db: Vec<Option<f64>>,
    /// Gain frame by frame re the usual of the section, in dB, where it is open and known.
    pub fast_db: Vec<Option<f32>>,
    /// What moved the gain.
    pub hand: Result<Hand, Unmeasured>,
}

/// Reads the mix of a section. None without channels or sound.
pub fn mixture(held: &Spectrogram, patch: &Patch) -> Option<Mixture> {
    let blend = blend(held, patch)?;
    let hop_s = held.grid().hop_s();
    let n = patch.channels.len();
    let states: Vec<Opened> =
        (0..n).map(|k| opened(&blend.equations, &blend.course.gains, k, hop_s)).collect();
    let gains: Vec<Vec<f32>> = blend
        .course
        .gains
        .iter()
        .zip(&states)
        .map(|(gains, state)| {
            gains.iter().zip(&state.open).map(|(&g, &open)| if open { g } else { 0.0 }).collect()
        })
        .collect();
    let groups = groups(&blend.coherence);
    let slots = shares(held, patch, &blend, &gains, &groups);
    let is_heard = heard(&slots, n);
    let ridden: Vec<Ridden<'_>> = (0..n)
        .map(|k| Ridden {
            gains: &blend.course.gains[k],
            deviations: &blend.course.deviations[k],
            energy: &blend.energy[k],
            open: &states[k].open,
        })
        .collect();
    let of_bus: Vec<Ridden<'_>> = (0..n).filter(|&k| is_heard[k]).map(|k| ridden[k]).collect();
    let mut bus_db = bus_db(&of_bus, hop_s);
    bus_db.resize(held.n_frames(), 0.0);
    let channels = (0..n)
        .map(|k| {
            let hand = hand(&ridden[k], &bus_db, hop_s);
            let read =
                Read { held, blend: &blend, slots: &slots, state: &states[k], gains: &gains[k] };
            read.channel(patch.channels[k], k, is_heard[k], hand)
        })
        .collect();
    let unsure = pairs_between(&blend.coherence, UNSURE, ONE_SIGNAL);
    let sum = |sides: &[Powers; 2]| sides.iter().flatten().map(|&x| f64::from(x)).sum::<f64>();
    let share = |rest: f64, main: f64| (main > 0.0).then(|| 1.0 - rest / main);
    let explained = slots.iter().map(|slot| share(sum(&slot.rest), sum(&slot.main))).collect();
    let all = |of: fn(&Slot) -> &[Powers; 2]| slots.iter().map(|slot| sum(of(slot))).sum::<f64>();
    let explained_share = share(all(|slot| &slot.rest), all(|slot| &slot.main));
    let frame_s = (0..held.n_frames()).map(|frame| middle_s(held, frame)).collect();
    Some(Mixture { channels, groups, unsure, explained, explained_share, bus_db, frame_s, slots })
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

/// Whether each channel reaches the mix at all.
fn heard(slots: &[Slot], n: usize) -> Vec<bool> {
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
    gains.iter().map(|gain| gain.is_some_and(|gain| gain > usual_db + LEFT_OUT_DB)).collect()
}

struct Read<'a> {
    held: &'a Spectrogram,
    blend: &'a Blend,
    slots: &'a [Slot],
    state: &'a Opened,
    gains: &'a [f32],
}

impl Read<'_> {
    #[expect(clippy::cast_precision_loss, reason = "a count of frames is far below 2^52")]
    fn channel(
        &self,
        channel: usize,
        k: usize,
        is_heard: bool,
        hand: Result<Hand, Unmeasured>,
    ) -> InMix {
        let hop_s = self.held.grid().hop_s();
        let slots = self.slots.iter();
        let of_slots = |sides: &[usize]| -> Vec<Option<f64>> {
            slots.clone().map(|slot| self.gain_db(slot, k, sides).filter(|_| is_heard)).collect()
        };
        let n_closings = self.state.open.windows(2).filter(|two| two[0] && !two[1]).count();
        let minutes = self.gains.len() as f64 * hop_s / 60.0;
        let deviations = &self.blend.course.deviations[k];
        let fast = |(&gain, &deviation): (&f32, &f32)| {
            (is_heard && gain > 0.0 && deviation < KNOWN).then(|| 20.0 * gain.log10())
        };
        InMix {
            channel,
            is_heard,
            gain_left_db: of_slots(&[0]),
            gain_right_db: of_slots(&[1]),
            gain_db: of_slots(&[0, 1]),
            pan: self.pan(k).filter(|_| is_heard),
            polarity: self.polarity(k).filter(|_| is_heard),
            on: if is_heard { self.on() } else { Vec::new() },
            told_s: self.state.told.iter().filter(|&&told| told).count() as f64 * hop_s,
            closings_per_min: n_closings as f64 / minutes.max(f64::MIN_POSITIVE),
            eq_db: self.eq_db(k, is_heard),
            fast_db: self.gains.iter().zip(deviations).map(fast).collect(),
            hand: if is_heard { hand } else { Err(Unmeasured::Because("it is not in the mix")) },
        }
    }

    /// Gain to some sides, if the channel is open and known for half of the second.
    fn gain_db(&self, slot: &Slot, k: usize, sides: &[usize]) -> Option<f64> {
        let sum = |powers: &Powers| powers.iter().map(|&x| f64::from(x)).sum::<f64>();
        let [first, end] = slot.frames;
        let deviations = &self.blend.course.deviations[k];
        let n_good = (first..end).filter(|&t| self.state.open[t] && deviations[t] < KNOWN).count();
        let raw = sum(&slot.raw[k]);
        let given: f64 = sides.iter().map(|&side| sum(&slot.given[k][side])).sum();
        let is_good = 2 * n_good >= end - first && raw > 0.0 && given > 0.0;
        is_good.then(|| 10.0 * (given / raw).log10())
    }

    fn pan(&self, k: usize) -> Option<f64> {
        let side = |side: usize| {
            self.slots.iter().flat_map(|slot| slot.given[k][side]).map(f64::from).sum::<f64>()
        };
        let (left, right) = (side(0), side(1));
        (left + right > 0.0)
            .then(|| 4.0 / std::f64::consts::PI * right.sqrt().atan2(left.sqrt()) - 1.0)
    }

    /// Sign of the colours, bins weighted by what the channel gives.
    fn polarity(&self, k: usize) -> Option<f64> {
        let mut sum = 0.0;
        for band in 0..N_BANDS {
            let raw: f64 = self.slots.iter().map(|slot| f64::from(slot.raw[k][band])).sum();
            for bin in self.held.grid().band(band) {
                for colours in &self.blend.colours {
                    sum += raw.sqrt() * colours[bin][k].re;
                }
            }
        }
        (sum != 0.0).then(|| sum.signum())
    }

    fn on(&self) -> Vec<Span> {
        let half_s = self.held.grid().hop_s() / 2.0;
        let starts: Vec<usize> = self.held.stretches().iter().map(|stretch| stretch.0).collect();
        let mut on: Vec<Span> = Vec::new();
        for (frame, _) in self.state.open.iter().enumerate().filter(|one| *one.1) {
            let middle_s = middle_s(self.held, frame);
            // The first frame of a stretch begins with it.
            let is_first = starts.contains(&frame);
            let from_s = middle_s - if is_first { 2.0 * half_s } else { half_s };
            match on.last_mut() {
                Some(last) if from_s - last.end_s < half_s => last.end_s = middle_s + half_s,
                _ => on.push(Span::new(from_s, middle_s + half_s)),
            }
        }
        on
    }

    #[expect(clippy::cast_precision_loss, reason = "a band keeps a few bins")]
    fn eq_db(&self, k: usize, is_heard: bool) -> Vec<Option<f64>> {
        let sum =
            |of: &dyn Fn(&Slot) -> f32| self.slots.iter().map(|s| f64::from(of(s))).sum::<f64>();
        let of_band = |band: usize| {
            let given = sum(&|slot| slot.given[k][0][band] + slot.given[k][1][band]);
            let main = sum(&|slot| slot.main[0][band] + slot.main[1][band]);
            let bins = self.held.grid().band(band);
            let n = bins.len().max(1) as f64;
            let sides = bins.flat_map(|bin| self.blend.colours.iter().map(move |side| &side[bin]));
            let mean = sides.map(|colours| colours[k].norm_sqr()).sum::<f64>() / n;
            (is_heard && given > EQ_SHARE * main && mean > 0.0).then(|| 10.0 * mean.log10())
        };
        let bands: Vec<Option<f64>> = (0..N_BANDS).map(of_band).collect();
        let mut known: Vec<f64> = bands.iter().flatten().copied().collect();
        known.sort_by(f64::total_cmp);
        let usual = known.get(known.len() / 2).copied().unwrap_or(0.0);
        bands.iter().map(|band| band.map(|band| band - usual)).collect()
    }
}
