//! Which file is which channel, and what the operator noted about it.

pub mod role;
pub mod tap;

pub use role::{Family, Role};
pub use tap::{RoleSource, Side, Tap};
