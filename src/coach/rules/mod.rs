//! The rules, one a file: its data, what it picks, and its examples as tests.
//!
//! A new rule is a new file and one line in the register. A rule measures nothing and words no finding itself.

mod amp_loud;
mod backing_lost;
mod backing_over_lead;
mod bass_heavy;
mod bass_uneven;
mod boxy;
mod choir_overlap;
mod choir_spill;
mod clip_input;
mod clip_main;
mod close_boom;
mod comb_two_mics;
mod comp_heavy;
mod comp_none;
mod comp_pump;
mod cue_late;
mod cymbal_wash;
mod dc_shift;
mod dead_channel;
mod di_hot;
mod di_low;
mod dropout;
mod drums_loud;
mod dull;
mod ear_spike;
mod ess_hot;
mod fader_far;
mod fader_hunting;
mod feedback_howl;
mod files_misfit;
mod fx_on_speech;
mod gain_step;
mod gain_too_hot;
mod gain_too_low;
mod gate_chatter;
mod harsh;
mod headroom_thin;
mod hiss_floor;
mod hpf_missing;
mod hum_buzz;
mod lead_taken_over;
mod left_out;
mod level_creep;
mod level_over_limit;
mod line_check_missing;
mod low_pile;
mod main_squashed;
mod mic_far;
mod mic_offaxis;
mod mic_thumps;
mod mic_wander;
mod mix_tilt;
mod mono_fold;
mod mud;
mod name_unclear;
mod open_mics;
mod overheads_high;
mod overheads_uneven;
mod pair_late;
mod pair_polarity;
mod pan_lost;
mod plug_pop;
mod pop_blasts;
mod private_in_main;
mod radio_fade;
mod reverb_wash;
mod ring_near;
mod room_boom;
mod room_long;
mod room_noise;
mod segment_jump;
mod solo_missed;
mod solo_too_far;
mod speech_mic_in_songs;
mod speech_unclear;
mod speech_vs_song;
mod spill_neighbour;
mod stage_loud;
mod stereo_flip;
mod stereo_lean;
mod taps_unclear;
mod thin;
mod twin_channel;
mod voice_buried;
mod voice_masked;
mod voice_on_top;
mod wedge_off_null;
mod wedge_spill;

use super::rule::Rule;

/// The rules that are judged, in the order in which problems are fixed.
pub const RULES: &[&Rule] = &[
    &stage_loud::RULE,
    &drums_loud::RULE,
    &amp_loud::RULE,
    &room_long::RULE,
    &room_boom::RULE,
    &room_noise::RULE,
    &mic_far::RULE,
    &mic_offaxis::RULE,
    &mic_wander::RULE,
    &close_boom::RULE,
    &pop_blasts::RULE,
    &mic_thumps::RULE,
    &spill_neighbour::RULE,
    &choir_spill::RULE,
    &choir_overlap::RULE,
    &radio_fade::RULE,
    &gain_too_hot::RULE,
    &gain_too_low::RULE,
    &clip_input::RULE,
    &headroom_thin::RULE,
    &hiss_floor::RULE,
    &di_low::RULE,
    &di_hot::RULE,
    &gain_step::RULE,
    &clip_main::RULE,
    &fader_far::RULE,
    &pair_polarity::RULE,
    &pair_late::RULE,
    &comb_two_mics::RULE,
    &stereo_flip::RULE,
    &overheads_uneven::RULE,
    &mono_fold::RULE,
    &hpf_missing::RULE,
    &low_pile::RULE,
    &mud::RULE,
    &boxy::RULE,
    &thin::RULE,
    &harsh::RULE,
    &ess_hot::RULE,
    &dull::RULE,
    &cymbal_wash::RULE,
    &mix_tilt::RULE,
    &comp_heavy::RULE,
    &comp_none::RULE,
    &comp_pump::RULE,
    &gate_chatter::RULE,
    &bass_uneven::RULE,
    &main_squashed::RULE,
    &voice_buried::RULE,
    &voice_on_top::RULE,
    &voice_masked::RULE,
    &backing_over_lead::RULE,
    &backing_lost::RULE,
    &lead_taken_over::RULE,
    &solo_missed::RULE,
    &solo_too_far::RULE,
    &overheads_high::RULE,
    &left_out::RULE,
    &stereo_lean::RULE,
    &pan_lost::RULE,
    &reverb_wash::RULE,
    &fx_on_speech::RULE,
    &feedback_howl::RULE,
    &ring_near::RULE,
    &open_mics::RULE,
    &wedge_off_null::RULE,
    &wedge_spill::RULE,
    &ear_spike::RULE,
    &private_in_main::RULE,
    &level_over_limit::RULE,
    &level_creep::RULE,
    &bass_heavy::RULE,
    &speech_vs_song::RULE,
    &segment_jump::RULE,
    &speech_unclear::RULE,
    &hum_buzz::RULE,
    &dropout::RULE,
    &dc_shift::RULE,
    &dead_channel::RULE,
    &twin_channel::RULE,
    &files_misfit::RULE,
    &name_unclear::RULE,
    &taps_unclear::RULE,
    &cue_late::RULE,
    &speech_mic_in_songs::RULE,
    &fader_hunting::RULE,
    &line_check_missing::RULE,
    &plug_pop::RULE,
];
