//! Feeds `bodies::coded`: files that need a decoder.
#![no_main]

libfuzzer_sys::fuzz_target!(
    // The decoding library may panic on hostile bytes, which its caller catches; the fuzzer's own hook would end the process first.
    init: { std::panic::set_hook(Box::new(|_| {})) },
    |bytes: &[u8]| bodies::coded(bytes)
);
