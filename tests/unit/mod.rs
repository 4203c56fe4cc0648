//! Quantities and places in time.

mod spans;
