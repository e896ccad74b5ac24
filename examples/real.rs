//! Tries the band on invented walks with the errors of real receivers, and prints how often it holds the true area, by receiver and
//! by class of receiver.
//!
//! `cargo run --release --example real`

#[path = "../tests/trial/mod.rs"]
mod trial;

use clap::Parser;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use trial::real::{Care, Series, Walked, scores, table, walks};
use trial::run::Outcome;

#[derive(Debug, Parser)]
struct Args {
    /// Series of errors, t_s,dE_m,dN_m,quality,hdop,gst_m; those of the project where none is named
    series: Vec<PathBuf>,
    /// Walks under each series
    #[arg(long, default_value_t = 200)]
    walks: u64,
    /// Number of the first walk; another one draws other walks
    #[arg(long, default_value_t = 0)]
    first: u64,
    /// Tape two sides of a rectangle
    #[arg(long)]
    taped: bool,
    /// Stand still so many seconds before and after
    #[arg(long, default_value_t = 0.0)]
    stood: f64,
    /// So many laps and no other
    #[arg(long)]
    laps: Option<usize>,
    /// A round bed near the edge, placed by standing in its middle
    #[arg(long)]
    bed: bool,
    /// One line a walk as well
    #[arg(long)]
    each: bool,
    /// Fail where a class is covered too seldom, or errs by much without a word
    #[arg(long)]
    check: bool,
}

fn main() -> ExitCode {
    let args = Args::parse();
    let mut all = Vec::new();
    let own = || {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/receivers");
        let mut own: Vec<PathBuf> = fs::read_dir(folder)
            .into_iter()
            .flatten()
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.extension().is_some_and(|e| e == "csv"))
            .collect();
        own.sort();
        own
    };
    let series = if args.series.is_empty() {
        own()
    } else {
        args.series.clone()
    };
    for path in &series {
        let name = path
            .file_stem()
            .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
        let read = fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()));
        match read.and_then(|text| Series::read(&name, &text)) {
            Ok(series) => all.push(series),
            Err(said) => {
                eprintln!("{said}");
                return ExitCode::from(1);
            }
        }
    }
    let care = Care {
        taped: args.taped,
        stood_s: args.stood,
        laps: args.laps,
        bed: args.bed,
    };
    let walked = walks(&all, args.walks, args.first, care);
    if args.each {
        walked.iter().for_each(each);
    }
    print!(
        "{}",
        table(&walked, "receiver", |w| format!(
            "{} ({})",
            w.receiver, w.class
        ))
    );
    print!("\n{}", table(&walked, "class", |w| w.class.to_owned()));
    print!(
        "\n{}",
        table(&walked, "class, laps", |w| format!(
            "{}, {}",
            w.class, w.laps
        ))
    );
    if args.check && !holds(&walked) {
        return ExitCode::from(1);
    }
    ExitCode::SUCCESS
}

/// Whether the band does what is asked of it. In every class with enough results it must hold the truth 93 times in 100, and no more
/// than one result in 500 may be three bands off without a flag. Says which class falls short.
fn holds(walked: &[Walked]) -> bool {
    const ENOUGH: usize = 100;
    const COVERED: f64 = 0.93;
    const SILENT: f64 = 0.002;
    let mut holds = true;
    for (class, score) in scores(walked, |w| w.class.to_owned()) {
        let silent = score.silent as f64 > SILENT * score.given.max(500) as f64;
        if score.given >= ENOUGH && (score.covered < COVERED || silent) {
            eprintln!(
                "{class}: covered {:.3}, {} silent of {}",
                score.covered, score.silent, score.given
            );
            holds = false;
        }
    }
    holds
}

/// Prints one walk as a line of values with tabs between them: what was true, and what came out.
fn each(walked: &Walked) {
    print!(
        "# {}\t{}\t{}\t{:.2}\t",
        walked.receiver, walked.class, walked.laps, walked.area_m2
    );
    match &walked.outcome {
        Outcome::Measured {
            area_m2,
            band_m2,
            flagged,
            codes,
            perimeter_m,
            perimeter_sigma_m,
            ..
        } => {
            let longer_m = perimeter_m.map_or(f64::NAN, |m| m - walked.perimeter_m);
            println!(
                "{:.3}\t{band_m2:.3}\t{flagged}\t{codes}\t{:.2}\t{longer_m:.3}\t{:.3}",
                area_m2 - walked.area_m2,
                walked.perimeter_m,
                1.96 * perimeter_sigma_m.unwrap_or(f64::NAN)
            );
        }
        Outcome::Withheld { codes } => println!("\t\twithheld\t{codes}"),
        Outcome::Refused { code } => println!("\t\trefused\t{code}"),
    }
}
