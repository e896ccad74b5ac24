//! Where on earth an invented lawn lies, and degrees for its ground metres.
//!
//! This is kept apart from [`boundwalk::plane`] on purpose, so that a mistake in the plane cannot hide here too. It uses nothing
//! but the ellipsoid's two radii of curvature at the lawn's middle: how sharply the earth bends along the meridian (called M) and
//! across it (called N; see for example Bomford, Geodesy). The area of what lies evenly about the middle is true to about 1e-9 of
//! its size, and that of what lies 10 m to the north or south of it to 2e-6. Values at 52 degrees are tested.

use geo::Coord;

/// The ellipsoid of WGS 84, which satellite positions refer to: half its width at the equator, and how much it is flattened.
const SEMI_MAJOR_M: f64 = 6_378_137.0;
const FLATTENING: f64 = 1.0 / 298.257_223_563;

/// The middle of an invented lawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    pub lat_deg: f64,
    pub lon_deg: f64,
    /// Metres above the ellipsoid.
    pub height_m: f64,
}

/// Places on the open sea, far from any garden: one in the north, one in the south, one at a high latitude, and one across the 180th
/// meridian, where longitudes jump from +180 to −180 degrees.
pub const AT_SEA: [Place; 4] = [
    Place {
        lat_deg: 45.0,
        lon_deg: -30.0,
        height_m: 60.0,
    },
    Place {
        lat_deg: -40.0,
        lon_deg: 100.0,
        height_m: 12.0,
    },
    Place {
        lat_deg: 68.0,
        lon_deg: 2.0,
        height_m: 230.0,
    },
    Place {
        lat_deg: -25.0,
        lon_deg: 179.99995,
        height_m: 35.0,
    },
];

impl Place {
    /// The radii of curvature in metres: along the meridian (M), and across it (N).
    fn radii_m(&self) -> (f64, f64) {
        let e2 = FLATTENING * (2.0 - FLATTENING);
        let w2 = 1.0 - e2 * self.lat_deg.to_radians().sin().powi(2);
        let across = SEMI_MAJOR_M / w2.sqrt();
        (across * (1.0 - e2) / w2, across)
    }

    /// Latitude and longitude in degrees of a point that lies so many metres east and north of the middle, at the place's height.
    pub fn degrees(&self, at: Coord<f64>) -> (f64, f64) {
        let (along, across) = self.radii_m();
        let lat_deg = self.lat_deg + (at.y / (along + self.height_m)).to_degrees();
        let circle = (across + self.height_m) * self.lat_deg.to_radians().cos();
        let lon_deg = self.lon_deg + (at.x / circle).to_degrees();
        (lat_deg, (lon_deg + 180.0).rem_euclid(360.0) - 180.0)
    }

    /// The way back: from degrees to metres east and north of the middle.
    pub fn metres(&self, lat_deg: f64, lon_deg: f64) -> Coord<f64> {
        let (along, across) = self.radii_m();
        let circle = (across + self.height_m) * self.lat_deg.to_radians().cos();
        let east_deg = (lon_deg - self.lon_deg + 180.0).rem_euclid(360.0) - 180.0;
        Coord {
            x: circle * east_deg.to_radians(),
            y: (along + self.height_m) * (lat_deg - self.lat_deg).to_radians(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn radii_and_degree_lengths_at_52_north() {
        // M, N and the metres to a degree at 52 degrees north were recomputed from the constants of WGS 84 for this project.
        let place = Place {
            lat_deg: 52.0,
            lon_deg: 5.0,
            height_m: 0.0,
        };
        let (m, n) = place.radii_m();
        assert_abs_diff_eq!(m, 6375149.7413, epsilon = 1e-3);
        assert_abs_diff_eq!(n, 6391435.2682, epsilon = 1e-3);
        let (lat, lon) = place.degrees(Coord {
            x: 68678.0161,
            y: 111267.3533,
        });
        assert_abs_diff_eq!(lat, 53.0, epsilon = 1e-9);
        assert_abs_diff_eq!(lon, 6.0, epsilon = 1e-9);
    }

    #[test]
    fn there_and_back() {
        for place in AT_SEA {
            let at = Coord { x: -41.5, y: 63.25 };
            let (lat, lon) = place.degrees(at);
            let back = place.metres(lat, lon);
            assert_abs_diff_eq!(back.x, at.x, epsilon = 1e-6);
            assert_abs_diff_eq!(back.y, at.y, epsilon = 1e-6);
        }
    }

    #[test]
    fn areas_are_geodesic_areas() {
        use geographiclib_rs::{Geodesic, PolygonArea, Winding};
        let square = [(-50.0, -50.0), (50.0, -50.0), (50.0, 50.0), (-50.0, 50.0)];
        for place in AT_SEA {
            let flat = Place {
                height_m: 0.0,
                ..place
            };
            let geodesic = Geodesic::wgs84();
            let mut ring = PolygonArea::new(&geodesic, Winding::CounterClockwise);
            for (x, y) in square {
                let (lat, lon) = flat.degrees(Coord { x, y });
                ring.add_point(lat, lon);
            }
            let (_, area, _) = ring.compute(true);
            // The library itself is accurate to 0.0013 m2 for rings under 10 km round.
            assert_abs_diff_eq!(area, 10_000.0, epsilon = 0.002);
        }
    }
}
