//! Facts of the mix that the audience hears.

use super::stream::Measured;
use crate::measure::programme::{integrated_over, together};
use crate::measure::{Thirds, Trace, tone};
use crate::reading::{Channel, Jump, MainMix, Segment, SegmentKind, SongLoudness};
use crate::relate::main_mix;
use crate::session::{Role, SessionChannel, Side};
use crate::unit::{Fact, Span, Unmeasured};

/// Loudness within a segment is exact; that the segment is what it is called is not.
fn sure(segments: &[&Segment]) -> f64 {
    segments.iter().map(|segment| segment.confidence).fold(1.0, f64::min)
}

/// Third-octaves of the middle range: 250 Hz to 3150 Hz, 224 to 3548 Hz.
const MIDDLE: std::ops::Range<usize> = 10..22;

/// Left and right of the main mix; the same twice if it is mono.
pub(super) fn sides(channels: &[SessionChannel]) -> Option<[usize; 2]> {
    let is_main = |idx: &usize| channels[*idx].role == Role::Main;
    let mains: Vec<usize> = (0..channels.len()).filter(is_main).collect();
    let left = mains
        .iter()
        .copied()
        .find(|&idx| channels[idx].side != Some(Side::Right))
        .or_else(|| mains.first().copied())?;
    Some([left, channels[left].partner.filter(|idx| mains.contains(idx)).unwrap_or(left)])
}

/// The places of both sides; one of a mono mix.
pub(super) fn apart([left, right]: [usize; 2]) -> Vec<usize> {
    let right = Some(right).filter(|right| *right != left);
    std::iter::once(left).chain(right).collect()
}

/// The main mix, of which the places of left and right are given; the same twice if it is mono.
pub(super) fn main_mix(
    channels: &[Channel],
    sides: [usize; 2],
    measured: &Measured,
    segments: &[Segment],
) -> MainMix {
    let sides = apart(sides);
    let left = sides[0];
    let k: Vec<&Trace> = sides.iter().map(|&idx| &measured.common[idx].loudness.k_power).collect();
    let songs: Vec<&Segment> =
        segments.iter().filter(|segment| segment.kind == SegmentKind::Song).collect();
    let talks: Vec<&Segment> =
        segments.iter().filter(|segment| segment.kind == SegmentKind::Talk).collect();
    let whole = together(&k);
    let folds: Vec<SongLoudness> =
        songs.iter().map(|song| song_loudness(song, &k, &sides, measured)).collect();
    let worst = |pick: fn(&SongLoudness) -> &Fact| worst(folds.iter().map(pick));
    let lean = lean(&k);
    MainMix {
        left: channels[left].id.clone(),
        right: sides.get(1).map(|&idx| channels[idx].id.clone()),
        integrated_lufs: Fact::from_result(whole.integrated_lufs, 1.0),
        loudness_range_lu: Fact::from_result(whole.range_lu, 1.0),
        true_peak_dbtp: true_peak(channels, &sides),
        mono_fold_lu: worst(|song| &song.mono_fold_lu),
        mono_fold_mid_lu: worst(|song| &song.mono_fold_mid_lu),
        lean_s: lean.as_ref().map_or(0.0, |lean| lean.far_s),
        lean_lu: Fact::from_result(lean.map(|lean| lean.median_lu), 1.0),
        tilt_db_per_octave: tilt(&sides, measured, &songs),
        squashed_percent: squashed(left, measured, &songs),
        speech_vs_song_lu: speech_vs_song(&k, &talks, &songs),
        speech_s: talks.iter().map(|talk| talk.span.length_s()).sum(),
        creep_db_per_hour: creep(&folds, &songs),
        jumps: jumps(&k, segments),
        songs: folds,
    }
}

fn true_peak(channels: &[Channel], sides: &[usize]) -> Fact {
    let highest =
        sides.iter().filter_map(|&idx| channels[idx].true_peak_dbtp.value()).max_by(f64::total_cmp);
    highest.map_or(Fact::missing(Unmeasured::Silent), Fact::exact)
}

fn lean(k: &[&Trace]) -> Result<main_mix::Lean, Unmeasured> {
    match k {
        [left, right] => main_mix::lean(left, right),
        _ => Err(Unmeasured::NotRecorded("the other side of the main mix")),
    }
}

fn song_loudness(
    song: &Segment,
    k: &[&Trace],
    sides: &[usize],
    measured: &Measured,
) -> SongLoudness {
    let one = || Unmeasured::NotRecorded("the other side of the main mix");
    let (fold, fold_middle) = match (k, &measured.mid) {
        ([left, right], Some(mid)) => (
            main_mix::mono_fold_lu(left, right, &mid.loudness.k_power, &[song.span]),
            fold_middle(sides, measured, &mid.thirds, song.span),
        ),
        _ => (Err(one()), Err(one())),
    };
    SongLoudness {
        title: song.title.clone(),
        span: song.span,
        loudness_lufs: Fact::from_result(integrated_over(k, &[song.span]), song.confidence),
        mono_fold_lu: Fact::from_result(fold, song.confidence),
        mono_fold_mid_lu: Fact::from_result(fold_middle, song.confidence),
    }
}

fn fold_middle(
    sides: &[usize],
    measured: &Measured,
    mid: &Thirds,
    span: Span,
) -> Result<f64, Unmeasured> {
    let power = |thirds: &Thirds| -> Result<f64, Unmeasured> {
        let tone = tone::tone(thirds, &[span])?;
        let middle =
            tone.powers.get(MIDDLE).ok_or(Unmeasured::Because("the sample rate is too low"))?;
        Ok(middle.iter().sum())
    };
    let of_side = |side: usize| power(&measured.common[sides[side]].thirds);
    main_mix::mono_fold_of_powers_db(of_side(0)?, of_side(1)?, power(mid)?)
}

/// The lowest value; where there is none, the first reason.
fn worst<'a>(facts: impl Iterator<Item = &'a Fact>) -> Fact {
    let facts: Vec<&Fact> = facts.collect();
    let lowest = facts
        .iter()
        .filter_map(|fact| Some((fact.value()?, fact)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    match (lowest, facts.first()) {
        (Some((_, fact)), _) => (*fact).clone(),
        (None, Some(fact)) => (*fact).clone(),
        (None, None) => Fact::missing(NO_SONG),
    }
}

/// Why figures of songs are missing.
const NO_SONG: Unmeasured = Unmeasured::Because("no song was found");

fn tilt(sides: &[usize], measured: &Measured, songs: &[&Segment]) -> Fact {
    let spans: Vec<Span> = songs.iter().map(|song| song.span).collect();
    if spans.is_empty() {
        return Fact::missing(NO_SONG);
    }
    let tones: Result<Vec<tone::Tone>, Unmeasured> =
        sides.iter().map(|&idx| tone::tone(&measured.common[idx].thirds, &spans)).collect();
    let slope = tones.and_then(|tones| {
        let mut both = tones[0].clone();
        for other in &tones[1..] {
            for (power, more) in both.powers.iter_mut().zip(&other.powers) {
                *power += more;
            }
        }
        both.tilt_db_per_octave()
    });
    Fact::from_result(slope, sure(songs))
}

fn squashed(left: usize, measured: &Measured, songs: &[&Segment]) -> Fact {
    let spans: Vec<Span> = songs.iter().map(|song| song.span).collect();
    if spans.is_empty() {
        return Fact::missing(NO_SONG);
    }
    let levels = &measured.common[left].levels;
    Fact::from_result(main_mix::squashed_percent(levels, &spans), sure(songs))
}

fn speech_vs_song(k: &[&Trace], talks: &[&Segment], songs: &[&Segment]) -> Fact {
    let spans = |segments: &[&Segment]| -> Vec<Span> {
        segments.iter().map(|segment| segment.span).collect()
    };
    if songs.is_empty() {
        return Fact::missing(NO_SONG);
    }
    if talks.is_empty() {
        return Fact::missing(Unmeasured::Because("no talk to the audience was found"));
    }
    let difference = integrated_over(k, &spans(talks))
        .and_then(|talk| Ok(talk - integrated_over(k, &spans(songs))?));
    Fact::from_result(difference, sure(talks).min(sure(songs)))
}

fn creep(loudness: &[SongLoudness], songs: &[&Segment]) -> Fact {
    let points: Vec<(f64, f64)> = loudness
        .iter()
        .filter_map(|song| {
            Some((0.5 * (song.span.start_s + song.span.end_s), song.loudness_lufs.value()?))
        })
        .collect();
    Fact::from_result(main_mix::creep_db_per_hour(&points), sure(songs))
}

/// Steps of loudness between neighbouring segments of programme.
fn jumps(k: &[&Trace], segments: &[Segment]) -> Vec<Jump> {
    let is_programme = |segment: &Segment| {
        matches!(segment.kind, SegmentKind::Song | SegmentKind::Talk | SegmentKind::Playback)
    };
    let is_music =
        |segment: &Segment| matches!(segment.kind, SegmentKind::Song | SegmentKind::Playback);
    let programme: Vec<&Segment> = segments.iter().filter(|one| is_programme(one)).collect();
    programme
        .windows(2)
        .filter(|pair| pair[1].span.start_s - pair[0].span.end_s < NEIGHBOURS_S)
        .map(|pair| {
            let [before, after] = [pair[0], pair[1]];
            Jump {
                at_s: after.span.start_s,
                from_to: format!("{} to {}", before.kind.word(), after.kind.word()),
                like_to_like: before.kind == after.kind || (is_music(before) && is_music(after)),
                step_lu: Fact::from_result(
                    main_mix::jump_lu(k, before.span, after.span),
                    before.confidence.min(after.confidence),
                ),
            }
        })
        .collect()
}

/// Segments this near to each other follow each other, in seconds, applause between them included: a longer pause takes the edge off a
/// step (common practice).
const NEIGHBOURS_S: f64 = 10.0;
