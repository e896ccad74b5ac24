//! Valid polygons on the plane, made and combined so that nothing cancels: ground is covered or it is not, whichever way a ring was
//! walked round it.
//!
//! The polygon library rounds corners to a grid of its own. For drawing its polygons are taken as they come; for measuring the exact
//! corners are put back. A [`Region`] can also be asked quickly whether a place lies in it and which of its edges are near.

use crate::fault::Fault;
use geo::bool_ops::{BooleanOps, FillRule, OpType};
use geo::orient::{Direction, Orient};
use geo::{Area, BoundingRect, Coord, LineString, MapCoords, MultiPolygon, Polygon, Rect};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Nothing on the plane is further from the site than this (half of the Earth's circumference, rounded up), metres.
const REACH_M: f64 = 2.1e7;

/// Pieces and holes smaller than this (1 cm²) are not drawn: they are loops that noise makes where a line crosses itself.
const SLIVER_M2: f64 = 1e-4;

/// How far the library's grid may move a corner, as a part of the drawing's extent. The library works on whole numbers, some 2³⁰ of them
/// across the drawing; a corner that it hands back within eight of those of a corner it was given *is* that corner.
const SNAP_OF_EXTENT: f64 = 8.0 / (1u64 << 30) as f64;

/// An area of the plane bounded by straight edges: outer rings anticlockwise, holes clockwise, no two edges crossing.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// For drawing: valid, corners moved by the library's grid.
    polygons: MultiPolygon<f64>,
    /// For measuring: the same edges with their corners put back.
    sides: Sides,
    area_m2: f64,
}

/// The sides of rings, indexed so that those near a place, and whether it lies inside, are quickly found.
#[derive(Debug, Clone, PartialEq)]
pub struct Sides {
    edges: Vec<[Coord<f64>; 2]>,
    bounds: Option<Rect<f64>>,
    strips: Strips,
}

impl Region {
    /// The region inside closed rings (first point need not be repeated), by the non-zero winding rule: a ring walked twice, or
    /// in either direction, or crossing itself, covers what it goes round. (The even-odd rule would
    /// leave nothing of a ring walked twice.) Rings of fewer than three distinct places cover nothing; loops under 1 cm² are left out.
    ///
    /// # Errors
    /// Coordinates that aren't finite or aren't on Earth, and the polygon library failing.
    pub fn inside(rings: &[Vec<Coord<f64>>]) -> Result<Region, Fault> {
        for ring in rings {
            gate(ring)?;
        }
        let all = MultiPolygon(rings.iter().map(|ring| polygon(ring.clone())).collect());
        let resolved = combine(&all, &MultiPolygon(Vec::new()), OpType::Union)?;
        Ok(Region::new(
            without_slivers(resolved),
            &Corners::new(rings.iter().flatten().copied()),
        ))
    }

    /// Makes a region of polygons that are valid already, with outer rings anticlockwise and holes clockwise, and of the exact corners
    /// that went into them.
    pub(super) fn new(polygons: MultiPolygon<f64>, corners: &Corners) -> Region {
        let exact = corners.put_back(&polygons);
        let rings = exact
            .iter()
            .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
        let edges = rings.flat_map(|ring| ring.lines().map(|line| [line.start, line.end]));
        Region {
            sides: Sides::new(exact.bounding_rect(), edges.collect()),
            polygons,
            area_m2: exact.unsigned_area(),
        }
    }

    #[must_use]
    pub fn polygons(&self) -> &MultiPolygon<f64> {
        &self.polygons
    }

    pub(crate) fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// All edges, each with the region on its left.
    pub(super) fn edges(&self) -> &[[Coord<f64>; 2]] {
        &self.sides.edges
    }

    pub(super) fn bounds(&self) -> Option<Rect<f64>> {
        self.sides.bounds
    }

    /// Whether a place lies in the region. On the very edge it may be either.
    pub(crate) fn contains(&self, at: Coord<f64>) -> bool {
        self.sides.contains(at)
    }

    /// Edges that may come within the box between two corners, in their order.
    pub(super) fn edges_near(
        &self,
        low: Coord<f64>,
        high: Coord<f64>,
    ) -> impl Iterator<Item = [Coord<f64>; 2]> + use<> {
        self.sides.near(low, high)
    }
}

impl Sides {
    /// The sides of one ring, its first point not repeated.
    pub(crate) fn of(ring: &[Coord<f64>]) -> Sides {
        let next = ring.iter().skip(1).chain(ring.first());
        let edges = ring.iter().zip(next).map(|(&a, &b)| [a, b]).collect();
        Sides::new(LineString::new(ring.to_vec()).bounding_rect(), edges)
    }

    fn new(bounds: Option<Rect<f64>>, edges: Vec<[Coord<f64>; 2]>) -> Sides {
        Sides {
            strips: Strips::new(bounds, &edges),
            edges,
            bounds,
        }
    }

    /// Whether a place lies inside by the even-odd rule: a line due east from it crosses the edges an odd number of times. On the very
    /// edge it may be either.
    pub(crate) fn contains(&self, at: Coord<f64>) -> bool {
        if !self.bounds.is_some_and(|b| reaches(&b, at, at)) {
            return false;
        }
        let strip = self.strips.between(at.y, at.y);
        crate::steps::count(strip.len());
        let crossed = strip.iter().filter_map(|&i| self.edges.get(i as usize));
        crossed.fold(false, |inside, [a, b]| {
            // an edge holds its lower end and not its upper one, so that a corner on the line counts once
            let crosses = (a.y > at.y) != (b.y > at.y)
                && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x);
            inside != crosses
        })
    }

    /// Edges that may come within the box between two corners, in their order.
    pub(crate) fn near(
        &self,
        low: Coord<f64>,
        high: Coord<f64>,
    ) -> impl Iterator<Item = [Coord<f64>; 2]> + use<> {
        let meets = self.bounds.is_some_and(|b| reaches(&b, low, high));
        let strips = if meets {
            self.strips.between(low.y, high.y)
        } else {
            &[]
        };
        crate::steps::count(strips.len());
        let mut near: Vec<(u32, [Coord<f64>; 2])> = strips
            .iter()
            .filter_map(|&i| Some((i, *self.edges.get(i as usize)?)))
            .filter(|(_, [a, b])| {
                a.x.min(b.x) <= high.x
                    && a.x.max(b.x) >= low.x
                    && a.y.min(b.y) <= high.y
                    && a.y.max(b.y) >= low.y
            })
            .collect();
        // An edge that passes through several strips is listed once.
        near.sort_unstable_by_key(|(i, _)| *i);
        near.dedup_by_key(|(i, _)| *i);
        near.into_iter().map(|(_, edge)| edge)
    }
}

/// Which edges pass through each of many horizontal strips, so that only a few edges need to be tested for one place.
#[derive(Debug, Clone, PartialEq)]
struct Strips {
    low_y: f64,
    /// Strips to a metre of height.
    per_metre: f64,
    /// Where in `edges` the indices of each strip begin, and at the end where those of the last one end.
    begins: Vec<usize>,
    edges: Vec<u32>,
}

impl Strips {
    /// Builds the table in two passes: count the edges of each strip, then put each edge into its strips.
    fn new(bounds: Option<Rect<f64>>, edges: &[[Coord<f64>; 2]]) -> Strips {
        // Some four edges to a strip make a test of one place short without the table outgrowing the edges. Edges that run from bottom to
        // top pass through every strip, so where there are many of them there are fewer strips.
        let height_m = bounds.map_or(0.0, |b| b.height());
        let up_and_down_m: f64 = edges.iter().map(|[a, b]| (b.y - a.y).abs()).sum();
        let room = 4.0 * edges.len() as f64 * height_m / up_and_down_m;
        let count = (edges.len() / 4).min(room as usize).clamp(1, 4096);
        let mut strips = Strips {
            low_y: bounds.map_or(0.0, |b| b.min().y),
            per_metre: bounds.map_or(0.0, |b| count as f64 / b.height()),
            begins: vec![0; count + 1],
            edges: Vec::new(),
        };
        let passed: Vec<(usize, usize)> = edges
            .iter()
            .map(|[a, b]| strips.range(a.y.min(b.y), a.y.max(b.y)))
            .collect();
        for &(low, high) in &passed {
            for ends in strips.begins.iter_mut().take(high + 2).skip(low + 1) {
                *ends += 1;
            }
        }
        let mut total = 0;
        for ends in &mut strips.begins {
            total += *ends;
            *ends = total;
        }
        strips.edges.resize(total, 0);
        let mut next = strips.begins.clone();
        for (index, &(low, high)) in (0u32..).zip(&passed) {
            for place in next.iter_mut().take(high + 1).skip(low) {
                strips.edges[*place] = index;
                *place += 1;
            }
        }
        strips
    }

    /// The first and the last strip from one height to another.
    fn range(&self, low_y: f64, high_y: f64) -> (usize, usize) {
        let last = self.begins.len() - 2;
        // a conversion by `as` stops at the ends of its range, and turns a number that is none (from a height of zero) into 0
        let strip = |y: f64| (((y - self.low_y) * self.per_metre) as usize).min(last);
        if self.per_metre.is_finite() {
            (strip(low_y), strip(high_y))
        } else {
            (0, last)
        }
    }

    /// Indices of the edges that pass through the strips from one height to another, strip by strip.
    fn between(&self, low_y: f64, high_y: f64) -> &[u32] {
        let (low, high) = self.range(low_y, high_y);
        let places = self.begins[low]..self.begins[high + 1];
        self.edges.get(places).unwrap_or(&[])
    }
}

/// Whether the bounds and the box between two corners meet.
fn reaches(bounds: &Rect<f64>, low: Coord<f64>, high: Coord<f64>) -> bool {
    low.x <= bounds.max().x
        && high.x >= bounds.min().x
        && low.y <= bounds.max().y
        && high.y >= bounds.min().y
}

/// Refuses places that are not finite or not on Earth, which the polygon library must never see.
pub(super) fn gate(points: &[Coord<f64>]) -> Result<(), Fault> {
    match points
        .iter()
        .find(|p| !(p.x.abs() < REACH_M && p.y.abs() < REACH_M))
    {
        None => Ok(()),
        Some(bad) => Err(Fault::withheld(
            "off-the-plane",
            format!(
                "An edge runs through ({}, {}) metres from the site, which is no place on Earth.",
                bad.x, bad.y
            ),
            "Look at the log's coordinates around there.",
        )),
    }
}

/// A ring as a polygon, wound as it was walked. Rings of fewer than three places come out empty.
pub(super) fn polygon(mut ring: Vec<Coord<f64>>) -> Polygon<f64> {
    if ring.first() == ring.last() {
        ring.pop();
    }
    if ring.len() < 3 {
        ring.clear();
    }
    Polygon::new(LineString::new(ring), Vec::new())
}

/// Combines two areas (union, difference and so on) by the non-zero winding rule. Both of them may overlap themselves.
///
/// This is the one place where the polygon library is called. It is not ours, works on a grid of whole numbers and panics where one of
/// its internal promises is broken. A lawn on which it did would take a whole day's other surveys with it, so that a panic there is
/// turned into a fault of this survey alone.
pub(super) fn combine(
    one: &MultiPolygon<f64>,
    other: &MultiPolygon<f64>,
    how: OpType,
) -> Result<MultiPolygon<f64>, Fault> {
    combine_by(FillRule::NonZero, one, other, how)
}

/// The ground that rings go round anticlockwise more often than clockwise.
pub(super) fn gone_round(rings: &MultiPolygon<f64>) -> Result<MultiPolygon<f64>, Fault> {
    combine_by(
        FillRule::Positive,
        rings,
        &MultiPolygon(Vec::new()),
        OpType::Union,
    )
}

/// As [`combine`], by any rule for what counts as inside.
fn combine_by(
    fill: FillRule,
    one: &MultiPolygon<f64>,
    other: &MultiPolygon<f64>,
    how: OpType,
) -> Result<MultiPolygon<f64>, Fault> {
    // There is nothing to combine with: the answer is plain without the library, and without its rounding.
    if one.0.is_empty() && how != OpType::Union && how != OpType::Xor {
        return Ok(MultiPolygon(Vec::new()));
    }
    let done = catch_unwind(AssertUnwindSafe(|| {
        one.boolean_op_with_fill_rule(other, how, fill)
    }));
    let combined = done.map_err(|_| {
        Fault::withheld(
            "outline-failed",
            "The outlines could not be cut into each other.",
            "Please report this with the log; leaving one deduction out at a time finds the one that does it.",
        )
    })?;
    // The library hands some holes back with the same direction as their outside (where a hole touches it), which the next operation
    // would fill. So all rings are given their directions anew.
    Ok(combined.orient(Direction::Default))
}

/// The exact corners that went into an operation, sorted from west to east.
pub(super) struct Corners(Vec<Coord<f64>>);

impl Corners {
    pub(super) fn new(corners: impl IntoIterator<Item = Coord<f64>>) -> Corners {
        let mut sorted: Vec<Coord<f64>> = corners.into_iter().collect();
        sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        sorted.dedup();
        Corners(sorted)
    }

    /// The polygons with those corners put back where they were that the library's grid has moved.
    fn put_back(&self, polygons: &MultiPolygon<f64>) -> MultiPolygon<f64> {
        let extent = polygons
            .bounding_rect()
            .map_or(0.0, |b| b.width().max(b.height()));
        let snap = SNAP_OF_EXTENT * extent;
        let back = |at: Coord<f64>| {
            let from = self.0.partition_point(|c| c.x < at.x - snap);
            let near = self
                .0
                .get(from..)
                .into_iter()
                .flatten()
                .take_while(|c| c.x <= at.x + snap);
            let away = |c: &Coord<f64>| (c.x - at.x).hypot(c.y - at.y);
            let nearest = near
                .filter(|c| (c.y - at.y).abs() <= snap)
                .min_by(|a, b| f64::total_cmp(&away(a), &away(b)));
            nearest.copied().unwrap_or(at)
        };
        polygons.map_coords(back)
    }
}

/// Leaves out pieces and holes too small to be anything but noise.
pub(super) fn without_slivers(polygons: MultiPolygon<f64>) -> MultiPolygon<f64> {
    let kept = polygons.into_iter().filter_map(|polygon| {
        let (outer, mut holes) = polygon.into_inner();
        let area = |ring: &LineString<f64>| Polygon::new(ring.clone(), Vec::new()).unsigned_area();
        holes.retain(|hole| area(hole) >= SLIVER_M2);
        (area(&outer) >= SLIVER_M2).then(|| Polygon::new(outer, holes))
    });
    MultiPolygon(kept.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(points: &[(f64, f64)]) -> Vec<Coord<f64>> {
        points.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    #[test]
    fn two_laps_are_one_lawn() {
        let lap = ring(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
        let twice = [lap.clone(), lap.clone()].concat();
        assert_eq!(Region::inside(&[twice]).unwrap().area_m2(), 100.0);
        let back: Vec<_> = lap.iter().rev().copied().collect();
        assert_eq!(Region::inside(&[back]).unwrap().area_m2(), 100.0);
    }

    #[test]
    fn a_figure_of_eight_keeps_both_loops() {
        let eight = ring(&[(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)]);
        let region = Region::inside(&[eight]).unwrap();
        assert!(
            (region.area_m2() - 50.0).abs() < 1e-6,
            "{}",
            region.area_m2()
        );
        assert_eq!(region.polygons().0.len(), 2);
        assert!(
            region.contains(Coord { x: 2.0, y: 5.0 }) && !region.contains(Coord { x: 5.0, y: 2.0 })
        );
    }

    #[test]
    fn corners_come_back_as_they_were() {
        let points = ring(&[
            (1.0 / 3.0, 0.1),
            (12.0 / 7.0, 0.2),
            (12.3, 8.0 / 9.0),
            (0.7, 7.7),
        ]);
        let region = Region::inside(std::slice::from_ref(&points)).unwrap();
        for corner in points {
            assert!(
                region.edges().iter().any(|[a, _]| *a == corner),
                "{corner:?}"
            );
        }
    }

    #[test]
    fn nothing_and_nonsense() {
        for points in [
            &[][..],
            &[(1.0, 1.0)],
            &[(1.0, 1.0), (2.0, 2.0)],
            &[(1.0, 1.0); 9],
            &[(0.0, 0.0), (5.0, 5.0), (2.0, 2.0), (0.0, 0.0)],
        ] {
            let region = Region::inside(&[ring(points)]).unwrap();
            assert_eq!(region.area_m2(), 0.0);
            assert!(!region.contains(Coord { x: 1.0, y: 1.0 }));
        }
        for bad in [f64::NAN, f64::INFINITY, -1e300] {
            assert!(Region::inside(&[ring(&[(0.0, 0.0), (bad, 0.0), (0.0, 1.0)])]).is_err());
        }
    }
}
