//! Walks whose position drifts away (it goes slowly wrong, and the receiver does not say so), and how many of them pass unseen.

use super::cell::Walk;
use super::report::{described, percent};
use super::run::Outcome;
use super::score::Figure;
use std::collections::BTreeMap;
use std::fmt::Write;

/// A drift that moves the area by no more than this many of the clean walk's bands is as good as none, and is left out. An area that is
/// off the truth by no more than this many of its own bands is near enough.
const BANDS: f64 = 1.3;

/// What became of some walks whose drift is large enough: how many got no area, were flagged, came near enough, or are wrong
/// without a word.
#[derive(Default)]
struct Row {
    no_area: usize,
    flagged: usize,
    /// Not flagged, and the truth is near enough: the band grew, or boundwalk took the drift off again where the lap closed.
    near: usize,
    silent: usize,
}

impl Row {
    /// The row as Markdown, after its name.
    fn cells(&self) -> String {
        let all = self.no_area + self.flagged + self.near + self.silent;
        format!(
            "{all} | {} | {} | {} | {} | {} |",
            self.no_area,
            self.flagged,
            self.near,
            self.silent,
            percent(self.silent as f64 / all as f64, 1)
        )
    }
}

/// The tables of drifts: what became of them, and the `listed` worst of those that passed unseen. Each pair is a clean walk and the
/// same walk with a drift. A clean walk that is flagged already, or has no area, tells nothing and is left out.
pub fn drifts(pairs: &[(Figure, Figure)], listed: usize) -> String {
    let mut out = String::from(
        "| drift: receiver, laps, way in | moved over 1.3 bands | no area given | flagged | within 1.3 bands | silent | |\n\
         |---|---|---|---|---|---|---|\n",
    );
    let mut rows: BTreeMap<String, Row> = BTreeMap::new();
    let mut silent: Vec<(f64, &Figure)> = Vec::new();
    for (clean, drifting) in pairs {
        let Outcome::Measured {
            band_m2,
            flagged: false,
            ..
        } = clean.outcome
        else {
            continue;
        };
        if drifting.moved_m2.abs() <= BANDS * band_m2 {
            continue;
        }
        let off = match &drifting.outcome {
            Outcome::Measured {
                area_m2,
                band_m2,
                flagged: false,
                ..
            } => Some((area_m2 - drifting.area_m2) / band_m2),
            _ => None,
        };
        for name in names(drifting) {
            let row = rows.entry(name).or_default();
            match (&drifting.outcome, off) {
                (_, Some(off)) if off.abs() > BANDS => row.silent += 1,
                (_, Some(_)) => row.near += 1,
                (Outcome::Measured { .. }, None) => row.flagged += 1,
                _ => row.no_area += 1,
            }
        }
        silent.extend(
            off.filter(|off| off.abs() > BANDS)
                .map(|off| (off, drifting)),
        );
    }
    for (name, row) in &rows {
        let _ = writeln!(out, "| {name} | {}", row.cells());
    }
    silent.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    out.push_str("\n| off, bands | walk | seed | what was done |\n|---|---|---|---|\n");
    for (off, figure) in silent.into_iter().take(listed) {
        let Figure { walk, blunder, .. } = figure;
        let _ = writeln!(
            out,
            "| {off:.1} | {} | {} | {blunder} |",
            described(walk),
            walk.number()
        );
    }
    out
}

/// The names of the three rows in which a walk is counted.
fn names(figure: &Figure) -> [String; 3] {
    let Walk { cell, .. } = figure.walk;
    let class = cell.class.name();
    let way = if figure.led_in { "with" } else { "without" };
    let of_laps = if cell.laps == 1 { "1 lap" } else { "more laps" };
    [
        format!("{class}, {of_laps}, {way}"),
        format!("{class}, {of_laps}, all"),
        format!("all, {of_laps}"),
    ]
}
