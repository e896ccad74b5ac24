use std::fs;
use std::path::Path;

/// The bands promised in the README are those the program gives.
#[test]
fn the_bands_in_the_readme_are_computed() {
    use boundwalk::trial::{bands::usual_part, receiver::Class};
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let cells = |line: &str| -> Vec<String> {
        line.trim_matches('|')
            .split('|')
            .map(|cell| cell.trim().to_owned())
            .collect()
    };
    let mut rows = readme
        .lines()
        .skip_while(|line| !line.starts_with("| receiver | laps |"));
    let head = cells(rows.next().expect("the README has a table of bands"));
    let column = head
        .iter()
        .position(|cell| cell == "100 m²")
        .expect("a column for 100 m²");
    let rows: Vec<Vec<String>> = rows.skip(1).take(8).map(cells).collect();
    let classes = [
        Class::Autonomous,
        Class::Differential,
        Class::RtkFloat,
        Class::RtkFixed,
    ];
    for (row, class) in rows
        .iter()
        .zip(classes.iter().flat_map(|class| [class, class]))
    {
        let laps: usize = row[1].parse().unwrap();
        let shown: f64 = row[column].trim_end_matches(" %").parse().unwrap();
        let computed = 100.0 * usual_part(*class, 100.0, laps).expect("an area");
        // To the figures shown; half a unit of the last, and as much again for another machine's arithmetic.
        let last = if shown < 10.0 { 0.1 } else { 1.0 };
        assert!(
            (shown - computed).abs() <= last,
            "{} {laps}: shown {shown}, computed {computed}",
            row[0]
        );
    }
}

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
