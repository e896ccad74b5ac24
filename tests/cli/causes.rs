//! What is wrong is told by its own cause: a slip on the job sheet is not the receiver's error, a walk that stopped early is not a jump.

use super::call;
use std::fs;
use std::path::Path;

const FIXTURES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/garden");

/// The whole report of the example garden by another sheet, on one line, and the exit code.
fn garden(change: impl Fn(&str) -> String) -> (String, i32) {
    let folder = tempfile::tempdir().unwrap();
    for log in ["lawn.nmea", "patio.nmea"] {
        fs::copy(Path::new(FIXTURES).join(log), folder.path().join(log)).unwrap();
    }
    let sheet = fs::read_to_string(Path::new(FIXTURES).join("job.toml")).unwrap();
    fs::write(folder.path().join("job.toml"), change(&sheet)).unwrap();
    let path = folder.path().to_str().unwrap();
    let (out, _, code) = call(&["measure", path, "--detail", "--quiet"]);
    (out.split_whitespace().collect::<Vec<_>>().join(" "), code)
}

#[test]
fn a_bed_larger_than_the_lawn_is_the_sheets_slip() {
    let (out, code) = garden(|sheet| sheet.replace("radius_m = 0.35", "radius_m = 35"));
    assert_eq!(code, 3);
    assert!(
        out.contains("“birch” is 3848 m², larger than the lawn it is taken off"),
        "{out}"
    );
    assert!(out.contains("“cherry” lies within “birch”"), "{out}");
    assert!(!out.contains("receiver's error is as large"), "{out}");
    assert!(!out.contains("RTK receiver"), "{out}");
}

#[test]
fn a_deduction_that_is_the_lawn_itself_is_the_sheets_slip() {
    let (out, code) = garden(|sheet| sheet.replace("[\"patio.nmea\"]", "[\"lawn.nmea\"]"));
    assert_eq!(code, 3);
    assert!(
        out.contains("What is taken off leaves nothing certain of the lawn"),
        "{out}"
    );
    assert!(out.contains("most of it “patio”"), "{out}");
    assert!(!out.contains("receiver's error"), "{out}");
}

#[test]
fn a_deduction_larger_than_the_lawn_is_named() {
    let swap = |sheet: &str| {
        let swapped = sheet
            .replace("lawn.nmea", "x")
            .replace("patio.nmea", "lawn.nmea");
        swapped.replace("\"x\"", "\"patio.nmea\"")
    };
    let (out, code) = garden(swap);
    assert_eq!(code, 3);
    assert!(
        out.contains("“patio” is 218 m², larger than the lawn"),
        "{out}"
    );
    assert!(!out.contains("receiver's error"), "{out}");
}

/// A hundredth of a degree of latitude is 1.11 km.
#[test]
fn a_bed_far_away_is_told_how_far() {
    let (out, code) = garden(|sheet| sheet.replace("45.00006749", "45.01006749"));
    assert_eq!(code, 3);
    assert!(out.contains("“birch” lies 1.1 km from the lawn"), "{out}");
}

/// Once round 20 x 12 m at a metre a second, four seconds at each corner, ending so far before the start and standing there for a while: the fix quality of GGA,
/// claimed by HDOP alone.
fn stopped(short_m: usize, stood_s: usize, quality: u8) -> (String, i32) {
    let corners = [
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 12.0),
        (0.0, 12.0),
        (0.0, 0.0),
    ];
    let mut places = Vec::new();
    for pair in corners.windows(2) {
        let ((x0, y0), (x1, y1)): ((f64, f64), (f64, f64)) = (pair[0], pair[1]);
        let steps = (x1 - x0).hypot(y1 - y0) as usize;
        places.extend([(x0, y0); 4]);
        places.extend((1..steps).map(|k| {
            let share = k as f64 / steps as f64;
            (x0 + share * (x1 - x0), y0 + share * (y1 - y0))
        }));
    }
    places.truncate(places.len() + 1 - short_m);
    places.extend(vec![places[places.len() - 1]; stood_s]);
    let mut log = String::new();
    for (second, (x, y)) in places.iter().enumerate() {
        // In the open Atlantic; a minute of latitude is 1852 m.
        let (north, east) = (y / 1852.0, x / 1852.0 / std::f64::consts::FRAC_1_SQRT_2);
        let text = format!(
            "GNGGA,09{:02}{:02}.00,45{:011.8},N,030{:011.8},E,{quality},12,0.9,20.0,M,46.0,M,,",
            second / 60,
            second % 60,
            north + 0.001,
            east + 0.001
        );
        let sum = text.bytes().fold(0, |sum, byte| sum ^ byte);
        log.push_str(&format!("${text}*{sum:02X}\r\n"));
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("walk.nmea");
    fs::write(&path, log).unwrap();
    let (out, _, code) = call(&["measure", path.to_str().unwrap(), "--detail", "--quiet"]);
    (out.split_whitespace().collect::<Vec<_>>().join(" "), code)
}

#[test]
fn a_walk_that_stopped_short_is_told_so() {
    // Few switch off on the move.
    for (short_m, stood_s) in [(3, 0), (5, 0), (3, 6), (5, 20)] {
        let (out, code) = stopped(short_m, stood_s, 4);
        assert_eq!(code, 3, "{out}");
        // The edge itself is known, whatever the straight line across hides.
        let around = out.split("Edge ").nth(1).unwrap_or_default();
        let edge_m = around.split(' ').next().and_then(|m| m.parse::<f64>().ok());
        assert!(edge_m.is_some_and(|m| (63.0..65.0).contains(&m)), "{out}");
        let told = format!("stops {short_m}.0 m short of its start");
        assert!(out.contains(&told), "{out}");
        assert!(!out.contains("Do not trust this receiver"), "{out}");
        // Said of what was used, not of what to get.
        let rtk = out.matches("an RTK receiver with a fixed solution").count();
        assert_eq!(rtk, 1, "{out}");
        assert!(out.contains("walking it again, to its start"), "{out}");
    }
    let (out, _) = stopped(1, 0, 4);
    assert!(!out.contains("short of its start"), "{out}");
}
