//! A polygon from its sides and diagonals: drawn corner by corner, and adjusted where more was taped than the figure needs.
//!
//! A figure of `n` corners has `2 n - 3` lengths that fix it (its place and direction do not matter). Every length beyond that checks the
//! others: the lengths are adjusted by least squares, and data snooping says which of them does not fit.

mod draw;

use super::adjust::Adjustment;
use super::found::finding;
use super::matrix::Matrix;
use super::reading::{Line, Reading};
use super::snoop::{Snooped, snoop};
use super::trust::Trust;
use crate::fault::Fault;
use crate::finding::{Finding, Unfit};
use crate::job::shape::Diagonal;
use crate::ring::{area_gradient_m, perimeter_m, signed_area_m2};
use crate::units::letter;
use draw::{draw, taped};
use geo::Coord;
use serde::Serialize;
use std::ops::Range;

/// The most corners that are taken: larger figures are walked, or measured in parts.
const MOST_CORNERS: usize = 16;

/// A closed polygon with what the adjustment had to say.
#[derive(Debug, Clone)]
pub struct Closed {
    /// The corners, metres: the first at the origin, the second along x, with the figure on the left of that side.
    pub corners: Vec<Coord<f64>>,
    pub area_m2: f64,
    pub sigma_m2: f64,
    pub perimeter_m: f64,
    pub report: Closing,
}

/// How well the tapes of one figure fit each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Closing {
    /// How many lengths were taped beyond what fixes the figure.
    pub freedom: usize,
    /// Largest difference between a taped diagonal and the same diagonal computed from all other lengths; null if nothing is left to check with.
    pub closing_error_m: Option<f64>,
    pub variance_factor: Option<f64>,
    pub lines: Vec<ClosingLine>,
    /// What was found wrong, in the result a sentence; null if all fits.
    pub finding: Option<Unfit>,
    /// The largest change of the area by one misread length that nothing shows, m²; `None` where a misread length is never noticed.
    #[serde(skip)]
    pub misread_m2: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClosingLine {
    pub line: String,
    pub taped_m: f64,
    pub adjusted_m: f64,
    /// Baarda's statistic, in sigmas; 0 where it was left out or nothing tests it.
    pub w: f64,
    pub left_out: bool,
}

/// Closes a polygon from its sides (A-B, B-C, … back to A) and diagonals. `inward` are the corners that point
/// into the figure. `sigma_m` is one sigma of each length.
///
/// # Errors
/// `Usage`: too few or too many sides, too few diagonals, a length that isn't above zero, three lengths that make no triangle,
/// or lengths from which no figure (or none with the stated inward corners) can be drawn.
pub(crate) fn close(
    sides_m: &[f64],
    diagonals: &[Diagonal],
    inward: &[usize],
    sigma_m: f64,
) -> Result<Closed, Fault> {
    let n = sides_m.len();
    if !(3..=MOST_CORNERS).contains(&n) {
        return Err(Fault::usage(
            "shape-sides",
            format!("A polygon needs 3 to {MOST_CORNERS} sides; {n} are given."),
            "Split a larger figure into parts that share a taped line.",
        ));
    }
    let lines = lines_of(sides_m, diagonals)?;
    if diagonals.len() < n - 3 {
        return Err(Fault::usage(
            "shape-diagonals",
            format!(
                "{n} sides need at least {} diagonal(s) to fix the figure; {} given.",
                n - 3,
                diagonals.len()
            ),
            "Tape diagonals so that the figure falls into triangles.",
        ));
    }
    refuse_open_triangles(n, &lines)?;
    let start = draw(n, &lines, inward, sigma_m)?;
    let readings: Vec<Reading> = lines
        .iter()
        .map(|l| Reading {
            line: Line::Length {
                from: l.from,
                to: l.to,
            },
            value: l.length_m,
            sigma: sigma_m,
            label: format!("{}-{}", letter(l.from), letter(l.to)),
        })
        .collect();
    let freedom = (n + diagonals.len()).saturating_sub(2 * n - 3);
    let snooped = snoop(
        &start,
        &anywhere(n, &lines),
        &readings,
        Some(freedom),
        &Trust::default(),
    )?;
    Ok(finish(&snooped, &readings, n))
}

/// Covariance of `n` corners that may be anywhere, except that the first one is held and the first side keeps its direction: a figure by
/// tape has no place of its own.
fn anywhere(n: usize, lines: &[Diagonal]) -> Matrix {
    let loose = (10.0 * lines.iter().map(|l| l.length_m).fold(0.0, f64::max)).powi(2);
    let held = |k: usize| matches!(k, 0 | 1 | 3);
    let variances = (0..2 * n).map(|k| if held(k) { 0.0 } else { loose });
    Matrix::diagonal(&variances.collect::<Vec<_>>())
}

/// The figure as adjusted, with how well its tapes fit each other.
fn finish(snooped: &Snooped, readings: &[Reading], n: usize) -> Closed {
    let adjustment = &snooped.adjustment;
    let corners = adjustment.points.clone();
    let gradient = flat_area_gradient(&corners);
    let mut variance = adjustment.variance_of(&gradient);
    if !adjustment.passes() {
        // The lengths disagree by more than their sigma says, so that their sigma was too small.
        variance *= adjustment.variance_factor.max(1.0);
    }
    let tested = adjustment.freedom > 0;
    let line = |(k, r): (usize, &Reading)| {
        let residual = snooped.residual(k);
        ClosingLine {
            line: r.label.clone(),
            taped_m: r.value,
            adjusted_m: r.line.value(&corners),
            w: residual.map_or(0.0, |r| r.w),
            left_out: residual.is_none(),
        }
    };
    Closed {
        area_m2: signed_area_m2(&corners).abs(),
        sigma_m2: variance.sqrt(),
        perimeter_m: perimeter_m(&corners),
        report: Closing {
            freedom: adjustment.freedom,
            closing_error_m: closing_error_m(snooped, n..readings.len()),
            variance_factor: tested.then_some(adjustment.variance_factor),
            lines: readings.iter().enumerate().map(line).collect(),
            finding: unfit(snooped, readings),
            misread_m2: misread_m2(adjustment, &gradient),
        },
        corners,
    }
}

/// The largest difference between a diagonal as taped and as all other lengths have it, metres; `None` where nothing checks a diagonal.
/// (A residual is the part `redundancy` of that difference, hence the division.)
fn closing_error_m(snooped: &Snooped, diagonals: Range<usize>) -> Option<f64> {
    let tested = diagonals.filter(|_| snooped.adjustment.freedom > 0);
    tested
        .filter_map(|k| snooped.residual(k))
        .filter(|r| r.redundancy > 1e-6)
        .map(|r| (r.residual / r.redundancy).abs())
        .chain(snooped.left_out.iter().map(|(_, size)| size.abs()))
        .reduce(f64::max)
}

/// What is wrong with the lengths; `None` where all fit.
fn unfit(snooped: &Snooped, readings: &[Reading]) -> Option<Unfit> {
    let finding = finding(readings, snooped, |_| None);
    (finding != Finding::Clean).then_some(Unfit(finding))
}

/// External reliability of an area: the largest that the smallest detectable error of any one reading does to it, m²; `None` where an
/// error in one of them is never detected.
fn misread_m2(adjustment: &Adjustment, gradient: &[f64]) -> Option<f64> {
    let by_reading = adjustment.influence(gradient);
    let unseen = by_reading.iter().zip(&adjustment.residuals);
    let largest = unseen.map(|(by, r)| (by * r.detectable).abs());
    Some(largest.fold(0.0, f64::max)).filter(|m2| m2.is_finite())
}

/// The sides and then the diagonals as lines between corners.
///
/// # Errors
/// A diagonal that joins no two corners of the figure, or neighbours; a length that is not above zero.
fn lines_of(sides_m: &[f64], diagonals: &[Diagonal]) -> Result<Vec<Diagonal>, Fault> {
    let n = sides_m.len();
    let mut lines: Vec<Diagonal> = sides_m
        .iter()
        .enumerate()
        .map(|(i, length_m)| Diagonal {
            from: i,
            to: (i + 1) % n,
            length_m: *length_m,
        })
        .collect();
    for d in diagonals {
        let apart = d.from.abs_diff(d.to);
        if d.from >= n || d.to >= n || apart < 2 || apart == n - 1 {
            return Err(Fault::usage(
                "shape-diagonals",
                format!(
                    "{}-{} isn't a diagonal of a figure with {n} corners.",
                    letter(d.from),
                    letter(d.to)
                ),
                "A diagonal joins two corners that aren't neighbours, lettered in the order of the sides.",
            ));
        }
        lines.push(*d);
    }
    if let Some(bad) = lines
        .iter()
        .find(|l| !(l.length_m > 0.0 && l.length_m.is_finite()))
    {
        return Err(Fault::usage(
            "shape-length",
            format!(
                "{}-{} is {} m.",
                letter(bad.from),
                letter(bad.to),
                bad.length_m
            ),
            "Every length must be above zero.",
        ));
    }
    Ok(lines)
}

/// Refuses three lengths between the same three corners that make no triangle.
fn refuse_open_triangles(n: usize, lines: &[Diagonal]) -> Result<(), Fault> {
    for i in 0..n {
        for j in i + 1..n {
            for k in j + 1..n {
                if let (Some(a), Some(b), Some(c)) =
                    (taped(lines, i, j), taped(lines, j, k), taped(lines, i, k))
                {
                    let name = |p, q| format!("{}-{}", letter(p), letter(q));
                    refuse_open_triangle([a, b, c], [name(i, j), name(j, k), name(i, k)])?;
                }
            }
        }
    }
    Ok(())
}

/// Refuses three sides of which one is as long as the other two together or longer; `names` is what each is called.
pub(super) fn refuse_open_triangle(sides: [f64; 3], names: [String; 3]) -> Result<(), Fault> {
    let [a, b, c] = sides;
    let [na, nb, nc] = names;
    for (long, nl, p, np, q, nq) in [
        (a, &na, b, &nb, c, &nc),
        (b, &nb, a, &na, c, &nc),
        (c, &nc, a, &na, b, &nb),
    ] {
        if long >= p + q {
            return Err(Fault::usage(
                "shape-triangle",
                format!(
                    "{np} ({p:.2} m) and {nq} ({q:.2} m) together are no longer than {nl} ({long:.2} m): they can't make a triangle."
                ),
                "One of the three was misread or belongs elsewhere; tape them again.",
            ));
        }
    }
    Ok(())
}

/// Derivative of the signed area by x0, y0, x1, …
pub(crate) fn flat_area_gradient(corners: &[Coord<f64>]) -> Vec<f64> {
    area_gradient_m(corners).into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn diagonal(from: usize, to: usize, length_m: f64) -> Diagonal {
        Diagonal { from, to, length_m }
    }

    #[test]
    fn a_yard_from_a_forum_is_drawn_as_published() {
        // A calculator museum's forum, "triangulation for measuring a lot/yard", 21 July 2018: three sides 8, 7, 9 and
        // diagonals 11 and 12 give the corners (8.5, 6.98212002188) and (0.0625, 8.99978298349). The fourth side is the
        // distance between those two.
        let closing_side = (8.5_f64 - 0.0625).hypot(6.982_120_021_88 - 8.999_782_983_49);
        let yard = close(
            &[8.0, 7.0, closing_side, 9.0],
            &[diagonal(0, 2, 11.0), diagonal(1, 3, 12.0)],
            &[],
            0.02,
        )
        .expect("a yard");
        assert_relative_eq!(yard.corners[2].x, 8.5, epsilon = 1e-6);
        assert_relative_eq!(yard.corners[2].y, 6.982_120_021_88, epsilon = 1e-6);
        assert_relative_eq!(yard.corners[3].x, 0.0625, epsilon = 1e-6);
        assert_relative_eq!(yard.corners[3].y, 8.999_782_983_49, epsilon = 1e-6);
        assert_eq!(yard.report.freedom, 1);
        assert!(yard.report.closing_error_m.expect("checked") < 1e-6);
    }

    #[test]
    fn closing_error_is_the_diagonal_against_the_rest() {
        // 3-4-5 twice: both diagonals should be 5. One is taped 6 cm long.
        let closed = close(
            &[4.0, 3.0, 4.0, 3.0],
            &[diagonal(0, 2, 5.0), diagonal(1, 3, 5.06)],
            &[],
            0.02,
        )
        .expect("closes");
        // To first order an error has the same effect on both diagonals of a rectangle, so that either is 6 cm off the other.
        assert_relative_eq!(
            closed.report.closing_error_m.expect("checked"),
            0.06,
            epsilon = 2e-3
        );
        assert!(closed.report.finding.is_none());
        // The six centimetres are shared out among six lengths; the area moves by less than two sigmas.
        assert!(
            (closed.area_m2 - 12.0).abs() < 2.0 * closed.sigma_m2,
            "{} {}",
            closed.area_m2,
            closed.sigma_m2
        );
    }

    #[test]
    fn two_diagonals_cannot_tell_which_length_is_wrong() {
        let closed = close(
            &[12.0, 9.0, 12.0, 9.0],
            &[diagonal(0, 2, 15.0), diagonal(1, 3, 16.0)],
            &[],
            0.02,
        )
        .expect("closes");
        let finding = closed.report.finding.expect("found").to_string();
        assert!(finding.starts_with("One of these is wrong"), "{finding}");
        for line in ["A-B", "B-C", "C-D", "D-A", "A-C", "B-D"] {
            assert!(finding.contains(line), "{finding}");
        }
    }

    #[test]
    fn an_inward_corner_is_drawn_where_it_is_named() {
        // An L of 12 x 9 with 5 x 4 cut out; all diagonals from A.
        let sides = [12.0, 5.0, 7.0, 4.0, 5.0, 9.0];
        let fan = [
            diagonal(0, 2, 12.0_f64.hypot(5.0)),
            diagonal(0, 3, 5.0_f64.hypot(5.0)),
            diagonal(0, 4, 5.0_f64.hypot(9.0)),
        ];
        let l = close(&sides, &fan, &[3], 0.02).expect("an L");
        assert_relative_eq!(l.area_m2, 80.0, epsilon = 1e-6);
        assert_relative_eq!(l.perimeter_m, 42.0, epsilon = 1e-6);
    }

    #[test]
    fn impossible_figures_say_what_is_wrong() {
        let open = close(&[3.0, 4.0, 8.0], &[], &[], 0.02).expect_err("no triangle");
        assert_eq!(open.code(), "shape-triangle");
        assert!(
            open.what().contains("A-B (3.00 m) and B-C (4.00 m)"),
            "{open}"
        );
        let loose = close(&[4.0, 3.0, 4.0, 3.0], &[], &[], 0.02).expect_err("no diagonal");
        assert_eq!(loose.code(), "shape-diagonals");
        let side =
            close(&[4.0, 3.0, 4.0, 3.0], &[diagonal(0, 1, 4.0)], &[], 0.02).expect_err("a side");
        assert_eq!(side.code(), "shape-diagonals");
        assert!(close(&[4.0, -3.0, 4.0], &[], &[], 0.02).is_err());
        assert!(close(&[4.0, f64::NAN, 4.0], &[], &[], 0.02).is_err());
        assert!(close(&[4.0, 3.0], &[], &[], 0.02).is_err());
    }

    #[test]
    fn a_square_by_one_diagonal_has_the_sigma_of_its_gradient() {
        // Sides of 10 and one diagonal: the sum of both triangles' areas by Heron's formula, differentiated numerically, gives the sigma
        // independently of the adjustment.
        let closed =
            close(&[10.0; 4], &[diagonal(0, 2, 200.0_f64.sqrt())], &[], 0.02).expect("square");
        let heron = |a: f64, b: f64, c: f64| {
            let s = (a + b + c) / 2.0;
            (s * (s - a) * (s - b) * (s - c)).sqrt()
        };
        let area = |v: [f64; 5]| heron(v[0], v[1], v[4]) + heron(v[2], v[3], v[4]);
        let base = [10.0, 10.0, 10.0, 10.0, 200.0_f64.sqrt()];
        let variance: f64 = (0..5)
            .map(|k| {
                let (mut up, mut down) = (base, base);
                up[k] += 1e-5;
                down[k] -= 1e-5;
                ((area(up) - area(down)) / 2e-5 * 0.02).powi(2)
            })
            .sum();
        assert_relative_eq!(closed.sigma_m2, variance.sqrt(), max_relative = 1e-5);
    }
}
