//! Point lists as survey controllers, spreadsheets and databases write them.

use approx::assert_abs_diff_eq;
use boundwalk::fault::Fault;
use boundwalk::fix::{Quality, Source};
use boundwalk::read::{Input, Log, LogKind, read};
use std::f64::consts::SQRT_2;

fn try_log(text: impl AsRef<[u8]>) -> Result<Log, Fault> {
    read(&[Input::Bytes {
        name: "list".into(),
        bytes: text.as_ref().to_vec(),
    }])
}

fn log(text: impl AsRef<[u8]>) -> Log {
    match try_log(text) {
        Ok(log) => log,
        Err(fault) => panic!("{fault}"),
    }
}

fn places(log: &Log) -> Vec<(f64, f64)> {
    log.fixes.iter().map(|f| (f.lat_deg, f.lon_deg)).collect()
}

fn codes(log: &Log) -> Vec<&str> {
    log.warnings.iter().map(|w| w.code()).collect()
}

const CORNERS: [(f64, f64); 4] = [
    (52.1, -1.2),
    (52.1001, -1.2),
    (52.1001, -1.1998),
    (52.1, -1.1998),
];

#[test]
fn headers_separators_and_decimal_marks() {
    let comma = "Point,Latitude,Longitude,Height\n1,52.1,-1.2,80\n2,52.1001,-1.2,80\n3,52.1001,-1.1998,80\n4,52.1,-1.1998,80\n";
    let l = log(comma);
    assert_eq!(places(&l), CORNERS);
    assert_eq!(l.files[0].kind, LogKind::Points);
    assert_eq!((l.files[0].lines, l.fixes[0].line), (5, 2));
    assert_eq!(l.fixes[0].height_m, Some(80.0));
    assert!(
        l.fixes
            .iter()
            .all(|f| f.source == Source::Point && f.clock_s.is_none())
    );
    assert!(
        l.warnings[0]
            .to_string()
            .contains("latitude from \"Latitude\"")
    );
    for (separator, mark) in [(";", ","), ("\t", ","), ("|", "."), (" ", "."), (";", ".")] {
        let text = comma.replace(',', separator);
        let text = if mark == "," {
            text.replace('.', ",")
        } else {
            text
        };
        assert_eq!(places(&log(&text)), CORNERS, "{text}");
    }
    // A byte-order mark, quotes, blank rows, rows of notes before the header, CR LF.
    let dressed = "\u{feff}\"Site list\"\r\n\r\n\"lon\",\"lat\",\"code\"\r\n\"-1.2\",\"52.1\",\"x\"\r\n,,\r\n\"-1.2\",\"52.1001\",\"y, z\"\r\n";
    let l = log(dressed);
    assert_eq!(places(&l), CORNERS[..2]);
    assert_eq!(l.fixes[1].line, 6);
    // Degrees, minutes, seconds.
    let l = log("name;lat;lon\nA;52°06'00\"N;1°12'00\"W\nB;52 6 0.36 N;1 12 0 W\n");
    assert_abs_diff_eq!(l.fixes[1].lat_deg, 52.1001, epsilon = 1e-12);
    assert_abs_diff_eq!(l.fixes[1].lon_deg, -1.2, epsilon = 1e-12);
}

#[test]
fn no_header_is_a_guess_that_says_so() {
    let l = log("A,52.10000,-1.20000,80.1,gate\nB,52.10010,-1.20000,80.1,\n");
    assert_eq!(places(&l), CORNERS[..2]);
    assert!(codes(&l).contains(&"columns-guessed"));
    // Beyond 90 degrees, the first can only be the longitude.
    let l = log("151.20000,-33.90000\n151.20010,-33.90000\n");
    assert_eq!(l.fixes[0].lat_deg, -33.9);
    assert!(!codes(&l).contains(&"columns-guessed"));
}

/// Every kind of accuracy comes to one sigma of each axis, and what it was taken for is said. CEP and 2DRMS of a normal alike in all directions:
/// National Research Council, "The Global Positioning System: A Shared National Asset", 1995, has 2 drms = 2.4 CEP, to two digits.
#[test]
fn accuracies_of_every_kind() {
    let sigma_m = |title: &str| {
        let l = log(format!(
            "lat,lon,{title}\n52.1,-1.2,0.014\n52.1001,-1.2,0.028\n"
        ));
        let said = l.warnings.iter().find(|w| w.code() == "columns").unwrap();
        let fixes: Vec<f32> = l.fixes.iter().map(|f| f.sigma_east_m.unwrap()).collect();
        assert!((fixes[1] - 2.0 * fixes[0]).abs() < 1e-6);
        (f64::from(fixes[0]), said.to_string())
    };
    for (title, sigmas, taken_for) in [
        ("sigma", 1.0, "one sigma of each axis"),
        ("horizontal_accuracy", 1.509_59, "68 %"),
        ("hrms", SQRT_2, "root mean square"),
        ("CQ 2D", SQRT_2, "root mean square"),
        ("Horizontal accuracy (95 %)", 2.447_75, "95 %"),
        ("2DRMS", 2.828_43, "2DRMS"),
        ("CEP", 1.177_41, "CEP"),
    ] {
        let (found_m, said) = sigma_m(title);
        assert_abs_diff_eq!(sigmas * found_m, 0.014, epsilon = 1e-6);
        assert!(said.contains(taken_for) && said.contains(title), "{said}");
    }
    assert_abs_diff_eq!(sigma_m("CEP").0 / sigma_m("2DRMS").0, 2.4, epsilon = 0.05);
    // Of several the one that leaves least to be believed, wherever it stands.
    let l = log("lat,lon,accuracy,sde,sdn,hrms\n52.1,-1.2,3,0.01,0.02,0.5\n");
    assert_eq!(
        (l.fixes[0].sigma_east_m, l.fixes[0].sigma_north_m),
        (Some(0.01), Some(0.02))
    );
    let l = log("lat,lon,accuracy,hrms\n52.1,-1.2,3,0.5\n");
    assert_abs_diff_eq!(l.fixes[0].sigma_east_m.unwrap(), 0.353_55, epsilon = 1e-4);
}

#[test]
fn quality_sigma_time() {
    let l = log("lat,lon,sigma (mm),solution,time,sats\n\
         52.1,-1.2,14,RTK Fixed,2026-05-14T09:30:00Z,17\n\
         52.1001,-1.2,250,Float,2026-05-14T09:30:01Z,12\n\
         52.1002,-1.2,,Autonomous,2026-05-14T09:30:02Z,\n\
         52.1003,-1.2,,No fix,2026-05-14T09:30:03Z,\n");
    let qualities: Vec<Quality> = l.fixes.iter().map(|f| f.quality).collect();
    assert_eq!(
        qualities,
        [Quality::RtkFixed, Quality::RtkFloat, Quality::Autonomous]
    );
    assert_abs_diff_eq!(l.fixes[0].sigma_east_m.unwrap(), 0.014, epsilon = 1e-6);
    assert_eq!(l.fixes[2].sigma_north_m, None);
    assert_eq!(l.fixes[0].clock_s, Some(34_200.0));
    assert_eq!(l.files[0].first_time, "2026-05-14T09:30:00Z");
    // Open post-processing software: other numbers for quality, date and time apart, spaces between.
    let l = log("% solution list\n\
         %  GPST                  latitude(deg) longitude(deg)  height(m)   Q  ns   sdn(m)   sde(m)   sdu(m)\n\
         2026/05/14 09:30:00.000   52.100000000   -1.200000000    80.1000   1  17   0.0060   0.0050   0.0120\n\
         2026/05/14 09:30:00.500   52.100100000   -1.200000000    80.1000   2  17   0.2060   0.3050   0.4120\n");
    assert_eq!(places(&l), CORNERS[..2]);
    assert_eq!(l.fixes[0].quality, Quality::RtkFixed);
    assert_eq!(l.fixes[1].quality, Quality::RtkFloat);
    assert_eq!(l.fixes[1].sigma_east_m, Some(0.305));
    // GPS time is 18 s ahead of UTC since 2017 (IERS Bulletin C).
    assert_eq!(l.fixes[1].clock_s, Some(34_182.5));
    assert_eq!(
        try_log("lat,lon,quality\n52.1,-1.2,8\n")
            .unwrap_err()
            .code(),
        "simulated"
    );
}

#[test]
fn rows_with_a_size_are_beds() {
    let l = log("name,lat,lon,code,radius\n\
         1,52.1,-1.2,,\n2,52.1001,-1.2,,\n3,52.1001,-1.1998,,\n\
         birch,52.10005,-1.1999,dia 70cm,\nrose,52.10005,-1.19985,,\"0,5\"\n");
    assert_eq!(l.fixes.len(), 3);
    assert_eq!(l.marks.len(), 2);
    assert_abs_diff_eq!(l.marks[0].radius_m.unwrap(), 0.35, epsilon = 1e-12);
    assert_eq!(l.marks[0].label, "birch");
    assert_eq!(l.marks[1].radius_m, Some(0.5));
    assert_eq!(l.marks[1].line, 6);
}

#[test]
fn damaged_rows_cost_only_themselves() {
    let l = log(
        "lat,lon\n52.1,-1.2\nabc,def\n52.1001\n52.1001,-1.2\n95.0,200.0\n# note\n52.1001,-1.1998\n\0\u{1},x\n52.1,-1.1998",
    );
    assert_eq!(places(&l), CORNERS);
    let rows: u64 = l.dropped.iter().map(|d| d.count).sum();
    assert_eq!(rows, 4);
    assert!(codes(&l).contains(&"damaged"));
}

#[test]
fn what_cannot_be_measured_is_refused() {
    let fault = try_log("name,easting,northing\n1,451000.1,251000.2\n").unwrap_err();
    assert_eq!(fault.code(), "needs-grid");
    assert!(fault.to_string().contains("list line 2"), "{fault}");
    let fault = try_log("lat,lon\n151.2,-33.9\n151.2001,-33.9\n").unwrap_err();
    assert_eq!(fault.code(), "swapped");
    let fault = try_log("a,b\n1,2\n3,4\n").unwrap_err();
    assert_eq!(fault.code(), "no-columns");
}

#[test]
fn well_known_text() {
    let l = log(
        "POLYGON ((-1.2 52.1, -1.2 52.1001,\n -1.1998 52.1001, -1.1998 52.1, -1.2 52.1), (-1.1999 52.10004, -1.1999 52.10005, -1.19989 52.10005, -1.1999 52.10004))",
    );
    assert_eq!(places(&l)[..4], CORNERS);
    assert_eq!(l.fixes.last().unwrap().track, 1);
    assert_eq!(l.fixes[2].line, 2);
    assert_eq!(
        try_log("POLYGON ((451000 251000, 451010 251000))")
            .unwrap_err()
            .code(),
        "needs-grid"
    );
    assert_eq!(
        try_log("POLYGON ((-1.2 52.1, -1.2").unwrap_err().code(),
        "wkt-broken"
    );
}

/// RFC 7946, appendix A.3: a polygon with a hole, longitudes first.
#[test]
fn geojson() {
    let l = log(r#"{ "type": "Polygon",
         "coordinates": [
             [ [100.0, 0.0], [101.0, 0.0],
               [101.0, 1.0], [100.0, 1.0], [100.0, 0.0] ],
             [ [100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8] ]
         ] }"#);
    assert_eq!(places(&l)[..3], [(0.0, 100.0), (0.0, 101.0), (1.0, 101.0)]);
    assert_eq!(
        (l.fixes[0].line, l.fixes[2].line, l.fixes[5].line),
        (3, 4, 5)
    );
    assert_eq!((l.fixes[4].track, l.fixes[5].track), (0, 1));
    let l = log(r#"{"type":"FeatureCollection","features":[
        {"type":"Feature","properties":{"name":"lawn"},"geometry":{"type":"LineString","coordinates":[[-1.2,52.1,80],[-1.2,52.1001,80],[-1.1998,52.1001,80]]}},
        {"type":"Feature","properties":{"name":"birch","radius_m":0.35},"geometry":{"type":"Point","coordinates":[-1.1999,52.10005]}},
        {"type":"Feature","properties":null,"geometry":null}]}"#);
    assert_eq!((l.fixes.len(), l.marks.len()), (3, 1));
    assert_eq!(l.marks[0].radius_m, Some(0.35));
    assert_eq!(l.marks[0].line, 3);
    assert_eq!(l.fixes[0].height_m, Some(80.0));
    // Of a result of ours, the lawn.
    let l = log(r#"{"type":"FeatureCollection","features":[
        {"type":"Feature","properties":{"role":"lawn"},"geometry":{"type":"Polygon","coordinates":[[[-1.2,52.1],[-1.2,52.1001],[-1.1998,52.1001],[-1.2,52.1]]]}},
        {"type":"Feature","properties":{"role":"band-high"},"geometry":{"type":"Polygon","coordinates":[[[-1.3,52.1],[-1.2,52.1001],[-1.1998,52.1001],[-1.3,52.1]]]}}]}"#);
    assert_eq!(l.fixes.len(), 4);
    let fault = try_log(r#"{"type":"Polygon","coordinates":[[[1,"#).unwrap_err();
    assert_eq!(fault.code(), "geojson-broken");
    let fault = try_log(r#"{"type":"Polygon","coordinates":[[[151.2,-33.9],[151.2,-33.8]]]}"#)
        .map(|l| l.fixes.len());
    assert!(fault.is_err() || fault.is_ok_and(|n| n == 2));
    let deep = "[".repeat(100_000);
    assert_eq!(try_log(deep).unwrap_err().code(), "geojson-broken");
}

/// Corners are few, and each counts, with a time or without.
#[test]
fn a_corner_without_a_time_stays() {
    let text: String = (0..40)
        .map(|i| {
            let time = if i == 7 {
                String::new()
            } else {
                format!("10:00:{i:02}")
            };
            format!("{},52.1{i:05},1.2,{time}\n", i + 1)
        })
        .collect();
    let log = log(format!("name,lat,lon,time\n{text}"));
    assert_eq!(log.fixes.len(), 40);
}
