//! Grids that stand on ETRS89 or WGS 84 themselves, so that no change of datum comes in: their projection alone, by a library in
//! Rust. Parameters are those of the EPSG register; the tests of a build with PROJ hold each against its copy.

use crate::fault::Fault;
use geo::Coord;
use proj4rs::{Proj, transform::transform};

/// ETRS89 moves with Europe, WGS 84 does not: they are as far apart as the register says a null transformation may be wrong.
const TIED_M: f64 = 1.0;
/// Zones of UTM on ETRS89 that are in the register.
const ETRS_ZONES: std::ops::RangeInclusive<u32> = 28..=38;

/// Grids by name, with their projection.
const NAMED: [(u32, &str, &str); 8] = [
    (
        2154,
        "RGF93 v1 / Lambert-93",
        "+proj=lcc +lat_1=49 +lat_2=44 +lat_0=46.5 +lon_0=3 +x_0=700000 +y_0=6600000",
    ),
    (
        2157,
        "IRENET95 / Irish Transverse Mercator",
        "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=0.99982 +x_0=600000 +y_0=750000",
    ),
    (
        2180,
        "ETRF2000-PL / CS92",
        "+proj=tmerc +lat_0=0 +lon_0=19 +k=0.9993 +x_0=500000 +y_0=-5300000",
    ),
    (
        2193,
        "NZGD2000 / New Zealand Transverse Mercator 2000",
        "+proj=tmerc +lat_0=0 +lon_0=173 +k=0.9996 +x_0=1600000 +y_0=10000000",
    ),
    (3006, "SWEREF99 TM", "+proj=utm +zone=33"),
    (3067, "ETRS89 / TM35FIN(E,N)", "+proj=utm +zone=35"),
    (
        3763,
        "ETRS89 / Portugal TM06",
        "+proj=tmerc +lat_0=39.66825833333333 +lon_0=-8.133108333333334 +k=1 +x_0=0 +y_0=0",
    ),
    (
        3812,
        "ETRS89 / Belgian Lambert 2008",
        "+proj=lcc +lat_1=49.83333333333334 +lat_2=51.16666666666666 +lat_0=50.797815 +lon_0=4.359215833333333 +x_0=649328 +y_0=665262",
    ),
];

/// Both ways between degrees and one grid.
pub(super) struct Transformation {
    name: String,
    degrees: Proj,
    grid: Proj,
    code: u32,
}

/// Name and projection of a code.
fn described(code: u32) -> Option<(String, String)> {
    let (name, projection) = match code {
        32601..=32660 => (
            format!("WGS 84 / UTM zone {}N", code - 32600),
            format!("+proj=utm +zone={}", code - 32600),
        ),
        32701..=32760 => (
            format!("WGS 84 / UTM zone {}S", code - 32700),
            format!("+proj=utm +zone={} +south", code - 32700),
        ),
        _ if code >= 25800 && ETRS_ZONES.contains(&(code - 25800)) => (
            format!("ETRS89 / UTM zone {}N", code - 25800),
            format!("+proj=utm +zone={}", code - 25800),
        ),
        _ => {
            let (_, name, projection) = NAMED.iter().find(|(own, ..)| *own == code)?;
            ((*name).to_owned(), (*projection).to_owned())
        }
    };
    let ellipsoid = if name.starts_with("WGS") {
        "WGS84"
    } else {
        "GRS80"
    };
    Some((
        name,
        format!("{projection} +ellps={ellipsoid} +units=m +no_defs"),
    ))
}

impl Transformation {
    pub(super) fn new(_degrees: u32, code: u32) -> Result<Transformation, Fault> {
        let not_built_in = || {
            Fault::usage(
                "grid-not-built-in",
                format!("This build cannot read or write the national grid EPSG:{code}."),
                "Build it with `cargo build --release --features proj` (needs CMake, a C++ compiler and SQLite), give latitudes and \
                 longitudes, or a UTM zone on WGS 84 or ETRS89 (EPSG:326zz, 327zz, 258zz).",
            )
        };
        let (name, projection) = described(code).ok_or_else(not_built_in)?;
        let ellipsoid = if name.starts_with("WGS") {
            "WGS84"
        } else {
            "GRS80"
        };
        let degrees = format!("+proj=longlat +ellps={ellipsoid} +no_defs");
        let made = |text: &str| Proj::from_proj_string(text).map_err(|_| not_built_in());
        Ok(Transformation {
            degrees: made(&degrees)?,
            grid: made(&projection)?,
            name,
            code,
        })
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    pub(super) fn unit(&self) -> &str {
        "metre"
    }

    pub(super) fn accuracy_m(&self) -> Option<f64> {
        (!self.name.starts_with("WGS")).then_some(TIED_M)
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

    fn converted(
        &self,
        [from, to]: [&Proj; 2],
        given: (f64, f64),
        shown: (f64, f64),
    ) -> Result<(f64, f64), Fault> {
        let mut point = (given.0, given.1, 0.0);
        let done = transform(from, to, &mut point).is_ok();
        // Back again, or it was never there: far from its middle a projection gives numbers without a meaning.
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
                shown.0, shown.1, self.code, self.name
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
        let etrs = ETRS_ZONES.map(|zone| match zone {
            37 => (25837, 75.0, 37.0),
            38 => (25838, 39.5, 44.0),
            _ => (25800 + zone, 52.3, f64::from(zone) * 6.0 - 183.0 + 2.2),
        });
        let named = NAMED.iter().map(|(code, ..)| match code {
            2154 => (2154, 47.1, 2.2),
            2157 => (2157, 53.2, -7.4),
            2180 => (2180, 52.1, 20.3),
            2193 => (2193, -41.2, 174.1),
            3006 => (3006, 59.3, 17.9),
            3067 => (3067, 61.2, 25.4),
            3763 => (3763, 39.1, -8.6),
            _ => (3812, 50.6, 4.7),
        });
        utm.chain(etrs).chain(named).collect()
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
