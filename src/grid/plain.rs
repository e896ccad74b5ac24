//! Grids that stand on ETRS89 or WGS 84 themselves, so that no change of datum is needed but only the projection, by a library in Rust.
//! Parameters are those of the EPSG register; the tests of a build with PROJ compare each with PROJ's copy of it.

use super::register::{self, Known};
use crate::fault::Fault;
use geo::Coord;
use proj4rs::{Proj, transform::transform};

/// How far apart ETRS89, which moves with Europe, and WGS 84, which does not, may be, metres: as much as the register says that taking them
/// for the same may be wrong by.
const TIED_M: f64 = 1.0;

/// Both ways between degrees and one grid.
pub(super) struct Transformation {
    known: Known,
    degrees: Proj,
    grid: Proj,
}

impl Transformation {
    pub(super) fn new(_degrees: u32, code: u32) -> Result<Transformation, Fault> {
        register::of(code)
            .filter(|known| !known.shifted)
            .and_then(Transformation::projected)
            .ok_or_else(|| {
                Fault::usage(
                    "grid-not-built-in",
                    format!("This build cannot read or write the national grid EPSG:{code}."),
                    "Build it with `cargo build --release --features proj` (needs CMake, a C++ compiler and SQLite), give latitudes and \
                     longitudes, or a UTM zone on WGS 84 or ETRS89 (EPSG:326zz, 327zz, 258zz).",
                )
            })
    }

    /// The projection alone, from degrees on the grid's own datum.
    pub(super) fn projected(known: Known) -> Option<Transformation> {
        // The degrees must be on the same ellipsoid as the grid.
        let figure: Vec<&str> = known
            .projection
            .split(' ')
            .filter(|word| {
                ["+ellps=", "+a=", "+rf="]
                    .iter()
                    .any(|key| word.starts_with(key))
            })
            .collect();
        let degrees = format!("+proj=longlat {} +no_defs", figure.join(" "));
        let grid = format!("{} +units=m +no_defs", known.projection);
        Some(Transformation {
            degrees: Proj::from_proj_string(&degrees).ok()?,
            grid: Proj::from_proj_string(&grid).ok()?,
            known,
        })
    }

    pub(super) fn name(&self) -> &str {
        &self.known.name
    }

    pub(super) fn unit(&self) -> &str {
        "metre"
    }

    pub(super) fn accuracy_m(&self) -> Option<f64> {
        (!self.known.name.starts_with("WGS")).then_some(TIED_M)
    }

    pub(super) fn to_degrees(&self, at: Coord<f64>) -> Result<(f64, f64), Fault> {
        let (lon, lat) = self.converted([&self.grid, &self.degrees], (at.x, at.y), (at.x, at.y))?;
        Ok((lat.to_degrees(), lon.to_degrees()))
    }

    pub(super) fn to_grid(&self, lat_deg: f64, lon_deg: f64) -> Result<Coord<f64>, Fault> {
        let given = (lon_deg.to_radians(), lat_deg.to_radians());
        let (x, y) = self.converted([&self.degrees, &self.grid], given, (lat_deg, lon_deg))?;
        Ok(Coord { x, y })
    }

    /// Converts a pair of numbers from one system to the other; `shown` is how a fault shows them.
    fn converted(
        &self,
        [from, to]: [&Proj; 2],
        given: (f64, f64),
        shown: (f64, f64),
    ) -> Result<(f64, f64), Fault> {
        let mut point = (given.0, given.1, 0.0);
        let done = transform(from, to, &mut point).is_ok();
        // A place counts only if it comes back by the inverse: far from its middle a projection gives numbers without a meaning.
        let mut again = point;
        let back = transform(to, from, &mut again).is_ok();
        let off = (again.0 - given.0).hypot(again.1 - given.1);
        let near = off <= 1e-9 * given.0.hypot(given.1).max(1.0);
        if done && back && near && point.0.is_finite() && point.1.is_finite() {
            return Ok((point.0, point.1));
        }
        Err(Fault::withheld(
            "grid-outside",
            format!(
                "{}, {} lies outside of the grid EPSG:{} ({}).",
                shown.0, shown.1, self.known.code, self.known.name
            ),
            "Look whether the numbers are of this grid, in its unit, and eastings and northings in their own columns.",
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every code that is known here, each in a place where it is used.
    fn all() -> Vec<(u32, f64, f64)> {
        let utm = (1..=60).flat_map(|zone| {
            let middle = f64::from(zone) * 6.0 - 183.0;
            [
                (32600 + zone, 48.2, middle + 1.3),
                (32700 + zone, -33.9, middle - 2.1),
            ]
        });
        // The register has the two easternmost zones for the far north, and the south, alone.
        let etrs = register::ETRS_ZONES.map(|zone| match zone {
            37 => (25837, 75.0, 37.0),
            38 => (25838, 39.5, 44.0),
            _ => (25800 + zone, 52.3, f64::from(zone) * 6.0 - 183.0 + 2.2),
        });
        // The middle of where each is used.
        let named = register::national().filter(|known| !known.shifted);
        let named = named.map(|Known { code, used, .. }| {
            let [west, south, east, north] = used;
            (code, (south + north) / 2.0, (west + east) / 2.0)
        });
        utm.chain(etrs).chain(named).collect()
    }

    /// PROJ 9.5.1 with its copy of the register, asked through `pyproj` for the best operation and none that changes the datum
    /// silently: degrees on each grid's own datum to easting and northing.
    #[test]
    fn each_grid_is_what_proj_makes_of_it() {
        for (code, lat, lon, easting, northing) in [
            (2154, 46.455, 0.36, 497409.718, 6598389.494),
            (2157, 53.51, -7.85, 609949.721, 751123.228),
            (2180, 52.565, 19.245, 516601.816, 522162.468),
            (2193, -40.615, 172.6, 1566164.360, 5503903.273),
            (3006, 62.115, 17.2, 614779.599, 6888939.459),
            (3007, 58.535, 12.12, 156989.794, 6490878.473),
            (3008, 58.88, 13.555, 153172.133, 6529303.098),
            (3009, 58.885, 14.945, 146828.325, 6529860.063),
            (3010, 59.305, 16.62, 156835.940, 6576651.559),
            (3011, 59.78, 18.445, 174995.554, 6629646.404),
            (3012, 63.07, 13.84, 129274.009, 6996253.039),
            (3013, 62.885, 15.435, 133975.350, 6975605.792),
            (3014, 64.755, 16.775, 127386.758, 7184108.664),
            (3015, 61.615, 18.8, 152652.912, 6834026.602),
            (3016, 66.36, 19.78, 128961.187, 7363061.852),
            (3017, 65.82, 21.37, 132624.765, 7302820.641),
            (3018, 66.915, 23.11, 143871.907, 7424881.430),
            (3059, 56.98, 23.75, 484804.904, 315187.414),
            (3067, 64.565, 25.435, 425007.749, 7160901.117),
            (3301, 58.86, 24.385, 522216.249, 6524585.152),
            (3346, 55.27, 23.02, 437721.110, 6126500.625),
            (3763, 39.655, -7.775, 30733.631, -1410.755),
            (3765, 44.54, 16.53, 502384.017, 4933332.883),
            (3794, 46.25, 15.095, 507325.067, 123366.366),
            (3812, 50.605, 4.55, 662833.092, 643831.425),
            (3942, 42.29, 4.385, 1814212.534, 1233133.182),
            (3943, 43.27, 3.03, 1702435.309, 2229993.732),
            (3944, 44.06, 3.06, 1704807.111, 3206667.950),
            (3945, 45.1, 3.225, 1717708.143, 4211136.919),
            (3946, 46.1, 2.575, 1667140.371, 5211201.955),
            (3947, 47.1, 1.53, 1588422.369, 6212163.112),
            (3948, 48.1, 1.78, 1609144.574, 7211837.060),
            (3949, 49.1, 1.78, 1610920.579, 8211835.917),
            (3950, 50.17, 3.125, 1708929.599, 9218915.092),
            (32630, 52.1, -1.2, 623290.488, 5773688.987),
            (32631, 43.6, 1.44, 374090.399, 4828629.496),
            (32733, -33.92, 18.42, 816196.712, 6241444.314),
            (25832, 48.1, 11.6, 693566.088, 5330684.897),
        ] {
            let at = Transformation::new(4326, code)
                .unwrap()
                .to_grid(lat, lon)
                .unwrap();
            let off_m = (at.x - easting).hypot(at.y - northing);
            assert!(off_m < 0.002, "{code} {at:?}");
        }
        let known = register::national().filter(|known| !known.shifted).count();
        assert_eq!(known, 34);
    }

    #[test]
    fn there_and_back_is_the_same_place() {
        for (code, lat, lon) in all() {
            let grid = Transformation::new(4326, code).unwrap();
            let there = grid.to_grid(lat, lon).unwrap();
            let back = grid.to_degrees(there).unwrap();
            assert!(
                (back.0 - lat).abs() < 1e-10 && (back.1 - lon).abs() < 1e-10,
                "{code} {there:?} {back:?}"
            );
        }
    }

    /// EPSG guidance note 7-2 (method 9807, Krueger series, and 9802): the projections as the library does them, on the note's own
    /// ellipsoids. Transverse Mercator: 50 30 00 N, 0 30 00 E on the British grid is E 577274.99, N 69740.50.
    #[test]
    fn worked_examples_of_the_guidance_note() {
        let degrees =
            Proj::from_proj_string("+proj=longlat +a=6377563.396 +rf=299.32496 +no_defs").unwrap();
        let grid = Proj::from_proj_string(
            "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +a=6377563.396 +rf=299.32496 +units=m +no_defs",
        )
        .unwrap();
        let mut point = (0.5f64.to_radians(), 50.5f64.to_radians(), 0.0);
        transform(&degrees, &grid, &mut point).unwrap();
        assert!(
            (point.0 - 577_274.99).abs() < 0.01 && (point.1 - 69_740.50).abs() < 0.01,
            "{point:?}"
        );
    }

    #[test]
    fn a_grid_that_hangs_on_an_old_survey_is_refused() {
        for code in [27700, 31467, 28992, 4326, 1] {
            let refused = Transformation::new(4326, code).err().unwrap();
            assert_eq!(refused.code(), "grid-not-built-in", "{code}");
        }
        let utm = Transformation::new(4326, 32632).unwrap();
        assert_eq!(
            utm.to_degrees(Coord { x: 1e9, y: 1e9 }).unwrap_err().code(),
            "grid-outside"
        );
    }

    /// PROJ and its copy of the EPSG register.
    #[cfg(feature = "proj")]
    #[test]
    fn each_grid_is_that_of_proj() {
        let mut compared = std::collections::BTreeSet::new();
        for (code, lat, lon) in all() {
            let plain = Transformation::new(4326, code).unwrap();
            // Degrees on the grid's own datum, so that no change of it comes in.
            let degrees = match code {
                2193 => 4167,
                32601..=32760 => 4326,
                _ => 4258,
            };
            let theirs = super::super::by_proj::Transformation::new(degrees, code);
            let theirs = theirs.unwrap_or_else(|fault| panic!("{code}: {fault}"));
            let want = match theirs.to_grid(lat, lon) {
                Err(fault) if fault.code() == "grid-outside" => continue,
                want => want.unwrap(),
            };
            // Another realisation of the same datum may be a centimetre off, as the register has it.
            let ours = plain.to_grid(lat, lon).unwrap();
            let off_m = (ours.x - want.x).hypot(ours.y - want.y);
            assert!(off_m < 0.02, "{code} {ours:?} {want:?}");
            compared.insert(code);
        }
        let known: std::collections::BTreeSet<u32> = all().iter().map(|(code, ..)| *code).collect();
        assert_eq!(compared, known);
    }
}
