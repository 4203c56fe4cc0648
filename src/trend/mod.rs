//! What a row of nights allows to say: rates with their uncertainty, trends, and the words for them.
//!
//! Arithmetic on plain numbers. Knows no rule, no session and no person, and gives no grade.

pub mod holm;
pub mod kendall;
pub mod normal;
pub mod rate;
pub mod slope;
pub mod verdict;
