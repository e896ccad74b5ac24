//! The check sheet: the few tape lines that would find the most error, with what each should read.
//!
//! Taping a line between two corners reduces the area's variance by as much as the length's error goes with the area's error. The
//! covariance of the corners tells that before anything is taped, so that lines are chosen one after the other: each is the one that
//! takes the most off what is left.

use super::chance;
use super::matrix::{Matrix, dot};
use super::reading::Line;
use super::setout::{Baseline, Row, Side, curve_rows, pairs};
use crate::limits::tape::{ROUGH_M, WORTH_TAPING_SHARE};
use crate::ring::distance_m;
use geo::Coord;
use serde::Serialize;

/// The most lines that one sheet asks for: two people with one tape do these in a quarter of an hour (judgement).
const MOST_LINES: usize = 8;
/// Spacing of check offsets to a curved edge, metres (common practice, no source).
const CHECK_SPACING_M: f64 = 1.0;

/// Why a line is on the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    LongestEdge,
    Diagonal,
    /// It takes the most off what is left of the error.
    Tightens,
}

/// One line to tape.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ToTape {
    pub from: String,
    pub to: String,
    pub expected_m: f64,
    /// The tape should read within this much of it, 95 times in 100.
    pub tolerance_m: f64,
    pub why: Why,
}

/// The whole check sheet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckSheet {
    /// One sigma of each reading of the tape, assumed for the tolerances, metres.
    pub tape_sigma_m: f64,
    pub lines: Vec<ToTape>,
    /// Half-width of the net area's band if all of them were taped and fitted, m²; null where that is not worked out.
    pub band_m2: Option<f64>,
    /// Offsets from a baseline to curved edges; empty where every edge is straight.
    pub baseline: Option<Baseline>,
    pub offsets: Vec<Row>,
    /// How far an offset may be off, 95 times in 100, metres.
    pub offset_tolerance_m: Option<f64>,
}

/// What the sheet is made from.
#[derive(Debug, Clone)]
pub struct Measured<'a> {
    pub names: &'a [String],
    /// Corners of the ring in order, then other named points.
    pub points: &'a [Coord<f64>],
    /// Covariance of the points, in the order x0, y0, x1, …
    pub covariance: &'a Matrix,
    pub sides: &'a [Side],
    /// Derivative of the area by the points.
    pub area_gradient: &'a [f64],
    pub tape_sigma_m: f64,
}

/// The whole sheet: the lines to tape, and offsets where an edge is curved.
pub(crate) fn check_sheet(measured: &Measured<'_>) -> CheckSheet {
    let curved = measured.sides.iter().any(|s| !s.is_straight());
    let baseline = curved
        .then(|| Baseline::choose(measured.names, measured.points, measured.sides))
        .flatten();
    let offsets = baseline
        .as_ref()
        .map(|b| curve_rows(b, measured.names, measured.sides, CHECK_SPACING_M).0)
        .unwrap_or_default();
    let baseline = baseline.filter(|_| !offsets.is_empty());
    CheckSheet {
        tape_sigma_m: measured.tape_sigma_m,
        lines: lines(measured),
        band_m2: None,
        offset_tolerance_m: baseline.as_ref().map(|b| offset_tolerance_m(measured, b)),
        baseline,
        offsets,
    }
}

/// Chooses the lines: the two longest straight edges, the two best diagonals between corners of the ring, and then whatever takes most
/// off the area's variance given all before it, as long as it takes enough. After a poor walk all sides that may be straight come before
/// that.
fn lines(measured: &Measured<'_>) -> Vec<ToTape> {
    let mut state = State::new(measured);
    let mut lines: Vec<ToTape> = Vec::new();
    let mut edges: Vec<&Side> = measured.sides.iter().filter(|s| s.is_straight()).collect();
    edges.sort_by(|a, b| {
        state
            .expected(b.from, b.to)
            .total_cmp(&state.expected(a.from, a.to))
    });
    for edge in edges.iter().take(2) {
        lines.extend(state.take(edge.from, edge.to, Why::LongestEdge));
    }
    let neighbours = |i: usize, j: usize| {
        measured
            .sides
            .iter()
            .any(|s| (s.from, s.to) == (i, j) || (s.from, s.to) == (j, i))
    };
    let pairs = pairs(measured.sides);
    for _ in 0..2 {
        let diagonals = pairs.iter().copied().filter(|(i, j)| !neighbours(*i, *j));
        if let Some((i, j, _)) = state.best(diagonals, &lines) {
            lines.extend(state.take(i, j, Why::Diagonal));
        }
    }
    // A poor walk shows little of the way between corners, so that every side that may be straight is worth taping.
    for side in &edges {
        let rough = side.tolerance_m > ROUGH_M;
        if rough && lines.len() < MOST_LINES && !is_taken(measured, &lines, side.from, side.to) {
            lines.extend(state.take(side.from, side.to, Why::Tightens));
        }
    }
    while lines.len() < MOST_LINES {
        match state.best(pairs.iter().copied(), &lines) {
            Some((i, j, share)) if share >= WORTH_TAPING_SHARE => {
                lines.extend(state.take(i, j, Why::Tightens));
            }
            _ => break,
        }
    }
    lines
}

/// How far an offset to a curved edge may be off, 95 times in 100: a point of the curve is as uncertain against the baseline as a
/// typical corner is.
fn offset_tolerance_m(measured: &Measured<'_>, baseline: &Baseline) -> f64 {
    let (from, to) = (baseline.from_index, baseline.to_index);
    let corners = measured.sides.iter().map(|side| side.from);
    let variances: Vec<f64> = corners
        .filter(|&point| point != from && point != to)
        .map(|point| {
            let g = Line::Offset { point, from, to }.gradient(measured.points);
            measured.covariance.between(&g, &g).max(0.0)
        })
        .collect();
    let mean = variances.iter().sum::<f64>() / variances.len().max(1) as f64;
    chance::two_sided(0.95) * (mean + measured.tape_sigma_m.powi(2)).sqrt()
}

/// Whether this line is on the list already, in either direction.
fn is_taken(measured: &Measured<'_>, taken: &[ToTape], i: usize, j: usize) -> bool {
    let (a, b) = (&measured.names[i], &measured.names[j]);
    taken
        .iter()
        .any(|t| (&t.from == a && &t.to == b) || (&t.from == b && &t.to == a))
}

/// What would be known if the lines taken so far had been taped.
struct State<'a, 'b> {
    /// Covariance of the points as it would then be.
    covariance: Matrix,
    /// Covariances of the area with the points, m³.
    with_area: Vec<f64>,
    /// Variance of the area, m⁴.
    area_m4: f64,
    measured: &'b Measured<'a>,
}

impl<'a, 'b> State<'a, 'b> {
    fn new(measured: &'b Measured<'a>) -> State<'a, 'b> {
        let with_area = measured.covariance.times_vector(measured.area_gradient);
        State {
            covariance: measured.covariance.clone(),
            area_m4: dot(&with_area, measured.area_gradient),
            with_area,
            measured,
        }
    }

    /// The length of a line as walked, metres.
    fn expected(&self, from: usize, to: usize) -> f64 {
        Line::Length { from, to }.value(self.measured.points)
    }

    /// The four coordinates that a line depends on, by index, each with the line's derivative by it.
    fn row(&self, from: usize, to: usize) -> [(usize, f64); 4] {
        let (a, b) = (self.measured.points[from], self.measured.points[to]);
        let u = (b - a) / distance_m(a, b);
        [
            (2 * from, -u.x),
            (2 * from + 1, -u.y),
            (2 * to, u.x),
            (2 * to + 1, u.y),
        ]
    }

    /// Variance of a line's length, m².
    fn variance_of(covariance: &Matrix, row: &[(usize, f64); 4]) -> f64 {
        row.iter()
            .flat_map(|(i, a)| row.iter().map(move |(j, b)| a * b * covariance.at(*i, *j)))
            .sum::<f64>()
            .max(0.0)
    }

    /// The share of the area's present variance that taping this line would take off, 0 to 1.
    fn gain(&self, from: usize, to: usize) -> f64 {
        let row = self.row(from, to);
        let shared: f64 = row.iter().map(|(i, a)| a * self.with_area[*i]).sum();
        let own = Self::variance_of(&self.covariance, &row) + self.measured.tape_sigma_m.powi(2);
        if self.area_m4 > 0.0 && own > 0.0 {
            shared * shared / own / self.area_m4
        } else {
            0.0
        }
    }

    /// The line that takes most off, of those not taken yet, with its share; `None` where there is none.
    fn best(
        &self,
        pairs: impl Iterator<Item = (usize, usize)>,
        taken: &[ToTape],
    ) -> Option<(usize, usize, f64)> {
        pairs
            .filter(|(i, j)| !is_taken(self.measured, taken, *i, *j))
            .map(|(i, j)| (i, j, self.gain(i, j)))
            .filter(|(.., gain)| gain.is_finite())
            .max_by(|a, b| a.2.total_cmp(&b.2))
    }

    /// Puts a line on the list, and goes on as if it had been taped.
    fn take(&mut self, from: usize, to: usize, why: Why) -> Option<ToTape> {
        let row = self.row(from, to);
        // The tolerance is that of the walk as it is. The covariance then goes on as if the tape had agreed with it.
        let walked = Self::variance_of(self.measured.covariance, &row);
        let noise = self.measured.tape_sigma_m.powi(2);
        let own = Self::variance_of(&self.covariance, &row) + noise;
        let by: Vec<f64> = (0..self.covariance.rows())
            .map(|i| row.iter().map(|(j, a)| a * self.covariance.at(i, *j)).sum())
            .collect();
        self.covariance =
            Matrix::from_fn(self.covariance.rows(), self.covariance.columns(), |i, j| {
                self.covariance.at(i, j) - by[i] * by[j] / own
            });
        self.with_area = self.covariance.times_vector(self.measured.area_gradient);
        self.area_m4 = dot(&self.with_area, self.measured.area_gradient).max(0.0);
        Some(ToTape {
            from: self.measured.names.get(from)?.clone(),
            to: self.measured.names.get(to)?.clone(),
            expected_m: self.expected(from, to),
            tolerance_m: chance::two_sided(0.95) * (walked + noise).sqrt(),
            why,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tape::figure::flat_area_gradient;
    use crate::tape::setout::STRAIGHT_M;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_rectangle_is_checked_by_its_long_sides_and_both_diagonals() {
        let points =
            [(0.0, 0.0), (12.0, 0.0), (12.0, 9.0), (0.0, 9.0)].map(|(x, y)| Coord { x, y });
        let names = ["A", "B", "C", "D"].map(String::from);
        let covariance = Matrix::diagonal(&[0.25; 8]);
        let sides: Vec<Side> = (0..4)
            .map(|i| Side {
                from: i,
                to: (i + 1) % 4,
                points: vec![points[i], points[(i + 1) % 4]],
                tolerance_m: STRAIGHT_M,
            })
            .collect();
        let sheet = check_sheet(&Measured {
            names: &names,
            points: &points,
            covariance: &covariance,
            sides: &sides,
            area_gradient: &flat_area_gradient(&points),
            tape_sigma_m: 0.02,
        });
        let lines: Vec<String> = sheet
            .lines
            .iter()
            .map(|l| format!("{}-{}", l.from, l.to))
            .collect();
        assert_eq!(&lines[..2], ["A-B", "C-D"]);
        assert!(
            lines[2..4].contains(&"A-C".to_string()) && lines[2..4].contains(&"B-D".to_string())
        );
        // Half a metre at either end: 0.5 sqrt(2) along the line, with the tape's 2 cm, times 1.96.
        assert_abs_diff_eq!(
            sheet.lines[0].tolerance_m,
            1.96 * 0.5004_f64.sqrt(),
            epsilon = 1e-3
        );
        assert!(sheet.offsets.is_empty());
    }
}
