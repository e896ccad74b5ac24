//! `boundwalk measure`: one survey.

use super::ask::{self, FormatChoice, Options, UnitChoice};
use super::{Stop, say, status_code, write};
use boundwalk::records::Records;
use boundwalk::records::entry::Entry;
use boundwalk::sheet;
use boundwalk::survey::{self, Depth, Input, Measured, Request};
use boundwalk::units::Units;
use std::io::IsTerminal;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Logs (NMEA 0183 or GPX, gzipped or not), and/or one job sheet, or a folder with a job.toml; "-" is a log on
    /// standard input
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

    /// Also write every sheet into this folder
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
    let request = Request {
        depth: args.output.depth(),
        ..args.options.request(asked, deduct)
    };
    let measured = survey::measure(&request)?;
    args.output.write(&measured, &request)
}

impl Output {
    /// The report on standard output and every sheet in a folder.
    pub fn report_and_sheets(folder: PathBuf) -> Output {
        Output {
            format: FormatChoice::Text,
            out: Some(folder),
            records: None,
            units: UnitChoice::Metric,
            quiet: false,
        }
    }

    /// Outlines of the band are worked out where they are written.
    fn depth(&self) -> Depth {
        let drawn =
            self.format == FormatChoice::Geojson || self.out.is_some() || self.records.is_some();
        if drawn {
            Depth::Drawing
        } else {
            Depth::Document
        }
    }

    /// Writes one survey's result where it was asked to go.
    pub fn write(&self, measured: &Measured, request: &Request) -> Result<ExitCode, Stop> {
        let units = Units::from(self.units);
        let reads_warnings_anyway =
            self.format == FormatChoice::Text && std::io::stdout().is_terminal();
        if !self.quiet && !reads_warnings_anyway {
            say::warnings(&measured.warnings);
        }
        if let Some(folder) = &self.out {
            let names = sheet::set::write(measured, units, folder)?;
            if !self.quiet {
                say::note(&sheet::set::told(folder, &names));
            }
        }
        if let Some(file) = &self.records {
            let entry = Entry::of(measured, request, None)?;
            Records::open(file)?.add(&[&entry])?;
            if !self.quiet {
                say::note(&format!("Recorded in {}", file.display()));
            }
        }
        write::stdout(&sheet::one(measured, self.format.into(), units)?)?;
        Ok(status_code(measured.status))
    }
}
