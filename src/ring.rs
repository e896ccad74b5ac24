//! A closed ring on the plane: its signed area, the gradient of that area, its perimeter, and the small plane geometry that other rooms
//! share.
//!
//! The signed area is the measurement itself. It comes from the shoelace formula, a sum of cross products of neighbouring vertices, and
//! is positive counter-clockwise. Its gradient says by how many square metres the area changes for each metre that one vertex moves east
//! or north; with it the errors of positions become an error of the area (in the band room). Nothing here knows of logs or receivers.

pub mod bridge;
pub mod carry;
pub mod once;
pub mod wound;

use geo::Coord;

/// Signed area of a closed ring by the shoelace formula, square metres, counter-clockwise positive; 0 for fewer than three vertices.
///
/// A ring walked twice counts twice; a figure of eight counts one lobe against the other. The ring is closed from the last vertex to the
/// first; a repeated first vertex does no harm.
///
/// # Accuracy
/// Vertices are taken relative to the first, so large plane coordinates cost no digits.
#[must_use]
pub fn signed_area_m2(ring: &[Coord<f64>]) -> f64 {
    signed_area_of_m2(ring.iter().copied())
}

/// [`signed_area_m2`] of vertices that come one by one, so that no list of them has to be made.
pub(crate) fn signed_area_of_m2(ring: impl IntoIterator<Item = Coord<f64>>) -> f64 {
    let mut ring = ring.into_iter();
    let Some(origin) = ring.next() else {
        return 0.0;
    };
    let mut twice = 0.0;
    let mut last = Coord { x: 0.0, y: 0.0 };
    for vertex in ring {
        let here = vertex - origin;
        twice += last.x * here.y - here.x * last.y;
        last = here;
    }
    0.5 * twice
}

/// How the signed area answers to a move of each vertex: `g_i = ½ (y_{i+1} − y_{i−1}, x_{i−1} − x_{i+1})`, metres (square metres of area
/// for each metre moved).
///
/// Each vertex moves only the two triangles that it forms with its neighbours, so that its neighbours alone decide how much area it
/// moves. The sum over the ring is zero: a shift of the whole ring changes nothing. Formula: gradient of the shoelace area, as in the PTB
/// note on a polygon's area and its standard uncertainty.
#[must_use]
pub fn area_gradient_m(ring: &[Coord<f64>]) -> Vec<[f64; 2]> {
    area_gradients_m(ring).collect()
}

/// [`area_gradient_m`] vertex by vertex, without a list.
pub(crate) fn area_gradients_m(ring: &[Coord<f64>]) -> impl Iterator<Item = [f64; 2]> + '_ {
    let before = ring.last().into_iter().chain(ring);
    let after = ring.iter().skip(1).chain(ring.first());
    before
        .zip(after)
        .map(|(before, after)| [0.5 * (after.y - before.y), 0.5 * (before.x - after.x)])
}

/// Length round a closed ring, metres.
pub(crate) fn perimeter_m(ring: &[Coord<f64>]) -> f64 {
    perimeter_of_m(ring.iter().copied())
}

/// [`perimeter_m`] of vertices that come one by one. 0 where there is none.
pub(crate) fn perimeter_of_m(ring: impl IntoIterator<Item = Coord<f64>>) -> f64 {
    let mut ring = ring.into_iter();
    let Some(first) = ring.next() else {
        return 0.0;
    };
    let (mut way_m, mut last) = (0.0, first);
    for vertex in ring {
        way_m += distance_m(last, vertex);
        last = vertex;
    }
    way_m + distance_m(last, first)
}

/// Straight distance, metres.
pub(crate) fn distance_m(a: Coord<f64>, b: Coord<f64>) -> f64 {
    distance2_m2(a, b).sqrt()
}

/// Length of a plane vector, metres.
pub(crate) fn size_m(way: Coord<f64>) -> f64 {
    dot(way, way).sqrt()
}

/// Straight distance squared, square metres: enough for telling the nearer of two, and without a root.
pub(crate) fn distance2_m2(a: Coord<f64>, b: Coord<f64>) -> f64 {
    // On the plane nothing is so far that the squares overflow: `hypot` guards against that, and is several times slower.
    let (x, y) = (b.x - a.x, b.y - a.y);
    x * x + y * y
}

/// The place on the span from `a` to `b` that is nearest to `p`: the foot of the perpendicular, or the nearer end where that lies
/// outside.
pub(crate) fn foot(p: Coord<f64>, a: Coord<f64>, b: Coord<f64>) -> Coord<f64> {
    let along = b - a;
    let length2 = dot(along, along);
    if length2 <= 0.0 {
        return a;
    }
    a + along * (dot(p - a, along) / length2).clamp(0.0, 1.0)
}

/// Cross product of two plane vectors, square metres: positive where `b` points to the left of `a`, and twice the area of the triangle
/// between them.
pub(crate) fn cross(a: Coord<f64>, b: Coord<f64>) -> f64 {
    a.x * b.y - a.y * b.x
}

/// Dot product of two plane vectors, square metres: positive where they point the same way, 0 where they are square to each other.
pub(crate) fn dot(a: Coord<f64>, b: Coord<f64>) -> f64 {
    a.x * b.x + a.y * b.y
}

/// Whether two sides of a ring (closed from its last corner to its first) cross. Compares all pairs of sides, which is quick enough for
/// the corners of a lawn but not for the fixes of a walk.
pub(crate) fn crosses_itself(corners: &[Coord<f64>]) -> bool {
    let n = corners.len();
    let side = |i: usize| (corners[i], corners[(i + 1) % n]);
    (0..n).any(|i| {
        // Neighbouring sides meet at their corner, which is no crossing.
        (i + 2..n).filter(|j| (j + 1) % n != i).any(|j| {
            let ((a, b), (c, d)) = (side(i), side(j));
            // On which side of the line from p to q the place r lies. Two sides cross where the ends of each lie on different sides of
            // the other.
            let turn = |p, q, r| cross(q - p, r - p);
            turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn ring(points: &[(f64, f64)]) -> Vec<Coord<f64>> {
        points.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    /// Mahun, Open Access Surveying, Traverse Computations G, problem 1 (feet): 38,970 ± 5; and problem 2: 250,550 ± 20.
    #[test]
    fn area_by_coordinates_open_access_surveying() {
        let one = ring(&[
            (2215.890, 1541.207),
            (2336.574, 1373.915),
            (2350.205, 1299.818),
            (2523.212, 1343.189),
            (2359.080, 1569.360),
        ]);
        assert_abs_diff_eq!(signed_area_m2(&one).abs(), 38_970.0, epsilon = 5.0);
        let two = ring(&[
            (1000.0, 600.0),
            (1209.288, 254.542),
            (566.876, 97.543),
            (397.969, 470.303),
        ]);
        assert_abs_diff_eq!(signed_area_m2(&two).abs(), 250_550.0, epsilon = 20.0);
    }

    /// A self-crossing ring with large coordinates, data of Wolf & Brinker 9th ed. as quoted on a calculator forum: 2,589,889.
    #[test]
    fn self_crossing_ring_counts_algebraically() {
        let star = ring(&[
            (1395020.737, 60320.528),
            (1399870.961, 60560.076),
            (1397560.850, 56300.124),
            (1401028.295, 57867.993),
            (1397840.621, 58670.873),
        ]);
        assert_abs_diff_eq!(signed_area_m2(&star).abs(), 2_589_889.0, epsilon = 0.5);
    }

    #[test]
    fn gradient_is_the_derivative_and_sums_to_zero() {
        let mut shape = ring(&[
            (0.0, 0.0),
            (12.0, 0.0),
            (12.0, 5.0),
            (5.0, 5.0),
            (5.0, 9.0),
            (0.0, 9.0),
        ]);
        let gradient = area_gradient_m(&shape);
        let sum = gradient
            .iter()
            .fold([0.0, 0.0], |s, g| [s[0] + g[0], s[1] + g[1]]);
        assert_abs_diff_eq!(sum[0], 0.0, epsilon = 1e-12);
        assert_abs_diff_eq!(sum[1], 0.0, epsilon = 1e-12);
        let before = signed_area_m2(&shape);
        shape[3].x += 1e-3;
        assert_abs_diff_eq!(
            signed_area_m2(&shape) - before,
            gradient[3][0] * 1e-3,
            epsilon = 1e-12
        );
    }

    #[test]
    fn sides_that_cross_are_seen() {
        let square = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)];
        assert!(!crosses_itself(&ring(&square)));
        let [a, b, c, d] = square;
        assert!(crosses_itself(&ring(&[a, c, b, d])));
        assert!(!crosses_itself(&ring(&[a, b, (1.0, 1.0), d])));
        assert!(!crosses_itself(&ring(&[a, b, c])));
        assert!(!crosses_itself(&[]));
    }
}
