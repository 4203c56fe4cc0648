//! Feeds `bodies::meters`: samples for the meters and their vector kernels.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::meters(bytes));
