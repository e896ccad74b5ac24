//! `boundwalk demo`: the example survey written out and measured as anyone's would be.

use super::measure::Output;
use super::{Stop, ask, say, write};
use boundwalk::fault::Fault;
use boundwalk::survey;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// An invented garden, made by boundwalk's own simulator (`fixtures/garden/PROVENANCE.md`).
const FILES: [(&str, &[u8]); 3] = [
    ("job.toml", include_bytes!("../../fixtures/garden/job.toml")),
    (
        "lawn.nmea",
        include_bytes!("../../fixtures/garden/lawn.nmea"),
    ),
    (
        "patio.nmea",
        include_bytes!("../../fixtures/garden/patio.nmea"),
    ),
];

/// Where the sheets go, inside the demo's folder.
const SHEETS: &str = "sheets";

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder to write the example into; made if it is not there
    #[arg(default_value = "boundwalk-demo")]
    dir: PathBuf,
}

pub fn run(args: &Args) -> Result<ExitCode, Stop> {
    spare(&args.dir)?;
    std::fs::create_dir_all(&args.dir).map_err(|error| {
        Fault::unreadable(
            "unwritable",
            format!("it cannot be made ({error})."),
            "Name a folder you may write in.",
        )
        .in_file(args.dir.display().to_string())
    })?;
    for (name, bytes) in FILES {
        write::file(&args.dir.join(name), bytes)?;
    }
    say::note(&format!(
        "Wrote an invented survey to {}: {}",
        args.dir.display(),
        FILES.map(|f| f.0).join(", ")
    ));
    let asked = ask::sort(
        std::slice::from_ref(&args.dir),
        None,
        ask::StandardInput::Whole,
    )?;
    let request = ask::Options::default().request(asked, Vec::new());
    let measured = survey::measure(&request)?;
    let code = Output::report_and_sheets(args.dir.join(SHEETS)).write(&measured, &request)?;
    write::stdout(next(&args.dir).as_bytes())?;
    Ok(code)
}

/// A file of the user's own with a name of ours stays as it is.
fn spare(dir: &Path) -> Result<(), Stop> {
    for (name, bytes) in FILES {
        let path = dir.join(name);
        if std::fs::read(&path).is_ok_and(|there| there != bytes) {
            return Err(Fault::usage(
                "would-overwrite",
                "there is already a file of this name, and it is not the example's.",
                "Name another folder: boundwalk demo DIR.",
            )
            .in_file(path.display().to_string())
            .into());
        }
    }
    Ok(())
}

/// Each call on a line of its own, what it shows below it: folders' names may be long.
fn next(dir: &Path) -> String {
    let dir = dir.display();
    let tries = [
        (
            format!("boundwalk measure {dir} --units imperial"),
            "the same in feet",
        ),
        (
            format!("boundwalk measure {dir} --format json"),
            "everything, for a program",
        ),
        (
            format!("boundwalk measure {dir}/lawn.nmea"),
            "the walk alone, nothing taken off",
        ),
        (
            "boundwalk job > job.toml".to_owned(),
            "a job sheet for a lawn of your own",
        ),
    ];
    let mut text = String::from("\nTry next\n--------\n");
    for (call, shows) in tries {
        text.push_str(&format!("  {call}\n      {shows}\n"));
    }
    text
}
