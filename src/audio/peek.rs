//! A small window on a source of bytes, for headers.
//!
//! Takes a place and a length, gives the bytes that are there. Never keeps more than it was asked for, and never
//! more than 256 KiB.

use std::io::{self, Read, Seek, SeekFrom};

/// Read at once, so that neighbouring headers cost one call.
const WINDOW_BYTES: usize = 4_096;

/// Most bytes given at once.
const MAX_BYTES: usize = 256 * 1024;

/// A source of bytes of known length.
#[derive(Debug)]
pub(super) struct Peek<'a, R> {
    source: &'a mut R,
    n_bytes: u64,
    window: Vec<u8>,
    window_start: u64,
}

impl<'a, R: Read + Seek> Peek<'a, R> {
    /// A window on the first `n_bytes` bytes of a source.
    pub(super) fn new(source: &'a mut R, n_bytes: u64) -> Self {
        Self { source, n_bytes, window: Vec::new(), window_start: 0 }
    }

    /// Length of the source, in bytes.
    pub(super) fn n_bytes(&self) -> u64 {
        self.n_bytes
    }

    /// The bytes at a place: as many as asked for, fewer at the end of the source.
    pub(super) fn at(&mut self, start: u64, n_wanted: usize) -> io::Result<&[u8]> {
        let n_left = usize::try_from(self.n_bytes.saturating_sub(start)).unwrap_or(usize::MAX);
        let n_wanted = n_wanted.min(n_left).min(MAX_BYTES);
        let offset = start.checked_sub(self.window_start).and_then(|o| usize::try_from(o).ok());
        if let Some(offset) = offset
            && offset.checked_add(n_wanted).is_some_and(|end| end <= self.window.len())
        {
            return Ok(&self.window[offset..offset + n_wanted]);
        }
        self.window.clear();
        self.window_start = start;
        self.source.seek(SeekFrom::Start(start))?;
        let n_read = n_wanted.max(WINDOW_BYTES).min(n_left) as u64;
        self.source.by_ref().take(n_read).read_to_end(&mut self.window)?;
        let n_got = n_wanted.min(self.window.len());
        Ok(&self.window[..n_got])
    }
}
