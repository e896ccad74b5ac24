//! The first screen of a report: 24 lines of 80 columns that answer how much, how sure, what to order, what next and what is wrong.

use super::call;
use super::order::{RATES, SHEET};
use boundwalk::visible::columns;
use std::fs;
use std::path::Path;

const FIXTURES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/garden");

fn garden_sheet() -> String {
    fs::read_to_string(Path::new(FIXTURES).join("job.toml")).unwrap()
}

/// Beds where the first one is, ever further off: most of them outside the lawn.
fn beds(count: usize) -> String {
    (0..count)
        .map(|k| {
            format!(
                "[[bed]]\nlabel = \"bed number {k}\"\nlat = {}\nlon = -29.99983259\nradius_m = 0.3\n",
                45.00006749 + 0.00002 * k as f64
            )
        })
        .collect()
}

fn several_lawns() -> String {
    let sheet = garden_sheet();
    let (before, after) = sheet.split_once("[walk]").unwrap();
    let (_, deduct) = after.split_once("[[deduct]]").unwrap();
    let deduct = deduct
        .split_once("[[tape]]")
        .unwrap()
        .0
        .replace("pause = 1", "lat = 45.0000\nlon = -29.9998");
    let (_, order) = after.split_once("[order]").unwrap();
    format!(
        "{before}[[lawn]]\nlabel = \"front\"\nfiles = [\"lawn.nmea\"]\n[[lawn]]\nlabel = \"back\"\nfiles = [\"patio.nmea\"]\n\
         [[deduct]]{deduct}\n[order]{order}"
    )
}

/// Each job: what it is, its command, its sheet.
fn jobs() -> Vec<(&'static str, &'static str, String)> {
    let garden = garden_sheet();
    let measuring = garden.split_once("[order]").unwrap().0.to_owned();
    let with_beds = garden.replace("[[tape]]", &format!("{}[[tape]]", beds(40)));
    let tapes: String = (0..12)
        .map(|k| format!("[[tape]]\nfrom = \"A\"\nto = \"C\"\nlength_m = {}\n", 5 + k))
        .collect();
    vec![
        ("garden", "measure", garden.clone()),
        ("without an order", "measure", measuring),
        ("40 beds, most of them outside", "measure", with_beds),
        ("tapes that cannot be", "measure", garden.clone() + &tapes),
        ("several lawns", "measure", several_lawns()),
        (
            "withheld",
            "measure",
            garden.replace("lawn.nmea", "part.nmea"),
        ),
        ("taped", "tape", SHEET.to_owned()),
    ]
}

fn run(command: &str, sheet: &str, options: &[&str]) -> (String, i32) {
    let folder = tempfile::tempdir().unwrap();
    for log in ["lawn.nmea", "patio.nmea"] {
        fs::copy(Path::new(FIXTURES).join(log), folder.path().join(log)).unwrap();
    }
    let whole = fs::read_to_string(folder.path().join("lawn.nmea")).unwrap();
    let part: String = whole.split_inclusive('\n').take(220).collect();
    fs::write(folder.path().join("part.nmea"), part).unwrap();
    fs::write(folder.path().join("rates.toml"), RATES).unwrap();
    let path = folder.path().join("job.toml");
    fs::write(&path, sheet).unwrap();
    let mut args = vec![command, path.to_str().unwrap(), "--quiet"];
    args.extend(options);
    let (out, err, code) = call(&args);
    assert!(code == 0 || code == 3, "{err}");
    (out, code)
}

#[test]
fn every_job_fits_a_screen_and_says_all_it_must() {
    for (what, command, sheet) in jobs() {
        for units in ["metric", "imperial"] {
            let (out, code) = run(command, &sheet, &["--units", units]);
            assert!(out.lines().count() <= 24, "{what}\n{out}");
            for line in out.lines() {
                assert!(columns(line) <= 80, "{what}: {line}");
            }
            let (detail, _) = run(command, &sheet, &["--units", units, "--detail"]);
            assert!(detail.lines().count() > out.lines().count(), "{what}");
            let line = |name: &str| {
                let mut lines = out.lines().filter(|line| line.starts_with(name));
                lines
                    .next()
                    .unwrap_or_else(|| panic!("{what}: no {name}\n{out}"))
            };
            line("--detail");
            if what == "withheld" {
                assert_eq!(code, 3);
                line("NO AREA");
                continue;
            }
            assert!(detail.contains(line("Net area")), "{what}\n{out}");
            line("Next");
            assert_eq!(out.contains("Please check"), code == 3, "{what}\n{out}");
            let name = if code == 3 {
                "ONCE CHECKED"
            } else {
                "TO ORDER"
            };
            assert_eq!(out.contains(name), sheet.contains("[order"), "{what}");
        }
    }
}

/// The number to order is the one in the result.
#[test]
fn the_number_to_order_stands_out() {
    let sheet = garden_sheet();
    let (json, _) = run("measure", &sheet, &["--format", "json"]);
    let document: serde_json::Value = serde_json::from_str(&json).unwrap();
    let pieces = &document["order"]["turf"]["ordered_pieces"];
    let (out, _) = run("measure", &sheet, &[]);
    assert!(
        out.contains(&format!("TO ORDER        {pieces} ROLLS")),
        "{out}"
    );
}
