//! Tests of `dsp::lanes::Framer`.

use deskside::dsp::lanes::{Frame, Framer, LANES};

#[test]
fn chunks_have_the_lengths_asked_for_and_lose_no_sample() {
    let stream: Vec<Frame> = (0..1000u16).map(|n| [f32::from(n); LANES]).collect();
    let (mut framer, mut seen, mut lengths) = (Framer::new(3), Vec::new(), Vec::new());
    for block in stream.chunks(17) {
        framer.push(block, |frames| {
            seen.extend_from_slice(frames);
            lengths.push(frames.len());
            lengths.len() % 5 + 1
        });
    }
    seen.extend_from_slice(framer.rest());
    assert_eq!(seen, stream, "all samples come out in order");
    assert_eq!(lengths[..7], [3, 2, 3, 4, 5, 1, 2], "chunks follow the wishes");
}
