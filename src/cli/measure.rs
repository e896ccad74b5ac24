//! `boundwalk measure`: measures one survey, prints the result, and writes sheets and records where they are asked for. Before anything is
//! measured it is made sure that everything may be written.

use super::ask::{self, FormatChoice, Options, UnitChoice};
use super::{Stop, say, status_code, write};
use boundwalk::records::Records;
use boundwalk::records::entry::Entry;
use boundwalk::sheet::{self, Format};
use boundwalk::survey::{self, Depth, Input, Measured, Request};
use boundwalk::units::Units;
use boundwalk::write::inputs::Inputs;
use boundwalk::write::manifest::Holds;
use boundwalk::write::place::{Chosen, Place, Set};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Logs, and/or one job sheet, or a folder with a job.toml; "-" is a log on standard input. Logs may be NMEA 0183, UBX,
    /// GPX, KML and KMZ, TCX, gpsd's reports, Android's logs, post-processed solutions (.pos), lists of points (CSV and its
    /// kin), GeoJSON and well-known text (WKT), gzipped or in a zip archive or not; the content tells which, not the name
    #[arg(value_name = "FILE", required_unless_present = "job")]
    files: Vec<PathBuf>,

    /// The job sheet
    #[arg(long, value_name = "FILE")]
    job: Option<PathBuf>,

    /// A log of something walked round inside the lawn, to be taken off (repeatable)
    #[arg(long, value_name = "FILE")]
    deduct: Vec<PathBuf>,

    #[command(flatten)]
    options: Options,

    #[command(flatten)]
    output: Output,
}

/// What comes out, and how.
#[derive(Debug, Clone, clap::Args)]
pub struct Output {
    /// What to print on standard output
    #[arg(long, value_enum, default_value_t = FormatChoice::Text)]
    format: FormatChoice,

    /// The whole report, not only its first screen
    #[arg(long)]
    detail: bool,

    /// Also write every sheet into this folder. One that holds anything but sheets of ours stays as it is: they go into a
    /// folder of their own inside it
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,

    /// Also record the survey in this GeoPackage, which any GIS opens; measuring again adds a revision
    #[arg(long, value_name = "FILE.gpkg")]
    records: Option<PathBuf>,

    /// Units on sheets for people; data files are always metric
    #[arg(long, value_enum, default_value_t = UnitChoice::Metric)]
    units: UnitChoice,

    /// No warnings or notes on standard error
    #[arg(long, short)]
    quiet: bool,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    let asked = ask::sort(
        &args.files,
        args.job.as_deref(),
        args.options.standard_input(),
    )?;
    let deduct = args.deduct.iter().cloned().map(Input::File).collect();
    args.output.measure(args.options.request(asked, deduct))
}

/// The survey's name before its logs are read: the one from its sheet, or the first log's without its endings.
fn name_of(request: &Request) -> String {
    let of_log = || {
        let name = request.logs.first().map(Input::name).unwrap_or_default();
        let name = name.strip_suffix(".gz").unwrap_or(&name);
        let stem = Path::new(name).file_stem().unwrap_or_default();
        stem.to_string_lossy().into_owned()
    };
    match request.name.as_str() {
        "" => of_log(),
        name => name.to_owned(),
    }
}

/// Where results go, once it is made sure that they may be written there, and the files that are read.
pub struct Ready {
    place: Option<Place>,
    inputs: Inputs,
}

impl Output {
    /// Output of the report on standard output and of every sheet into a folder.
    pub fn report_and_sheets(folder: PathBuf) -> Output {
        Output {
            format: FormatChoice::Text,
            detail: false,
            out: Some(folder),
            records: None,
            units: UnitChoice::Metric,
            quiet: false,
        }
    }

    /// Measures, and writes the result where it was asked to go.
    pub fn measure(&self, request: Request) -> Result<ExitCode, Stop> {
        let request = Request {
            depth: self.depth(),
            ..request
        };
        let ready = self.ready(ask::inputs(&request), &name_of(&request))?;
        let measured = survey::measure(&request)?;
        self.write(&measured, &request, ready)
    }

    /// The folder for sheets, if one was named.
    pub fn out(&self) -> Option<&Path> {
        self.out.as_deref()
    }

    /// The same output with the folder for sheets, if there is one, elsewhere.
    pub fn with_out(&self, elsewhere: impl Fn(&Path) -> PathBuf) -> Output {
        Output {
            out: self.out.as_deref().map(elsewhere),
            ..self.clone()
        }
    }

    /// The units on what people read.
    pub fn units(&self) -> Units {
        self.units.into()
    }

    /// Whether nothing but the result is to be said.
    pub fn is_quiet(&self) -> bool {
        self.quiet
    }

    /// Makes sure that everything may be written where it was asked to go, and holds the folder.
    pub fn ready(&self, inputs: Inputs, survey: &str) -> Result<Ready, Stop> {
        write::stdout_spares(&inputs)?;
        let chosen = match &self.out {
            Some(out) => {
                let own = format!("{survey}-sheets");
                Some(write::folder(out, Holds::Set, &own, &inputs)?)
            }
            None => None,
        };
        if let Some(records) = &self.records {
            write::records_spare(records, chosen.as_ref(), &inputs)?;
            Records::may_be(records)?;
        }
        let note = chosen.as_ref().and_then(Chosen::note).map(str::to_owned);
        let place = chosen.map(Chosen::claim).transpose()?;
        if !self.quiet {
            let left = place.as_ref().map(Place::left).unwrap_or_default();
            write::tell(note.as_deref(), left);
        }
        Ok(Ready { place, inputs })
    }

    /// How deep the survey must go: the outlines of the band are worked out only where they are written somewhere.
    fn depth(&self) -> Depth {
        let drawn = self.format.is_map() || self.out.is_some() || self.records.is_some();
        if drawn {
            Depth::Drawing
        } else {
            Depth::Document
        }
    }

    /// Writes one survey's result where it was asked to go.
    pub fn write(
        &self,
        measured: &Measured,
        request: &Request,
        ready: Ready,
    ) -> Result<ExitCode, Stop> {
        let units = Units::from(self.units);
        // The result is made ready for printing before anything is written, so that a fault in it leaves nothing half done.
        let format = match self.format {
            FormatChoice::Text if self.detail => Format::Detail,
            other => other.into(),
        };
        let printed = sheet::one(measured, format, units)?;
        let reads_warnings_anyway =
            self.format == FormatChoice::Text && std::io::stdout().is_terminal();
        if !self.quiet && !reads_warnings_anyway {
            say::warnings(&measured.warnings, units);
        }
        if let Some(place) = &ready.place {
            let told = put(measured, units, place, &ready.inputs)?;
            if !self.quiet {
                say::note(&told);
            }
        }
        if let Some(file) = &self.records {
            let entry = Entry::of(measured, request, None)?;
            let added = Records::open(file)?.add(&[&entry])?;
            if !self.quiet
                && let [added] = added.as_slice()
            {
                say::note(&format!(
                    "Recorded in {}: garden:{}, revision {}",
                    file.display(),
                    added.garden,
                    added.revision
                ));
            }
        }
        write::stdout(&printed)?;
        Ok(status_code(measured.status))
    }
}

/// Writes every sheet, and says so in a line.
fn put(measured: &Measured, units: Units, place: &Place, inputs: &Inputs) -> Result<String, Stop> {
    let sheets = sheet::all(measured, units)?;
    let files: Vec<(&str, &[u8])> = sheets
        .iter()
        .map(|sheet| (sheet.name, sheet.bytes.as_slice()))
        .collect();
    let survey = measured.survey.name.as_str();
    let set = Set {
        survey,
        files: &files,
        kept: None,
    };
    let instead_of = match place.put(&set, inputs)? {
        Some(older) if older != survey => format!(", in the place of those of {older}"),
        _ => String::new(),
    };
    let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
    Ok(format!(
        "Wrote {} sheets to {}{instead_of}: {}",
        names.len(),
        place.shown().display(),
        names.join(", ")
    ))
}
