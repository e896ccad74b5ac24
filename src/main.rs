//! The command line's front door: arguments in, an exit code out. No arithmetic here.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main(std::env::args_os())
}
