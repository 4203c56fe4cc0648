//! Feeds `bodies::note`: texts of session.toml.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::note(bytes));
