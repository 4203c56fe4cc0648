//! Frames: the same ones wherever the blocks are cut, each with its history.

use deskside::dsp::Frames;

fn frames(lengths: &[usize]) -> Vec<(usize, Vec<f32>)> {
    let samples: Vec<f32> = (1..=100u8).map(f32::from).collect();
    let mut frames = Frames::new(3, 8);
    let mut found = Vec::new();
    let (mut from, mut turn) = (0, 0);
    while from < samples.len() {
        let to = (from + lengths[turn % lengths.len()]).min(samples.len());
        frames.push(&samples[from..to], |first, frame| found.push((first, frame.to_vec())));
        (from, turn) = (to, turn + 1);
    }
    frames.finish(|first, frame| found.push((first, frame.to_vec())));
    found
}

#[test]
fn frame_holds_its_history_and_its_new_samples() {
    let found = frames(&[100]);
    let expected = [0.0, 0.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
    assert_eq!(found[0], (0, expected.to_vec()), "silence lies before the first sample");
    assert_eq!(found[1].1[..4], [6.0, 7.0, 8.0, 9.0], "three old samples, then the ninth");
    assert_eq!(found.len(), 13, "twelve full frames and one of four samples");
    assert_eq!(found[12], (96, (94..=100u8).map(f32::from).collect()), "the rest");
}

#[test]
fn frames_do_not_depend_on_how_blocks_are_cut() {
    for lengths in [&[1][..], &[7, 0, 30], &[8], &[11, 12], &[99]] {
        assert_eq!(frames(lengths), frames(&[100]), "blocks of {lengths:?}");
    }
}
