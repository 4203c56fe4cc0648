//! The low rate: which one, and the same frames whatever the blocks.

use deskside::dsp::LowRate;
use deskside::dsp::lanes::{Frame, Isa};

use super::lanes::noisy_frames;

#[test]
fn usual_rates_come_near_24_khz() {
    let rates_hz = [192_000, 176_400, 96_000, 88_200, 48_000, 44_100];
    let low_hz = rates_hz.map(|rate_hz| LowRate::new(Isa::best(), rate_hz).rate_hz());
    assert_eq!(low_hz, [24_000, 22_050, 24_000, 22_050, 24_000, 22_050]);
    for stays_hz in [32_000, 22_050, 44_099, 8_000] {
        assert_eq!(LowRate::new(Isa::best(), stays_hz).rate_hz(), stays_hz);
    }
}

#[test]
fn blocks_of_any_length_give_the_same_frames() {
    let frames = noisy_frames(10_007);
    let taken = |block: usize| -> Vec<Frame> {
        let mut low = LowRate::new(Isa::best(), 96_000);
        frames.chunks(block).flat_map(|frames| low.take(frames).to_vec()).collect()
    };
    let at_once = taken(frames.len());
    assert_eq!(at_once.len(), 10_007 / 4, "a quarter of the rate");
    for block in [1, 3, 64, 1_001] {
        assert_eq!(taken(block), at_once, "blocks of {block}");
    }
}

#[test]
fn a_rate_that_stays_gives_its_own_frames() {
    let frames = noisy_frames(100);
    assert_eq!(LowRate::new(Isa::best(), 32_000).take(&frames), frames);
}
