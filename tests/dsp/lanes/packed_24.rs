//! Samples of 24 bits: every copy gives what two's complement says.

use deskside::dsp::lanes::{Isa, from_packed_24};

#[test]
fn every_copy_reads_two_s_complement() {
    // Both ends, what lies beside zero, and numbers with all bytes different.
    let expected: Vec<i32> = [-8_388_608, -1, 0, 1, 8_388_607, 0x12_34_56, -0x12_34_56, 0x00_80_ff]
        .into_iter()
        .cycle()
        .take(28)
        .collect();
    let bytes: Vec<u8> =
        expected.iter().flat_map(|value| value.to_le_bytes()[..3].to_vec()).collect();
    for isa in Isa::all() {
        let mut samples = [[f32::NAN; 4]; 7];
        from_packed_24(isa, bytes.as_chunks().0, &mut samples);
        for (sample, expected) in samples.as_flattened().iter().zip(&expected) {
            let whole = f64::from(*sample) * 8_388_608.0;
            assert!(
                (whole - f64::from(*expected)).abs() < 1e-9,
                "{isa:?}: {whole}, not {expected}"
            );
        }
    }
}
