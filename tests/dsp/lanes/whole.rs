//! Complex values as whole numbers: every copy gives the bits of the plain one, and values come back to within half a step.

use deskside::dsp::lanes::{Isa, to_whole};
use realfft::num_complex::Complex32;

use crate::support::signals::noise;

const FRAMES: usize = 16;

fn values(n_frames: usize, n_bins: usize) -> Vec<Complex32> {
    let parts = noise(3, 0.3, 2 * n_frames * n_bins);
    parts.as_chunks::<2>().0.iter().map(|[re, im]| Complex32::new(*re, *im)).collect()
}

#[test]
fn every_copy_holds_each_value_to_half_a_step_of_the_loudest() {
    for n_frames in [FRAMES, 5] {
        let n_bins = 7;
        let values = values(n_frames, n_bins);
        for isa in Isa::all() {
            // What stands there already stays.
            let (mut cells, mut scales) = (vec![[1, 2]], vec![3.0]);
            to_whole::<FRAMES>(isa, &values, n_bins, &mut cells, &mut scales);
            assert_eq!((cells[0], scales[0]), ([1, 2], 3.0), "{isa:?}");
            assert_eq!((cells.len(), scales.len()), (1 + FRAMES * n_bins, 1 + n_bins), "{isa:?}");
            for bin in 0..n_bins {
                let of_bin = |frame: usize| values[frame * n_bins + bin];
                let (cells, scale) = (&cells[1 + bin * FRAMES..][..FRAMES], scales[1 + bin]);
                let most = (0..n_frames).map(of_bin).map(|x| x.re.abs().max(x.im.abs()));
                let expected = most.fold(0.0, f32::max) / 32_767.0;
                assert_eq!(
                    scale.to_bits(),
                    expected.to_bits(),
                    "{isa:?}: the loudest is the largest"
                );
                for (frame, cell) in cells.iter().enumerate().take(n_frames) {
                    let [re, im] = cell.map(|x| f32::from(x) * scale);
                    let off = (re - of_bin(frame).re).abs().max((im - of_bin(frame).im).abs());
                    assert!(off <= 0.501 * scale, "{isa:?}: off by {off}, a step is {scale}");
                }
                assert!(cells[n_frames..].iter().all(|cell| *cell == [0, 0]), "{isa:?}");
            }
        }
    }
}

#[test]
fn every_copy_gives_the_bits_of_the_plain_one() {
    let values = values(FRAMES, 9);
    let held = |isa: Isa| {
        let (mut cells, mut scales) = (Vec::new(), Vec::new());
        to_whole::<FRAMES>(isa, &values, 9, &mut cells, &mut scales);
        (cells, scales)
    };
    let plain = held(Isa::PLAIN);
    for isa in Isa::all() {
        assert_eq!(held(isa), plain, "{isa:?}");
    }
}

#[test]
fn silence_is_held_as_zeros() {
    let (mut cells, mut scales) = (Vec::new(), Vec::new());
    to_whole::<FRAMES>(Isa::best(), &[Complex32::default(); 32], 2, &mut cells, &mut scales);
    assert!(cells.iter().all(|cell| *cell == [0, 0]));
    assert_eq!(scales, [1.0, 1.0]);
}
