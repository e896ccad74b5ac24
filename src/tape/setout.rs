//! The set-out table: everything on the plan as a chainage along a baseline and an offset from it, so that it can be marked on the ground
//! with two tapes.
//!
//! The baseline is a side of the lawn that can be found again. A chainage is a distance along it, an offset a distance at right angles to
//! it.

use super::reading::Line;
use crate::job::shape::Hand;
use crate::limits::tape::{BENT_TOLERANCES, ROUGH_M};
use geo::Coord;
use serde::Serialize;

/// A stretch of a ring between two neighbouring corners.
#[derive(Debug, Clone, PartialEq)]
pub struct Side {
    /// Indices of the corners it joins.
    pub from: usize,
    pub to: usize,
    /// Everything on the way, corners included.
    pub points: Vec<Coord<f64>>,
    /// The side is straight if nothing on it is further from its chord than this, metres. A good walk shows a bulge of five centimetres,
    /// while a phone's cannot tell a bulge of metres from noise.
    pub tolerance_m: f64,
}

/// A bulge up to this is none, metres: a taut line and a well kept edge differ by as much.
pub(crate) const STRAIGHT_M: f64 = 0.05;

impl Side {
    /// How far the side's farthest place is from its chord, metres; 0 of an empty side.
    pub(crate) fn bulge_m(&self) -> f64 {
        let (Some(a), Some(b)) = (self.points.first(), self.points.last()) else {
            return 0.0;
        };
        let chord = [*a, *b];
        self.points
            .iter()
            .map(|p| {
                let three = [chord[0], chord[1], *p];
                Line::Offset {
                    point: 2,
                    from: 0,
                    to: 1,
                }
                .value(&three)
                .abs()
            })
            .filter(|d| d.is_finite())
            .fold(0.0, f64::max)
    }

    pub(crate) fn is_straight(&self) -> bool {
        self.bulge_m() <= self.tolerance_m
    }

    /// Whether a side that was taped as straight may be so. The walk of a poor receiver now and then bulges by more than its tolerance
    /// where the edge does not: such a bulge is allowed up to a multiple of the tolerance, and a word of doubt goes with it.
    pub(crate) fn may_be_straight(&self) -> bool {
        let loose = if self.tolerance_m > ROUGH_M {
            BENT_TOLERANCES
        } else {
            1.0
        };
        self.bulge_m() <= loose * self.tolerance_m
    }
}

/// Every two corners, each pair once.
pub(super) fn pairs(sides: &[Side]) -> Vec<(usize, usize)> {
    let with_later = |(k, side): (usize, &Side)| {
        let from = side.from;
        sides[k + 1..].iter().map(move |other| (from, other.from))
    };
    sides.iter().enumerate().flat_map(with_later).collect()
}

/// A tape laid along a straight edge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Baseline {
    pub from: String,
    pub to: String,
    pub length_m: f64,
    #[serde(skip)]
    pub from_index: usize,
    #[serde(skip)]
    pub to_index: usize,
    #[serde(skip)]
    pub start: Coord<f64>,
    #[serde(skip)]
    pub end: Coord<f64>,
}

/// What a row sets out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    Corner,
    Mark,
    BedCentre,
    /// A corner of what was walked round, or of a path.
    Deduction,
    Curve,
}

/// One point to set out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    pub what: What,
    /// Its name: a corner's letter, a mark or a bed; for a curve the corners it runs between.
    pub name: String,
    /// Distance along the baseline from its start, metres; negative for a place short of it.
    pub chainage_m: f64,
    /// Distance at right angles to it, metres, never negative.
    pub offset_m: f64,
    /// On which side it lies, looking along the baseline from its start; null on it.
    pub side: Option<&'static str>,
    pub radius_m: Option<f64>,
}

/// The whole table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetOut {
    pub baseline: Baseline,
    pub spacing_m: f64,
    pub rows: Vec<Row>,
}

/// A point beside the corners: a mark or a bed's centre.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    pub name: String,
    pub what: What,
    pub at: Coord<f64>,
    pub radius_m: Option<f64>,
}

/// Places nearer to the baseline than this lie on it, metres.
const ON_LINE_M: f64 = 0.005;

impl Baseline {
    /// Lays the baseline along the longest straight side or, where no side is straight, between the two corners farthest apart. `None`
    /// with fewer than two corners: a baseline must be found again on the ground.
    pub(crate) fn choose(
        names: &[String],
        points: &[Coord<f64>],
        sides: &[Side],
    ) -> Option<Baseline> {
        let span = |from: usize, to: usize| Line::Length { from, to }.value(points);
        let longest = |pairs: Vec<(usize, usize)>| {
            // Of equally long ones the first is taken, which of a taped figure is its own baseline.
            pairs
                .into_iter()
                .rev()
                .filter(|(i, j)| i != j && span(*i, *j) > 0.0)
                .max_by(|a, b| span(a.0, a.1).total_cmp(&span(b.0, b.1)))
        };
        let straight = sides
            .iter()
            .filter(|s| s.is_straight())
            .map(|s| (s.from, s.to))
            .collect();
        let (from, to) = longest(straight).or_else(|| longest(pairs(sides)))?;
        Some(Baseline {
            from: names.get(from)?.clone(),
            to: names.get(to)?.clone(),
            length_m: span(from, to),
            from_index: from,
            to_index: to,
            start: *points.get(from)?,
            end: *points.get(to)?,
        })
    }

    /// Chainage and offset (left positive) of a place.
    fn along(&self, at: Coord<f64>) -> (f64, f64) {
        let three = [self.start, self.end, at];
        let (point, from, to) = (2, 0, 1);
        (
            Line::Chainage { point, from, to }.value(&three),
            Line::Offset { point, from, to }.value(&three),
        )
    }

    fn row(&self, what: What, name: String, at: Coord<f64>, radius_m: Option<f64>) -> Row {
        let (chainage_m, offset) = self.along(at);
        row(what, name, chainage_m, offset, radius_m)
    }
}

/// One row of the table. `offset` is positive to the left of the baseline.
fn row(what: What, name: String, chainage_m: f64, offset: f64, radius_m: Option<f64>) -> Row {
    let side = if offset.abs() <= ON_LINE_M {
        None
    } else if offset > 0.0 {
        Some(word(Hand::Left))
    } else {
        Some(word(Hand::Right))
    };
    Row {
        what,
        name,
        chainage_m,
        offset_m: offset.abs(),
        side,
        radius_m,
    }
}

fn word(hand: Hand) -> &'static str {
    match hand {
        Hand::Left => "left",
        Hand::Right => "right",
    }
}

/// Everything on the plan, in the order of its chainage within each kind: corners, places, then the curve every `spacing_m`.
/// `None` where no baseline can be laid.
pub(crate) fn set_out(
    names: &[String],
    points: &[Coord<f64>],
    sides: &[Side],
    places: &[Place],
    spacing_m: f64,
) -> Option<SetOut> {
    let baseline = Baseline::choose(names, points, sides)?;
    let mut rows: Vec<Row> = sides
        .iter()
        .filter_map(|s| {
            let name = names.get(s.from)?.clone();
            Some(baseline.row(What::Corner, name, *points.get(s.from)?, None))
        })
        .collect();
    let mut others: Vec<Row> = places
        .iter()
        .map(|p| baseline.row(p.what, p.name.clone(), p.at, p.radius_m))
        .collect();
    for part in [&mut rows, &mut others] {
        part.sort_by(|a, b| a.chainage_m.total_cmp(&b.chainage_m));
    }
    rows.extend(others);
    let (curve, spacing_m) = curve_rows(&baseline, names, sides, spacing_m);
    rows.extend(curve);
    Some(SetOut {
        baseline,
        spacing_m,
        rows,
    })
}

/// The most rows for curves: nobody sets out more, and a walk with a fix on the other side of the Earth would take millions.
const MOST_CURVE_ROWS: f64 = 2000.0;

/// Where curved sides cross the perpendiculars at every multiple of `spacing_m` along the baseline, side by side in the order of
/// chainage; and the spacing that was used. It is doubled, and doubled again, where there would be more rows than anyone sets out.
pub(crate) fn curve_rows(
    baseline: &Baseline,
    names: &[String],
    sides: &[Side],
    mut spacing_m: f64,
) -> (Vec<Row>, f64) {
    let curved = || sides.iter().filter(|s| !s.is_straight());
    let along_m: f64 = curved()
        .flat_map(|side| side.points.windows(2))
        .map(|pair| (baseline.along(pair[1]).0 - baseline.along(pair[0]).0).abs())
        .sum();
    if spacing_m.is_nan() || spacing_m <= 0.0 || !along_m.is_finite() {
        return (Vec::new(), spacing_m);
    }
    while along_m / spacing_m > MOST_CURVE_ROWS {
        spacing_m *= 2.0;
    }
    let mut rows = Vec::new();
    for side in curved() {
        let name = |i: usize| names.get(i).map_or("", String::as_str);
        let label = format!("{}-{}", name(side.from), name(side.to));
        let mut crossings: Vec<(f64, f64)> = Vec::new();
        for pair in side.points.windows(2) {
            let &[a, b] = pair else { continue };
            let ((xa, ya), (xb, yb)) = (baseline.along(a), baseline.along(b));
            let (low, high) = (xa.min(xb), xa.max(xb));
            let (first, last) = (
                (low / spacing_m).ceil() as i64,
                (high / spacing_m).floor() as i64,
            );
            crate::steps::count((last - first).max(0) as usize);
            for k in first..=last {
                let x = k as f64 * spacing_m;
                if xb != xa {
                    crossings.push((x, ya + (yb - ya) * (x - xa) / (xb - xa)));
                }
            }
        }
        // A vertex exactly on a perpendicular ends one step and begins the next, and would be listed twice.
        crossings.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.total_cmp(&q.1)));
        crossings.dedup_by(|p, q| (p.0 - q.0).abs() < 1e-9 && (p.1 - q.1).abs() < 1e-6);
        crossings.sort_by(|p, q| p.0.total_cmp(&q.0).then(p.1.abs().total_cmp(&q.1.abs())));
        rows.extend(
            crossings
                .into_iter()
                .map(|(x, y)| row(What::Curve, label.clone(), x, y, None)),
        );
    }
    (rows, spacing_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn c(x: f64, y: f64) -> Coord<f64> {
        Coord { x, y }
    }

    /// A 12 m wall A-B with a lawn on its left whose far side is an arc of a circle about (6, -2.5): r = 6.5 meets both corners.
    fn garden() -> (Vec<String>, Vec<Coord<f64>>, Vec<Side>) {
        let points = vec![c(0.0, 0.0), c(12.0, 0.0)];
        let arc: Vec<Coord<f64>> = (0..=200)
            .map(|k| {
                let start = (2.5_f64).atan2(6.0);
                let angle = start + (std::f64::consts::PI - 2.0 * start) * f64::from(k) / 200.0;
                c(6.0 + 6.5 * angle.cos(), -2.5 + 6.5 * angle.sin())
            })
            .collect();
        let sides = vec![
            Side {
                from: 0,
                to: 1,
                points: points.clone(),
                tolerance_m: 0.05,
            },
            Side {
                from: 1,
                to: 0,
                points: arc,
                tolerance_m: 0.05,
            },
        ];
        (vec!["A".into(), "B".into()], points, sides)
    }

    #[test]
    fn offsets_to_an_arc_are_those_of_its_circle() {
        let (names, points, sides) = garden();
        let places = [Place {
            name: "birch".into(),
            what: What::BedCentre,
            at: c(4.0, 1.5),
            radius_m: Some(0.35),
        }];
        let table = set_out(&names, &points, &sides, &places, 1.0).expect("a wall");
        assert_eq!(
            (table.baseline.from.as_str(), table.baseline.to.as_str()),
            ("A", "B")
        );
        assert_abs_diff_eq!(table.baseline.length_m, 12.0);
        let bed = table
            .rows
            .iter()
            .find(|r| r.what == What::BedCentre)
            .expect("the bed");
        assert_abs_diff_eq!(bed.chainage_m, 4.0, epsilon = 1e-12);
        assert_abs_diff_eq!(bed.offset_m, 1.5, epsilon = 1e-12);
        assert_eq!((bed.side, bed.radius_m), (Some("left"), Some(0.35)));
        let curve: Vec<&Row> = table
            .rows
            .iter()
            .filter(|r| r.what == What::Curve)
            .collect();
        for x in 1..12 {
            let exact = (6.5_f64.powi(2) - (f64::from(x) - 6.0).powi(2)).sqrt() - 2.5;
            let row = curve
                .iter()
                .find(|r| (r.chainage_m - f64::from(x)).abs() < 1e-9)
                .expect("every metre");
            assert_abs_diff_eq!(row.offset_m, exact, epsilon = 2e-3);
            assert_eq!(row.side, Some("left"));
        }
    }

    /// The far side of the plan lies off by the Earth's radius, or goes to and fro a thousand times: there are still only as many rows as
    /// anyone sets out.
    #[test]
    fn a_far_place_takes_no_more_rows_than_anyone_sets_out() {
        let (names, points, mut sides) = garden();
        sides[1].points.insert(100, c(6.4e6, 2.0e6));
        for k in 0..1000 {
            sides[1].points.push(c(f64::from(k % 2) * 1.0e6, 3.0));
        }
        let table = set_out(&names, &points, &sides, &[], 1.0).expect("a wall");
        assert!(table.rows.len() < 2 * MOST_CURVE_ROWS as usize + 10);
        assert!(table.spacing_m > 1.0);
        let short = set_out(&names, &points, &garden().2, &[], 1.0).expect("a wall");
        assert_eq!(short.spacing_m, 1.0);
    }

    #[test]
    fn no_corners_no_baseline() {
        assert!(set_out(&[], &[], &[], &[], 1.0).is_none());
    }
}
