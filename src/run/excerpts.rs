//! Passages of the main mix to listen to: as they were, and with what a channel gave changed.
//!
//! Takes a session and passages, gives samples. Reads half a minute around each passage and no more; knows the order of the steps,
//! computes nothing itself.

use super::aligned::{Aligned, Clock};
use super::main_facts::sides;
use super::open;
use crate::audio::TrustHeader;
use crate::coach::{Audition, Change};
use crate::measure::excerpt::{loudness_power, matched};
use crate::reading::{MixChannel, Reading};
use crate::relate::blend::{Blend, blend};
use crate::relate::colour::{Patch, SIDES};
use crate::relate::grid::Grid;
use crate::relate::part::Way;
use crate::relate::spectrogram::SpectrogramMeter;
use crate::session::{Role, Session};
use crate::unit::Span;

/// What is read before and after a passage so that the mix can be told, in seconds.
const AROUND_S: f64 = 12.0;

/// From this explained share of its stretch on a passage can be changed honestly.
const EXPLAINED: f64 = 0.9;

/// A passage to listen to.
#[derive(Clone, Debug)]
pub struct Excerpt {
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Both sides as they were; the same twice if the mix is mono.
    pub as_it_was: [Vec<f32>; SIDES],
    /// The same with the change, as loud as before; none where the mix is not explained well enough to be changed.
    pub changed: Option<[Vec<f32>; SIDES]>,
}

/// A passage of the main mix. None where no main mix was recorded, it can't be read again, or somebody sounds in it who is private: a
/// child, a lectern, the talkback.
pub fn excerpt(
    session: &Session,
    reading: &Reading,
    trust: TrustHeader,
    wanted: &Audition,
) -> Option<Excerpt> {
    if is_private(session, reading, wanted.span) {
        return None;
    }
    let opened = open(session, trust).ok()?;
    let channels = opened.channels;
    let main = sides(&channels)?;
    let mut aligned = Aligned::new(opened.recorders, channels.len(), session.rate_hz);
    let mix = reading.mix.as_ref();
    let late_s = mix.and_then(|mix| mix.latency_s.value()).unwrap_or(0.0);
    for side in main {
        match mix.filter(|mix| mix.has_own_clock).and_then(|mix| mix.drift_ppm.value()) {
            Some(ppm) => {
                let late_samples = late_s * f64::from(session.rate_hz);
                aligned.keep_time(side, Some(Clock { late_samples, ppm }));
            }
            None => aligned.shift(side, shift(late_s, session.rate_hz)),
        }
    }
    let lines: Vec<(usize, &MixChannel)> = mix
        .iter()
        .flat_map(|mix| &mix.channels)
        .filter_map(|line| {
            Some((channels.iter().position(|channel| channel.id == line.channel)?, line))
        })
        .collect();
    for &(idx, line) in &lines {
        aligned.shift(idx, -shift(line.insert_s, session.rate_hz));
    }
    let changing = wanted.change.as_ref().and_then(|(id, change, _)| {
        let place = lines.iter().position(|(_, line)| line.channel == *id && line.is_in_mix)?;
        is_explained(reading, wanted.span).then_some((place, *change))
    });
    let Some((place, change)) = changing else {
        let mut as_it_was = [Vec::new(), Vec::new()];
        aligned.read(wanted.span, |planes| keep(&mut as_it_was, planes, main));
        return Some(Excerpt { rate_hz: session.rate_hz, as_it_was, changed: None });
    };
    let around = Span::new(
        (wanted.span.start_s - AROUND_S).max(0.0).floor(),
        (wanted.span.end_s + AROUND_S).min(reading.session.duration_s.ceil()),
    );
    let lines: Vec<usize> = lines.iter().map(|line| line.0).collect();
    let told = Told::read(&mut aligned, &lines, main, session.rate_hz, around, place)?;
    let (from, to) = (
        sample(wanted.span.start_s - around.start_s, session.rate_hz),
        sample(wanted.span.end_s - around.start_s, session.rate_hz),
    );
    let more = told.more(change);
    let part = |of: &[Vec<f32>; SIDES]| {
        [0, 1].map(|side| of[side].get(from..to.min(of[side].len())).unwrap_or(&[]).to_vec())
    };
    let as_it_was = part(&told.main);
    let mut changed = part(&more);
    for (changed, was) in changed.iter_mut().zip(&as_it_was) {
        changed.iter_mut().zip(was).for_each(|(more, was)| *more += was);
    }
    let before = loudness_power(&as_it_was, session.rate_hz);
    matched(&mut changed, before, session.rate_hz);
    Some(Excerpt { rate_hz: session.rate_hz, as_it_was, changed: Some(changed) })
}

/// Words in names of microphones that stand at a lectern.
const LECTERNS: [&str; 7] = ["lectern", "pulpit", "pult", "ambo", "atril", "pupitre", "púlpito"];

/// Whether somebody sounds in a passage whose sound is never given away.
fn is_private(session: &Session, reading: &Reading, span: Span) -> bool {
    reading.channels.iter().any(|channel| {
        let known = session.channels.iter().find(|one| one.id == channel.id);
        let is_child = known.is_some_and(|one| one.note.child == Some(true));
        let name = channel.name.to_lowercase();
        let is_lectern = LECTERNS.iter().any(|word| name.contains(word));
        let is_meant = is_child || is_lectern || channel.role == Role::Talkback;
        is_meant && channel.active.iter().any(|active| active.shared(span).is_some())
    })
}

/// A stretch of the mix, read.
struct Told {
    grid: Grid,
    raw: Vec<f32>,
    main: [Vec<f32>; SIDES],
    blend: Blend,
    place: usize,
}

impl Told {
    fn read(
        aligned: &mut Aligned,
        lines: &[usize],
        main: [usize; SIDES],
        rate_hz: u32,
        around: Span,
        place: usize,
    ) -> Option<Self> {
        let grid = Grid::short(rate_hz);
        let mut meter = SpectrogramMeter::new(grid.clone(), lines.len() + SIDES);
        let mut raw = Vec::new();
        let mut sides = [Vec::new(), Vec::new()];
        meter.begin(around.start_s);
        aligned.read(around, |planes| {
            let all: Vec<&[f32]> = lines.iter().chain(&main).map(|&one| planes[one]).collect();
            meter.push(&all);
            raw.extend_from_slice(planes[lines[place]]);
            keep(&mut sides, planes, main);
        });
        let n = lines.len();
        let patch = Patch { channels: (0..n).collect(), main: [n, n + 1], leads: Vec::new() };
        let blend = blend(&meter.finish(), &patch)?;
        Some(Self { grid, raw, main: sides, blend, place })
    }

    /// What a change adds to both sides.
    fn more(&self, change: Change) -> [Vec<f32>; SIDES] {
        let way =
            Way::of(&self.grid, &self.blend.colours, self.place, |hz| factor(change, hz) - 1.0);
        way.part(&self.raw, &self.blend.course.gains[self.place])
    }
}

/// By what a change multiplies a frequency.
fn factor(change: Change, hz: f64) -> f64 {
    match change {
        Change::Level(db) => 10f64.powf(db / 20.0),
        Change::HighPass(corner_hz) => {
            let ratio = (hz / corner_hz).powi(2);
            ratio / (1.0 + ratio * ratio).sqrt()
        }
        Change::Range(low_hz, high_hz, db) => {
            // Half an octave of slope on either side.
            let outside = if hz < low_hz { low_hz / hz.max(1.0) } else { hz / high_hz };
            let share = (1.0 - outside.max(1.0).log2() / 0.5).max(0.0);
            10f64.powf(db * share / 20.0)
        }
    }
}

fn keep(sides: &mut [Vec<f32>; SIDES], planes: &[&[f32]], main: [usize; SIDES]) {
    for (side, channel) in sides.iter_mut().zip(main) {
        side.extend_from_slice(planes[channel]);
    }
}

/// Whether a passage lies in a stretch that is explained well.
fn is_explained(reading: &Reading, span: Span) -> bool {
    let sections = reading.mix.iter().flat_map(|mix| &mix.sections);
    let mut touched = sections.filter(|section| section.span.shared(span).is_some()).peekable();
    touched.peek().is_some()
        && touched
            .all(|section| section.explained_share.value().is_some_and(|share| share >= EXPLAINED))
}

#[expect(clippy::cast_possible_truncation, reason = "a delay is far below 2^52 samples")]
fn shift(late_s: f64, rate_hz: u32) -> i64 {
    (late_s * f64::from(rate_hz)).round() as i64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a passage is not negative and short"
)]
fn sample(at_s: f64, rate_hz: u32) -> usize {
    (at_s.max(0.0) * f64::from(rate_hz)).round() as usize
}
