//! Round beds, exactly: areas by Green's theorem over arcs, never by many-sided polygons.
//!
//! Green's theorem gives the area of a piece of ground by going round its boundary: ½ ∮ x dy − y dx. What a bed takes off a lawn is
//! bounded by straight pieces and arcs. Every boundary that may take part is cut wherever it meets another, the middle of each piece
//! tells whether the piece is on the area's edge, and the integral is summed over the pieces kept. A cut too many changes nothing and a
//! cut too few would, so that cuts are made generously and never hang on the last digit of a number.

use super::region::Region;
use geo::{Coord, LineString, MultiPolygon, Polygon, Rect};
use std::f64::consts::TAU;

/// Closer than this two boundaries are the same line, metres: a thousand times what a double resolves on a site of kilometres.
pub(super) const SAME_LINE_M: f64 = 1e-9;

/// How far a bed drawn with straight sides may be from its circle, metres.
const DRAWN_WITHIN_M: f64 = 1e-3;

/// A round bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disc {
    pub centre: Coord<f64>,
    pub radius_m: f64,
}

impl Disc {
    pub(crate) fn area_m2(&self) -> f64 {
        TAU / 2.0 * self.radius_m * self.radius_m
    }

    /// The circle as a polygon of the same area, its sides within 1 mm of it (64 to 720 sides), for drawing.
    pub(crate) fn drawn(&self) -> MultiPolygon<f64> {
        let needed =
            TAU / 2.0 / (1.0 - DRAWN_WITHIN_M / self.radius_m.max(2.0 * DRAWN_WITHIN_M)).acos();
        let sides = needed.ceil().clamp(64.0, 720.0);
        let step = TAU / sides;
        let radius = self.radius_m * (step / step.sin()).sqrt();
        let ring = (0..sides as u32)
            .map(|k| along(self.centre, radius, step * f64::from(k)))
            .collect();
        MultiPolygon(vec![Polygon::new(LineString::new(ring), Vec::new())])
    }

    pub(super) fn contains(&self, at: Coord<f64>) -> bool {
        self.beyond(at) < 0.0
    }

    /// How far outside the circle a place is, metres; negative inside.
    fn beyond(&self, at: Coord<f64>) -> f64 {
        (at.x - self.centre.x).hypot(at.y - self.centre.y) - self.radius_m
    }

    /// The south-western and the north-eastern corner of the square about the circle.
    pub(super) fn corners(&self) -> (Coord<f64>, Coord<f64>) {
        let reach = Coord {
            x: self.radius_m,
            y: self.radius_m,
        };
        (self.centre - reach, self.centre + reach)
    }

    /// Whether the two discs have ground in common.
    pub(super) fn meets(&self, other: &Disc) -> bool {
        other.beyond(self.centre) < self.radius_m
    }

    /// Whether all of another lies in this one, which may be the same circle.
    pub(super) fn covers(&self, other: &Disc) -> bool {
        self.beyond(other.centre) <= SAME_LINE_M - other.radius_m
    }

    pub(super) fn bounds(&self) -> Rect<f64> {
        let (low, high) = self.corners();
        Rect::new(low, high)
    }

    /// Where along a segment (0 to 1) it meets the circle.
    pub(super) fn cuts_of_segment(
        &self,
        [a, b]: [Coord<f64>; 2],
    ) -> impl Iterator<Item = f64> + use<> {
        let (from, along) = (a - self.centre, b - a);
        let length2 = along.x * along.x + along.y * along.y;
        // the point of the line nearest the centre, and half the chord
        let middle = -(from.x * along.x + from.y * along.y) / length2;
        let apart = (from.x * along.y - from.y * along.x).powi(2) / length2;
        let half = ((self.radius_m * self.radius_m - apart) / length2).sqrt();
        // a nanometre beyond the ends counts as well, or a circle through a corner might be missed by both edges that meet there
        let hair = SAME_LINE_M / length2.sqrt();
        [middle - half, middle + half]
            .into_iter()
            .filter(move |t| (-hair..=1.0 + hair).contains(t))
    }

    /// Directions from the centre (radians) in which the circle meets an edge.
    fn cuts_by_edge(&self, edge: [Coord<f64>; 2]) -> impl Iterator<Item = f64> + use<> {
        let [a, b] = edge;
        let centre = self.centre;
        self.cuts_of_segment(edge).map(move |t| {
            let at = a + (b - a) * t - centre;
            at.y.atan2(at.x)
        })
    }

    /// Directions from the centre in which the circle meets another.
    fn cuts_by_disc(&self, other: &Disc) -> impl Iterator<Item = f64> + use<> {
        let to = other.centre - self.centre;
        let distance = to.x.hypot(to.y);
        // the difference of the squared radii is worked out as a product: subtracting the squares would lose its digits where the
        // distance is small
        let radii = (self.radius_m - other.radius_m) * (self.radius_m + other.radius_m);
        let cosine = (distance * distance + radii) / (2.0 * distance * self.radius_m);
        // circles that do not meet (apart, one within the other, the same centre) have no such angle: it is not a number, and is left out
        // below
        let half = cosine.acos();
        let towards = to.y.atan2(to.x);
        [towards - half, towards + half]
            .into_iter()
            .filter(|angle| angle.is_finite())
    }

    /// The circle cut wherever it meets an edge of a region or another circle: its arcs, each from one direction to another, radians. One
    /// that meets nothing is a single arc.
    pub(super) fn arcs<'a>(
        &self,
        regions: impl IntoIterator<Item = &'a Region>,
        discs: impl IntoIterator<Item = &'a Disc>,
    ) -> Vec<(f64, f64)> {
        let (low, high) = self.corners();
        let mut cuts: Vec<f64> = Vec::new();
        for region in regions {
            cuts.extend(
                region
                    .edges_near(low, high)
                    .flat_map(|edge| self.cuts_by_edge(edge)),
            );
        }
        for disc in discs {
            cuts.extend(self.cuts_by_disc(disc));
        }
        for cut in &mut cuts {
            *cut = cut.rem_euclid(TAU);
        }
        cuts.sort_by(f64::total_cmp);
        cuts.dedup();
        match cuts.first().copied() {
            None => vec![(0.0, TAU)],
            Some(first) => {
                cuts.push(first + TAU);
                cuts.windows(2)
                    .filter_map(|pair| Some((*pair.first()?, *pair.last()?)))
                    .collect()
            }
        }
    }

    /// The place on the circle in this direction, radians.
    pub(super) fn at(&self, angle: f64) -> Coord<f64> {
        along(self.centre, self.radius_m, angle)
    }

    /// The place in this direction that lies so much further out than the circle; inside it where that is negative.
    pub(super) fn beside(&self, angle: f64, further_m: f64) -> Coord<f64> {
        along(self.centre, self.radius_m + further_m, angle)
    }

    /// What the bed takes off `region`, square metres, where the beds `before` have taken theirs already.
    ///
    /// # Accuracy
    /// Closed form; 1e-12 of the disc's area, times a few for the pieces it is put together from.
    pub(crate) fn takes_m2(&self, region: &Region, before: &[Disc]) -> f64 {
        let (low, high) = self.corners();
        let before: Vec<&Disc> = before.iter().filter(|disc| disc.meets(self)).collect();
        let mut twice = 0.0;

        // this circle's own arcs, in the region and outside the beds before
        for (from, to) in self.arcs([region], before.iter().copied()) {
            let middle = self.at((from + to) / 2.0);
            if region.contains(middle)
                && before.iter().all(|disc| disc.beyond(middle) > SAME_LINE_M)
            {
                twice += self.radius_m * self.radius_m * (to - from);
            }
        }

        // the region's edges, inside this circle and outside the beds before
        for [a, b] in region.edges_near(low, high) {
            let cuts = before
                .iter()
                .copied()
                .chain([self])
                .flat_map(|disc| disc.cuts_of_segment([a, b]));
            for (from, to) in pieces(cuts.collect()) {
                let middle = a + (b - a) * ((from + to) / 2.0);
                if self.contains(middle) && before.iter().all(|disc| !disc.contains(middle)) {
                    let (p, q) = (
                        a + (b - a) * from - self.centre,
                        a + (b - a) * to - self.centre,
                    );
                    twice += p.x * q.y - p.y * q.x;
                }
            }
        }

        // the earlier beds' arcs, inside this circle and the region: the area lies outside those beds, so they are gone round backwards
        for (j, disc) in before.iter().enumerate() {
            let others = before
                .iter()
                .enumerate()
                .filter(|(i, other)| *i != j && other.meets(disc));
            for (from, to) in disc.arcs(
                [region],
                others.clone().map(|(_, other)| *other).chain([self]),
            ) {
                let middle = disc.at((from + to) / 2.0);
                // where the arcs of two earlier beds are one line, only the first one's counts
                let outside_others = others.clone().all(|(i, other)| {
                    other.beyond(middle) > if i < j { SAME_LINE_M } else { -SAME_LINE_M }
                });
                if self.beyond(middle) < -SAME_LINE_M && outside_others && region.contains(middle) {
                    let centre = disc.centre - self.centre;
                    let r = disc.radius_m;
                    twice -= r * r * (to - from)
                        + r * (centre.x * (to.sin() - from.sin())
                            - centre.y * (to.cos() - from.cos()));
                }
            }
        }
        (twice / 2.0).clamp(0.0, self.area_m2())
    }
}

/// The place that lies `radius_m` from a centre in direction `angle`, radians from east.
fn along(centre: Coord<f64>, radius_m: f64, angle: f64) -> Coord<f64> {
    let (sin, cos) = angle.sin_cos();
    Coord {
        x: centre.x + radius_m * cos,
        y: centre.y + radius_m * sin,
    }
}

/// The range 0 to 1 cut at the given places: its pieces (from, to), none of them empty.
pub(super) fn pieces(mut cuts: Vec<f64>) -> impl Iterator<Item = (f64, f64)> {
    cuts.retain(|t| *t > 0.0 && *t < 1.0);
    cuts.extend([0.0, 1.0]);
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    let ends: Vec<f64> = cuts.iter().skip(1).copied().collect();
    cuts.into_iter().zip(ends)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    const fn disc(x: f64, y: f64, radius_m: f64) -> Disc {
        Disc {
            centre: Coord { x, y },
            radius_m,
        }
    }

    fn rectangle(west: f64, south: f64, east: f64, north: f64) -> Region {
        let ring = [(west, south), (east, south), (east, north), (west, north)];
        Region::inside(&[ring.map(|(x, y)| Coord { x, y }).to_vec()]).unwrap()
    }

    /// What two discs have in common, by what the second leaves of the first on open ground.
    fn lens(one: Disc, other: Disc) -> f64 {
        let open = rectangle(-100.0, -100.0, 100.0, 100.0);
        one.area_m2() - one.takes_m2(&open, &[other])
    }

    /// The lens of two circles, r² acos(…) + R² acos(…) − ½√(…) (textbook formula), recomputed for this project.
    #[test]
    fn lenses() {
        for (one, other, area) in [
            (disc(0.0, 0.0, 1.0), disc(1.0, 0.0, 1.0), 1.228369698609),
            (disc(0.0, 0.0, 2.0), disc(2.0, 0.0, 1.0), 1.403066439686),
            (disc(3.0, 1.0, 2.0), disc(3.0, 3.5, 1.5), 1.660418675677),
            (
                disc(0.0, 0.0, 1.5),
                disc(1.0, 0.0, 3.0),
                std::f64::consts::PI * 2.25,
            ),
            (disc(0.0, 0.0, 1.0), disc(2.0, 0.0, 1.0), 0.0),
            (disc(0.0, 0.0, 1.0), disc(5.0, 0.0, 1.0), 0.0),
        ] {
            assert_abs_diff_eq!(lens(one, other), area, epsilon = 1e-9);
            assert_abs_diff_eq!(lens(other, one), area, epsilon = 1e-9);
        }
    }

    /// A circle of radius 2 on a straight edge, on a right corner, and 1 m inside the edge (elementary geometry:
    /// 2π, π, and the circle less its segment).
    #[test]
    fn circles_on_the_edge() {
        let lawn = rectangle(0.0, 0.0, 20.0, 10.0);
        let pi = std::f64::consts::PI;
        assert_abs_diff_eq!(
            disc(10.0, 0.0, 2.0).takes_m2(&lawn, &[]),
            2.0 * pi,
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            disc(0.0, 10.0, 2.0).takes_m2(&lawn, &[]),
            pi,
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            disc(10.0, 1.0, 2.0).takes_m2(&lawn, &[]),
            10.109631,
            epsilon = 5e-7
        );
        let segment = 4.0 * (1f64 / 2.0).acos() - 3f64.sqrt();
        assert_abs_diff_eq!(
            disc(10.0, 1.0, 2.0).takes_m2(&lawn, &[]),
            4.0 * pi - segment,
            epsilon = 1e-9
        );
        // touching the edge from inside, from outside, and through a corner
        assert_abs_diff_eq!(
            disc(10.0, 2.0, 2.0).takes_m2(&lawn, &[]),
            4.0 * pi,
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            disc(10.0, -2.0, 2.0).takes_m2(&lawn, &[]),
            0.0,
            epsilon = 1e-9
        );
        assert_abs_diff_eq!(
            disc(-3.0, -4.0, 5.0).takes_m2(&lawn, &[]),
            0.0,
            epsilon = 1e-9
        );
        // a lawn wholly under the bed
        assert_abs_diff_eq!(
            disc(10.0, 5.0, 50.0).takes_m2(&lawn, &[]),
            200.0,
            epsilon = 1e-9
        );
    }

    /// Common practice, no source: a circle 0.70 m across is 0.385 m², one 1.8 m across 2.54 m².
    #[test]
    fn circles_of_the_trade() {
        let lawn = rectangle(-5.0, -5.0, 5.0, 5.0);
        assert_abs_diff_eq!(
            disc(0.0, 0.0, 0.35).takes_m2(&lawn, &[]),
            0.385,
            epsilon = 0.0005
        );
        assert_abs_diff_eq!(
            disc(0.0, 0.0, 0.9).takes_m2(&lawn, &[]),
            2.54,
            epsilon = 0.005
        );
    }

    #[test]
    fn the_same_bed_twice_counts_once() {
        let lawn = rectangle(0.0, 0.0, 20.0, 10.0);
        let bed = disc(7.0, 5.0, 1.3);
        for shift in [0.0, 1e-15, 1e-12, 1e-10, 1e-8, 1e-5] {
            let again = disc(7.0 + shift, 5.0, 1.3);
            // two circles of radius r a shift apart differ by a crescent of 2 r × shift
            assert_abs_diff_eq!(again.takes_m2(&lawn, &[bed]), 2.6 * shift, epsilon = 1e-8);
            assert_abs_diff_eq!(
                again.takes_m2(&lawn, &[bed, bed, again]),
                0.0,
                epsilon = 1e-8
            );
        }
    }

    /// Three circles of radius 1 with centres 1 apart (Reuleaux): their union is 3π/2 + √3/2 … by inclusion and
    /// exclusion: 3π − 3 (2π/3 − √3/2) + (π − √3)/2.
    #[test]
    fn three_beds_that_all_overlap() {
        let pi = std::f64::consts::PI;
        let open = rectangle(-10.0, -10.0, 10.0, 10.0);
        let beds = [
            disc(0.0, 0.0, 1.0),
            disc(1.0, 0.0, 1.0),
            disc(0.5, 0.75f64.sqrt(), 1.0),
        ];
        let total: f64 = (0..3).map(|k| beds[k].takes_m2(&open, &beds[..k])).sum();
        let root3 = 3f64.sqrt();
        let union = 3.0 * pi - 3.0 * (2.0 * pi / 3.0 - root3 / 2.0) + (pi - root3) / 2.0;
        assert_abs_diff_eq!(total, union, epsilon = 1e-9);
    }

    #[test]
    fn drawn_beds_keep_their_area() {
        use geo::Area;
        for radius in [1e-4, 0.01, 0.35, 5.0, 80.0, 2000.0] {
            let bed = disc(3.0, 4.0, radius);
            assert!(
                (bed.drawn().unsigned_area() / bed.area_m2() - 1.0).abs() < 1e-9,
                "{radius}"
            );
        }
    }
}
