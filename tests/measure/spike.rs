//! Spikes: one that stands out is found, the loudest moment of music is none.

use deskside::measure::Trace;
use deskside::measure::spike::spikes_at_s;
use deskside::unit::Unmeasured;

/// Peaks of 10 ms for some seconds: -20 dBFS, a beat of -10 dBFS every half second, and what stands at single steps.
fn peaks(length_s: u32, odd: &[(usize, f64)]) -> Trace {
    let mut trace = Trace::new(0.01);
    for step in 0..(length_s * 100) as usize {
        let usual = if step % 50 == 0 { -10.0 } else { -20.0 };
        let level_db = odd.iter().find(|one| one.0 == step).map_or(usual, |one| one.1);
        trace.push_power(10f64.powf(level_db / 10.0));
    }
    trace
}

#[test]
fn a_spike_over_all_beats_is_found() {
    let found = spikes_at_s(&peaks(120, &[(6025, -3.0)])).unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0] - 60.25).abs() < 1e-9, "{found:?}");
}

#[test]
fn two_steps_of_one_spike_are_one() {
    let found = spikes_at_s(&peaks(120, &[(6025, -3.0), (6026, -2.0), (9000, -3.5)])).unwrap();
    assert_eq!(found.len(), 2, "{found:?}");
}

#[test]
fn the_loudest_beat_is_none() {
    assert_eq!(spikes_at_s(&peaks(120, &[(6000, -4.5)])), Ok(Vec::new()), "5.5 dB over the others");
}

#[test]
fn too_little_sound_has_no_figure() {
    let reason = Unmeasured::TooLittleActive { have_s: 59.0, need_s: 60.0 };
    assert_eq!(spikes_at_s(&peaks(59, &[])), Err(reason), "59 s");
}
