//! Tests of `dsp::lanes::pack`.

use deskside::dsp::lanes::{Frame, Isa, LANES, pack, part};

use crate::support::signals::noise;

#[test]
fn frames_hold_the_samples_of_each_plane_and_0_elsewhere() {
    for n_planes in 1..=LANES {
        let planes: Vec<Vec<f32>> =
            (0..n_planes as u64).map(|seed| noise(seed, 1.0, 4_190)).collect();
        let lent: Vec<&[f32]> = planes.iter().map(Vec::as_slice).collect();
        for isa in Isa::all() {
            for n_frames in [0, 1, 7, 8, 77, 4_177] {
                let mut frames = vec![[9.0; LANES]; n_frames];
                pack(isa, &lent, 13, &mut frames);
                for (at, frame) in frames.iter().enumerate() {
                    for (lane, &sample) in frame.iter().enumerate() {
                        let expected = planes.get(lane).map_or(0.0, |plane| plane[13 + at]);
                        assert!(
                            sample.to_bits() == expected.to_bits(),
                            "{isa:?}, {n_planes} planes, frame {at}, lane {lane}: {sample}"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn rows_hold_the_samples_of_each_lane() {
    let plane = noise(3, 1.0, 90 * LANES);
    let frames: &[Frame] = plane.as_chunks().0;
    for isa in Isa::all() {
        for n_frames in [0, 1, 7, 8, 77, 90] {
            let mut rows = [[9.0; 90]; LANES];
            part(isa, &frames[..n_frames], &mut rows);
            for (lane, row) in rows.iter().enumerate() {
                for (at, sample) in row.iter().enumerate() {
                    let expected = if at < n_frames { frames[at][lane] } else { 9.0 };
                    assert!(
                        sample.to_bits() == expected.to_bits(),
                        "{isa:?}, {n_frames} frames, lane {lane}, sample {at}: {sample}"
                    );
                }
            }
        }
    }
}
