//! What all pictures share: a scale across, places on it, and steps that people count in.
//!
//! Takes values, gives places. Across, a picture is measured in hundredths of its width and down in pixels, so that its words keep
//! their size on a phone, a wide screen and paper.

/// A scale across a picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Across {
    low: f64,
    high: f64,
    left_percent: f64,
    right_percent: f64,
}

impl Across {
    /// Values from `low` to `high` between two places of the picture, in hundredths of its width.
    pub(super) fn new(low: f64, high: f64, left_percent: f64, right_percent: f64) -> Self {
        let high = if high > low { high } else { low + 1.0 };
        Self { low, high, left_percent, right_percent }
    }

    /// The value at the left end.
    pub(super) const fn low(self) -> f64 {
        self.low
    }

    /// The value at the right end.
    pub(super) const fn high(self) -> f64 {
        self.high
    }

    /// Place of a value, in hundredths of the width; what lies outside stands at the end.
    pub(super) fn percent(self, value: f64) -> f64 {
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.left_percent + share * (self.right_percent - self.left_percent)
    }

    /// The same as an attribute: `12.3%`.
    pub(super) fn at(self, value: f64) -> String {
        percent(self.percent(value))
    }

    /// From one value to another as the width of a box.
    pub(super) fn wide(self, from: f64, to: f64) -> String {
        percent((self.percent(to) - self.percent(from)).max(0.0))
    }

    /// Round values inside, a few of them.
    pub(super) fn ticks(self) -> Vec<f64> {
        ticks(self.low, self.high, MOST_TICKS)
    }

    /// Round times inside, a few of them, in seconds.
    pub(super) fn moments(self) -> Vec<f64> {
        let step_s =
            STEPS_S.into_iter().find(|step_s| (self.high - self.low) / step_s <= MOST_MOMENTS);
        multiples(self.low, self.high, step_s.unwrap_or(3600.0))
    }
}

/// More marks, and more times, than these run into each other on a phone.
const MOST_TICKS: f64 = 4.0;
const MOST_MOMENTS: f64 = 5.0;

/// Steps that clocks are read in, in seconds.
const STEPS_S: [f64; 12] =
    [1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0];

/// A place as an attribute.
pub(super) fn percent(place: f64) -> String {
    format!("{place:.2}%")
}

/// Pixels as an attribute.
pub(super) fn pixels(place: f64) -> String {
    format!("{place:.1}")
}

/// Values in equal steps, each with its time in seconds.
pub(super) fn stepped(values: &[f64], step_s: f64) -> impl Iterator<Item = (f64, f64)> {
    values.iter().scan(0.0, move |next_s, value| {
        let at_s = *next_s;
        *next_s += step_s;
        Some((at_s, *value))
    })
}

/// Round values between two ends: steps of 1, 2 or 5 times a power of ten.
pub(super) fn ticks(low: f64, high: f64, most: f64) -> Vec<f64> {
    let span = (high - low).max(1e-9);
    let ten = 10_f64.powf((span / most).log10().floor());
    let step =
        [1.0, 2.0, 5.0, 10.0].into_iter().map(|by| by * ten).find(|step| span / step <= most);
    multiples(low, high, step.unwrap_or(10.0 * ten))
}

fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    // A little tolerance keeps an end that is a multiple itself.
    let mut at = (low / step - 1e-6).ceil();
    let mut found = Vec::new();
    while at * step <= high + 1e-6 * step {
        found.push(at * step);
        at += 1.0;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_run_from_end_to_end_and_not_beyond() {
        let across = Across::new(-40.0, 0.0, 30.0, 90.0);
        assert_eq!(across.at(-40.0), "30.00%", "low end");
        assert_eq!(across.at(-20.0), "60.00%", "middle");
        assert_eq!(across.at(12.0), "90.00%", "beyond the high end");
        assert_eq!(across.wide(-40.0, -20.0), "30.00%", "half of the width");
    }

    #[test]
    fn steps_are_round_and_few() {
        assert_eq!(ticks(-38.0, -12.0, 4.0), [-30.0, -20.0], "tens");
        assert_eq!(ticks(0.0, 1.6, 4.0), [0.0, 0.5, 1.0, 1.5], "halves");
        assert_eq!(Across::new(86.0, 106.0, 0.0, 1.0).moments(), [90.0, 95.0, 100.0, 105.0], "5 s");
        assert_eq!(Across::new(0.0, 500.0, 0.0, 1.0).moments(), [0.0, 120.0, 240.0, 360.0, 480.0]);
    }
}
