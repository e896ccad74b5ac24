//! Moves the walked edge to the true one where the antenna was carried beside it.

use crate::edge::{Edge, Vertex};
use crate::job::{Carry, Side};
use crate::notice::Course;
use crate::refusal::Refusal;
use crate::ring::{carry, perimeter_m, signed_area_m2};

/// Moves the spans of an edge outwards, each by its own distance in metres, with its length; returns the area that it then holds, m²,
/// which is negative where it turned over.
pub(crate) fn move_edge(edge: &mut Edge, outward_m: &[f64]) -> f64 {
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
///
/// # Errors
/// Hardly anything is left of it.
pub(crate) fn carry_edge(edge: &mut Edge, carry: Carry, what: &Course) -> Result<f64, Refusal> {
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
        return Err(Refusal::CarryCollapses {
            walk: what.clone(),
            offset_m,
        });
    }
    Ok(after_m2 - before_m2)
}
