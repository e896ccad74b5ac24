//! A figure drawn from its lengths alone, corner by corner, in every way in which it can be folded.
//!
//! A corner with known distances from two placed corners lies where two circles meet, which is at two places. Trying both for each corner
//! gives all figures that the lengths allow; the right one is chosen by its inward corners and by the lengths that were not needed for
//! drawing.

use crate::fault::Fault;
use crate::job::shape::Diagonal;
use crate::ring::{cross, crosses_itself, signed_area_m2};
use crate::tape::offsets::EQUAL_SPACING_M;
use crate::tape::reading::length;
use crate::units::letter;
use geo::Coord;

/// The length given between these two corners, if one is.
pub(super) fn taped(lines: &[Diagonal], i: usize, j: usize) -> Option<f64> {
    lines
        .iter()
        .find(|l| (l.from, l.to) == (i, j) || (l.from, l.to) == (j, i))
        .map(|l| l.length_m)
}

/// Draws the figure corner by corner. Each corner that hangs on two lengths may lie on either side of the line between their ends. Every
/// way is tried, and the one kept has no crossing sides, has the stated inward corners, and fits the lengths left over.
pub(super) fn draw(
    n: usize,
    lines: &[Diagonal],
    inward: &[usize],
    sigma_m: f64,
) -> Result<Vec<Coord<f64>>, Fault> {
    let mut ways: Vec<Way> = Vec::new();
    let mut placed: Vec<Option<Coord<f64>>> = vec![None; n];
    let first = taped(lines, 0, 1).unwrap_or(0.0);
    placed[0] = Some(Coord { x: 0.0, y: 0.0 });
    placed[1] = Some(Coord { x: first, y: 0.0 });
    let mut stuck = None;
    hang(n, lines, &mut placed, &mut ways, &mut stuck);
    if let Some(corner) = stuck.filter(|_| ways.is_empty()) {
        return Err(Fault::usage(
            "shape-diagonals",
            format!(
                "Corner {} hangs on fewer than two lengths from corners already fixed.",
                letter(corner)
            ),
            "Choose diagonals so that the figure falls into triangles.",
        ));
    }
    if !inward.is_empty() {
        let mut sorted = inward.to_vec();
        sorted.sort_unstable();
        let named = ways.iter().filter(|way| way.inward == sorted);
        return fits_best(named).ok_or_else(|| {
            Fault::usage(
                "shape-inward",
                "The lengths make no figure with exactly the inward corners named.",
                "Check `inward`: the corners where the edge turns into the lawn.",
            )
        });
    }
    // Nothing is said of inward corners: all corners point out, unless the lengths left over clearly say otherwise.
    let close_fit = ways
        .iter()
        .map(|w| w.misfit_m)
        .fold(f64::INFINITY, f64::min)
        + 10.0 * sigma_m;
    let fitting: Vec<&Way> = ways.iter().filter(|w| w.misfit_m <= close_fit).collect();
    let convex = fitting.iter().copied().filter(|w| w.inward.is_empty());
    if let Some(corners) = fits_best(convex) {
        return Ok(corners);
    }
    match fitting.as_slice() {
        [only] => Ok(only.corners.clone()),
        [] => Err(nothing_fits()),
        _ => Err(Fault::usage(
            "shape-inward",
            "With these lengths the figure can't have all its corners pointing out, and more than one figure fits.",
            "Name the corners where the edge turns into the lawn, e.g. inward = [\"D\"].",
        )),
    }
}

/// The corners of the way that fits the lengths left over best; `None` where there is none.
fn fits_best<'a>(ways: impl Iterator<Item = &'a Way>) -> Option<Vec<Coord<f64>>> {
    ways.min_by(|a, b| a.misfit_m.total_cmp(&b.misfit_m))
        .map(|way| way.corners.clone())
}

/// The fault for lengths that no figure has.
fn nothing_fits() -> Fault {
    Fault::usage(
        "shape-open",
        "No figure without crossing sides has these lengths.",
        "Check that the sides are in order round the figure and each diagonal is between the corners stated.",
    )
}

/// One figure that the lengths allow.
struct Way {
    corners: Vec<Coord<f64>>,
    /// The corners that point into the figure, in order.
    inward: Vec<usize>,
    /// The largest difference to any of the lengths, metres; those used for drawing have next to none.
    misfit_m: f64,
}

/// Places the next corner in both ways and goes on from each by calling itself, until all are placed; puts each complete figure into
/// `ways`. `stuck` becomes a corner that hangs on fewer than two lengths.
fn hang(
    n: usize,
    lines: &[Diagonal],
    placed: &mut Vec<Option<Coord<f64>>>,
    ways: &mut Vec<Way>,
    stuck: &mut Option<usize>,
) {
    let fixed: Vec<(usize, Coord<f64>)> = placed
        .iter()
        .enumerate()
        .filter_map(|(i, p)| p.map(|p| (i, p)))
        .collect();
    if fixed.len() == n {
        let corners: Vec<Coord<f64>> = fixed.into_iter().map(|(_, p)| p).collect();
        if let Some(way) = judge(corners, lines) {
            ways.push(way);
        }
        return;
    }
    // Next comes the corner with the most lengths to corners that are placed already.
    let next = (0..n)
        .filter(|&i| placed[i].is_none())
        .map(|i| {
            let known: Vec<(Coord<f64>, f64)> = fixed
                .iter()
                .filter_map(|(j, p)| taped(lines, i, *j).map(|d| (*p, d)))
                .collect();
            (i, known)
        })
        .max_by_key(|(i, known)| (known.len(), n - i));
    let Some((i, known)) = next else { return };
    let (Some((p, a)), Some((q, b))) = (known.first(), known.get(1)) else {
        *stuck = Some(i);
        return;
    };
    let mut both = meet(*p, *a, *q, *b);
    if fixed.len() == 2 {
        // The first corner beside the first side may lie on either side of it: both are mirror images of one figure, and one is enough.
        both.truncate(1);
    }
    for corner in both {
        placed[i] = Some(corner);
        hang(n, lines, placed, ways, stuck);
    }
    placed[i] = None;
}

/// Where two circles (about `p` with radius `a`, and about `q` with radius `b`) meet: left and right of the line between their centres.
/// Circles that just fail to meet (diagonals a few centimetres off) count as meeting on the line, and the adjustment sees to the rest.
/// Empty where they fail by far.
fn meet(p: Coord<f64>, a: f64, q: Coord<f64>, b: f64) -> Vec<Coord<f64>> {
    let w = q - p;
    let d = length(w);
    if d <= EQUAL_SPACING_M {
        return Vec::new();
    }
    let along = (a * a - b * b + d * d) / (2.0 * d);
    let off = (a * a - along * along).max(0.0).sqrt();
    if along.abs() > a + 0.2 * d {
        return Vec::new();
    }
    [off, -off]
        .into_iter()
        .map(|off| Coord {
            x: p.x + (w.x * along - w.y * off) / d,
            y: p.y + (w.y * along + w.x * off) / d,
        })
        .collect()
}

/// A complete figure, turned over to go round counter-clockwise; `None` where its sides cross.
fn judge(mut corners: Vec<Coord<f64>>, lines: &[Diagonal]) -> Option<Way> {
    if signed_area_m2(&corners) < 0.0 {
        for c in &mut corners {
            c.y = -c.y;
        }
    }
    if crosses_itself(&corners) {
        return None;
    }
    let n = corners.len();
    let inward = (0..n)
        .filter(|i| {
            let (before, here, after) =
                (corners[(i + n - 1) % n], corners[*i], corners[(i + 1) % n]);
            cross(here - before, after - here) < 0.0
        })
        .collect();
    let misfit_m = lines
        .iter()
        .map(|l| (length(corners[l.to] - corners[l.from]) - l.length_m).abs())
        .fold(0.0, f64::max);
    Some(Way {
        corners,
        inward,
        misfit_m,
    })
}
