//! Feeds `bodies::names`: lists of channel names.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::names(bytes));
