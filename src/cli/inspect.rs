//! `boundwalk inspect`: says what is in a log and whether it is fit to measure from. Each log is looked at by itself.

use super::{Stop, say, write};
use boundwalk::fault::Kind;
use boundwalk::read::inspect::{Inspection, Verdict, inspect};
use boundwalk::read::{Input, Options};
use boundwalk::sheet;
use boundwalk::write::inputs::Inputs;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Logs of any form that `measure` reads, gzipped or in a zip archive or not; "-" is standard input
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,

    /// What to print: a report, the whole document, or one row for each fix as read
    #[arg(long, value_enum, default_value_t = FormatChoice::Text)]
    format: FormatChoice,

    /// The grid of eastings and northings in a point list, such as EPSG:27700
    #[arg(long, value_name = "CODE")]
    grid: Option<String>,

    /// Stop after so many fixes of each log
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u64).range(1..))]
    max_fixes: Option<u64>,

    /// Nothing on standard error of a log that cannot be read beside others that can
    #[arg(long, short)]
    quiet: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum FormatChoice {
    Text,
    Json,
    Csv,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    let options = Options {
        grid: args.grid.clone(),
        max_fixes: args.max_fixes,
        ..Options::default()
    };
    write::stdout_spares(&Inputs::of(&args.files))?;
    let mut inspection = Inspection {
        files: Vec::new(),
        faults: Vec::new(),
    };
    for path in &args.files {
        let input = match path.as_os_str().to_str() {
            Some("-") => Input::Stdin,
            _ => Input::File(path.clone()),
        };
        match inspect(&input, &options) {
            Ok(file) => inspection.files.push(file),
            Err(fault) => inspection.faults.push(fault),
        }
    }
    if inspection.files.is_empty() {
        return Err(Stop::Faults(inspection.faults));
    }
    // A log that cannot be read is told of, and the others are shown all the same.
    if !args.quiet {
        say::faults(&inspection.faults);
    }
    let bytes = match args.format {
        FormatChoice::Text => sheet::inspect::text(&inspection).into_bytes(),
        FormatChoice::Json => sheet::inspect::json(&inspection)?,
        FormatChoice::Csv => sheet::inspect::csv(&inspection)?,
    };
    write::stdout(&bytes)?;
    if let Some(fault) = inspection.faults.first() {
        return Ok(super::exit_code(fault.kind()));
    }
    // The exit codes are those of `measure`: for a log with nothing in it, and for one that was read but is not fit to measure from.
    let files = &inspection.files;
    Ok(if files.iter().any(|file| !file.holds_something()) {
        super::exit_code(Kind::Unreadable)
    } else if files.iter().any(|file| file.verdict == Verdict::Unfit) {
        super::exit_code(Kind::Withheld)
    } else {
        ExitCode::SUCCESS
    })
}
