//! Tests of `dsp::lanes::step_level`.

use deskside::dsp::lanes::{Isa, LANES, step_level};

use super::noisy_frames;

#[test]
fn energy_and_peak_equal_the_plain_twin() {
    let frames = noisy_frames(487);
    for isa in Isa::all() {
        let (mut energy, mut peak) = ([0.0; LANES], [0.0; LANES]);
        step_level(isa, &frames, &mut energy, &mut peak);
        for lane in 0..LANES {
            let samples = frames.iter().map(|frame| f64::from(frame[lane]));
            let twin = samples.clone().map(|sample| sample * sample).sum::<f64>();
            let top = samples.map(f64::abs).fold(0.0, f64::max);
            assert!(energy[lane].to_bits() == twin.to_bits(), "{isa:?}: {} {twin}", energy[lane]);
            assert!(f64::from(peak[lane]).to_bits() == top.to_bits(), "{isa:?}: {}", peak[lane]);
        }
    }
}
