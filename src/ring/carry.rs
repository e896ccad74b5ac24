//! The true edge where the antenna was carried beside it: the parallel curve.
//!
//! A walker who cannot hold the antenna over the edge (along a wall, say) carries it at a constant distance. Each side of the walked ring
//! is moved sideways by that distance, and neighbouring sides are extended or cut until they meet again.

use super::{cross, dot};
use geo::Coord;

/// The curve beside a counter-clockwise ring, each place with the index of the vertex it comes from. `outward_m[i]` says how far the span
/// from vertex `i` to the next moves to its right, which is outwards (negative: inwards). Corners stay sharp on both sides, as the sides
/// are moved and meet again where they cross.
///
/// Where two neighbouring spans move by different distances and run nearly straight on, the ring steps across. A ring that is moved
/// inwards by more than it holds turns over; the caller sees that by its area. Loops that a reflex corner leaves behind are wound
/// backwards and do not survive the making of a valid polygon. A ring of fewer than three vertices comes back unmoved.
pub(crate) fn parallel(ring: &[Coord<f64>], outward_m: &[f64]) -> Vec<(usize, Coord<f64>)> {
    // At a very sharp corner the moved sides meet far away. Further than this many times the distance moved, the corner is cut off square
    // instead.
    const LONGEST_MITRE: f64 = 6.0;
    let n = ring.len();
    if n < 3 || outward_m.len() != n {
        return ring.iter().copied().enumerate().collect();
    }
    // Direction of the span from a vertex to the next, with length 1; none where both are one place.
    let unit = |i: usize| -> Option<Coord<f64>> {
        let span = ring[(i + 1) % n] - ring[i % n];
        let length = span.x.hypot(span.y);
        (length > 0.0).then(|| span / length)
    };
    let outward = |u: Coord<f64>| Coord { x: u.y, y: -u.x };
    let mut moved = Vec::with_capacity(n + 4);
    for i in 0..n {
        // The spans before and after this vertex that have a length.
        let Some(before) = (1..n).map(|k| (i + n - k) % n).find(|&k| unit(k).is_some()) else {
            continue;
        };
        let Some(after_unit) = unit(i) else { continue };
        let Some(before_unit) = unit(before) else {
            continue;
        };
        let (d0, d1) = (outward_m[before], outward_m[i]);
        let (n0, n1) = (outward(before_unit), outward(after_unit));
        let sin = cross(before_unit, after_unit);
        let cos = dot(before_unit, after_unit);
        if d0 == d1 && sin.abs() < 1e-9 && cos > 0.0 {
            moved.push((i, ring[i] + n1 * d1));
            continue;
        }
        // With n0 and n1 square to the two sides, the moved sides are the lines p·n0 = d0 and p·n1 = d1. They meet at a n0 + b n1.
        let square = 1.0 - cos * cos;
        let a = (d0 - d1 * cos) / square;
        let b = (d1 - d0 * cos) / square;
        let meet = n0 * a + n1 * b;
        let size = meet.x.hypot(meet.y);
        if square > 1e-9 && size <= LONGEST_MITRE * d0.abs().max(d1.abs()) {
            moved.push((i, ring[i] + meet));
        } else {
            moved.push((i, ring[i] + n0 * d0));
            moved.push((i, ring[i] + n1 * d1));
        }
    }
    moved
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ring::signed_area_m2;

    fn ring(points: &[(f64, f64)]) -> Vec<Coord<f64>> {
        points.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    /// Change of area by a parallel curve with sharp corners, derived and checked against a geometry library for this
    /// project: square 10 m, 0.5 m: +21, −19; 0.3 m: +12.36, −11.64; triangle 30-40-50, 0.5 m: +61.5, −58.5;
    /// L of 64 m: +33, −31.
    #[test]
    fn mitred_parallels() {
        let square = ring(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
        let triangle = ring(&[(0.0, 0.0), (40.0, 0.0), (0.0, 30.0)]);
        let l = ring(&[
            (0.0, 0.0),
            (18.0, 0.0),
            (18.0, 8.0),
            (10.0, 8.0),
            (10.0, 14.0),
            (0.0, 14.0),
        ]);
        for (shape, d, added) in [
            (&square, 0.5, 21.0),
            (&square, -0.5, -19.0),
            (&square, 0.3, 12.36),
            (&square, -0.3, -11.64),
            (&triangle, 0.5, 61.5),
            (&triangle, -0.5, -58.5),
            (&l, 0.5, 33.0),
            (&l, -0.5, -31.0),
        ] {
            let change = moved_area_m2(shape, &vec![d; shape.len()]) - signed_area_m2(shape);
            assert!((change - added).abs() < 1e-9, "{d}: {change} not {added}");
        }
    }

    fn moved_area_m2(shape: &[Coord<f64>], outward_m: &[f64]) -> f64 {
        signed_area_m2(
            &parallel(shape, outward_m)
                .into_iter()
                .map(|(_, at)| at)
                .collect::<Vec<_>>(),
        )
    }

    #[test]
    fn one_side_alone() {
        let square = ring(&[
            (0.0, 0.0),
            (5.0, 0.0),
            (10.0, 0.0),
            (10.0, 10.0),
            (0.0, 10.0),
        ]);
        assert!((moved_area_m2(&square, &[0.4, 0.0, 0.0, 0.0, 0.0]) - 102.0).abs() < 1e-9);
    }
}
