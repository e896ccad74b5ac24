use super::{boundwalk, call};
use std::io::Read;
use std::process::Stdio;

#[test]
fn help_says_what_the_exit_codes_mean() {
    let (stdout, stderr, code) = call(&["--help"]);
    assert_eq!((stderr.as_str(), code), ("", 0));
    assert!(
        stdout.contains("Exit codes") && stdout.contains("not a survey of legal"),
        "{stdout}"
    );
}

#[test]
fn wrong_usage_is_exit_code_2() {
    for args in [
        &["nonsense"][..],
        &[],
        &["measure"],
        &["measure", "a", "--confidence", "95"],
    ] {
        let (stdout, stderr, code) = call(args);
        assert_eq!((stdout.as_str(), code), ("", 2), "{args:?}");
        assert!(!stderr.is_empty(), "{args:?}");
    }
}

#[test]
fn a_carry_needs_its_side() {
    let (_, stderr, code) = call(&["measure", "a", "--carry", "0.2"]);
    assert_eq!(code, 2);
    assert!(stderr.contains("--carry-side"), "{stderr}");
}

#[test]
fn lengths_on_the_command_line_take_units() {
    let (_, stderr, code) = call(&[
        "measure",
        "a",
        "--carry",
        "12ft 6",
        "--carry-side",
        "inside",
    ]);
    assert_eq!(code, 2);
    assert!(stderr.contains("second part has no unit"), "{stderr}");
}

#[test]
fn completions_and_the_manual_are_made() {
    for shell in ["bash", "zsh", "fish"] {
        let (stdout, _, code) = call(&["completions", shell]);
        assert_eq!(code, 0);
        assert!(stdout.contains("boundwalk"));
    }
    let (stdout, _, code) = call(&["man"]);
    assert_eq!(code, 0);
    assert!(stdout.contains(".TH boundwalk"), "{stdout}");
    let folder = tempfile::tempdir().unwrap();
    let (_, _, code) = call(&["man", "--out", folder.path().to_str().unwrap()]);
    assert_eq!(code, 0);
    assert!(folder.path().join("boundwalk-job.1").is_file());
}

/// A reader that has had enough is success: `boundwalk job | head -1`.
#[test]
fn a_broken_pipe_is_success() {
    let mut child = std::process::Command::new(boundwalk().get_program())
        .args(["completions", "bash"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut stderr = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut stderr)
        .unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0));
    assert_eq!(stderr, "");
}

/// Each command has a page, those inside `records` as well, under the name that `man` looks for.
#[test]
fn every_command_has_a_page() {
    let folder = tempfile::tempdir().unwrap();
    let (_, stderr, code) = call(&["man", "--out", folder.path().to_str().unwrap()]);
    assert_eq!((stderr.as_str(), code), ("", 0));
    for name in [
        "boundwalk",
        "boundwalk-measure",
        "boundwalk-live",
        "boundwalk-records-list",
    ] {
        let page = std::fs::read_to_string(folder.path().join(format!("{name}.1"))).unwrap();
        let title = format!(".TH {name} 1  \"boundwalk {}\"", env!("CARGO_PKG_VERSION"));
        assert!(page.contains(&title), "{page}");
        assert!(!page.contains("boundwalk-help"), "{page}");
    }
}

/// What the help says is read is what the manual of logs has a heading or a row for.
#[test]
fn the_help_names_all_that_is_read() {
    let (help, _, _) = call(&["measure", "--help"]);
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    for form in [
        "NMEA 0183",
        "UBX",
        "GPX",
        "KML and KMZ",
        "TCX",
        "gpsd",
        "Android",
        ".pos",
        "CSV",
        "GeoJSON",
        "WKT",
        "gzipped",
        "zip archive",
    ] {
        assert!(help.contains(form), "{form}: {help}");
    }
}

#[test]
fn the_long_version_tells_builds_apart() {
    let (short, _, _) = call(&["-V"]);
    assert_eq!(short, format!("boundwalk {}\n", env!("CARGO_PKG_VERSION")));
    let (long, _, code) = call(&["--version"]);
    assert!(long.starts_with(short.trim_end()), "{long}");
    assert_eq!(code, 0);
    let line = |name: &str| {
        let found = long
            .lines()
            .find(|line| line.split_whitespace().next() == Some(name));
        found.unwrap_or_else(|| panic!("{name}: {long}")).to_owned()
    };
    line("commit");
    assert!(line("features").ends_with("records, sheets"), "{long}");
    assert_eq!(
        line("PROJ").contains("not built in"),
        cfg!(not(feature = "proj")),
        "{long}"
    );
    assert!(line("results").ends_with("boundwalk/result/1"));
}

/// Colour comes where it is asked for, and never into what a program reads.
#[test]
fn colour_is_as_asked() {
    let run = |args: &[&str]| {
        let output = boundwalk().args(args).env("NO_COLOR", "").output().unwrap();
        (
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        )
    };
    let escape = "\u{1b}[";
    for (args, coloured) in [
        (&["measure", "no.nmea"][..], false),
        (&["measure", "no.nmea", "--color", "auto"], false),
        (&["measure", "no.nmea", "--color", "always"], true),
        (&["--color=always", "measure", "no.nmea"], true),
        (
            &["--color=always", "measure", "no.nmea", "--color=never"],
            false,
        ),
        // Found wrong by the parser of arguments.
        (&["measure", "--color=always"], true),
        (&["measure", "--color=never"], false),
    ] {
        let (stdout, stderr) = run(args);
        assert_eq!(stderr.contains(escape), coloured, "{args:?}: {stderr:?}");
        assert!(!stdout.contains(escape), "{args:?}: {stdout:?}");
    }
    let (_, stderr) = run(&["measure", "no\u{1b}[31m.nmea", "--color", "always"]);
    assert!(
        !stderr.contains("[31m.nmea") || stderr.contains("\\u{1b}[31m.nmea"),
        "{stderr:?}"
    );
    assert!(
        run(&["measure", "a", "--color", "blue"])
            .1
            .contains("always, never")
    );
}
