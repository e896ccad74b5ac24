//! A walk measured while it goes on: what is kept, what is said, and that the end of it is what `measure` makes of the file.

#[cfg(unix)]
mod lines;
#[cfg(unix)]
mod page;
mod streams;
#[cfg(unix)]
mod terminal;

use super::{boundwalk, call, piped};
use std::fs;
use std::path::{Path, PathBuf};

/// The fixture's path.
pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
}

/// The one file of a folder with this ending.
pub fn only(folder: &Path, ending: &str) -> PathBuf {
    let entries = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    let mut found: Vec<PathBuf> = entries
        .filter(|path| path.extension().is_some_and(|e| e == ending))
        .collect();
    assert_eq!(found.len(), 1, "{ending}: {found:?}");
    found.remove(0)
}

/// Every sheet of a set, by name; the list of them beside also says from which place they were made.
fn sheets(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let entry = entry.unwrap();
            let name = entry.file_name().to_string_lossy().into_owned();
            (name, fs::read(entry.path()).unwrap())
        })
        .filter(|(name, _)| name != "boundwalk-files.json")
        .collect();
    all.sort();
    all
}

/// Measures what was kept again, and compares every byte.
pub fn same_as_measured(out: &Path, kept: &Path, printed: &str, code: i32) {
    let again = tempfile::tempdir().unwrap();
    let into = again.path().join("sheets");
    let args = [
        "measure",
        kept.to_str().unwrap(),
        "--out",
        into.to_str().unwrap(),
    ];
    let (measured, _, measured_code) = call(&args);
    assert_eq!(printed, measured);
    assert_eq!(code, measured_code);
    let stem = kept.file_stem().unwrap().to_string_lossy();
    let live = sheets(&out.join(format!("{stem}-sheets")));
    assert!(live.len() > 10);
    for ((name, bytes), (again, bytes_again)) in live.iter().zip(sheets(&into)) {
        assert_eq!(*name, again);
        assert!(*bytes == bytes_again, "{name} differs");
    }
}

pub fn replay(log: &Path, out: &Path, more: &[&str]) -> (String, String, i32) {
    let (log, out) = (log.to_str().unwrap(), out.to_str().unwrap());
    let mut args = vec!["live", "--replay", log, "--speed", "1e6", "--out", out];
    args.extend(more);
    call(&args)
}

#[test]
fn a_replay_ends_as_its_log_measures() {
    for name in ["garden/lawn.nmea", "forms/lawn.ubx"] {
        let out = tempfile::tempdir().unwrap();
        let log = fixture(name);
        let (printed, said, code) = replay(&log, out.path(), &[]);
        let kept = only(out.path(), "log");
        assert_eq!(fs::read(&kept).unwrap(), fs::read(&log).unwrap(), "{name}");
        same_as_measured(out.path(), &kept, &printed, code);
        assert!(said.contains("fixed; 1 a second; lap 1"), "{said}");
        assert!(said.contains("; lap 2: "), "{said}");
        assert!(said.contains(" to close; net 218"), "{said}");
    }
}

/// The fixture's cherry was stood at after the second lap; the order of the example goes with it.
#[test]
fn marks_make_a_sheet_that_measures_alike() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("job.toml");
    let text = "[job]\nnumber = \"J-7\"\n[walk]\ncarry_m = 0.1\ncarry_side = \"inside\"\n\
                [order.turf]\nnoun = \"roll\"\npiece_width_m = 0.40\npiece_length_m = 2.50\n";
    fs::write(&sheet, text).unwrap();
    let marks = folder.path().join("marks.txt");
    let lines = "# by hand\n08:33:34 bed 90cm cherry\n08:31:00 bed 1 m\nundo\n08:31:10 note low branches\nbed\n";
    // The second bed is taken back before its time comes: marks are taken in their order.
    fs::write(&marks, lines).unwrap();
    let out = folder.path().join("out");
    let (log, marks) = (fixture("garden/lawn.nmea"), marks.to_str().unwrap());
    let more = ["--job", sheet.to_str().unwrap(), "--marks", marks];
    let (printed, said, code) = replay(&log, &out, &more);
    let kept = only(&out, "toml");
    let written = fs::read_to_string(&kept).unwrap();
    assert!(written.contains("08:31:10: low branches"), "{written}");
    assert!(
        written.contains("label = \"cherry\"\ntime = 08:33:34\n"),
        "{written}"
    );
    assert!(written.contains("number = \"J-7\""), "{written}");
    assert!(said.contains("A bed needs its diameter"), "{said}");
    assert!(said.contains("marked: bed cherry, 0.90 m across"), "{said}");
    assert!(said.contains(" rolls"), "{said}");
    assert!(printed.contains("cherry 0.64"), "{printed}");
    assert_eq!(fs::read_to_string(&sheet).unwrap(), text);
    same_as_measured(&out, &kept, &printed, code);
}

/// One log, two stretches of it as two lawns: the sheet that live writes measures each by itself.
#[test]
fn start_end_and_new_lawn_cut_the_log() {
    let folder = tempfile::tempdir().unwrap();
    let marks = folder.path().join("marks.txt");
    fs::write(&marks, "08:30:03 start\n08:31:45 end\n").unwrap();
    let log = fixture("garden/lawn.nmea");
    let more = ["--marks", marks.to_str().unwrap()];
    let (_, said, _) = replay(&log, folder.path(), &more);
    assert!(said.contains("marked: start of the edge"), "{said}");
    let kept = only(folder.path(), "toml");
    let (json, _, _) = call(&["measure", kept.to_str().unwrap(), "--format", "json"]);
    let result: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(result["ring"]["laps"], 1, "{json}");
    let (whole, _, _) = call(&["measure", log.to_str().unwrap(), "--format", "json"]);
    let whole: serde_json::Value = serde_json::from_str(&whole).unwrap();
    assert_eq!(whole["ring"]["laps"], 2);
    let fixes = |result: &serde_json::Value| result["ring"]["fixes"].as_u64().unwrap();
    assert!(fixes(&result) < fixes(&whole));
    // A time at which nothing was walked is said, not measured.
    let text = fs::read_to_string(&kept).unwrap().replace("08:3", "07:1");
    let wrong = folder.path().join("wrong.toml");
    fs::write(&wrong, text).unwrap();
    let (_, said, code) = call(&["measure", wrong.to_str().unwrap()]);
    assert_eq!(code, 2, "{said}");
    assert!(
        said.contains("no position between the sheet's start and end"),
        "{said}"
    );
}

#[test]
fn what_cannot_be_is_said_before_anything_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let log = fixture("garden/lawn.nmea");
    let (log, job) = (log.to_str().unwrap(), fixture("garden/job.toml"));
    let job = job.to_str().unwrap();
    let wrong: [&[&str]; 5] = [
        &[log],
        &["tcp://nowhere"],
        &["-", "--marks", "-"],
        &["--replay", "there/is/none.nmea"],
        // It names logs of its own.
        &["--replay", log, "--job", job],
    ];
    for more in wrong {
        let mut args = vec!["live", "--out", out];
        args.extend(more);
        let (printed, said, code) = call(&args);
        assert!(code == 1 || code == 2, "{more:?}: {said}");
        assert!(said.starts_with("error: "), "{said}");
        assert_eq!(printed, "");
        assert_eq!(fs::read_dir(out).unwrap().count(), 0, "{more:?}");
    }
    let nothing = piped(boundwalk().args(["live", "-", "--out", out]), "");
    assert_eq!(nothing.status.code(), Some(1));
    assert_eq!(fs::read_dir(out).unwrap().count(), 0);
}
