use super::boundwalk;
use std::fs;
use std::path::Path;

/// The transcript in the README is what `demo` prints.
#[test]
fn the_transcript_in_the_readme_is_real() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let run = boundwalk()
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

/// The example in docs/scale.md is the file that `.ci/spark` runs.
#[test]
fn the_pyspark_example_is_the_one_that_is_run() {
    let read =
        |name: &str| fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap();
    let block = format!(
        "```python\n{}\n```\n",
        read("examples/pyspark/day.py").trim_end()
    );
    assert!(read("docs/scale.md").contains(&block));
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
    let run = boundwalk()
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

/// The live session in the README is what a replay of the example says and prints; only its name, the date and time, is the README's.
#[test]
fn the_live_session_in_the_readme_is_real() {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(home.join("README.md")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let given = [
        (
            "rolls.toml",
            "[order.turf]\nnoun = \"roll\"\npiece_width_m = 0.40\npiece_length_m = 2.50\n",
        ),
        ("marks.txt", "08:33:34 bed 90cm cherry\n"),
    ];
    let mut block = "```\n".to_owned();
    for (name, text) in given {
        fs::write(folder.path().join(name), text).unwrap();
        block += &format!("$ cat {name}\n{text}");
    }
    fs::create_dir(folder.path().join("boundwalk-demo")).unwrap();
    let log = "boundwalk-demo/lawn.nmea";
    fs::copy(
        home.join("fixtures/garden/lawn.nmea"),
        folder.path().join(log),
    )
    .unwrap();
    let args = format!("live --replay {log} --speed 1000 --job rolls.toml --marks marks.txt");
    let run = boundwalk()
        .current_dir(folder.path())
        .args(args.split(' '))
        .output()
        .unwrap();
    let said = String::from_utf8(run.stderr).unwrap();
    let printed = String::from_utf8(run.stdout).unwrap();
    let name = said.split("kept in ./").nth(1).unwrap();
    let name = name.split(".toml").next().unwrap();
    let all = format!("{said}{}\n", printed.trim_end()).replace(name, "20260601-090000");
    block += &format!("$ boundwalk {args}\n{all}```\n");
    assert!(
        readme.contains(&block),
        "the README does not hold what live says now:\n{block}"
    );
}
