//! Surveys whose logs come whole on standard input. They are measured and printed as they come, a batch at a time, and nothing is kept.

use super::{Args, Printer, exit_code, measured, unread};
use crate::cli::Stop;
use boundwalk::day::framed::Framed;
use boundwalk::day::table::Table;
use boundwalk::day::{Stores, Summary};
use boundwalk::fault::Fault;
use std::process::ExitCode;

/// Measures and prints the stream to its end.
///
/// # Errors
/// A stream that breaks off; and options that ask for something to be kept or watched, which needs files that stay.
pub fn run(args: &Args, mut stream: Framed) -> Result<ExitCode, Stop> {
    if args.out.is_some() || args.records.is_some() || args.watch {
        return Err(alone().into());
    }
    let plan = args.plan();
    let mut printer = Printer::new(args.format, Table::of_any(plan.units))?;
    let mut all = Summary::default();
    printer.head()?;
    loop {
        let sites = stream.batch().map_err(|error| unread(&error))?;
        if sites.is_empty() {
            break;
        }
        all += measured(&sites, &plan, &mut Stores::default(), &mut |done| {
            printer.print(done)
        })?;
    }
    printer.end(&all)?;
    Ok(exit_code(&all))
}

/// The fault that says that a stream of logs can only be measured and printed.
pub fn alone() -> Fault {
    Fault::usage(
        "framed-alone",
        "logs on standard input are measured and printed, and nothing else.",
        "Leave out --out, --records, --watch and other files; or put the logs into a folder and name that.",
    )
}
