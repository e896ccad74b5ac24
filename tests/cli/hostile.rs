//! Names that hold control characters and marks of direction, and sheets that name what is not theirs.

use super::day::{fixture, put};
use super::{boundwalk, call};
use boundwalk::visible::is_hidden;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

/// Clears the screen, colours what follows, turns a line about (U+202E), C1's own escape (U+009B), DEL.
const NAME: &str = "birch\\u001B[2J\\u001B[31m\\u202Ehcrib\\u009B1m\\u007F";

/// A job whose folder, log, site, label, bed and waypoint are named so.
fn job(yard: &Path) -> PathBuf {
    let folder = yard.join("J\u{1b}[31m\u{202e}1");
    let log = "lawn\u{1b}[2J\u{202e}\u{9b}.nmea";
    let sheet = format!(
        "[job]\nsite = \"{NAME}\"\n[walk]\nlabel = \"{NAME}\"\nfiles = [\"lawn\\u001B[2J\\u202E\\u009B.nmea\"]\n\
         [[bed]]\nlabel = \"{NAME}\"\nlat = 45.00006749\nlon = -29.99983259\nradius_m = 0.35\n\
         [[bed]]\nlabel = \"far {NAME}\"\nlat = 46\nlon = -29\nradius_m = 0.35\n\
         [order]\n[price]\n[[price.extra]]\nlabel = \"{NAME}\"\nunit = \"{NAME}\"\nrate = 2\n"
    );
    put(&folder.join("job.toml"), sheet.as_bytes());
    put(&folder.join(log), &fixture("lawn.nmea"));
    folder
}

/// Nothing in a text acts on what shows it: beside line ends there is only what can be seen.
fn is_plain(text: &str, what: &str) {
    let hidden: Vec<char> = text
        .chars()
        .filter(|c| !matches!(c, '\n' | '\r') && is_hidden(*c))
        .collect();
    assert!(hidden.is_empty(), "{what}: {hidden:?}");
}

fn all_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        match path.is_dir() {
            true => all_files(&path, found),
            false => found.push(path),
        }
    }
}

/// Every file that is text, or JSON, in a folder of sheets.
fn sheets_are_plain(folder: &Path) {
    let mut files = Vec::new();
    all_files(folder, &mut files);
    let mut names_seen = 0;
    for file in files {
        let name = file
            .file_name()
            .and_then(|e| e.to_str())
            .unwrap_or_default();
        // What the program keeps for itself.
        if name.starts_with('.') {
            continue;
        }
        let ending = file
            .extension()
            .and_then(|e| e.to_str())
            .unwrap_or_default();
        if ["pdf", "png"].contains(&ending) {
            continue;
        }
        let bytes = fs::read(&file).unwrap();
        let said = String::from_utf8(bytes).unwrap_or_else(|_| panic!("{}", file.display()));
        is_plain(&said, text(&file));
        names_seen += usize::from(said.contains(r"\u{1b}[2J"));
    }
    // Plans, report, page, tables: the name is shown and not left out.
    assert!(names_seen >= 5, "{names_seen}");
}

#[test]
fn no_name_acts_on_a_terminal_a_report_or_a_table() {
    let temp = tempfile::tempdir().unwrap();
    let yard = temp.path().join("yard");
    let folder = job(&yard);
    let log = folder.join("lawn\u{1b}[2J\u{202e}\u{9b}.nmea");
    let out = temp.path().join("out");
    for format in ["text", "json", "geojson", "csv"] {
        let (stdout, stderr, code) = call(&["measure", text(&folder), "--format", format]);
        assert_eq!(code, 3, "{stderr}");
        is_plain(&stdout, format);
        is_plain(&stderr, format);
        if format == "json" {
            let document: Value = serde_json::from_str(&stdout).unwrap();
            let site = document["survey"]["site"].as_str().unwrap();
            assert!(
                site.starts_with("birch\u{1b}[2J\u{1b}[31m\u{202e}"),
                "{site:?}"
            );
        }
        if format == "text" {
            assert!(
                stdout.contains(r"\u{1b}") && stdout.contains(r"\u{202e}"),
                "{stdout}"
            );
        }
        let (stdout, stderr, _) = call(&["day", text(&yard), "--format", format]);
        is_plain(&stdout, format);
        is_plain(&stderr, format);
        assert!(stdout.contains("hcrib") || format == "text", "{stdout}");
    }
    let (stdout, stderr, code) = call(&["measure", text(&folder), "--out", text(&out)]);
    assert_eq!(code, 3, "{stderr}");
    is_plain(&stdout, "measure --out");
    is_plain(&stderr, "measure --out");
    sheets_are_plain(&out);
    for format in ["text", "json"] {
        let (stdout, stderr, _) = call(&["inspect", text(&log), "--format", format]);
        is_plain(&stdout, format);
        is_plain(&stderr, format);
    }
    let sheet = folder.join("job.toml");
    let (stdout, stderr, code) = call(&["job", text(&sheet)]);
    assert_eq!(code, 0, "{stderr}");
    is_plain(&stdout, "job");
}

#[test]
fn no_name_acts_on_the_sheets_of_a_day_or_a_list_of_records() {
    let temp = tempfile::tempdir().unwrap();
    let (yard, out) = (temp.path().join("yard"), temp.path().join("out"));
    job(&yard);
    let records = temp.path().join("records.gpkg");
    let (stdout, stderr, code) = call(&[
        "day",
        text(&yard),
        "--out",
        text(&out),
        "--records",
        text(&records),
    ]);
    assert_eq!(code, 3, "{stderr}");
    is_plain(&stdout, "day");
    is_plain(&stderr, "day");
    sheets_are_plain(&out);
    for args in [
        &["list"][..],
        &["list", "--format", "json"],
        &["export", "--format", "json"],
        &["export", "--format", "csv"],
        &["export", "--format", "geojson"],
    ] {
        let mut all = vec!["records", args[0], text(&records)];
        all.extend(&args[1..]);
        let (stdout, stderr, code) = call(&all);
        assert_eq!(code, 0, "{stderr}");
        is_plain(&stdout, args[0]);
        assert!(stdout.contains("[31m"), "{stdout}");
    }
    let (stdout, _, _) = call(&["records", "list", text(&records)]);
    assert!(stdout.contains(r"\u{1b}[31m\u{202e}1"), "{stdout}");
}

#[test]
fn faults_show_names_without_acting_on_the_terminal() {
    for command in ["measure", "inspect", "tape", "day"] {
        let name = "no\u{1b}[2J\u{202e}.toml";
        let (stdout, stderr, code) = call(&[command, name, "--format", "json"]);
        is_plain(&stderr, command);
        is_plain(&stdout, command);
        assert_eq!(code, 1, "{command}: {stderr}");
        // A day's survey that could not be read has its line all the same, on standard output.
        let shown = match command {
            "day" => stdout.contains(r"no\u001b[2J\u202e.toml"),
            _ => stderr.contains(r"no\u{1b}[2J\u{202e}.toml"),
        };
        assert!(shown, "{command}: {stdout}{stderr}");
    }
}

#[test]
fn a_name_taken_for_an_option_is_shown_too() {
    let (stdout, stderr, code) =
        call(&["measure", "--no\u{1b}[2J\u{202e}.nmea", "--format", "json"]);
    is_plain(&stderr, "standard error");
    is_plain(&stdout, "standard output");
    assert!(
        // What is an escape sequence of a terminal is already taken out by the parser of options.
        code == 2 && stderr.contains(r"--no\u{202e}.nmea"),
        "{code}: {stderr}"
    );
}

/// Standard output, standard error and exit code of a call that must come to an end.
fn soon(args: &[&str]) -> (String, String, i32) {
    let (done, ended) = std::sync::mpsc::channel();
    let mut command = boundwalk();
    command.args(args);
    std::thread::spawn(move || done.send(command.output()));
    let output = ended.recv_timeout(Duration::from_secs(120));
    let output = output.expect("ended in time").unwrap();
    (
        String::from_utf8_lossy(&output.stdout).into_owned(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
        output.status.code().expect("ended by itself"),
    )
}

#[cfg(unix)]
fn pipe(path: &Path) {
    let made = std::process::Command::new("mkfifo")
        .arg(path)
        .status()
        .unwrap();
    assert!(made.success());
}

/// What a sheet names is opened only where it is a plain file; what is in it is never shown.
#[cfg(unix)]
#[test]
fn a_sheet_may_name_only_plain_files() {
    let temp = tempfile::tempdir().unwrap();
    let at = |name: &str| temp.path().join(name);
    put(&at("lawn.nmea"), &fixture("lawn.nmea"));
    pipe(&at("pipe"));
    put(
        &at("passwords"),
        "root:x:0:0:the:/root:/bin/sh\n".repeat(20).as_bytes(),
    );
    put(
        &at("secrets"),
        b"TOKEN = \"hunter2\"\nturf_per_piece = \"pa55word\"\nsoil_per_tonne = -7731\n",
    );
    put(
        &at("large.toml"),
        "turf_per_piece = 1 # xxxxxxxxxxxxx\n"
            .repeat(40_000)
            .as_bytes(),
    );
    put(&at("latin.toml"), b"turf_per_piece = 1 # caf\xe9\n");
    std::os::unix::fs::symlink("/dev/zero", at("zero")).unwrap();
    let sheet = at("job.toml");
    let told = |rest: &str, commands: &[&str]| -> Vec<(String, i32)> {
        put(&sheet, rest.as_bytes());
        let tell = |command: &&str| {
            let (stdout, stderr, code) = soon(&[command, text(&sheet)]);
            (format!("{stdout}{stderr}"), code)
        };
        commands.iter().map(tell).collect()
    };
    let rates = |name: &str| {
        let sheet =
            format!("[walk]\nfiles = [\"lawn.nmea\"]\n[order]\n[price]\nrates = \"{name}\"\n");
        told(&sheet, &["measure", "job", "day"])
    };
    for (name, why) in [
        ("pipe", "not a file"),
        ("zero", "not a file"),
        ("/dev/zero", "not a file"),
        ("large.toml", "larger than 1 MB"),
        ("latin.toml", "not text in UTF-8"),
        (".", "folder"),
    ] {
        for (said, code) in rates(name) {
            assert!([1, 2].contains(&code), "{name}: {code} {said}");
            assert!(
                said.split_whitespace()
                    .collect::<Vec<_>>()
                    .join(" ")
                    .contains(why),
                "{name}: {said}"
            );
        }
    }
    for (file, secrets, places) in [
        (
            "passwords",
            &["root", "/bin/sh"][..],
            &[(1, "not TOML")][..],
        ),
        (
            "secrets",
            &["hunter2", "pa55word", "7731"],
            &[(1, "TOKEN"), (2, "turf_per_piece"), (3, "soil_per_tonne")],
        ),
    ] {
        let said = rates(file);
        for secret in secrets {
            assert!(
                said.iter().all(|(said, _)| !said.contains(secret)),
                "{secret}: {said:#?}"
            );
        }
        for (line, key) in places {
            let place = format!("{file} line {line}: ");
            let told = said[0].0.lines().find(|told| told.contains(&place));
            assert!(
                told.is_some_and(|told| told.contains(key)),
                "{line}: {}",
                said[0].0
            );
        }
    }
    for name in ["pipe", "zero", "/dev/zero"] {
        for sheet in [
            format!("[walk]\nfiles = [\"{name}\"]\n"),
            format!("[walk]\nfiles = [\"lawn.nmea\"]\n[[deduct]]\nfiles = [\"{name}\"]\n"),
            format!(
                "[walk]\nfiles = [\"lawn.nmea\"]\n[[path]]\nwidth_m = 1\nfiles = [\"{name}\"]\n"
            ),
        ] {
            for (said, code) in told(&sheet, &["measure", "day"]) {
                assert!(
                    [1, 2].contains(&code) && said.contains("not a file"),
                    "{code} {said}"
                );
            }
        }
    }
    // The sheet itself.
    for name in ["pipe", "zero"] {
        for args in [&["measure", "--job"][..], &["tape"], &["job"]] {
            let path = at(name);
            let args: Vec<&str> = args.iter().copied().chain([text(&path)]).collect();
            let (_, stderr, code) = soon(&args);
            assert!(
                code == 1 && stderr.contains("not a file"),
                "{args:?}: {code} {stderr}"
            );
        }
    }
    // A file that is no sheet at all, named as one by mistake.
    let passwords = at("passwords");
    let (_, stderr, code) = soon(&["measure", "--job", text(&passwords)]);
    assert!(
        code == 2 && !stderr.contains("root") && stderr.contains("line 1"),
        "{stderr}"
    );
}
