//! The fitted edge: one ring drawn through all laps, with its corners, for drawing, cutting and its length.
//!
//! The area is *not* taken from here: making a neat picture must not bias the area.

mod draw;

use super::{distance_m, dot, perimeter_of_m, signed_area_m2, signed_area_of_m2, size_m};
use crate::walk::{Spot, pauses};
use geo::Coord;
use std::ops::Range;

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
    /// Length of the true edge: that of the drawn one less what noise adds to it, metres.
    pub perimeter_m: f64,
}

/// Noise over a step, as a share of the step, above which the walk is averaged over longer steps first.
const ROUGHEST: f64 = 0.2;
/// Share of the variance that is independent from fix to fix.
const WHITE_SHARE: f64 = 0.1;
/// Ends of a lap this near to each other are one place, in node spacings.
const CLOSE: f64 = 0.6;

/// Laps whose length is taken, at most.
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

/// Fits one edge through the laps of a walk (each from start to end, all turning the same way).
///
/// `straight` takes the spots as corners joined by straight lines (a point list).
pub fn fit<L: AsRef<[Spot]>>(laps: &[L], pace_m_s: f64, step_s: f64, straight: bool) -> Edge {
    let Some(first) = laps.first().map(AsRef::as_ref) else {
        return Edge::default();
    };
    if straight {
        let mut nodes: Vec<Node> = first
            .iter()
            .map(|s| node(std::slice::from_ref(s), false))
            .collect();
        close(&mut nodes, 1e-9);
        let vertices = draw::ring(&nodes, true);
        let perimeter_m = drawn_m(&vertices);
        return Edge::new(vertices, perimeter_m);
    }
    let spacing_m = spacing_m(first, pace_m_s, step_s);
    let length_m =
        |lap: &[Node], shape: &[Vertex]| length_m(lap, shape, pace_m_s, step_s, spacing_m);
    let mut nodes = gather(first, pace_m_s, spacing_m);
    close(&mut nodes, CLOSE * spacing_m);
    let own = draw::ring(&nodes, false);
    // The mean of laps that lie apart cuts their corners: the length is that of each by itself.
    let mut lengths_m = vec![length_m(&nodes, &own)];
    let stride = laps.len().div_ceil(MOST_LENGTHS);
    let mut mean = Mean::new(&nodes);
    for (lap, spots) in laps.iter().enumerate().skip(1) {
        let mut other = gather(spots.as_ref(), pace_m_s, spacing_m);
        mean.add(&other);
        if lap % stride == 0 {
            close(&mut other, CLOSE * spacing_m);
            lengths_m.push(length_m(&other, &draw::ring(&other, false)));
        }
    }
    let vertices = if laps.len() == 1 {
        own
    } else {
        draw::ring(&mean.nodes(), false)
    };
    Edge::new(
        vertices,
        lengths_m.iter().sum::<f64>() / lengths_m.len() as f64,
    )
}

/// Length of one lap's edge, metres: that of its drawing, less what noise adds to that, and with what drawing at this
/// spacing loses at corners. A walk without error along the drawing, drawn again, shows the loss; drawing again also takes
/// out most of what noise added.
fn length_m(lap: &[Node], shape: &[Vertex], pace_m_s: f64, step_s: f64, spacing_m: f64) -> f64 {
    // Part of the second loss given back: chosen on simulated walks, whose lengths it brings within a percent.
    const GIVEN_BACK: f64 = 0.7;
    // Long enough to be seen as a standstill.
    const PAUSE_S: f64 = 12.0;
    let paused = lap.iter().filter(|node| node.paused).count();
    let corners = shape.iter().filter(|vertex| vertex.corner).count();
    let pause_s = if 2 * paused > corners { PAUSE_S } else { 0.0 };
    let fixes: f64 = lap.iter().map(|node| node.fixes).sum();
    let again = walked_again(shape, pace_m_s, step_s, pause_s, fixes);
    let mut again = gather(&again, pace_m_s, spacing_m);
    close(&mut again, CLOSE * spacing_m);
    let length_m = drawn_m(shape);
    let lost_m = length_m - drawn_m(&draw::ring(&again, false));
    let noise_m = inflation_m(lap, step_s);
    length_m - noise_m + GIVEN_BACK * (lost_m - noise_m)
}

/// Length of a drawing, metres.
fn drawn_m(vertices: &[Vertex]) -> f64 {
    perimeter_of_m(vertices.iter().map(|v| v.at))
}

/// Distance between nodes at which noise no longer roughens the edge, metres.
fn spacing_m(lap: &[Spot], pace_m_s: f64, step_s: f64) -> f64 {
    let sigma_m =
        (lap.iter().map(|s| s.sigma().powi(2)).sum::<f64>() / lap.len().max(1) as f64).sqrt();
    // By pace and time: the way through noisy fixes is far longer than what was walked.
    let lasted_s = lap.last().map_or(0.0, |l| l.t_s) - lap.first().map_or(0.0, |f| f.t_s);
    let most_m = pace_m_s * lasted_s / 16.0;
    // The white part of a node's noise is averaged over its fixes.
    let white2 = |spacing_m: f64| {
        2.0 * WHITE_SHARE * sigma_m * sigma_m * (pace_m_s * step_s / spacing_m).min(1.0)
    };
    let rough_m = |spacing_m: f64| {
        let gap_s = spacing_m / pace_m_s;
        (2.0 * sigma_m * sigma_m * (1.0 - WHITE_SHARE) * (1.0 - (-gap_s / 15.0).exp())
            + white2(spacing_m))
        .sqrt()
    };
    let mut spacing_m = (pace_m_s * step_s).max(0.5);
    while rough_m(spacing_m) > ROUGHEST * spacing_m && spacing_m < most_m {
        spacing_m *= 1.2;
    }
    spacing_m
}

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

/// Turns a lap into nodes: a standstill is one node, the rest is averaged over `spacing_m` of way.
fn gather(lap: &[Spot], pace_m_s: f64, spacing_m: f64) -> Vec<Node> {
    let mut nodes = Vec::new();
    let mut from = 0;
    let stretch = |from: usize, to: usize, nodes: &mut Vec<Node>| {
        // Between standstills: whole groups of nearly the same number of fixes.
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

/// A walk without error along a drawn ring, once round, standing still at its corners for so long. Of a lap of so many fixes:
/// the way out to one on the other side of the Earth is not walked step by step.
fn walked_again(
    ring: &[Vertex],
    pace_m_s: f64,
    step_s: f64,
    pause_s: f64,
    fixes: f64,
) -> Vec<Spot> {
    const MOST_TIMES: f64 = 4.0;
    const ANYWAY: f64 = 1000.0;
    // Quicker than any logger, standing would take too many.
    const QUICKEST_S: f64 = 0.05;
    let step_s = step_s.max(QUICKEST_S);
    let longest_m = drawn_m(ring) / (MOST_TIMES * fixes + ANYWAY);
    let step_m = (pace_m_s * step_s).max(0.01).max(longest_m);
    let paused = ring.iter().filter(|vertex| vertex.corner).count();
    let stood = paused * (pause_s / step_s) as usize;
    let mut spots: Vec<Spot> = Vec::with_capacity(stood + (drawn_m(ring) / step_m) as usize + 1);
    let mut t_s = 0.0;
    let mut put = |at: Coord<f64>, sigma_m: f64| {
        spots.push(Spot {
            at,
            t_s,
            sigma_m: [sigma_m; 2],
            fix: 0,
        });
        t_s += step_s;
    };
    let mut next_m = 0.0;
    for (here, there) in ring.iter().zip(ring.iter().skip(1).chain(ring.first())) {
        if here.corner {
            for _ in 0..(pause_s / step_s) as usize {
                put(here.at, here.sigma_m);
            }
        }
        let length_m = distance_m(here.at, there.at);
        while next_m < length_m {
            put(
                here.at + (there.at - here.at) * (next_m / length_m),
                here.sigma_m,
            );
            next_m += step_m;
        }
        next_m -= length_m;
    }
    crate::steps::count(spots.len());
    spots
}

/// One lap's nodes, with the other laps averaged into them place by place.
struct Mean<'a> {
    nodes: &'a [Node],
    spans_m: Vec<f64>,
    whole_m: f64,
    /// Of the places that each node has in the laps so far, and how many they are.
    sums: Vec<(Coord<f64>, f64)>,
}

/// From each node to the next.
fn spans_m(ring: &[Node]) -> impl Iterator<Item = f64> {
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(next).map(|(a, b)| distance_m(a.at, b.at))
}

impl Mean<'_> {
    fn new(nodes: &[Node]) -> Mean<'_> {
        let spans_m: Vec<f64> = spans_m(nodes).collect();
        Mean {
            nodes,
            whole_m: spans_m.iter().sum(),
            spans_m,
            sums: nodes.iter().map(|n| (n.at, 1.0)).collect(),
        }
    }

    fn add(&mut self, lap: &[Node]) {
        if self.nodes.len() < 3 {
            return;
        }
        // How far each of its nodes is from its start, and from the last of them on to there.
        let mut total_m = 0.0;
        let mut ways_m = vec![0.0];
        ways_m.extend(spans_m(lap).map(|span_m| {
            total_m += span_m;
            total_m
        }));
        let (mut way_m, mut from, mut to, mut hint) = (0.0, 0, 0, 0);
        let own = self.nodes.iter().zip(&self.spans_m);
        for ((here, span_m), sum) in own.zip(&mut self.sums) {
            // Where the other lap should be by now, searched a tenth of a lap either way.
            let expect_m = way_m / self.whole_m * total_m;
            while from + 1 < lap.len() && ways_m[from + 1] < expect_m - 0.1 * total_m {
                from += 1;
            }
            while to < lap.len() && ways_m[to] <= expect_m + 0.1 * total_m {
                to += 1;
            }
            way_m += span_m;
            let range = from..to.max(from);
            let Some((nearest_m, foot, span)) = nearest(lap, &ways_m, range.clone(), hint, here.at)
            else {
                continue;
            };
            hint = span + 1;
            let pause = lap[range]
                .iter()
                .filter(|other| here.paused && other.paused)
                .map(|other| (distance_m(other.at, here.at), other.at))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let partner = match pause {
                Some((to_pause_m, at)) if to_pause_m < 2.0 * nearest_m + 0.5 => at,
                _ => foot,
            };
            sum.0 = sum.0 + partner;
            sum.1 += 1.0;
        }
    }

    fn nodes(&self) -> Vec<Node> {
        let of_each = self.nodes.iter().zip(&self.sums);
        of_each
            .map(|(node, &(sum, count))| Node {
                at: sum / count,
                fixes: node.fixes * count,
                ..*node
            })
            .collect()
    }
}

/// The place of a lap that is nearest to `here`, among the spans that set out from these of its nodes: how far it is, the
/// place, and its span. Looks at `hint` first: no span is nearer than a node before it by more than the way to its end, so
/// that most need no looking at.
fn nearest(
    lap: &[Node],
    ways_m: &[f64],
    range: Range<usize>,
    hint: usize,
    here: Coord<f64>,
) -> Option<(f64, Coord<f64>, usize)> {
    let on_span = |k: usize| {
        let next = lap.get(k + 1).unwrap_or(&lap[0]);
        let foot = foot(here, lap[k].at, next.at);
        (distance_m(foot, here), foot, k)
    };
    let mut best = range.contains(&hint).then(|| on_span(hint));
    let mut k = range.start;
    while k < range.end {
        let away_m = distance_m(lap[k].at, here);
        let least_m = best.map_or(f64::INFINITY, |b| b.0);
        if away_m - (ways_m[k + 1] - ways_m[k]) <= least_m {
            let found = on_span(k);
            if found.0 < least_m {
                best = Some(found);
            }
        }
        let free_m = ways_m[k] + away_m - best.map_or(f64::INFINITY, |b| b.0);
        k += 1;
        while k < range.end && ways_m[k + 1] < free_m {
            k += 1;
        }
    }
    best
}

/// Foot of the perpendicular from `p` on the span `a`–`b`, or its nearer end.
pub fn foot(p: Coord<f64>, a: Coord<f64>, b: Coord<f64>) -> Coord<f64> {
    let along = b - a;
    let length2 = dot(along, along);
    if length2 <= 0.0 {
        return a;
    }
    a + along * (dot(p - a, along) / length2).clamp(0.0, 1.0)
}

/// What noise adds to the length of one drawn lap, metres: for each span `l`, the variance of the error's change
/// across it, divided by `2 l`.
fn inflation_m(nodes: &[Node], step_s: f64) -> f64 {
    // Between the quickest and the slowest correlation the band room allows for.
    const TYPICAL_S: f64 = 60.0;
    let next = nodes.iter().skip(1).chain(nodes.first());
    nodes
        .iter()
        .zip(next)
        .map(|(a, b)| {
            let length_m = distance_m(a.at, b.at);
            let gap_s = (b.t_s - a.t_s).abs().max(step_s);
            let sigma2 = 0.5 * (a.sigma_m.powi(2) + b.sigma_m.powi(2));
            let drift = 2.0 * sigma2 * (1.0 - WHITE_SHARE) * (1.0 - (-gap_s / TYPICAL_S).exp());
            let white = sigma2 * WHITE_SHARE * (1.0 / a.fixes + 1.0 / b.fixes);
            if length_m > 0.0 {
                (drift + white) / (2.0 * length_m).max(1e-9)
            } else {
                0.0
            }
        })
        .sum::<f64>()
}

impl Edge {
    fn new(vertices: Vec<Vertex>, perimeter_m: f64) -> Edge {
        // No edge is shorter than the circle that holds as much.
        let holds_m2 = signed_area_of_m2(vertices.iter().map(|v| v.at));
        let least_m = (4.0 * std::f64::consts::PI * holds_m2.max(0.0)).sqrt();
        Edge {
            vertices,
            perimeter_m: perimeter_m.max(least_m),
        }
    }

    pub fn ring(&self) -> Vec<Coord<f64>> {
        self.vertices.iter().map(|v| v.at).collect()
    }

    /// How the drawn length answers to a move of each vertex: the difference of the unit vectors of its two spans.
    pub fn length_gradient(&self) -> Vec<[f64; 2]> {
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

    /// Moves every vertex square to the edge by the same small distance, so that the ring holds `area_m2`.
    ///
    /// The picture then shows the area that was measured. Does nothing to a ring that holds nothing.
    pub fn fill(&mut self, area_m2: f64) {
        for _ in 0..6 {
            let ring = self.ring();
            let holds_m2 = signed_area_m2(&ring);
            let length_m = super::perimeter_m(&ring);
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
                // Outward of a counter-clockwise ring is to the right of its way; 1 + cos keeps corners mitred.
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
            let edge = fit(&[lap(&L, 1.0, pause, offset)], 1.0, 1.0, false);
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
        let edge = fit(&[circle], 1.0, 1.0, false);
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
        let edge = fit(&[lap(&L, 1.0, 4, 0.2), second], 1.0, 1.0, false);
        let low = edge
            .vertices
            .iter()
            .map(|v| v.at.x)
            .fold(f64::INFINITY, f64::min);
        assert!((low - 0.05).abs() < 0.02, "{low}");
    }

    #[test]
    fn filling_reaches_the_area() {
        let mut edge = fit(&[lap(&L, 1.0, 4, 0.2)], 1.0, 1.0, false);
        edge.fill(210.0);
        assert!((signed_area_m2(&edge.ring()) - 210.0).abs() < 1e-6);
    }
}
