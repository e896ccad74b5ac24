//! Where the program starts: it hands its arguments to `cli`, and what that gives back becomes the exit code.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::main(std::env::args_os())
}
