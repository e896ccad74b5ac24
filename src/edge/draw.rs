//! Draws a ring through the nodes of a walk: finds its corners and draws its curves.
//!
//! The bend at a node is the change of direction there. A large bend between straight stretches is a corner; where two neighbouring nodes
//! share one bend, the corner was passed between them and is put where the two sides would meet; small bends one after another are a
//! curve, which is drawn by a smooth cubic path. Angles are in radians.

use super::{Node, Vertex};
use crate::ring::{cross, distance_m, dot, signed_area_of_m2, size_m};
use geo::Coord;
use std::cmp::Ordering;

/// A bend of more than this (32 degrees), between stretches that bend by less than [`STRAIGHT`] (13 degrees), is a corner.
const CORNER: Limit = Limit {
    rad: 0.55,
    tan: 0.6131052132881357,
};
const STRAIGHT: Limit = Limit {
    rad: 0.22,
    tan: 0.22361942151868408,
};
/// Where two nodes share one bend, each of them has more than this (6 degrees) of it.
const SHARED: Limit = Limit {
    rad: 0.1,
    tan: 0.10033467208545055,
};
/// A bend of less than this (2 degrees) is taken for straight, and its spans are drawn so.
const CURVED: Limit = Limit {
    rad: 0.03,
    tan: 0.030009003241180714,
};
/// A standstill where the walk bends by more than this (17 degrees) is a corner.
const PAUSED_CORNER_RAD: f64 = 0.30;

/// A limit for bends: an angle of less than 90 degrees, with its tangent, so that most comparisons need no arc tangent.
struct Limit {
    rad: f64,
    tan: f64,
}

/// A change of direction: its sine and its cosine, each multiplied by the lengths of both vectors, which leaves the angle the same.
#[derive(Debug, Clone, Copy)]
struct Bend {
    sin: f64,
    cos: f64,
}

impl Bend {
    /// The bend from direction `a` to direction `b`.
    fn new(a: Coord<f64>, b: Coord<f64>) -> Bend {
        Bend {
            sin: cross(a, b),
            cos: dot(a, b),
        }
    }

    /// The angle, radians, positive to the left.
    fn rad(self) -> f64 {
        self.sin.atan2(self.cos)
    }

    /// Whether the size of the bend is under a limit or over it, as [`Bend::rad`] would say; `None` where it is not a number. An arc
    /// tangent for every place would cost more than all the rest of drawing, and a comparison of tangents decides nearly always.
    fn against(self, limit: &Limit) -> Option<Ordering> {
        // Where the two sides are nearer to each other than this, rounding may decide, and the angle itself is asked.
        const SURE: f64 = 1e-9;
        if self.cos < 0.0 {
            return Some(Ordering::Greater);
        }
        let at_limit = limit.tan * self.cos;
        let over = self.sin.abs() - at_limit;
        if over.abs() > SURE * at_limit {
            over.partial_cmp(&0.0)
        } else {
            self.rad().abs().partial_cmp(&limit.rad)
        }
    }

    fn is_under(self, limit: &Limit) -> bool {
        self.against(limit) == Some(Ordering::Less)
    }

    fn is_over(self, limit: &Limit) -> bool {
        self.against(limit) == Some(Ordering::Greater)
    }
}

/// The ring drawn through the nodes, counter-clockwise, with its corners and curves. With `straight`, or of fewer than eight nodes, every
/// node is a corner.
pub(super) fn ring(nodes: &[Node], straight: bool) -> Vec<Vertex> {
    let mut vertices = if straight || nodes.len() < 8 {
        nodes.iter().map(|node| vertex(node, true)).collect()
    } else {
        corners(nodes)
    };
    if signed_area_of_m2(vertices.iter().map(|v| v.at)) < 0.0 {
        vertices.reverse();
    }
    if straight {
        vertices
    } else {
        round_curves(&vertices)
    }
}

fn vertex(node: &Node, corner: bool) -> Vertex {
    Vertex {
        at: node.at,
        corner,
        t_s: node.t_s,
        sigma_m: node.sigma_m,
    }
}

/// The vector from each place of a ring to the next, from the last to the first as well.
fn spans<T>(ring: &[T], at: impl Fn(&T) -> Coord<f64>) -> Vec<Coord<f64>> {
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(next).map(|(a, b)| at(b) - at(a)).collect()
}

/// The bend at each place, given the span that sets out from it.
fn bends(spans: &[Coord<f64>]) -> impl Iterator<Item = Bend> + '_ {
    let before = spans.last().into_iter().chain(spans);
    before.zip(spans).map(|(&a, &b)| Bend::new(a, b))
}

/// Marks corners among the nodes, and adds those that were walked through between two nodes.
fn corners(nodes: &[Node]) -> Vec<Vertex> {
    let n = nodes.len();
    let spans = spans(nodes, |node| node.at);
    let bends: Vec<Bend> = bends(&spans).collect();
    let mut vertices: Vec<Vertex> = Vec::with_capacity(n + 8);
    for (i, node) in nodes.iter().enumerate() {
        let before = if i == 0 { n - 1 } else { i - 1 };
        let next = if i + 1 == n { 0 } else { i + 1 };
        let (bend, next_bend) = (bends[i], bends[next]);
        let calm_before = || bends[before].is_under(&STRAIGHT);
        if node.paused {
            // The bend is measured between the places two nodes before and two after the standstill, as those right beside it are the
            // least sure.
            let (back, on) = (nodes[(i + n - 2) % n].at, nodes[(i + 2) % n].at);
            let wide = Bend::new(node.at - back, on - node.at);
            let corner =
                wide.rad().abs() > PAUSED_CORNER_RAD && bend.rad().abs() > 0.5 * PAUSED_CORNER_RAD;
            vertices.push(vertex(node, corner));
            continue;
        }
        // Both bend the same way (or hardly), and together by a corner's angle.
        let shared = || {
            let (one, other) = (bend.rad(), next_bend.rad());
            (one + other).abs() > CORNER.rad && one * other > -0.02
        };
        if bend.is_over(&SHARED)
            && next_bend.is_over(&SHARED)
            && !nodes[next].paused
            && calm_before()
            && bends[if next + 1 == n { 0 } else { next + 1 }].is_under(&STRAIGHT)
            && shared()
        {
            // Two nodes share the bend: the corner lies between them, where the sides would meet.
            vertices.push(vertex(node, false));
            let (here, there) = (node.at, nodes[next].at);
            let (before, after) = (spans[before], spans[next]);
            let sin = cross(before, after);
            if sin.abs() > 1e-12 {
                let along = cross(spans[i], after) / sin;
                let meet = here + before * along;
                let room = 1.5 * distance_m(here, there);
                if distance_m(meet, here) < room && distance_m(meet, there) < room {
                    vertices.push(Vertex {
                        at: meet,
                        corner: true,
                        t_s: 0.5 * (node.t_s + nodes[next].t_s),
                        sigma_m: node.sigma_m,
                    });
                }
            }
        } else {
            let sharp = bend.is_over(&CORNER) && calm_before() && next_bend.is_under(&STRAIGHT);
            vertices.push(vertex(node, sharp));
        }
    }
    vertices
}

/// Draws curved spans as curves: puts three places of the smooth path into every span that bends at both ends.
fn round_curves(vertices: &[Vertex]) -> Vec<Vertex> {
    const PIECES: usize = 4;
    let n = vertices.len();
    if n < 4 {
        return vertices.to_vec();
    }
    let spans = spans(vertices, |vertex| vertex.at);
    let smooth: Vec<bool> = bends(&spans)
        .zip(vertices)
        .map(|(bend, vertex)| !vertex.corner && bend.is_under(&CORNER) && bend.is_over(&CURVED))
        .collect();
    let mut drawn = Vec::with_capacity(PIECES * n);
    for (i, &here) in vertices.iter().enumerate() {
        drawn.push(here);
        let next = if i + 1 == n { 0 } else { i + 1 };
        if !(smooth[i] || smooth[next]) {
            continue;
        }
        let there = vertices[next];
        let before = vertices[if i == 0 { n - 1 } else { i - 1 }].at;
        let after = vertices[if next + 1 == n { 0 } else { next + 1 }].at;
        // The directions in which the curve leaves and arrives: at a smooth vertex that of the line from the vertex before to the one
        // after it, at a corner that of the span itself.
        let chord = spans[i];
        let length_m = distance_m(here.at, there.at);
        let direction = |from: Coord<f64>, to: Coord<f64>, is_smooth: bool| {
            let whole = to - from;
            let size = size_m(whole);
            if is_smooth && size > 0.0 {
                whole * (length_m / size)
            } else {
                chord
            }
        };
        let m0 = direction(before, there.at, smooth[i]);
        let m1 = direction(here.at, after, smooth[next]);
        for k in 1..PIECES {
            let t = k as f64 / PIECES as f64;
            let (t2, t3) = (t * t, t * t * t);
            let place = here.at * (2.0 * t3 - 3.0 * t2 + 1.0)
                + m0 * (t3 - 2.0 * t2 + t)
                + there.at * (3.0 * t2 - 2.0 * t3)
                + m1 * (t3 - t2);
            drawn.push(Vertex {
                at: place,
                corner: false,
                t_s: here.t_s + t * (there.t_s - here.t_s),
                ..here
            });
        }
    }
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_limit_has_its_tangent_and_tells_as_its_angle_does() {
        for limit in [&CORNER, &STRAIGHT, &SHARED, &CURVED] {
            assert!((limit.tan - limit.rad.tan()).abs() < 1e-15, "{}", limit.rad);
            for by in [0.5, 1.0 - 1e-6, 1.0 + 1e-6, 2.0, 5.0] {
                for side in [1.0, -1.0] {
                    let rad = side * by * limit.rad;
                    let bend = Bend {
                        sin: 3.0 * rad.sin(),
                        cos: 3.0 * rad.cos(),
                    };
                    assert_eq!(bend.is_over(limit), by > 1.0, "{rad}");
                    assert_eq!(bend.is_under(limit), by < 1.0, "{rad}");
                }
            }
        }
    }
}
