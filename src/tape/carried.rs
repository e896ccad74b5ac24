//! Carries the corners' shifts into the ring between them, and the ring's area with them.
//!
//! The adjustment moves corners only. A place of the edge between two corners moves by a mean of their two shifts, weighted by how far
//! along it lies. The area of the moved ring follows, with its sigma, and with what an unnoticed error in a reading would do to it.

use super::adjust::Adjustment;
use crate::ring::{area_gradient_m, distance_m, signed_area_m2};
use geo::Coord;

/// One vertex of a ring, between two of the points that are adjusted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RingVertex {
    pub at: Coord<f64>,
    /// The indices of the adjusted points before it and after it; both are the same for a vertex that is a corner itself.
    pub before: usize,
    pub after: usize,
    /// Share of the way from one to the other, along the ring, 0 to 1.
    pub along: f64,
}

/// A ring that hangs on its corners: where they are moved, it follows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HungRing {
    pub vertices: Vec<RingVertex>,
}

impl HungRing {
    /// Hangs a ring on those of its vertices for which `corner` gives a point's index.
    /// `None` where fewer than two do: nothing then says how the ring should turn or stretch.
    pub(crate) fn new(
        ring: &[Coord<f64>],
        corner: impl Fn(usize) -> Option<usize>,
    ) -> Option<HungRing> {
        let n = ring.len();
        let corners: Vec<(usize, usize)> = (0..n).filter_map(|i| Some((i, corner(i)?))).collect();
        if corners.len() < 2 {
            return None;
        }
        let mut vertices: Vec<RingVertex> = Vec::with_capacity(n);
        let (start, _) = corners[0];
        for (k, (from, before)) in corners.iter().enumerate() {
            let (to, after) = corners[(k + 1) % corners.len()];
            let steps = (to + n - from - 1) % n + 1;
            let place = |s: usize| ring[(from + s) % n];
            let mut way_m = vec![0.0];
            for s in 1..=steps {
                way_m.push(way_m[s - 1] + distance_m(place(s - 1), place(s)));
            }
            let whole = way_m[steps];
            for (s, done) in way_m.iter().enumerate().take(steps) {
                vertices.push(RingVertex {
                    at: place(s),
                    before: *before,
                    after: if s == 0 { *before } else { after },
                    along: if whole > 0.0 { done / whole } else { 0.0 },
                });
            }
        }
        // The list begins at the first corner: rotate it back to the ring's own order.
        vertices.rotate_right(start % n);
        Some(HungRing { vertices })
    }

    /// The indices of the points it hangs on, in the order of the ring.
    pub(crate) fn corners(&self) -> Vec<usize> {
        let itself = self.vertices.iter().filter(|v| v.before == v.after);
        itself.map(|v| v.before).collect()
    }

    /// The ring after the points have moved by `shifts`.
    pub(crate) fn moved(&self, shifts: &[Coord<f64>]) -> Vec<Coord<f64>> {
        self.vertices
            .iter()
            .map(|v| v.at + shifts[v.before] * (1.0 - v.along) + shifts[v.after] * v.along)
            .collect()
    }

    /// Derivative of its area by the coordinates of the points, metres, at the place where an adjustment puts it. `walked` are the points
    /// before.
    pub(crate) fn gradient_after(
        &self,
        walked: &[Coord<f64>],
        adjustment: &Adjustment,
    ) -> Vec<f64> {
        let moved = self.moved(&shifts(walked, adjustment));
        self.area_gradient(&moved, walked.len())
    }

    /// Derivative of the area of `ring` (which is this one, moved) by the coordinates of the `points` it hangs on, x0, y0, x1, …, metres.
    pub(crate) fn area_gradient(&self, ring: &[Coord<f64>], points: usize) -> Vec<f64> {
        let mut by_point = vec![0.0; 2 * points];
        for (v, [gx, gy]) in self.vertices.iter().zip(area_gradient_m(ring)) {
            for (i, share) in [(v.before, 1.0 - v.along), (v.after, v.along)] {
                by_point[2 * i] += share * gx;
                by_point[2 * i + 1] += share * gy;
            }
        }
        by_point
    }
}

/// The ring after an adjustment.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried {
    pub ring: Vec<Coord<f64>>,
    /// Its area without a sign, square metres.
    pub area_m2: f64,
    /// One sigma of the area from the corners alone, square metres.
    pub corner_sigma_m2: f64,
    /// For each reading, how much the area would move if it had an error of the smallest size that is found (its external reliability),
    /// square metres.
    pub undetected_m2: Vec<f64>,
}

/// By how much the adjustment moved each point.
fn shifts(walked: &[Coord<f64>], adjustment: &Adjustment) -> Vec<Coord<f64>> {
    let pairs = adjustment.points.iter().zip(walked);
    pairs.map(|(p, w)| *p - *w).collect()
}

/// Moves a ring with its corners. `walked` are the points before, in the order of the adjustment.
pub(crate) fn carry(ring: &HungRing, walked: &[Coord<f64>], adjustment: &Adjustment) -> Carried {
    let moved = ring.moved(&shifts(walked, adjustment));
    let gradient = ring.area_gradient(&moved, walked.len());
    let undetected_m2 = adjustment
        .influence(&gradient)
        .iter()
        .zip(&adjustment.residuals)
        .map(|(by, r)| (by * r.detectable).abs())
        .collect();
    Carried {
        area_m2: signed_area_m2(&moved).abs(),
        corner_sigma_m2: adjustment.variance_of(&gradient).sqrt(),
        undetected_m2,
        ring: moved,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A square of 10 with a bulge on its second side, starting half way along the first.
    fn ring() -> Vec<Coord<f64>> {
        [
            (5.0, 0.0),
            (10.0, 0.0),
            (11.0, 5.0),
            (10.0, 10.0),
            (0.0, 10.0),
            (0.0, 0.0),
        ]
        .map(|(x, y)| Coord { x, y })
        .to_vec()
    }

    fn hung() -> HungRing {
        HungRing::new(&ring(), |i| match i {
            1 => Some(0),
            3 => Some(1),
            4 => Some(2),
            5 => Some(3),
            _ => None,
        })
        .expect("corners")
    }

    #[test]
    fn a_vertex_half_way_moves_half_with_each_corner() {
        let mut shifts = vec![Coord { x: 0.0, y: 0.0 }; 4];
        shifts[0] = Coord { x: 0.4, y: 0.2 };
        let moved = hung().moved(&shifts);
        assert_relative_eq!(moved[0].x, 5.2);
        assert_relative_eq!(moved[1].x, 10.4);
        assert_relative_eq!(moved[2].y, 5.1);
        assert_relative_eq!(moved[3].x, 10.0);
        assert_eq!(moved.len(), 6);
    }

    #[test]
    fn the_area_answers_to_a_corner_as_its_gradient_says() {
        let hung = hung();
        let none = vec![Coord { x: 0.0, y: 0.0 }; 4];
        let gradient = hung.area_gradient(&hung.moved(&none), 4);
        let before = signed_area_m2(&hung.moved(&none));
        for k in 0..8 {
            let mut shifts = none.clone();
            match k % 2 {
                0 => shifts[k / 2].x = 1e-4,
                _ => shifts[k / 2].y = 1e-4,
            }
            let change = signed_area_m2(&hung.moved(&shifts)) - before;
            assert_relative_eq!(change / 1e-4, gradient[k], epsilon = 2e-3);
        }
    }

    #[test]
    fn a_ring_with_one_corner_hangs_on_nothing() {
        assert!(HungRing::new(&ring(), |i| (i == 1).then_some(0)).is_none());
    }
}
