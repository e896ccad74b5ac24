//! The fitted edge: one ring drawn through all laps, with its corners, for drawing, cutting turf and the length of the edge.
//!
//! The area is *not* taken from here: making a neat picture must not bias the area. The drawing is only scaled in the end so that it
//! holds the area that was measured.
//!
//! Each lap is first turned into nodes: fixes averaged over a short stretch of way, so long that noise no longer roughens the line, with
//! one node for each standstill. Loops are cut out, the laps are averaged place by place (`mean`), corners and curves are drawn (`draw`),
//! and the length is corrected for what noise adds and drawing loses (`length`).

mod draw;
mod length;
mod mean;
pub mod smooth;
pub mod steady;

use crate::process::{CORRELATION_RANGE_S, WHITE_SHARE};
use crate::ring::once::once;
use crate::ring::{distance_m, dot, perimeter_of_m, signed_area_m2, signed_area_of_m2, size_m};
use crate::walk::{Spot, pauses};
use geo::Coord;
use mean::Mean;

/// One vertex of the fitted edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vertex {
    /// Plane metres.
    pub at: Coord<f64>,
    /// A corner, rather than a place along a straight or a curve.
    pub corner: bool,
    /// When the first lap passed here, seconds on the log's clock.
    pub t_s: f64,
    /// Claimed sigma there, per axis, metres.
    pub sigma_m: f64,
}

/// The fitted edge, counter-clockwise, not repeated at its end.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Edge {
    pub vertices: Vec<Vertex>,
    /// Length of the true edge, metres: that of the drawn one, less what noise adds to it, with what drawing loses given back.
    pub perimeter_m: f64,
    /// What was taken off the drawn length for noise, metres. It is only as sure as the size of the receiver's errors, and how they are
    /// correlated, are known.
    pub noise_m: f64,
    /// One sigma of the length's error that drawing leaves open, metres.
    pub drawing_sigma_m: f64,
    /// The shortest and the longest of the laps' own lengths, metres.
    pub laps_m: (f64, f64),
    /// The area that a lap holds in loops which are no part of the edge, m²: the mean of all laps, positive where it makes the area
    /// larger.
    pub loops_m2: f64,
}

/// Where noise over a step between nodes is more than this part of the step, the walk is averaged over longer steps.
const ROUGHEST: f64 = 0.12;
/// The least distance between nodes, metres: nearer ones would show the swaying pole as shape of the edge.
const LEAST_SPACING_M: f64 = 1.0;
/// The two ends of a lap are one place if they are nearer to each other than this part of the distance between nodes.
const CLOSE: f64 = 0.6;

/// The number of laps, at most, whose length is taken and whose loops are looked for. Among more laps than these a single one that was
/// walked to and fro moves the mean by little.
const MOST_LENGTHS: usize = 12;

/// A place the walk went through, averaged over a short stretch of it.
#[derive(Debug, Clone, Copy)]
struct Node {
    at: Coord<f64>,
    t_s: f64,
    sigma_m: f64,
    /// How many fixes stand behind it.
    fixes: f64,
    paused: bool,
}

/// Fits one edge through the laps of a walk. Each lap is given from its start to its end, with whether it goes round clockwise. Without a
/// lap the edge is empty.
///
/// `straight` takes the spots of the first lap as corners that are joined by straight lines (a list of points, not a walk). `unsteady` is
/// the part of the noise that the receiver claims which shows from fix to fix, 0 to 1: a receiver that smooths its positions adds less to
/// the length of what is drawn.
pub(crate) fn fit(
    laps: &[(&[Spot], bool)],
    pace_m_s: f64,
    step_s: f64,
    unsteady: f64,
    straight: bool,
) -> Edge {
    let Some(&(first, _)) = laps.first() else {
        return Edge::default();
    };
    if straight {
        return through_corners(first);
    }
    let spacing_m = spacing_m(first, pace_m_s, step_s);
    let mut loops_m2 = 0.0;
    let stride = laps.len().div_ceil(MOST_LENGTHS);
    let mut once_round = |number: usize| {
        let (lap, clockwise) = laps[number];
        let (mut nodes, loop_m2) =
            once_round(lap, pace_m_s, spacing_m, number.is_multiple_of(stride));
        let turn = if clockwise { -1.0 } else { 1.0 };
        loops_m2 += turn * loop_m2 / laps.len() as f64;
        if clockwise {
            nodes.reverse();
        }
        nodes
    };
    let length = |lap: &[Node], shape: &[Vertex]| {
        length::length(lap, shape, pace_m_s, step_s, spacing_m, unsteady)
    };
    let nodes = once_round(0);
    let own = draw::ring(&nodes, false);
    // The mean of laps that lie apart cuts corners off, so that the length is worked out for each lap by itself.
    let mut lengths = vec![length(&nodes, &own)];
    let mut mean = Mean::new(&nodes);
    for number in 1..laps.len() {
        let mut other = once_round(number);
        if number.is_multiple_of(stride) {
            lengths.push(length(&other, &draw::ring(&other, false)));
        }
        mean::begin_beside(&mut other, &nodes, spacing_m);
        mean.add(&other);
    }
    let vertices = if laps.len() == 1 {
        own
    } else {
        draw::ring(&mean.nodes(), false)
    };
    let (perimeter_m, noise_m, drawing_sigma_m) = length::together(&lengths);
    Edge {
        noise_m,
        drawing_sigma_m,
        laps_m: length::range_m(&lengths),
        loops_m2,
        ..Edge::new(vertices, perimeter_m)
    }
}

/// The edge that joins these corners by straight lines.
fn through_corners(corners: &[Spot]) -> Edge {
    let mut nodes: Vec<Node> = corners
        .iter()
        .map(|s| node(std::slice::from_ref(s), false))
        .collect();
    close(&mut nodes, 1e-9);
    let vertices = draw::ring(&nodes, true);
    let perimeter_m = drawn_m(&vertices);
    Edge::new(vertices, perimeter_m)
}

/// The nodes of a lap, each place passed once if `look` is set, and the signed area of the loops that were cut out, counter-clockwise
/// positive, m².
fn once_round(lap: &[Spot], pace_m_s: f64, spacing_m: f64, look: bool) -> (Vec<Node>, f64) {
    let mut nodes = gather(lap, pace_m_s, spacing_m);
    if !look {
        close(&mut nodes, CLOSE * spacing_m);
        return (nodes, 0.0);
    }
    let places: Vec<Coord<f64>> = nodes.iter().map(|node| node.at).collect();
    let once = once(&places, rms_sigma_m(lap), spacing_m);
    let mut nodes: Vec<Node> = once.kept.into_iter().map(|i| nodes[i]).collect();
    close(&mut nodes, CLOSE * spacing_m);
    (nodes, once.loops_m2)
}

/// Root mean square of the claimed sigmas of a lap, metres per axis; 0 of an empty one.
fn rms_sigma_m(lap: &[Spot]) -> f64 {
    (lap.iter().map(|s| s.sigma().powi(2)).sum::<f64>() / lap.len().max(1) as f64).sqrt()
}

/// Length of a drawing, metres.
fn drawn_m(vertices: &[Vertex]) -> f64 {
    perimeter_of_m(vertices.iter().map(|v| v.at))
}

/// The distance between nodes at which noise no longer roughens the edge, metres, but no longer than a sixteenth of the lap. It is drawn
/// out step by step until the error's change from node to node is a small part of the distance.
fn spacing_m(lap: &[Spot], pace_m_s: f64, step_s: f64) -> f64 {
    let sigma_m = rms_sigma_m(lap);
    // The length of the lap is taken by pace and time, as the line through noisy fixes is far longer than what was walked.
    let lasted_s = lap.last().map_or(0.0, |l| l.t_s) - lap.first().map_or(0.0, |f| f.t_s);
    let most_m = pace_m_s * lasted_s / 16.0;
    // The white part of the error is averaged over the fixes of a node; the slow part is not, as neighbouring fixes share it.
    let white2 = |spacing_m: f64| {
        2.0 * WHITE_SHARE * sigma_m * sigma_m * (pace_m_s * step_s / spacing_m).min(1.0)
    };
    let rough_m = |spacing_m: f64| {
        let gap_s = spacing_m / pace_m_s;
        (2.0 * sigma_m
            * sigma_m
            * (1.0 - WHITE_SHARE)
            * (1.0 - (-gap_s / CORRELATION_RANGE_S.0).exp())
            + white2(spacing_m))
        .sqrt()
    };
    let mut spacing_m = (pace_m_s * step_s).max(LEAST_SPACING_M);
    while rough_m(spacing_m) > ROUGHEST * spacing_m && spacing_m < most_m {
        spacing_m *= 1.2;
    }
    spacing_m
}

/// One node from a group of spots: the mean of their places and times. There must be one spot at least.
fn node(spots: &[Spot], paused: bool) -> Node {
    let n = spots.len().max(1) as f64;
    let origin = spots[0].at;
    let shift = spots
        .iter()
        .fold(Coord { x: 0.0, y: 0.0 }, |s, p| s + (p.at - origin))
        / n;
    Node {
        at: origin + shift,
        t_s: spots.iter().map(|s| s.t_s).sum::<f64>() / n,
        sigma_m: (spots.iter().map(|s| s.sigma().powi(2)).sum::<f64>() / n).sqrt(),
        fixes: n,
        paused,
    }
}

/// Turns a lap into nodes: each standstill becomes one node, and the rest is averaged over `spacing_m` metres of way.
fn gather(lap: &[Spot], pace_m_s: f64, spacing_m: f64) -> Vec<Node> {
    let mut nodes = Vec::new();
    let mut from = 0;
    let stretch = |from: usize, to: usize, nodes: &mut Vec<Node>| {
        // Between standstills the fixes are put into groups of nearly the same number.
        let moving = &lap[from..to];
        if moving.is_empty() {
            return;
        }
        let way_m = pace_m_s * (moving[moving.len() - 1].t_s - moving[0].t_s);
        let chord_m = way_m / (moving.len() - 1).max(1) as f64;
        let size = if chord_m > 0.0 {
            ((spacing_m / chord_m).round() as usize).clamp(1, moving.len())
        } else {
            moving.len()
        };
        nodes.extend(moving.chunks(size).map(|group| node(group, false)));
    };
    for pause in pauses::find(lap, pace_m_s) {
        stretch(from, pause.first, &mut nodes);
        nodes.push(node(&lap[pause.first..=pause.last], true));
        from = pause.last + 1;
    }
    stretch(from, lap.len(), &mut nodes);
    nodes
}

/// Joins the end to the start where they are the same place.
fn close(nodes: &mut Vec<Node>, within_m: f64) {
    while nodes.len() > 3 {
        let (first, last) = (nodes[0], nodes[nodes.len() - 1]);
        if distance_m(first.at, last.at) > within_m {
            return;
        }
        nodes.pop();
        // A standstill fixes the place better than a fix in passing.
        if last.paused && !first.paused {
            nodes[0] = Node {
                t_s: first.t_s,
                ..last
            };
        }
    }
}

impl Edge {
    /// An edge of this length, or of the least that is possible for the area it holds.
    fn new(vertices: Vec<Vertex>, perimeter_m: f64) -> Edge {
        // Of all shapes that hold the same area the circle has the shortest edge.
        let holds_m2 = signed_area_of_m2(vertices.iter().map(|v| v.at));
        let least_m = (4.0 * std::f64::consts::PI * holds_m2.max(0.0)).sqrt();
        Edge {
            vertices,
            perimeter_m: perimeter_m.max(least_m),
            ..Edge::default()
        }
    }

    pub(crate) fn ring(&self) -> Vec<Coord<f64>> {
        self.vertices.iter().map(|v| v.at).collect()
    }

    /// How the drawn length answers to a move of each vertex (metres of length for each metre moved, east and north): the difference of
    /// the unit vectors of its two spans.
    pub(crate) fn length_gradient(&self) -> Vec<[f64; 2]> {
        let n = self.vertices.len();
        let unit = |a: Coord<f64>, b: Coord<f64>| {
            let length_m = distance_m(a, b);
            if length_m > 0.0 {
                (b - a) / length_m
            } else {
                Coord { x: 0.0, y: 0.0 }
            }
        };
        (0..n)
            .map(|i| {
                let here = self.vertices[i].at;
                let pull = unit(self.vertices[(i + n - 1) % n].at, here)
                    - unit(here, self.vertices[(i + 1) % n].at);
                [pull.x, pull.y]
            })
            .collect()
    }

    /// Moves every vertex outwards or inwards by the same small distance, square to the edge, so that the ring holds `area_m2`.
    ///
    /// The picture then shows the area that was measured. The distance is the missing area over the length of the edge, which is exact
    /// for a straight edge; a few rounds make up for corners. Does nothing to a ring that holds nothing.
    pub(crate) fn fill(&mut self, area_m2: f64) {
        for _ in 0..6 {
            let ring = self.ring();
            let holds_m2 = signed_area_m2(&ring);
            let length_m = crate::ring::perimeter_m(&ring);
            let out_m = (area_m2 - holds_m2) / length_m;
            if !(out_m.is_finite() && holds_m2 > 0.0) || out_m.abs() < 1e-12 {
                return;
            }
            let n = ring.len();
            for i in 0..n {
                let (before, after) =
                    (ring[i] - ring[(i + n - 1) % n], ring[(i + 1) % n] - ring[i]);
                let (lb, la) = (size_m(before), size_m(after));
                if lb <= 0.0 || la <= 0.0 {
                    continue;
                }
                // Outwards of a counter-clockwise ring is to the right of its direction. Dividing by 1 + cos of the turn moves a corner
                // further than a straight, so that it stays sharp.
                let (ub, ua) = (before / lb, after / la);
                let normal = Coord {
                    x: ub.y + ua.y,
                    y: -(ub.x + ua.x),
                } / (1.0 + dot(ub, ua)).max(0.2);
                self.vertices[i].at = ring[i] + normal * out_m;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lap(corners: &[(f64, f64)], step_m: f64, pause: usize, offset: f64) -> Vec<Spot> {
        let mut places = Vec::new();
        let mut way = offset;
        let n = corners.len();
        for i in 0..n {
            let (a, b) = (corners[i], corners[(i + 1) % n]);
            let length = (b.0 - a.0).hypot(b.1 - a.1);
            for _ in 0..pause {
                places.push(a);
            }
            while way < length {
                places.push((
                    a.0 + (b.0 - a.0) * way / length,
                    a.1 + (b.1 - a.1) * way / length,
                ));
                way += step_m;
            }
            way -= length;
        }
        places.push(places[0]);
        places
            .iter()
            .enumerate()
            .map(|(fix, &(x, y))| Spot {
                at: Coord { x, y },
                t_s: fix as f64,
                sigma_m: [0.02; 2],
                fix,
            })
            .collect()
    }

    const L: [(f64, f64); 6] = [
        (0.0, 0.0),
        (18.0, 0.0),
        (18.0, 8.0),
        (10.0, 8.0),
        (10.0, 14.0),
        (0.0, 14.0),
    ];

    #[test]
    fn corners_paused_at_and_walked_through() {
        for (pause, offset) in [(5, 0.3), (0, 0.3), (0, 0.5), (0, 0.0)] {
            let edge = fit(
                &[(&lap(&L, 1.0, pause, offset), false)],
                1.0,
                1.0,
                1.0,
                false,
            );
            let corners = edge.vertices.iter().filter(|v| v.corner).count();
            assert_eq!(
                corners, 6,
                "pause {pause} offset {offset}: {:?}",
                edge.vertices
            );
            assert!(
                (edge.perimeter_m - 64.0).abs() < 0.64,
                "{}",
                edge.perimeter_m
            );
        }
    }

    #[test]
    fn a_circle_has_no_corner_and_its_length() {
        let circle: Vec<Spot> = (0..=35)
            .map(|i| {
                let a = i as f64 / 35.0 * std::f64::consts::TAU;
                Spot {
                    at: Coord {
                        x: 5.64 * a.cos(),
                        y: 5.64 * a.sin(),
                    },
                    t_s: i as f64,
                    sigma_m: [0.02; 2],
                    fix: i,
                }
            })
            .collect();
        let edge = fit(&[(&circle, false)], 1.0, 1.0, 1.0, false);
        assert_eq!(edge.vertices.iter().filter(|v| v.corner).count(), 0);
        assert!(
            (edge.perimeter_m / (5.64 * std::f64::consts::TAU) - 1.0).abs() < 0.005,
            "{}",
            edge.perimeter_m
        );
    }

    #[test]
    fn two_laps_average() {
        let mut second = lap(&L, 1.0, 4, 0.6);
        for spot in &mut second {
            spot.at.x += 0.1;
        }
        let edge = fit(
            &[(&lap(&L, 1.0, 4, 0.2), false), (&second, false)],
            1.0,
            1.0,
            1.0,
            false,
        );
        let low = edge
            .vertices
            .iter()
            .map(|v| v.at.x)
            .fold(f64::INFINITY, f64::min);
        assert!((low - 0.05).abs() < 0.02, "{low}");
    }

    #[test]
    fn filling_reaches_the_area() {
        let mut edge = fit(&[(&lap(&L, 1.0, 4, 0.2), false)], 1.0, 1.0, 1.0, false);
        edge.fill(210.0);
        assert!((signed_area_m2(&edge.ring()) - 210.0).abs() < 1e-6);
    }
}
