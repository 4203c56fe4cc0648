//! Seeded white noise, for tests that need signals without a shape.

/// A xorshift generator after G. Marsaglia, "Xorshift RNGs", 2003.
pub(crate) struct Noise(u64);

impl Noise {
    pub(crate) fn new(seed: u64) -> Self {
        let mut noise = Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        (0..8).for_each(|_| {
            noise.next();
        });
        noise
    }

    /// The next sample, evenly spread over -0.1 to 0.1.
    pub(crate) fn next(&mut self) -> f32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        ((self.0 >> 40) as f64 / f64::from(1u32 << 23) - 1.0) as f32 * 0.1
    }

    pub(crate) fn samples(&mut self, n_samples: usize) -> Vec<f32> {
        (0..n_samples).map(|_| self.next()).collect()
    }
}
