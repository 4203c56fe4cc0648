//! Random numbers that are the same on every machine.
//!
//! Takes a seed, gives a stream of numbers. Never reads a clock or the machine.

/// A stream of random numbers: a 64-bit counter scrambled by the finaliser of Steele, Lea and Flood,
/// "Fast splittable pseudorandom number generators", OOPSLA 2014 (constants from memory).
#[derive(Clone, Debug)]
pub struct Random {
    state: u64,
}

impl Random {
    /// Step of the counter: 2^64 over the golden ratio, made odd.
    const STEP: u64 = 0x9E37_79B9_7F4A_7C15;

    /// The stream of a seed.
    pub const fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// The stream number `branch` of a seed: streams of one seed have nothing to do with each other.
    pub fn branch(seed: u64, branch: u64) -> Self {
        Self { state: Self::new(seed ^ Self::new(branch).next_u64()).next_u64() }
    }

    /// 64 random bits.
    pub const fn next_u64(&mut self) -> u64 {
        self.state = self.state.wrapping_add(Self::STEP);
        let mut bits = self.state;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        bits ^ (bits >> 31)
    }

    /// A number from 0 to below 1, all equally likely.
    pub fn unit(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A number from -1 to below 1, all equally likely.
    pub fn signed(&mut self) -> f64 {
        2.0 * self.unit() - 1.0
    }

    /// A number from `low` to below `high`, all equally likely.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A number that scatters around 0 like a bell curve with a standard deviation of 1, never beyond 3.5.
    ///
    /// Sum of four even scatters: near enough to a normal curve for a player's timing and touch.
    pub fn bell(&mut self) -> f64 {
        // Each term has a variance of 1/3, so the sum has 4/3.
        (self.signed() + self.signed() + self.signed() + self.signed()) * 0.75_f64.sqrt()
    }

    /// One of the items.
    ///
    /// # Panics
    ///
    /// If there are none.
    pub fn pick<'a, T>(&mut self, items: &'a [T]) -> &'a T {
        assert!(!items.is_empty(), "one of no items was asked for");
        &items[usize::try_from(self.next_u64() % items.len() as u64).unwrap_or(0)]
    }
}
