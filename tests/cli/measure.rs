use super::{boundwalk, call, piped};
use crate::kept::keep;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// The true net area of the example garden, square metres (`fixtures/garden/PROVENANCE.md`).
const GARDEN_NET_M2: f64 = 206.6745;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/garden")
        .join(name)
}

/// The example survey in a folder of its own, without what is to be ordered: that has tests of its own, and may turn
/// an area that is well measured into one to check.
fn garden() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for log in ["lawn.nmea", "patio.nmea"] {
        fs::copy(fixture(log), folder.path().join(log)).unwrap();
    }
    let sheet = fs::read_to_string(fixture("job.toml")).unwrap();
    let measuring = sheet
        .split_once("[order]")
        .map_or(sheet.as_str(), |(before, _)| before);
    fs::write(folder.path().join("job.toml"), measuring).unwrap();
    folder
}

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

fn document(args: &[&str]) -> (Value, i32) {
    let mut all = vec!["measure", "--format", "json", "--quiet"];
    all.extend(args);
    let (stdout, stderr, code) = call(&all);
    let document: Value =
        serde_json::from_str(&stdout).unwrap_or_else(|error| panic!("{error}: {stdout} {stderr}"));
    keep("result", stdout.as_bytes());
    (document, code)
}

fn number(document: &Value, path: &str) -> f64 {
    document
        .pointer(path)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("no {path} in {document:#}"))
}

#[test]
fn the_garden_is_measured_within_its_band_and_as_its_schema_says() {
    let (document, code) = document(&[text(garden().path())]);
    assert_eq!(code, 0);
    let (net, band) = (
        number(&document, "/area/net_m2"),
        number(&document, "/area/band_m2"),
    );
    assert!((net - GARDEN_NET_M2).abs() < band, "{net} ± {band}");
    // One could order on it: the spare turf people buy anyway is 5 %.
    assert!(band < 0.05 * net, "{net} ± {band}");
    let (low, high) = (
        number(&document, "/area/low_m2"),
        number(&document, "/area/high_m2"),
    );
    approx::assert_abs_diff_eq!(low, net - band, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(high, net + band, epsilon = 1e-9);
    assert_eq!(document["deductions"].as_array().map(Vec::len), Some(3));
    assert_eq!(document["survey"]["job"], "DEMO-1");
}

#[test]
fn a_walked_deduction_named_outright_is_the_sheets() {
    let (by_sheet, _) = document(&[text(garden().path())]);
    let (outright, _) = document(&[
        text(&fixture("lawn.nmea")),
        "--deduct",
        text(&fixture("patio.nmea")),
    ]);
    let patio = |document: &Value| {
        let all = document["deductions"]
            .as_array()
            .cloned()
            .unwrap_or_default();
        all.iter()
            .find(|d| d["kind"] == "walked")
            .and_then(|d| d["deducted_m2"].as_f64())
            .expect("a walked deduction")
    };
    // On planes about two places; to rounding.
    approx::assert_abs_diff_eq!(patio(&outright), patio(&by_sheet), epsilon = 1e-9);
}

#[test]
fn the_same_log_through_standard_input() {
    let log = fixture("lawn.nmea");
    let (from_file, _) = document(&[text(&log)]);
    let args = ["measure", "-", "--format", "json", "--quiet"];
    let output = piped(boundwalk().args(args), fs::read(&log).unwrap());
    let from_stdin: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(from_stdin["area"], from_file["area"]);
    assert_eq!(
        from_stdin["log"]["files"][0]["sha256"],
        from_file["log"]["files"][0]["sha256"]
    );
}

#[test]
fn the_same_call_gives_the_same_bytes() {
    for format in ["text", "json", "geojson", "csv"] {
        let garden = garden();
        let args = ["measure", text(garden.path()), "--format", format];
        assert_eq!(call(&args).0, call(&args).0, "{format}");
    }
}

#[test]
fn every_sheet_is_written_and_told_of_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("new").join("sheets");
    let (stdout, stderr, code) = call(&["measure", text(garden().path()), "--out", text(&out)]);
    assert_eq!(code, 0, "{stderr}");
    assert!(stdout.starts_with("LAWN AREA"));
    assert_eq!(
        stderr
            .lines()
            .filter(|line| line.starts_with("Wrote "))
            .count(),
        1,
        "{stderr}"
    );
    let mut names: Vec<String> = fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    for name in [
        "lawn.geojson",
        "points.csv",
        "report.txt",
        "result.json",
        "takeoff.csv",
    ] {
        assert!(names.iter().any(|n| n == name), "{name} in {names:?}");
        assert!(stderr.contains(name), "{name} in {stderr}");
    }
    assert!(!names.iter().any(|name| name.starts_with('.')), "{names:?}");
    let (whole, _, _) = call(&["measure", text(garden().path()), "--detail"]);
    assert_eq!(fs::read_to_string(out.join("report.txt")).unwrap(), whole);
    let (_, stderr, _) = call(&[
        "measure",
        text(garden().path()),
        "--out",
        text(&out),
        "--quiet",
    ]);
    assert_eq!(stderr, "");
}

#[test]
fn the_map_has_the_lawn_what_was_taken_off_the_walk_and_the_band() {
    let (stdout, _, code) = call(&["measure", text(garden().path()), "--format", "geojson"]);
    assert_eq!(code, 0);
    let map: Value = serde_json::from_str(&stdout).unwrap();
    let features = map["features"].as_array().cloned().unwrap_or_default();
    let count = |role: &str| {
        features
            .iter()
            .filter(|f| f["properties"]["role"] == role)
            .count()
    };
    let roles = ["lawn", "walked", "bed", "walk", "band-low", "band-high"].map(count);
    assert_eq!(roles, [1, 1, 2, 2, 1, 1]);
    assert!(map.get("crs").is_none());
    let lawn = features
        .iter()
        .find(|f| f["properties"]["role"] == "lawn")
        .unwrap();
    assert!(lawn["properties"]["net_m2"].as_f64().is_some());
}

/// The drawn lawn's area on the ellipsoid (Karney's geodesic areas) is the sheet's net area to within the band.
#[test]
fn the_map_encloses_what_the_sheet_says() {
    let (stdout, _, _) = call(&["measure", text(garden().path()), "--format", "geojson"]);
    let map: Value = serde_json::from_str(&stdout).unwrap();
    let area_m2 = |feature: &Value| -> f64 {
        let polygons = match feature["geometry"]["type"].as_str() {
            Some("Polygon") => vec![feature["geometry"]["coordinates"].clone()],
            _ => feature["geometry"]["coordinates"]
                .as_array()
                .cloned()
                .unwrap_or_default(),
        };
        let mut sum = 0.0;
        for ring in polygons
            .iter()
            .flat_map(|p| p.as_array().cloned().unwrap_or_default())
        {
            let geod = geographiclib_rs::Geodesic::wgs84();
            let mut polygon = geographiclib_rs::PolygonArea::new(
                &geod,
                geographiclib_rs::Winding::CounterClockwise,
            );
            let places = ring.as_array().cloned().unwrap_or_default();
            for place in places.iter().skip(1) {
                polygon.add_point(place[1].as_f64().unwrap(), place[0].as_f64().unwrap());
            }
            // Signed: holes run the other way and come off.
            sum += polygon.compute(true).1;
        }
        sum
    };
    for feature in map["features"].as_array().unwrap() {
        let properties = &feature["properties"];
        let stated = match properties["role"].as_str().unwrap() {
            "lawn" => properties["net_m2"].as_f64().unwrap(),
            "bed" | "walked" | "band-low" | "band-high" => properties["area_m2"].as_f64().unwrap(),
            _ => continue,
        };
        let drawn = area_m2(feature);
        // Eight decimals (1 mm) along some 60 m of edge, and the site's height above the ellipsoid: under 0.2 m².
        // The lawn's picture may differ from its estimate, but by no more than a quarter of the band.
        let allowed = if properties["role"] == "lawn" {
            0.6
        } else {
            0.2
        };
        assert!(
            (drawn - stated).abs() < allowed,
            "{}: drawn {drawn}, stated {stated}",
            properties["role"]
        );
    }
}

#[test]
fn feet_for_those_who_order_in_feet() {
    let (stdout, _, code) = call(&["measure", text(garden().path()), "--units", "imperial"]);
    assert_eq!(code, 0);
    let area: f64 = stdout
        .lines()
        .find_map(|line| line.strip_prefix("Net area"))
        .and_then(|rest| rest.split_whitespace().next()?.parse().ok())
        .unwrap_or_else(|| panic!("{stdout}"));
    // 206.6745 m² / 0.09290304 = 2224.6 ft² (exact square foot, NIST Handbook 44).
    assert!((area - 2224.6).abs() < 60.0, "{area}");
    assert!(!stdout.contains(" m²"), "{stdout}");
}

#[test]
fn what_cannot_be_measured_says_what_was_seen_and_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    let lawn = fs::read(fixture("lawn.nmea")).unwrap();
    let swapped = r#"<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="-120.0" lon="45.0"/><trkpt lat="-120.0002" lon="45.0"/>
<trkpt lat="-120.0002" lon="45.0002"/><trkpt lat="-120.0" lon="45.0002"/></trkseg></trk></gpx>"#;
    let bare_folder = folder.path().join("bare");
    fs::create_dir(&bare_folder).unwrap();
    let cases: Vec<(PathBuf, i32, &str)> = vec![
        (folder.path().join("none.nmea"), 1, "no such file"),
        (put("empty.nmea", b""), 1, "empty"),
        (
            put("picture.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
            1,
            "picture",
        ),
        (put("words.txt", b"one\ntwo\n"), 1, "No position"),
        (
            put("void.nmea", b"$GPRMC,120000,V,,,,,,,140526,,,N*4F\r\n"),
            1,
            "no usable position",
        ),
        (put("swapped.gpx", swapped.as_bytes()), 1, "exchanged"),
        (bare_folder, 2, "no job.toml"),
        (put("cut.nmea", &lawn[..6000]), 3, "come round"),
    ];
    for (path, expected, seen) in cases {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let (stdout, stderr, code) = call(&["measure", text(&path)]);
        assert_eq!(code, expected, "{name}: {stdout}{stderr}");
        assert!(stderr.contains(seen), "{name}: {stderr}");
        assert!(!stderr.contains("panicked"), "{name}: {stderr}");
        if expected != 3 {
            assert_eq!(stdout, "", "{name}");
            assert!(stderr.contains(&name), "{name}: {stderr}");
            assert_eq!(stderr.lines().count(), 1, "one paragraph: {stderr}");
        } else {
            assert!(stdout.contains("NO AREA IS GIVEN"), "{name}: {stdout}");
            let (document, code) = document(&[text(&path)]);
            assert_eq!((document["status"].as_str(), code), (Some("withheld"), 3));
            assert!(document["area"].is_null());
        }
    }
}

/// Cut anywhere, with any byte changed: an answer or a clear refusal, never a panic.
#[test]
fn damaged_logs_never_panic() {
    let folder = tempfile::tempdir().unwrap();
    let lawn = fs::read(fixture("lawn.nmea")).unwrap();
    for step in 1..=12 {
        let mut bytes = lawn[..lawn.len() * step / 12].to_vec();
        for at in (step * 37..bytes.len()).step_by(211) {
            bytes[at] = bytes[at].wrapping_add(step as u8);
        }
        let path = folder.path().join(format!("damaged-{step}.nmea"));
        fs::write(&path, &bytes).unwrap();
        let (_, stderr, code) = call(&["measure", text(&path)]);
        assert!(
            (0..=3).contains(&code) && !stderr.contains("panicked"),
            "{step}: {code} {stderr}"
        );
    }
}

#[test]
fn one_survey_has_one_sheet_and_a_log() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("a.toml");
    fs::write(&sheet, "[job]\nnumber = \"1\"\n").unwrap();
    let (_, stderr, code) = call(&["measure", text(&sheet)]);
    assert_eq!(code, 2);
    assert!(stderr.contains("names no log"), "{stderr}");
    let (_, stderr, code) = call(&[
        "measure",
        text(&sheet),
        "--job",
        text(&garden().path().join("job.toml")),
    ]);
    assert_eq!(code, 2);
    assert!(stderr.contains("so is"), "{stderr}");
    // A sheet without a walk beside a log: the log is the walk.
    let (document, code) = document(&[text(&sheet), text(&fixture("lawn.nmea"))]);
    assert_eq!((document["survey"]["job"].as_str(), code), (Some("1"), 0));
}

#[test]
fn the_command_line_wins_over_the_sheet() {
    let (sure, _) = document(&[text(garden().path())]);
    let (surer, _) = document(&[text(garden().path()), "--confidence", "0.99"]);
    assert!(number(&surer, "/area/band_m2") > 1.2 * number(&sure, "/area/band_m2"));
    let (inside, _) = document(&[
        text(garden().path()),
        "--carry",
        "0.2",
        "--carry-side",
        "inside",
    ]);
    let grown = number(&inside, "/area/gross_m2") - number(&sure, "/area/gross_m2");
    // The antenna 0.2 m inside an edge of 57.2 m: the lawn is that much larger, and a little for its corners.
    assert!((10.9..12.3).contains(&grown), "{grown}");
}

/// A walk cut in two whose pieces are named the wrong way round.
#[test]
fn pieces_of_a_walk_are_put_in_the_order_of_their_times() {
    let folder = garden();
    let log = fs::read_to_string(folder.path().join("lawn.nmea")).unwrap();
    let lines: Vec<&str> = log.lines().collect();
    let middle = (lines.len() / 2..)
        .find(|i| lines[*i].contains("GGA"))
        .unwrap();
    let (first, second) = lines.split_at(middle);
    let (a, b) = (folder.path().join("a.nmea"), folder.path().join("b.nmea"));
    fs::write(&a, first.join("\n") + "\n").unwrap();
    fs::write(&b, second.join("\n") + "\n").unwrap();
    let whole = folder.path().join("lawn.nmea");
    let (whole, _) = document(&[text(&whole)]);
    let (pieces, _) = document(&["--by-time", text(&b), text(&a)]);
    // But for an epoch that was cut through.
    let apart = number(&whole, "/area/net_m2") - number(&pieces, "/area/net_m2");
    assert!(apart.abs() < 0.01, "{apart}");
    assert_eq!(pieces["log"]["files"][0]["name"], "b.nmea");
    assert!(!pieces["warnings"].to_string().contains("files-order"));
    let (given, _) = document(&[text(&b), text(&a)]);
    assert!(given["warnings"].to_string().contains("files-order"));
}
