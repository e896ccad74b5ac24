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
