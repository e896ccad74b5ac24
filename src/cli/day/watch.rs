//! `boundwalk day --watch`: a folder that loggers sync into.

use super::{Args, FormatChoice, Printer, exit_code, leave};
use crate::cli::{Stop, say, write};
use boundwalk::day::find;
use boundwalk::day::table::Table;
use boundwalk::day::watch::Watch;
use boundwalk::day::{self, Summary};
use boundwalk::fault::Fault;
use boundwalk::write::inputs::Inputs;
use std::collections::HashSet;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// Looks again and again. It may be killed at any moment: everything is kept whole, and the next watch goes on from there.
pub fn run(args: &Args, given: &[PathBuf]) -> Result<ExitCode, Stop> {
    if matches!(
        args.format,
        FormatChoice::Geojson | FormatChoice::Flatgeobuf
    ) {
        return Err(Fault::usage(
            "watch-map",
            "a map on standard output would never be finished while watching.",
            "Use --out DIR: day.geojson there is kept up to date.",
        )
        .into());
    }
    let mut plan = args.plan();
    let chosen = args.chosen()?;
    let leave = leave(chosen.as_ref());
    let mut stores = args.stores(&plan, chosen, &Inputs::default())?;
    let mut printer = Printer::new(args.format, Table::of_any(plan.units))?;
    printer.head()?;
    let mut watch = Watch::default();
    let mut told: HashSet<PathBuf> = HashSet::new();
    let mut whole = Summary::default();
    for look in 1u64.. {
        let found = find::find(given, &leave);
        for skipped in &found.skipped {
            if told.insert(skipped.path.clone()) && !args.quiet {
                say::note(&format!(
                    "skipped {}: {}",
                    skipped.path.display(),
                    skipped.why
                ));
            }
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
            // The day's own sheets list everything; what was measured before comes from what was kept.
            let sites = match &stores.folder {
                Some(_) => &ready.whole,
                None => &ready.new,
            };
            let mut stop = None;
            day::run(sites, &plan, &mut stores, &mut |done| {
                if !new.contains(done.line.name.as_str()) {
                    return ControlFlow::Continue(());
                }
                whole.count(done);
                match printer.print(done) {
                    Ok(()) => ControlFlow::Continue(()),
                    Err(error) => {
                        stop = Some(error);
                        ControlFlow::Break(())
                    }
                }
            })?;
            if let Some(stop) = stop {
                return Err(stop);
            }
            // Forcing is for the first time: what changes later is measured again anyway.
            plan.force = false;
        }
        if args.looks.is_some_and(|looks| look >= looks) {
            break;
        }
        std::thread::sleep(Duration::from_secs_f64(args.every));
    }
    printer.end(&whole)?;
    Ok(exit_code(&whole))
}
