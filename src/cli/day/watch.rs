//! `boundwalk day --watch`: looks into a folder again and again that loggers copy their files into, and measures what has arrived.

use super::{Args, FormatChoice, Printer, exit_code, leave, measured, tell_one_skipped};
use crate::cli::{Stop, say, write};
use boundwalk::day::Summary;
use boundwalk::day::find;
use boundwalk::day::table::Table;
use boundwalk::day::watch::Watch;
use boundwalk::fault::Fault;
use boundwalk::write::inputs::Inputs;
use std::collections::HashSet;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// Looks again and again until it is stopped or has looked often enough. It may be killed at any moment: everything is kept whole, and the
/// next watch goes on from there.
pub fn run(args: &Args, given: &[PathBuf]) -> Result<ExitCode, Stop> {
    refuse_map(args.format)?;
    let mut plan = args.plan();
    let chosen = args.chosen()?;
    let leave = leave(chosen.as_ref());
    let mut stores = args.stores(&plan, chosen, &Inputs::default())?;
    let mut printer = Printer::new(args.format, Table::of_any(plan.units))?;
    printer.head()?;
    let mut watch = Watch::default();
    let mut told: HashSet<PathBuf> = HashSet::new();
    let mut whole = Summary::default();
    let mut waiting = 0;
    for look in 1u64.. {
        let found = find::find(given, &leave);
        let skipped = found.skipped.iter();
        let unsaid = skipped.filter(|skipped| told.insert(skipped.path.clone()));
        if !args.quiet {
            unsaid.for_each(tell_one_skipped);
        }
        let inputs = found.inputs();
        if let Some(records) = &args.records {
            write::records_spare(records, None, &inputs)?;
        }
        if let Some(folder) = &mut stores.folder {
            folder.reads(inputs, &found.surveys())?;
        }
        let ready = watch.look(found.sites);
        if !ready.new.is_empty() {
            let new: HashSet<&str> = ready.new.iter().map(|site| site.name.as_str()).collect();
            // The day's own sheets list all surveys, so all are gone through; earlier ones are taken from what was kept and not measured again.
            let sites = match &stores.folder {
                Some(_) => &ready.whole,
                None => &ready.new,
            };
            measured(sites, &plan, &mut stores, &mut |done| {
                if !new.contains(done.line.name.as_str()) {
                    return Ok(());
                }
                whole.count(done);
                printer.print(done)
            })?;
            // `--force` holds for the first time only: what changes later is measured again anyway.
            plan.force = false;
        }
        if args.looks.is_some_and(|looks| look >= looks) {
            waiting = ready.waiting;
            break;
        }
        std::thread::sleep(Duration::from_secs_f64(args.every));
    }
    printer.end(&whole)?;
    if waiting > 0 {
        say::note(&format!(
            "{} not measured: watching measures what is the same at two looks; more --looks, or `day` without --watch, measures it.",
            still_arriving(waiting)
        ));
        return Ok(ExitCode::from(3));
    }
    Ok(exit_code(&whole))
}

/// The start of a sentence that says how many surveys the last look left alone.
fn still_arriving(surveys: usize) -> String {
    match surveys {
        1 => "1 survey was seen for the first time, or was still changing, and was".to_owned(),
        more => {
            format!("{more} surveys were seen for the first time, or were still changing, and were")
        }
    }
}

fn refuse_map(format: FormatChoice) -> Result<(), Fault> {
    match format {
        FormatChoice::Geojson | FormatChoice::Flatgeobuf => Err(Fault::usage(
            "watch-map",
            "a map on standard output would never be finished while watching.",
            "Use --out DIR: day.geojson there is kept up to date.",
        )),
        _ => Ok(()),
    }
}
