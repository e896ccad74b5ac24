use super::call;
use std::fs;

#[test]
fn the_printed_sheet_is_one_that_checks_out() {
    let (sheet, stderr, code) = call(&["job"]);
    assert_eq!((stderr.as_str(), code), ("", 0));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    fs::write(&path, sheet).unwrap();
    // The log it names is not there yet, which is all there is to say.
    let (_, stderr, code) = call(&["job", path.to_str().unwrap()]);
    assert_eq!(code, 1, "{stderr}");
    assert!(stderr.contains("lawn.nmea"), "{stderr}");
    fs::write(folder.path().join("lawn.nmea"), "").unwrap();
    let (stdout, stderr, code) = call(&["job", path.to_str().unwrap()]);
    assert_eq!((stderr.as_str(), code), ("", 0));
    assert!(
        stdout.contains("no faults") && stdout.contains("walk.files"),
        "{stdout}"
    );
}

#[test]
fn every_fault_is_told_in_one_go() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    fs::write(&path, "[walk]\ncary_m = 0.2\n[[bed]]\nradius_m = -1\n").unwrap();
    let (stdout, stderr, code) = call(&["job", path.to_str().unwrap()]);
    assert_eq!((stdout.as_str(), code), ("", 2));
    assert!(
        stderr.contains("job.toml line 2: cary_m is not known in [walk]. Did you mean carry_m?"),
        "{stderr}"
    );
    assert!(
        stderr.contains("line 3: [[bed]] number 1 has no place"),
        "{stderr}"
    );
    assert!(
        stderr.contains("line 4: [[bed]] number 1 radius_m is -1"),
        "{stderr}"
    );
    assert_eq!(stderr.lines().count(), 3);
}

/// A log in the sheet's place is one fault, not one a line; a table in another is named as it is written.
#[test]
fn a_log_is_no_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    fs::write(
        &path,
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M\n".repeat(200),
    )
    .unwrap();
    let (_, stderr, code) = call(&["job", path.to_str().unwrap()]);
    assert_eq!((stderr.lines().count(), code), (1, 2), "{stderr}");
    assert!(stderr.contains("this is no job sheet"), "{stderr}");
    fs::write(&path, "[price]\n[[price.extra]]\nlabel = \"hire\"\n").unwrap();
    let (_, stderr, _) = call(&["job", path.to_str().unwrap()]);
    assert!(stderr.contains("[[price.extra]] number 1"), "{stderr}");
}

#[test]
fn a_sheet_that_is_not_there_or_not_text() {
    let (_, stderr, code) = call(&["job", "no-such.toml"]);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("no-such.toml: the job sheet cannot be read"),
        "{stderr}"
    );
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    fs::write(&path, b"[walk]\nlabel = \"\xff\"\n").unwrap();
    let (_, stderr, code) = call(&["job", path.to_str().unwrap()]);
    assert_eq!(code, 2);
    assert!(
        stderr.contains("line 2: this line holds bytes that are not UTF-8"),
        "{stderr}"
    );
}

/// Each with its line: a picture that is none, that is no plain file, and that is not there.
#[test]
fn a_logo_that_cannot_be_used_is_told_with_its_key_and_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    fs::write(folder.path().join("logo.txt"), "a picture?").unwrap();
    fs::create_dir(folder.path().join("logo.svg")).unwrap();
    for (name, why) in [
        ("logo.txt", "neither PNG nor SVG"),
        ("logo.svg", "folder"),
        ("no.png", "cannot be read"),
    ] {
        let sheet = format!("[walk]\nfiles = \"a\"\n[firm]\nname = \"Example\"\nlogo = {name:?}\n");
        fs::write(&path, sheet).unwrap();
        let (_, stderr, code) = call(&["job", path.to_str().unwrap()]);
        assert_eq!(code, 2, "{stderr}");
        let told = "job.toml line 5: [firm] logo cannot be used: ";
        assert!(stderr.contains(told) && stderr.contains(why), "{stderr}");
    }
}
