//! Benchmarks of the stages.

fn main() {
    divan::main();
}
