//! A lawn drawn in or out until it has a given area: the low and the high end of the band, to scale, for the plan.
//!
//! Every edge is moved by the same distance. Which distance gives the area is found by trial: moved outlines are drawn and measured until
//! one has the area asked for.

use super::region::{combine, gone_round, polygon, without_slivers};
use crate::fault::Fault;
use crate::ring::{cross, dot, size_m};
use geo::bool_ops::OpType;
use geo::{Area, Coord, MultiPolygon, Simplify};
use std::f64::consts::TAU;

/// How near to the area asked for is near enough, as a part of it: less than any drawing shows.
const NEAR_ENOUGH: f64 = 1e-5;

/// Before an edge is moved by some distance, its outline is thinned to this part of that distance: a difference that nobody sees, and
/// many times fewer corners to move. The area asked for is met all the same.
const THINNED_TO: f64 = 0.02;

/// A rounded corner of the drawing: 7.5 degrees a side.
const ARC_STEP_RAD: f64 = TAU / 48.0;

/// Up to a turn of 15 degrees, of which this is the tangent, moved sides simply meet. Their corner is then out of place by less than a
/// hundredth of the distance, and takes one point instead of two or three.
const MEET_TAN: f64 = 0.267_949_192_431_122_7;

/// So many steps in search of the far end of a bracket follow the line through the last two results; later ones double the distance.
const STRAIGHT_ON: u32 = 4;

/// Most steps of each search. False position takes some six steps on a smooth edge; fifty halvings narrow any bracket to nothing.
const STEPS: u32 = 50;

/// The lawn with every edge moved by the same distance (outwards with round corners, inwards with sharp ones) until its
/// area is `area_m2`: holes shrink as the outside grows, and narrow parts vanish as it shrinks. Empty for zero or
/// less, and for a lawn that is empty itself. Where no distance meets the area to 1e-5 (a jump of the
/// area, when a hole's last corner closes at once) the nearest on the lower side is given.
///
/// # Errors
/// The polygon library failing.
pub fn of_area(lawn: &MultiPolygon<f64>, area_m2: f64) -> Result<MultiPolygon<f64>, Fault> {
    Movable::new(lawn, (area_m2 - lawn.unsigned_area()).abs())?.of_area(area_m2)
}

/// A lawn ready to be drawn in or out as [`of_area`] does.
pub struct Movable<'a> {
    lawn: &'a MultiPolygon<f64>,
    area_m2: f64,
    thinned: MultiPolygon<f64>,
    thinned_m2: f64,
    perimeter_m: f64,
}

/// The area a lawn is to be drawn with, and whether that is more than its own.
struct Asked {
    area_m2: f64,
    outwards: bool,
}

impl Asked {
    fn is_met(&self, found_m2: f64) -> bool {
        (found_m2 - self.area_m2).abs() <= NEAR_ENOUGH * self.area_m2
    }

    /// How much area the lawn has yet to be moved by, if it has this much now, m²; negative where it was moved too far.
    fn short_of(&self, found_m2: f64) -> f64 {
        if self.outwards {
            self.area_m2 - found_m2
        } else {
            found_m2 - self.area_m2
        }
    }
}

impl Movable<'_> {
    /// Prepares a lawn for areas that differ from its own by `by_m2` or more.
    ///
    /// # Errors
    /// The polygon library failing.
    pub(crate) fn new(lawn: &MultiPolygon<f64>, by_m2: f64) -> Result<Movable<'_>, Fault> {
        let perimeter_m = rings_of(lawn)
            .flat_map(|ring| ring.windows(2))
            .map(length)
            .sum::<f64>();
        // Nothing is drawn of an empty lawn, or where the distance is not a number, and the polygon library must not see such a distance.
        let apart_m = THINNED_TO * by_m2 / perimeter_m;
        let thinned = if apart_m.is_finite() {
            lawn.simplify(apart_m)
        } else {
            MultiPolygon(Vec::new())
        };
        let thinned = combine(&thinned, &MultiPolygon(Vec::new()), OpType::Union)?;
        Ok(Movable {
            lawn,
            area_m2: lawn.unsigned_area(),
            thinned_m2: thinned.unsigned_area(),
            thinned,
            perimeter_m,
        })
    }

    /// # Errors
    /// The polygon library failing.
    pub(crate) fn of_area(&self, area_m2: f64) -> Result<MultiPolygon<f64>, Fault> {
        if !(area_m2 > 0.0 && area_m2.is_finite()) || self.area_m2 <= 0.0 {
            return Ok(MultiPolygon(Vec::new()));
        }
        let asked = Asked {
            area_m2,
            outwards: area_m2 > self.area_m2,
        };
        if asked.is_met(self.area_m2) {
            return Ok(self.lawn.clone());
        }
        // First a bracket: the distance grows from a first guess (missing area over length of edge) until the area is passed. Outwards
        // that must happen; inwards the lawn vanishes.
        let (mut near, mut near_short) = (0.0, asked.short_of(self.thinned_m2));
        let mut far = near_short / self.perimeter_m;
        let (mut picture, mut found) = self.moved(far, asked.outwards)?;
        let mut far_short = asked.short_of(found);
        for step in 0..STEPS {
            if far_short <= 0.0 || asked.is_met(found) {
                break;
            }
            // The line through the last two results is nearly right on a smooth edge. Where it leads nowhere, go twice as far.
            let on = far + far_short * (far - near) / (near_short - far_short);
            (near, near_short) = (far, far_short);
            far = if step < STRAIGHT_ON && on > near {
                on.min(2.0 * near)
            } else {
                2.0 * near
            };
            (picture, found) = self.moved(far, asked.outwards)?;
            far_short = asked.short_of(found);
        }
        // Then false position: the line through both ends of the bracket says where to try next. Where one end stays put twice running,
        // its weight is halved (the Illinois rule), so that both ends close in.
        let mut last_side = 0;
        for _ in 0..STEPS {
            if asked.is_met(found) || near >= far {
                break;
            }
            let by = near + (far - near) * (near_short / (near_short - far_short));
            (picture, found) = self.moved(by, asked.outwards)?;
            let short = asked.short_of(found);
            if short > 0.0 {
                (near, near_short) = (by, short);
                if last_side == 1 {
                    far_short /= 2.0;
                }
                last_side = 1;
            } else {
                (far, far_short) = (by, short);
                if last_side == -1 {
                    near_short /= 2.0;
                }
                last_side = -1;
            }
        }
        Ok(without_slivers(picture))
    }

    /// The lawn with every edge moved by so many metres, and its area.
    fn moved(&self, by_m: f64, outwards: bool) -> Result<(MultiPolygon<f64>, f64), Fault> {
        let out_m = if outwards { by_m } else { -by_m };
        let picture = gone_round(&MultiPolygon(
            rings_of(&self.thinned)
                .map(|ring| polygon(beside(ring, out_m)))
                .collect(),
        ))?;
        let area_m2 = picture.unsigned_area();
        Ok((picture, area_m2))
    }
}

/// A closed ring (with the lawn on its left) with every side moved outwards by `out_m` metres, or inwards where that is negative. Sides
/// that go on nearly straight meet in one corner. Elsewhere a corner whose sides move apart is filled by an arc, and at a corner whose
/// sides overlap the ring is led back over the old corner: what overlaps there is gone round clockwise, and falls away when only what is
/// gone round anticlockwise is kept.
fn beside(ring: &[Coord<f64>], out_m: f64) -> Vec<Coord<f64>> {
    let mut ring = ring.to_vec();
    ring.dedup();
    let sides: Vec<Coord<f64>> = ring
        .iter()
        .zip(ring.iter().skip(1))
        .map(|(&a, &b)| b - a)
        .collect();
    let arriving = sides.iter().cycle().skip(sides.len().saturating_sub(1));
    let mut moved = Vec::with_capacity(2 * ring.len());
    for ((&corner, &before), &after) in ring.iter().zip(arriving).zip(&sides) {
        let (before_m, after_m) = (size_m(before), size_m(after));
        // right of a side is outside
        let right = |side: Coord<f64>, size_m: f64| Coord {
            x: side.y / size_m,
            y: -side.x / size_m,
        };
        let (first, last) = (right(before, before_m), right(after, after_m));
        let (cos, sin) = (dot(first, last), cross(first, last));
        let opens = sin * out_m > 0.0;
        // By how much each of the two sides gets longer or shorter if they simply meet.
        let lost_m = sin.abs() / (1.0 + cos) * out_m.abs();
        if sin.abs() < MEET_TAN * cos && (opens || lost_m < 0.4 * before_m.min(after_m)) {
            moved.push(corner + (first + last) * (out_m / (1.0 + cos)));
        } else if opens {
            let (heading, turn) = (before.y.atan2(before.x), sin.atan2(cos));
            let steps = (turn.abs() / ARC_STEP_RAD).ceil().max(1.0);
            moved.extend((0..=steps as u32).map(|k| {
                let (sin, cos) = (heading + turn * f64::from(k) / steps).sin_cos();
                corner + Coord { x: sin, y: -cos } * out_m
            }));
        } else {
            moved.extend([corner + first * out_m, corner, corner + last * out_m]);
        }
    }
    moved
}

/// All rings of the polygons, outer ones and holes.
fn rings_of(polygons: &MultiPolygon<f64>) -> impl Iterator<Item = &[Coord<f64>]> {
    let rings = polygons
        .iter()
        .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
    rings.map(|ring| ring.0.as_slice())
}

fn length(side: &[Coord<f64>]) -> f64 {
    if let [a, b] = side {
        (b.x - a.x).hypot(b.y - a.y)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lawn::path::border;
    use crate::lawn::region::Region;

    fn ring(points: &[(f64, f64)]) -> Vec<Coord<f64>> {
        points.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    /// A square of 10 m moved out by 0.5 m with round corners has 100 + 40 × 0.5 + π 0.25 m², moved in 81 m²
    /// (elementary geometry).
    #[test]
    fn a_square_in_and_out() {
        let square =
            Region::inside(&[ring(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])]).unwrap();
        let out = of_area(square.polygons(), 120.785398).unwrap();
        let reach = out
            .iter()
            .flat_map(|p| p.exterior().0.iter())
            .map(|c| c.x)
            .fold(0.0, f64::max);
        assert!((reach - 10.5).abs() < 1e-4, "{reach}");
        let within = of_area(square.polygons(), 81.0).unwrap();
        let reach = within
            .iter()
            .flat_map(|p| p.exterior().0.iter())
            .map(|c| c.x)
            .fold(0.0, f64::max);
        assert!((reach - 9.5).abs() < 1e-5, "{reach}");
    }

    #[test]
    fn holes_close_and_narrow_parts_vanish() {
        // two squares of 6 m joined by a neck of 0.2 m, a hole in one
        let dumbbell = ring(&[
            (0.0, 0.0),
            (6.0, 0.0),
            (6.0, 2.9),
            (10.0, 2.9),
            (10.0, 0.0),
            (16.0, 0.0),
            (16.0, 6.0),
            (10.0, 6.0),
            (10.0, 3.1),
            (6.0, 3.1),
            (6.0, 6.0),
            (0.0, 6.0),
        ]);
        let outer = Region::inside(&[dumbbell]).unwrap();
        let hole =
            Region::inside(&[ring(&[(2.0, 2.0), (2.5, 2.0), (2.5, 2.5), (2.0, 2.5)])]).unwrap();
        let lawn = combine(outer.polygons(), hole.polygons(), OpType::Difference).unwrap();
        let now = lawn.unsigned_area();
        for asked in [
            0.001,
            1.0,
            20.0,
            50.0,
            now - 1.0,
            now,
            now + 1.0,
            100.0,
            500.0,
            1e5,
        ] {
            let drawn = of_area(&lawn, asked).unwrap();
            let got = drawn.unsigned_area();
            assert!(
                (got - asked).abs() <= 1e-4 + NEAR_ENOUGH * asked,
                "{asked} {got}"
            );
        }
        let small = of_area(&lawn, 40.0).unwrap();
        assert_eq!(small.0.len(), 2, "the neck is gone");
        let large = of_area(&lawn, 120.0).unwrap();
        assert!(
            large.iter().all(|p| p.interiors().is_empty()),
            "the hole is closed"
        );
    }

    /// The slow and obvious twin: the lawn with, or less, everything within the distance of its edge. The two pictures
    /// may differ by the corners' sides alone (7.5° and 2.8° of an arc: under 0.2 % of the distance).
    #[test]
    fn moved_edges_are_what_the_obvious_way_gives() {
        for (teeth, depth) in [(3, 0.5), (5, 3.0), (17, 2.0)] {
            let star: Vec<Coord<f64>> = (0..4 * teeth)
                .map(|k| {
                    let angle = TAU * f64::from(k) / f64::from(4 * teeth);
                    let reach = 9.0
                        + depth * (f64::from(teeth) * angle).sin()
                        + 0.3 * (f64::from(k) * 2.7).cos();
                    Coord {
                        x: reach * angle.cos(),
                        y: reach * angle.sin(),
                    }
                })
                .collect();
            let hole = ring(&[
                (-2.0, -1.0),
                (3.0, -1.5),
                (2.5, 2.0),
                (0.5, 0.2),
                (-1.5, 2.5),
            ]);
            let outer = Region::inside(&[star]).unwrap();
            let hole = Region::inside(&[hole]).unwrap();
            let lawn = combine(outer.polygons(), hole.polygons(), OpType::Difference).unwrap();
            let edges: Vec<Vec<Coord<f64>>> = rings_of(&lawn).map(<[Coord<f64>]>::to_vec).collect();
            let edge_m: f64 = edges
                .iter()
                .flat_map(|ring| ring.windows(2))
                .map(length)
                .sum();
            for by in [0.05, 0.7, 3.0] {
                for (out_m, how) in [(by, OpType::Union), (-by, OpType::Difference)] {
                    let rings = edges
                        .iter()
                        .map(|ring| polygon(beside(ring, out_m)))
                        .collect();
                    let quick = gone_round(&MultiPolygon(rings)).unwrap();
                    let slow = combine(&lawn, &border(&edges, by), how).unwrap();
                    let apart = combine(&quick, &slow, OpType::Xor).unwrap().unsigned_area();
                    assert!(apart < 0.003 * by * edge_m, "{teeth} {out_m}: {apart}");
                }
            }
        }
    }

    #[test]
    fn nothing_of_nothing() {
        let none = MultiPolygon(Vec::new());
        assert!(of_area(&none, 10.0).unwrap().0.is_empty());
        let square = Region::inside(&[ring(&[(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)])]).unwrap();
        for asked in [0.0, -3.0, f64::NAN, f64::INFINITY] {
            assert!(of_area(square.polygons(), asked).unwrap().0.is_empty());
        }
    }
}
