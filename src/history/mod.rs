//! What was judged, session by session: kept in one file, counted into habits.
//!
//! Holds numbers and labels, never sound. A record is made from a finished review alone, so that a review from another
//! machine counts like one of this.

mod change;
mod good;
mod habit;
mod past;
mod read;
mod record;
mod recur;
mod store;
mod tables;
mod weeks;

pub use change::Change;
pub use good::{GoodNight, Learnt, MIN_NIGHTS, OwnWindow, learn};
pub use habit::{Break, Dot, Habit, Measure, Selection, habits};
pub use past::past;
pub use read::{Night, Summary};
pub use record::{Marked, Note, Observation, Record, identity};
pub use recur::{Recurring, recurring, topic};
pub use store::Store;
pub use weeks::weeks;
