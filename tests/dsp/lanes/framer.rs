//! Tests of `dsp::lanes::Framer`.

use deskside::dsp::Group;
use deskside::dsp::lanes::{Framer, Isa};

#[test]
fn chunks_have_the_lengths_asked_for_and_lose_no_sample() {
    let plane: Vec<f32> = (0..1000u16).map(f32::from).collect();
    let (mut framer, mut seen, mut lengths) = (Framer::new(Isa::best(), 3), Vec::new(), Vec::new());
    for block in plane.chunks(17) {
        framer.push(Group::new(&[block], 48_000), |frames| {
            seen.extend(frames.iter().map(|frame| frame[0]));
            lengths.push(frames.len());
            lengths.len() % 5 + 1
        });
    }
    seen.extend(framer.rest().iter().map(|frame| frame[0]));
    assert_eq!(seen, plane, "all samples come out in order");
    assert_eq!(lengths[..7], [3, 2, 3, 4, 5, 1, 2], "chunks follow the wishes");
}
