//! `boundwalk tape`.

use super::call;
use serde_json::Value;
use std::fs;
use std::path::PathBuf;

fn sheet(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    let path = folder.path().join("tape.toml");
    fs::write(&path, text).unwrap_or_else(|error| panic!("{error}"));
    (folder, path)
}

fn run(text: &str, options: &[&str]) -> (String, String, i32) {
    let (_folder, path) = sheet(text);
    let path = path.to_string_lossy().into_owned();
    let mut args = vec!["tape", path.as_str()];
    args.extend(options);
    call(&args)
}

fn json(text: &str) -> Value {
    let (out, err, code) = run(text, &["--format", "json", "--quiet"]);
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out}"))
}

fn near(value: &Value, expected: f64, within: f64) {
    let value = value.as_f64().unwrap_or(f64::NAN);
    assert!(
        (value - expected).abs() <= within,
        "{value} is not {expected}"
    );
}

/// Purdue Turf Tips, 18 April 2014: a lot of half (90 + 60) x 80 ft less house, drive, porch, beds and two quarter circles is
/// 3,779 sq ft; exactly 3,778.47.
const LOT: &str = r#"
[[shape]]
label = "lot"
kind = "trapezoid"
parallel_m = ["90ft", "60ft"]
height_m = "80ft"
[[shape]]
label = "house"
kind = "rectangle"
length_m = "50ft"
width_m = "25ft"
deduct = true
[[shape]]
label = "drive"
kind = "rectangle"
length_m = "40ft"
width_m = "15ft"
deduct = true
[[shape]]
label = "porch"
kind = "rectangle"
length_m = "8ft"
width_m = "12ft"
deduct = true
[[shape]]
label = "bed"
kind = "rectangle"
length_m = "10ft"
width_m = "5ft"
deduct = true
[[shape]]
label = "long bed"
kind = "rectangle"
length_m = "25ft"
width_m = "5ft"
deduct = true
[[shape]]
label = "corner bed"
kind = "circle"
radius_m = "8ft"
sector_deg = 180
deduct = true
"#;

const FOOT2_M2: f64 = 0.3048 * 0.3048;

#[test]
fn a_published_lot_in_feet() {
    let lot = json(LOT);
    near(&lot["area"]["net_m2"], 3778.47 * FOOT2_M2, 0.005 * FOOT2_M2);
    near(&lot["area"]["gross_m2"], 6000.0 * FOOT2_M2, 1e-9);
    let (text, _, _) = run(LOT, &["--units", "imperial"]);
    assert!(text.contains("Net area        3778"), "{text}");
}

#[test]
fn the_document_is_what_its_schema_says() {
    let text = r#"
[[shape]]
label = "main"
kind = "offsets"
chainage_m = [0, 15, 30, 45, 60, 80, 100, 110, 120]
offsets_m = [3.75, 6.20, 5.15, 6.80, 5.60, 4.25, 4.12, 4.65, 6.25]
rule = "simpson"
[[shape]]
label = "yard"
kind = "polygon"
sides_m = [4, 3, 4, 3]
diagonals_m = [5, 5.02]
[[shape]]
label = "green"
kind = "radii"
radii_m = [2, 2.2, 2.4, 2.1, 1.9, 1.8]
[[shape]]
label = "tree"
kind = "circle"
diameter_m = "90cm"
deduct = true
"#;
    let document = json(text);
    let schema = serde_json::from_str(include_str!("../../docs/result.schema.json"))
        .unwrap_or_else(|error| panic!("{error}"));
    let validator = jsonschema::validator_for(&schema).unwrap_or_else(|error| panic!("{error}"));
    let errors: Vec<String> = validator
        .iter_errors(&document)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
    assert_eq!(document["log"]["files"][0]["kind"], "tape");
    assert_eq!(document["shapes"][0]["kind"], "offsets");
    // Study data of unequal spacing: Simpson on each run of equal spaces, 632.95 (answer computed).
    near(&document["shapes"][0]["area_m2"], 632.95, 1e-9);
    assert_eq!(document["shapes"][3]["deducted"], true);
    assert_eq!(document["plane"], Value::Null);
    let factor = document["area"]["coverage_factor"].as_f64().unwrap_or(0.0);
    assert!((factor - 1.96).abs() < 1e-3);
}

#[test]
fn a_wavy_edge_says_which_rule_was_used_where() {
    let text = "[[shape]]\nlabel = \"main lawn\"\nkind = \"offsets\"\nspacing_m = 1.0\nrule = \"simpson\"\noffsets_m = [4.0, 4.3, 4.9, \
                5.6, 6.1, 6.3, 6.2, 5.8, 5.3, 4.9, 4.7, 4.8, 5.2, 5.7, 6.0, 6.1]\n";
    // Own reference case: 80.85 by the stated rule.
    near(&json(text)["area"]["net_m2"], 80.85, 5e-3);
    let (out, err, code) = run(text, &[]);
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(
        out.contains("Simpson's rule on 14 spaces from 0.00 m to 14.00 m"),
        "{out}"
    );
    assert!(
        out.contains("trapezoid rule on 1 space from 14.00 m to 15.00 m"),
        "{out}"
    );
    assert!(out.contains("the edge between the offsets"), "{out}");
}

#[test]
fn the_mean_radius_stands_beside_the_area_from_radii() {
    let text = "[[shape]]\nkind = \"radii\"\nradii_m = [7.1, 8.9, 9.7, 10.9, 12.4, 11.7, 11.8, 9.9, 6.8, 8.2, 9.7, 10.4, 12.0, 11.4, 8.9, 8.0]\n";
    let (out, ..) = run(text, &[]);
    let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
    // Course hand-out, 16 radii: pi x mean² is 305.6 against 314.8 by the sectors, 2.9 % low.
    assert!(
        out.contains("pi x (mean radius)², would give 305.6"),
        "{out}"
    );
    assert!(out.contains("2.9 % low"), "{out}");
}

#[test]
fn lengths_that_disagree_are_flagged() {
    let text = "[[shape]]\nlabel = \"yard\"\nkind = \"polygon\"\nsides_m = [12, 9, 12, 9]\ndiagonals_m = [15, 16]\n";
    let (out, err, code) = run(text, &[]);
    assert_eq!(code, 3, "{out}");
    assert!(out.contains("One of these is wrong"), "{out}");
    assert!(err.contains("warning:"), "{err}");
}

#[test]
fn every_fault_with_its_line_and_the_right_exit_code() {
    let text = "[[shape]]\nkind = \"triangle\"\nsides_m = [1, 2, 5]\n\n[[shape]]\nkind = \"offsets\"\nspacing_m = 1\noffsets_m = [2]\n";
    let (out, err, code) = run(text, &[]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(
        err.contains("tape.toml line 1:") && err.contains("tape.toml line 5:"),
        "{err}"
    );
    let (_, err, code) = run(
        "[[shape]]\nkind = \"rectangle\"\nlength_m = -4\nwidth = 3\n",
        &[],
    );
    assert_eq!(code, 2);
    assert!(
        err.contains("more than 0") && err.contains("width_m"),
        "{err}"
    );
    let (_, err, code) = run("[job]\nnumber = \"1\"\n", &[]);
    assert_eq!(code, 2);
    assert!(err.contains("no [[shape]]"), "{err}");
    let (_, _, code) = call(&["tape", "not-there.toml"]);
    assert_eq!(code, 1);
}

#[test]
fn every_sheet_is_written() {
    let (folder, path) = sheet("[[shape]]\nkind = \"rectangle\"\nlength_m = 12\nwidth_m = 8\n");
    let out = folder.path().join("sheets");
    let (_, err, code) = call(&[
        "tape",
        &path.to_string_lossy(),
        "--out",
        &out.to_string_lossy(),
        "--quiet",
    ]);
    assert_eq!(code, 0, "{err}");
    for name in ["report.txt", "result.json", "takeoff.csv"] {
        assert!(out.join(name).is_file(), "{name}");
    }
    let takeoff = fs::read_to_string(out.join("takeoff.csv")).unwrap_or_default();
    assert!(
        takeoff.contains("taped shape,shape 1,96.000000,m2"),
        "{takeoff}"
    );
}
