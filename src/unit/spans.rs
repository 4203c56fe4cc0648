//! Sets of stretches of time: in order and apart from each other.

use super::Span;

/// What lies in both.
pub fn both(one: &[Span], other: &[Span]) -> Vec<Span> {
    let mut shared = Vec::new();
    let mut first = 0;
    for a in one {
        while first < other.len() && other[first].end_s <= a.start_s {
            first += 1;
        }
        let near = other[first..].iter().take_while(|b| b.start_s < a.end_s);
        shared.extend(near.filter_map(|b| a.shared(*b)));
    }
    shared
}

/// What lies in the first and not in the second.
pub fn without(one: &[Span], other: &[Span]) -> Vec<Span> {
    let mut rest = Vec::new();
    let mut first = 0;
    for a in one {
        let mut start_s = a.start_s;
        while first < other.len() && other[first].end_s <= a.start_s {
            first += 1;
        }
        for b in other[first..].iter().take_while(|b| b.start_s < a.end_s) {
            if b.start_s > start_s {
                rest.push(Span::new(start_s, b.start_s));
            }
            start_s = start_s.max(b.end_s);
        }
        if a.end_s > start_s {
            rest.push(Span::new(start_s, a.end_s));
        }
    }
    rest
}

/// All stretches longer by `by_s` at both ends, those that meet joined. None begins before 0.
pub fn widened(spans: &[Span], by_s: f64) -> Vec<Span> {
    let mut wide: Vec<Span> = Vec::new();
    for span in spans {
        let next = Span::new((span.start_s - by_s).max(0.0), span.end_s + by_s);
        match wide.last_mut() {
            Some(last) if next.start_s <= last.end_s => last.end_s = last.end_s.max(next.end_s),
            _ => wide.push(next),
        }
    }
    wide
}

/// What lies in either.
pub fn either(one: &[Span], other: &[Span]) -> Vec<Span> {
    let mut all: Vec<Span> = one.iter().chain(other).copied().collect();
    all.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    widened(&all, 0.0)
}

/// How much of a stretch they cover, in seconds.
pub fn shared_s(spans: &[Span], within: Span) -> f64 {
    let first = spans.partition_point(|span| span.end_s <= within.start_s);
    let near = spans[first..].iter().take_while(|span| span.start_s < within.end_s);
    near.filter_map(|span| span.shared(within)).map(Span::length_s).sum()
}

/// Length of all together, in seconds.
pub fn total_s(spans: &[Span]) -> f64 {
    spans.iter().map(|span| span.length_s()).sum()
}

/// The longest ones, at most `n`, in order of time.
pub fn longest(spans: &[Span], n: usize) -> Vec<Span> {
    let mut sorted = spans.to_vec();
    sorted.sort_by(|a, b| b.length_s().total_cmp(&a.length_s()));
    sorted.truncate(n);
    sorted.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    sorted
}

/// Length of a passage to listen to, in seconds.
const PASSAGE_S: f64 = 20.0;
/// A shorter stretch is hard to judge by ear, in seconds.
const EARLIEST_PASSAGE_S: f64 = 5.0;
/// A rest within a passage, in seconds.
const REST_S: f64 = 2.0;

/// A passage of what sounds in these spans, breaths and short rests of 2 s included: the first that lasts 5 s, else the longest; its first
/// 20 s. `None` if there are no spans.
pub fn passage(spans: &[Span]) -> Option<Span> {
    let mut passages: Vec<Span> = Vec::new();
    for span in spans {
        match passages.last_mut() {
            Some(last) if span.start_s - last.end_s <= REST_S => last.end_s = span.end_s,
            _ => passages.push(*span),
        }
    }
    let long = passages.iter().find(|span| span.length_s() >= EARLIEST_PASSAGE_S);
    let longest = || passages.iter().max_by(|a, b| a.length_s().total_cmp(&b.length_s()));
    long.or_else(longest)
        .map(|span| Span::new(span.start_s, span.end_s.min(span.start_s + PASSAGE_S)))
}
