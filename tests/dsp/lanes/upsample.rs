//! Tests of the interpolation kernels in `dsp::lanes`.

use deskside::dsp::lanes::{Isa, PART, part_tops, peaks_above, tap_sum, upsample};

use crate::support::feeding::assert_near;
use crate::support::signals::noise;

/// Rounding of 24 to 48 products in single precision.
const TOLERANCE: f64 = 3e-6;

#[test]
fn sizes_and_curvatures_of_parts_equal_the_plain_twin() {
    let samples = noise(3, 1.0, 5 * PART + 2);
    for isa in Isa::all() {
        let mut tops = [[0.0; 2]; 5];
        part_tops(isa, &samples, &mut tops);
        for (part, [size, bend]) in samples.windows(PART + 2).step_by(PART).zip(tops) {
            let largest = |values: &mut dyn Iterator<Item = f32>| {
                values.fold(0.0f32, |top, value| top.max(value.abs()))
            };
            let expected = largest(&mut part[..PART].iter().copied());
            assert!(size.to_bits() == expected.to_bits(), "{isa:?}: size {size}");
            let mut bends = part.windows(3).map(|three| three[0] - 2.0 * three[1] + three[2]);
            let expected = largest(&mut bends);
            assert!(bend.to_bits() == expected.to_bits(), "{isa:?}: curvature {bend}");
        }
    }
}

#[test]
fn a_crest_is_seen_at_every_point_and_only_up_to_its_height() {
    for isa in Isa::all() {
        for crest in 4..4 * PART + 4 {
            // Two neighbours a little unlike: the parabola through 0.75, 0.9 and 0.7 reaches 0.900893.
            let mut points = [[0.0; PART + 2]; 4];
            for (point, size) in [(crest - 1, 0.75), (crest, -0.9), (crest + 1, 0.7)] {
                points[point % 4][point / 4] = size;
            }
            assert!(peaks_above(isa, &points, 0.9008), "{isa:?}: point {crest} is lower");
            assert!(!peaks_above(isa, &points, 0.9010), "{isa:?}: point {crest} is higher");
        }
        assert!(!peaks_above(isa, &[[0.9; PART + 2]; 4], 0.5), "{isa:?}: a plain has no crest");
    }
}

#[test]
fn convolutions_equal_the_plain_twin() {
    let samples = noise(4, 0.5, 400);
    let taps: [f32; 24] = noise(5, 0.3, 24).try_into().expect("24 taps");
    let twin = |from: usize| -> f64 {
        let products = taps.iter().zip(&samples[from..]);
        products.map(|(&tap, &sample)| f64::from(tap) * f64::from(sample)).sum()
    };
    let mut first = None;
    for isa in Isa::all() {
        let mut out = vec![0.0; 300];
        upsample(isa, &samples, &taps, &mut out);
        for (at, &found) in out.iter().enumerate() {
            assert_near(found.into(), twin(at), TOLERANCE, "interpolated sample");
        }
        let window = samples[30..].first_chunk().expect("24 samples");
        assert_near(tap_sum(isa, window, &taps).into(), twin(30), TOLERANCE, "sum of products");
        assert_eq!(&out, first.get_or_insert(out.clone()), "{isa:?}: other bits");
    }
}
