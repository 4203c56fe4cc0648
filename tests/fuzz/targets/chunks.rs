//! Feeds `bodies::chunks`: WAV files of every family.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| bodies::chunks(bytes));
