//! Which file is which channel, and what the operator noted about it.

mod context;
mod fold;
mod language;
mod lexicon;
mod line;
mod matching;
pub mod names;
pub mod note;
mod pairing;
pub mod role;
pub mod sound;
pub mod tap;

pub use line::{Low, highpass_corner_hz, low};
pub use names::{NameRole, roles};
pub use role::{Family, Role};
pub use sound::{Settled, Sound, reconcile, role_by_sound};
pub use tap::{RoleSource, Side, Tap};
