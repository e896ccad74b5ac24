//! Takes invented walks through boundwalk itself, and prints how often the band told the truth.
//!
//! `cargo run --release --example trial -- --walks 20`

#[path = "../tests/trial/mod.rs"]
mod trial;

use boundwalk::fault::Fault;
use boundwalk::sheet::json;
use boundwalk::survey::{Depth, Request, measure};
use boundwalk::write::files::put_files;
use boundwalk::write::inputs::Inputs;
use boundwalk::write::place::free;
use clap::Parser;
use clap::builder::PossibleValuesParser;
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use sha2::{Digest, Sha256};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use trial::cell::{Manner, RATES_HZ, Walk};
use trial::drift;
use trial::plan::Plan;
use trial::receiver::{Claim, Class, Receiver};
use trial::report;
use trial::run::{Draw, request, walked};
use trial::score::{Figure, figures};
use trial::shape::Shape;

/// Try the error band on invented walks whose true area is known
///
/// Draws lawns, walks them with an invented receiver, measures each log and counts how often the true area lies
/// within the band. Each walk has a seed, which brings it back: `--seed 12345 --save DIR`.
#[derive(Debug, Parser)]
#[command(name = "trial", max_term_width = 100)]
struct Args {
    /// Walks of each kind (a kind is a receiver on a shape, so many laps, so many fixes a second)
    #[arg(long, value_name = "COUNT", default_value_t = 10)]
    walks: u64,
    /// Start with this walk of each kind; another start draws other walks
    #[arg(long, value_name = "INDEX", default_value_t = 0)]
    first: u64,
    /// Only these receivers: rtk-fixed, rtk-float, differential, autonomous
    #[arg(long, value_name = "CLASS", value_delimiter = ',', hide_possible_values = true,
          value_parser = PossibleValuesParser::new(Class::ALL.map(Class::name)))]
    receiver: Vec<String>,
    /// Only these shapes: rectangle, l, t, kidney, blob, curved-edge, strip
    #[arg(long, value_name = "SHAPE", value_delimiter = ',', hide_possible_values = true,
          value_parser = PossibleValuesParser::new(Shape::ALL.map(Shape::name)))]
    shape: Vec<String>,
    /// Laps walked, 1 to 4
    #[arg(long, value_name = "LAPS", value_delimiter = ',', default_values_t = [1, 2, 3],
          value_parser = clap::value_parser!(u8).range(1..=4))]
    laps: Vec<u8>,
    /// Fixes a second: 1, 5, 10
    #[arg(long, value_name = "HZ", value_delimiter = ',', default_values_t = [1, 5, 10])]
    rate: Vec<u8>,
    /// Accuracy stated in the log: gst (sigmas), hdop (dilution alone)
    #[arg(long, value_name = "CLAIM", value_delimiter = ',', hide_possible_values = true,
          value_parser = PossibleValuesParser::new(Claim::ALL.map(Claim::name)))]
    claim: Vec<String>,
    /// How the surveyor walks: plain, carried, part-lap, turn-round
    #[arg(long, value_name = "MANNER", default_value = "plain", hide_possible_values = true,
          value_parser = PossibleValuesParser::new(Manner::ALL.map(Manner::name)))]
    manner: String,
    /// Draw receivers as widely as real ones misstate themselves, and not by what the band believes
    #[arg(long, conflicts_with_all = ["blunders", "seed", "hashes"])]
    wide: bool,
    /// Put a blunder into every log and count those that pass unseen
    #[arg(long)]
    blunders: bool,
    /// List this many of the walks farthest out of their bands
    #[arg(long, value_name = "COUNT", default_value_t = 10)]
    worst: usize,
    /// Instead of tables, a hash of each walk's result: equal lines before and after a change that should move nothing
    #[arg(long, conflicts_with_all = ["blunders", "seed"])]
    hashes: bool,
    /// One walk alone, told in full
    #[arg(long, value_name = "SEED")]
    seed: Option<u64>,
    /// With --seed: write the walk's logs and its truth into this folder
    #[arg(long, value_name = "DIR", requires = "seed")]
    save: Option<PathBuf>,
}

/// Those of all whose names are wanted, or all where no name is given.
fn chosen<T: Copy>(names: &[String], all: &[T], name: impl Fn(T) -> &'static str) -> Vec<T> {
    all.iter()
        .copied()
        .filter(|one| names.is_empty() || names.iter().any(|wanted| wanted == name(*one)))
        .collect()
}

impl Args {
    /// The plan of the walks that these options ask for.
    fn plan(&self) -> Plan {
        Plan {
            classes: chosen(&self.receiver, &Class::ALL, Class::name),
            shapes: chosen(&self.shape, &Shape::ALL, Shape::name),
            laps: self.laps.iter().map(|laps| usize::from(*laps)).collect(),
            rates_hz: RATES_HZ
                .into_iter()
                .filter(|hz| self.rate.iter().any(|wanted| f64::from(*wanted) == *hz))
                .collect(),
            claims: chosen(&self.claim, &Claim::ALL, Claim::name),
            manner: Manner::ALL
                .into_iter()
                .find(|manner| manner.name() == self.manner)
                .unwrap_or(Manner::Plain),
            walks: self.walks,
            first: self.first,
        }
    }
}

fn main() -> ExitCode {
    let args = Args::parse();
    let told = match args.seed {
        Some(seed) => one(seed, args.save.as_deref()),
        None => Ok(tables(&args)),
    };
    let text = match told {
        Ok(text) => text,
        Err(fault) => {
            eprintln!("error: {fault}");
            return ExitCode::from(2);
        }
    };
    match std::io::stdout().write_all(text.as_bytes()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            eprintln!("error: the tables could not be written ({error})");
            ExitCode::FAILURE
        }
        _ => ExitCode::SUCCESS,
    }
}

/// Walks the whole plan and tells of it, in tables or in hashes.
fn tables(args: &Args) -> String {
    let plan = args.plan();
    if args.hashes {
        let lines: Vec<String> = plan.walks().into_par_iter().map(hashed).collect();
        return lines.concat();
    }
    let receiver = if args.wide {
        Receiver::widely
    } else {
        Receiver::random
    };
    let clean = measured(&plan.walks(), receiver);
    if !args.blunders {
        return format!(
            "{}{}\n{}\n{}",
            report::coverage(&clean),
            report::reasons(&clean),
            report::worst(&clean, args.worst),
            report::astray(&clean, args.worst),
        );
    }
    let pairs: Vec<(Figure, Figure)> = clean
        .iter()
        .cloned()
        .zip(measured(&plan.blundered(), Receiver::random))
        .collect();
    let drifting = measured(&plan.drifting(), Receiver::random);
    let drifts: Vec<(Figure, Figure)> = clean.into_iter().zip(drifting).collect();
    format!(
        "{}\n{}",
        report::blunders(&pairs),
        drift::drifts(&drifts, args.worst)
    )
}

/// A line with the walk's number and the hash of its whole result document: a number that changes when any byte of it does.
fn hashed(walk: Walk) -> String {
    let walked = walked(walk);
    let request = Request {
        depth: Depth::Document,
        ..request(&walked, walked.nmea())
    };
    let document = match measure(&request) {
        Ok(measured) => json::document(&measured).unwrap_or_else(|fault| panic!("{fault}")),
        Err(fault) => fault.to_string().into_bytes(),
    };
    let hash: String = Sha256::digest(&document)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    format!("{} {hash}\n", walk.number())
}

/// Measures these walks, and shows meanwhile how far it has come.
fn measured(walks: &[Walk], receiver: Draw) -> Vec<Figure> {
    let bar = ProgressBar::new(walks.len() as u64);
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} walks, {eta} left") {
        bar.set_style(style);
    }
    let figures = figures(walks, receiver, || bar.inc(1));
    bar.finish_and_clear();
    figures
}

/// Tells of one walk in full, and writes its logs and its truth into a folder where one is given.
fn one(seed: u64, save: Option<&Path>) -> Result<String, Fault> {
    let Some(walk) = Walk::from_number(seed) else {
        return Err(Fault::usage(
            "no-such-walk",
            format!("No walk has the seed {seed}."),
            "Take a seed from the tables of a trial.",
        ));
    };
    let walked = walked(walk);
    let text = report::told(&walked, &measure(&request(&walked, walked.nmea())));
    if let Some(folder) = save {
        let (nmea, gpx) = (walked.nmea(), walked.gpx());
        let files: [(&str, &[u8]); 3] = [
            ("trial.nmea", &nmea),
            ("trial.gpx", &gpx),
            ("truth.txt", text.as_bytes()),
        ];
        let instead = format!("Give another folder: --save {}", free(folder).display());
        put_files(folder, &files, &Inputs::default(), &instead)?;
    }
    Ok(text)
}
