//! Vector kernels over eight channels at once, compiled for several instruction sets and picked at run time.
//!
//! Takes frames (one sample of each of eight channels), gives sums, filtered frames or peaks. A kernel is written once, as
//! plain loops over arrays of eight; the copies for wider registers come from the compiler, but where registers are named. No copy fuses a
//! multiplication with an addition, so all copies give the same bits on every machine; a test compares them. This is the
//! only place with `unsafe`: the call of a function that needs features which were just detected.

mod bands;
mod cascade;
mod columns;
mod decibel;
mod fir;
mod framer;
mod gram;
mod halve;
mod isa;
mod matched;
mod pack;
mod packed_24;
mod parts;
mod products;
mod row;
mod step;
mod taper;
mod tops;
mod turn;
mod untangle;
mod upsample;
mod whole;

pub use bands::{BandState, N_BAND_SECTIONS, band_energies, band_energy};
pub use cascade::{State32, State64, filter_f32, filter_f64, paired_energy, weighted_energy};
pub use columns::{Packed, coloured, scaled, side_by_side};
pub use decibel::to_db;
pub use fir::filter_every;
pub use framer::Framer;
pub use gram::{Pairs, Panel, add_pairs, weighted_sum, widen};
pub use halve::{HalvingState, N_HALVING_SECTIONS, halve};
pub use isa::Isa;
pub use matched::{CELL, lagged_sums, largest_outputs};
pub use pack::{for_each_pack, pack, part};
pub use packed_24::{BYTES_OF_FOUR, from_packed_24};
pub use parts::{Parts, add_part_powers, move_parts, part_product, take_parts, unpack_parts};
pub use products::{TALL, WIDE, add_weighted, pair_products};
pub use row::{largest_size, sum_of};
pub use step::step_level;
pub use taper::tapered;
pub use tops::mark_tops;
pub use turn::add_powers;
pub use untangle::{Turns, power_of_pairs};
pub use upsample::{PART, part_tops, peaks_above, tap_sum, upsample};
pub use whole::to_whole;

use super::group::MAX_CHANNELS;

/// Channels in a frame.
pub const LANES: usize = MAX_CHANNELS;

/// One sample of each of eight channels; lanes without a channel hold 0.
pub type Frame = [f32; LANES];
