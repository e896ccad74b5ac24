//! `--records` and `boundwalk records`: revisions, what changed, several writers.

use super::day::{fixture, put, yard};
use super::geopackage::recorded;
use super::{boundwalk, call};
use rusqlite::Connection;
use serde_json::Value;
use std::fs;
use std::path::Path;

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

fn count(file: &Path, sql: &str) -> i64 {
    Connection::open(file)
        .unwrap()
        .query_row(sql, [], |row| row.get(0))
        .unwrap()
}

fn records(args: &[&str]) -> (String, i32) {
    let mut all = vec!["records"];
    all.extend(args);
    let (stdout, stderr, code) = call(&all);
    (stdout + &stderr, code)
}

#[test]
fn measuring_again_adds_a_revision_and_what_has_not_changed_is_not_measured() {
    let (temp, yard) = yard();
    let file = temp.path().join("lawns.gpkg");
    let day = |more: &[&str]| {
        let mut args = vec![
            "day",
            text(&yard),
            "--records",
            text(&file),
            "--format",
            "json",
            "-q",
        ];
        args.extend(more);
        call(&args).0
    };
    let surveys = || count(&file, "SELECT count(*) FROM surveys");
    let first = day(&[]);
    // Three of the four could be read; of the fourth there is nothing to record.
    assert_eq!(surveys(), 3);
    // The second time the same comes out, from the records.
    assert_eq!(day(&[]), first);
    assert_eq!(surveys(), 3);
    assert_eq!(day(&["--force"]), first);
    assert_eq!(surveys(), 6);
    let out = temp.path().join("out");
    // Sheets that are missing are made from a new measuring, which is no new record.
    day(&["--out", text(&out)]);
    assert_eq!(surveys(), 6);
    assert!(out.join("yard--J-0417/result.json").is_file());
    // The map too, from what was kept.
    let map = |more: &[&str]| {
        let mut args = vec!["day", text(&yard), "--format", "geojson", "-q"];
        args.extend(more);
        call(&args).0
    };
    assert_eq!(map(&["--records", text(&file)]), map(&[]));
    assert_eq!(surveys(), 6);
    put(&yard.join("late/1100.nmea"), &fixture("lawn.nmea"));
    day(&[]);
    assert_eq!(surveys(), 7);
    assert_eq!(
        count(
            &file,
            "SELECT max(revision) FROM surveys WHERE name = 'yard/late/1100.nmea'"
        ),
        3
    );
    // `measure` records as well, every time it is called.
    for _ in 0..2 {
        let (_, stderr, code) = call(&[
            "measure",
            text(&yard.join("J-0417")),
            "--records",
            text(&file),
            "-q",
        ]);
        assert_eq!(code, 0, "{stderr}");
    }
    // They join what `day` recorded of the job, which called it by its folder.
    assert_eq!(
        count(
            &file,
            "SELECT max(revision) FROM surveys WHERE name = 'DEMO-1'"
        ),
        4
    );
    assert_eq!(
        count(
            &file,
            "SELECT count(DISTINCT garden) FROM surveys WHERE name IN ('DEMO-1', 'yard/J-0417')"
        ),
        1
    );
}

#[test]
fn everything_asked_a_year_later_is_answered() {
    let (temp, yard) = yard();
    let file = recorded(temp.path(), &yard);
    let file = text(&file);
    let (list, code) = records(&["list", file]);
    assert_eq!(code, 0);
    assert!(
        list.contains("yard/J-0417") && list.contains("2/2") && list.contains("207.1"),
        "{list}"
    );
    let (list, _) = records(&[
        "list", file, "--all", "--about", "j-0417", "--format", "json",
    ]);
    let rows: Vec<Value> = list
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(rows.len(), 2);
    assert_eq!(
        (&rows[0]["revision"], &rows[1]["revision"]),
        (&1.into(), &2.into())
    );
    // Here: the invented garden lies in the open Atlantic (fixtures/garden/PROVENANCE.md).
    let near = |place: &str, within: &str| {
        let (list, code) = records(&[
            "list", file, "--near", place, "--within", within, "--format", "json",
        ]);
        (list.lines().count(), code)
    };
    assert_eq!(near("45.00005,-29.99995", "10").0, 3);
    assert_eq!(near("45.00105,-29.99995", "10"), (0, 1));
    assert_eq!(near("45.00105,-29.99995", "150").0, 3);
    assert_eq!(records(&["list", file, "--since", "2026-05-15"]).1, 1);
    assert_eq!(
        records(&[
            "list",
            file,
            "--until",
            "2026-05-14",
            "--since",
            "2026-05-14"
        ])
        .1,
        0
    );

    let (shown, _) = records(&["show", file, "yard/J-0417@1"]);
    for part in [
        "revision 1 of 2",
        "2026-05-14",
        "207.1",
        "lawn.nmea",
        "patio",
        "roll",
        "sigma_m",
        "(job sheet, line",
    ] {
        assert!(
            part == "sigma_m" || shown.contains(part),
            "{part} in {shown}"
        );
    }
    let hash = {
        use sha2::{Digest, Sha256};
        Sha256::digest(fixture("lawn.nmea"))
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect::<String>()
    };
    let unfolded: String = shown.split_whitespace().collect();
    assert!(unfolded.contains(&hash), "{shown}");
    assert!(
        shown.lines().all(|line| line.chars().count() <= 80),
        "{shown}"
    );
    // By job number as well, where one survey has it.
    assert!(records(&["show", file, "DEMO-1"]).0.contains("yard/J-0417"));
    let (none, code) = records(&["show", file, "J-04"]);
    assert_eq!(code, 1);
    assert!(none.contains("There is: yard/J-0417"), "{none}");

    // The document comes out as `day` printed it.
    let (document, _) = records(&["show", file, "yard/J-0417@1", "--format", "json"]);
    let (printed, _, _) = call(&["day", text(&yard), "--format", "json", "-q"]);
    assert_eq!(document.trim_end(), printed.lines().next().unwrap());
    let (map, _) = records(&["export", file, "--format", "geojson"]);
    let map: Value = serde_json::from_str(&map).unwrap();
    assert_eq!(map["features"].as_array().unwrap().len(), 3);
    let (table, _) = records(&["export", file, "--format", "csv", "--all"]);
    assert_eq!(table.lines().count(), 7);
}

#[test]
fn what_changed_is_weighed_against_both_bands() {
    let (temp, yard) = yard();
    let file = recorded(temp.path(), &yard);
    let compare = |args: &[&str]| -> Value {
        let mut all = vec!["compare", text(&file)];
        all.extend(args);
        all.extend(["--format", "json"]);
        let (out, code) = records(&all);
        assert_eq!(code, 0, "{out}");
        serde_json::from_str(&out).unwrap()
    };
    let number = |value: &Value, path: &str| value.pointer(path).and_then(Value::as_f64).unwrap();
    // The same log with another sigma: the same outline, the setting named.
    let again = compare(&["yard/J-0417"]);
    assert_eq!(again["verdict"], "within-bands");
    assert_eq!(again["share_a_log"], true);
    assert!(number(&again, "/overlap/percent") > 99.0);
    assert_eq!(again["settings"][0]["name"], "sigma_m");
    assert_eq!(again["settings"][0]["second"], "0.03");
    // The lawn against the patio inside it: both bands beaten, and the patio wholly covered.
    let other = compare(&["yard/late/0930.log", "yard/late/1100.nmea"]);
    assert_eq!(other["verdict"], "beyond-bands");
    let (first, second) = (
        number(&other, "/first/net_m2"),
        number(&other, "/second/net_m2"),
    );
    approx::assert_abs_diff_eq!(
        number(&other, "/area/difference_m2"),
        second - first,
        epsilon = 1e-9
    );
    let allowed = number(&other, "/first/band_m2").hypot(number(&other, "/second/band_m2"));
    approx::assert_abs_diff_eq!(number(&other, "/area/allowed_m2"), allowed, epsilon = 1e-9);
    // Degrees with eight decimals hold the patio's 10 m² to within 0.05 m².
    approx::assert_abs_diff_eq!(number(&other, "/overlap/both_m2"), second, epsilon = 0.05);
    approx::assert_abs_diff_eq!(
        number(&other, "/overlap/only_first_m2"),
        first - second,
        epsilon = 0.5
    );
    let (words, _) = records(&[
        "compare",
        text(&file),
        "yard/late/0930.log",
        "yard/late/1100.nmea",
    ]);
    assert!(
        words.contains("differ by more than both bands allow"),
        "{words}"
    );
    assert!(
        words.lines().all(|line| line.chars().count() <= 80),
        "{words}"
    );
    let (once, code) = records(&["compare", text(&file), "yard/J-0417@1", "gone"]);
    assert_eq!(code, 1, "{once}");
}

/// A year later: what was ordered and why, what has changed since, and where nothing was found.
#[test]
fn what_was_ordered_and_why_can_be_told_a_year_later() {
    let (temp, yard) = yard();
    let (file, sheet) = (temp.path().join("lawns.gpkg"), yard.join("J-0417/job.toml"));
    let priced = fs::read_to_string(&sheet).unwrap()
        + "\n[price]\ncurrency = \"GBP\"\ntax_percent = 20\nturf_per_piece = 3.20\n";
    // The cherry's bed has grown from 0.9 to 3 m across.
    let grown = priced.replace("radius_m = 0.45", "radius_m = 1.5");
    assert_ne!(priced, grown);
    for text_now in [&priced, &grown] {
        fs::write(&sheet, text_now).unwrap();
        call(&["measure", text(&sheet), "--records", text(&file), "-q"]);
    }
    let (shown, _) = records(&["show", text(&file), "DEMO-1@1"]);
    // 215 rolls at 3.20 are 688.00, with 20 % tax 825.60.
    for part in [
        "215 pieces;",
        "chance of being short",
        "enough at 95 % chance",
        "215 pieces at 3.2",
        "688.00 GBP",
        "825.60 GBP",
    ] {
        assert!(shown.contains(part), "{part} in {shown}");
    }
    let (changed, _) = records(&["compare", text(&file), "DEMO-1"]);
    // By hand: 0.45² pi and 1.5² pi.
    for part in [
        "cherry: 0.64 m², then 7.07 m²",
        "turf, roll 0.4 x 2.5 m: 215 pieces, then 209 pieces",
        "price: 825.60 GBP, then 802.56 GBP",
    ] {
        assert!(changed.contains(part), "{part} in {changed}");
    }
    assert!(!changed.contains("patio: "), "{changed}");
    let (nothing, code) = records(&["list", text(&file), "--near", "10,10"]);
    assert_eq!(code, 1);
    assert!(nothing.contains("within 50 m of 10,10"), "{nothing}");
}

#[test]
fn several_programs_write_at_once() {
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("lawns.gpkg");
    let mut running = Vec::new();
    for writer in 0..4 {
        let yard = temp.path().join(format!("yard{writer}"));
        for log in 0..8 {
            put(&yard.join(format!("{log}.nmea")), &fixture("patio.nmea"));
        }
        // The same survey from all of them, too.
        put(
            &yard.join("shared/job.toml"),
            b"[walk]\nfiles = [\"../0.nmea\"]\n",
        );
        running.push(
            std::process::Command::new(boundwalk().get_program())
                .args([
                    "day",
                    text(&yard),
                    "--records",
                    text(&file),
                    "--threads",
                    "1",
                    "-q",
                ])
                .stdout(std::process::Stdio::null())
                .spawn()
                .unwrap(),
        );
    }
    for mut child in running {
        assert_eq!(child.wait().unwrap().code(), Some(0));
    }
    assert_eq!(count(&file, "SELECT count(*) FROM surveys"), 4 * 8);
    assert_eq!(count(&file, "SELECT count(*) FROM lawns"), 4 * 8);
    assert_eq!(count(&file, "SELECT count(*) FROM versions"), 1);
    // Copies of one log under one own name are one garden: four times revision 1 to 4.
    assert_eq!(
        count(
            &file,
            "SELECT count(DISTINCT garden * 100 + revision) FROM surveys"
        ),
        4 * 8
    );
    assert_eq!(count(&file, "SELECT max(revision) FROM surveys"), 4);
    // None lost, none twice, whoever writes.
    let mut running = Vec::new();
    for _ in 0..6 {
        running.push(
            std::process::Command::new(boundwalk().get_program())
                .args([
                    "measure",
                    text(&temp.path().join("yard0/1.nmea")),
                    "--records",
                    text(&file),
                    "-q",
                ])
                .stdout(std::process::Stdio::null())
                .spawn()
                .unwrap(),
        );
    }
    for mut child in running {
        assert_eq!(child.wait().unwrap().code(), Some(0));
    }
    let db = Connection::open(&file).unwrap();
    let mut statement = db
        .prepare("SELECT revision FROM surveys WHERE name = '1' ORDER BY id")
        .unwrap();
    let revisions: Vec<i64> = statement
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(revisions, [5, 6, 7, 8, 9, 10]);
    let state: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(state, "ok");
}

#[test]
fn only_files_of_records_are_written_to() {
    let temp = tempfile::tempdir().unwrap();
    let log = temp.path().join("lawn.nmea");
    put(&log, &fixture("patio.nmea"));
    let refused = |file: &Path| {
        let (stdout, stderr, code) = call(&["measure", text(&log), "--records", text(file), "-q"]);
        assert!(code == 1 || code == 2, "{code} {stdout}");
        stderr
    };
    assert!(refused(&temp.path().join("lawns.sqlite")).contains("ends in .gpkg"));
    let junk = temp.path().join("junk.gpkg");
    fs::write(
        &junk,
        b"not a database at all, just some text that is long enough to be looked at",
    )
    .unwrap();
    assert!(
        refused(&junk).contains("not a GeoPackage"),
        "{}",
        refused(&junk)
    );
    let other = temp.path().join("other.gpkg");
    Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE parcels (id INTEGER PRIMARY KEY)")
        .unwrap();
    assert!(refused(&other).contains("database of another kind"));
    assert!(refused(&temp.path().join("no/such/folder/lawns.gpkg")).contains("cannot be opened"));
    let newer = temp.path().join("newer.gpkg");
    let (_, stderr, code) = call(&["measure", text(&log), "--records", text(&newer), "-q"]);
    assert_eq!(code, 0, "{stderr}");
    Connection::open(&newer)
        .unwrap()
        .execute("INSERT INTO record_schema (version, applied_at, program) VALUES (99, '2030-01-01T00:00:00.000Z', 'x')", [])
        .unwrap();
    assert!(refused(&newer).contains("newer boundwalk"));
    assert_eq!(records(&["list", text(&newer)]).1, 2);
    assert_eq!(records(&["list", "no-such.gpkg"]).1, 1);
}

/// 180° east and 180° west are one place: what lies a few metres beyond it is near.
#[test]
fn a_place_near_180_degrees_finds_both_sides() {
    let temp = tempfile::tempdir().unwrap();
    let (log, file) = (temp.path().join("far.csv"), temp.path().join("far.gpkg"));
    fs::write(
        &log,
        "lat,lon\n10.0000,179.9999\n10.0000,179.9998\n10.0001,179.9998\n10.0001,179.9999\n",
    )
    .unwrap();
    let (_, told, _) = call(&["measure", text(&log), "--records", text(&file)]);
    let near = |place: &str| records(&["list", text(&file), "--near", place, "--within", "60"]).1;
    assert_eq!(
        [near("10,179.9999"), near("10,-179.9999"), near("10,-179.9")],
        [0, 0, 1],
        "{told}"
    );
}
