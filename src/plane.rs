//! From latitude, longitude and height to metres on the ground, and back.
//!
//! A lawn is measured on a plane of its own: the Lambert azimuthal equal-area projection of the WGS 84 ellipsoid
//! (EPSG method 9820) about the site, times the height factor. Areas on it are ground areas; lengths within a
//! kilometre of the centre are true to 1e-7.

pub mod laea;

use crate::fault::Fault;
use geo::Coord;
use laea::{Ellipsoid, Laea, turn};

/// What `--grid`, and `grid` in the job sheet, say where x and y are metres of a plan that lies at no known place on Earth.
pub(crate) const LOCAL: &str = "local";

/// Lowest and highest ground that a survey is believed at, metres: the deepest sea floor and twice the highest peak.
/// A height beyond them comes from a damaged log, and would change the area by more than 0.3 % (below) or 0.5 % (above).
const HEIGHTS_M: std::ops::RangeInclusive<f64> = -11_000.0..=18_000.0;

/// A local equal-area plane (EPSG method 9820) on which areas are areas on the ground at the site's height.
///
/// # Units
/// Degrees on WGS 84 on one side; on the other metres east (x) and north (y) of the site.
///
/// # The height factor
/// Plane metres are projected metres times 1 + h/R, so plane areas carry its square. R is Gauss's radius √(M N) at
/// the site: the ground at height h over a patch of ellipsoid is larger by (1 + h/M)(1 + h/N), which
/// (1 + h/R)² meets to 2e-9 at 1000 m, while any single mean radius of the Earth is off by up to 0.3 % of the
/// correction. h is meant above the ellipsoid; a height above sea level in its place is wrong by
/// the geoid's 100 m at most, 3e-5 of the area.
///
/// # Accuracy
/// Areas agree with geodesic areas to 0.0013 m², the stated accuracy of the library they are tested against, for rings
/// up to 300 m across as they stand, and for rings of 8 km round when both follow the same line. (A straight
/// side of length L on the plane bows away from the geodesic by an area of L³/12 (1.8e-10 /m + s/2R²), s its distance
/// from the centre: 0.4 mm² per 10 m, 0.015 m² per kilometre.) Lengths from the centre are true to
/// 9e-11 s² metres at s metres. Positions go to the plane and back within some nanometres. Works at
/// the poles and across ±180°.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    pub lat_deg: f64,
    pub lon_deg: f64,
    /// Height above the ellipsoid, metres.
    pub height_m: f64,
    /// Linear factor 1 + h/R.
    pub height_factor: f64,
    /// `None` for a plan's own metres.
    laea: Option<Laea>,
}

impl Plane {
    /// A plane touching the ellipsoid at this place.
    ///
    /// # Errors
    /// Values that are not finite, a latitude beyond ±90°, a longitude beyond ±360°, or a height that no ground has
    /// (below -11 000 m or above 18 000 m).
    pub fn new(lat_deg: f64, lon_deg: f64, height_m: f64) -> Result<Plane, Fault> {
        // Written so that NaN (not a number) fails too: it lies in no range.
        if !(-90.0..=90.0).contains(&lat_deg) || !(-360.0..=360.0).contains(&lon_deg) {
            return Err(Fault::withheld(
                "site-position",
                format!(
                    "The site came out at latitude {lat_deg}, longitude {lon_deg}, which is no place on Earth."
                ),
                "Look at the log's coordinates: they may be swapped, or not degrees.",
            ));
        }
        if !HEIGHTS_M.contains(&height_m) {
            return Err(Fault::withheld(
                "site-height",
                format!("The site came out at a height of {height_m} m, where there is no ground."),
                "Look at the log's heights: leave them out if they are not metres.",
            ));
        }
        let lon_deg = turn(lon_deg);
        let ellipsoid = Ellipsoid::WGS84;
        Ok(Plane {
            lat_deg,
            lon_deg,
            height_m,
            height_factor: 1.0 + height_m / ellipsoid.gauss_radius_m(lat_deg),
            laea: Some(Laea::new(ellipsoid, lat_deg, lon_deg, 0.0, 0.0)),
        })
    }

    /// The plane of a plan that lies at no known place on Earth (`--grid local`): its own x and y, in metres, stand in the place of
    /// longitude and latitude, and stay as they are.
    pub(crate) fn local() -> Plane {
        Plane {
            lat_deg: 0.0,
            lon_deg: 0.0,
            height_m: 0.0,
            height_factor: 1.0,
            laea: None,
        }
    }

    /// Whether its metres are those of a plan, so that no place on it has a latitude or longitude.
    pub(crate) fn is_local(&self) -> bool {
        self.laea.is_none()
    }

    /// Degrees to plane metres (x east, y north).
    #[must_use]
    pub fn forward(&self, lat_deg: f64, lon_deg: f64) -> Coord<f64> {
        let Some(laea) = &self.laea else {
            return Coord {
                x: lon_deg,
                y: lat_deg,
            };
        };
        let at = laea.forward(lat_deg, lon_deg);
        Coord {
            x: at.x * self.height_factor,
            y: at.y * self.height_factor,
        }
    }

    /// Plane metres to (latitude, longitude) in degrees, longitude from -180 to below 180. NaN for what is
    /// further away than the other side of the Earth.
    #[must_use]
    pub fn inverse(&self, at: Coord<f64>) -> (f64, f64) {
        let Some(laea) = &self.laea else {
            return (at.y, at.x);
        };
        laea.inverse(Coord {
            x: at.x / self.height_factor,
            y: at.y / self.height_factor,
        })
    }

    /// As [`Plane::inverse`], quicker and within some 1e-13 degrees of it: for the many places of lines that are drawn.
    pub(crate) fn inverse_quick(&self, at: Coord<f64>) -> (f64, f64) {
        let Some(laea) = &self.laea else {
            return (at.y, at.x);
        };
        laea.inverse_quick(Coord {
            x: at.x / self.height_factor,
            y: at.y / self.height_factor,
        })
    }

    /// The PROJ string of the projection (before the height factor), every digit kept; "local" for a plan's own metres.
    #[must_use]
    pub fn proj_string(&self) -> String {
        if self.is_local() {
            return LOCAL.to_owned();
        }
        format!(
            "+proj=laea +lat_0={} +lon_0={} +x_0=0 +y_0=0 +ellps=WGS84 +units=m +no_defs",
            self.lat_deg, self.lon_deg
        )
    }
}

/// The middle of many places, (latitude, longitude) in degrees: the mean of their directions, so that it
/// holds across ±180° and at the poles, where the mean of longitudes is nowhere near. `None` where there is no place, one
/// isn't finite, or they lie all round the globe.
pub fn middle(places_deg: impl IntoIterator<Item = (f64, f64)>) -> Option<(f64, f64)> {
    let (mut x, mut y, mut z, mut count) = (0.0, 0.0, 0.0, 0.0);
    for (lat_deg, lon_deg) in places_deg {
        let (sin_lat, cos_lat) = lat_deg.to_radians().sin_cos();
        let (sin_lon, cos_lon) = lon_deg.to_radians().sin_cos();
        x += cos_lat * cos_lon;
        y += cos_lat * sin_lon;
        z += sin_lat;
        count += 1.0;
    }
    let across = f64::hypot(x, y);
    // The mean direction of places within a few thousand kilometres has a length near 1; a tenth of
    // that is only met by places all over the globe, whose middle means nothing.
    let length = across.hypot(z) / count;
    (length > 0.1).then(|| (z.atan2(across).to_degrees(), turn(y.atan2(x).to_degrees())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_no_place() {
        for (lat, lon, h) in [
            (f64::NAN, 0.0, 0.0),
            (0.0, f64::INFINITY, 0.0),
            (90.000001, 0.0, 0.0),
            (0.0, 361.0, 0.0),
            (0.0, 0.0, f64::NAN),
            (0.0, 0.0, 18_001.0),
            (0.0, 0.0, -11_001.0),
        ] {
            assert!(Plane::new(lat, lon, h).is_err(), "{lat} {lon} {h}");
        }
    }

    #[test]
    fn middle_holds_across_the_antimeridian_and_at_the_pole() {
        let (lat, lon) = middle([(-16.8, 179.9998), (-16.8, -179.9996)]).unwrap();
        assert!(
            (lat + 16.8).abs() < 1e-9 && (lon + 179.9999).abs() < 1e-9,
            "{lat} {lon}"
        );
        let (lat, _) = middle([(89.9999, 0.0), (89.9999, 120.0), (89.9999, 240.0)]).unwrap();
        assert!((lat - 90.0).abs() < 1e-9);
        assert_eq!(middle([]), None);
        assert_eq!(middle([(f64::NAN, 0.0)]), None);
        assert_eq!(middle([(0.0, 0.0), (0.0, 180.0)]), None);
    }
}
