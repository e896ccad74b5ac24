//! `boundwalk day`: many surveys in one go. This finds what there is, has the library measure it, and prints each survey as soon as
//! it is done. Surveys on standard input and watched folders have modules of their own.

mod framed;
mod watch;

use super::ask::{Asked, Options, UnitChoice};
use super::{Stop, say, write};
use boundwalk::day::brief;
use boundwalk::day::copies::{Copies, copies};
use boundwalk::day::find::{self, Found, Site, Skipped};
use boundwalk::day::flatgeobuf::Flat;
use boundwalk::day::framed::Framed;
use boundwalk::day::keep::{Folder, spared};
use boundwalk::day::sheets::{self, MAP_END, MAP_HEAD};
use boundwalk::day::table::Table;
use boundwalk::day::{self, Done, Plan, Stores, Summary};
use boundwalk::fault::Fault;
use boundwalk::records::Records;
use boundwalk::sheet::geojson;
use boundwalk::write::inputs::Inputs;
use boundwalk::write::manifest::Holds;
use boundwalk::write::place::Chosen;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, Read};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const EXIT_CODES: &str = "\
Exit codes:
  0  every survey measured, nothing doubtful
  1  nothing to measure was found, none could be read, or the results could not be written
  2  wrong usage
  3  some surveys are flagged `check`, withheld, or could not be read; their lines say why

One survey's failure never touches another.";

#[derive(Debug, clap::Args)]
#[command(after_help = EXIT_CODES)]
pub struct Args {
    /// Folders, logs and job sheets. A folder with a job.toml is one survey, so is each log no sheet names; folders inside
    /// are gone through. "-" is a list on standard input: paths, one a line (or NDJSON: a text or {"path": ...}), or whole
    /// logs as NDJSON: {"name": ..., "log": base64, "job": the job sheet's text}, measured as they come
    #[arg(value_name = "DIR|FILE", required = true)]
    files: Vec<PathBuf>,

    #[command(flatten)]
    options: Options,

    /// What to print on standard output
    #[arg(long, value_enum, default_value_t = FormatChoice::Text)]
    format: FormatChoice,

    /// Also write here: the day as table, map and page, and a folder of sheets for each survey. Surveys whose inputs and
    /// settings have not changed since are not measured again. A folder that holds anything but sheets of ours stays as it
    /// is: they go into a folder of their own inside it
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Also record every survey in this GeoPackage, which any GIS opens. Measuring again adds a revision; what has not
    /// changed since its latest is not measured again
    #[arg(long, value_name = "FILE.gpkg")]
    records: Option<PathBuf>,

    /// Measure also what has not changed
    #[arg(long)]
    force: bool,

    /// Keep looking into the folders and measure what arrives, each survey once its files have stopped changing; Ctrl-C
    /// ends it
    #[arg(long)]
    watch: bool,

    /// Between two looks
    #[arg(long, value_name = "SECONDS", default_value_t = 5.0, value_parser = seconds, requires = "watch")]
    every: f64,

    /// Stop after so many looks instead of at Ctrl-C
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u64).range(1..), requires = "watch")]
    looks: Option<u64>,

    /// Units on sheets for people; data files are always metric
    #[arg(long, value_enum, default_value_t = UnitChoice::Metric)]
    units: UnitChoice,

    /// Surveys measured at the same time [default: one for each core]
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,

    /// No progress and no notes on standard error
    #[arg(long, short)]
    quiet: bool,
}

/// What is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum FormatChoice {
    /// A table to read
    Text,
    /// The whole result document of each survey, one a line (NDJSON)
    Json,
    /// The table's figures and the outline (WKB in base64) of each survey, one short line of JSON
    Brief,
    /// Polygons for a map
    Geojson,
    /// The same as a sequence of texts, as they come (RFC 8142)
    GeojsonSeq,
    /// The same as a FlatGeobuf, for files of many lawns: `> day.fgb`
    Flatgeobuf,
    /// A table for a spreadsheet
    Csv,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    let given = match args.given()? {
        Given::Files(given) => given,
        Given::Framed(stream) => return framed::run(args, stream),
    };
    if args.watch {
        return watch::run(args, &given);
    }
    let chosen = args.chosen()?;
    let found = find::find(&given, &leave(chosen.as_ref()));
    if !args.quiet {
        tell_skipped(&found);
    }
    if found.sites.is_empty() {
        let names: Vec<String> = given.iter().map(|p| p.display().to_string()).collect();
        return Err(Fault::unreadable(
            "nothing-found",
            "there is no job.toml and no log here.",
            "Name the folder the logs are in.",
        )
        .in_file(names.join(", "))
        .into());
    }
    let inputs = found.inputs();
    write::stdout_spares(&inputs)?;
    if let Some(chosen) = &chosen {
        spared(chosen.path(), &found.surveys(), &inputs, chosen.instead())?;
    }
    let plan = args.plan();
    let mut stores = args.stores(&plan, chosen, &inputs)?;
    if let Some(folder) = &mut stores.folder {
        folder.reads(inputs, &found.surveys())?;
    }
    let names = found.sites.iter().map(|site| site.name.as_str());
    let mut printer = Printer::new(args.format, Table::new(names, plan.units))?;
    let bar = progress(found.sites.len() as u64, args.quiet);
    let ended = printer.head().and_then(|()| {
        measured(&found.sites, &plan, &mut stores, &mut |done| {
            let printed = bar.suspend(|| printer.print(done));
            bar.inc(1);
            printed
        })
    });
    bar.finish_and_clear();
    let summary = ended?;
    printer.end(&summary)?;
    if !args.quiet {
        tell_kept(
            stores.folder.as_ref(),
            args.records.as_deref(),
            summary.recorded,
        );
        copies(&found.sites).iter().for_each(tell_copies);
    }
    Ok(exit_code(&summary))
}

/// Measures these surveys and hands each to `tell` in order. Where one cannot be told, such as on a closed pipe, the day ends.
fn measured(
    sites: &[Site],
    plan: &Plan,
    stores: &mut Stores,
    tell: &mut dyn FnMut(&Done) -> Result<(), Stop>,
) -> Result<Summary, Stop> {
    let mut stop = None;
    let ended = day::run(sites, plan, stores, &mut |done| match tell(done) {
        Ok(()) => ControlFlow::Continue(()),
        Err(error) => {
            stop = Some(error);
            ControlFlow::Break(())
        }
    });
    match stop {
        Some(stop) => Err(stop),
        None => Ok(ended?),
    }
}

/// Says where the sheets and the records are.
fn tell_kept(folder: Option<&Folder>, records: Option<&Path>, recorded: u64) {
    if let Some(folder) = folder {
        say::note(&format!(
            "Wrote day.html, day.csv, day.geojson, day.ndjson and a folder for each survey to {}",
            folder.shown().display()
        ));
    }
    if let Some(records) = records {
        say::note(&format!(
            "Recorded {recorded} survey{} in {}",
            if recorded == 1 { "" } else { "s" },
            records.display()
        ));
    }
}

impl Args {
    /// The folder that results go into, if one was named.
    fn chosen(&self) -> Result<Option<Chosen>, Stop> {
        let Some(out) = &self.out else {
            return Ok(None);
        };
        let own = match self.files.as_slice() {
            [one] if one.as_os_str() != "-" => format!("{}-day", find::called(one)),
            _ => "day-sheets".to_owned(),
        };
        // The files that are read are not known yet; that none of them is replaced is checked later.
        write::folder(out, Holds::Day, &own, &Inputs::default()).map(Some)
    }

    fn plan(&self) -> Plan {
        Plan {
            template: self.options.request(Asked::default(), Vec::new()),
            units: self.units.into(),
            threads: self.threads.map_or(0, usize::from),
            force: self.force,
            documents: self.format == FormatChoice::Json,
            outlines: matches!(
                self.format,
                FormatChoice::Geojson
                    | FormatChoice::GeojsonSeq
                    | FormatChoice::Flatgeobuf
                    | FormatChoice::Brief
            ),
        }
    }

    /// Opens the folder and the file of records that results are kept in.
    fn stores(&self, plan: &Plan, chosen: Option<Chosen>, inputs: &Inputs) -> Result<Stores, Stop> {
        if let Some(records) = &self.records {
            write::records_spare(records, None, inputs)?;
            Records::may_be(records)?;
        }
        let note = chosen.as_ref().and_then(Chosen::note).map(str::to_owned);
        let folder = match chosen {
            Some(chosen) => Some(Folder::open(chosen, &format!("{:?}", plan.units))?),
            None => None,
        };
        if !self.quiet {
            let left = folder.as_ref().map(Folder::left).unwrap_or_default();
            write::tell(note.as_deref(), left);
        }
        Ok(Stores {
            folder,
            records: self.records.as_deref().map(Records::open).transpose()?,
        })
    }

    /// What was named on the command line, with the list on standard input in place of its "-".
    fn given(&self) -> Result<Given, Stop> {
        let mut given = Vec::new();
        let mut listed = false;
        for path in &self.files {
            if path.as_os_str() != "-" {
                given.push(path.clone());
                continue;
            }
            if std::mem::replace(&mut listed, true) {
                return Err(Fault::usage(
                    "twice",
                    "\"-\" is named twice.",
                    "Standard input can be read once.",
                )
                .into());
            }
            let mut list =
                match Framed::begin(std::io::stdin().lock()).map_err(|error| unread(&error))? {
                    Ok(framed) if self.files.len() == 1 => return Ok(Given::Framed(framed)),
                    Ok(_) => return Err(framed::alone().into()),
                    Err(list) => list,
                };
            let mut bytes = Vec::new();
            list.read_to_end(&mut bytes)
                .map_err(|error| unread(&error))?;
            given.extend(find::list(&bytes));
        }
        Ok(Given::Files(given))
    }
}

/// What there is to measure.
enum Given {
    /// Files, folders, and what a list names.
    Files(Vec<PathBuf>),
    /// Logs on standard input.
    Framed(Framed),
}

fn unread(error: &std::io::Error) -> Fault {
    Fault::unreadable(
        "unreadable",
        format!("standard input cannot be read ({error})."),
        "Name the folder instead.",
    )
}

/// Folders in which surveys are not looked for: the one that results go into.
fn leave(chosen: Option<&Chosen>) -> Vec<PathBuf> {
    chosen
        .map(|chosen| chosen.path().to_owned())
        .into_iter()
        .collect()
}

/// The exit code: 1 where nothing could be read at all, 3 where anything is not `ok`, else 0.
fn exit_code(summary: &Summary) -> ExitCode {
    if summary.surveys() > 0 && summary.unread == summary.surveys() {
        ExitCode::from(1)
    } else if summary.ok == summary.surveys() {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(3)
    }
}

/// Says that a file was skipped, and why.
fn tell_one_skipped(skipped: &Skipped) {
    say::note(&format!(
        "skipped {}: {}",
        skipped.path.display(),
        skipped.why
    ));
}

/// Says that several surveys were measured from one log. This comes last, below the table, since nothing else on the screen shows it.
fn tell_copies(Copies { surveys, log }: &Copies) {
    const NAMED: usize = 5;
    let named: Vec<&str> = surveys.iter().take(NAMED).map(String::as_str).collect();
    let more = match surveys.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    say::note(&format!(
        "{}{more} were measured from one and the same log ({}). If they are not one garden, put each garden's own log in its place.",
        named.join(", "),
        log.display()
    ));
}

/// Says which files were skipped, the first few by name and the rest as a number.
fn tell_skipped(found: &Found) {
    const NAMED: usize = 10;
    found.skipped.iter().take(NAMED).for_each(tell_one_skipped);
    match found.skipped.len().saturating_sub(NAMED) {
        0 => {}
        more => say::note(&format!("skipped {more} more files that are no surveys")),
    }
    match found.hidden {
        0 => {}
        1 => say::note("skipped 1 hidden file or folder"),
        n => say::note(&format!("skipped {n} hidden files or folders")),
    }
}

/// A bar that shows progress, on a terminal only. It is drawn at most some twenty times a second.
fn progress(surveys: u64, quiet: bool) -> ProgressBar {
    if quiet || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(Some(surveys), ProgressDrawTarget::stderr_with_hz(20));
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} surveys, {eta} to go")
    {
        bar.set_style(style);
    }
    bar
}

/// Prints results on standard output.
struct Printer {
    format: FormatChoice,
    table: Table,
    printed: u64,
    /// The map, where the format is one that can only be written at the end.
    flat: Option<Flat>,
}

impl Printer {
    fn new(format: FormatChoice, table: Table) -> Result<Printer, Stop> {
        let flat = format == FormatChoice::Flatgeobuf;
        if flat && std::io::stdout().is_terminal() {
            return Err(Fault::usage(
                "screen-map",
                "a FlatGeobuf is not to be read on a screen.",
                "Send it into a file: put > day.fgb at the end.",
            )
            .into());
        }
        Ok(Printer {
            format,
            table,
            printed: 0,
            flat: flat.then(Flat::begin).transpose()?,
        })
    }

    fn head(&self) -> Result<(), Stop> {
        match self.format {
            FormatChoice::Text => write::stdout(self.table.head().as_bytes()),
            FormatChoice::Csv => write::stdout(&sheets::csv_head()),
            FormatChoice::Geojson => write::stdout(MAP_HEAD.as_bytes()),
            FormatChoice::Json
            | FormatChoice::Brief
            | FormatChoice::Flatgeobuf
            | FormatChoice::GeojsonSeq => Ok(()),
        }
    }

    fn print(&mut self, done: &Done) -> Result<(), Stop> {
        self.printed += 1;
        match self.format {
            FormatChoice::Text => write::stdout(self.table.line(&done.line).as_bytes()),
            FormatChoice::Csv => write::stdout(&sheets::csv_row(&done.line)),
            FormatChoice::Json => write::stdout(&done.document),
            FormatChoice::Brief => write::stdout(&brief::line(&done.line, done.geometry.as_ref())),
            FormatChoice::Flatgeobuf => match &mut self.flat {
                Some(flat) => Ok(flat.add(&done.line, done.geometry.as_ref())?),
                None => Ok(()),
            },
            FormatChoice::GeojsonSeq => {
                let feature = sheets::feature(&done.line, done.geometry.as_ref());
                write::stdout(geojson::text(&feature).as_bytes())
            }
            FormatChoice::Geojson => {
                let comma = if self.printed > 1 { ",\n" } else { "" };
                let feature = sheets::feature(&done.line, done.geometry.as_ref());
                write::stdout(format!("{comma}{feature}").as_bytes())
            }
        }
    }

    fn end(&mut self, summary: &Summary) -> Result<(), Stop> {
        if let Some(flat) = self.flat.take() {
            return write::stdout(&flat.end()?);
        }
        match self.format {
            FormatChoice::Text => write::stdout(format!("\n{}\n", summary.told()).as_bytes()),
            FormatChoice::Geojson => write::stdout(MAP_END.as_bytes()),
            FormatChoice::Csv
            | FormatChoice::Json
            | FormatChoice::Brief
            | FormatChoice::Flatgeobuf
            | FormatChoice::GeojsonSeq => Ok(()),
        }
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.trim().trim_end_matches('s').parse::<f64>() {
        Ok(s) if (0.01..=86_400.0).contains(&s) => Ok(s),
        _ => Err("it must be a number of seconds, 0.01 to 86400".into()),
    }
}
