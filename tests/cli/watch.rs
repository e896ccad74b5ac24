//! `day --watch`: a folder that loggers sync into.

use super::boundwalk;
use super::day::{fixture, put};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Duration;

#[test]
fn what_arrives_is_measured_once_it_has_arrived() {
    let temp = tempfile::tempdir().unwrap();
    let inbox = temp.path().join("inbox");
    put(&inbox.join("early.nmea"), &fixture("patio.nmea"));
    let out = temp.path().join("out");
    let child = Command::new(boundwalk().get_program())
        .args([
            "day",
            inbox.to_str().unwrap(),
            "--watch",
            "--every",
            "0.1",
            "--looks",
            "25",
        ])
        .args(["--format", "json", "--out", out.to_str().unwrap(), "-q"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // A logger that writes slowly.
    let log = fixture("lawn.nmea");
    let mut slow = fs::File::create(inbox.join("slow.nmea")).unwrap();
    for part in log.chunks(log.len() / 12 + 1) {
        slow.write_all(part).unwrap();
        slow.flush().unwrap();
        std::thread::sleep(Duration::from_millis(40));
    }
    let output = child.wait_with_output().unwrap();
    let lines: Vec<Value> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let named = |name: &str| -> Vec<&Value> {
        lines
            .iter()
            .filter(|l| l["survey"]["name"].as_str().unwrap().ends_with(name))
            .collect()
    };
    assert_eq!(named("early.nmea").len(), 1);
    // On a machine that stands still for a while part of it may have looked whole; the last word is on all of it.
    let last = named("slow.nmea").pop().expect("slow.nmea was measured");
    let hash: String = Sha256::digest(&log)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    assert_eq!(last["log"]["files"][0]["sha256"], hash.as_str());
    assert_eq!(
        output.status.code(),
        Some(if lines.len() == 2 { 0 } else { 3 })
    );
    // The day's table has both, whichever look they came with.
    let table = fs::read_to_string(out.join("day.csv")).unwrap();
    assert_eq!(table.lines().count(), 3, "{table}");
}

/// What lies there at the only look may still be arriving; that nothing was measured must not look like success.
#[test]
fn what_was_seen_but_once_is_told() {
    let temp = tempfile::tempdir().unwrap();
    put(&temp.path().join("early.nmea"), &fixture("patio.nmea"));
    let folder = temp.path().to_str().unwrap();
    let watch = |looks: &str| {
        let rest = ["--watch", "--every", "0.1", "--looks", looks];
        super::call(&[&["day", folder], rest.as_slice()].concat())
    };
    let (_, stderr, code) = watch("1");
    assert_eq!(code, 3, "{stderr}");
    assert!(
        stderr.contains("1 survey was seen for the first time"),
        "{stderr}"
    );
    let (table, stderr, code) = watch("2");
    assert_eq!(code, 0, "{stderr}");
    assert!(table.contains("1 survey"), "{table}");
}

#[test]
fn a_map_is_never_finished_while_watching() {
    let temp = tempfile::tempdir().unwrap();
    let (_, stderr, code) = super::call(&[
        "day",
        temp.path().to_str().unwrap(),
        "--watch",
        "--format",
        "geojson",
    ]);
    assert_eq!(code, 2);
    assert!(stderr.contains("--out DIR"), "{stderr}");
    let (_, _, code) = super::call(&["day", temp.path().to_str().unwrap(), "--looks", "3"]);
    assert_eq!(code, 2);
}
