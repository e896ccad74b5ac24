//! Options about measuring, shared by the commands that measure, and the sorting of what was named on the command line into logs and a job
//! sheet. Both together become the request that the library answers.

use boundwalk::fault::Fault;
use boundwalk::job::read::looks_like_sheet;
use boundwalk::job::{Carry, Job, Side};
use boundwalk::read::Kept;
use boundwalk::sheet::Format;
use boundwalk::survey::{Depth, Input, Request};
use boundwalk::units::{self, Units};
use boundwalk::write::inputs::Inputs;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::Stop;

/// How the walk was carried out and how sure to be; wins over the job sheet.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct Options {
    /// The antenna was carried this far from the edge (metres, or with a unit: 10in)
    #[arg(long, value_name = "METRES", value_parser = length, requires = "carry_side")]
    carry: Option<f64>,

    /// On which side of the edge the antenna was carried
    #[arg(long, value_enum, requires = "carry")]
    carry_side: Option<CarrySide>,

    /// How truly the antenna was held to the edge all the way round, one sigma [default: 0.02]
    #[arg(long, value_name = "METRES", value_parser = length)]
    carry_sigma: Option<f64>,

    /// Position error per axis, one sigma, instead of what the log says
    #[arg(long, value_name = "METRES", value_parser = positive_length)]
    sigma: Option<f64>,

    /// For how long position errors last, instead of averaging over a range
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    correlation: Option<f64>,

    /// How often the true area should lie within the band, 0.5 to 0.999 [default: 0.95]
    #[arg(long, value_name = "CHANCE", value_parser = confidence)]
    confidence: Option<f64>,

    /// Where point lists lie: "local" for metres of a plan, or a national grid by its EPSG code, for eastings and northings
    /// read and written (any but UTM and grids on ETRS89 need a build with the feature `proj`)
    #[arg(long, value_name = "EPSG:NNNN|local")]
    grid: Option<String>,

    /// Take several logs of one walk in the order of their times, rather than as they are named
    #[arg(long)]
    by_time: bool,

    /// Stop after so many fixes of each log
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u64).range(1..))]
    max_fixes: Option<u64>,

    /// Withhold the result if anything is doubtful
    #[arg(long)]
    strict: bool,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum CarrySide {
    /// Inside the edge that was walked
    Inside,
    /// Outside the edge that was walked
    Outside,
}

/// Units of the sheets people read.
#[derive(Debug, Clone, Copy, Default, clap::ValueEnum)]
pub enum UnitChoice {
    /// Metres and square metres
    #[default]
    Metric,
    /// Feet and square feet
    Imperial,
}

impl From<UnitChoice> for Units {
    fn from(choice: UnitChoice) -> Units {
        match choice {
            UnitChoice::Metric => Units::Metric,
            UnitChoice::Imperial => Units::Imperial,
        }
    }
}

/// What is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum FormatChoice {
    /// To read: a report, or of several surveys a table
    Text,
    /// The whole result document; of several surveys one a line (NDJSON)
    Json,
    /// Polygons for a map
    Geojson,
    /// The same as a sequence of texts, as they come (RFC 8142)
    GeojsonSeq,
    /// A table for a spreadsheet
    Csv,
}

impl FormatChoice {
    /// Whether outlines are printed in this format.
    pub fn is_map(self) -> bool {
        matches!(self, FormatChoice::Geojson | FormatChoice::GeojsonSeq)
    }
}

impl From<FormatChoice> for Format {
    fn from(choice: FormatChoice) -> Format {
        match choice {
            FormatChoice::Text => Format::Text,
            FormatChoice::Json => Format::Json,
            FormatChoice::Geojson => Format::Geojson,
            FormatChoice::GeojsonSeq => Format::GeojsonSeq,
            FormatChoice::Csv => Format::Csv,
        }
    }
}

impl Options {
    /// How standard input is to be taken: kept whole, or, where the number of fixes is limited, as it comes.
    pub fn standard_input(&self) -> StandardInput {
        match self.max_fixes {
            Some(_) => StandardInput::AsItComes,
            None => StandardInput::Whole,
        }
    }

    /// The request for one survey: these options, its logs and sheet, and the logs of what is to be taken off.
    pub fn request(&self, asked: Asked, deduct: Vec<Input>) -> Request {
        Request {
            name: asked.name,
            logs: asked.logs,
            job: asked.job,
            deduct,
            carry: Carry {
                offset_m: self.carry,
                side: self.carry_side.map(|side| match side {
                    CarrySide::Inside => Side::Inside,
                    CarrySide::Outside => Side::Outside,
                }),
                sigma_m: self.carry_sigma,
            },
            sigma_m: self.sigma,
            correlation_s: self.correlation,
            confidence: self.confidence,
            strict: self.strict,
            grid: self.grid.clone(),
            by_time: self.by_time,
            max_fixes: self.max_fixes,
            depth: Depth::Drawing,
        }
    }
}

/// How standard input is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StandardInput {
    /// It is kept in a file, so that it can be gone through again where its checksums call for it.
    Whole,
    /// It is read once, up to a limit on its fixes, since it may never end.
    AsItComes,
}

/// One survey's logs and sheet.
#[derive(Debug, Default)]
pub struct Asked {
    /// The survey's name; where it is empty, the first log gives the name.
    pub name: String,
    pub logs: Vec<Input>,
    pub job: Job,
}

/// Every file that is read for this request, the job sheet first, since it says which survey it is.
pub fn inputs(request: &Request) -> Inputs {
    let sheet = request.job.sheet.iter().map(|sheet| sheet.path.clone());
    Inputs::of(sheet.chain(request.files()))
}

/// Sorts what was named on the command line into logs and at most one job sheet, by content. A folder stands for
/// the `job.toml` in it, `-` for standard input.
pub fn sort(
    files: &[PathBuf],
    named_sheet: Option<&Path>,
    standard_input: StandardInput,
) -> Result<Asked, Stop> {
    let mut asked = Asked::default();
    let mut sheet: Option<PathBuf> = None;
    let mut stdin_read = false;
    if let Some(path) = named_sheet {
        asked.job = Job::from_file(path)?;
        sheet = Some(path.to_owned());
    }
    for file in files {
        if file.as_os_str() == "-" {
            if std::mem::replace(&mut stdin_read, true) {
                return Err(Fault::usage(
                    "twice",
                    "\"-\" is named twice.",
                    "Standard input can be read once.",
                )
                .into());
            }
            asked.logs.push(match standard_input {
                StandardInput::Whole => stdin()?,
                StandardInput::AsItComes => Input::Stdin,
            });
            continue;
        }
        let found = sheet_of_folder(file)?;
        if !opens_like_sheet(&found) {
            asked.logs.push(Input::File(found));
            continue;
        }
        if let Some(first) = &sheet {
            return Err(Fault::usage(
                "two-sheets",
                format!("this is a job sheet, and so is {}.", first.display()),
                "One survey has one job sheet; measure the other in a call of its own.",
            )
            .in_file(found.display().to_string())
            .into());
        }
        asked.job = Job::from_file(&found)?;
        sheet = Some(found);
    }
    if let Some(sheet) = &sheet {
        asked.name = sheet_name(sheet, &asked.job);
        let walked = asked.job.walks.iter().any(|walk| !walk.files.is_empty());
        if asked.logs.is_empty() && !walked && !asked.job.is_taped() {
            return Err(Fault::usage(
                "no-logs",
                "the sheet names no log that was walked.",
                "Add files = [\"lawn.nmea\"] to [walk], or name the log beside the sheet in this call.",
            )
            .in_file(sheet.display().to_string())
            .into());
        }
    }
    Ok(asked)
}

/// The job sheet in a folder; a file is given back as it is.
fn sheet_of_folder(file: &Path) -> Result<PathBuf, Fault> {
    if !file.is_dir() {
        return Ok(file.to_owned());
    }
    let inner = file.join("job.toml");
    if !inner.is_file() {
        return Err(Fault::usage(
            "a-folder",
            "this is a folder, and there is no job.toml in it.",
            "Name the logs in it, or write a job sheet with `boundwalk job`.",
        )
        .in_file(file.display().to_string()));
    }
    Ok(inner)
}

/// The name of a survey with this sheet: the job's number, else the name of the folder that a `job.toml` is in, else the sheet's own name.
fn sheet_name(sheet: &Path, job: &Job) -> String {
    if let Some(number) = &job.number {
        return number.clone();
    }
    let stem = sheet
        .file_stem()
        .map(|stem| stem.to_string_lossy().into_owned());
    // The path of a sheet in the working folder does not have that folder's name, so it is asked of the system.
    let folder = sheet.parent().map(|folder| match folder.file_name() {
        Some(_) => folder.to_owned(),
        None => Path::new(".")
            .join(folder)
            .canonicalize()
            .unwrap_or_default(),
    });
    let folder = folder
        .as_deref()
        .and_then(Path::file_name)
        .map(|name| name.to_string_lossy().into_owned());
    match (stem, folder) {
        (Some(stem), Some(folder)) if stem == "job" => folder,
        (Some(stem), _) => stem,
        (None, _) => String::new(),
    }
}

/// The most that is kept of standard input, bytes: nearly four weeks of GGA, RMC and GST at 1 Hz.
const MOST_PIPED: u64 = 512 * 1024 * 1024;

/// All of standard input as a log, kept in a temporary file; a fault where it is too long.
pub fn stdin() -> Result<Input, Stop> {
    let kept = Kept::of(&mut std::io::stdin().lock(), MOST_PIPED).map_err(|error| {
        Fault::unreadable(
            "unreadable",
            format!("standard input cannot be read or kept ({error})."),
            "Name a file instead.",
        )
    })?;
    match kept {
        Some(kept) => Ok(Input::Kept(kept)),
        None => Err(Fault::unreadable(
            "endless",
            "standard input goes on after 512 MB.",
            "Save the log to a file and name that, or stop after so many fixes with --max-fixes.",
        )
        .into()),
    }
}

/// Whether a file begins like a job sheet. One that cannot be opened is left to the reader of logs, which says why. A pipe is taken for a
/// log without looking, since looking into it would take its beginning away.
fn opens_like_sheet(path: &Path) -> bool {
    /// How many bytes are looked at; enough for a long comment at the top.
    const HEAD: u64 = 64 * 1024;
    if !path.is_file() {
        return false;
    }
    let mut head = Vec::new();
    std::fs::File::open(path)
        .and_then(|file| file.take(HEAD).read_to_end(&mut head))
        .is_ok_and(|_| looks_like_sheet(&head))
}

fn length(text: &str) -> Result<f64, String> {
    units::length_m(text).map_err(|fault| fault.to_string())
}

fn positive_length(text: &str) -> Result<f64, String> {
    match length(text)? {
        m if m > 0.0 => Ok(m),
        _ => Err("it must be more than 0".into()),
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.trim().trim_end_matches('s').trim().parse::<f64>() {
        Ok(s) if s.is_finite() && s >= 0.0 => Ok(s),
        _ => Err("it must be a number of seconds, 0 or more".into()),
    }
}

pub(super) fn confidence(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(c) if (0.5..=0.999).contains(&c) => Ok(c),
        _ => Err("it must be a chance from 0.5 to 0.999, such as 0.95".into()),
    }
}
