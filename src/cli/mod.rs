//! Arguments in, one library call, exit code.

use std::process::ExitCode;

/// Runs the command line.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
