//! Polygons with holes as single rings, for forms that know only rings.

use super::signed_area_m2;
use geo::{Coord, LineString, MultiPolygon, Polygon};

/// Each polygon as one closed line: holes are joined to the outer ring by a slit of no width, walked both ways, so that the
/// line goes round exactly what the polygon covers.
pub(crate) fn bridged(area: &MultiPolygon<f64>) -> Vec<Vec<Coord<f64>>> {
    area.iter().map(ring_of).collect()
}

/// The same of one polygon.
pub(crate) fn ring_of(polygon: &Polygon<f64>) -> Vec<Coord<f64>> {
    let mut ring = open(polygon.exterior());
    let rightmost =
        |hole: &[Coord<f64>]| (0..hole.len()).max_by(|a, b| hole[*a].x.total_cmp(&hole[*b].x));
    let mut holes: Vec<(usize, Vec<Coord<f64>>)> = polygon
        .interiors()
        .iter()
        .map(open)
        .map(|mut hole| {
            // A hole is gone round the other way, whichever way it was drawn.
            if (signed_area_m2(&hole) > 0.0) == (signed_area_m2(&ring) > 0.0) {
                hole.reverse();
            }
            hole
        })
        .filter_map(|hole| Some((rightmost(&hole)?, hole)))
        .collect();
    // The hole furthest to the right first: nothing but rings that are joined already lies to its right.
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

fn open(line: &LineString<f64>) -> Vec<Coord<f64>> {
    let mut places = line.0.clone();
    if places.len() > 1 && places.first() == places.last() {
        places.pop();
    }
    places
}

/// The nearest side of a ring due right of a place, and where on it.
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
