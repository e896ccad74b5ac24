//! `boundwalk records`: looks into a file of records (what was measured here, when, with what, what changed), takes results out of it again,
//! and joins files.

use super::ask::UnitChoice;
use super::{Stop, exit_code, say, write};
use boundwalk::day::line::Line;
use boundwalk::day::sheets::{self, MAP_END, MAP_HEAD};
use boundwalk::fault::{Fault, Kind};
use boundwalk::records::Records;
use boundwalk::records::look::Wanted;
use boundwalk::records::report;
use boundwalk::visible::in_json;
use boundwalk::write::inputs::Inputs;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    /// List what was measured: the latest revision of each survey
    List(ListArgs),
    /// Show one survey: what was measured, when, with what
    Show(ShowArgs),
    /// Take results out again: documents, a table or a map
    Export(ExportArgs),
    /// Say what changed between two measurings, against both bands
    Compare(CompareArgs),
    /// Take over what other files of records have and this one has not
    Merge(MergeArgs),
}

/// Which records.
#[derive(Debug, clap::Args)]
struct Choice {
    /// Surveys whose name, job number or site has this in it, any case
    #[arg(long, value_name = "WORDS")]
    about: Option<String>,

    /// Surveys near this place, degrees: 52.1,-1.2
    #[arg(long, value_name = "LAT,LON", value_parser = place, allow_hyphen_values = true)]
    near: Option<(f64, f64)>,

    /// How near, metres
    #[arg(long, value_name = "METRES", default_value_t = 50.0, value_parser = metres, requires = "near")]
    within: f64,

    /// Walked on this day or later, YYYY-MM-DD
    #[arg(long, value_name = "DATE", value_parser = day)]
    since: Option<String>,

    /// Walked on this day or earlier, YYYY-MM-DD
    #[arg(long, value_name = "DATE", value_parser = day)]
    until: Option<String>,

    /// Every revision, not only the latest
    #[arg(long)]
    all: bool,
}

#[derive(Debug, clap::Args)]
struct ListArgs {
    /// The file of records
    #[arg(value_name = "FILE.gpkg")]
    file: PathBuf,

    #[command(flatten)]
    choice: Choice,

    /// What to print
    #[arg(long, value_enum, default_value_t = TextOrJson::Text)]
    format: TextOrJson,

    /// Units of the table
    #[arg(long, value_enum, default_value_t = UnitChoice::Metric)]
    units: UnitChoice,
}

#[derive(Debug, clap::Args)]
struct ShowArgs {
    /// The file of records
    #[arg(value_name = "FILE.gpkg")]
    file: PathBuf,

    /// The survey's name or job number, or the garden's number as garden:7; NAME@2 is its second revision
    #[arg(value_name = "SURVEY")]
    survey: String,

    /// What to print; json is the result document as it was recorded
    #[arg(long, value_enum, default_value_t = TextOrJson::Text)]
    format: TextOrJson,

    /// Units of the report
    #[arg(long, value_enum, default_value_t = UnitChoice::Metric)]
    units: UnitChoice,
}

#[derive(Debug, clap::Args)]
struct ExportArgs {
    /// The file of records
    #[arg(value_name = "FILE.gpkg")]
    file: PathBuf,

    #[command(flatten)]
    choice: Choice,

    /// What to print: result documents one a line, a table, or the net lawns on a map
    #[arg(long, value_enum, default_value_t = ExportFormat::Json)]
    format: ExportFormat,
}

#[derive(Debug, clap::Args)]
struct CompareArgs {
    /// The file of records
    #[arg(value_name = "FILE.gpkg")]
    file: PathBuf,

    /// The survey, as for `show`; alone, its latest revision is compared with the one before
    #[arg(value_name = "SURVEY")]
    first: String,

    /// The survey or revision to compare it with
    #[arg(value_name = "SURVEY")]
    second: Option<String>,

    /// What to print
    #[arg(long, value_enum, default_value_t = TextOrJson::Text)]
    format: TextOrJson,

    /// Units of the report
    #[arg(long, value_enum, default_value_t = UnitChoice::Metric)]
    units: UnitChoice,
}

#[derive(Debug, clap::Args)]
#[command(after_help = MERGING)]
struct MergeArgs {
    /// The file of records that they are taken into; a new one is begun
    #[arg(value_name = "INTO.gpkg")]
    file: PathBuf,

    /// Files of records to take from; they stay as they are
    #[arg(value_name = "FROM.gpkg", required = true)]
    from: Vec<PathBuf>,

    /// Nothing on standard error but what is wrong
    #[arg(long, short)]
    quiet: bool,
}

const MERGING: &str = "\
What is there already is not taken again: a merge that broke off is run once more. A garden that several files have is one
garden, its revisions in the order in which they were recorded; where one comes between others, those after it get higher
numbers, which is said.";

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum TextOrJson {
    Text,
    Json,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum ExportFormat {
    Json,
    Csv,
    Geojson,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    let file = match &args.command {
        Command::List(ListArgs { file, .. })
        | Command::Show(ShowArgs { file, .. })
        | Command::Export(ExportArgs { file, .. })
        | Command::Compare(CompareArgs { file, .. })
        | Command::Merge(MergeArgs { file, .. }) => file,
    };
    write::stdout_spares(&Inputs::of([file]))?;
    match &args.command {
        Command::List(args) => list(args),
        Command::Show(args) => show(args),
        Command::Export(args) => export(args),
        Command::Compare(args) => compare(args),
        Command::Merge(args) => merge(args),
    }
}

impl Choice {
    fn wanted(&self) -> Wanted {
        Wanted {
            words: self.about.clone(),
            near: self.near.map(|(lat, lon)| (lat, lon, self.within)),
            since: self.since.clone(),
            until: self.until.clone(),
            all: self.all,
        }
    }
}

fn list(args: &ListArgs) -> Result<ExitCode, Stop> {
    let found = Records::look_into(&args.file)?.list(&args.choice.wanted())?;
    match args.format {
        TextOrJson::Text => {
            write::stdout(report::list(&found.records, args.units.into()).as_bytes())?;
            if let (true, Some((lat, lon))) = (found.records.is_empty(), args.choice.near) {
                say::note(&format!(
                    "nothing that fits was measured within {} m of {lat},{lon}; --within METRES looks further.",
                    args.choice.within
                ));
            }
        }
        TextOrJson::Json => {
            for record in &found.records {
                write::stdout(&json_line(record)?)?;
            }
        }
    }
    say::faults(&found.damaged);
    Ok(listed(found.records.len(), found.damaged.len()))
}

/// The exit code of a search: that of results which need a look where records are damaged, and of nothing to read where none was found.
fn listed(found: usize, damaged: usize) -> ExitCode {
    match (found, damaged) {
        (_, 1..) => exit_code(Kind::Withheld),
        (0, 0) => exit_code(Kind::Unreadable),
        (_, 0) => ExitCode::SUCCESS,
    }
}

fn show(args: &ShowArgs) -> Result<ExitCode, Stop> {
    let records = Records::look_into(&args.file)?;
    let record = records.find(&args.survey)?;
    let bytes = match args.format {
        TextOrJson::Text => report::one(&records, &record, args.units.into())?.into_bytes(),
        TextOrJson::Json => {
            let (mut document, _) = records.document(&record)??;
            document.push('\n');
            document.into_bytes()
        }
    };
    write::stdout(&bytes)?;
    Ok(ExitCode::SUCCESS)
}

fn export(args: &ExportArgs) -> Result<ExitCode, Stop> {
    let records = Records::look_into(&args.file)?;
    let found = records.list(&args.choice.wanted())?;
    match args.format {
        ExportFormat::Json => {}
        ExportFormat::Csv => write::stdout(&sheets::csv_head())?,
        ExportFormat::Geojson => write::stdout(MAP_HEAD.as_bytes())?,
    }
    let mut damaged = found.damaged;
    let mut written = 0;
    for record in &found.records {
        let whole = records.document(record)?.and_then(|(text, parsed)| {
            match Line::kept(&parsed, record.reason.clone()) {
                Some(line) => Ok((line, text)),
                None => Err(records.damaged(record)),
            }
        });
        let (line, document) = match whole {
            Ok(whole) => whole,
            Err(fault) => {
                damaged.push(fault);
                continue;
            }
        };
        match args.format {
            ExportFormat::Json => {
                write::stdout(&in_json(format!("{document}\n").into_bytes()))?;
            }
            ExportFormat::Csv => write::stdout(&sheets::csv_row(&line))?,
            ExportFormat::Geojson => {
                let outline = records.outline(record.id)?;
                let feature = sheets::feature(&line, outline.as_ref());
                let comma = if written > 0 { ",\n" } else { "" };
                write::stdout(format!("{comma}{feature}").as_bytes())?;
            }
        }
        written += 1;
    }
    if args.format == ExportFormat::Geojson {
        write::stdout(MAP_END.as_bytes())?;
    }
    say::faults(&damaged);
    Ok(listed(written, damaged.len()))
}

fn compare(args: &CompareArgs) -> Result<ExitCode, Stop> {
    let records = Records::look_into(&args.file)?;
    let (first, second) = match &args.second {
        Some(second) => (records.find(&args.first)?, records.find(second)?),
        None => {
            let latest = records.find(&args.first)?;
            (records.before(&latest)?, latest)
        }
    };
    let comparison = records.compare(first, second)?;
    let bytes = match args.format {
        TextOrJson::Text => report::comparison(&comparison, args.units.into()).into_bytes(),
        TextOrJson::Json => json_line(&comparison)?,
    };
    write::stdout(&bytes)?;
    Ok(ExitCode::SUCCESS)
}

fn merge(args: &MergeArgs) -> Result<ExitCode, Stop> {
    // All files are opened once before anything is taken over, so that a wrong name is told first.
    for from in &args.from {
        Records::look_into(from)?;
    }
    let mut into = Records::open(&args.file)?;
    let mut damaged = false;
    for from in &args.from {
        let merged = into.merge(from)?;
        say::faults(&merged.damaged);
        damaged |= !merged.damaged.is_empty();
        if !args.quiet {
            say::note(&report::merged(from, &merged));
        }
    }
    Ok(match damaged {
        true => exit_code(Kind::Withheld),
        false => ExitCode::SUCCESS,
    })
}

fn json_line(value: &impl serde::Serialize) -> Result<Vec<u8>, Stop> {
    let mut line = serde_json::to_vec(value).map_err(|error| {
        Fault::withheld(
            "json",
            format!("the result could not be written as JSON ({error})."),
            "",
        )
    })?;
    line.push(b'\n');
    Ok(in_json(line))
}

fn place(text: &str) -> Result<(f64, f64), String> {
    let mut parts = text.split([',', ' ']).filter(|part| !part.is_empty());
    let mut next = |most: f64, what: &str| match parts.next().map(str::parse::<f64>) {
        Some(Ok(degrees)) if degrees.abs() <= most => Ok(degrees),
        _ => Err(format!(
            "it must be latitude,longitude in degrees; the {what} is missing or out of range"
        )),
    };
    let place = (next(90.0, "latitude")?, next(180.0, "longitude")?);
    match parts.next() {
        None => Ok(place),
        Some(_) => Err("there is more than a latitude and a longitude".into()),
    }
}

fn metres(text: &str) -> Result<f64, String> {
    match boundwalk::units::length_m(text) {
        Ok(m) if m >= 0.0 => Ok(m),
        Ok(_) => Err("it must not be below 0".into()),
        Err(fault) => Err(fault.to_string()),
    }
}

fn day(text: &str) -> Result<String, String> {
    text.parse::<jiff::civil::Date>()
        .map(|date| date.to_string())
        .map_err(|_| "it must be a day such as 2026-05-14".into())
}
