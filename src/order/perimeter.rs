//! One strip of turf laid round the lawn's edge before the rows: how many pieces it takes, and what it leaves for the rows.
//!
//! Laid so, the small cut pieces end up inside the lawn and not on its edge, where they would dry out. The strip
//! follows the outer edge only; beds are cut out of the rows.

use super::demand::Demand;
use super::pack::pack;
use super::rule::{Rule, TASTES};
use super::slope::Stretch;
use geo::{BooleanOps, Buffer, Coord, MapCoords, MultiPolygon, Simplify};
use serde::Serialize;

/// Turf bends round less than this between one step of the edge and the next; a sharper turn is a corner, where one
/// run ends and the next butts against it. Degrees; common practice, no source.
const CORNER_DEG: f64 = 30.0;
/// Wiggles of the edge smaller than this are not followed by a strip of turf. Metres.
const FOLLOWED_M: f64 = 0.05;

/// `order.turf.strip` of the result.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Strip {
    /// Length of all runs together, each along the longer side of the strip.
    pub length_m: f64,
    pub pieces: u64,
    pub runs: Vec<Run>,
}

/// A part of the strip from one corner to the next, or all the way round where there is no corner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    pub lawn: String,
    pub length_m: f64,
    /// Lengths of the pieces, in their order.
    pub pieces_m: Vec<f64>,
}

/// Lays the strip of one lawn and adds it to `strip`; `edge` is the lawn's outer edge on the plan. Pieces of different runs need no
/// stagger, since their joints do not lie beside each other.
pub(crate) fn lay(
    strip: &mut Strip,
    label: &str,
    edge: &MultiPolygon<f64>,
    width_m: f64,
    rule: &Rule,
    stretch: Option<Stretch>,
) {
    let mut demands: Vec<Demand> = Vec::new();
    for polygon in edge {
        let ground = polygon.exterior().simplify(FOLLOWED_M);
        let ground: Vec<Coord<f64>> = ground
            .coords()
            .map(|c| stretch.map_or(*c, |s| s.ground(*c)))
            .collect();
        for length in runs(&ground, width_m) {
            demands.push(Demand {
                // Row numbers two apart are not neighbours, so no stagger is asked between runs.
                row: 2 * demands.len() as u32,
                start_m: 0.0,
                end_m: length,
                reach_m: width_m,
            });
        }
    }
    let packing = pack(&demands, rule, 12, TASTES[0]);
    strip.pieces += u64::from(packing.pieces);
    for (demand, laid) in demands.iter().zip(&packing.rows) {
        strip.length_m += demand.end_m;
        strip.runs.push(Run {
            lawn: label.to_owned(),
            length_m: demand.end_m,
            pieces_m: laid.iter().map(|p| p.end_m - p.start_m).collect(),
        });
    }
}

/// Lengths of the runs of a closed ring, metres; none for fewer than three points. Where the edge bends into the lawn (a concave
/// place) the strip's inner side is longer than the edge, by its width times the bend in radians, and counts.
fn runs(ring: &[Coord<f64>], width_m: f64) -> Vec<f64> {
    let points: &[Coord<f64>] = match ring {
        [first, .., last] if first == last => &ring[..ring.len() - 1],
        _ => ring,
    };
    let n = points.len();
    if n < 3 {
        return Vec::new();
    }
    // Twice the signed area (the shoelace formula): its sign says which way round the ring runs.
    let mut twice_area = 0.0;
    for k in 0..n {
        let (a, b) = (points[k], points[(k + 1) % n]);
        twice_area += a.x * b.y - b.x * a.y;
    }
    let leg = |k: usize| {
        let (a, b) = (points[k % n], points[(k + 1) % n]);
        (b.x - a.x, b.y - a.y)
    };
    // Bend at the start of leg k, radians; positive where the lawn's edge is convex.
    let bend = |k: usize| {
        let (ux, uy) = leg(k + n - 1);
        let (vx, vy) = leg(k);
        (ux * vy - uy * vx).atan2(ux * vx + uy * vy) * twice_area.signum()
    };
    let sharp = CORNER_DEG.to_radians();
    let start = (0..n).find(|k| bend(*k).abs() > sharp);
    let from = start.unwrap_or(0);
    let mut found = Vec::new();
    let mut length = 0.0;
    for k in from..from + n {
        let turn = bend(k);
        if turn.abs() > sharp {
            if length > 0.0 {
                found.push(length);
            }
            // At a square corner the old run covers the first width of the new one; at other corners that saving is not counted.
            length = if (turn.to_degrees() - 90.0).abs() < 10.0 {
                -width_m
            } else {
                0.0
            };
        }
        if turn < 0.0 {
            // At a concave corner the inner sides of both runs meet further on, each by width times tan(half the turn). The limit of 1.2
            // radians keeps the tangent small at a sharp spike.
            length += width_m * (0.5 * turn.abs()).min(1.2).tan() * 2.0;
        }
        let (x, y) = leg(k);
        length += x.hypot(y);
    }
    if length > 0.0 {
        found.push(length);
    }
    found
}

/// What the strip leaves of `net` for the rows, on the plan: whatever is further than the strip's width from the outer edge.
pub(crate) fn inside(
    net: &MultiPolygon<f64>,
    edge: &MultiPolygon<f64>,
    width_m: f64,
    stretch: Option<Stretch>,
) -> MultiPolygon<f64> {
    let ground = stretch.map_or_else(|| edge.clone(), |s| s.stretched(edge));
    // Moving the edge inwards draws arcs with straight sides; half a percent less than the full width leaves no gap to the strip.
    let core = ground.buffer(-0.995 * width_m);
    let core = stretch.map_or_else(|| core.clone(), |s| core.map_coords(|c| s.plan(c)));
    net.intersection(&core)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use geo::{Area, polygon};

    const ROLL: Rule = Rule {
        length_m: 2.5,
        min_piece_m: 0.5,
        stagger_m: 0.3,
    };

    /// Own reference: a strip 0.4 m wide round 10 x 8 m, butted at the corners, covers 10 x 8 less 9.2 x 7.2 m.
    #[test]
    fn round_a_rectangle_the_strip_covers_what_the_inside_leaves() {
        let lawn = MultiPolygon(vec![
            polygon![(x: 0., y: 0.), (x: 10., y: 0.), (x: 10., y: 8.), (x: 0., y: 8.)],
        ]);
        let mut strip = Strip::default();
        lay(&mut strip, "lawn", &lawn, 0.4, &ROLL, None);
        assert_abs_diff_eq!(strip.length_m, 36.0 - 4.0 * 0.4, epsilon = 1e-9);
        assert_eq!(strip.runs.len(), 4);
        assert_eq!(strip.pieces, 14); // 34.4 / 2.5 = 13.76
        let left = inside(&lawn, &lawn, 0.4, None).unsigned_area();
        assert_abs_diff_eq!(left, 9.2 * 7.2, epsilon = 0.07);
        assert!(left >= 9.2 * 7.2);
    }

    /// Where the edge bends into the lawn the inner side of the strip counts.
    #[test]
    fn a_corner_into_the_lawn_takes_more() {
        let notched = [
            (0., 0.),
            (10., 0.),
            (10., 4.),
            (5., 4.),
            (5., 8.),
            (0., 8.),
            (0., 0.),
        ]
        .map(|(x, y)| Coord { x, y });
        let total: f64 = runs(&notched, 0.4).iter().sum();
        assert_abs_diff_eq!(total, 36.0 - 5.0 * 0.4 + 0.8, epsilon = 1e-9);
    }

    #[test]
    fn a_round_lawn_is_one_run() {
        let ring: Vec<Coord<f64>> = (0..=60)
            .map(|k| {
                let angle = std::f64::consts::TAU * f64::from(k % 60) / 60.0;
                Coord {
                    x: 5.0 * angle.cos(),
                    y: 5.0 * angle.sin(),
                }
            })
            .collect();
        let found = runs(&ring, 0.4);
        assert_eq!(found.len(), 1);
        assert_abs_diff_eq!(found[0], 31.4, epsilon = 0.1);
    }
}
