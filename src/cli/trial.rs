//! `boundwalk trial`: invented walks through the real pipeline, and whether the band told the truth.

use anyhow::{Context, Result};
use boundwalk::survey::measure;
use boundwalk::trial::cell::{Manner, Walk};
use boundwalk::trial::plan::Plan;
use boundwalk::trial::receiver::{Claim, Class};
use boundwalk::trial::report;
use boundwalk::trial::run::{Outcome, measured_outcome, request, walked};
use boundwalk::trial::score::{Figure, figures};
use boundwalk::trial::shape::Shape;
use clap::Args;
use clap::builder::PossibleValuesParser;
use indicatif::{ProgressBar, ProgressStyle};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Try the error band on invented walks whose true area is known
///
/// Draws lawns, walks them with an invented receiver, measures each log and counts how often the true area lies
/// within the band. Each walk has a seed, which brings it back: `boundwalk trial --seed 12345 --save DIR`.
#[derive(Debug, Args)]
pub struct TrialArgs {
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
    /// Put a blunder into every log and count those that pass unseen
    #[arg(long)]
    blunders: bool,
    /// List this many of the walks farthest out of their bands
    #[arg(long, value_name = "COUNT", default_value_t = 10)]
    worst: usize,
    /// One walk alone, told in full
    #[arg(long, value_name = "SEED")]
    seed: Option<u64>,
    /// With --seed: write the walk's logs and its truth into this folder
    #[arg(long, value_name = "DIR", requires = "seed")]
    save: Option<PathBuf>,
}

fn chosen<T: Copy>(names: &[String], all: &[T], name: impl Fn(T) -> &'static str) -> Vec<T> {
    all.iter()
        .copied()
        .filter(|one| names.is_empty() || names.iter().any(|wanted| wanted == name(*one)))
        .collect()
}

impl TrialArgs {
    fn plan(&self) -> Plan {
        Plan {
            classes: chosen(&self.receiver, &Class::ALL, Class::name),
            shapes: chosen(&self.shape, &Shape::ALL, Shape::name),
            laps: self.laps.iter().map(|laps| usize::from(*laps)).collect(),
            rates_hz: boundwalk::trial::cell::RATES_HZ
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

/// Runs the trial; the report is for standard output.
pub fn trial(args: &TrialArgs) -> Result<String> {
    if let Some(seed) = args.seed {
        return one(seed, args.save.as_deref());
    }
    let plan = args.plan();
    if args.blunders {
        let clean = measured_figures(&plan.walks());
        let spoilt = measured_figures(&plan.blundered());
        let pairs: Vec<(Figure, Figure)> = clean.into_iter().zip(spoilt).collect();
        return Ok(report::blunders(&pairs));
    }
    let figures = measured_figures(&plan.walks());
    Ok(format!(
        "{}{}\n{}",
        report::coverage(&figures),
        report::reasons(&figures),
        report::worst(&figures, args.worst)
    ))
}

fn measured_figures(walks: &[Walk]) -> Vec<Figure> {
    let bar = ProgressBar::new(walks.len() as u64);
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} walks, {eta} left") {
        bar.set_style(style);
    }
    let figures = figures(walks, || bar.inc(1));
    bar.finish_and_clear();
    figures
}

fn one(seed: u64, save: Option<&Path>) -> Result<String> {
    let walk = Walk::from_number(seed).context("no walk has this seed")?;
    let walked = walked(walk);
    let result = measure(&request(&walked, walked.nmea()));
    let (habits, receiver) = (&walked.habits, &walked.receiver);
    let mut text = format!(
        "walk          {} (seed {seed})\n\
         true area     {:.4} m2, perimeter {:.4} m, {} corners\n\
         surveyor      {:.2} m/s, pauses {}, way in {:.1} m, overrun {:.1} m, hand {:+.3} m\n\
         receiver      sigma {:.4} m (claims {}), tau {:.0} s, white share {:.2}, hdop {:.2}\n\
         log           {} epochs\n",
        report::described(&walk),
        walked.outline.area_m2,
        walked.outline.perimeter_m,
        walked.outline.corners_m.len(),
        habits.speed_mps,
        habits
            .pause_s
            .map_or("none".into(), |(a, b)| format!("{a:.1}-{b:.1} s")),
        habits.lead_m,
        habits.overrun_m,
        habits.hand_m,
        receiver.sigma_m,
        receiver
            .claimed_m
            .map_or("by hdop".into(), |m| format!("{m:.4} m")),
        receiver.tau_s,
        receiver.white_share,
        receiver.hdop,
        walked.epochs.len(),
    );
    if !walked.blunder.is_empty() {
        let _ = writeln!(text, "blunder       {}", walked.blunder);
    }
    let _ = writeln!(
        text,
        "ideal band    {:.3} m2, {:.3} m2 without knowing tau",
        walked.ideal.band_m2, walked.ideal.fair_m2
    );
    let _ = match measured_outcome(&result) {
        Outcome::Measured {
            area_m2,
            band_m2,
            flagged,
            laps,
            perimeter_m,
            ..
        } => writeln!(
            text,
            "measured      {area_m2:.4} +- {band_m2:.4} m2, error {:+.4} m2 = {:+.2} bands{}, {laps} laps, perimeter {:.3} m",
            area_m2 - walked.outline.area_m2,
            (area_m2 - walked.outline.area_m2) / band_m2,
            if flagged { ", check" } else { "" },
            perimeter_m.unwrap_or(f64::NAN),
        ),
        Outcome::Withheld { codes } => writeln!(text, "withheld      {codes}"),
        Outcome::Refused { code } => writeln!(text, "refused       {code}"),
    };
    match &result {
        Ok(measured) => {
            for term in measured.band.iter().flat_map(|band| &band.terms) {
                let _ = writeln!(
                    text,
                    "  term        {}: sigma {:.4} m2, correction {:+.4} m2",
                    term.term, term.sigma_m2, term.correction_m2
                );
            }
            for warning in &measured.warnings {
                let _ = writeln!(text, "  {}: {}", warning.code, warning.message);
            }
        }
        Err(fault) => {
            let _ = writeln!(text, "  {fault}");
        }
    }
    if let Some(folder) = save {
        std::fs::create_dir_all(folder)
            .with_context(|| format!("cannot make the folder {}", folder.display()))?;
        for (name, bytes) in [
            ("trial.nmea", walked.nmea()),
            ("trial.gpx", walked.gpx()),
            ("truth.txt", text.clone().into_bytes()),
        ] {
            let path = folder.join(name);
            std::fs::write(&path, bytes)
                .with_context(|| format!("cannot write {}", path.display()))?;
        }
    }
    Ok(text)
}
