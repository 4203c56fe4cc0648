//! Feeds `bodies::aims`: texts of a team's targets.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::aims(bytes));
