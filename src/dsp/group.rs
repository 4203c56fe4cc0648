//! The same seconds of up to eight channels.

/// The most channels in a group: one vector lane each.
pub const MAX_CHANNELS: usize = 8;

/// The same samples of up to eight channels of one rate: what every meter is fed.
#[derive(Clone, Copy, Debug)]
pub struct Group<'a> {
    planes: &'a [&'a [f32]],
    rate_hz: u32,
}

impl<'a> Group<'a> {
    /// A group of planes, one a channel.
    ///
    /// # Panics
    ///
    /// If there are no planes or more than eight, if they differ in length, or if the rate is 0.
    pub fn new(planes: &'a [&'a [f32]], rate_hz: u32) -> Self {
        assert!(
            (1..=MAX_CHANNELS).contains(&planes.len()),
            "a group holds 1 to {MAX_CHANNELS} channels, found {}",
            planes.len()
        );
        assert!(
            planes.iter().all(|plane| plane.len() == planes[0].len()),
            "the planes of a group are equally long"
        );
        assert!(rate_hz > 0, "the sample rate is above 0");
        Self { planes, rate_hz }
    }

    /// The planes, one a channel.
    pub fn planes(self) -> &'a [&'a [f32]] {
        self.planes
    }

    /// How many channels.
    pub fn n_channels(self) -> usize {
        self.planes.len()
    }

    /// Samples in each channel.
    pub fn len(self) -> usize {
        self.planes[0].len()
    }

    /// Whether there are no samples.
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// Sample rate, in Hz.
    pub fn rate_hz(self) -> u32 {
        self.rate_hz
    }
}
