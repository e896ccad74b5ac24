//! `inspect`: text, JSON and CSV, and what becomes of logs that can't be read.

use super::{boundwalk, call};
use serde_json::Value;
use std::path::PathBuf;

/// A sentence with its right checksum.
fn sealed(body: &str) -> String {
    let sum = body.bytes().fold(0, |a, b| a ^ b);
    format!("${body}*{sum:02X}\r\n")
}

/// Stands still for a minute (scatter 10 cm each way, 2 cm claimed), then walks, at 1 Hz, over midnight.
fn walk(quality: u8) -> String {
    let mut text = String::new();
    for i in 0..180u32 {
        let clock = (86_340 + i) % 86_400;
        let time = format!(
            "{:02}{:02}{:02}.00",
            clock / 3600,
            clock / 60 % 60,
            clock % 60
        );
        // Two of four corners of a square by turns: 10 cm off the middle on each axis.
        let wobble = if i % 2 == 0 { 0.1 } else { -0.1 };
        let north_m = if i < 60 { wobble } else { f64::from(i - 60) };
        let minutes = 30.0 + north_m / 1852.0;
        text += &sealed(&format!(
            "GNGGA,{time},51{minutes:010.7},N,00007.5000000,W,{quality},14,0.8,30.0,M,45.9,M,,"
        ));
        text += &sealed(&format!("GNGST,{time},,,,,0.020,0.020,0.040"));
    }
    text
}

fn file(folder: &tempfile::TempDir, name: &str, text: &str) -> String {
    let path: PathBuf = folder.path().join(name);
    std::fs::write(&path, text).unwrap_or_else(|e| panic!("{e}"));
    path.display().to_string()
}

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn json_keeps_the_contract() {
    let folder = folder();
    let log = file(&folder, "lawn.nmea", &walk(4));
    let (out, _, code) = call(&["inspect", "--format", "json", &log]);
    assert_eq!(code, 0);
    let document: Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}"));
    let f = &document["files"][0];
    assert_eq!(f["name"], "lawn.nmea");
    assert_eq!(f["kind"], "nmea");
    assert_eq!(f["lines"], 360);
    assert_eq!(f["fixes"], 180);
    assert_eq!(f["damaged"], 0);
    assert_eq!(f["unknown"], 0);
    assert_eq!(f["first_time"], "23:59:00");
    assert_eq!(f["last_time"], "00:01:59");
    assert_eq!(f["rate_hz"], 1.0);
    assert_eq!(f["gaps"], Value::Array(vec![]));
    assert_eq!(f["qualities"]["4"], 180);
    assert_eq!(f["sentences"]["GNGGA"], 180);
    let standing = &f["standing"][0];
    // All of the scatter is in the north: 0.1 m there and none in the east is 0.1 / sqrt 2 per axis.
    let scatter = standing["scatter_m"].as_f64().unwrap_or(0.0);
    assert!((scatter - 0.0713).abs() < 0.003, "{scatter}");
    let claimed = standing["claimed_m"].as_f64().unwrap_or(0.0);
    assert!((claimed - 0.02).abs() < 1e-6, "{claimed}");
    // The claim is a third of the truth and less.
    assert_eq!(f["verdict"], "doubtful");
    assert!(
        f["why"][0].as_str().is_some_and(|w| w.contains("claims")),
        "{f}"
    );
}

#[test]
fn csv_is_every_fix_as_read() {
    let folder = folder();
    let text = walk(1)
        + &sealed("GNGGA,000200.00,5130.0000000,N,00007.5000000,W,6,14,0.8,30.0,M,45.9,M,,");
    let log = file(&folder, "lawn.nmea", &text);
    let (out, _, code) = call(&["inspect", "--format", "csv", &log]);
    assert_eq!(code, 0);
    let rows: Vec<&str> = out.lines().collect();
    assert_eq!(
        rows[0],
        "time,lat,lon,height_m,quality,satellites,hdop,sigma_east_m,sigma_north_m,source,line"
    );
    assert_eq!(rows.len(), 1 + 181);
    assert_eq!(
        rows[61],
        "00:00:00,51.500000000,-0.125000000,75.9000,1,14,0.8,0.02,0.02,GGA,121"
    );
    // Dead reckoning isn't measured from, but it was read.
    assert!(rows[181].contains(",6,14,"), "{}", rows[181]);
    // And what it writes is a point list that can be read again.
    let list = file(&folder, "list.csv", &out);
    let (again, _, _) = call(&["inspect", "--format", "csv", &list]);
    let again: Vec<&str> = again.lines().collect();
    assert!(
        again[61]
            .starts_with("00:00:00,51.500000000,-0.125000000,75.9000,1,14,0.8,0.02,0.02,point,62")
    );
}

/// Standing is to get nowhere: slow passes and a way round a bed are walking, though ten seconds on one is hardly further.
#[test]
fn slow_walking_is_not_standing() {
    let folder = folder();
    let standing = |place: &dyn Fn(f64) -> (f64, f64)| {
        let mut text = String::new();
        for i in 0..120u32 {
            let (east_m, north_m) = place(f64::from(i));
            let time = format!("10{:02}{:02}.00", i / 60, i % 60);
            // A minute of longitude on the equator is 1855 m.
            let (north, east) = (30.0 + north_m / 1852.0, 7.5 + east_m / 1855.0);
            text += &sealed(&format!(
                "GNGGA,{time},00{north:010.7},N,000{east:010.7},W,4,14,0.8,30.0,M,45.9,M,,"
            ));
        }
        let log = file(&folder, "x.nmea", &text);
        let (out, _, _) = call(&["inspect", "--format", "json", &log]);
        let document: Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}"));
        document["files"][0]["standing"]
            .as_array()
            .map_or(0, Vec::len)
    };
    for pace_m_s in [0.21, 0.24, 0.5] {
        assert_eq!(standing(&|s| (0.0, pace_m_s * s)), 0, "{pace_m_s}");
        // To and fro, a pass of 6 m each.
        let to_and_fro = |s: f64| {
            (
                0.4 * (pace_m_s * s / 6.0).floor(),
                (pace_m_s * s % 12.0 - 6.0).abs(),
            )
        };
        assert_eq!(standing(&to_and_fro), 0, "{pace_m_s}");
    }
    let round = |s: f64| (1.5 * (s / 3.0).cos(), 1.5 * (s / 3.0).sin());
    assert_eq!(standing(&round), 0);
    // Half a minute at one place, and on.
    let stop = |s: f64| (0.0, s.min(20.0) + (s - 50.0).max(0.0));
    assert_eq!(standing(&stop), 1);
}

#[test]
fn quiet_says_nothing_of_a_log_that_cannot_be_read() {
    let folder = folder();
    let log = file(&folder, "lawn.nmea", &walk(4));
    let empty = file(&folder, "empty.nmea", "");
    let (out, err, code) = call(&["inspect", "--quiet", &log, &empty]);
    assert_eq!((err.as_str(), code), ("", 1));
    assert_eq!(out, call(&["inspect", &log]).0);
    assert_ne!(call(&["inspect", &log, &empty]).1, "");
}

#[test]
fn text_fits_the_terminal_and_says_the_verdict() {
    let folder = folder();
    let log = file(&folder, "lawn.nmea", &walk(4));
    let (out, err, code) = call(&["inspect", &log]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("Doubtful"));
    assert!(out.contains("standing"));
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
}

#[test]
fn verdicts() {
    let folder = folder();
    let verdict = |text: &str| {
        let log = file(&folder, "x.nmea", text);
        let (out, _, _) = call(&["inspect", "--format", "json", &log]);
        let document: Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}"));
        document["files"][0]["verdict"]
            .as_str()
            .unwrap_or("")
            .to_string()
    };
    let walked: String = walk(4).split_inclusive('\n').skip(122).collect();
    assert_eq!(verdict(&walked), "fit");
    let standing: String = walk(4).split_inclusive('\n').take(120).collect();
    assert_eq!(verdict(&standing), "unfit");
    assert_eq!(verdict(&walk(8)), "unfit");
    assert_eq!(verdict("$GPGGA,,,,,,0,,,,,,,,*66\r\n"), "unfit");
    let phone: String = walk(1).split_inclusive('\n').skip(122).collect();
    assert_eq!(verdict(&phone), "doubtful");
}

#[test]
fn one_bad_log_does_not_take_the_others() {
    let folder = folder();
    let good = file(&folder, "good.nmea", &walk(4));
    let bad = file(&folder, "bad.nmea", "PK\u{3}\u{4}");
    let (out, err, code) = call(&["inspect", &bad, &good]);
    assert_eq!(code, 1);
    assert!(out.contains("good.nmea"));
    let told = err.to_lowercase();
    assert!(told.contains("bad.nmea") && told.contains("zip"), "{err}");
    let (out, err, code) = call(&["inspect", "no/such/file"]);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(err.contains("no such file"), "{err}");
}

#[test]
fn standard_input_that_never_ends() {
    let mut child = std::process::Command::new(boundwalk().get_program())
        .args(["inspect", "--max-fixes", "50", "--format", "csv", "-"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap_or_else(|e| panic!("{e}"));
    let mut input = child.stdin.take();
    let feeder = std::thread::spawn(move || {
        let text: String = walk(4).split_inclusive('\n').skip(122).collect();
        // Until the reader has had enough and closes its end.
        while let Some(pipe) = &mut input {
            if std::io::Write::write_all(pipe, text.as_bytes()).is_err() {
                break;
            }
        }
    });
    let output = child.wait_with_output().unwrap_or_else(|e| panic!("{e}"));
    feeder
        .join()
        .unwrap_or_else(|_| panic!("the feeder failed"));
    assert_eq!(output.status.code(), Some(0));
    let rows = output.stdout.iter().filter(|b| **b == b'\n').count();
    assert_eq!(rows, 51);
}

/// What measure would only note is said here too: this is where one asks.
#[test]
fn what_was_guessed_or_let_pass_is_noted() {
    let folder = folder();
    let points = "name,lat,lon\nA,52.1,1.2\nB,52.1,1.2003\nC,52.1003,1.2003\nD,52.1003,1.2\n";
    let list = file(&folder, "corners.csv", points);
    let bare: String = walk(4)
        .lines()
        .map(|l| format!("{}\n", &l[..l.len() - 3]))
        .collect();
    let bare = file(&folder, "bare.nmea", &bare);
    let (text, _, _) = call(&["inspect", &list, &bare]);
    assert!(text.contains("\"lat\""), "{text}");
    assert!(text.contains("no checksums"), "{text}");
    let (json, _, _) = call(&["inspect", "--format", "json", &list, &bare]);
    let document: Value = serde_json::from_str(&json).unwrap_or_else(|e| panic!("{e}"));
    for at in [0, 1] {
        assert_eq!(
            document["files"][at]["notes"].as_array().map(Vec::len),
            Some(1)
        );
    }
}

/// A strip with places for more fixes than there are would show gaps that the log doesn't have.
#[test]
fn a_steady_log_has_no_blanks_in_its_strip() {
    let folder = folder();
    for (every, count) in [(1, 30), (1, 61), (1, 120), (7, 45), (12, 48)] {
        let log: String = (0..count)
            .map(|i| {
                let s = i * every;
                let time = format!("10{:02}{:02}.00", s / 60, s % 60);
                let minutes = 30.0 + f64::from(i) / 1852.0;
                sealed(&format!(
                    "GNGGA,{time},51{minutes:010.7},N,00007.5,W,1,14,0.8,30.0,M,45.9,M,,"
                ))
            })
            .collect();
        let log = file(&folder, "steady.nmea", &log);
        let (text, _, _) = call(&["inspect", &log]);
        let strip = text
            .lines()
            .find(|l| l.starts_with('|'))
            .unwrap_or_default();
        let places = strip.len().saturating_sub(2);
        assert_eq!(
            strip,
            format!("|{}|", "1".repeat(places)),
            "{every} {count}"
        );
        assert!(places == 60.min(count as usize), "{every} {count}: {strip}");
    }
}

/// Without a word on how they were fixed, positions that claim metres are no better than a phone's.
#[test]
fn claimed_metres_are_a_doubt() {
    let folder = folder();
    let track = |accuracy: &str| {
        let points: String = (0..40)
            .map(|i| {
                format!(
                    "<trkpt lat=\"{}\" lon=\"1.2\"><time>2026-05-14T10:00:{i:02}Z</time>{accuracy}</trkpt>\n",
                    52.1 + f64::from(i) * 1e-5
                )
            })
            .collect();
        format!("<gpx><trk><trkseg>{points}</trkseg></trk></gpx>")
    };
    for (accuracy, verdict) in [
        ("<hacc>1.4</hacc>", "doubtful"),
        ("<hacc>0.02</hacc>", "fit"),
    ] {
        let log = file(&folder, "track.gpx", &track(accuracy));
        let (out, _, _) = call(&["inspect", "--format", "json", &log]);
        let document: Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(document["files"][0]["verdict"], verdict, "{out}");
    }
}

/// 1: nothing could be read; 3: read, and not to be measured from; as `measure` exits.
#[test]
fn exit_codes_say_what_came_of_it() {
    let folder = folder();
    let mut noise = 7u64;
    let random: Vec<u8> = (0..200_000)
        .map(|_| {
            noise = noise
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (noise >> 56) as u8
        })
        .collect();
    let program = std::fs::read(env!("CARGO_BIN_EXE_boundwalk")).unwrap_or_else(|e| panic!("{e}"));
    let nothing: [(&str, &[u8]); 7] = [
        ("random", &random),
        ("program", program.get(..300_000).unwrap_or(&program)),
        (
            "past.its.head",
            program.get(4_096..300_000).unwrap_or(&program),
        ),
        ("empty", b""),
        ("zeros", &[0; 10_000]),
        ("lines", b"\n\n\n\n"),
        (
            "letter.txt",
            b"Dear Sir,\nthe price is $abc a metre.\nYours\n",
        ),
    ];
    for (name, bytes) in nothing {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap_or_else(|e| panic!("{e}"));
        let path = path.display().to_string();
        for format in ["text", "json", "csv"] {
            let (out, err, code) = call(&["inspect", "--format", format, &path]);
            assert_eq!(code, 1, "{name}: {err}");
            // What `tests/cli/failed.rs` holds against its schema.
            assert_eq!(out.is_empty(), format != "json", "{name}: {out}");
            assert!(err.starts_with("error:") && err.contains(name), "{err}");
        }
        assert_eq!(call(&["measure", &path]).2, 1, "{name}");
    }
    let here = folder.path().display().to_string();
    let (out, err, code) = call(&["inspect", &here]);
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(err.contains("folder"), "{err}");
    // A log, and nothing in it: the report says why.
    let void = sealed("GPGGA,,,,,,0,,,,,,,,").repeat(5);
    let standing: String = walk(4).split_inclusive('\n').take(120).collect();
    let walked: String = walk(4).split_inclusive('\n').skip(122).collect();
    for (name, text, expected) in [
        ("void.nmea", void, 1),
        ("standing.nmea", standing, 3),
        ("simulated.nmea", walk(8), 3),
        ("walked.nmea", walked, 0),
    ] {
        let log = file(&folder, name, &text);
        let (out, err, code) = call(&["inspect", &log]);
        assert_eq!((code, err.as_str()), (expected, ""), "{name}");
        assert!(out.contains(name), "{out}");
    }
}

/// As they come through a pipe, on standard input or under a name.
#[test]
fn a_pipe_is_looked_at_like_a_file() {
    let folder = folder();
    let text = walk(4);
    let log = file(&folder, "walk.nmea", &text);
    let (of_file, _, _) = call(&["inspect", "--format", "csv", &log]);
    let mut child = std::process::Command::new(boundwalk().get_program())
        .args(["inspect", "--format", "csv", "-"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap_or_else(|e| panic!("{e}"));
    let mut pipe = child.stdin.take();
    // In two parts, cut inside a sentence.
    let (one, two) = text.split_at(1_234);
    for part in [one, two] {
        let written = pipe
            .as_mut()
            .map(|p| std::io::Write::write_all(p, part.as_bytes()));
        assert!(matches!(written, Some(Ok(()))));
        std::thread::sleep(std::time::Duration::from_millis(30));
    }
    drop(pipe);
    let output = child.wait_with_output().unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stdout), of_file);
}

/// Files with thousands of faults are reported in a page: each kind once, with its count and its first lines.
#[test]
fn thousands_of_faults_stay_readable() {
    let folder = folder();
    let good = walk(4);
    let mut spoilt = String::new();
    for (i, line) in good.lines().cycle().take(360 * 20).enumerate() {
        match i % 8 {
            1 => spoilt += &line.replacen(",N,", ",S,", 1),
            2 => spoilt += line.get(..40).unwrap_or(line),
            3 => spoilt += "$GNGGA,xx,yy,zz,,,,,*",
            4 => spoilt += "nothing known in this line",
            5 => spoilt += &sealed("GNGGA,259999.00,5130.0,N,00007.5,W,1,14,0.8,30.0,M,45.9,M,,"),
            6 => spoilt += &sealed("GNGGA,120000.00,9930.0,N,00007.5,W,1,14,0.8,30.0,M,45.9,M,,"),
            _ => spoilt += line,
        }
        spoilt += "\r\n";
    }
    let names = ["a.nmea", "b.nmea", "c.nmea"];
    let logs = names.map(|name| file(&folder, name, &spoilt));
    for (command, page) in [("inspect", 70 * names.len()), ("measure", 50)] {
        let mut args = vec![command];
        args.extend(logs.iter().map(String::as_str));
        let (out, err, _) = call(&args);
        let said = out + &err;
        assert!(said.lines().count() < page, "{command}:\n{said}");
        for name in names {
            assert!(said.contains(name), "{command}: {name}\n{said}");
        }
        // Once for each file, and once in its list or in that of all files.
        for kind in [
            "900 checksum missing (line 3,",
            "900 sentence torn (line 4,",
        ] {
            let times = said
                .replace("\n", " ")
                .replace("  ", "")
                .matches(kind)
                .count();
            assert!(
                (3..=6).contains(&times),
                "{command}: {times} x {kind}\n{said}"
            );
        }
    }
}
