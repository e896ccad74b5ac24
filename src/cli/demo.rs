//! `boundwalk demo`: writes the example survey into a folder and measures it just as any other survey, so that a newcomer sees what comes
//! out.

use super::measure::Output;
use super::{Stop, ask, say, write};
use boundwalk::fault::Fault;
use boundwalk::survey;
use boundwalk::write::files::put_new_files;
use boundwalk::write::inputs::Inputs;
use boundwalk::write::manifest::Holds;
use boundwalk::write::place::{Wanted, choose, free};
use boundwalk::write::{InTheWay, Why};
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
    let output = Output::report_and_sheets(args.dir.join(SHEETS));
    spare(&args.dir)?;
    put_new_files(&args.dir, &FILES)?;
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
    let ready = output.ready(ask::inputs(&request), &request.name)?;
    let measured = survey::measure(&request)?;
    let code = output.write(&measured, &request, ready)?;
    write::stdout(next(&args.dir).as_bytes())?;
    Ok(code)
}

/// Refuses a folder with anything in it but the example. If a job sheet were put beside logs of the user's own, these would be taken for a
/// part of the example.
fn spare(dir: &Path) -> Result<(), Stop> {
    let call = format!(
        "boundwalk demo {}",
        write::quoted(&free(dir).to_string_lossy())
    );
    let refused = |path: &Path, what: &str| -> Result<(), Stop> {
        Err(Fault::usage("not-ours", what, format!("Type: {call}"))
            .in_file(path.display().to_string())
            .into())
    };
    if dir.symlink_metadata().is_ok() && !dir.is_dir() {
        return refused(dir, "this is no folder.");
    }
    let Ok(entries) = std::fs::read_dir(dir) else {
        return Ok(());
    };
    let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    for path in paths {
        let name = path.file_name().unwrap_or_default();
        match FILES.iter().find(|(own, _)| name == *own) {
            Some((_, bytes)) if is_same(&path, bytes) => {}
            Some(_) => {
                return refused(
                    &path,
                    "there is already a file of this name, and it is not the example's.",
                );
            }
            None if name == SHEETS => sheets(&path, &call)?,
            None if name == ".DS_Store" => {}
            None => {
                return refused(
                    &path,
                    "this is not part of the example, which has a folder of its own.",
                );
            }
        }
    }
    Ok(())
}

fn is_same(path: &Path, bytes: &[u8]) -> bool {
    std::fs::metadata(path).is_ok_and(|meta| meta.is_file() && meta.len() == bytes.len() as u64)
        && std::fs::read(path).is_ok_and(|there| there == bytes)
}

/// Refuses a folder of sheets with anything else in it.
fn sheets(folder: &Path, call: &str) -> Result<(), Stop> {
    let chosen = choose(Wanted {
        out: folder,
        holds: Holds::Set,
        own: SHEETS,
        inputs: &Inputs::default(),
        call: &|_| call.to_owned(),
    })?;
    if chosen.path() == folder {
        return Ok(());
    }
    let there = InTheWay {
        path: folder.to_owned(),
        why: Why::NotOurs,
    };
    Err(there.told(call).into())
}

/// What to try next: each call on a line of its own and what it shows on the line below, since names of folders may be long.
fn next(dir: &Path) -> String {
    let dir = dir.display();
    let tries = [
        (
            format!("boundwalk measure {dir} --detail"),
            "the whole report: what it rests on, rows, prices",
        ),
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
