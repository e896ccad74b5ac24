//! No command harms a file that it did not write: everything of the user's is compared byte for byte before and after.

use super::boundwalk;
use super::day::{fixture, put};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of the user's, and what was in it to begin with.
struct Desk {
    temp: tempfile::TempDir,
    before: BTreeMap<PathBuf, Vec<u8>>,
}

/// Every file below, with its bytes.
fn all(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let path = entry.path();
        if entry.file_type().unwrap().is_dir() {
            found.extend(all(&path));
        } else {
            found.insert(path.clone(), fs::read(&path).unwrap_or_default());
        }
    }
    found
}

impl Desk {
    fn with(files: &[(&str, &[u8])]) -> Desk {
        let temp = tempfile::tempdir().unwrap();
        for (name, bytes) in files {
            put(&temp.path().join(name), bytes);
        }
        let before = all(temp.path());
        Desk { temp, before }
    }

    /// A job's folder, as it comes home.
    fn job() -> Desk {
        let files = ["job.toml", "lawn.nmea", "patio.nmea"].map(|name| {
            let text = String::from_utf8(fixture(name)).unwrap();
            let path = format!("J-0417/{name}");
            (path, text.replace("DEMO-1", "J-0417").into_bytes())
        });
        let files: Vec<(&str, &[u8])> = files
            .iter()
            .map(|(path, bytes)| (path.as_str(), bytes.as_slice()))
            .collect();
        Desk::with(&files)
    }

    fn at(&self, name: &str) -> PathBuf {
        self.temp.path().join(name)
    }

    /// Something more of the user's.
    fn adds(&mut self, name: &str, bytes: &[u8]) {
        put(&self.at(name), bytes);
        self.before.insert(self.at(name), bytes.to_vec());
    }

    fn run_in(&self, folder: &str, line: &str) -> (String, String, i32) {
        let output = boundwalk()
            .current_dir(self.at(folder))
            .args(line.split_whitespace())
            .output()
            .unwrap();
        told(&output)
    }

    /// Runs a call, and sees to it that all that was the user's is as it was and nothing hidden is left.
    fn run(&self, line: &str) -> (String, String, i32) {
        let done = self.run_in("", line);
        self.unharmed(line);
        done
    }

    fn unharmed(&self, line: &str) {
        let after = all(self.temp.path());
        for (path, bytes) in &self.before {
            let is = after.get(path);
            assert!(is == Some(bytes), "{line}: {} was harmed", path.display());
        }
        let hidden: Vec<&PathBuf> = after
            .keys()
            .filter(|path| path.to_string_lossy().contains("/.boundwalk"))
            .filter(|path| !self.before.contains_key(*path))
            .collect();
        assert!(hidden.is_empty(), "{line}: {hidden:?}");
    }

    /// Runs a call that is refused before anything is done, naming `file`, and the command it says to type instead.
    fn refused(&self, line: &str, file: &str) {
        let before = all(self.temp.path());
        let (stdout, stderr, code) = self.run(line);
        assert_eq!((stdout.as_str(), code), ("", 2), "{line}: {stderr}");
        assert!(stderr.contains(file), "{line}: {stderr}");
        assert!(all(self.temp.path()) == before, "{line}: {stderr}");
        let (_, instead) = stderr
            .trim_end()
            .rsplit_once("ype: boundwalk ")
            .unwrap_or_else(|| panic!("{line}: {stderr}"));
        let (_, stderr, code) = self.run(instead);
        assert!(code == 0 || code == 3, "{instead}: {stderr}");
    }

    /// Runs a call twice; both times it is done.
    fn done_twice(&self, line: &str, sheet: &str) {
        for round in 1..=2 {
            let (_, stderr, code) = self.run(line);
            assert!(code == 0 || code == 3, "{line}, round {round}: {stderr}");
            assert!(self.at(sheet).is_file(), "{line}, round {round}: {stderr}");
        }
    }

    /// Names in a folder.
    fn names(&self, folder: &str) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.at(folder))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

fn told(output: &Output) -> (String, String, i32) {
    (
        String::from_utf8_lossy(&output.stdout).into_owned(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
        output.status.code().unwrap_or(-1),
    )
}

/// A walk as a route, and as a list of corners (four sides of an invented plot).
const CORNERS: &[u8] =
    b"name,lat,lon\nA,45.00000,-30.00000\nB,45.00020,-30.00000\nC,45.00020,-29.99970\nD,45.00000,-29.99970\n";

#[test]
fn a_day_beside_its_logs_goes_into_a_folder_of_its_own() {
    let desk = Desk::job();
    desk.done_twice("day J-0417 --out .", "J-0417-day/J-0417/report.txt");
    assert_eq!(desk.names(""), ["J-0417", "J-0417-day"]);
    let (_, stderr, _) = desk.run("day J-0417 --out .");
    assert!(
        stderr.contains("J-0417-day") && stderr.contains("did not write"),
        "{stderr}"
    );
    desk.done_twice("day J-0417 --out J-0417", "J-0417/J-0417-day/day.csv");
    desk.done_twice(
        "day J-0417 --out ./J-0417/../J-0417/.",
        "J-0417/J-0417-day/day.csv",
    );
    // From inside the job's folder.
    for _ in 0..2 {
        let (stdout, stderr, code) = desk.run_in("J-0417", "day . --out . --format csv");
        assert_eq!(code, 0, "{stderr}");
        // Its own sheets are no surveys.
        assert_eq!(stdout.lines().count(), 2, "{stdout}");
        desk.unharmed("day . --out .");
    }
    let (stdout, stderr, _) = desk.run("day . --format csv");
    assert_eq!(stdout.lines().count(), 2, "{stdout}");
    assert!(
        stderr.contains("J-0417-day: boundwalk wrote the sheets in it"),
        "{stderr}"
    );
}

#[test]
fn a_day_of_several_folders_or_loose_logs_leaves_them_alone() {
    let (lawn, patio) = (fixture("lawn.nmea"), fixture("patio.nmea"));
    let desk = Desk::with(&[
        ("J-1/lawn.nmea", &lawn),
        ("J-1/job.toml", b"[walk]\nfiles = [\"lawn.nmea\"]\n"),
        ("J-2/patio.nmea", &patio),
        ("0930.nmea", &patio),
    ]);
    desk.done_twice("day J-1 J-2 --out .", "day-sheets/J-1/report.txt");
    desk.done_twice(
        "day 0930.nmea --out .",
        "0930.nmea-day/0930.nmea/report.txt",
    );
    desk.done_twice("day . --out . --quiet", "day-sheets/day.csv");
    assert_eq!(desk.names("").len(), 6, "{:?}", desk.names(""));
}

#[test]
fn a_measured_log_is_never_written_over_by_its_own_export() {
    let written = Desk::job();
    written.run("measure J-0417 --out sheets");
    let gpx = fs::read(written.at("sheets/lawn.gpx")).unwrap();
    let desk = Desk::with(&[("lawn.gpx", &gpx), ("points.csv", CORNERS)]);
    desk.done_twice("measure lawn.gpx --out .", "lawn-sheets/report.txt");
    desk.done_twice("measure points.csv --out .", "points-sheets/report.txt");
    desk.refused("measure points.csv --out gone/../new", "gone/../new");
    fs::remove_dir_all(desk.at("points-sheets-2")).unwrap();
    assert_eq!(
        desk.names(""),
        ["lawn-sheets", "lawn.gpx", "points-sheets", "points.csv"]
    );
    // Another log of the same name does not take the place of the first one's sheets.
    let mut desk = desk;
    desk.adds("later/lawn.gpx", &gpx);
    desk.refused("measure later/lawn.gpx --out .", "lawn-sheets");
    // Sheets that are read are not replaced.
    desk.refused("measure lawn-sheets/lawn.gpx --out lawn-sheets", "lawn.gpx");
    desk.refused(
        "day lawn-sheets/lawn.gpx --out lawn-sheets/../lawn-sheets/lawn.gpx",
        "lawn.gpx",
    );
}

#[test]
fn the_users_own_files_among_the_logs_stay() {
    let mut desk = Desk::job();
    desk.adds("J-0417/plan.svg", b"<svg>drawn by hand</svg>");
    desk.adds("J-0417/check.txt", b"gate code 1234\n");
    desk.done_twice(
        "measure J-0417/job.toml --out J-0417",
        "J-0417/J-0417-sheets/plan.svg",
    );
    desk.done_twice(
        "measure J-0417 --out ./J-0417/",
        "J-0417/J-0417-sheets/plan.svg",
    );
    // A photo put among the sheets, or a sheet changed by hand.
    desk.adds("J-0417/J-0417-sheets/photo.jpg", b"jpg");
    desk.refused("measure J-0417 --out J-0417", "photo.jpg");
    fs::rename(
        desk.at("J-0417/J-0417-sheets/photo.jpg"),
        desk.at("photo.jpg"),
    )
    .unwrap();
    desk.before
        .remove(&desk.at("J-0417/J-0417-sheets/photo.jpg"));
    desk.adds("J-0417/J-0417-sheets/takeoff.csv", b"item,mine\n");
    desk.refused("measure J-0417 --out J-0417", "takeoff.csv");
    // A log put among the sheets is not lost without a word; a photo is no log.
    desk.adds("J-0417/J-0417-sheets/photo.jpg", b"jpg");
    desk.adds("J-0417/J-0417-sheets/back.nmea", &fixture("patio.nmea"));
    let (_, stderr, _) = desk.run("day J-0417");
    assert!(
        stderr.contains("back.nmea: it lies among sheets") && !stderr.contains("photo.jpg"),
        "{stderr}"
    );
}

#[test]
fn a_days_set_never_takes_the_place_of_the_users_folder() {
    let mut desk = Desk::with(&[
        ("x.nmea", &fixture("patio.nmea")),
        ("out/x/photo.jpg", b"jpg"),
        ("out/x.nmea/photo.jpg", b"jpg"),
    ]);
    desk.done_twice("day x.nmea --out out", "out/x.nmea-day/x.nmea/report.txt");
    desk.adds("out/x.nmea-day/x.nmea/photo.jpg", b"jpg");
    desk.refused("day x.nmea --out out", "photo.jpg");
    desk.refused("day x.nmea --out out/x.nmea-day", "photo.jpg");
    // A folder of photos where another survey's set would go.
    desk.adds("y.nmea", &fixture("patio.nmea"));
    desk.run("day y.nmea --out sheets");
    desk.adds("z.nmea", &fixture("patio.nmea"));
    desk.adds("sheets/z.nmea/photo.jpg", b"jpg");
    desk.refused("day z.nmea --out sheets", "photo.jpg");
    // Something of the user's beside the sets is in nobody's way.
    desk.adds("sheets/notes.txt", b"ring first\n");
    desk.done_twice("day y.nmea --out sheets", "sheets/y.nmea/report.txt");
    // The table, with a column of the user's own.
    desk.adds("sheets/day.csv", b"survey,mine\r\n");
    desk.refused("day y.nmea --out sheets", "day.csv");
    // A file where a folder is asked for.
    desk.refused("day y.nmea --out z.nmea", "z.nmea");
    desk.refused("measure y.nmea --out z.nmea", "z.nmea");
}

#[test]
fn sheets_of_an_earlier_version_are_not_known_to_be_ours() {
    let kept = br#"{"fingerprint":"0","style":"Metric","reason":null,"files":{"report.txt":3}}"#;
    let desk = Desk::with(&[
        ("x.nmea", &fixture("patio.nmea")),
        ("out/.boundwalk.lock", b""),
        ("out/day.csv", b"survey,status\r\n"),
        ("out/x.nmea/.kept.json", kept),
        ("out/x.nmea/report.txt", b"old"),
        ("out/.boundwalk-aside-0930.nmea", b"a log that was moved"),
        ("out/.boundwalk-a1b2c3/lawn.nmea", b"a log that was moved"),
    ]);
    desk.done_twice("day x.nmea --out out", "out/x.nmea-day/day.csv");
    desk.done_twice("measure x.nmea --out out", "out/x-sheets/report.txt");
    desk.done_twice("measure x.nmea --out out/y", "out/y/report.txt");
    let (_, stderr, _) = desk.run("measure x.nmea --out out/y");
    for hidden in [".boundwalk-aside-0930.nmea", ".boundwalk-a1b2c3"] {
        assert!(stderr.contains(hidden), "{stderr}");
    }
}

#[test]
fn the_example_goes_into_a_folder_of_its_own() {
    let desk = Desk::with(&[
        ("mine/lawn.nmea", &fixture("patio.nmea")),
        ("photos/1.jpg", b"jpg"),
        ("a-file", b"text"),
        ("sheets-taken/sheets/photo.jpg", b"jpg"),
    ]);
    for (folder, file) in [
        ("mine", "lawn.nmea"),
        ("photos", "1.jpg"),
        (".", "a-file"),
        ("a-file", "a-file"),
        ("sheets-taken", "sheets"),
    ] {
        desk.refused(&format!("demo {folder}"), file);
    }
    desk.done_twice("demo", "boundwalk-demo/sheets/report.txt");
    let (stdout, _, _) = desk.run("day boundwalk-demo --format csv");
    assert_eq!(stdout.lines().count(), 2, "{stdout}");
}

#[test]
fn records_never_go_into_a_file_of_another_kind() {
    let patio = fixture("patio.nmea");
    let mut desk = Desk::with(&[
        ("lawn.nmea", &patio),
        ("log.gpkg", &patio),
        ("empty.gpkg", b""),
    ]);
    // A database of another program's making, with what it last wrote not yet in the file itself.
    let other = rusqlite::Connection::open(desk.at("other.gpkg")).unwrap();
    other
        .execute_batch("PRAGMA journal_mode = WAL; CREATE TABLE trees (name TEXT); INSERT INTO trees VALUES ('birch');")
        .unwrap();
    desk.before = all(desk.temp.path());
    desk.before
        .retain(|path, _| !path.to_string_lossy().ends_with("-shm"));
    for call in ["measure lawn.nmea", "day lawn.nmea"] {
        for file in ["lawn.nmea", "log.gpkg", "other.gpkg"] {
            let (stdout, stderr, code) = desk.run(&format!("{call} --records {file}"));
            assert_eq!((stdout.as_str(), code), ("", 2), "{call} {file}: {stderr}");
            assert!(stderr.contains(file), "{stderr}");
        }
        // An input under another ending of its name.
        desk.refused(
            &format!(
                "{} --records log.gpkg",
                call.replace("lawn.nmea", "log.gpkg")
            ),
            "log.gpkg",
        );
    }
    drop(other);
    let (_, stderr, code) = desk.run_in(
        "",
        "measure lawn.nmea --out sheets --records sheets/lawns.gpkg",
    );
    assert_eq!(code, 2, "{stderr}");
    assert!(!desk.at("sheets").exists(), "{stderr}");
    // The records of a day may lie beside its sets.
    let desk = Desk::with(&[("lawn.nmea", &patio)]);
    desk.done_twice(
        "day lawn.nmea --out sheets --records sheets/lawns.gpkg",
        "sheets/lawns.gpkg",
    );
}

#[test]
fn pages_of_the_manual_replace_only_their_own() {
    let desk = Desk::with(&[
        ("man1/other.1", b".TH other"),
        ("taken/boundwalk.1", b"mine"),
    ]);
    desk.done_twice("man --out man1", "man1/boundwalk-day.1");
    desk.refused("man --out taken", "boundwalk.1");
    desk.done_twice("man --out new/man1", "new/man1/boundwalk.1");
}

#[cfg(unix)]
#[test]
fn links_and_hard_links_are_seen_through() {
    use std::os::unix::fs::symlink;
    let mut desk = Desk::job();
    symlink(desk.at("J-0417"), desk.at("link")).unwrap();
    symlink(desk.at("nowhere"), desk.at("broken")).unwrap();
    desk.done_twice(
        "measure J-0417 --out link",
        "J-0417/J-0417-sheets/report.txt",
    );
    desk.done_twice("day link --out link", "J-0417/J-0417-day/day.csv");
    desk.refused("measure J-0417 --out broken", "broken");
    // A sheet that is a second name of a log, and one that is a link to it.
    desk.run("measure J-0417 --out sheets");
    let sheet = desk.at("sheets/lawn.gpx");
    fs::remove_file(&sheet).unwrap();
    fs::hard_link(desk.at("J-0417/lawn.nmea"), &sheet).unwrap();
    desk.refused("measure J-0417 --out sheets", "lawn.gpx");
    fs::remove_file(&sheet).unwrap();
    symlink(desk.at("J-0417/lawn.nmea"), &sheet).unwrap();
    desk.refused("measure J-0417 --out sheets", "lawn.gpx");
    // A folder of sheets that is a link: the link stays one.
    fs::create_dir(desk.at("disk")).unwrap();
    symlink(desk.at("disk"), desk.at("linked")).unwrap();
    desk.done_twice("measure J-0417 --out linked", "disk/report.txt");
    assert!(desk.at("linked").symlink_metadata().unwrap().is_symlink());
    // Records under a second name of a log.
    desk.adds("walk.gpkg", &fixture("lawn.nmea"));
    fs::hard_link(desk.at("walk.gpkg"), desk.at("hard.gpkg")).unwrap();
    desk.refused("measure walk.gpkg --records hard.gpkg", "hard.gpkg");
}

#[cfg(unix)]
#[test]
fn what_is_printed_never_goes_into_what_is_read() {
    let desk = Desk::job();
    let mut desk = desk;
    desk.run("measure J-0417 --records lawns.gpkg");
    desk.adds("lawns.gpkg", &fs::read(desk.at("lawns.gpkg")).unwrap());
    for (call, file) in [
        ("inspect J-0417/lawn.nmea", "J-0417/lawn.nmea"),
        ("measure J-0417 --format json", "J-0417/job.toml"),
        (
            "inspect no.nmea J-0417/lawn.nmea --format json",
            "J-0417/lawn.nmea",
        ),
        ("day J-0417", "J-0417/patio.nmea"),
        ("records export lawns.gpkg", "lawns.gpkg"),
    ] {
        let log = fs::File::options()
            .append(true)
            .open(desk.at(file))
            .unwrap();
        let output = Command::new(boundwalk().get_program())
            .current_dir(desk.temp.path())
            .args(call.split(' '))
            .stdout(log)
            .output()
            .unwrap();
        desk.unharmed(call);
        let (_, stderr, code) = told(&output);
        assert_eq!(code, 2, "{call}: {stderr}");
        assert!(stderr.contains("standard output"), "{stderr}");
    }
}

/// The folder the shell stands in is never pulled from under it.
#[cfg(unix)]
#[test]
fn the_folder_one_is_in_is_not_replaced() {
    let desk = Desk::job();
    fs::create_dir(desk.at("here")).unwrap();
    let node = || {
        use std::os::unix::fs::MetadataExt;
        fs::metadata(desk.at("here")).unwrap().ino()
    };
    let before = node();
    for _ in 0..2 {
        let (_, stderr, code) = desk.run_in("here", "measure ../J-0417 --out .");
        assert_eq!(code, 0, "{stderr}");
        assert!(desk.at("here/J-0417-sheets/report.txt").is_file());
        assert_eq!(node(), before);
    }
    desk.run("measure J-0417 --out sheets");
    let (_, stderr, code) = desk.run_in("sheets", "measure ../J-0417 --out .");
    assert_eq!(code, 2, "{stderr}");
    assert!(stderr.contains("../sheets-2"), "{stderr}");
}

/// What a file browser leaves behind keeps nobody from measuring again.
#[test]
fn a_browsers_litter_is_nobodys() {
    let desk = Desk::job();
    desk.run("measure J-0417 --out sheets");
    fs::write(desk.at("sheets/.DS_Store"), "icons").unwrap();
    desk.done_twice("measure J-0417 --out sheets", "sheets/.DS_Store");
}

/// A set of one survey is told when it takes the place of another's in a folder that was named.
#[test]
fn a_set_in_the_place_of_anothers_is_told() {
    let desk = Desk::job();
    desk.run("measure J-0417 --out sheets");
    let (_, stderr, code) = desk.run("measure J-0417/patio.nmea --out sheets");
    assert_eq!(code, 0, "{stderr}");
    assert!(
        stderr.contains("in the place of those of J-0417"),
        "{stderr}"
    );
    assert!(!desk.at("sheets/order.pdf").exists());
}

/// Runs `measure --out` over a set that is there and kills it: the older set or the newer one is there, whole.
#[cfg(unix)]
#[test]
fn measure_killed_at_any_moment_leaves_one_set_whole() {
    use std::process::Stdio;
    use std::time::{Duration, Instant};
    let desk = Desk::with(&[("x.nmea", &fixture("patio.nmea"))]);
    let command = |units: &str| {
        let mut command = Command::new(boundwalk().get_program());
        command
            .current_dir(desk.temp.path())
            .args([
                "measure", "x.nmea", "--out", "sheets", "-q", "--units", units,
            ])
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        command
    };
    let mut sets = BTreeMap::new();
    let mut usual = Duration::ZERO;
    for units in ["metric", "imperial"] {
        let began = Instant::now();
        assert!(command(units).status().unwrap().success());
        usual = began.elapsed();
        sets.insert(units, all(&desk.at("sheets")));
    }
    assert!(sets["metric"] != sets["imperial"]);
    let mut killed = 0;
    let kills = super::killed::kills();
    for round in 0..4 * kills {
        let units = ["metric", "imperial"][round as usize % 2];
        let mut child = command(units).spawn().unwrap();
        // Every moment of a run in turn, also those of writing at its end.
        let part = f64::from((round * 7) % 23) / 20.0;
        std::thread::sleep(usual.mul_f64(part));
        child.kill().unwrap();
        killed += u32::from(child.wait().unwrap().code().is_none());
        let there = all(&desk.at("sheets"));
        assert!(
            sets.values().any(|set| *set == there),
            "round {round}: {:?}",
            there.keys()
        );
        if killed >= kills {
            break;
        }
    }
    assert!(killed >= kills / 2, "{killed}");
    // The next run clears away what the killed ones left.
    assert!(command("metric").status().unwrap().success());
    assert!(all(&desk.at("sheets")) == sets["metric"]);
    desk.unharmed("measure x.nmea --out sheets");
    assert_eq!(desk.names(""), ["sheets", "x.nmea"]);
}

#[cfg(unix)]
#[test]
fn measure_with_no_room_left_leaves_the_older_set_whole() {
    let desk = Desk::job();
    desk.run("measure J-0417/patio.nmea --out sheets");
    let before = all(&desk.at("sheets"));
    // Room for some of the sheets.
    let (stderr, code) = super::killed::with_files_up_to(
        32,
        &[
            "measure",
            desk.at("J-0417").to_str().unwrap(),
            "--out",
            desk.at("sheets").to_str().unwrap(),
            "-q",
        ],
    );
    assert_eq!(code, 1, "{stderr}");
    assert!(stderr.contains("no room left"), "{stderr}");
    assert!(all(&desk.at("sheets")) == before);
    desk.unharmed("a full disk");
    assert_eq!(desk.names(""), ["J-0417", "sheets"]);
    desk.done_twice("measure J-0417 --out sheets", "sheets/order.pdf");
}

/// The second of two runs into one folder is told before it measures anything.
#[cfg(unix)]
#[test]
fn two_runs_of_measure_never_write_into_one_folder() {
    use rustix::fs::{FlockOperation, flock};
    let desk = Desk::job();
    desk.run("measure J-0417 --out sheets");
    let before = all(&desk.at("sheets"));
    // Held as the first run holds it.
    let held = fs::File::open(desk.at("sheets")).unwrap();
    flock(&held, FlockOperation::NonBlockingLockExclusive).unwrap();
    let (stdout, stderr, code) = desk.run("measure J-0417 --out sheets");
    assert_eq!((stdout.as_str(), code), ("", 1), "{stderr}");
    assert!(
        stderr.contains("another run") && stderr.contains("--out sheets-2"),
        "{stderr}"
    );
    assert!(all(&desk.at("sheets")) == before);
    drop(held);
    desk.done_twice("measure J-0417 --out sheets", "sheets/report.txt");
}
