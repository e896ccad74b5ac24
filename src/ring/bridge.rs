//! Polygons with holes written as single rings, for file formats that know only rings.
//!
//! A hole is joined to the outer ring by a slit without width that is walked in and out again, so that one line goes round exactly what
//! the polygon covers.

use super::signed_area_m2;
use geo::{Coord, LineString, MultiPolygon, Polygon};

/// Each polygon as one closed line (its first place repeated at its end), with its holes joined on.
pub(crate) fn bridged(area: &MultiPolygon<f64>) -> Vec<Vec<Coord<f64>>> {
    area.iter().map(ring_of).collect()
}

/// One polygon as one closed line; an empty one gives an empty line.
pub(crate) fn ring_of(polygon: &Polygon<f64>) -> Vec<Coord<f64>> {
    let mut ring = open(polygon.exterior());
    // A slit begins at the hole's easternmost place, so that it does not cross the hole itself.
    let rightmost =
        |hole: &[Coord<f64>]| (0..hole.len()).max_by(|a, b| hole[*a].x.total_cmp(&hole[*b].x));
    let mut holes: Vec<(usize, Vec<Coord<f64>>)> = polygon
        .interiors()
        .iter()
        .map(open)
        .map(|mut hole| {
            // A hole has to be walked the other way round than the outer ring, whichever way it was drawn.
            if (signed_area_m2(&hole) > 0.0) == (signed_area_m2(&ring) > 0.0) {
                hole.reverse();
            }
            hole
        })
        .filter_map(|hole| Some((rightmost(&hole)?, hole)))
        .collect();
    // Beginning with the hole furthest to the east: to the right of each hole lie then only rings that are joined already.
    holes.sort_by(|a, b| b.1[b.0].x.total_cmp(&a.1[a.0].x));
    for (from, hole) in holes {
        let Some((side, landing)) = to_the_right(&ring, hole[from]) else {
            continue;
        };
        let way = (0..=hole.len()).map(|k| hole[(from + k) % hole.len()]);
        let slit = std::iter::once(landing).chain(way).chain([landing]);
        ring.splice(side + 1..side + 1, slit);
    }
    if let Some(&first) = ring.first() {
        ring.push(first);
    }
    ring
}

/// The places of a closed line without the repeated first one at its end.
fn open(line: &LineString<f64>) -> Vec<Coord<f64>> {
    let mut places = line.0.clone();
    if places.len() > 1 && places.first() == places.last() {
        places.pop();
    }
    places
}

/// The nearest side of a ring due east of a place, by the index of its first vertex, and where on it; `None` where there is none.
fn to_the_right(ring: &[Coord<f64>], from: Coord<f64>) -> Option<(usize, Coord<f64>)> {
    let n = ring.len();
    (0..n)
        .filter_map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % n]);
            if (a.y > from.y) == (b.y > from.y) {
                return None;
            }
            let x = a.x + (from.y - a.y) / (b.y - a.y) * (b.x - a.x);
            (x >= from.x).then_some((i, Coord { x, y: from.y }))
        })
        .min_by(|a, b| a.1.x.total_cmp(&b.1.x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, polygon};

    #[test]
    fn a_ring_with_slits_holds_what_the_polygon_holds() {
        let lawn = polygon![
            exterior: [(x: 0.0, y: 0.0), (x: 20.0, y: 0.0), (x: 20.0, y: 12.0), (x: 0.0, y: 12.0)],
            interiors: [
                [(x: 2.0, y: 2.0), (x: 4.0, y: 2.0), (x: 4.0, y: 4.0), (x: 2.0, y: 4.0)],
                [(x: 8.0, y: 1.0), (x: 8.0, y: 5.0), (x: 9.0, y: 5.0), (x: 9.0, y: 1.0)],
            ],
        ];
        let held = lawn.unsigned_area();
        let rings = bridged(&MultiPolygon(vec![lawn]));
        assert_eq!(rings.len(), 1);
        approx::assert_abs_diff_eq!(signed_area_m2(&rings[0]).abs(), held, epsilon = 1e-9);
        assert_eq!(rings[0].first(), rings[0].last());
    }
}
