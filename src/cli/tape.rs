//! `boundwalk tape`: measures a lawn from taped figures alone, without a walk.

use super::Stop;
use super::ask::{confidence, inputs};
use super::measure::Output;
use boundwalk::job::Job;
use boundwalk::survey::{Request, taped};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// A sheet (or the folder of a job.toml) with a [[shape]] table for each part of the lawn; "boundwalk job" prints one to start from
    #[arg(value_name = "FILE")]
    file: PathBuf,

    /// How often the true area should lie within the band, 0.5 to 0.999
    #[arg(long, value_name = "CHANCE", value_parser = confidence, default_value_t = 0.95)]
    confidence: f64,

    #[command(flatten)]
    output: Output,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    // A folder stands for the job sheet in it; the survey then has the folder's name.
    let (path, name) = match args.file.is_dir() {
        true => (args.file.join("job.toml"), args.file.file_name()),
        false => (args.file.clone(), args.file.file_stem()),
    };
    let request = Request {
        name: name.unwrap_or_default().to_string_lossy().into_owned(),
        job: Job::from_file(&path)?,
        confidence: Some(args.confidence),
        ..Request::default()
    };
    let ready = args.output.ready(inputs(&request), &request.name)?;
    let measured = taped::alone(&request)?;
    args.output.write(&measured, &request, ready)
}
