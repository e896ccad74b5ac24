//! Walks under the errors of real receivers: how often the band holds, by receiver and by class.
//!
//! `cargo run --release --example real -- fixtures/receivers/*.csv --walks 60`

#[path = "../tests/trial/mod.rs"]
mod trial;

use clap::Parser;
use std::fs;
use std::path::PathBuf;
use std::process::ExitCode;
use trial::real::{Care, Series, Walked, table, walks};
use trial::run::Outcome;

#[derive(Debug, Parser)]
struct Args {
    /// Series of errors: t_s,dE_m,dN_m,quality,hdop,gst_m
    #[arg(required = true)]
    series: Vec<PathBuf>,
    /// Walks under each series
    #[arg(long, default_value_t = 60)]
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
    /// One line a walk as well
    #[arg(long)]
    each: bool,
}

fn main() -> ExitCode {
    let args = Args::parse();
    let mut all = Vec::new();
    for path in &args.series {
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
    ExitCode::SUCCESS
}

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
            ..
        } => {
            println!(
                "{:.3}\t{band_m2:.3}\t{flagged}\t{codes}",
                area_m2 - walked.area_m2
            );
        }
        Outcome::Withheld { codes } => println!("\t\twithheld\t{codes}"),
        Outcome::Refused { code } => println!("\t\trefused\t{code}"),
    }
}
