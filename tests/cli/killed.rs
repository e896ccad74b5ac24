//! Killed at any moment (SIGKILL), or with no room left: what was finished is there whole, and the next run completes the
//! rest.

#![cfg(unix)]

use super::boundwalk;
use super::day::{fixture, put, yard};
use rusqlite::Connection;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Surveys of the yard that is measured.
const SURVEYS: usize = 12;

/// Kills in an ordinary run; `BOUNDWALK_KILLS=200` makes it as many as before a release.
pub fn kills() -> u32 {
    std::env::var("BOUNDWALK_KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(6)
}

fn command(yard: &Path, out: &Path, file: &Path, force: bool) -> Command {
    let mut command = Command::new(boundwalk().get_program());
    command
        .args(["day", yard.to_str().unwrap(), "--threads", "2", "-q"])
        .args([
            "--out",
            out.to_str().unwrap(),
            "--records",
            file.to_str().unwrap(),
        ])
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    if force {
        command.arg("--force");
    }
    command
}

/// Everything that is there is whole. Gives how many sets of sheets and how many records there are.
fn whole(out: &Path, file: &Path) -> (usize, i64) {
    let mut sets = 0;
    for entry in fs::read_dir(out).into_iter().flatten().map(Result::unwrap) {
        let name = entry.file_name().to_string_lossy().into_owned();
        // What is still being written says so by its name, and is cleared away by the next run.
        if name.starts_with(".boundwalk") {
            continue;
        }
        if !entry.file_type().unwrap().is_dir() {
            let bytes = fs::read(entry.path()).unwrap();
            match name.as_str() {
                "day.csv" | "day.ndjson" => {
                    let head = usize::from(name == "day.csv");
                    assert_eq!(
                        bytes.iter().filter(|b| **b == b'\n').count(),
                        SURVEYS + head,
                        "{name}"
                    );
                }
                "day.geojson" => {
                    let map: Value = serde_json::from_slice(&bytes).unwrap();
                    assert_eq!(map["features"].as_array().unwrap().len(), SURVEYS);
                }
                "day.html" => assert!(bytes.ends_with(b"</html>\n")),
                "boundwalk-files.json" => assert!(bytes.ends_with(b"}\n")),
                other => panic!("{other}"),
            }
            continue;
        }
        let kept: Value =
            serde_json::from_slice(&fs::read(entry.path().join("boundwalk-files.json")).unwrap())
                .unwrap();
        let files = kept["files"].as_object().unwrap();
        assert!(files.len() >= 8, "{name}: {files:?}");
        for (sheet, stamps) in files {
            assert_eq!(
                fs::metadata(entry.path().join(sheet)).unwrap().len(),
                stamps[0]["bytes"].as_u64().unwrap(),
                "{name}/{sheet}"
            );
        }
        assert_eq!(fs::read_dir(entry.path()).unwrap().count(), files.len() + 1);
        sets += 1;
    }
    (sets, records(file))
}

/// The records, intact; `None` where there is no table yet.
fn intact(file: &Path) -> Option<Connection> {
    if fs::metadata(file).map_or(0, |meta| meta.len()) == 0 {
        return None;
    }
    let db = Connection::open(file).unwrap();
    let state: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(state, "ok");
    assert_eq!(
        count(&db, "SELECT count(*) FROM pragma_foreign_key_check"),
        0
    );
    (count(&db, "SELECT count(*) FROM sqlite_master") > 0).then_some(db)
}

fn count(db: &Connection, sql: &str) -> i64 {
    db.query_row(sql, [], |row| row.get(0)).unwrap()
}

/// How many surveys are recorded.
fn recorded(file: &Path) -> i64 {
    intact(file).map_or(0, |db| count(&db, "SELECT count(*) FROM surveys"))
}

/// The same, each with all that belongs to a log without a sheet.
fn records(file: &Path) -> i64 {
    let Some(db) = intact(file) else { return 0 };
    let surveys = count(&db, "SELECT count(*) FROM surveys");
    assert_eq!(
        count(
            &db,
            "SELECT count(DISTINCT name || ' ' || revision) FROM surveys"
        ),
        surveys
    );
    for table in ["lawns", "walks", "log_files"] {
        assert_eq!(
            count(&db, &format!("SELECT count(*) FROM {table}")),
            surveys,
            "{table}"
        );
    }
    assert_eq!(count(&db, "SELECT count(*) FROM bands"), 2 * surveys);
    assert_eq!(count(&db, "SELECT count(*) FROM rtree_lawns_geom"), surveys);
    surveys
}

#[test]
fn killed_at_any_moment_nothing_is_half_there() {
    let temp = tempfile::tempdir().unwrap();
    let yard = temp.path().join("yard");
    for n in 0..SURVEYS {
        put(&yard.join(format!("{n:02}.nmea")), &fixture("patio.nmea"));
    }
    let (out, file) = (temp.path().join("out"), temp.path().join("lawns.gpkg"));
    let began = Instant::now();
    assert_eq!(
        command(&yard, &out, &file, false).status().unwrap().code(),
        Some(0)
    );
    let usual = began.elapsed();
    assert_eq!(whole(&out, &file), (SURVEYS, SURVEYS as i64));

    // A small generator of its own: which moments are met is chance anyway.
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut met = (0, 0);
    let mut tried = 0;
    while met.0 < kills() && tried < 4 * kills() {
        let kill = tried;
        tried += 1;
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let part = (state >> 33) as f64 / f64::from(1u32 << 31);
        // Anew, on from where the last one was killed, or over sets and records that are there.
        if kill % 4 == 0 {
            let _ = fs::remove_dir_all(&out);
            let _ = fs::remove_file(&file);
            let _ = fs::remove_file(file.with_extension("gpkg-journal"));
        }
        let before = whole(&out, &file);
        let mut child = command(&yard, &out, &file, kill % 4 == 3).spawn().unwrap();
        std::thread::sleep(usual.mul_f64(1.1 * part).min(Duration::from_secs(5)));
        child.kill().unwrap();
        let ended = child.wait().unwrap();
        met.0 += u32::from(ended.code().is_none());
        let after = whole(&out, &file);
        // Nothing that was finished is ever lost.
        assert!(
            after.0 >= before.0 && after.1 >= before.1,
            "{before:?} {after:?}"
        );
        met.1 += u32::from((1..SURVEYS).contains(&after.0));
    }
    println!(
        "killed {} of {tried} runs, {} of them between two surveys",
        met.0, met.1
    );
    // The rest had ended before they were to be killed.
    assert!(met.0 >= kills() / 2);
    assert_eq!(
        command(&yard, &out, &file, false).status().unwrap().code(),
        Some(0)
    );
    let (sets, revisions) = whole(&out, &file);
    assert_eq!(sets, SURVEYS);
    assert!(revisions >= SURVEYS as i64);
    let left: Vec<String> = fs::read_dir(&out)
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name.starts_with('.'))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

/// A limit on the size of any file stands for a full disk: writing fails part of the way in just the same.
pub fn with_files_up_to(blocks: u32, args: &[&str]) -> (String, i32) {
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let output = Command::new("sh")
        .args(["-c", &script])
        .arg(boundwalk().get_program())
        .args(args)
        .output()
        .unwrap();
    (
        String::from_utf8_lossy(&output.stderr).into_owned(),
        output.status.code().unwrap_or(-1),
    )
}

#[test]
fn no_room_left_is_told_and_loses_nothing() {
    let (temp, yard) = yard();
    fs::remove_file(yard.join("late/1015.nmea")).unwrap();
    let yard_text = yard.to_str().unwrap();
    let late = yard.join("late");
    // A limit that the walks without an order stay below, and the garden's set does not. They are given first.
    let room = temp.path().join("room");
    let made = boundwalk()
        .args(["day", yard_text, "--out", room.to_str().unwrap(), "-q"])
        .output()
        .unwrap();
    assert_eq!(made.status.code(), Some(0));
    let largest = |set: &str| -> u64 {
        let files = fs::read_dir(room.join(set))
            .unwrap()
            .map(|e| e.unwrap().metadata().unwrap().len());
        files.max().unwrap()
    };
    let small = largest("yard--late--0930.log").max(largest("yard--late--1100.nmea"));
    let blocks = u32::try_from(small / 512 + 2).unwrap();
    assert!(largest("yard--J-0417") > u64::from(blocks) * 512);
    let out = temp.path().join("out");
    let garden = yard.join("J-0417");
    let args = [
        "day",
        late.to_str().unwrap(),
        garden.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
        "-q",
    ];
    let (stderr, code) = with_files_up_to(blocks, &args);
    assert_eq!(code, 1, "{stderr}");
    assert!(
        stderr.contains("no room left") && stderr.contains("goes on from there"),
        "{stderr}"
    );
    let names: Vec<PathBuf> = fs::read_dir(&out)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    assert_eq!(names.iter().filter(|p| p.is_dir()).count(), 2, "{names:?}");
    assert!(!out.join("day.csv").exists());
    let output = boundwalk().args(&args[..args.len() - 1]).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&output.stdout).contains("2 were unchanged"));

    // The same with records: what was recorded before the disk was full stays.
    let file = temp.path().join("lawns.gpkg");
    let day = ["day", yard_text, "--records", file.to_str().unwrap(), "-q"];
    assert_eq!(
        boundwalk()
            .args([
                "day",
                late.to_str().unwrap(),
                "--records",
                file.to_str().unwrap(),
                "-q"
            ])
            .output()
            .unwrap()
            .status
            .code(),
        Some(0)
    );
    let before = recorded(&file);
    let blocks = u32::try_from(fs::metadata(&file).unwrap().len() / 512).unwrap();
    let (stderr, code) = with_files_up_to(blocks, &day);
    assert_eq!(code, 1, "{stderr}");
    assert!(
        stderr.contains("lawns.gpkg")
            && (stderr.contains("no room") || stderr.contains("could not be written")),
        "{stderr}"
    );
    assert_eq!(recorded(&file), before);
    assert_eq!(
        boundwalk().args(day).output().unwrap().status.code(),
        Some(0)
    );
    assert!(recorded(&file) > before);
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_standard_output_is_told() {
    let (_temp, yard) = yard();
    let full = fs::File::options().write(true).open("/dev/full").unwrap();
    let output = Command::new(boundwalk().get_program())
        .args(["day", yard.to_str().unwrap(), "-q"])
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(
        String::from_utf8_lossy(&output.stderr).contains("could not be written to standard output")
    );
}
