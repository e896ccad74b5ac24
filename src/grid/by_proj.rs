//! National grids by way of PROJ, in a build with the feature `proj`. It gives a place only by the best operation that PROJ knows for it, and
//! never outside of the area in which the grid is meant to be used.

use crate::fault::Fault;
use crate::plane::laea::turn;
use geo::Coord;
use proj::{Area, Proj, ProjBuilder};

/// Both ways between degrees and one grid.
pub(super) struct Transformation {
    code: u32,
    name: String,
    unit: String,
    /// Whether the grid's first coordinate is the northing (as many grids are defined).
    northing_first: bool,
    /// Where the grid is meant to be used; `None` where the register doesn't say.
    used: Option<Area>,
    ground: Proj,
    grid: Proj,
    there: Proj,
    back: Proj,
}

/// PROJ must use the best operation it knows, even where it could go on without its file, and must never put one datum
/// for another ("ballpark").
const NOTHING_SILENT: [&str; 2] = ["ONLY_BEST=YES", "ALLOW_BALLPARK=NO"];

/// A survey may run this far over the edge of a grid's area, degrees (some 50 km): the register's boxes are rough.
const BEYOND_DEG: f64 = 0.5;

/// The version of the library.
pub(super) fn version() -> Option<String> {
    ProjBuilder::new().lib_info().ok().map(|info| info.version)
}

impl Transformation {
    pub(super) fn new(degrees: u32, code: u32) -> Result<Transformation, Fault> {
        let unknown = |why: String| {
            Fault::usage(
                "grid-unknown",
                format!("EPSG:{code} cannot be used as a grid: {why}."),
                "Look the code up in the EPSG register; it must be of a projected system with eastings and northings.",
            )
        };
        let system = |code: u32| Proj::new(&format!("EPSG:{code}"));
        let grid =
            system(code).map_err(|_| unknown("the register built in doesn't know it".into()))?;
        let ground = system(degrees).map_err(|e| unknown(e.to_string()))?;
        let described =
            Described::of(&grid).ok_or_else(|| unknown("its description cannot be read".into()))?;
        let name = described.name;
        let directions: Vec<&str> = described.directions.iter().map(String::as_str).collect();
        let northing_first = match (described.kind.as_str(), directions.as_slice()) {
            ("ProjectedCRS", ["east", "north"]) => false,
            ("ProjectedCRS", ["north", "east"]) => true,
            ("ProjectedCRS", _) => {
                return Err(unknown(format!(
                    "\"{name}\" counts to the {}",
                    directions.join(" and ")
                )));
            }
            _ => return Err(unknown(format!("\"{name}\" has no eastings and northings"))),
        };
        let way = |from: &Proj, to: &Proj| {
            from.create_crs_to_crs_from_pj(to, None, Some(NOTHING_SILENT.to_vec()))
                .map_err(|_| unknown(format!("no way is known from \"{name}\" to WGS 84")))
        };
        Ok(Transformation {
            code,
            there: way(&ground, &grid)?,
            back: way(&grid, &ground)?,
            used: grid.area_of_use().ok().and_then(|(area, _)| area),
            ground,
            grid,
            name,
            unit: described.unit,
            northing_first,
        })
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    pub(super) fn unit(&self) -> &str {
        &self.unit
    }

    pub(super) fn to_degrees(&self, at: Coord<f64>) -> Result<(f64, f64), Fault> {
        let given = if self.northing_first {
            (at.y, at.x)
        } else {
            (at.x, at.y)
        };
        let (lat, lon) = self
            .convert(&self.back, [&self.grid, &self.ground], given)
            .map_err(|why| self.fault(why, at.x, at.y))?;
        self.within(lat, lon)
            .map_err(|why| self.fault(why, at.x, at.y))?;
        Ok((lat, turn(lon)))
    }

    pub(super) fn to_grid(&self, lat_deg: f64, lon_deg: f64) -> Result<Coord<f64>, Fault> {
        let fault = |why| self.fault(why, lat_deg, lon_deg);
        self.within(lat_deg, lon_deg).map_err(fault)?;
        let (first, second) = self
            .convert(&self.there, [&self.ground, &self.grid], (lat_deg, lon_deg))
            .map_err(fault)?;
        let (x, y) = if self.northing_first {
            (second, first)
        } else {
            (first, second)
        };
        Ok(Coord { x, y })
    }

    /// How well the operation last used ties the grid to WGS 84, metres, as the register states it. `None` before
    /// the first conversion and where the register is silent.
    pub(super) fn accuracy_m(&self) -> Option<f64> {
        [&self.back, &self.there]
            .iter()
            .find_map(|way| stated_accuracy_m(way))
    }

    /// Converts a pair of numbers one way, or says why not: where PROJ fails, it is asked whether a shift file is missing.
    fn convert(
        &self,
        way: &Proj,
        [from, to]: [&Proj; 2],
        given: (f64, f64),
    ) -> Result<(f64, f64), Why> {
        if !(given.0.is_finite() && given.1.is_finite()) {
            return Err(Why::Outside);
        }
        match way.convert(given) {
            Ok((x, y)) if x.is_finite() && y.is_finite() => Ok((x, y)),
            Ok(_) => Err(Why::Outside),
            Err(_) => {
                // Where another operation than the best one works, a shift file is missing, and the register says how far off that one is.
                let second_best = from
                    .create_crs_to_crs_from_pj(
                        to,
                        None,
                        Some(vec!["ONLY_BEST=NO", "ALLOW_BALLPARK=NO"]),
                    )
                    .ok()
                    .filter(|way| {
                        way.convert(given)
                            .is_ok_and(|(x, y)| x.is_finite() && y.is_finite())
                    });
                Err(second_best.map_or(Why::Outside, |way| Why::NoShiftFile {
                    otherwise_m: stated_accuracy_m(&way),
                }))
            }
        }
    }

    /// Fails for a place outside of the grid's area, with [`BEYOND_DEG`] to spare. PROJ computes on far beyond it, with operations that are
    /// meant for other regions.
    fn within(&self, lat: f64, lon: f64) -> Result<(), Why> {
        let Some(used) = &self.used else {
            return Ok(());
        };
        let north_south = lat >= used.south - BEYOND_DEG && lat <= used.north + BEYOND_DEG;
        // The box may run across ±180°, so that longitudes are counted from its western side.
        let width = (used.east - used.west).rem_euclid(360.0);
        let all_round = used.east - used.west >= 360.0;
        let east_west =
            (lon - used.west + BEYOND_DEG).rem_euclid(360.0) <= width + 2.0 * BEYOND_DEG;
        if north_south && (all_round || east_west) {
            Ok(())
        } else {
            Err(Why::Outside)
        }
    }

    fn fault(&self, why: Why, first: f64, second: f64) -> Fault {
        let Transformation { code, name, .. } = self;
        match why {
            Why::Outside => Fault::withheld(
                "grid-outside",
                format!("{first}, {second} lies outside of the grid EPSG:{code} ({name})."),
                "Look whether the numbers are of this grid, in its unit, and eastings and northings in their own columns.",
            ),
            Why::NoShiftFile { otherwise_m } => Fault::withheld(
                "grid-shift-file",
                format!(
                    "The grid EPSG:{code} ({name}) needs a shift file that isn't installed (PROJ has named it){}.",
                    otherwise_m.map_or(String::new(), |m| format!(
                        "; without it every position could be out by {m} m"
                    ))
                ),
                "Give latitudes and longitudes, or a grid that needs no such file, such as the UTM zone on ETRS89 or WGS 84.",
            ),
        }
    }
}

/// Why a place cannot be converted. `otherwise_m` is how far off it could be without the shift file, metres, where that is known.
enum Why {
    Outside,
    NoShiftFile { otherwise_m: Option<f64> },
}

/// The accuracy that the register states of an operation, metres.
fn stated_accuracy_m(way: &Proj) -> Option<f64> {
    // PROJ gives -1 where the register states none.
    Some(way.proj_info().accuracy).filter(|m| *m >= 0.0)
}

/// What PROJ says of a coordinate system.
struct Described {
    kind: String,
    name: String,
    unit: String,
    directions: Vec<String>,
}

impl Described {
    /// Reads the description; `None` where it has no axes or lacks something else that is needed. The unit is that of the first axis.
    fn of(system: &Proj) -> Option<Described> {
        let text = system.to_projjson(None, None, None).ok()?;
        let json: serde_json::Value = serde_json::from_str(&text).ok()?;
        let axes = json.get("coordinate_system")?.get("axis")?.as_array()?;
        let unit = match axes.first()?.get("unit")? {
            serde_json::Value::String(name) => name.clone(),
            unit => unit.get("name")?.as_str()?.to_owned(),
        };
        let direction =
            |axis: &serde_json::Value| Some(axis.get("direction")?.as_str()?.to_owned());
        Some(Described {
            kind: json.get("type")?.as_str()?.to_owned(),
            name: json.get("name")?.as_str()?.to_owned(),
            unit,
            directions: axes.iter().map(direction).collect::<Option<Vec<_>>>()?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: Coord<f64>, easting: f64, northing: f64, within_m: f64) {
        assert!(
            (got.x - easting).abs() < within_m && (got.y - northing).abs() < within_m,
            "{got:?} is not {easting}, {northing}"
        );
    }

    /// Ordnance Survey, "A guide to coordinate systems in Great Britain", annexe C, worked example: from latitude and
    /// longitude on OSGB36 itself (EPSG:4277), so that no shift comes in.
    #[test]
    fn worked_example_of_the_national_grid() {
        let grid = Transformation::new(4277, 27700).unwrap();
        let (lat, lon) = (
            52.0 + 39.0 / 60.0 + 27.2531 / 3600.0,
            1.0 + 43.0 / 60.0 + 4.5177 / 3600.0,
        );
        close(
            grid.to_grid(lat, lon).unwrap(),
            651_409.903,
            313_177.270,
            0.0005,
        );
        let back = grid
            .to_degrees(Coord {
                x: 651_409.903,
                y: 313_177.270,
            })
            .unwrap();
        assert!((back.0 - lat).abs() < 1e-8 && (back.1 - lon).abs() < 1e-8);
    }

    /// IOGP GIGS tests 5110 (EPSG:3035, northing first in the register) and 5101 (UTM zone 31). The UTM place lies
    /// west of the zone, and is held against PROJ's zone 30 there.
    #[test]
    fn published_values() {
        let europe = Transformation::new(4258, 3035).unwrap();
        assert!(europe.northing_first);
        for (lat, lon, easting, northing) in [
            (50.0, 5.0, 3_962_799.451, 2_999_718.853),
            (70.0, 5.0, 4_127_824.658, 5_214_090.649),
            (60.0, 5.0, 4_041_548.125, 4_109_791.660),
            (40.0, 5.0, 3_892_127.020, 1_892_578.962),
            (50.0, 0.0, 3_606_514.431, 3_036_305.967),
        ] {
            close(
                europe.to_grid(lat, lon).unwrap(),
                easting,
                northing,
                0.00051,
            );
            let back = europe
                .to_degrees(Coord {
                    x: easting,
                    y: northing,
                })
                .unwrap();
            assert!(
                (back.0 - lat).abs() < 2e-8 && (back.1 - lon).abs() < 2e-8,
                "{back:?}"
            );
        }
        let mut utm = Transformation::new(4326, 32631).unwrap();
        assert_eq!(utm.to_grid(60.0, -2.0).unwrap_err().code(), "grid-outside");
        utm.used = None;
        close(
            utm.to_grid(60.0, -2.0).unwrap(),
            221_288.770,
            6_661_953.041,
            0.00051,
        );
    }

    /// The best way from the British grid to WGS 84 is a file (OSTN15), which is not part of the build: a fault that says so, where PROJ
    /// left to itself would go on 2 m off.
    #[test]
    fn a_missing_shift_file_is_a_fault() {
        let grid = Transformation::new(4326, 27700).unwrap();
        for fault in [
            grid.to_grid(52.657570306, 1.717921583).unwrap_err(),
            grid.to_degrees(Coord {
                x: 651_409.903,
                y: 313_177.270,
            })
            .unwrap_err(),
        ] {
            assert_eq!(fault.code(), "grid-shift-file");
            assert!(fault.to_string().contains("out by 2 m"), "{fault}");
        }
    }

    #[test]
    fn what_is_no_grid_or_not_on_it() {
        for code in [1, 4326, 4979, 2053, 5703] {
            assert_eq!(
                Transformation::new(4326, code).err().map(|f| f.code()),
                Some("grid-unknown"),
                "{code}"
            );
        }
        let grid = Transformation::new(4326, 25832).unwrap();
        for (lat, lon) in [(-41.0, 174.0), (52.0, -20.0), (f64::NAN, 9.0), (91.0, 9.0)] {
            assert_eq!(
                grid.to_grid(lat, lon).unwrap_err().code(),
                "grid-outside",
                "{lat} {lon}"
            );
        }
        for (x, y) in [
            (5_700_000.0, 500_000.0),
            (f64::NAN, 0.0),
            (1e300, 1e300),
            (0.0, 0.0),
        ] {
            assert_eq!(
                grid.to_degrees(Coord { x, y }).unwrap_err().code(),
                "grid-outside",
                "{x} {y}"
            );
        }
    }

    /// There and back to 2 mm on grids of each kind: northing first, in feet, across ±180°, south, on an old datum (whose
    /// shift, done without heights, isn't undone to the last millimetre).
    #[test]
    fn there_and_back() {
        for (code, lat, lon) in [
            (25832, 48.1, 11.5),
            (2193, -41.3, 174.8),
            (3460, -17.0, 179.9),
            (3460, -17.0, -179.9),
            (6423, 34.0, -118.0),
            (7856, -33.86, 151.2),
            (2056, 46.95, 7.44),
            (28992, 52.2, 5.4),
        ] {
            let grid = Transformation::new(4326, code).unwrap();
            let at = grid.to_grid(lat, lon).unwrap();
            let back = grid.to_degrees(at).unwrap();
            assert!(
                (back.0 - lat).abs() < 2e-8 && (back.1 - lon).abs() < 3e-8,
                "{code} {back:?}"
            );
            assert!(
                grid.accuracy_m().is_some_and(|m| (0.0..=5.0).contains(&m)),
                "{code} {:?}",
                grid.accuracy_m()
            );
        }
    }

    #[test]
    fn names_and_units() {
        let grid = Transformation::new(4326, 25832).unwrap();
        assert_eq!(
            (grid.name(), grid.unit()),
            ("ETRS89 / UTM zone 32N", "metre")
        );
        let feet = Transformation::new(4326, 2230).unwrap();
        assert_eq!(feet.unit(), "US survey foot");
    }
}
