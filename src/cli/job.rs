//! `boundwalk job`: prints a job sheet to start from, or checks one, showing every fault at once and, where there is none, every setting
//! with where it comes from.

use super::{Stop, write};
use boundwalk::fault::Fault;
use boundwalk::job::keys::Origin;
use boundwalk::job::{self, Job};
use boundwalk::visible::visible;
use std::fmt::Write;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// A job sheet to check; every fault in it is shown at once. Without it, a sheet to start from is printed
    file: Option<PathBuf>,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    let Some(path) = &args.file else {
        write::stdout(job::template().as_bytes())?;
        return Ok(ExitCode::SUCCESS);
    };
    let job = Job::from_file(path)?;
    let absent: Vec<Fault> = job
        .files()
        .filter(|file| !file.is_file())
        .map(|file| {
            Fault::unreadable(
                "no-such-file",
                format!("the sheet names {}, which is not there.", file.display()),
                "Put the log beside the sheet, or mend the name.",
            )
            .in_file(path.display().to_string())
        })
        .collect();
    if !absent.is_empty() {
        return Err(Stop::Faults(absent));
    }
    let mut text = format!("{}: no faults\n\n", visible(&path.display().to_string()));
    let width = job
        .settings
        .iter()
        .map(|s| visible(&s.key).chars().count())
        .max()
        .unwrap_or(0);
    for setting in &job.settings {
        let from = match setting.from {
            Origin::Sheet { line } => format!("line {line}"),
            from => from.to_string(),
        };
        let pad = width - visible(&setting.key).chars().count();
        let _ = writeln!(
            text,
            "{}{:pad$}  {}  ({from})",
            visible(&setting.key),
            "",
            visible(&setting.value)
        );
    }
    write::stdout(text.as_bytes())?;
    Ok(ExitCode::SUCCESS)
}
