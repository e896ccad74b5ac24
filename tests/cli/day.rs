//! `boundwalk day`: folders and lists of surveys, what is printed, what is kept.

use super::{boundwalk, call, piped};
use crate::kept::keep;
use data_encoding::BASE64;
use serde_json::Value;
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

pub fn fixture(name: &str) -> Vec<u8> {
    fs::read(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fixtures/garden")
            .join(name),
    )
    .unwrap()
}

pub fn put(path: &Path, bytes: &[u8]) {
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    fs::write(path, bytes).unwrap();
}

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

/// A day's folder: a survey with a sheet, loose logs, one that is empty, and things that are no logs.
pub fn yard() -> (tempfile::TempDir, PathBuf) {
    let temp = tempfile::tempdir().unwrap();
    let yard = temp.path().join("yard");
    for name in ["job.toml", "lawn.nmea", "patio.nmea"] {
        put(&yard.join("J-0417").join(name), &fixture(name));
    }
    put(&yard.join("late/0930.log"), &fixture("lawn.nmea"));
    put(&yard.join("late/1015.nmea"), b"");
    put(&yard.join("late/1100.nmea"), &fixture("patio.nmea"));
    put(&yard.join("late/notes.txt"), b"gate code on the phone\n");
    (temp, yard)
}

fn documents(stdout: &str) -> Vec<Value> {
    stdout
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error}: {line}")))
        .collect()
}

fn names(documents: &[Value]) -> Vec<&str> {
    documents
        .iter()
        .map(|d| d["survey"]["name"].as_str().unwrap())
        .collect()
}

#[test]
fn a_line_for_each_survey_in_order_as_the_schema_says() {
    let (_temp, yard) = yard();
    let (stdout, stderr, code) = call(&["day", text(&yard), "--format", "json"]);
    assert_eq!(code, 3, "{stderr}");
    let all = documents(&stdout);
    assert_eq!(
        names(&all),
        [
            "yard/J-0417",
            "yard/late/0930.log",
            "yard/late/1015.nmea",
            "yard/late/1100.nmea"
        ]
    );
    for document in &all {
        keep("result", document.to_string().as_bytes());
    }
    assert_eq!(all[2]["status"], "withheld");
    assert!(
        all[2]["warnings"][0]["message"]
            .as_str()
            .unwrap()
            .contains("empty")
    );
    assert!(
        stderr.contains("notes.txt: there is no position in it"),
        "{stderr}"
    );
    // The numbers are those of `measure`, to the last bit.
    let (alone, _, _) = call(&[
        "measure",
        text(&yard.join("J-0417")),
        "--format",
        "json",
        "--quiet",
    ]);
    let alone: Value = serde_json::from_str(&alone).unwrap();
    for part in ["area", "band", "deductions", "order", "log", "warnings"] {
        assert_eq!(all[0][part], alone[part], "{part}");
    }
}

/// RFC 8142, 2: each text between a record separator and a line feed; the same features as in the map.
#[test]
fn a_map_may_come_as_a_sequence_of_texts() {
    let (_temp, yard) = yard();
    let printed = |format| call(&["day", text(&yard), "--format", format, "--quiet"]).0;
    let map: Value = serde_json::from_str(&printed("geojson")).unwrap();
    let sequence = printed("geojson-seq");
    assert!(sequence.starts_with('\u{1e}') && sequence.ends_with("}\n"));
    let texts: Vec<Value> = sequence
        .split_terminator('\n')
        .map(|line| serde_json::from_str(line.strip_prefix('\u{1e}').unwrap()).unwrap())
        .collect();
    assert_eq!(Value::from(texts), map["features"]);
    let one = |format| {
        call(&[
            "measure",
            text(&yard.join("J-0417")),
            "--format",
            format,
            "--quiet",
        ])
        .0
    };
    let map: Value = serde_json::from_str(&one("geojson")).unwrap();
    let sequence = one("geojson-seq");
    let texts: Vec<Value> = sequence
        .split_terminator('\n')
        .map(|line| serde_json::from_str(line.strip_prefix('\u{1e}').unwrap()).unwrap())
        .collect();
    assert_eq!(Value::from(texts), map["features"]);
}

/// By <https://flatgeobuf.org>, "Specification": eight bytes say what it is, a header of so many bytes follows. `.ci/readers` opens it.
#[test]
fn a_map_may_come_as_one_flatgeobuf() {
    let (_temp, yard) = yard();
    let day = |threads: &str| {
        let args = ["--format", "flatgeobuf", "--quiet", "--threads", threads];
        boundwalk()
            .arg("day")
            .arg(&yard)
            .args(args)
            .output()
            .unwrap()
            .stdout
    };
    let map = day("1");
    assert_eq!(map[..7], *b"fgb\x03fgb", "{:?}", &map[..12]);
    let head = u32::from_le_bytes(map[8..12].try_into().unwrap()) as usize;
    assert!((100..map.len()).contains(&head));
    assert_eq!(map, day("2"));
    // With no lawn on it, it has no index either: GDAL opens no other.
    let log = yard.join("none.nmea");
    fs::write(&log, "$GPGGA,120000.00,,,,,0,00,99.9,,,,,,\n").unwrap();
    let args = ["--format", "flatgeobuf", "--quiet"];
    let none = boundwalk()
        .arg("day")
        .arg(&log)
        .args(args)
        .output()
        .unwrap()
        .stdout;
    let header = |map: Vec<u8>| {
        let read = flatgeobuf::FgbReader::open(Cursor::new(map)).unwrap();
        (
            read.header().features_count(),
            read.header().index_node_size(),
        )
    };
    assert_eq!(header(none), (0, 0));
    assert!(header(map).1 > 0);
    let (_, told, code) = call(&["day", text(&yard), "--format", "flatgeobuf", "--watch"]);
    assert!(code == 2 && told.contains("never be finished"), "{told}");
}

#[test]
fn results_depend_neither_on_timing_nor_on_one_another() {
    let (_temp, yard) = yard();
    for format in ["json", "csv", "text", "geojson", "geojson-seq"] {
        let with = |threads: &str| {
            call(&[
                "day",
                text(&yard),
                "--format",
                format,
                "--threads",
                threads,
                "--quiet",
            ])
            .0
        };
        assert_eq!(with("1"), with("4"), "{format}");
    }
    let args = ["day", text(&yard), "--format", "json", "--quiet"];
    let (before, _, _) = call(&args);
    fs::remove_file(yard.join("late/1015.nmea")).unwrap();
    let (after, stderr, code) = call(&args);
    assert_eq!((stderr.as_str(), code), ("", 0));
    let kept: Vec<&str> = before
        .lines()
        .filter(|l| !l.contains("1015.nmea"))
        .collect();
    assert_eq!(after.lines().collect::<Vec<_>>(), kept);
}

#[test]
fn exit_codes() {
    let (_temp, yard) = yard();
    let code = |args: &[&str]| {
        let mut all = vec!["day"];
        all.extend(args);
        call(&all).2
    };
    assert_eq!(code(&[text(&yard.join("J-0417"))]), 0);
    assert_eq!(code(&[text(&yard.join("late/1015.nmea"))]), 1);
    assert_eq!(code(&["no/such/folder"]), 1);
    fs::create_dir(yard.join("none")).unwrap();
    let (stdout, stderr, code_of_none) = call(&["day", text(&yard.join("none"))]);
    assert_eq!((stdout.as_str(), code_of_none), ("", 1));
    assert!(stderr.contains("no job.toml and no log"), "{stderr}");
    assert_eq!(code(&[text(&yard), "--confidence", "95"]), 2);
    assert_eq!(code(&[]), 2);
    // A vanished file has its line; the others are measured.
    let (stdout, _, code) = call(&[
        "day",
        text(&yard.join("J-0417")),
        "gone.nmea",
        "--format",
        "csv",
        "--quiet",
    ]);
    assert_eq!(code, 3);
    assert!(
        stdout
            .lines()
            .any(|l| l.starts_with("gone.nmea,withheld,") && l.contains("no such file")),
        "{stdout}"
    );
    assert!(stdout.contains("J-0417,ok,207."), "{stdout}");
}

#[test]
fn a_list_on_standard_input_gives_what_the_folder_gives() {
    let (temp, yard) = yard();
    let run = |args: &[&str], list: &str| {
        let output = piped(boundwalk().current_dir(temp.path()).args(args), list);
        String::from_utf8(output.stdout).unwrap()
    };
    let folder = run(&["day", "yard", "--format", "json", "-q"], "");
    let list = "yard/J-0417\n\"yard/late/0930.log\"\n{\"path\": \"yard/late/1015.nmea\"}\r\n\nyard/late/1100.nmea\n";
    assert_eq!(run(&["day", "-", "--format", "json", "-q"], list), folder);
    // From wherever it is called.
    let (whole, _, _) = call(&["day", text(&yard), "--format", "json", "-q"]);
    assert_eq!(whole, folder);
}

#[test]
fn every_set_is_written_and_what_has_not_changed_is_not_measured_again() {
    let (temp, yard) = yard();
    let out = temp.path().join("out");
    let day = |more: &[&str]| {
        let mut args = vec!["day", text(&yard), "--out", text(&out)];
        args.extend(more);
        let (stdout, stderr, code) = call(&args);
        assert_eq!(code, 3, "{stderr}");
        stdout
    };
    let first = day(&["--format", "json"]);
    for name in [
        "day.html",
        "day.csv",
        "day.geojson",
        "day.ndjson",
        "yard--J-0417/result.json",
        "yard--J-0417/thumb.svg",
        "yard--late--1015.nmea/report.txt",
    ] {
        assert!(out.join(name).is_file(), "{name}");
    }
    assert_eq!(fs::read_to_string(out.join("day.ndjson")).unwrap(), first);
    let sheets = |name: &str| fs::read(out.join(name)).unwrap();
    let before: Vec<_> = ["day.csv", "day.geojson", "day.ndjson"].map(sheets).into();
    // The second time the same comes out, from what was kept.
    assert_eq!(day(&["--format", "json"]), first);
    assert_eq!(
        Vec::from(["day.csv", "day.geojson", "day.ndjson"].map(sheets)),
        before
    );
    assert!(day(&[]).contains("3 were unchanged and not measured again."));
    assert!(!day(&["--force"]).contains("unchanged"));
    // A log or a setting that changes is measured again, alone.
    let mut log = fixture("lawn.nmea");
    log.extend(b"\r\n");
    put(&yard.join("late/0930.log"), &log);
    assert!(day(&[]).contains("2 were unchanged"));
    assert!(!day(&["--sigma", "0.03"]).contains("unchanged"));
    // The page links every set, the map has a feature for each survey.
    let page = String::from_utf8(sheets("day.html")).unwrap();
    assert_eq!(page.matches("<tr><td>").count(), 4);
    assert!(!page.contains("http://") && !page.contains("https://"));
    for link in page
        .split("href=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap())
    {
        assert!(out.join(link).is_file(), "{link}");
    }
    let map: Value = serde_json::from_slice(&sheets("day.geojson")).unwrap();
    assert_eq!(map["features"].as_array().unwrap().len(), 4);
    assert_eq!(map["features"][2]["geometry"], Value::Null);
    // Its own folder of sheets inside the day's is not taken for surveys.
    let (stdout, _, _) = call(&[
        "day",
        text(temp.path()),
        "--out",
        text(&out),
        "--format",
        "csv",
        "-q",
    ]);
    assert_eq!(stdout.lines().count(), 5, "{stdout}");
    let (stdout, _, _) = call(&["day", text(temp.path()), "--format", "csv", "-q"]);
    assert_eq!(stdout.lines().count(), 5, "{stdout}");
}

#[test]
fn what_was_measured_outlives_its_logs() {
    let (temp, yard) = yard();
    let out = temp.path().join("out");
    let loose = yard.join("late/1100.nmea");
    let call = |format: &str| {
        let output = boundwalk()
            .current_dir(temp.path())
            .args(["day", "yard/J-0417", "yard/late/1100.nmea", "--out", "out"])
            .args(["--format", format, "-q"])
            .output()
            .unwrap();
        String::from_utf8(output.stdout).unwrap()
    };
    let day = || call("csv");
    let sets = || {
        ["yard--J-0417", "yard--late--1100.nmea"].map(|set| {
            let read = |file: &str| fs::read(out.join(set).join(file)).unwrap();
            [read("result.json"), read("plan.svg"), read("sheet.pdf")]
        })
    };
    let first = day();
    let before = sets();
    // A log named by a sheet, one named by the call, and a sheet that is wrong for a while.
    let aside = temp.path().join("aside.nmea");
    for (path, name) in [
        (yard.join("J-0417/lawn.nmea"), "yard/J-0417"),
        (yard.join("J-0417/patio.nmea"), "yard/J-0417"),
        (loose.clone(), "yard/late/1100.nmea"),
        (yard.join("J-0417/job.toml"), "yard/J-0417"),
    ] {
        fs::rename(&path, &aside).unwrap();
        if path.ends_with("job.toml") {
            fs::write(&path, "[job").unwrap();
        }
        let told = day();
        let line = told
            .lines()
            .find(|line| line.starts_with(&format!("{name},withheld,")))
            .unwrap_or_else(|| panic!("{path:?}: {told}"));
        assert!(
            line.contains("still those of when it was last measured"),
            "{line}"
        );
        assert!(sets() == before, "{path:?}");
        // Where it came back nothing is measured again.
        fs::rename(&aside, &path).unwrap();
        assert_eq!(day(), first);
    }
    assert!(call("text").contains("2 were unchanged"));
    // Where there was nothing before, nothing is said of it.
    assert!(!first.contains("last measured"), "{first}");
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_is_told_before_anything_is_measured() {
    let (_temp, yard) = yard();
    // A file in the way stands for a read-only folder: the tests may run as root, who may write anywhere.
    let taken = yard.join("late/notes.txt");
    let (stdout, stderr, code) = call(&["day", text(&yard), "--out", text(&taken), "-q"]);
    assert_eq!((stdout.as_str(), code), ("", 2));
    assert!(
        stderr.contains("notes.txt") && stderr.contains("this is a file"),
        "{stderr}"
    );
}

/// An order on an area that is hardly known goes through no day as `ok`, nor does its table call it so.
#[test]
fn a_wide_band_with_an_order_is_not_ok() {
    let temp = tempfile::tempdir().unwrap();
    let shape = "[[shape]]\nlabel = \"lawn\"\nkind = \"rectangle\"\nlength_m = 10\nwidth_m = 8\nsigma_m = 1.2\n";
    for (name, order) in [("asked", "[order]\n[order.turf]\n"), ("unasked", "")] {
        put(
            &temp.path().join(name).join("job.toml"),
            format!("{shape}{order}").as_bytes(),
        );
    }
    let (stdout, stderr, code) = call(&["day", text(temp.path()), "--format", "json", "-q"]);
    assert_eq!(code, 3, "{stderr}");
    let all = documents(&stdout);
    let part = |k: usize| {
        all[k]["area"]["band_m2"].as_f64().unwrap() / all[k]["area"]["net_m2"].as_f64().unwrap()
    };
    assert!((0.3..0.5).contains(&part(0)), "{}", part(0));
    assert_eq!(
        (&all[0]["status"], &all[1]["status"]),
        (&"check".into(), &"ok".into())
    );
    assert_eq!(all[0]["warnings"][0]["code"], "allowance");
    let (table, _, _) = call(&["day", text(temp.path()), "-q"]);
    let row = table.lines().find(|line| line.contains("asked")).unwrap();
    assert!(row.contains("check"), "{table}");
}

/// The outline of a brief line: OGC 06-103r4 (Simple Feature Access), clause 8.2, read by hand.
fn places(wkb: &[u8]) -> Vec<Vec<(f64, f64)>> {
    let int = |at: usize| u32::from_le_bytes(wkb[at..at + 4].try_into().unwrap()) as usize;
    let float = |at: usize| f64::from_le_bytes(wkb[at..at + 8].try_into().unwrap());
    assert_eq!((wkb[0], int(1)), (1, 6), "a MultiPolygon, little endian");
    let (polygons, mut at) = (int(5), 9);
    let mut rings = Vec::new();
    for _ in 0..polygons {
        assert_eq!((wkb[at], int(at + 1)), (1, 3), "a Polygon");
        let count = int(at + 5);
        at += 9;
        for _ in 0..count {
            let len = int(at);
            at += 4;
            rings.push(
                (0..len)
                    .map(|k| (float(at + 16 * k), float(at + 16 * k + 8)))
                    .collect(),
            );
            at += 16 * len;
        }
    }
    assert_eq!(at, wkb.len());
    rings
}

#[test]
fn brief_lines_are_short_and_have_the_tables_figures_and_the_outline() {
    let (_temp, yard) = yard();
    let (brief, _, code) = call(&["day", text(&yard), "--format", "brief", "-q"]);
    assert_eq!(code, 3);
    let (whole, ..) = call(&["day", text(&yard), "--format", "json", "-q"]);
    let (brief, whole) = (brief.lines(), documents(&whole));
    assert_eq!(brief.clone().count(), whole.len());
    for (line, document) in brief.zip(&whole) {
        assert!(line.len() < 1500, "{}", line.len());
        let of: Value = serde_json::from_str(line).unwrap();
        assert_eq!(of["survey"], document["survey"]["name"]);
        assert_eq!(of["status"], document["status"]);
        let Some(net_m2) = document["area"]["net_m2"].as_f64() else {
            assert!(of["net_m2"].is_null() && of["wkb"].is_null());
            assert!(of["reason"].as_str().unwrap().chars().count() <= 121);
            continue;
        };
        approx::assert_abs_diff_eq!(of["net_m2"].as_f64().unwrap(), net_m2, epsilon = 1e-4);
        assert_eq!(of["pieces"], document["order"]["turf"]["ordered_pieces"]);
        let wkb = BASE64
            .decode(of["wkb"].as_str().unwrap().as_bytes())
            .unwrap();
        let off_m = of["outline_off_m"].as_f64().unwrap();
        // The shoelace formula, on a plane at 45° north (a degree of the meridian: Snyder, 1987, table 8; of the parallel: 78 849 m).
        let area_m2: f64 = places(&wkb)
            .iter()
            .map(|ring| {
                let m =
                    |&(lon, lat): &(f64, f64)| ((lon + 30.0) * 78_849.0, (lat - 45.0) * 111_132.0);
                let pairs = ring.windows(2).map(|pair| (m(&pair[0]), m(&pair[1])));
                pairs.map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>() / 2.0
            })
            .sum();
        let edge_m = document["perimeter_m"].as_f64().unwrap() + 10.0;
        assert!(
            (area_m2.abs() - net_m2).abs() < 0.003 * net_m2 + off_m * edge_m,
            "{area_m2} {net_m2}"
        );
    }
}

/// Logs that come on standard input are measured as files are, whatever lies between them.
#[test]
fn logs_on_a_stream_are_measured_as_files_are() {
    let temp = tempfile::tempdir().unwrap();
    let log = fixture("lawn.nmea");
    put(&temp.path().join("a.nmea"), &log);
    let sheet = "[walk]\nfiles = [\"a.nmea\"]\n[[bed]]\nlabel = \"birch\"\nlat = 45.00006749\nlon = -29.99983259\nradius_m = 1.0\n";
    put(
        &temp.path().join("b/job.toml"),
        sheet.replace("a.nmea", "../a.nmea").as_bytes(),
    );
    let given = |name: &str, log: &[u8], job: Option<&str>| {
        serde_json::json!({"name": name, "log": BASE64.encode(log), "job": job}).to_string()
    };
    let stream = [
        given("a.nmea", &log, None),
        "{\"name\": \"torn\", \"log\": \"JFBBU0hS*\"}".to_owned(),
        "not JSON".to_owned(),
        String::new(),
        given("empty", b"", None),
        given("b", &log, Some(sheet)),
    ]
    .join("\n");
    let run = |args: &[&str], input: &str| {
        let output = piped(boundwalk().current_dir(temp.path()).args(args), input);
        (
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
            output.status.code(),
        )
    };
    let (out, _, code) = run(&["day", "-", "--format", "json", "-q"], &stream);
    assert_eq!(code, Some(3));
    let all = documents(&out);
    assert_eq!(
        names(&all),
        [
            "a.nmea",
            "line 2 of standard input",
            "line 3 of standard input",
            "empty",
            "b"
        ]
    );
    let (files, ..) = run(&["day", "a.nmea", "b", "--format", "json", "-q"], "");
    let files = documents(&files);
    for (framed, file) in [(&all[0], &files[0]), (&all[4], &files[1])] {
        for part in ["area", "band", "deductions", "perimeter_m", "warnings"] {
            assert_eq!(framed[part], file[part], "{part}");
        }
        assert_eq!(
            framed["log"]["files"][0]["sha256"],
            file["log"]["files"][0]["sha256"]
        );
    }
    assert!(all[4]["deductions"][0]["area_m2"].as_f64().unwrap() > 3.0);
    let brief = |threads: &str| {
        run(
            &["day", "-", "--format", "brief", "-q", "--threads", threads],
            &stream,
        )
        .0
    };
    assert_eq!(brief("1"), brief("2"));
    let (_, told, code) = run(&["day", "-", "--out", "sheets"], &stream);
    assert!(
        code == Some(2) && told.contains("put the logs into a folder"),
        "{told}"
    );
}

/// A logger's file that was put into a second garden's folder too: its area would be ordered for that one as well. A sheet that
/// names another's file, or another part of its time, does so on purpose.
#[test]
fn one_log_under_two_names_is_told() {
    let temp = tempfile::tempdir().unwrap();
    let day = temp.path().join("monday");
    let sheet = |more: &str| format!("[walk]\nfiles = [\"lawn.nmea\"]\n{more}");
    for (job, more) in [("J-1", ""), ("J-2", ""), ("J-3", "start = \"06:00\"\n")] {
        put(&day.join(job).join("job.toml"), sheet(more).as_bytes());
        put(&day.join(job).join("lawn.nmea"), &fixture("lawn.nmea"));
    }
    put(
        &day.join("J-4/job.toml"),
        b"[walk]\nfiles = [\"../J-1/lawn.nmea\"]\n",
    );
    put(&day.join("patio.nmea"), &fixture("patio.nmea"));
    let told = |day: &Path| {
        let (_, stderr, _) = call(&["day", text(day)]);
        let told = stderr.lines().filter(|line| line.contains("the same log"));
        told.map(str::to_owned).collect::<Vec<_>>()
    };
    let lines = told(&day);
    assert_eq!(lines.len(), 1, "{lines:?}");
    assert!(
        lines[0].contains("monday/J-1, monday/J-2, monday/J-4 were measured"),
        "{lines:?}"
    );
    put(
        &day.join("J-2/lawn.nmea"),
        &[&fixture("lawn.nmea")[..], b"\r\n"].concat(),
    );
    assert_eq!(told(&day), Vec::<String>::new());
}
