//! The note nearest to a frequency.

/// Names of the twelve notes from C on.
const NAMES: [&str; 12] =
    ["C", "C sharp", "D", "D sharp", "E", "F", "F sharp", "G", "G sharp", "A", "A sharp", "B"];

/// The nearest note of equal temperament over 440 Hz (ISO 16:1975), as `A 4`: A above middle C. `None` outside 16 Hz to 16 kHz.
///
/// The number of the note: `69 + 12 lg2(f / 440 Hz)`, rounded.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "notes of these frequencies are numbered 12 to 131"
)]
pub fn note(hz: f64) -> Option<String> {
    if !(16.0..=16_000.0).contains(&hz) {
        return None;
    }
    let number = (69.0 + 12.0 * (hz / 440.0).log2()).round() as usize;
    Some(format!("{} {}", NAMES[number % 12], number / 12 - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_the_notes_of_the_table() {
        // Scientific pitch notation: middle C is C 4, 261.63 Hz; the lowest key of a piano A 0, the highest C 8.
        for (hz, name) in [
            (440.0, "A 4"),
            (261.63, "C 4"),
            (27.5, "A 0"),
            (4186.0, "C 8"),
            (2500.0, "D sharp 7"),
            (41.2, "E 1"),
        ] {
            assert_eq!(note(hz).as_deref(), Some(name), "{hz} Hz");
        }
        assert_eq!(note(0.0), None, "no note");
        assert_eq!(note(f64::NAN), None, "no note");
    }
}
