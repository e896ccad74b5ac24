//! National grids by EPSG code (the number of a coordinate system in the EPSG register): eastings and northings to longitude and latitude, and
//! back.
//!
//! A grid stands on a *datum*: a survey's own idea of where latitude and longitude are. Grids that stand on WGS 84 or ETRS89 (UTM, and some
//! national ones) need no more than their projection. Any other needs PROJ (the library for such changes), in a build with the feature
//! `proj`; without it such a grid is a fault that says so. A lawn is never measured on a national grid (its scale is not 1): points are read
//! from it and written to it, and measured on the site's own [`crate::plane::Plane`].
//!
//! # Shift files
//! Some grids rest on old surveys whose irregular distortions only a published file of shifts describes. Without that file
//! PROJ would quietly take a formula that is metres off. Here it must use the best operation it knows or
//! none: a grid whose shift file isn't installed is a fault, and never gives positions that are off without a word.

use crate::fault::Fault;
use crate::plane::LOCAL;
use geo::Coord;

/// Whether this value of `grid` says that coordinates are metres of a plan.
pub(crate) fn is_local(code: Option<&str>) -> bool {
    code.is_some_and(|code| code.trim().eq_ignore_ascii_case(LOCAL))
}

/// Checks that a value of `grid` is either [`LOCAL`] or written as an EPSG code.
///
/// # Errors
/// Where it is neither.
pub(crate) fn check(code: &str) -> Result<(), Fault> {
    match is_local(Some(code)) {
        true => Ok(()),
        false => parse(code).map(drop),
    }
}

#[cfg(feature = "proj")]
mod by_proj;
pub mod likely;
// In a build with PROJ it is used only to guess which grid a list may be of, and by the test that compares the two.
#[cfg_attr(feature = "proj", allow(dead_code))]
mod plain;
mod register;

#[cfg(feature = "proj")]
use by_proj::Transformation;
#[cfg(not(feature = "proj"))]
use plain::Transformation;

/// The version of the PROJ that grids are worked out by; none in a build without it.
#[cfg(feature = "proj")]
#[must_use]
pub fn proj_version() -> Option<String> {
    by_proj::version()
}

/// The version of the PROJ that grids are worked out by; none in a build without it.
#[cfg(not(feature = "proj"))]
#[must_use]
pub fn proj_version() -> Option<String> {
    None
}

/// A national grid, for reading from it and writing to it. It cannot be passed to another thread (it is not `Send`), so each makes its own.
pub struct Grid {
    code: u32,
    inner: Transformation,
}

impl Grid {
    /// The grid of a code such as `EPSG:27700`.
    ///
    /// # Errors
    /// A code that isn't one, that names no grid of eastings and northings, or whose best way to WGS 84 needs a shift
    /// file that isn't installed; and in a build without the feature `proj` most codes.
    pub fn new(code: &str) -> Result<Grid, Fault> {
        Grid::between(WGS_84, parse(code)?)
    }

    fn between(degrees: u32, code: u32) -> Result<Grid, Fault> {
        Ok(Grid {
            code,
            inner: Transformation::new(degrees, code)?,
        })
    }

    /// The EPSG code.
    pub(crate) fn code(&self) -> u32 {
        self.code
    }

    /// What the register calls the grid.
    pub(crate) fn name(&self) -> &str {
        self.inner.name()
    }

    /// What eastings and northings are counted in: "metre", "US survey foot".
    pub(crate) fn unit(&self) -> &str {
        self.inner.unit()
    }

    /// How well the operation last used ties the grid to WGS 84, metres, as the register states it: by about that much all positions may
    /// be out *together*, which changes no area. `None` before the first conversion and where the register is silent.
    pub(crate) fn accuracy_m(&self) -> Option<f64> {
        self.inner.accuracy_m()
    }

    /// Easting and northing, in the grid's own unit, to (latitude, longitude) in degrees on WGS 84.
    ///
    /// # Errors
    /// Numbers outside of the grid, and shift files that are missing there.
    pub(crate) fn to_degrees(&self, at: Coord<f64>) -> Result<(f64, f64), Fault> {
        self.inner.to_degrees(at)
    }

    /// Latitude and longitude in degrees on WGS 84 to easting (x) and northing (y) in the grid's own unit.
    ///
    /// # Errors
    /// Places outside of the grid, and shift files that are missing there.
    pub fn to_grid(&self, lat_deg: f64, lon_deg: f64) -> Result<Coord<f64>, Fault> {
        self.inner.to_grid(lat_deg, lon_deg)
    }
}

/// The EPSG code of latitude and longitude on WGS 84.
const WGS_84: u32 = 4326;

/// The number of a code such as `EPSG:27700`, `epsg 27700` or `27700`.
fn parse(code: &str) -> Result<u32, Fault> {
    let text = code.trim();
    let number = match text.get(..4) {
        Some(authority) if authority.eq_ignore_ascii_case("EPSG") => text
            .get(4..)
            .unwrap_or_default()
            .trim_start_matches([':', ' ']),
        _ => text,
    };
    let digits = !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit());
    match number.parse() {
        Ok(code) if digits => Ok(code),
        _ => Err(Fault::usage(
            "grid-code",
            format!("\"{text}\" is no code of a national grid."),
            "Give an EPSG code, for example EPSG:27700, or \"local\" for metres of a plan.",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_in_any_common_writing() {
        for text in [
            "EPSG:27700",
            "epsg:27700",
            " 27700 ",
            "EPSG 27700",
            "Epsg27700",
        ] {
            assert_eq!(parse(text).unwrap(), 27700, "{text}");
        }
        for text in [
            "",
            "EPSG:",
            "EPSG:x",
            "27700.5",
            "+27700",
            "EPSG:99999999999",
            "ESRI:102001",
            "é27700",
            "EPS",
        ] {
            assert_eq!(parse(text).unwrap_err().code(), "grid-code", "{text}");
        }
    }
}
