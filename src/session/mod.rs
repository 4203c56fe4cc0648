//! Which file is which channel, and what the operator noted about it.
//!
//! [`Session::open`] looks at a folder: `scan` finds the files, `split` joins the parts of one recording, `clock`
//! aligns them, `channels` names them with the help of `names` and of the [`note`]. [`reconcile`] settles a name and
//! a sound later. A new word for a role is an entry in `corpus/roles/roles.csv`; a word that needs its neighbours is
//! an arm in `context`.

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
pub use fold::is_same_name;
pub use folder::{Session, Take};
pub use line::{Low, highpass_corner_hz, low, says_by_wire};
pub use names::{NameRole, roles};
pub use plan::first_note;
pub use role::{Family, Role};
pub use sound::{Settled, Sound, reconcile, role_by_sound};
pub use tap::{RoleSource, Side, Tap};
