//! What a kept answer depends on: a day measures again what has changed, and only that.

use super::call;
use super::day::{fixture, put};
use serde_json::Value;
use std::path::Path;

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

/// The day's only document, and what it says of what was unchanged.
fn day(yard: &Path, out: &Path, more: &[&str]) -> (Value, String) {
    let mut args = vec!["day", text(yard), "--out", text(out), "--format", "json"];
    args.extend(more);
    let (stdout, stderr, _) = call(&args);
    let document = stdout.lines().next().unwrap_or_else(|| panic!("{stderr}"));
    let mut args = vec!["day", text(yard), "--out", text(out)];
    args.extend(more);
    let told = call(&args).0;
    (serde_json::from_str(document).unwrap(), told)
}

#[test]
fn a_changed_rates_file_is_priced_anew() {
    let temp = tempfile::tempdir().unwrap();
    let (yard, out) = (temp.path().join("yard"), temp.path().join("out"));
    let mut sheet = fixture("job.toml");
    sheet.extend(b"\n[price]\nrates = \"rates.toml\"\n");
    for (name, bytes) in [
        ("job.toml", sheet.as_slice()),
        ("lawn.nmea", &fixture("lawn.nmea")),
        ("patio.nmea", &fixture("patio.nmea")),
        ("rates.toml", b"turf_per_piece = 1.00\n"),
    ] {
        put(&yard.join("J1").join(name), bytes);
    }
    let net = |document: &Value| -> f64 {
        document["order"]["price"]["net"]
            .as_str()
            .unwrap()
            .parse()
            .unwrap()
    };
    let (cheap, told) = day(&yard, &out, &[]);
    assert!(told.contains("1 was unchanged"), "{told}");
    put(&yard.join("J1/rates.toml"), b"turf_per_piece = 2.00\n");
    let (dear, _) = day(&yard, &out, &[]);
    assert_eq!(net(&dear), 2.0 * net(&cheap));
}

#[test]
fn another_order_of_the_logs_is_measured_anew() {
    let temp = tempfile::tempdir().unwrap();
    let (yard, out) = (temp.path().join("yard"), temp.path().join("out"));
    // One walk in two logs, named the wrong way round.
    let lawn = String::from_utf8(fixture("lawn.nmea")).unwrap();
    let lines: Vec<&str> = lawn.lines().collect();
    let (first, second) = lines.split_at(lines.len() * 2 / 7);
    put(&yard.join("J1/1.nmea"), first.join("\n").as_bytes());
    put(&yard.join("J1/2.nmea"), second.join("\n").as_bytes());
    put(
        &yard.join("J1/job.toml"),
        b"[walk]\nfiles = [\"2.nmea\", \"1.nmea\"]\n",
    );
    let (given, told) = day(&yard, &out, &[]);
    assert!(told.contains("1 was unchanged"), "{told}");
    let (by_time, told) = day(&yard, &out, &["--by-time"]);
    assert!(told.contains("1 was unchanged"), "{told}");
    assert_ne!(given["area"], by_time["area"]);
    let job = yard.join("J1");
    let alone = call(&["measure", text(&job), "--by-time", "--format", "json", "-q"]).0;
    let alone: Value = serde_json::from_str(&alone).unwrap();
    assert_eq!(by_time["area"], alone["area"]);
}
