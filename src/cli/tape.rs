//! `boundwalk tape`: a lawn measured by tape alone.

use super::Stop;
use super::ask::confidence;
use super::measure::Output;
use boundwalk::fault::Fault;
use boundwalk::job::Job;
use boundwalk::job::read::sheet_bytes;
use boundwalk::read::{LogFile, LogKind};
use boundwalk::survey::{Request, taped};
use std::fmt::Write;
use std::path::{Path, PathBuf};
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
    let name = args.file.display().to_string();
    let bytes = sheet_bytes(&args.file).map_err(|error| {
        Fault::unreadable(
            "unreadable",
            format!("the tape sheet cannot be read ({error})."),
            "Check the name, or write one with `boundwalk job > tape.toml`.",
        )
        .in_file(name.clone())
    })?;
    let folder = args.file.parent().unwrap_or(Path::new(""));
    let job = Job::from_bytes(&bytes, &name, folder)?;
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy();
    let file = LogFile {
        name: args
            .file
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned(),
        sha256: hash(&bytes),
        kind: LogKind::Tape,
        lines: memchr::memchr_iter(b'\n', &bytes).count() as u64
            + u64::from(bytes.last().is_some_and(|b| *b != b'\n')),
        fixes: 0,
        damaged: 0,
        first_time: String::new(),
        last_time: String::new(),
    };
    let measured = taped::measure(&job, &stem, file, args.confidence)?;
    let request = Request {
        job,
        confidence: Some(args.confidence),
        ..Request::default()
    };
    args.output.write(&measured, &request)
}

fn hash(bytes: &[u8]) -> String {
    use sha2::{Digest, Sha256};
    Sha256::digest(bytes)
        .iter()
        .fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
}
