//! Longitude, latitude and height to metres on the ground, and back.

use crate::fault::Fault;
use geo::Coord;

/// A local equal-area plane (EPSG method 9820) whose metres are ground metres at the site's height.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    pub lat_deg: f64,
    pub lon_deg: f64,
    pub height_m: f64,
    /// Linear factor 1 + h/R.
    pub height_factor: f64,
}

impl Plane {
    /// A plane touching the ellipsoid at this place. Errors on values that are not finite or out of range.
    pub fn new(_lat_deg: f64, _lon_deg: f64, _height_m: f64) -> Result<Plane, Fault> {
        unimplemented!()
    }
    /// Degrees to plane metres (x east, y north).
    pub fn forward(&self, _lat_deg: f64, _lon_deg: f64) -> Coord<f64> {
        unimplemented!()
    }
    /// Plane metres to (latitude, longitude) in degrees.
    pub fn inverse(&self, _at: Coord<f64>) -> (f64, f64) {
        unimplemented!()
    }
    /// The PROJ string of the projection (before the height factor).
    pub fn proj_string(&self) -> String {
        unimplemented!()
    }
}
