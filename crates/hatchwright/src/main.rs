//! The executable: a verb runs headless.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run()
}
