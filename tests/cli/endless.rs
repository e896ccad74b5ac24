//! Inputs that never end, or are larger than anything honest: bounded, and said so.

use super::call;
use std::io::Write;
use std::path::Path;

use crate::logs;

fn fixes(stdout: &str) -> u64 {
    let result: serde_json::Value = serde_json::from_str(stdout).unwrap();
    result["log"]["files"][0]["fixes"].as_u64().unwrap()
}

/// A pipe with a name, and a thread that feeds it so often or until nobody reads any more.
#[cfg(unix)]
fn fed(folder: &Path, log: Vec<u8>, times: usize) -> String {
    let path = folder.join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&path).status();
    assert!(made.unwrap().success());
    let to = path.clone();
    std::thread::spawn(move || {
        let mut pipe = std::fs::OpenOptions::new().write(true).open(to).unwrap();
        for _ in 0..times {
            if pipe.write_all(&log).is_err() {
                break;
            }
        }
    });
    path.display().to_string()
}

#[cfg(unix)]
#[test]
fn a_pipe_that_never_ends_stops_after_so_many_fixes() {
    for command in ["measure", "inspect"] {
        let folder = tempfile::tempdir().unwrap();
        let pipe = fed(folder.path(), logs::positions(300_000).bytes, usize::MAX);
        let (stdout, stderr, code) =
            call(&[command, &pipe, "--max-fixes", "900", "--format", "json"]);
        assert!([0, 3].contains(&code), "{command} {code}: {stderr}");
        let found = match command {
            "measure" => fixes(&stdout),
            _ => {
                let seen: serde_json::Value = serde_json::from_str(&stdout).unwrap();
                seen["files"][0]["fixes"].as_u64().unwrap()
            }
        };
        assert_eq!(found, 900, "{command}");
        assert!(
            stdout.contains("Reading stopped after 900 fixes"),
            "{command}: {stdout}"
        );
    }
}

/// Looking whether it is a job sheet must not take the beginning of it away.
#[cfg(unix)]
#[test]
fn a_pipe_is_read_from_its_first_byte() {
    let folder = tempfile::tempdir().unwrap();
    let made = logs::positions(300_000);
    let pipe = fed(folder.path(), made.bytes, 1);
    let (stdout, stderr, code) = call(&["measure", &pipe, "--format", "json"]);
    assert!([0, 3].contains(&code), "{code}: {stderr}");
    assert_eq!(fixes(&stdout), made.fixes);
}

/// A pipe in a folder is passed over; named outright it is a log of the day.
#[cfg(unix)]
#[test]
fn a_day_reads_the_pipes_it_is_given_and_no_others() {
    let folder = tempfile::tempdir().unwrap();
    let yard = folder.path().join("yard");
    std::fs::create_dir(&yard).unwrap();
    std::fs::write(yard.join("a.nmea"), logs::positions(30_000).bytes).unwrap();
    let made = std::process::Command::new("mkfifo")
        .arg(yard.join("b.nmea"))
        .status();
    assert!(made.unwrap().success());
    let (stdout, stderr, _) = call(&["day", &yard.display().to_string(), "--format", "json"]);
    assert_eq!(stdout.lines().count(), 1, "{stdout}");
    assert!(stderr.contains("b.nmea: it is a pipe"), "{stderr}");
    let made = logs::positions(300_000);
    let pipe = fed(folder.path(), made.bytes, 1);
    let (stdout, stderr, _) = call(&["day", &pipe, "--format", "json"]);
    assert_eq!(fixes(&stdout), made.fixes, "{stderr}");
}

/// A pipe with a name as standard input.
#[cfg(unix)]
#[test]
fn standard_input_may_be_any_pipe() {
    for command in ["measure", "inspect"] {
        let folder = tempfile::tempdir().unwrap();
        let made = logs::positions(300_000);
        let pipe = fed(folder.path(), made.bytes, 1);
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_boundwalk"))
            .args([command, "-", "--format", "json"])
            .stdin(std::fs::File::open(pipe).unwrap())
            .output()
            .unwrap();
        assert!(matches!(output.status.code(), Some(0 | 3)), "{output:?}");
        let document: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let found = match command {
            "measure" => &document["log"]["files"][0],
            _ => &document["files"][0],
        };
        assert_eq!(found["fixes"], made.fixes, "{command}");
        assert_eq!(found["name"], "standard input");
    }
}

#[test]
fn standard_input_stops_after_so_many_fixes_too() {
    for made in [
        logs::positions(300_000),
        logs::satellites(600_000),
        logs::gpx(300_000),
    ] {
        let args = ["measure", "-", "--max-fixes", "900", "--format", "json"];
        let output = super::piped(super::boundwalk().args(args), made.bytes);
        assert_eq!(fixes(&String::from_utf8_lossy(&output.stdout)), 900);
    }
}

#[test]
fn a_sheet_larger_than_any_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    let mut text = String::from("[job]\nnumber = \"");
    text.push_str(&"x".repeat(5_000_000));
    std::fs::write(&path, text).unwrap();
    for command in ["measure", "tape", "job"] {
        let (_, stderr, code) = call(&[command, path.to_str().unwrap()]);
        assert_eq!(code, 2, "{command}");
        assert!(stderr.contains("larger than 1 MB"), "{command}: {stderr}");
        assert!(stderr.len() < 600, "{command}: {stderr}");
    }
}

/// A call with at most so much address space, to which so many bytes of a pattern are piped.
#[cfg(unix)]
fn within(most_kb: u64, args: &str, bytes: usize, begin: &[u8], pattern: &[u8]) -> (String, i32) {
    use std::process::{Command, Stdio};
    let program = env!("CARGO_BIN_EXE_boundwalk");
    let mut child = Command::new("sh")
        .args([
            "-c",
            &format!("ulimit -v {most_kb} && exec '{program}' {args}"),
        ])
        // A heap of its own takes a thread 64 MB of addresses, though no memory.
        .env("MALLOC_ARENA_MAX", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let begin = begin.to_vec();
    let block = pattern.repeat(1 + 100_000 / pattern.len());
    let feeder = std::thread::spawn(move || {
        let mut written = begin.len();
        let mut open = pipe.write_all(&begin).is_ok();
        while open && written < bytes {
            open = pipe.write_all(&block).is_ok();
            written += block.len();
        }
    });
    let output = child.wait_with_output().unwrap();
    feeder.join().unwrap();
    let said = [output.stdout, output.stderr].concat();
    let said = String::from_utf8_lossy(&said).into_owned();
    (said, output.status.code().unwrap_or(-1))
}

/// Far more than may be kept in memory: zeros, empty lines, one line, one row, and elements within elements.
#[cfg(unix)]
#[test]
fn memory_is_bounded_whatever_comes() {
    let kinds: [(&[u8], &[u8]); 7] = [
        (b"", b"\0"),
        (b"", b"\n"),
        (b"", b"A"),
        (b"", b"$"),
        (b"name,lat,lon\nA,52.1,1.2\n\"", b"x"),
        (b"<gpx><trk><name>", b"x"),
        (b"<gpx>", b"<trk>\n"),
    ];
    for (begin, pattern) in kinds {
        for command in ["measure -", "inspect -"] {
            let (said, code) = within(90_000, command, 100_000_000, begin, pattern);
            let what = String::from_utf8_lossy(begin);
            assert!([0, 1, 3].contains(&code), "{command} {what}: {code} {said}");
            assert!(said.len() < 4_000, "{command} {what}: {said}");
            assert!(said.contains("osition"), "{command} {what}: {said}");
        }
    }
}

/// It was to stop after so many positions, and not one comes.
#[cfg(unix)]
#[test]
fn a_pipe_that_never_ends_and_holds_nothing_is_given_up() {
    for command in ["measure - --max-fixes 9", "inspect - --max-fixes 9"] {
        let (said, _) = within(90_000, command, usize::MAX, b"", b"\0");
        assert!(said.contains("osition"), "{command}: {said}");
        let one = b"$GPGGA,120000.00,5130.0000,N,00007.0000,W,1,10,0.9,40.0,M,46.0,M,,\n";
        let (said, _) = within(90_000, command, usize::MAX, b"", one);
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains("goes on and on"), "{command}: {said}");
    }
}
