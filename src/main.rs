//! The program: hands its arguments to `cli` and returns its exit code.

fn main() -> std::process::ExitCode {
    deskside::cli::main()
}
