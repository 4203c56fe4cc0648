//! Where feedback lies: frequencies across, and how long each was heard.

use maud::html;

use super::Picture;
use super::plot::{Across, percent, pixels};
use crate::coach::Note;
use crate::reading::Reading;
use crate::report::{number, phrase};
use crate::unit::Unit;
use crate::unit::pitch::note as name_of;

/// Ends of the scale, in Hz: feedback is looked for from 80 Hz to 7.6 kHz.
const LOW_HZ: f64 = 62.5;
const HIGH_HZ: f64 = 8000.0;

/// Heights, in pixels.
const TOP: f64 = 34.0;
const FOOT: f64 = 104.0;

/// Where the scale begins and ends, in hundredths of the width.
const LEFT: f64 = 3.0;
const RIGHT: f64 = 97.0;

/// A tone: frequency in Hz, and how long it was heard, in seconds.
struct Tone {
    hz: f64,
    heard_s: f64,
}

/// The tones of the microphones of a note.
pub(super) fn tones(note: &Note, reading: &Reading) -> Option<Picture> {
    let is_own = |id: &String| note.channels.contains(id);
    let feedback = &reading.feedback;
    let mut tones: Vec<Tone> = if note.rule.id == "feedback-howl" {
        let howls = feedback.howls.iter().filter(|howl| is_own(&howl.channel));
        howls.map(|howl| Tone { hz: howl.frequency_hz, heard_s: howl.span.length_s() }).collect()
    } else {
        let rings = feedback.ringing.iter().filter(|one| is_own(&one.channel));
        rings
            .flat_map(|one| &one.rings)
            .map(|ring| Tone { hz: ring.frequency_hz, heard_s: ring.rings_s })
            .collect()
    };
    tones.sort_by(|a, b| b.heard_s.total_cmp(&a.heard_s));
    let longest = tones.first()?;
    let octaves = |hz: f64| hz.log2();
    let across = Across::new(octaves(LOW_HZ), octaves(HIGH_HZ), LEFT, RIGHT);
    let down = |heard_s: f64| FOOT - (heard_s / longest.heard_s).clamp(0.08, 1.0) * (FOOT - TOP);
    let who = phrase::channels(reading, &note.channels);
    let words = |tone: &Tone| {
        let near = name_of(tone.hz).map_or_else(String::new, |name| format!(" ({name})"));
        let hz = number::whole_with_unit(tone.hz, Unit::Hz);
        format!("{hz}{near}, {:.1} s", tone.heard_s)
    };
    let label =
        format!("Tones of {who}: {}.", tones.iter().map(words).collect::<Vec<_>>().join("; "));
    let anchor = |place: f64| match place {
        ..25.0 => "start",
        75.0.. => "end",
        _ => "middle",
    };
    let at = across.percent(octaves(longest.hz));
    let svg = html! {
        svg.pic role="img" aria-label=(label) width="100%" height=(pixels(FOOT + 22.0)) {
            @for hz in [125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0] {
                line.grid x1=(across.at(octaves(hz))) x2=(across.at(octaves(hz))) y1=(pixels(TOP)) y2=(pixels(FOOT)) {}
                text.tick x=(across.at(octaves(hz))) y=(pixels(FOOT + 16.0)) text-anchor="middle" { (number::tick(hz, Unit::Hz)) }
            }
            line.ground x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(pixels(FOOT)) y2=(pixels(FOOT)) {}
            @for tone in &tones {
                line.stem.off x1=(across.at(octaves(tone.hz))) x2=(across.at(octaves(tone.hz))) y1=(pixels(FOOT)) y2=(pixels(down(tone.heard_s))) {}
                circle.off cx=(across.at(octaves(tone.hz))) cy=(pixels(down(tone.heard_s))) r="4" {}
            }
            text.tick x=(percent(at)) y="16" text-anchor=(anchor(at)) { (words(longest)) }
        }
    };
    let caption = format!(
        "{who}: each stroke is a tone that hangs on, low to high; the taller, the longer it was heard."
    );
    Some(Picture { svg, caption })
}
