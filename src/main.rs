//! The command `benchborne`.

fn main() -> std::process::ExitCode {
    benchborne::cli::main()
}
