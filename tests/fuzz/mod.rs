//! Fuzz targets, in the tests of every day: the same functions, without a fuzzer.

#[expect(unreachable_pub, reason = "a library of its own where the fuzzer is built")]
mod bodies;
mod smoke;
