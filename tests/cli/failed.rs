//! A run that fails with `--format json` says so in JSON too, as `docs/fault.schema.json` has it.

use super::call;
use super::day::{fixture, put};
use crate::kept::keep;
use serde_json::Value;
use std::path::Path;

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

/// The document of a failed call, and its exit code.
fn failed(args: &[&str]) -> (Value, i32) {
    let (stdout, stderr, code) = call(args);
    let document: Value =
        serde_json::from_str(&stdout).unwrap_or_else(|error| panic!("{args:?}: {error}: {stdout}"));
    keep("fault", stdout.as_bytes());
    // And for whoever is reading along.
    let first = document["fault"]["message"].as_str().unwrap();
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words(&stderr).contains(&words(first)), "{args:?}: {stderr}");
    (document, code)
}

#[test]
fn a_failure_is_a_document() {
    let temp = tempfile::tempdir().unwrap();
    let at = |name: &str| temp.path().join(name);
    put(&at("lawn.nmea"), &fixture("lawn.nmea"));
    put(&at("note.txt"), b"gate code on the phone\n");
    put(&at("empty.nmea"), b"");
    put(
        &at("job.toml"),
        b"[wolk]\n[walk]\nfiles = [\"lawn.nmea\"]\nsigma_m = -1\n",
    );
    put(
        &at("taped.toml"),
        b"[[shape]]\nkind = \"circle\"\nradius_m = -1\n",
    );
    put(&at("here/a.txt"), b"nothing\n");
    let (lawn, note, sheet, taped, here, empty) = (
        at("lawn.nmea"),
        at("note.txt"),
        at("job.toml"),
        at("taped.toml"),
        at("here"),
        at("empty.nmea"),
    );
    let calls: [(&[&str], &str, i32); 15] = [
        (&["measure", "no.nmea"], "not-found", 1),
        (&["measure", text(&note)], "not-a-log", 1),
        (&["measure", text(&empty)], "no-positions", 1),
        (&["measure", text(&sheet)], "job-sheet", 2),
        (&["measure", text(&here)], "not-found", 2),
        (&["measure", text(&lawn), "--confidence", "95"], "usage", 2),
        (&["measure", text(&lawn), "--no-such-option"], "usage", 2),
        (&["measure"], "usage", 2),
        (&["tape", "no.toml"], "not-found", 1),
        (&["tape", text(&taped)], "job-sheet", 2),
        (&["inspect", "no.nmea"], "not-found", 1),
        (&["inspect", text(&note)], "not-a-log", 1),
        (&["inspect"], "usage", 2),
        (&["day", text(&here)], "not-found", 1),
        (&["day", text(&lawn), "--threads", "none"], "usage", 2),
    ];
    for (args, kind, code) in calls {
        let all: Vec<&str> = args.iter().copied().chain(["--format", "json"]).collect();
        let (document, ended) = failed(&all);
        assert_eq!(
            (document["fault"]["kind"].as_str(), ended),
            (Some(kind), code),
            "{args:?}: {document:#}"
        );
        // Without it, standard output is left alone.
        assert_eq!(call(args).0, "", "{args:?}");
    }
    // Every fault of a sheet, each with its place.
    let (document, _) = failed(&["measure", text(&sheet), "--format=json"]);
    assert_eq!(document["fault"]["file"], text(&sheet));
    assert_eq!(document["fault"]["line"], 1);
    assert_eq!(document["more"][0]["line"], 4);
    assert_eq!(document["more"].as_array().map(Vec::len), Some(1));
    let remedy = document["fault"]["remedy"].as_str().unwrap();
    assert!(remedy.contains("walk"), "{remedy}");
}

/// One log that cannot be read does not take the others with it, here either: one document, with both.
#[test]
fn what_can_be_looked_at_is() {
    let temp = tempfile::tempdir().unwrap();
    let lawn = temp.path().join("lawn.nmea");
    put(&lawn, &fixture("lawn.nmea"));
    let (stdout, _, code) = call(&["inspect", text(&lawn), "no.nmea", "--format", "json"]);
    assert_eq!(code, 1);
    let document: Value = serde_json::from_str(&stdout).unwrap();
    assert_eq!(document["files"][0]["name"], "lawn.nmea");
    assert_eq!(document["faults"][0]["kind"], "not-found");
    assert_eq!(document["faults"][0]["file"], "no.nmea");
}
