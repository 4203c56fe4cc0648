//! The rules, one a file: its data, what it picks, and its examples as tests.
//!
//! A new rule is a new file and one line in the register. A rule measures nothing and words no finding itself.

mod bass_uneven;
mod boxy;
mod clip_input;
mod clip_main;
mod close_boom;
mod comp_none;
mod dc_shift;
mod dead_channel;
mod di_hot;
mod di_low;
mod dropout;
mod dull;
mod ess_hot;
mod files_misfit;
mod gain_too_hot;
mod gain_too_low;
mod harsh;
mod headroom_thin;
mod hiss_floor;
mod hpf_missing;
mod hum_buzz;
mod level_creep;
mod line_check_missing;
mod main_squashed;
mod mic_far;
mod mix_tilt;
mod mono_fold;
mod mud;
mod name_unclear;
mod pair_late;
mod pair_polarity;
mod pop_blasts;
mod segment_jump;
mod speech_vs_song;
mod stereo_flip;
mod stereo_lean;
mod taps_unclear;
mod thin;
mod twin_channel;

use super::rule::Rule;

/// The rules that are judged, in the order in which problems are fixed.
pub const RULES: &[&Rule] = &[
    &mic_far::RULE,
    &close_boom::RULE,
    &pop_blasts::RULE,
    &gain_too_hot::RULE,
    &gain_too_low::RULE,
    &clip_input::RULE,
    &headroom_thin::RULE,
    &hiss_floor::RULE,
    &di_low::RULE,
    &di_hot::RULE,
    &clip_main::RULE,
    &pair_polarity::RULE,
    &pair_late::RULE,
    &stereo_flip::RULE,
    &mono_fold::RULE,
    &hpf_missing::RULE,
    &mud::RULE,
    &boxy::RULE,
    &thin::RULE,
    &harsh::RULE,
    &ess_hot::RULE,
    &dull::RULE,
    &mix_tilt::RULE,
    &comp_none::RULE,
    &bass_uneven::RULE,
    &main_squashed::RULE,
    &stereo_lean::RULE,
    &level_creep::RULE,
    &speech_vs_song::RULE,
    &segment_jump::RULE,
    &hum_buzz::RULE,
    &dropout::RULE,
    &dc_shift::RULE,
    &dead_channel::RULE,
    &twin_channel::RULE,
    &files_misfit::RULE,
    &name_unclear::RULE,
    &taps_unclear::RULE,
    &line_check_missing::RULE,
];
