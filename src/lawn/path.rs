//! Garden paths: a line walked along the middle, with a width. The result is the ground that the path covers.

use super::disc::Disc;
use super::region::{Corners, Region};
use crate::fault::Fault;
use geo::Coord;
use std::f64::consts::{PI, TAU};

/// How many straight sides a full turn of a rounded corner has: they lie within 0.03 % of half the width.
const SIDES_OF_A_TURN: f64 = 128.0;

/// Everything within half the width of a line, with round ends and round outer corners. An empty line covers nothing, and a single place
/// a disc.
///
/// A line that comes back over itself covers its ground once. Corners are drawn with straight sides of the same area as the sector they
/// stand for, so that a path's area is exact where it does not cross its own corners.
///
/// # Errors
/// Coordinates that are not on Earth, a width that is not above zero.
pub(crate) fn outline(line: &[Coord<f64>], width_m: f64) -> Result<Region, Fault> {
    super::region::gate(line)?;
    if !(width_m > 0.0 && width_m.is_finite()) {
        return Err(Fault::usage(
            "path-width",
            format!("A path is {width_m} m wide."),
            "Give its width in metres, above zero.",
        ));
    }
    let mut line = line.to_vec();
    line.dedup();
    match line.as_slice() {
        [] => Region::inside(&[]),
        [only] => Ok(Region::new(
            Disc {
                centre: *only,
                radius_m: width_m / 2.0,
            }
            .drawn(),
            &Corners::new([]),
        )),
        _ => Region::inside(&[stroke(&line, width_m / 2.0)]),
    }
}

/// Everything within a distance of closed rings' edges: the slow and obvious twin that the drawn edges are tested against.
#[cfg(test)]
pub(super) fn border(rings: &[Vec<Coord<f64>>], within_m: f64) -> geo::MultiPolygon<f64> {
    let mut parts = Vec::new();
    for ring in rings {
        let mut ring = ring.clone();
        ring.dedup();
        // once more over the first side, so that the first corner is rounded as well
        if let Some(&second) = ring.get(1) {
            ring.push(second);
            parts.push(stroke(&ring, within_m));
        }
    }
    geo::MultiPolygon(parts.into_iter().map(super::region::polygon).collect())
}

/// At a bend so slight that the ends of the two sides come to lie nearer to each other than this, metres, the middle between them is
/// drawn.
const BEND_M: f64 = 1e-3;

/// A bend this near to half a turn, radians, has no inner side.
const STRAIGHT_BACK_RAD: f64 = 1e-9;

/// One ring round a line of two places or more: up its right side, round its end, down its left side, round its start.
///
/// At the inner side of a bend the ring goes by the corner itself, so that it winds about every place as often as the rectangles of the
/// line's legs and the sectors of its bends do together. Laying those side by side instead would make shared edges, and the polygon
/// library's grid leaves slits along them.
fn stroke(line: &[Coord<f64>], reach_m: f64) -> Vec<Coord<f64>> {
    let back: Vec<Coord<f64>> = line.iter().rev().copied().collect();
    let mut ring = Vec::with_capacity(6 * line.len());
    // Where the line goes straight back the ring goes round its end once, on the way out.
    for (way, back) in [(line, PI), (&back, -PI)] {
        let legs: Vec<(Coord<f64>, Coord<f64>, f64)> = way
            .windows(2)
            .filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
            .map(|(a, b)| (a, b, (b.y - a.y).atan2(b.x - a.x)))
            .collect();
        let right = |heading: f64| {
            let (sin, cos) = heading.sin_cos();
            Coord { x: sin, y: -cos } * reach_m
        };
        if let Some(&(first, _, heading)) = legs.first() {
            ring.push(first + right(heading));
        }
        for pair in legs.windows(2) {
            if let [(_, corner, heading), (_, _, next)] = *pair {
                let turn = match (next - heading + PI).rem_euclid(TAU) - PI {
                    turn if turn.abs() > PI - STRAIGHT_BACK_RAD => back,
                    turn => turn,
                };
                let (ends, begins) = (corner + right(heading), corner + right(next));
                if turn.abs() * reach_m < BEND_M {
                    ring.push((ends + begins) / 2.0);
                } else if turn > 0.0 {
                    ring.push(ends);
                    ring.extend(arc(corner, reach_m, heading - PI / 2.0, turn));
                    ring.push(begins);
                } else {
                    ring.extend([ends, corner, begins]);
                }
            }
        }
        if let Some(&(_, last, heading)) = legs.last() {
            ring.push(last + right(heading));
            ring.extend(arc(last, reach_m, heading - PI / 2.0, PI));
        }
    }
    ring
}

/// An arc drawn with straight sides that hold as much as the sector of the true arc does, from its start to its end.
fn arc(
    centre: Coord<f64>,
    radius_m: f64,
    from: f64,
    angle: f64,
) -> impl Iterator<Item = Coord<f64>> {
    let sides = (angle / TAU * SIDES_OF_A_TURN).ceil();
    let step = angle / sides;
    let radius = radius_m * (step / step.sin()).sqrt();
    (0..=sides as u32).map(move |k| {
        let (sin, cos) = (from + step * f64::from(k)).sin_cos();
        centre + Coord { x: cos, y: sin } * radius
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn line(points: &[(f64, f64)]) -> Vec<Coord<f64>> {
        points.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    /// Rectangle plus two half discs; at a right corner less the (w/2)² that both legs cover, plus a
    /// quarter disc outside (elementary geometry).
    #[test]
    fn areas_of_paths() {
        let width = 1.2;
        let quarter = PI * width * width / 16.0;
        let straight = outline(&line(&[(0.0, 0.0), (3.0, 4.0), (6.0, 8.0)]), width).unwrap();
        assert_abs_diff_eq!(
            straight.area_m2(),
            10.0 * width + 4.0 * quarter,
            epsilon = 1e-6
        );
        for side in [10.0, -10.0] {
            let bent = outline(&line(&[(0.0, 0.0), (10.0, 0.0), (10.0, side)]), width).unwrap();
            assert_abs_diff_eq!(
                bent.area_m2(),
                20.0 * width - width * width / 4.0 + 5.0 * quarter,
                epsilon = 1e-6
            );
        }
        let there_and_back = outline(&line(&[(0.0, 0.0), (10.0, 0.0), (0.0, 0.0)]), width).unwrap();
        assert_abs_diff_eq!(
            there_and_back.area_m2(),
            10.0 * width + 4.0 * quarter,
            epsilon = 1e-6
        );
        let standing = outline(&line(&[(5.0, 5.0), (5.0, 5.0)]), width).unwrap();
        assert_abs_diff_eq!(standing.area_m2(), 4.0 * quarter, epsilon = 1e-9);
    }

    /// A path round a square: the square with its corners rounded, less the square inside.
    #[test]
    fn a_path_in_a_ring_has_a_hole() {
        let round = line(&[
            (5.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (0.0, 10.0),
            (0.0, 0.0),
            (5.0, 0.0),
        ]);
        let region = outline(&round, 2.0).unwrap();
        // 12² − 8² with four outer corners of 1 − π/4 off
        // the drawn ends reach 0.2 mm over the straight side they lie on
        assert_abs_diff_eq!(region.area_m2(), 144.0 - 64.0 - 4.0 + PI, epsilon = 1e-5);
        assert!(!region.contains(Coord { x: 5.0, y: 5.0 }));
    }

    /// A line that a receiver wobbles by centimetres: its outline is one ring without slits, two sides long and round at its ends.
    #[test]
    fn a_walked_path_has_two_sides_and_no_slit() {
        let mut chance = crate::trial::chance::Chance::new(3);
        for _ in 0..50 {
            let walked: Vec<Coord<f64>> = (0..=16)
                .map(|y| Coord {
                    x: 0.02 * chance.normal(),
                    y: f64::from(y) + 0.1 * chance.normal(),
                })
                .collect();
            let region = outline(&walked, 1.0).unwrap();
            let long: f64 = walked
                .windows(2)
                .map(|w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y))
                .sum();
            let [only] = &region.polygons().0[..] else {
                panic!("{} pieces", region.polygons().0.len());
            };
            assert!(only.interiors().is_empty());
            let round: f64 = only.exterior().lines().map(|l| l.dx().hypot(l.dy())).sum();
            assert_abs_diff_eq!(round, 2.0 * long + PI, epsilon = 0.1);
        }
    }

    #[test]
    fn refuses_no_width() {
        for width in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(outline(&line(&[(0.0, 0.0), (1.0, 0.0)]), width).is_err());
        }
    }
}
