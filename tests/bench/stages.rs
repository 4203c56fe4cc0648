//! Benchmarks of the stages. An item is a second of one channel, so the rate reads in channel-seconds a second.
//!
//! `cargo bench --bench stages`

#[path = "../support/signals.rs"]
#[expect(dead_code, reason = "the benchmarks use a part of the signals")]
mod signals;

use deskside::dsp::Group;
use deskside::measure::clicks::ClickMeter;
use deskside::measure::clipping::FlatTopMeter;
use deskside::measure::dc::DcMeter;
use deskside::measure::howl::{HowlMeter, Look};
use deskside::measure::hum::HumMeter;
use deskside::measure::silence::SilenceMeter;
use deskside::measure::voice::VoiceMeter;
use deskside::measure::{LevelMeter, LoudnessMeter, ThirdsMeter, TruePeakMeter};
use deskside::relate::colour::Patch;
use deskside::relate::grid::Grid;
use deskside::relate::mixture::mixture;
use deskside::relate::separation::separate;
use deskside::relate::spectrogram::{Spectrogram, SpectrogramMeter};
use deskside::relate::twin::TwinMeter;
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use ebur128::{EbuR128, Mode};

const RATE_HZ: u32 = 48_000;
const N_CHANNELS: usize = 8;
const LENGTH_S: u32 = 10;

/// Samples in a block, as they come from the reader: 0.34 s.
const BLOCK: usize = 16_384;

fn main() {
    // As in a review: what a meter does in parallel is not handed over to other threads first.
    rayon::scope(|_| divan::main());
}

/// Channels of programme-like noise.
fn planes() -> Vec<Vec<f32>> {
    (0..N_CHANNELS as u64)
        .map(|seed| signals::programme(seed, RATE_HZ, f64::from(LENGTH_S)))
        .collect()
}

/// Feeds a meter with all channels, block by block.
fn feed(
    bencher: Bencher<'_, '_>,
    meter: impl Fn(&mut dyn FnMut(&mut dyn FnMut(Group<'_>))) + Sync,
) {
    let planes = planes();
    bencher.counter(ItemsCount::new(N_CHANNELS * LENGTH_S as usize)).bench(|| {
        meter(&mut |push| {
            for from in (0..planes[0].len()).step_by(BLOCK) {
                let to = (from + BLOCK).min(planes[0].len());
                let blocks: Vec<&[f32]> = planes.iter().map(|plane| &plane[from..to]).collect();
                push(Group::new(&blocks, RATE_HZ));
            }
        });
    });
}

#[divan::bench]
fn levels(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = LevelMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn loudness(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = LoudnessMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn true_peak(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = TruePeakMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn thirds(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = ThirdsMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn flat_tops(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = FlatTopMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn offset(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = DcMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn dropouts(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = SilenceMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn clicks(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = ClickMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn hum(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = HumMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

/// Howls are looked for in every microphone.
#[divan::bench]
fn howls(bencher: Bencher<'_, '_>) {
    lines(bencher, Look::Howls);
}

/// Rings are looked for where somebody may talk.
#[divan::bench]
fn rings(bencher: Bencher<'_, '_>) {
    lines(bencher, Look::Rings);
}

fn lines(bencher: Bencher<'_, '_>, look: Look) {
    feed(bencher, |run| {
        let mut meter = HowlMeter::new(RATE_HZ, &[look; N_CHANNELS]);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn voice(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = VoiceMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| meter.push(group));
        black_box(meter.finish());
    });
}

#[divan::bench]
fn twins(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = TwinMeter::new(4 * N_CHANNELS);
        run(&mut |group| meter.push(&group.planes().repeat(4)));
        black_box(meter.finish());
    });
}

/// Thinned spectra, as what microphones share and the mix are read from.
#[divan::bench]
fn spectra(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut meter = SpectrogramMeter::new(Grid::short(RATE_HZ), N_CHANNELS);
        meter.begin(0.0);
        run(&mut |group| meter.push(group.planes()));
        black_box(meter.finish());
    });
}

/// Telling as many sources apart in short frames. A review does so once, of sixteen at most, in chosen minutes.
#[divan::bench(args = [8, 16, 32])]
fn separation(bencher: Bencher<'_, '_>, n_sources: usize) {
    let held = held(n_sources + 2);
    let references: Vec<usize> = (0..n_sources).collect();
    bencher
        .counter(ItemsCount::new(n_sources * LENGTH_S as usize))
        .bench(|| black_box(separate(&held, &references, None)));
}

/// Reading back what was done with as many channels, from the spectra of these and of a mix.
#[divan::bench(args = [8, 16, 32])]
fn mix(bencher: Bencher<'_, '_>, n_channels: usize) {
    let held = held(n_channels + 2);
    let patch = Patch {
        channels: (0..n_channels).collect(),
        main: [n_channels, n_channels + 1],
        leads: Vec::new(),
    };
    bencher
        .counter(ItemsCount::new(n_channels * LENGTH_S as usize))
        .bench(|| black_box(mixture(&held, &patch, &[])));
}

/// Spectra of programme-like noise; the last two channels are sums of the others.
fn held(n_channels: usize) -> Spectrogram {
    let length_s = f64::from(LENGTH_S);
    let mut planes: Vec<Vec<f32>> =
        (0..n_channels as u64).map(|seed| signals::programme(seed, RATE_HZ, length_s)).collect();
    let (inputs, sides) = planes.split_at_mut(n_channels - 2);
    for side in sides {
        side.fill(0.0);
        for input in &*inputs {
            side.iter_mut().zip(input).for_each(|(sum, x)| *sum += 0.5 * x);
        }
    }
    let mut meter = SpectrogramMeter::new(Grid::short(RATE_HZ), n_channels);
    meter.begin(0.0);
    meter.push(&planes.iter().map(Vec::as_slice).collect::<Vec<_>>());
    meter.finish()
}

#[divan::bench]
fn all_meters(bencher: Bencher<'_, '_>) {
    feed(bencher, |run| {
        let mut levels = LevelMeter::new(RATE_HZ, N_CHANNELS);
        let mut loudness = LoudnessMeter::new(RATE_HZ, N_CHANNELS);
        let mut true_peak = TruePeakMeter::new(RATE_HZ, N_CHANNELS);
        let mut thirds = ThirdsMeter::new(RATE_HZ, N_CHANNELS);
        run(&mut |group| {
            levels.push(group);
            loudness.push(group);
            true_peak.push(group);
            thirds.push(group);
        });
        black_box((levels.finish(), loudness.finish(), true_peak.finish(), thirds.finish()));
    });
}

/// The independent meter, one a channel, for the same figures as [`loudness`].
#[divan::bench]
fn ebur128_loudness(bencher: Bencher<'_, '_>) {
    independent(bencher, Mode::I | Mode::S | Mode::M | Mode::LRA);
}

/// The independent meter, one a channel, for the same figure as [`true_peak`].
#[divan::bench]
fn ebur128_true_peak(bencher: Bencher<'_, '_>) {
    independent(bencher, Mode::TRUE_PEAK);
}

fn independent(bencher: Bencher<'_, '_>, mode: Mode) {
    let planes = planes();
    bencher.counter(ItemsCount::new(N_CHANNELS * LENGTH_S as usize)).bench(|| {
        for plane in &planes {
            let mut meter = EbuR128::new(1, RATE_HZ, mode).expect("a meter");
            for block in plane.chunks(BLOCK) {
                meter.add_frames_f32(block).expect("samples");
            }
            black_box(meter.loudness_global().ok());
            black_box(meter.true_peak(0).ok());
        }
    });
}
