//! Moves the walked edge to the true one where the antenna was carried beside it.

use super::Walked;
use crate::fault::Fault;
use crate::job::{Carry, Edge as OneSide, Side};
use crate::ring::edge::{Edge, Vertex};
use crate::ring::{carry, distance_m, perimeter_m, signed_area_m2};
use crate::survey::corners;

/// Moves single sides that were carried differently from the rest: between two lettered corners, clockwise or counter-
/// clockwise, whichever way is the shorter. The rest of the edge was already moved.
///
/// # Errors
/// Of kind `Usage`: a corner of that letter does not exist; `Withheld`: nothing is left.
pub fn carry_sides(ring: &mut Walked, sides: &[OneSide], whole: Carry) -> Result<(), Fault> {
    let signed = |carry: Carry| match carry.side.or(whole.side).unwrap_or(Side::Inside) {
        Side::Inside => carry.offset_m.unwrap_or(0.0),
        Side::Outside => -carry.offset_m.unwrap_or(0.0),
    };
    let vertices = &ring.edge.vertices;
    let n = vertices.len();
    let corners = corners::of(ring);
    let find = |wanted: &str| {
        let at = corners
            .iter()
            .find(|(_, name)| name.eq_ignore_ascii_case(wanted))
            .map(|(vertex, _)| *vertex);
        at.ok_or_else(|| {
            let names: Vec<&str> = corners.iter().map(|(_, name)| name.as_str()).collect();
            Fault::usage(
                "no-such-corner",
                format!(
                    "[[edge]] names the corner “{wanted}”, but the corners found are: {}.",
                    names.join(", ")
                ),
                "Measure once without [[edge]] and take the letters from the sheet's list of corners.",
            )
        })
    };
    let mut outward_m = vec![0.0; n];
    for side in sides {
        let (from, to) = (find(&side.from)?, find(&side.to)?);
        let moved_m = signed(side.carry) - signed(whole);
        let span = |a: usize, b: usize| (a..a + (b + n - a) % n).map(|i| i % n).collect::<Vec<_>>();
        let way_m = |spans: &[usize]| {
            spans
                .iter()
                .map(|&i| distance_m(vertices[i].at, vertices[(i + 1) % n].at))
                .sum::<f64>()
        };
        let (one, other) = (span(from, to), span(to, from));
        for i in if way_m(&one) <= way_m(&other) {
            one
        } else {
            other
        } {
            outward_m[i] = moved_m;
        }
    }
    let area_m2 = move_edge(&mut ring.edge, &outward_m);
    if area_m2 <= 0.0 {
        return Err(Fault::withheld(
            "carry-collapses",
            "With the sides moved as [[edge]] says, nothing is left inside the edge.",
            "Check the carry_m and carry_side of [[edge]].",
        ));
    }
    let added_m2 = area_m2 - ring.area_m2;
    ring.carried_m2 += added_m2;
    ring.area_m2 = area_m2;
    Ok(())
}

/// Moves the spans of an edge outwards, each by its own distance; returns the area it then holds, m².
fn move_edge(edge: &mut Edge, outward_m: &[f64]) -> f64 {
    let ring = edge.ring();
    let moved = carry::parallel(&ring, outward_m);
    let vertices: Vec<_> = moved
        .into_iter()
        .map(|(from, at)| Vertex {
            at,
            ..edge.vertices[from]
        })
        .collect();
    let moved: Vec<_> = vertices.iter().map(|v| v.at).collect();
    edge.perimeter_m += perimeter_m(&moved) - perimeter_m(&ring);
    edge.vertices = vertices;
    signed_area_m2(&moved)
}

/// Moves the drawn edge by the carry offset; returns what that adds to the area, m².
pub(super) fn carry_edge(edge: &mut Edge, carry: Carry, what: &str) -> Result<f64, Fault> {
    let Some(offset_m) = carry.offset_m.filter(|&m| m != 0.0) else {
        return Ok(0.0);
    };
    // Carried inside, the true edge lies outside of the walk.
    let outward_m = match carry.side.unwrap_or(Side::Inside) {
        Side::Inside => offset_m,
        Side::Outside => -offset_m,
    };
    let before_m2 = signed_area_m2(&edge.ring());
    let spans = edge.vertices.len();
    let after_m2 = move_edge(edge, &vec![outward_m; spans]);
    if after_m2 <= 0.0 || after_m2 < 0.02 * before_m2 {
        return Err(Fault::withheld(
            "carry-collapses",
            format!(
                "With the antenna carried {offset_m} m outside the edge, nothing is left inside {what}."
            ),
            "Check carry_m and carry_side.",
        ));
    }
    Ok(after_m2 - before_m2)
}
