//! Measurements against published cases, closed forms and planted truth.

mod trace;
