//! Taped figures drawn on a plan: metres east and north of the plan's origin.
//!
//! A figure is first drawn beside its own baseline (along it, and to the left), then turned and moved to its place.
//! Curves are drawn with many sides and scaled so that the drawn area is the measured one.

use super::figure::close;
use super::offsets::Stretch;
use super::shapes::Taped;
use crate::fault::Fault;
use crate::job::shape::{Across, Figure, Hand, Ordinates, Place, Rule, Shape};
use crate::process::hand::TAPE_SIGMA_M;
use geo::{Area, BooleanOps, Coord, LineString, MultiPolygon, Polygon};
use std::f64::consts::PI;

/// Sides of a drawn circle: a chord of a 5 m circle then leaves 3 mm.
const CIRCLE_SIDES: usize = 72;
/// Steps between two offsets or radii where the edge is drawn curved.
const STEPS: usize = 8;

/// Where a figure without a place is drawn: its baseline from the origin to the east.
pub(crate) const AT_ORIGIN: Place = Place {
    east_m: 0.0,
    north_m: 0.0,
    bearing_deg: 90.0,
};

/// Draws a figure that was measured before (`taped`), at its place or at `unplaced`.
///
/// # Errors
/// As [`super::shapes::measure`], which has already refused what can't be drawn.
pub(crate) fn draw(
    shape: &Shape,
    taped: &Taped,
    unplaced: Place,
) -> Result<MultiPolygon<f64>, Fault> {
    let place = shape.place.unwrap_or(unplaced);
    let local = local(shape, &taped.stretches)?;
    let drawn = local.unsigned_area();
    let scale = if drawn > 0.0 {
        (taped.area_m2 / drawn).sqrt()
    } else {
        1.0
    };
    let (sin, cos) = place.bearing_deg.to_radians().sin_cos();
    let moved = |c: &Coord<f64>| {
        // It is scaled about the figure's own origin, so that a circle keeps its centre and a baseline its start.
        let (along, left) = (c.x * scale, c.y * scale);
        Coord {
            x: place.east_m + along * sin - left * cos,
            y: place.north_m + along * cos + left * sin,
        }
    };
    Ok(MultiPolygon::new(
        local
            .iter()
            .map(|p| Polygon::new(p.exterior().coords().map(moved).collect(), Vec::new()))
            .collect(),
    ))
}

/// The figure beside its own baseline, as its taped lengths have it: x along the baseline, y to the left of it.
fn local(shape: &Shape, stretches: &[Stretch]) -> Result<MultiPolygon<f64>, Fault> {
    Ok(match &shape.figure {
        Figure::Rectangle {
            length_m: l,
            width_m: w,
            hand,
        } => outline(vec![(0.0, 0.0), (*l, 0.0), (*l, *w), (0.0, *w)], *hand),
        Figure::Triangle {
            base_m,
            height_m,
            foot_m,
            hand,
        } => {
            let apex = (foot_m.unwrap_or(0.5 * base_m), *height_m);
            outline(vec![(0.0, 0.0), (*base_m, 0.0), apex], *hand)
        }
        Figure::ThreeSides {
            sides_m: [a, b, c],
            hand,
        } => {
            let foot = (a * a + c * c - b * b) / (2.0 * a);
            let height = (c * c - foot * foot).max(0.0).sqrt();
            outline(vec![(0.0, 0.0), (*a, 0.0), (foot, height)], *hand)
        }
        Figure::Circle { across, sector_deg } => {
            let r = match across {
                Across::Radius(r) => *r,
                Across::Diameter(d) => 0.5 * d,
            };
            outline(arc(r, r, *sector_deg), Hand::Left)
        }
        Figure::Ellipse { length_m, width_m } => {
            outline(arc(0.5 * length_m, 0.5 * width_m, 360.0), Hand::Left)
        }
        Figure::Trapezoid {
            parallel_m: [a, b],
            height_m: h,
            hand,
        } => {
            let inset = 0.5 * (a - b);
            let (right, left) = ((a - inset, *h), (inset, *h));
            outline(vec![(0.0, 0.0), (*a, 0.0), right, left], *hand)
        }
        Figure::Polygon {
            sides_m,
            diagonals,
            inward,
            hand,
        } => {
            let sigma_m = shape.sigma_m.unwrap_or(TAPE_SIGMA_M).max(1e-4);
            let closed = close(sides_m, diagonals, inward, sigma_m)?;
            outline(closed.corners.iter().map(|c| (c.x, c.y)).collect(), *hand)
        }
        Figure::Radii { radii_m } => outline(radii_outline(radii_m), Hand::Left),
        Figure::Offsets { sides, .. } => strips(sides, stretches),
    })
}

/// The strips on both sides of a baseline, as one outline. Stretches are listed side after side, each side ending at its last
/// chainage.
fn strips(sides: &[Ordinates], stretches: &[Stretch]) -> MultiPolygon<f64> {
    let mut rest = stretches;
    let mut whole = MultiPolygon::new(Vec::new());
    for side in sides {
        let end = side.chainage_m.last().copied().unwrap_or(0.0);
        let own = rest
            .iter()
            .position(|s| s.to_m >= end - 1e-9)
            .map_or(rest.len(), |k| k + 1);
        let (these, others) = rest.split_at(own);
        rest = others;
        whole = whole.union(&outline(edge(side, these), side.hand));
    }
    whole
}

/// Points given along the baseline and to that side of it, as one closed outline.
fn outline(points: Vec<(f64, f64)>, hand: Hand) -> MultiPolygon<f64> {
    let flip = if hand == Hand::Left { 1.0 } else { -1.0 };
    let ring: LineString<f64> = points
        .into_iter()
        .map(|(along, left)| Coord {
            x: along,
            y: flip * left,
        })
        .collect();
    MultiPolygon::new(vec![Polygon::new(ring, Vec::new())])
}

/// An arc of an ellipse with these half axes, clockwise from straight ahead, as a bearing runs. A part of a circle is drawn from its
/// centre.
fn arc(ahead_m: f64, aside_m: f64, sector_deg: f64) -> Vec<(f64, f64)> {
    let whole = sector_deg >= 360.0;
    let share = sector_deg / 360.0;
    let steps = ((CIRCLE_SIDES as f64 * share).ceil() as usize).max(2);
    let last = if whole { steps } else { steps + 1 };
    let mut points: Vec<(f64, f64)> = (0..last)
        .map(|i| {
            let angle = 2.0 * PI * share * i as f64 / steps as f64;
            (ahead_m * angle.cos(), -aside_m * angle.sin())
        })
        .collect();
    if !whole {
        points.push((0.0, 0.0));
    }
    points
}

/// Between two radii the square of the radius runs evenly, so that the outline's area is the sum of the sectors.
fn radii_outline(radii_m: &[f64]) -> Vec<(f64, f64)> {
    let n = radii_m.len();
    let square = |i: usize| radii_m[i % n].powi(2);
    (0..n * STEPS)
        .map(|k| {
            let (i, part) = (k / STEPS, (k % STEPS) as f64 / STEPS as f64);
            let r = (square(i) * (1.0 - part) + square(i + 1) * part).sqrt();
            let angle = 2.0 * PI * k as f64 / (n * STEPS) as f64;
            (r * angle.cos(), -r * angle.sin())
        })
        .collect()
}

/// One strip: along the baseline, and back along the edge, which is straight between offsets by the trapezoid rule and parabolas by
/// Simpson's.
fn edge(side: &Ordinates, stretches: &[Stretch]) -> Vec<(f64, f64)> {
    let (x, y) = (&side.chainage_m, &side.offsets_m);
    let at = |i: usize| (x[i], y[i]);
    let n = x.len();
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut i = 0;
    while i + 1 < n {
        let (x0, y0) = at(i);
        let curved = stretches
            .iter()
            .any(|s| s.rule == Rule::Simpson && s.from_m <= x0 + 1e-9 && x0 + 1e-9 < s.to_m);
        out.push((x0, y0));
        if curved && i + 2 < n {
            let ((_, y1), (x2, y2)) = (at(i + 1), at(i + 2));
            for k in 1..2 * STEPS {
                let t = k as f64 / STEPS as f64;
                let height = y0 + t * (y1 - y0) + 0.5 * t * (t - 1.0) * (y2 - 2.0 * y1 + y0);
                out.push((x0 + 0.5 * t * (x2 - x0), height.max(0.0)));
            }
            i += 2;
        } else {
            i += 1;
        }
    }
    out.push(at(n - 1));
    let mut ring = vec![(x[0], 0.0), (x[n - 1], 0.0)];
    ring.extend(out.into_iter().rev().filter(|(_, y)| *y > 0.0));
    ring
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tape::shapes::measure;
    use approx::assert_relative_eq;

    fn shape(figure: Figure) -> Shape {
        Shape {
            label: "part".into(),
            figure,
            deduct: false,
            sigma_m: None,
            place: None,
            line: None,
        }
    }

    fn drawn(figure: Figure, place: Place) -> (MultiPolygon<f64>, f64) {
        let shape = shape(figure);
        let taped = measure(&shape).expect("possible");
        (draw(&shape, &taped, place).expect("drawn"), taped.area_m2)
    }

    fn all() -> Vec<Figure> {
        let side = |hand, offsets_m: &[f64]| Ordinates {
            hand,
            chainage_m: (0..offsets_m.len()).map(|i| i as f64).collect(),
            offsets_m: offsets_m.to_vec(),
        };
        vec![
            Figure::Rectangle {
                length_m: 4.0,
                width_m: 3.0,
                hand: Hand::Left,
            },
            Figure::Triangle {
                base_m: 4.0,
                height_m: 3.0,
                foot_m: None,
                hand: Hand::Right,
            },
            Figure::ThreeSides {
                sides_m: [13.0, 14.0, 15.0],
                hand: Hand::Left,
            },
            Figure::Circle {
                across: Across::Radius(2.0),
                sector_deg: 360.0,
            },
            Figure::Circle {
                across: Across::Diameter(4.0),
                sector_deg: 90.0,
            },
            Figure::Ellipse {
                length_m: 6.0,
                width_m: 4.0,
            },
            Figure::Trapezoid {
                parallel_m: [6.0, 4.0],
                height_m: 3.0,
                hand: Hand::Left,
            },
            Figure::Radii {
                radii_m: vec![2.0, 2.4, 3.0, 2.6, 2.0, 1.8],
            },
            Figure::Offsets {
                rule: Rule::Trapezoid,
                sides: vec![side(Hand::Left, &[1.0, 2.0, 1.5])],
            },
            Figure::Offsets {
                rule: Rule::Simpson,
                sides: vec![
                    side(Hand::Left, &[1.0, 2.0, 1.5, 1.0]),
                    side(Hand::Right, &[0.0, 1.0, 1.5, 0.5]),
                ],
            },
        ]
    }

    #[test]
    fn a_drawn_figure_has_the_measured_area() {
        let place = Place {
            east_m: 100.0,
            north_m: -50.0,
            bearing_deg: 37.0,
        };
        for figure in all() {
            let kind = figure.kind();
            let (polygon, area) = drawn(figure, place);
            assert_relative_eq!(polygon.unsigned_area(), area, max_relative = 1e-9);
            assert_eq!(polygon.iter().count(), 1, "{kind}");
        }
    }

    #[test]
    fn bearings_run_clockwise_from_north_and_left_is_left() {
        let north = Place {
            east_m: 10.0,
            north_m: 20.0,
            bearing_deg: 0.0,
        };
        let (polygon, _) = drawn(
            Figure::Rectangle {
                length_m: 4.0,
                width_m: 3.0,
                hand: Hand::Left,
            },
            north,
        );
        let corners: Vec<Coord<f64>> = polygon.0[0].exterior().coords().copied().collect();
        // Along the baseline is north, left of it is west.
        assert_relative_eq!(corners[1].x, 10.0, epsilon = 1e-9);
        assert_relative_eq!(corners[1].y, 24.0, epsilon = 1e-9);
        assert_relative_eq!(corners[2].x, 7.0, epsilon = 1e-9);
        let (polygon, _) = drawn(
            Figure::Rectangle {
                length_m: 4.0,
                width_m: 3.0,
                hand: Hand::Right,
            },
            AT_ORIGIN,
        );
        let corners: Vec<Coord<f64>> = polygon.0[0].exterior().coords().copied().collect();
        // Baseline to the east, right of it is south.
        assert_relative_eq!(corners[1].x, 4.0, epsilon = 1e-9);
        assert_relative_eq!(corners[2].y, -3.0, epsilon = 1e-9);
    }
}
