//! `boundwalk tape`: a lawn measured by tape alone.

use super::Stop;
use super::ask::{confidence, inputs};
use super::measure::Output;
use boundwalk::job::Job;
use boundwalk::read::{LogFile, LogKind};
use boundwalk::survey::{Request, taped};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// A sheet with a [[shape]] table for each part of the lawn; "boundwalk job" prints one to start from
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// How often the true area should lie within the band, 0.5 to 0.999
    #[arg(long, value_name = "CHANCE", value_parser = confidence, default_value_t = 0.95)]
    confidence: f64,

    #[command(flatten)]
    output: Output,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    let job = Job::from_file(&args.file)?;
    let sheet = job.sheet.as_ref();
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy();
    let file = LogFile {
        name: args
            .file
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        sha256: sheet.map(|s| s.sha256.clone()).unwrap_or_default(),
        kind: LogKind::Tape,
        lines: sheet.map_or(0, |s| s.lines),
        fixes: 0,
        damaged: 0,
        first_time: String::new(),
        last_time: String::new(),
    };
    let request = Request {
        job,
        confidence: Some(args.confidence),
        ..Request::default()
    };
    let ready = args.output.ready(inputs(&request), &stem)?;
    let measured = taped::measure(&request.job, &stem, file, args.confidence)?;
    args.output.write(&measured, &request, ready)
}
