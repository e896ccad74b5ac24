//! Garden paths: a line walked along the middle, with a width.

use super::disc::Disc;
use super::region::{Corners, Region};
use crate::fault::Fault;
use geo::Coord;
use std::f64::consts::{PI, TAU};

/// Straight sides to a full turn of a rounded corner: within 0.03 % of half the width.
const SIDES_OF_A_TURN: f64 = 128.0;

/// Everything within half the width of a line: round ends, round outer corners.
///
/// A line that comes back over itself covers its ground once. Corners are drawn with straight sides of the
/// same area as the sector they stand for, so a path's area is exact where it doesn't cross its own corners.
///
/// # Errors
/// Coordinates that aren't on Earth, a width that isn't above zero.
pub fn outline(line: &[Coord<f64>], width_m: f64) -> Result<Region, Fault> {
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
        _ => Region::inside(&swept(&line, width_m / 2.0, true)),
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
            parts.extend(swept(&ring, within_m, false));
        }
    }
    geo::MultiPolygon(parts.into_iter().map(super::region::polygon).collect())
}

/// The line's rectangles and its corners' sectors, all anticlockwise, so that their windings add up.
fn swept(line: &[Coord<f64>], reach_m: f64, ends: bool) -> Vec<Vec<Coord<f64>>> {
    let legs: Vec<(Coord<f64>, Coord<f64>, f64)> = line
        .windows(2)
        .filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
        .map(|(a, b)| (a, b, (b.y - a.y).atan2(b.x - a.x)))
        .collect();
    let mut parts = Vec::with_capacity(2 * legs.len() + 2);
    for &(a, b, heading) in &legs {
        let (sin, cos) = heading.sin_cos();
        let left = Coord { x: -sin, y: cos } * reach_m;
        parts.push(vec![a - left, b - left, b + left, a + left]);
    }
    for pair in legs.windows(2) {
        if let [(_, corner, heading), (_, _, next)] = pair {
            let turn = (next - heading + PI).rem_euclid(TAU) - PI;
            // the outer side of a left turn is the right one, swept by the turn; of a right turn the left, backwards
            let from = if turn >= 0.0 {
                heading - PI / 2.0
            } else {
                next + PI / 2.0
            };
            parts.extend(sector(*corner, reach_m, from, turn.abs()));
        }
    }
    if ends
        && let (Some((first, _, heading)), Some((_, last, last_heading))) =
            (legs.first(), legs.last())
    {
        parts.extend(sector(*first, reach_m, heading + PI / 2.0, PI));
        parts.extend(sector(*last, reach_m, last_heading - PI / 2.0, PI));
    }
    parts
}

/// A sector with straight sides, of the sector's own area. Nothing for an angle too small to see.
fn sector(centre: Coord<f64>, radius_m: f64, from: f64, angle: f64) -> Option<Vec<Coord<f64>>> {
    if angle < 1e-9 {
        return None;
    }
    let sides = (angle / TAU * SIDES_OF_A_TURN).ceil();
    let step = angle / sides;
    let radius = radius_m * (step / step.sin()).sqrt();
    let arc = (0..=sides as u32).map(|k| {
        let (sin, cos) = (from + step * f64::from(k)).sin_cos();
        centre + Coord { x: cos, y: sin } * radius
    });
    Some(std::iter::once(centre).chain(arc).collect())
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

    #[test]
    fn refuses_no_width() {
        for width in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(outline(&line(&[(0.0, 0.0), (1.0, 0.0)]), width).is_err());
        }
    }
}
