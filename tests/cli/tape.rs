//! `boundwalk tape`.

use super::call;
use crate::kept::keep;
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
    keep("result", document.to_string().as_bytes());
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
    let (out, err, code) = run(text, &["--detail"]);
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
    let (out, ..) = run(text, &["--detail"]);
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

/// A walk of a 12 x 9 m lawn with an error of `sigma_m` per axis, correlated over a minute, ten seconds' stand at each corner.
fn walked_log(seed: u64, sigma_m: f64, quality: u8) -> String {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut normal = || {
        let mut sum = 0.0;
        for _ in 0..12 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (state >> 11) as f64 / (1u64 << 53) as f64;
        }
        sum - 6.0
    };
    let corners = [(0.0, 0.0), (0.0, 9.0), (12.0, 9.0), (12.0, 0.0), (0.0, 0.0)];
    let mut at = Vec::new();
    for pair in corners.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        at.extend(std::iter::repeat_n((x0, y0), 10));
        let steps = f64::abs(x1 - x0).max(f64::abs(y1 - y0)) as usize;
        for k in 1..steps {
            let share = k as f64 / steps as f64;
            at.push((x0 + share * (x1 - x0), y0 + share * (y1 - y0)));
        }
    }
    at.push((0.0, 0.0));
    let keep = (-1.0f64 / 60.0).exp();
    let mut error = [sigma_m * normal(), sigma_m * normal()];
    let mut log = String::new();
    for (k, (x, y)) in at.iter().enumerate() {
        for e in &mut error {
            *e = keep * *e + sigma_m * (1.0 - keep * keep).sqrt() * normal();
        }
        // Metres of a degree at 52 N on WGS 84.
        let lat = 52.0 + (y + error[1]) / 111_267.0;
        let lon = 1.0 + (x + error[0]) / 68_678.0;
        let degrees = |v: f64, width: usize| {
            let whole = v.trunc();
            let minutes = (v - whole) * 60.0;
            format!("{:0width$}{minutes:010.7}", whole as u32)
        };
        let body = format!(
            "GNGGA,{:02}{:02}{:02}.00,{},N,{},E,{quality},12,1.0,50.0,M,47.0,M,,",
            10 + k / 3600,
            k / 60 % 60,
            k % 60,
            degrees(lat, 2),
            degrees(lon, 3)
        );
        let sum = body.bytes().fold(0u8, |a, b| a ^ b);
        log.push_str(&format!("${body}*{sum:02X}\r\n"));
    }
    log
}

/// When the k-th corner of [`walked_log`] was stood at, in the middle of its ten seconds.
fn stood_at(k: usize) -> String {
    let at = [5, 10 + 8 + 5, 20 + 8 + 11 + 5, 30 + 8 + 11 + 8 + 5][k];
    format!("10:{:02}:{:02}", at / 60, at % 60)
}

const WALK: &str = "[walk]\nfiles = [\"lawn.nmea\"]\ncarry_m = 0.0\ncarry_sigma_m = 0.02\n";
// Walked clockwise from A: A-B and C-D are 9 m, B-C and D-A 12 m, the diagonals 15 m.
const SIDES: [(&str, &str, f64); 4] = [
    ("A", "B", 9.0),
    ("B", "C", 12.0),
    ("C", "D", 9.0),
    ("D", "A", 12.0),
];

fn taped_folder(
    log: &str,
    tapes: &[(&str, &str, f64)],
    more: &str,
) -> (tempfile::TempDir, PathBuf) {
    let (held, path) = sheet("");
    let folder = path.parent().unwrap_or_else(|| panic!("no folder"));
    fs::write(folder.join("lawn.nmea"), log).unwrap_or_else(|error| panic!("{error}"));
    let mut text = WALK.to_string();
    for (from, to, length_m) in tapes {
        text.push_str(&format!(
            "[[tape]]\nfrom = \"{from}\"\nto = \"{to}\"\nlength_m = {length_m}\nsigma_m = 0.02\n"
        ));
    }
    text.push_str(more);
    fs::write(&path, text).unwrap_or_else(|error| panic!("{error}"));
    (held, path)
}

fn taped_walk(log: &str, tapes: &[(&str, &str, f64)], more: &str) -> (Value, i32) {
    let (_folder, path) = taped_folder(log, tapes, more);
    let path = path.to_string_lossy().into_owned();
    let (out, err, code) = call(&["measure", &path, "--format", "json", "--quiet"]);
    let result = serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out} {err}"));
    (result, code)
}

#[test]
fn a_phone_walk_with_four_sides_and_a_diagonal_comes_out_at_tape_accuracy() {
    let (mut plain, mut two, mut within) = (0, 0, 0);
    for seed in 1..=6 {
        let log = walked_log(seed, 0.9, 1);
        let mut tapes = SIDES.to_vec();
        tapes.push(("A", "C", 15.0));
        let (all, _) = taped_walk(&log, &tapes, "");
        let text = all["tape"]["adjustment"]["message"].to_string();
        if all["ring"]["corners"] != 4 {
            continue;
        }
        plain += 1;
        near(&all["area"]["net_m2"], 108.0, 1.5);
        let band = all["area"]["band_m2"].as_f64().unwrap_or(f64::NAN);
        assert!(band < 2.5, "{band} {text}");
        let net = all["area"]["net_m2"].as_f64().unwrap_or(f64::NAN);
        within += u32::from((net - 108.0).abs() <= band);
        let (pair, _) = taped_walk(&log, &SIDES[..2], "");
        let (none, _) = taped_walk(&log, &[], "");
        let of = |r: &Value| r["area"]["sigma_m2"].as_f64().unwrap_or(f64::INFINITY);
        two += u32::from(of(&pair) < 0.9 * of(&none) || of(&none).is_infinite());
    }
    assert!(plain >= 3, "{plain} walks showed four corners");
    assert_eq!(within, plain);
    assert_eq!(two, plain);
}

#[test]
fn a_metre_misread_is_named_or_said() {
    let log = walked_log(2, 0.02, 4);
    let mut tapes = SIDES.to_vec();
    tapes.push(("A", "C", 15.0));
    tapes[1].2 = 13.0;
    let square = "[[square]]\ncorner = \"B\"\n[[square]]\ncorner = \"D\"\n";
    let (result, code) = taped_walk(&log, &tapes, square);
    assert_eq!(code, 3);
    assert_eq!(result["status"], "check");
    let message = result["tape"]["adjustment"]["message"].to_string();
    assert!(message.contains("B-C"), "{message}");
    near(&result["area"]["net_m2"], 108.0, 2.0);
}

/// In feet, what the tape disagrees by is in feet too, on the screen and in the day's table, and as data it stays as it is.
#[test]
fn what_disagrees_is_said_in_the_readers_units() {
    let log = walked_log(2, 0.02, 4);
    let mut tapes = SIDES.to_vec();
    tapes.push(("A", "C", 15.0));
    tapes[1].2 = 13.0;
    let (_folder, path) = taped_folder(&log, &tapes, "");
    let args = [path.to_str().unwrap(), "--units", "imperial"];
    let (out, err, _) = call(&[&["measure"], &args[..], &["--detail"]].concat());
    let told = format!("{out}{err}")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(
        told.contains("B-C doesn't fit: about 3.3 ft too long"),
        "{told}"
    );
    assert!(!told.contains(" m too long"), "{told}");
    let (table, ..) = call(&[&["day"], &args[..]].concat());
    let told = table.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("about 3.3 ft too long"), "{told}");
    let (document, ..) = call(&["measure", args[0], "--format", "json", "--quiet"]);
    assert!(
        document.contains("B-C doesn't fit: about 1.0"),
        "{document}"
    );
}

/// Corners named by when they were stood at, by the how-manieth standstill, or by where they are: all the same corners.
#[test]
fn corners_are_named_by_time_standstill_or_place() {
    let log = walked_log(5, 0.02, 4);
    let names = ["gate", "shed", "oak", "tap"];
    let tapes: Vec<(&str, &str, f64)> = (0..4)
        .map(|k| (names[k], names[(k + 1) % 4], SIDES[k].2))
        .chain([("gate", "oak", 15.0)])
        .collect();
    let places: [&dyn Fn(usize) -> String; 3] = [
        &|k| format!("time = {}", stood_at(k)),
        &|k| format!("pause = {}", k + 1),
        &|k| {
            let (x, y) = [(0.0, 0.0), (0.0, 9.0), (12.0, 9.0), (12.0, 0.0)][k];
            let (lat, lon) = (52.0 + y / 111_267.0, 1.0 + x / 68_678.0);
            format!("lat = {lat:.8}\nlon = {lon:.8}")
        },
    ];
    for place in places {
        let corners: String = (0..4)
            .map(|k| format!("[[corner]]\nname = \"{}\"\n{}\n", names[k], place(k)))
            .collect();
        let (result, code) = taped_walk(&log, &tapes, &corners);
        assert_eq!(code, 0, "{corners}{result}");
        assert_eq!(result["ring"]["corners"], 4, "{corners}");
        near(&result["area"]["net_m2"], 108.0, 0.3);
        for (check, tape) in result["tape"]["checks"]
            .as_array()
            .unwrap()
            .iter()
            .zip(&tapes)
        {
            near(&check["walked"], tape.2, 0.15);
        }
    }
    // One that is nowhere on the walk.
    let corner = "[[corner]]\nname = \"gate\"\npause = 9\n";
    let (result, code) = taped_walk(&log, &[], corner);
    assert_ne!(code, 0, "{result}");
}

/// Four sides and both diagonals, one of them a metre out, on a phone's walk: said, not guessed.
#[test]
fn with_both_diagonals_one_of_these_is_wrong() {
    let corners: String = ["A", "B", "C", "D"]
        .iter()
        .enumerate()
        .map(|(k, name)| format!("[[corner]]\nname = \"{name}\"\ntime = {}\n", stood_at(k)))
        .collect();
    let mut tapes = SIDES.to_vec();
    tapes.extend([("A", "C", 15.0), ("B", "D", 16.0)]);
    let (result, code) = taped_walk(&walked_log(3, 0.9, 1), &tapes, &corners);
    assert_eq!(code, 3, "{result}");
    assert_eq!(result["status"], "check");
    let said = result["warnings"].to_string();
    assert!(
        said.contains("One of these is wrong, and the figure can't tell which: "),
        "{said}"
    );
    // The two diagonals alone against a walk of centimetres: the walk tells.
    let (result, code) = taped_walk(
        &walked_log(3, 0.02, 4),
        &[("A", "C", 15.0), ("B", "D", 16.0)],
        "",
    );
    assert_eq!(code, 3, "{result}");
    let said = result["warnings"].to_string();
    assert!(said.contains("B-D"), "{said}");
}

/// One foot is 0.3048 m and one yard 0.9144 m, exactly (international yard and pound agreement, 1959).
#[test]
fn a_length_in_the_wrong_unit_is_named() {
    let log = walked_log(2, 0.02, 4);
    for (per_m, words) in [
        (1.0 / 0.3048, "feet entered as metres"),
        (1.0 / 0.9144, "yards entered as metres"),
    ] {
        let mut tapes = SIDES.to_vec();
        tapes.push(("A", "C", 15.0));
        tapes[0].2 *= per_m;
        let (result, code) = taped_walk(&log, &tapes, "");
        assert_eq!(code, 3);
        let suspect = result["tape"]["checks"][0]["suspect"].to_string();
        assert!(suspect.contains(words), "{suspect}");
        // All of them in the wrong unit.
        for tape in &mut tapes {
            tape.2 = match tape.0 {
                "A" if tape.1 == "C" => 15.0 * per_m,
                "A" | "C" => 9.0 * per_m,
                _ => 12.0 * per_m,
            };
        }
        let (result, code) = taped_walk(&log, &tapes, "");
        assert_eq!(code, 3);
        assert_eq!(result["tape"]["adjustment"]["finding"], "scale");
        let said = result["warnings"].to_string();
        assert!(said.contains(words), "{said}");
    }
}

/// The check sheet's lines, taped as it expects and typed back into the job sheet, make the band it foretold.
#[test]
fn readings_typed_back_close_the_loop() {
    let log = walked_log(2, 0.9, 1);
    let (before, _) = taped_walk(&log, &[], "");
    let sheet = &before["check_sheet"];
    let lines: Vec<(String, String, f64)> = sheet["lines"]
        .as_array()
        .unwrap_or_else(|| panic!("{before}"))
        .iter()
        .map(|line| {
            let name = |key: &str| line[key].as_str().unwrap_or_default().to_owned();
            let expected_m = line["expected_m"].as_f64().unwrap_or(f64::NAN);
            (
                name("from"),
                name("to"),
                (1000.0 * expected_m).round() / 1000.0,
            )
        })
        .collect();
    let tapes: Vec<(&str, &str, f64)> = lines
        .iter()
        .map(|(from, to, length_m)| (from.as_str(), to.as_str(), *length_m))
        .collect();
    let (after, _) = taped_walk(&log, &tapes, "");
    assert_eq!(after["tape"]["adjustment"]["accepted"], true, "{after}");
    let foretold = sheet["band_m2"].as_f64().unwrap_or(f64::NAN);
    near(&after["area"]["band_m2"], foretold, 0.05 * foretold);
    let alone = before["area"]["band_m2"].as_f64().unwrap_or(f64::NAN);
    assert!(foretold < 0.5 * alone, "{foretold} against {alone}");
}

#[test]
fn the_sheets_to_tape_and_set_out_from_are_written() {
    let (_folder, path) = sheet(WALK);
    let folder = path.parent().unwrap_or_else(|| panic!("no folder"));
    fs::write(folder.join("lawn.nmea"), walked_log(2, 0.02, 4))
        .unwrap_or_else(|error| panic!("{error}"));
    let out = folder.join("out");
    let (_, err, _) = call(&[
        "measure",
        &path.to_string_lossy(),
        "--out",
        &out.to_string_lossy(),
    ]);
    let check = fs::read_to_string(out.join("check.txt")).unwrap_or_else(|e| panic!("{e} {err}"));
    assert!(
        check.contains("should read") && check.contains("diagonal"),
        "{check}"
    );
    let set_out = fs::read_to_string(out.join("setout.txt")).unwrap_or_else(|e| panic!("{e}"));
    assert!(set_out.contains("Lay the tape from"), "{set_out}");
}

/// Without places there is no plan: what is taken off is told for all that, and the edge is known.
#[test]
fn a_taped_lawn_without_a_plan_is_whole() {
    let text = "[[shape]]\nlabel = \"lawn\"\nkind = \"rectangle\"\nlength_m = 12\nwidth_m = 8\n\n[[shape]]\nlabel = \"tree\"\n\
                kind = \"circle\"\ndiameter_m = 2\ndeduct = true\n\n[[shape]]\nlabel = \"shed\"\nkind = \"rectangle\"\nlength_m = 3\n\
                width_m = 2\ndeduct = true\n\n[order]\n[order.edging]\npiece_m = 2.5\naround = [\"lawn\"]\n";
    let document = json(text);
    let off = &document["deductions"];
    assert_eq!(
        (&off[0]["label"], &off[0]["kind"]),
        (&"tree".into(), &"bed".into())
    );
    assert_eq!(
        (&off[1]["label"], &off[1]["kind"]),
        (&"shed".into(), &"taped".into())
    );
    near(&off[0]["deducted_m2"], std::f64::consts::PI, 1e-9);
    near(&off[1]["deducted_m2"], 6.0, 1e-9);
    // 40 m round the lawn take 16 pieces of 2.5 m.
    assert_eq!(document["order"]["edging"]["pieces"], 16);
    let (screen, ..) = run(text, &[]);
    assert!(screen.contains("tree 3.14, shed 6.00 m²"), "{screen}");
    let (report, ..) = run(text, &["--detail"]);
    for line in ["less tree", "less shed"] {
        assert!(report.contains(line), "{report}");
    }
    // The customer reads of each once.
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sheets");
    run(text, &["--out", out.to_str().unwrap()]);
    let page = fs::read_to_string(out.join("sheet.html")).unwrap();
    assert_eq!(page.matches("tree (3.14").count(), 1, "{page}");
}

/// A folder whose job sheet was taped is a survey like any other: measured alone, with the day's others, and recorded.
#[test]
fn a_taped_folder_goes_where_a_walked_one_does() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("J-7");
    fs::create_dir(&job).unwrap();
    fs::write(job.join("job.toml"), LOT).unwrap();
    let records = folder.path().join("lawns.gpkg");
    let day = folder.path().to_owned();
    let [job, day, records] = [&job, &day, &records].map(|path| path.to_str().unwrap());
    let area = |args: &[&str]| {
        let (out, err, code) = call(args);
        assert_eq!(code, 0, "{out}{err}");
        let document: Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}"));
        document["area"].clone()
    };
    let taped = area(&["tape", job, "--format", "json", "--quiet"]);
    assert_eq!(
        taped,
        area(&["measure", job, "--format", "json", "--quiet"])
    );
    assert_eq!(
        taped,
        area(&[
            "day",
            day,
            "--format",
            "json",
            "--quiet",
            "--records",
            records
        ])
    );
    let (listed, _, code) = call(&["records", "list", records]);
    assert_eq!(code, 0);
    assert!(listed.contains("J-7"), "{listed}");
}

/// Two parts that lie apart, the first with a bed of 1 m across: 12 x 8 m and 5 x 4 m. By hand: letters go on in the order of the sheet,
/// from A at the baseline's start to B at its end; C lies 8 m left of B.
const TWO_PARTS: &str = "[[shape]]\nlabel = \"front\"\nkind = \"rectangle\"\nlength_m = 12\nwidth_m = 8\nat_m = [0, 0]\n\
    bearing_deg = 90\n\n[[shape]]\nlabel = \"bed\"\nkind = \"circle\"\ndiameter_m = 1\ndeduct = true\nat_m = [3, 2]\n\n\
    [[shape]]\nlabel = \"side\"\nkind = \"rectangle\"\nlength_m = 5\nwidth_m = 4\nat_m = [20, 0]\nbearing_deg = 90\n\n\
    [order]\n[order.edging]\naround = [\"lawn\", \"beds\"]\n";

#[test]
fn a_taped_lawn_has_corners_sides_and_a_set_out() {
    let document = json(TWO_PARTS);
    assert_eq!(document["lawns"][0]["label"], "front");
    near(
        &document["lawns"][0]["net_m2"],
        96.0 - std::f64::consts::PI / 4.0,
        1e-6,
    );
    near(&document["lawns"][1]["net_m2"], 20.0, 1e-6);
    // 40 and 18 m take 16 and 8 pieces of 2.5 m, the bed's 3.14 m take 2.
    assert_eq!(document["order"]["edging"]["pieces"], 26);
    let rows = document["set_out"]["rows"].as_array().unwrap();
    let row = |name: &str| rows.iter().find(|row| row["name"] == name).unwrap();
    near(&row("B")["chainage_m"], 12.0, 1e-6);
    near(&row("C")["offset_m"], 8.0, 1e-6);
    assert_eq!(row("C")["side"], "left");
    near(&row("bed")["offset_m"], 2.0, 1e-6);
    near(&row("bed")["radius_m"], 0.5, 1e-6);
    let other = &document["other_lawns"][0];
    assert_eq!(other["label"], "side");
    assert_eq!(other["set_out"]["baseline"]["from"], "E");
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sheets");
    run(TWO_PARTS, &["--out", out.to_str().unwrap()]);
    let read = |name: &str| fs::read_to_string(out.join(name)).unwrap();
    let plan = read("plan.svg");
    for said in ["12.00 m", "8.00 m", "5.00 m", ">A<", ">H<", "front"] {
        assert!(plan.contains(said), "{said}");
    }
    for name in ["sheet.html", "plan.svg", "setout.txt", "check.txt"] {
        let text = read(name).to_lowercase().replace("boundwalk", "");
        assert!(
            !text.contains("walk"),
            "{name} of a taped lawn speaks of a walk"
        );
    }
}

/// Where the parts of a lawn touch is not known without a plan; a bed is as long round as it was taped.
#[test]
fn edging_that_nobody_can_count_is_told() {
    let text = TWO_PARTS.replace("at_m = [20, 0]\nbearing_deg = 90\n", "");
    let flagged = |text: &str| -> Value {
        let (out, err, code) = run(text, &["--format", "json"]);
        assert_eq!(code, 3, "{err}");
        serde_json::from_str(&out).unwrap()
    };
    let document = flagged(&text);
    assert_eq!(document["status"], "check");
    assert_eq!(document["warnings"][0]["code"], "edging-uncounted");
    assert_eq!(document["order"]["edging"]["pieces"], 2);
    let lawn_alone = text.replace(", \"beds\"", "");
    assert!(flagged(&lawn_alone)["order"]["edging"].is_null());
}
