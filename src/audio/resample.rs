//! Brings planes to another sample rate.
//!
//! Takes blocks of any length, gives what is ready so far; output sample `n` stands at the time `n / to_hz`. The
//! result does not depend on how blocks are cut. Never used where a measure must see the samples as recorded.

use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{Fft, FixedSync, Resampler as _};

/// Least frames of a transform on either side. The filter is as long: from 44.1 kHz on it leaves 0 to 20 kHz
/// untouched.
const MIN_BLOCK: usize = 1_024;

/// Most frames of a transform on either side. Two rates without a common measure need twice as many as their
/// hertz: 44 101 to 48 000 Hz can be done, with 0.5 MB for each channel; beyond 50 kHz no recorder has such a rate.
const MAX_BLOCK: usize = 100_000;

/// A streaming resampler for planes of equal length.
pub struct Resampler {
    /// `None` where the rates are equal.
    fft: Option<Fft<f32>>,
    from_hz: u64,
    to_hz: u64,
    n_channels: usize,
    /// Input frames of a transform.
    block: usize,
    input: Vec<Vec<f32>>,
    output: Vec<Vec<f32>>,
    /// Output frames still to be dropped: the delay of the filter.
    n_drop: usize,
    n_in: u64,
    n_out: u64,
}

impl Resampler {
    /// A resampler from one rate to another.
    ///
    /// # Errors
    ///
    /// A clause with the reason if a rate is 0, or if the common measure of the rates is so small that the transform
    /// would need too much memory (192 001 and 48 000 Hz).
    pub fn new(from_hz: u32, to_hz: u32, n_channels: usize) -> Result<Self, String> {
        if from_hz == 0 || to_hz == 0 {
            return Err("a sample rate of 0 Hz can't be converted".to_owned());
        }
        let common = gcd(from_hz, to_hz);
        let (step_in, step_out) = ((from_hz / common) as usize, (to_hz / common) as usize);
        // An even number of steps: the filter's delay is then a whole number of samples at both rates.
        let n_steps = MIN_BLOCK.div_ceil(step_in.min(step_out)).next_multiple_of(2);
        let block = step_in * n_steps;
        if block.max(step_out * n_steps) > MAX_BLOCK {
            return Err(format!(
                "{from_hz} Hz can't be converted to {to_hz} Hz: the rates have no common measure"
            ));
        }
        let mut resampler = Self {
            fft: None,
            from_hz: u64::from(from_hz),
            to_hz: u64::from(to_hz),
            n_channels,
            block,
            input: vec![Vec::with_capacity(block); n_channels],
            output: Vec::new(),
            n_drop: 0,
            n_in: 0,
            n_out: 0,
        };
        if from_hz != to_hz && n_channels > 0 {
            let (from, to) = (from_hz as usize, to_hz as usize);
            let fft = Fft::new(from, to, block, n_channels, FixedSync::Both)
                .map_err(|error| error.to_string())?;
            resampler.n_drop = fft.output_delay();
            resampler.output = vec![vec![0.0; fft.output_frames_next()]; n_channels];
            resampler.fft = Some(fft);
        }
        Ok(resampler)
    }

    /// Takes a block and appends what is ready to the planes of the output.
    ///
    /// # Panics
    ///
    /// If the planes are not one for each channel, or differ in length.
    pub fn push(&mut self, input: &[&[f32]], output: &mut [Vec<f32>]) {
        assert_eq!(input.len(), self.n_channels, "an input plane for each channel is needed");
        assert_eq!(output.len(), self.n_channels, "an output plane for each channel is needed");
        let n_frames = input.first().map_or(0, |plane| plane.len());
        assert!(input.iter().all(|plane| plane.len() == n_frames), "planes are equally long");
        self.n_in += n_frames as u64;
        if self.fft.is_none() {
            for (plane, from) in output.iter_mut().zip(input) {
                plane.extend_from_slice(from);
            }
            return;
        }
        let mut n_done = 0;
        while n_done < n_frames {
            let n_now = (self.block - self.n_waiting()).min(n_frames - n_done);
            for (waiting, plane) in self.input.iter_mut().zip(input) {
                waiting.extend_from_slice(&plane[n_done..n_done + n_now]);
            }
            n_done += n_now;
            if self.n_waiting() == self.block {
                self.transform(u64::MAX, output);
            }
        }
    }

    /// Appends the rest: in all `ceil(n * to_hz / from_hz)` frames for the `n` frames that came in.
    ///
    /// # Panics
    ///
    /// If there is not one output plane for each channel.
    pub fn finish(mut self, output: &mut [Vec<f32>]) {
        assert_eq!(output.len(), self.n_channels, "an output plane for each channel is needed");
        if self.fft.is_none() {
            return;
        }
        let n_total = (self.n_in * self.to_hz).div_ceil(self.from_hz);
        while self.n_out < n_total {
            for waiting in &mut self.input {
                waiting.resize(self.block, 0.0);
            }
            self.transform(n_total, output);
        }
    }

    fn n_waiting(&self) -> usize {
        self.input.first().map_or(0, Vec::len)
    }

    /// Converts one full block; gives output up to `n_total` frames in all.
    fn transform(&mut self, n_total: u64, output: &mut [Vec<f32>]) {
        let Some(fft) = &mut self.fft else { return };
        let n_fresh = self.output[0].len();
        let from = SequentialSliceOfVecs::new(&self.input, self.n_channels, self.block)
            .expect("the input holds a full block");
        let mut to = SequentialSliceOfVecs::new_mut(&mut self.output, self.n_channels, n_fresh)
            .expect("the output holds a full block");
        fft.process_into_buffer(&from, &mut to, None).expect("both blocks have the asked sizes");
        let n_drop = self.n_drop.min(n_fresh);
        self.n_drop -= n_drop;
        let n_room = usize::try_from(n_total - self.n_out).unwrap_or(usize::MAX);
        let n_given = (n_fresh - n_drop).min(n_room);
        for (plane, fresh) in output.iter_mut().zip(&self.output) {
            plane.extend_from_slice(&fresh[n_drop..n_drop + n_given]);
        }
        self.n_out += n_given as u64;
        self.input.iter_mut().for_each(Vec::clear);
    }
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}
