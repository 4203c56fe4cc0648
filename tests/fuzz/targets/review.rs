//! Feeds `bodies::review`: stored reviews.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::review(bytes));
