//! Codes that differ little from their neighbours, in as few bits as they need.
//!
//! Takes 1024 numbers of 16 bits, gives each of them back. Thirty-two neighbours share a least number and a width, and what they are
//! above it stands in so many bits each: levels 10 ms apart take 11 of 16. Never loses any.

use std::ops::Range;

/// Codes in a piece.
pub(super) const PIECE: usize = 1024;

/// Codes that share a width: as many as a word has bits, so that each group fills whole words.
const GROUP: usize = 32;
const N_GROUPS: usize = PIECE / GROUP;

/// Empty words behind the last: a code is read from two, also where a group has none of its own.
const BEHIND: usize = 2;

/// A full piece: for each group its least code and, 16 bits up, the place of its first word; then the words.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Packed(Box<[u32]>);

impl Packed {
    /// Packs a piece.
    pub(super) fn new(codes: &[u16; PIECE]) -> Self {
        let groups = codes.as_chunks::<GROUP>().0;
        let spread = |group: &[u16; GROUP]| {
            let least = group.iter().copied().min().unwrap_or(0);
            let most = group.iter().copied().max().unwrap_or(0);
            (least, (u16::BITS - (most - least).leading_zeros()) as usize)
        };
        let n_words: usize = groups.iter().map(|group| spread(group).1).sum();
        let mut words = vec![0u32; N_GROUPS + n_words + BEHIND];
        let mut at = N_GROUPS;
        for (idx, group) in groups.iter().enumerate() {
            let (least, width) = spread(group);
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a piece has some hundreds of words"
            )]
            let place = at as u32;
            words[idx] = u32::from(least) | place << u16::BITS;
            for (place, code) in group.iter().enumerate() {
                let bit = place * width;
                let value = u64::from(code - least) << (bit % GROUP);
                let [low, high] = halves(value);
                words[at + bit / GROUP] |= low;
                words[at + bit / GROUP + 1] |= high;
            }
            at += width;
        }
        Self(words.into_boxed_slice())
    }

    /// A code of the piece.
    ///
    /// # Panics
    ///
    /// If there is no such place.
    pub(super) fn code(&self, place: usize) -> u16 {
        assert!(place < PIECE, "a piece has {PIECE} codes, asked for {place}");
        self.group(place / GROUP).code(place % GROUP)
    }

    /// Gives codes that stand one behind the other, in order: where a group lies is looked up once for all of them.
    ///
    /// # Panics
    ///
    /// If there are no such places.
    pub(super) fn each(&self, places: Range<usize>, mut take: impl FnMut(u16)) {
        assert!(places.end <= PIECE, "a piece has {PIECE} codes, asked for {places:?}");
        let mut from = places.start;
        while from < places.end {
            let idx = from / GROUP;
            let to = ((idx + 1) * GROUP).min(places.end);
            let group = self.group(idx);
            (from - idx * GROUP..to - idx * GROUP).for_each(|within| take(group.code(within)));
            from = to;
        }
    }

    fn group(&self, idx: usize) -> Group<'_> {
        let start = |idx: usize| (self.0[idx] >> u16::BITS) as usize;
        let at = start(idx);
        let end = if idx + 1 < N_GROUPS { start(idx + 1) } else { self.0.len() - BEHIND };
        #[expect(clippy::cast_possible_truncation, reason = "the lower half of a word")]
        let least = self.0[idx] as u16;
        Group { least, width: end - at, words: &self.0[at..end + BEHIND] }
    }

    /// Bytes that it takes.
    pub(super) fn n_bytes(&self) -> usize {
        size_of_val(&*self.0)
    }
}

/// Codes that share a width.
struct Group<'a> {
    least: u16,
    /// Bits of each.
    width: usize,
    /// Their words, and those behind.
    words: &'a [u32],
}

impl Group<'_> {
    fn code(&self, within: usize) -> u16 {
        let bit = within * self.width;
        let word = bit / GROUP;
        let both = u64::from(self.words[word]) | u64::from(self.words[word + 1]) << u32::BITS;
        let value = (both >> (bit % GROUP)) & ((1 << self.width) - 1);
        #[expect(clippy::cast_possible_truncation, reason = "a width is 16 bits at most")]
        let above = value as u16;
        self.least + above
    }
}

/// The lower and the upper word.
#[expect(clippy::cast_possible_truncation, reason = "cut in two on purpose")]
fn halves(value: u64) -> [u32; 2] {
    [value as u32, (value >> u32::BITS) as u32]
}
