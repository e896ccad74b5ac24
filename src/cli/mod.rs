//! The command line: tells the library what was asked, and writes out what comes back. Nothing is worked out here.
//!
//! A new command is a module here with its `Args` and `run`, a line in [`Command`], and a line in [`run`].

mod ask;
mod day;
mod demo;
mod inspect;
mod job;
mod live;
mod measure;
mod records;
mod say;
mod shell;
mod tape;
mod version;
mod write;

use boundwalk::fault::document::document;
use boundwalk::fault::{Fault, Kind};
use boundwalk::job::keys::Faults;
use boundwalk::survey::measured::Status;
use boundwalk::visible::is_hidden;
use boundwalk::write::inputs::Inputs;
use clap::{ColorChoice, CommandFactory, FromArgMatches, Parser, Subcommand};
use std::ffi::OsString;
use std::process::ExitCode;

const EXIT_CODES: &str = "\
Exit codes:
  0  measured, nothing doubtful
  1  nothing could be read: no such file, not a log, no positions in it
  2  wrong usage: an option or the job sheet is wrong
  3  measured but flagged `check`, or read but no honest area could be given

Results go to standard output, everything else to standard error. With --format json a
failure (1 or 2) is a document on standard output as well.";

/// The net area of a lawn from a walk round its edge, with an honest error band
///
/// Walk the edge of a lawn with a GNSS logger; get the net area with its error band, and the turf order that follows.
/// Approximate working measurement for ordering materials; not a survey of legal boundaries or levels.
#[derive(Debug, Parser)]
#[command(name = "boundwalk", version, long_version = version::long(), max_term_width = 100, after_help = EXIT_CODES)]
#[command(subcommand_required = true, arg_required_else_help = true)]
pub struct Cli {
    /// Colour in help and messages; auto: on a terminal, unless NO_COLOR is set
    #[arg(long, value_name = "WHEN", value_enum, default_value_t = ColorChoice::Auto, global = true, display_order = 1000)]
    color: ColorChoice,

    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Measure one survey: logs and/or one job sheet
    Measure(measure::Args),
    /// Measure many surveys: folders of job sheets and logs in one go
    Day(day::Args),
    /// Measure a walk while it goes on, from a receiver
    Live(live::Args),
    /// Say what is in a log, and whether it is fit to measure from
    Inspect(inspect::Args),
    /// What was measured here, when, with what, and what changed
    Records(records::Args),
    /// Areas from tape measurements alone
    Tape(tape::Args),
    /// Print a commented job sheet to start from, or check one
    Job(job::Args),
    /// Write the example survey into a folder and measure it
    Demo(demo::Args),
    /// Print a completion script for a shell
    Completions(shell::CompletionArgs),
    /// Print the manual page, or write one for each command
    Man(shell::ManArgs),
}

/// Why a command ended without its result.
#[derive(Debug)]
pub enum Stop {
    /// Faults to be told to the user; the first decides the exit code.
    Faults(Vec<Fault>),
    /// The program that read the output has closed it, having had enough. That counts as success.
    BrokenPipe,
}

impl From<Fault> for Stop {
    fn from(fault: Fault) -> Stop {
        Stop::Faults(vec![fault])
    }
}

impl From<Faults> for Stop {
    fn from(faults: Faults) -> Stop {
        Stop::Faults(faults.0)
    }
}

/// Runs a command line; gives the exit code.
pub fn main(args: impl IntoIterator<Item = OsString>) -> ExitCode {
    let args: Vec<OsString> = args.into_iter().collect();
    let json = option_asked(&args, "--format") == Some("json")
        && write::stdout_spares(&Inputs::of(args.iter().skip(1))).is_ok();
    // The choice of colour is looked up before the call is known to be right, since what is wrong with it is said in colour too.
    let color = option_asked(&args, "--color")
        .and_then(|word| word.parse().ok())
        .unwrap_or(ColorChoice::Auto);
    say::in_colour(color);
    let parsed = Cli::command().color(color).try_get_matches_from(args);
    let cli = match parsed.and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version also come as an error of the parser. That they cannot be printed, as on a closed pipe, is no failure.
            let text = error.to_string();
            match text.contains(|c| c != '\n' && is_hidden(c)) {
                // The text may quote something from the call, such as a file's name, with characters that must not reach the terminal.
                true => text.lines().for_each(say::note),
                false => drop(error.print()),
            }
            if !error.use_stderr() {
                return ExitCode::SUCCESS;
            }
            if json {
                print_faults(&[wrong_usage(&error)]);
            }
            return ExitCode::from(2);
        }
    };
    match run(cli.command) {
        Ok(code) => code,
        Err(Stop::BrokenPipe) => ExitCode::SUCCESS,
        Err(Stop::Faults(faults)) => {
            say::faults(&faults);
            let kind = faults.first().map_or(Kind::Unreadable, Fault::kind);
            let into_input = faults.iter().any(|fault| fault.code() == write::INTO_INPUT);
            if json && !into_input && kind != Kind::Withheld {
                print_faults(&faults);
            }
            exit_code(kind)
        }
    }
}

/// The last value of an option in a call, found without the parser, as the call may be wrong.
fn option_asked<'a>(args: &'a [OsString], option: &str) -> Option<&'a str> {
    let mut words = args.iter().map(|arg| arg.to_str().unwrap_or_default());
    let mut asked = None;
    while let Some(word) = words.next().filter(|word| *word != "--") {
        if word == option {
            asked = words.next();
        } else if let Some(value) = word.strip_prefix(option).and_then(|v| v.strip_prefix('=')) {
            asked = Some(value);
        }
    }
    asked
}

/// What the parser of arguments says, as a fault.
fn wrong_usage(error: &clap::Error) -> Fault {
    let text = error.to_string();
    let (what, rest) = text.split_once("\n\n").unwrap_or((&text, ""));
    let line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let what = line(what.trim_start_matches("error:"));
    Fault::usage("arguments", what, line(rest))
}

/// Prints the faults as a JSON document on standard output.
fn print_faults(faults: &[Fault]) {
    // Where it cannot be printed, the faults are on standard error already.
    let _ = write::stdout(&document(faults));
}

fn run(command: Command) -> Result<ExitCode, Stop> {
    match command {
        Command::Measure(args) => measure::run(&args),
        Command::Day(args) => day::run(&args),
        Command::Live(args) => live::run(args),
        Command::Inspect(args) => inspect::run(&args),
        Command::Records(args) => records::run(&args),
        Command::Tape(args) => tape::run(&args),
        Command::Job(args) => job::run(&args),
        Command::Demo(args) => demo::run(&args),
        Command::Completions(args) => shell::completions(&args),
        Command::Man(args) => shell::man(&args),
    }
}

/// The exit code for a fault of this kind.
fn exit_code(kind: Kind) -> ExitCode {
    ExitCode::from(match kind {
        Kind::Unreadable => 1,
        Kind::Usage => 2,
        Kind::Withheld => 3,
    })
}

/// The exit code for a survey that has a result, be it without an area.
pub fn status_code(status: Status) -> ExitCode {
    match status {
        Status::Ok => ExitCode::SUCCESS,
        Status::Check | Status::Withheld => ExitCode::from(3),
    }
}
