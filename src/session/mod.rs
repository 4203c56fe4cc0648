//! Which file is which channel, and what the operator noted about it.

mod channels;
mod clock;
mod context;
mod fold;
pub mod folder;
mod labels;
mod language;
mod lexicon;
mod line;
mod matching;
pub mod names;
pub mod note;
mod pairing;
pub mod plan;
pub mod role;
mod scan;
pub mod sound;
mod split;
pub mod tap;

pub use channels::SessionChannel;
pub use folder::{Session, Take};
pub use line::{Low, highpass_corner_hz, low};
pub use names::{NameRole, roles};
pub use plan::first_note;
pub use role::{Family, Role};
pub use sound::{Settled, Sound, reconcile, role_by_sound};
pub use tap::{RoleSource, Side, Tap};
