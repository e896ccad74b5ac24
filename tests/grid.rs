//! National grids from the outside: point lists in eastings and northings in, eastings and northings out.

use crate::kept::keep;
use boundwalk::survey::{Input, Request, measure};

fn request(grid: &str, list: String) -> Request {
    Request {
        logs: vec![Input::Bytes {
            name: "corners.csv".into(),
            bytes: list.into_bytes(),
        }],
        grid: Some(grid.into()),
        sigma_m: Some(0.01),
        ..Request::default()
    }
}

/// A lawn of 20 x 12 m on the grid, an L with a corner cut, as a survey controller lists it.
const CORNERS: [(f64, f64); 6] = [
    (0.0, 0.0),
    (20.0, 0.0),
    (20.0, 7.0),
    (11.0, 7.0),
    (11.0, 12.0),
    (0.0, 12.0),
];

#[cfg(not(feature = "proj"))]
#[test]
fn a_build_without_grids_says_so_in_one_line() {
    let list = "name,easting,northing\nA,0,0\nB,20,0\nC,20,12\nD,0,12\n";
    let fault = measure(&request("EPSG:27700", list.into())).err();
    let said = fault.map(|fault| fault.to_string()).unwrap_or_default();
    assert!(
        said.contains("--features proj") && !said.contains('\n'),
        "{said}"
    );
}

/// Lengths on UTM are k times those on the ellipsoid, k = 0.9996 (1 + (E − 500 000)² / (2 R²)) to first order (textbook
/// formula; R, the radius of the Earth at that latitude, 6 380 km): on the central meridian a grid square is
/// 0.08 % short of the ground's.
#[test]
fn a_point_list_on_a_grid_has_the_area_of_the_ground() {
    for (west, south) in [(500_000.0, 5_330_000.0), (690_000.0, 5_330_000.0)] {
        let mut list = String::from("name,easting,northing\n");
        for (i, (x, y)) in CORNERS.iter().enumerate() {
            list.push_str(&format!("P{i},{:.3},{:.3}\n", west + x, south + y));
        }
        let measured = measure(&request("EPSG:25832", list)).unwrap();
        let away: f64 = (west + 10.0 - 500_000.0) / 6.38e6;
        let scale = 0.9996 * (1.0 + away * away / 2.0);
        let gross = measured.area.map_or(0.0, |area| area.gross_m2);
        let expected = 195.0 / (scale * scale);
        assert!((gross - expected).abs() < 1e-3, "{gross} {expected}");
        // and back on the grid
        let grid = measured.grid.unwrap();
        assert_eq!(grid.code, "EPSG:25832");
        assert_eq!(grid.points.len(), measured.points.len());
        for point in &grid.points {
            let (x, y) = (point.easting - west, point.northing - south);
            let nearest = CORNERS
                .iter()
                .map(|c| (c.0 - x).hypot(c.1 - y))
                .fold(f64::MAX, f64::min);
            assert!(nearest < 0.005, "{point:?} is {nearest} m from any corner");
        }
    }
}

/// The British grid hangs on a file that isn't part of the build: nothing comes out 2 m off.
#[cfg(feature = "proj")]
#[test]
fn a_missing_shift_file_stops_the_survey() {
    let mut list = String::from("name,easting,northing\n");
    for (i, (x, y)) in CORNERS.iter().enumerate() {
        list.push_str(&format!("P{i},{:.3},{:.3}\n", 430_000.0 + x, 280_000.0 + y));
    }
    match measure(&request("EPSG:27700", list)) {
        Err(fault) => assert_eq!(fault.code(), "grid-shift-file"),
        Ok(measured) => {
            assert!(measured.area.is_none());
            assert!(
                measured
                    .warnings
                    .iter()
                    .any(|w| w.code() == "grid-shift-file"),
                "{:?}",
                measured.warnings
            );
        }
    }
}

/// Tables and drawings carry the grid's numbers beside the degrees.
#[test]
fn tables_and_drawings_carry_eastings_and_northings() {
    use boundwalk::sheet;
    let mut list = String::from("name,lat,lon\n");
    for (i, (x, y)) in CORNERS.iter().enumerate() {
        list.push_str(&format!(
            "P{i},{:.9},{:.9}\n",
            48.1 + y / 111_200.0,
            11.5 + x / 74_500.0
        ));
    }
    let measured = measure(&request("EPSG:25832", list)).unwrap();
    let table = String::from_utf8(sheet::csv::points(&measured).unwrap()).unwrap();
    let mut rows = table.lines().map(|row| row.split(',').collect::<Vec<_>>());
    let (header, row) = (rows.next().unwrap(), rows.next().unwrap());
    let cell = |name| row[header.iter().position(|&n| n == name).unwrap()];
    assert!(
        cell("easting").starts_with("6861")
            && cell("northing").starts_with("53304")
            && cell("grid") == "EPSG:25832",
        "{table}"
    );
    let drawing = String::from_utf8(sheet::geojson::collection(&measured).unwrap()).unwrap();
    assert!(
        drawing.contains("\"grid\": \"EPSG:25832\"") && drawing.contains("\"easting\": 6861"),
        "{drawing}"
    );
    let document = serde_json::to_value(&measured).unwrap();
    keep("result", document.to_string().as_bytes());
}
