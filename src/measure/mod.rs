//! What one channel says about itself.
//!
//! A measurement is a *meter*: `new(rate_hz, n_channels)`, `push(&mut self, Group)`, `finish(self)` with one result a
//! channel. Its memory is bounded or grows by a few bytes a second. What depends on the whole take (loud level,
//! activity) is derived afterwards, from traces, by plain functions. A measurement knows no target.

pub mod clicks;
pub mod clipping;
pub mod dc;
pub mod hum;
pub mod silence;
pub mod trace;

pub use trace::Trace;
