//! Feeds `bodies::marks`: texts of marks.json.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::marks(bytes));
