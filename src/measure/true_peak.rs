//! # True peak
//!
//! How high the signal rises between its samples: what a converter, a coder or a resampler will meet.
//!
//! - **Formula:** `20 lg max |x(t)|`, where `x(t)` is the band-limited signal through the samples, taken at 16 points a sample
//! - **Unit:** dBTP, 0 is full scale
//! - **Range:** not below the sample peak; up to about 3 dB above it in music, more in odd signals
//! - **Source:** ITU-R BS.1770-5 annex 2, limits of EBU Tech 3341 (+0.2/-0.4 dB); ours stay within 0.1 dB up to 0.45 of the rate
//! - **Window:** the whole recording at its own rate; silence lies before and after it
//! - **No value:** the recording is silent
//! - **Misleads when:** a recording begins or ends within loud sound: the cut itself rings

use crate::dsp::Group;
use crate::dsp::lanes::Isa;
use crate::dsp::oversample::PeakFinder;
use crate::unit::Unmeasured;

/// The highest point of a channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TruePeak {
    /// Its level, in dBTP.
    pub true_peak_dbtp: f64,
    /// When it falls, in seconds from the start of the recording.
    pub at_s: f64,
}

/// Measures [`TruePeak`]; to be fed before any change of rate.
#[derive(Clone, Debug)]
pub struct TruePeakMeter {
    rate_hz: u32,
    finders: Vec<PeakFinder>,
}

impl TruePeakMeter {
    /// A meter for some channels of one rate.
    pub fn new(rate_hz: u32, n_channels: usize) -> Self {
        Self { rate_hz, finders: vec![PeakFinder::new(Isa::best()); n_channels] }
    }

    /// Takes the next samples.
    pub fn push(&mut self, group: Group<'_>) {
        for (finder, plane) in self.finders.iter_mut().zip(group.planes()) {
            finder.push(plane);
        }
    }

    /// The true peaks, one a channel.
    pub fn finish(self) -> Vec<Result<TruePeak, Unmeasured>> {
        let rate_hz = f64::from(self.rate_hz);
        let peaks = self.finders.into_iter().map(|finder| {
            let highest = finder.finish().ok_or(Unmeasured::Silent)?;
            #[expect(clippy::cast_precision_loss, reason = "a count of samples is far below 2^52")]
            let at_s = highest.sample as f64 / rate_hz;
            Ok(TruePeak { true_peak_dbtp: 20.0 * highest.size.log10(), at_s })
        });
        peaks.collect()
    }
}
