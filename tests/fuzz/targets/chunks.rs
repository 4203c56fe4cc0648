//! Feeds `bodies::chunks`: WAV files of every family.
#![no_main]

libfuzzer_sys::fuzz_target!(
    // What is no plain file goes to the decoding library, whose panics its caller catches, as in `coded`.
    init: { std::panic::set_hook(Box::new(|_| {})) },
    |bytes: &[u8]| bodies::chunks(bytes)
);
