//! Which grid a list of eastings and northings may be of, where nothing says so. The candidates are only suggested to the user, and none is
//! ever taken: numbers fit several grids, and a wrong one puts a lawn on other ground, or scales it.

use super::plain::Transformation;
use super::register::{self, Known};
use geo::Coord;

/// Files of one job lie no further apart than this, metres. What is taken for one lawn is five kilometres each way at the most, and the wrong
/// grid is out by the breadth of a zone or a country. How far an old survey's datum is off (some 200 m) does not matter here.
const NEAR_M: f64 = 10_000.0;
/// The most grids that are suggested: more would be no help to choose from.
const FEW: usize = 3;
/// How far beyond its box a grid may be used, degrees: zones of UTM are used up to the middle of the next one.
const BEYOND_DEG: f64 = 3.0;

/// A place where another file of the job is known to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The file, or what the job sheet calls it.
    pub name: String,
    /// On WGS 84.
    pub lat_deg: f64,
    /// On WGS 84.
    pub lon_deg: f64,
}

/// A grid that the numbers would fit.
struct Likely<'a> {
    known: Known,
    /// The place nearby, and how far away it is, metres.
    near: Option<(&'a Place, f64)>,
    /// Whether it fits only if the first number is the northing.
    exchanged: bool,
}

/// Advice on a list whose first position has these numbers, taken as easting and northing. `places` says where other files of the job are.
pub(crate) fn advice(numbers: (f64, f64), places: &[Place]) -> String {
    let near = near(numbers, places);
    let plan = "If they are metres of a plan that lies on no grid, say --grid local.";
    if near.is_empty() {
        let away = match places.first() {
            Some(place) => format!(
                "No grid that is known here puts it within {:.0} km of {}. ",
                NEAR_M / 1000.0,
                place.name
            ),
            None => String::new(),
        };
        return format!("{away}{} {plan}", of_many(&holding(numbers)));
    }
    let choices: Vec<String> = near.iter().take(FEW).map(Likely::line).collect();
    let exchanged = match near.iter().any(|likely| likely.exchanged) {
        true => {
            " Its first number is the northing then: name the columns northing and easting in a first row."
        }
        false => "",
    };
    format!(
        "On the ground near the other files of the job it would lie with {}.{exchanged} Ask whoever made the list which it is: none is \
         taken because it fits. {plan}",
        choices.join(", or with ")
    )
}

fn of_many(holding: &[Likely<'_>]) -> String {
    let zones = "a zone of UTM (EPSG:326zz north of the equator, 327zz south of it)";
    match holding.len() {
        1..=FEW => {
            let choices: Vec<String> = holding.iter().map(Likely::line).collect();
            format!(
                "Name the grid by its EPSG code with --grid, or with grid in the job sheet. Such numbers are used with {}; they may also be of \
                 {zones} or of another grid. Ask whoever made the list: none is taken because it fits.",
                choices.join(", or with ")
            )
        }
        _ => format!(
            "Name the grid by its EPSG code with --grid, or with grid in the job sheet: that of the country, for instance --grid EPSG:27700 \
             for the British National Grid, or {zones}."
        ),
    }
}

impl Likely<'_> {
    fn line(&self) -> String {
        let Known {
            code,
            name,
            shifted,
            ..
        } = &self.known;
        let away = match self.near {
            Some((place, m)) if m < 1000.0 => format!(", within 1 km of {}", place.name),
            Some((place, m)) => format!(", {:.0} km from {}", m / 1000.0, place.name),
            None => String::new(),
        };
        let needs = match *shifted && cfg!(not(feature = "proj")) {
            true => ", in a build with the feature proj",
            false => "",
        };
        format!("--grid EPSG:{code} ({name}{away}{needs})")
    }
}

/// Grids that put the numbers near one of the places, the nearest first; with the numbers exchanged where none does as they stand.
fn near(numbers: (f64, f64), places: &[Place]) -> Vec<Likely<'_>> {
    let grids: Vec<(Known, Transformation)> = register::national()
        .chain(register::zones())
        .filter(|known| places.iter().any(|place| is_used(known, place)))
        .filter_map(|known| Some((known.clone(), Transformation::projected(known)?)))
        .collect();
    for exchanged in [false, true] {
        let (x, y) = match exchanged {
            false => numbers,
            true => (numbers.1, numbers.0),
        };
        let away_m = |grid: &Transformation, place: &Place| {
            let at = grid.to_grid(place.lat_deg, place.lon_deg).ok()?;
            Some((at.x - x).hypot(at.y - y)).filter(|m| *m <= NEAR_M)
        };
        let mut found: Vec<Likely<'_>> = grids
            .iter()
            .filter_map(|(known, grid)| {
                let near = places
                    .iter()
                    .filter(|place| is_used(known, place))
                    .filter_map(|place| Some((place, away_m(grid, place)?)))
                    .min_by(|a, b| a.1.total_cmp(&b.1))?;
                Some(Likely {
                    known: known.clone(),
                    near: Some(near),
                    exchanged,
                })
            })
            .collect();
        if !found.is_empty() {
            let whole_m = |likely: &Likely<'_>| likely.near.map_or(0, |(_, m)| m.round() as i64);
            found.sort_by_key(|likely| (whole_m(likely), likely.known.code));
            return found;
        }
    }
    Vec::new()
}

/// Whether a grid is used at a place, with [`BEYOND_DEG`] to spare.
fn is_used(known: &Known, place: &Place) -> bool {
    let [west, south, east, north] = known.used;
    let east_of = (place.lon_deg - west + BEYOND_DEG).rem_euclid(360.0);
    east_of <= east - west + 2.0 * BEYOND_DEG
        && (south - BEYOND_DEG..=north + BEYOND_DEG).contains(&place.lat_deg)
}

/// National grids of which the numbers, converted to degrees, lie in the box where the grid is used.
fn holding(numbers: (f64, f64)) -> Vec<Likely<'static>> {
    let inside = |known: &Known| {
        let at = Transformation::projected(known.clone())?
            .to_degrees(Coord {
                x: numbers.0,
                y: numbers.1,
            })
            .ok()?;
        let [west, south, east, north] = known.used;
        Some((south..=north).contains(&at.0) && (west..=east).contains(&at.1))
    };
    register::national()
        .filter(|known| inside(known) == Some(true))
        .map(|known| Likely {
            known,
            near: None,
            exchanged: false,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(lat_deg: f64, lon_deg: f64) -> [Place; 1] {
        [Place {
            name: "walk.nmea".into(),
            lat_deg,
            lon_deg,
        }]
    }

    fn codes(likely: &[Likely<'_>]) -> Vec<u32> {
        likely.iter().map(|likely| likely.known.code).collect()
    }

    /// The places and numbers were worked out by PROJ 9.5.1 with its copy of the register (version 11.022), through `pyproj`, with the
    /// change of datum.
    #[test]
    fn a_national_grid_is_found_by_the_walk_beside_the_list() {
        for (code, lat, lon, easting, northing) in [
            (2056, 46.81, 8.22, 2659638.0, 1184612.0),
            (2100, 38.31, 23.94, 494605.0, 4239925.0),
            (3003, 41.78, 8.96, 1496702.0, 4625363.0),
            (3004, 40.93, 15.49, 2561262.0, 4531109.0),
            (3844, 45.86, 25.84, 565337.0, 484818.0),
            (21781, 46.81, 8.22, 659638.0, 184612.0),
            (23700, 47.16, 19.5, 684314.0, 201864.0),
            (27700, 52.1, -1.2, 454896.0, 244931.0),
            (28992, 52.23, 5.21, 142894.0, 471340.0),
            (29903, 53.41, -7.95, 203374.0, 239961.0),
            (31254, 47.19, 10.68, 26296.0, 227958.0),
            (31255, 47.59, 13.34, 557.0, 272363.0),
            (31256, 47.79, 16.0, -24888.0, 294644.0),
            (31287, 47.71, 13.35, 401307.0, 423398.0),
            (31370, 50.5, 4.45, 155764.0, 132137.0),
            (31466, 51.0, 6.8, 2556200.0, 5651952.0),
            (31467, 51.18, 9.0, 3500073.0, 5671671.0),
            (31468, 50.99, 12.0, 4500106.0, 5650531.0),
        ] {
            let places = at(lat + 0.01, lon);
            let found = near((easting, northing), &places);
            assert!(codes(&found).contains(&code), "{code} {:?}", codes(&found));
            assert!(found.len() <= FEW, "{code} {:?}", codes(&found));
            let exchanged = near((northing, easting), &places);
            assert!(codes(&exchanged).contains(&code), "{code}");
            assert!(exchanged.iter().all(|likely| likely.exchanged), "{code}");
            assert!(
                codes(&holding((easting, northing))).contains(&code),
                "{code}"
            );
        }
    }

    #[test]
    fn a_zone_is_found_by_the_walk_and_never_named_without_one() {
        let numbers = (693_566.088, 5_330_684.897);
        let munich = at(48.11, 11.61);
        assert_eq!(codes(&near(numbers, &munich)), [25832, 32632]);
        let said = advice(numbers, &munich);
        assert!(
            said.contains("--grid EPSG:25832 (ETRS89 / UTM zone 32N, 1 km from walk.nmea)"),
            "{said}"
        );
        // The walk is elsewhere, and no zone fits.
        let said = advice(numbers, &at(40.0, -105.0));
        assert!(
            said.starts_with("No grid that is known here puts it within 10 km of walk.nmea."),
            "{said}"
        );
        assert!(!advice(numbers, &[]).contains("EPSG:25832"));
        // A place south of the equator, one across the date line, and numbers that fit no grid.
        assert_eq!(
            codes(&near((816_196.712, 6_241_444.314), &at(-33.92, 18.42))),
            [32733]
        );
        assert!(near((f64::NAN, 1e300), &munich).is_empty());
    }
}
