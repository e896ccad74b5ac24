use std::fs;
use std::path::Path;

/// The transcript in the README is what `demo` prints.
#[test]
fn the_transcript_in_the_readme_is_real() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let run = assert_cmd::Command::cargo_bin("boundwalk")
        .unwrap()
        .current_dir(folder.path())
        .arg("demo")
        .output()
        .unwrap();
    let printed = String::from_utf8(run.stdout).unwrap();
    let block = format!("```\n$ boundwalk demo\n{}\n```\n", printed.trim_end());
    assert!(
        readme.contains(&block),
        "the README does not hold what demo prints now:\n{printed}"
    );
}

/// The example in docs/pyspark.md is the file that `.ci/pyspark` runs.
#[test]
fn the_pyspark_example_is_the_one_that_is_run() {
    let read =
        |name: &str| fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap();
    let block = format!(
        "```python\n{}\n```\n",
        read("examples/pyspark/day.py").trim_end()
    );
    assert!(read("docs/pyspark.md").contains(&block));
}

/// The day in the README is what `day` prints.
#[test]
fn the_day_in_the_readme_is_real() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(root.join("README.md")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let monday = folder.path().join("monday");
    let copy = |from: &str, to: &str| {
        fs::create_dir_all(monday.join(to).parent().unwrap()).unwrap();
        fs::copy(root.join("fixtures/garden").join(from), monday.join(to)).unwrap();
    };
    for name in ["job.toml", "lawn.nmea", "patio.nmea"] {
        copy(name, &format!("J-0417/{name}"));
    }
    copy("lawn.nmea", "late/0930.nmea");
    fs::write(monday.join("late/1015.nmea"), "").unwrap();
    let run = assert_cmd::Command::cargo_bin("boundwalk")
        .unwrap()
        .current_dir(folder.path())
        .args([
            "day",
            "monday",
            "--out",
            "sheets",
            "--records",
            "lawns.gpkg",
        ])
        .output()
        .unwrap();
    let printed = String::from_utf8(run.stdout).unwrap();
    let block = format!(
        "```\n$ boundwalk day monday --out sheets --records lawns.gpkg\n{}\n```\n",
        printed.trim_end()
    );
    assert!(
        readme.contains(&block),
        "the README does not hold what day prints now:\n{printed}"
    );
}

/// What `inspect` says of the example's walk is what the README shows of it.
#[test]
fn the_look_at_a_log_in_the_readme_is_real() {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(home.join("README.md")).unwrap();
    let log = home.join("fixtures/garden/lawn.nmea");
    let (printed, _, _) = super::call(&["inspect", log.to_str().unwrap()]);
    let (head, _) = printed.split_once("\n\nQuality over time").unwrap();
    let block = format!("```\n$ boundwalk inspect boundwalk-demo/lawn.nmea\n{head}\n```\n");
    assert!(
        readme.contains(&block),
        "the README does not hold what inspect prints now:\n{printed}"
    );
}
