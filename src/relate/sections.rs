//! Sections of a session in which the mix is read by itself.
//!
//! Takes borders between songs and the rest, gives stretches of whole seconds that are long enough to tell and short enough to be
//! held. Never looks at sound.

use crate::unit::Span;

/// Longest section, in seconds: more of them take more memory and tell little more.
pub const LONGEST_S: f64 = 120.0;

/// A stretch between borders that is shorter joins a neighbour, in seconds.
pub const SHORTEST_S: f64 = 20.0;

/// Sections of a session of whole seconds up to `duration_s`, in order and without gaps. `borders_s` are in order.
///
/// A stretch between two borders is cut into equal parts where it is too long. The rest of a second at the end belongs to the
/// last section.
pub fn sections(borders_s: &[f64], duration_s: f64) -> Vec<Span> {
    let end_s = duration_s.ceil();
    if end_s < 1.0 {
        return Vec::new();
    }
    let mut cuts_s = vec![0.0];
    for border_s in borders_s.iter().map(|border_s| border_s.round()) {
        let before_s = cuts_s.last().copied().unwrap_or(0.0);
        if border_s - before_s >= SHORTEST_S && end_s - border_s >= SHORTEST_S {
            cuts_s.push(border_s);
        }
    }
    cuts_s.push(end_s);
    cuts_s.windows(2).flat_map(|pair| parts(pair[0], pair[1])).collect()
}

/// Parts of a section in which something was changed, as far as they are long enough. `changes_s` are in any order.
pub fn parted(section: Span, changes_s: &[f64]) -> Vec<Span> {
    let mut parts = vec![section];
    for change_s in changes_s.iter().map(|change_s| change_s.round()) {
        let is_long = |part: &Span| {
            change_s - part.start_s >= SHORTEST_S && part.end_s - change_s >= SHORTEST_S
        };
        if let Some(place) = parts.iter().position(is_long) {
            let end_s = std::mem::replace(&mut parts[place].end_s, change_s);
            parts.insert(place + 1, Span::new(change_s, end_s));
        }
    }
    parts
}

/// Equal parts of whole seconds.
fn parts(start_s: f64, end_s: f64) -> Vec<Span> {
    let length_s = end_s - start_s;
    let n = (length_s / LONGEST_S).ceil().max(1.0);
    let mut parts = Vec::new();
    let mut part = 0.0;
    while part < n {
        let cut_s = |part: f64| start_s + (length_s * part / n).round();
        parts.push(Span::new(cut_s(part), cut_s(part + 1.0)));
        part += 1.0;
    }
    parts
}
