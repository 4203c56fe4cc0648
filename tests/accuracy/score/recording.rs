//! A plain reader of the recordings of a scene: 24 bits, one channel, decoded where it is asked for.

use std::fs;
use std::path::Path;

/// Bytes of a sample.
const SAMPLE: usize = 3;

/// A recording in memory.
pub(crate) struct Recording {
    data: Vec<u8>,
}

impl Recording {
    /// Reads a file.
    pub(crate) fn read(path: &Path) -> Self {
        let bytes = fs::read(path).expect("a recording of the scene");
        let word = |at: usize| {
            let bytes: [u8; 4] = bytes[at..at + 4].try_into().expect("four bytes");
            usize::try_from(u32::from_le_bytes(bytes)).expect("a size")
        };
        let mut at = 12;
        while &bytes[at..at + 4] != b"data" {
            at += 8 + word(at + 4) + word(at + 4) % 2;
        }
        let size = word(at + 4);
        Self { data: bytes[at + 8..at + 8 + size].to_vec() }
    }

    /// How many samples it has.
    pub(crate) fn len(&self) -> usize {
        self.data.len() / SAMPLE
    }

    /// Samples from a place on, as many as there are.
    pub(crate) fn samples(&self, from: usize, n: usize) -> impl Iterator<Item = f64> {
        let to = self.data.len().min((from + n) * SAMPLE);
        let bytes = self.data.get(from * SAMPLE..to).unwrap_or_default();
        bytes
            .chunks_exact(SAMPLE)
            .map(|b| f64::from(i32::from_le_bytes([0, b[0], b[1], b[2]])) / 2_147_483_648.0)
    }
}
