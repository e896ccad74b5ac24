//! A garden is a name and a place: what becomes a revision in the records, what another garden, and how one is named.

use super::day::put;
use super::{boundwalk, call};
use rusqlite::Connection;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;

/// In the open Atlantic, as the invented garden of `fixtures`.
const HERE: (f64, f64) = (45.0, -30.0);
/// A degree of the meridian at latitude 45 is 111.1 km (Snyder, Map Projections, 1987, table 8: 111 132 m).
const NORTH_M: f64 = 1.0 / 111_132.0;

fn text(path: &Path) -> &str {
    path.to_str().expect("test paths are text")
}

/// Once round a rectangle of 20 by 12 m whose corner is so many metres north of a place; a walk of three sides is withheld.
fn walk(from: (f64, f64), north_m: f64, sides: usize) -> String {
    let lat_0 = from.0 + north_m * NORTH_M;
    let east = NORTH_M / lat_0.to_radians().cos();
    let corners = [
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 12.0),
        (0.0, 12.0),
        (0.0, 0.0),
    ];
    let mut text = String::from("<gpx version=\"1.1\" creator=\"test\"><trk><trkseg>\n");
    let mut second = 0;
    for pair in corners.windows(2).take(sides) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        let steps = f64::hypot(x1 - x0, y1 - y0) as usize;
        for step in 0..=steps {
            let share = step as f64 / steps as f64;
            let (x, y) = (x0 + share * (x1 - x0), y0 + share * (y1 - y0));
            text.push_str(&format!(
                "<trkpt lat=\"{:.9}\" lon=\"{:.9}\"><time>2026-05-14T09:{:02}:{:02}Z</time></trkpt>\n",
                lat_0 + y * NORTH_M,
                from.1 + x * east,
                30 + second / 60,
                second % 60
            ));
            second += 1;
        }
    }
    text + "</trkseg></trk></gpx>\n"
}

/// A folder that every call is made from.
struct Yard {
    temp: tempfile::TempDir,
}

impl Yard {
    fn new() -> Yard {
        Yard {
            temp: tempfile::tempdir().unwrap(),
        }
    }

    fn put(&self, path: &str, content: &str) {
        put(&self.temp.path().join(path), content.as_bytes());
    }

    fn call(&self, args: &[&str]) -> (String, String, i32) {
        self.call_in("", args)
    }

    fn call_in(&self, folder: &str, args: &[&str]) -> (String, String, i32) {
        let output = boundwalk()
            .current_dir(self.temp.path().join(folder))
            .args(args)
            .output()
            .unwrap();
        (
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
            output.status.code().unwrap(),
        )
    }

    /// What `day` prints of Monday's folder, recorded.
    fn monday(&self) -> Vec<Value> {
        let (out, _, _) = self.call(&["day", "monday", "--records", "r.gpkg", "--format", "json"]);
        out.lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    fn db(&self) -> Connection {
        Connection::open(self.temp.path().join("r.gpkg")).unwrap()
    }

    /// Name, garden, revision and status of everything recorded, as it came.
    fn recorded(&self) -> Vec<(String, i64, i64, String)> {
        self.db()
            .prepare("SELECT name, garden, revision, status FROM surveys ORDER BY id")
            .unwrap()
            .query_map([], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
            })
            .unwrap()
            .map(Result::unwrap)
            .collect()
    }

    fn gardens(&self) -> Vec<(i64, i64)> {
        self.recorded().iter().map(|r| (r.1, r.2)).collect()
    }
}

#[test]
fn two_weeks_under_one_name_are_two_gardens() {
    let yard = Yard::new();
    yard.put("monday/0930.gpx", &walk(HERE, 0.0, 4));
    let first = yard.monday();
    // The logger's folder is emptied and filled anew, 110 km away.
    yard.put("monday/0930.gpx", &walk(HERE, 110_000.0, 4));
    let second = yard.monday();
    assert_eq!(yard.gardens(), [(1, 1), (2, 1)]);
    // Unchanged is told by what the log is, not by what was recorded last: both come back as they were.
    assert_eq!(yard.monday(), second);
    yard.put("monday/0930.gpx", &walk(HERE, 0.0, 4));
    assert_eq!(yard.monday(), first);
    assert_eq!(yard.gardens(), [(1, 1), (2, 1)]);

    let name = "monday/0930.gpx";
    let (list, _, _) = yard.call(&["records", "list", "r.gpkg"]);
    for part in [
        "garden:1, at 45.0000",
        "garden:2, at 45.989",
        "walked 2026-05-14",
    ] {
        assert!(list.contains(part), "{part} in {list}");
    }
    for command in ["show", "compare"] {
        let (_, told, code) = yard.call(&["records", command, "r.gpkg", name]);
        assert_eq!(code, 2, "{told}");
        for part in [
            "2 gardens are called",
            "garden:1, at 45.0000",
            "garden:2, at 45.989",
            "such as garden:1",
        ] {
            assert!(told.contains(part), "{part} in {told}");
        }
    }
    for (asked, lat) in [("garden:1", "45.0000"), ("garden:2@1", "45.989")] {
        let (shown, _, code) = yard.call(&["records", "show", "r.gpkg", asked]);
        assert!(
            code == 0 && shown.contains(lat) && shown.contains(name),
            "{shown}"
        );
    }
    let (_, told, code) = yard.call(&["records", "show", "r.gpkg", "garden:3"]);
    assert!(code == 1 && told.contains("no survey"), "{told}");
    let (compared, _, code) = yard.call(&["records", "compare", "r.gpkg", "garden:1", "garden:2"]);
    assert!(
        code == 0 && compared.contains("two different lawns"),
        "{compared}"
    );
    let (out, _, _) = yard.call(&["records", "list", "r.gpkg", "--format", "json"]);
    assert!(
        out.contains("\"garden\":1,") && out.contains("\"garden\":2,"),
        "{out}"
    );
}

/// The lawn is 12 m deep: 61 m from corner to corner leave 49 m between the outlines, 63 m leave 51.
#[test]
fn the_same_name_within_fifty_metres_is_a_revision() {
    let yard = Yard::new();
    for (north_m, gardens) in [
        (0.0, vec![(1, 1)]),
        (61.0, vec![(1, 1), (1, 2)]),
        // From the latest, which lies 61 m north.
        (124.5, vec![(1, 1), (1, 2), (2, 1)]),
        // Near both: the one it overlaps.
        (120.0, vec![(1, 1), (1, 2), (2, 1), (2, 2)]),
    ] {
        yard.put("monday/0930.gpx", &walk(HERE, north_m, 4));
        yard.monday();
        assert_eq!(yard.gardens(), gardens, "{north_m}");
    }
}

#[test]
fn a_job_is_one_record_whoever_measures_it_and_by_whatever_name() {
    let yard = Yard::new();
    let sheet = "[job]\nnumber = \"J-0417\"\n[walk]\nfiles = [\"lawn.gpx\"]\n";
    yard.put("monday/front/job.toml", sheet);
    yard.put("monday/front/lawn.gpx", &walk(HERE, 0.0, 4));
    // The lawn behind the house, under the same job number, 20 m away.
    yard.put("monday/back/job.toml", sheet);
    yard.put("monday/back/lawn.gpx", &walk(HERE, 32.0, 4));
    yard.put("monday/0930.gpx", &walk(HERE, 500.0, 4));
    yard.monday();
    let count = |garden: i64| yard.gardens().iter().filter(|g| g.0 == garden).count();
    assert_eq!(yard.gardens(), [(1, 1), (2, 1), (3, 1)]);
    for (at, (folder, what)) in [
        ("", "monday/front"),
        ("monday", "front/job.toml"),
        ("monday/front", "job.toml"),
    ]
    .into_iter()
    .enumerate()
    {
        let records = yard.temp.path().join("r.gpkg");
        let (_, told, _) = yard.call_in(folder, &["measure", what, "--records", text(&records)]);
        assert!(
            told.contains(&format!("garden:3, revision {}", at + 2)),
            "{told}"
        );
    }
    yard.call(&["measure", "monday/0930.gpx", "--records", "r.gpkg"]);
    assert_eq!((count(1), count(2), count(3)), (2, 1, 4));
    // What `day` recorded is still what it finds unchanged.
    yard.monday();
    assert_eq!(yard.recorded().len(), 7);
    // The job number is that of two gardens, the folder's own name of one.
    let (_, told, code) = yard.call(&["records", "show", "r.gpkg", "J-0417"]);
    assert!(code == 2 && told.contains("garden:2, J-0417"), "{told}");
    let (shown, _, code) = yard.call(&["records", "show", "r.gpkg", "back"]);
    assert!(
        code == 0 && shown.contains("monday/back, revision 1 of 1"),
        "{shown}"
    );
}

/// Withheld: the middle of its fixes stands for the outline under the same name; under another, a log in common.
#[test]
fn what_was_withheld_is_recorded_with_its_garden() {
    let yard = Yard::new();
    yard.put("monday/0930.gpx", &walk(HERE, 0.0, 2));
    yard.monday();
    yard.put("monday/0930.gpx", &walk(HERE, 0.0, 4));
    yard.monday();
    yard.put("monday/0930.gpx", &walk(HERE, 0.0, 2));
    yard.monday();
    yard.call(&["measure", "monday/0930.gpx", "--records", "r.gpkg"]);
    yard.put("monday/0930.gpx", &walk(HERE, 1000.0, 2));
    yard.monday();
    // Another log of that name, near but not the same, by `measure`: not known to be the same ground.
    yard.put("0930.gpx", &walk(HERE, 1010.0, 2));
    yard.call(&["measure", "0930.gpx", "--records", "r.gpkg"]);
    let status = |n: usize| yard.recorded()[n].3.clone();
    assert_eq!(
        (status(0).as_str(), status(2).as_str()),
        ("withheld", "withheld")
    );
    assert_ne!(status(1), "withheld");
    assert_eq!(
        yard.gardens(),
        [(1, 1), (1, 2), (1, 3), (1, 4), (2, 1), (3, 1)]
    );
}

#[test]
fn damage_in_one_record_stops_no_other() {
    let yard = Yard::new();
    for (name, north_m) in [("a", 0.0), ("b", 1000.0), ("c", 2000.0)] {
        yard.put(&format!("monday/{name}.gpx"), &walk(HERE, north_m, 4));
    }
    let first = yard.monday();
    yard.db()
        .execute(
            "UPDATE surveys SET document = '{\"status\": \"ok' WHERE name LIKE '%b.gpx'",
            [],
        )
        .unwrap();
    for (format, there) in [
        ("json", "monday/c.gpx"),
        ("csv", "monday/c.gpx"),
        ("geojson", "monday/c.gpx"),
    ] {
        let (out, told, code) = yard.call(&["records", "export", "r.gpkg", "--format", format]);
        assert!(
            code == 3 && told.contains("monday/b.gpx, revision 1, cannot be read"),
            "{told}"
        );
        assert!(out.contains(there) && !out.contains("b.gpx"), "{out}");
        if format == "geojson" {
            let map: Value = serde_json::from_str(&out).unwrap();
            assert_eq!(map["features"].as_array().unwrap().len(), 2);
        }
    }
    let (_, told, code) = yard.call(&[
        "records",
        "show",
        "r.gpkg",
        "monday/b.gpx",
        "--format",
        "json",
    ]);
    assert!(code == 1 && told.contains("cannot be read"), "{told}");
    // The day measures it again and goes on; the damaged one is kept as it is, under the new one.
    assert_eq!(yard.monday(), first);
    assert_eq!(yard.gardens(), [(1, 1), (2, 1), (3, 1), (2, 2)]);
    assert_eq!(yard.call(&["records", "export", "r.gpkg"]).2, 0);
    // A column of the wrong kind.
    yard.db()
        .execute(
            "UPDATE surveys SET revision = 'two', net_m2 = 'much' WHERE name LIKE '%c.gpx'",
            [],
        )
        .unwrap();
    for command in ["list", "export"] {
        let (out, told, code) = yard.call(&["records", command, "r.gpkg"]);
        assert!(code == 3 && told.contains("monday/c.gpx"), "{code} {told}");
        assert!(
            out.contains("monday/a.gpx") && out.contains("monday/b.gpx"),
            "{out}"
        );
    }
}

#[test]
fn numbers_that_cannot_go_on_are_refused() {
    let yard = Yard::new();
    yard.put("a.gpx", &walk(HERE, 0.0, 4));
    let measure = || yard.call(&["measure", "a.gpx", "--records", "r.gpkg"]);
    measure();
    for (change, what) in [
        (
            "UPDATE surveys SET revision = 9223372036854775807",
            "the last revision in these records",
        ),
        (
            "UPDATE surveys SET revision = -9223372036854775808",
            "the last revision in these records",
        ),
        (
            "UPDATE gardens SET id = 9223372036854775807; DELETE FROM garden_names",
            "the last number of a garden",
        ),
    ] {
        yard.db()
            .execute_batch(&format!("PRAGMA foreign_keys = off; {change}"))
            .unwrap();
        let (_, told, code) = measure();
        assert!(code == 1 && told.contains(what), "{code} {told}");
        for command in ["list", "export"] {
            assert_eq!(yard.call(&["records", command, "r.gpkg"]).2, 0);
        }
        let (_, told, code) = yard.call(&["records", "compare", "r.gpkg", "garden:1"]);
        assert!(code == 1 || code == 2, "{told}");
    }
    // More digits than a number has are no revision either, rather than the latest.
    let (_, told, code) = yard.call(&["records", "show", "r.gpkg", "a@99999999999999999999"]);
    assert!(code == 1 && told.contains("no survey"), "{told}");
    assert_eq!(yard.recorded().len(), 1);
}

#[test]
fn two_programs_at_once_lose_nothing() {
    let yard = Yard::new();
    yard.put("one/a.gpx", &walk(HERE, 0.0, 4));
    yard.put("two/a.gpx", &walk(HERE, 5000.0, 4));
    let mut running = Vec::new();
    for at in 0..8 {
        let log = yard.temp.path().join(["one/a.gpx", "two/a.gpx"][at % 2]);
        running.push(
            std::process::Command::new(boundwalk().get_program())
                .current_dir(yard.temp.path())
                .args(["measure", text(&log), "--records", "r.gpkg", "-q"])
                .stdout(std::process::Stdio::null())
                .spawn()
                .unwrap(),
        );
    }
    for mut child in running {
        assert!(matches!(child.wait().unwrap().code(), Some(0 | 3)));
    }
    let mut gardens = yard.gardens();
    gardens.sort_unstable();
    let each = |garden| (1..=4).map(move |revision| (garden, revision));
    assert_eq!(gardens, each(1).chain(each(2)).collect::<Vec<_>>());
}

#[test]
fn an_older_file_that_cannot_be_written_is_told_of() {
    let yard = Yard::new();
    yard.put("a.gpx", &walk(HERE, 0.0, 4));
    yard.call(&["measure", "a.gpx", "--records", "r.gpkg"]);
    yard.db()
        .execute_batch("DELETE FROM record_schema WHERE version > 2")
        .unwrap();
    let file = yard.temp.path().join("r.gpkg");
    let mut rights = fs::metadata(&file).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&file, rights).unwrap();
    // Whoever may write everywhere meets the tables that are there already instead.
    let (_, told, code) = call(&["records", "list", text(&file)]);
    assert!(
        code == 1 && (told.contains("older boundwalk") || told.contains("could not be used")),
        "{told}"
    );
}

/// What a file has of each survey: garden as its earliest name, revision, when, and all rows that belong to it.
fn held(file: &Path) -> Vec<(String, i64, String, String)> {
    let db = Connection::open(file).unwrap();
    let mut surveys = db
        .prepare(
            "SELECT s.id, (SELECT f.name FROM surveys f WHERE f.garden = s.garden AND f.revision = 1), s.revision, s.recorded_at, \
             s.name || s.status || coalesce(s.net_m2, '') || s.document || coalesce(s.fingerprint, '') || v.program \
             FROM surveys s JOIN versions v ON v.id = s.version_id ORDER BY s.recorded_at",
        )
        .unwrap();
    let rows = surveys.query_map([], |row| {
        let id: i64 = row.get(0)?;
        let mut of_it: String = row.get(4)?;
        for (table, columns) in [
            ("log_files", "name || sha256"),
            ("settings", "name || value"),
            ("warnings", "code || message"),
            ("lawns", "hex(geom) || revision || garden"),
            ("walks", "hex(geom) || revision"),
            ("bands", "hex(geom) || edge || revision"),
        ] {
            let columns = columns.replace(" || garden", "");
            let all: Option<String> = db.query_row(
                &format!("SELECT group_concat({columns}, ';') FROM {table} WHERE survey_id = ?1"),
                [id],
                |row| row.get(0),
            )?;
            of_it.push_str(&all.unwrap_or_default());
        }
        Ok((row.get(1)?, row.get(2)?, row.get(3)?, of_it))
    });
    rows.unwrap().map(Result::unwrap).collect()
}

/// A branch in the north measures two gardens, one in the south two, of which one is the north's, at times in between.
fn branches() -> Yard {
    let yard = Yard::new();
    let walks = [
        ("north", "J-1", 0.0, "2026-03-01"),
        ("south", "J-1", 1.0, "2026-03-10"),
        ("north", "J-1", 2.0, "2026-03-20"),
        ("north", "J-2", 500.0, "2026-03-21"),
        ("south", "J-3", 900.0, "2026-03-22"),
        ("south", "J-1", 3.0, "2026-03-30"),
    ];
    for (branch, name, north_m, at) in walks {
        let log = format!("{name}.gpx");
        yard.put(&log, &walk(HERE, north_m, 4));
        let file = format!("{branch}.gpkg");
        let (_, told, code) = yard.call(&["measure", &log, "--records", &file, "-q"]);
        assert!(code == 0 || code == 3, "{told}");
        let db = Connection::open(yard.temp.path().join(&file)).unwrap();
        // Several of one second are in the order of their rows.
        let set = "UPDATE surveys SET recorded_at = ?1 || 'T09:00:00.000Z' WHERE id = (SELECT max(id) FROM surveys)";
        db.execute(set, [at]).unwrap();
    }
    yard
}

#[test]
fn branches_are_joined_whatever_the_order_and_however_often() {
    let yard = branches();
    let file = |name: &str| yard.temp.path().join(name);
    let (_, told, code) = yard.call(&["records", "merge", "all.gpkg", "north.gpkg", "south.gpkg"]);
    assert_eq!(code, 0, "{told}");
    assert!(told.contains("north.gpkg: 3 surveys taken over"), "{told}");
    let between = "south.gpkg: 3 surveys taken over. Revisions came between others, whose numbers changed: garden:1";
    assert!(told.contains(between), "{told}");
    let all = held(&file("all.gpkg"));
    let revisions: Vec<(&str, i64, &str)> = all
        .iter()
        .map(|(name, revision, at, _)| (name.as_str(), *revision, &at[..10]))
        .collect();
    let expected = [
        ("J-1", 1, "2026-03-01"),
        ("J-1", 2, "2026-03-10"),
        ("J-1", 3, "2026-03-20"),
        ("J-2", 1, "2026-03-21"),
        ("J-3", 1, "2026-03-22"),
        ("J-1", 4, "2026-03-30"),
    ];
    assert_eq!(revisions, expected);
    // The other way round it is the same, and nothing is taken twice.
    let other = ["records", "merge", "other.gpkg", "south.gpkg", "north.gpkg"];
    yard.call(&other);
    assert_eq!(held(&file("other.gpkg")), all);
    let before = fs::read(file("all.gpkg")).unwrap();
    let again = [
        "records",
        "merge",
        "all.gpkg",
        "north.gpkg",
        "south.gpkg",
        "other.gpkg",
    ];
    let (_, told, code) = yard.call(&again);
    assert_eq!(code, 0, "{told}");
    assert!(
        told.contains("other.gpkg: 0 surveys taken over, 6 there already"),
        "{told}"
    );
    assert_eq!(fs::read(file("all.gpkg")).unwrap(), before);
    // What the branches measure next follows, and is found on the map.
    yard.put("J-1.gpx", &walk(HERE, 4.0, 4));
    yard.call(&["measure", "J-1.gpx", "--records", "all.gpkg", "-q"]);
    assert_eq!(held(&file("all.gpkg")).last().unwrap().1, 5);
    let near = [
        "records",
        "list",
        "all.gpkg",
        "--near",
        "45.0045,-29.9999",
        "--format",
        "json",
    ];
    let (list, _, _) = yard.call(&near);
    assert!(list.contains("J-2") && list.lines().count() == 1, "{list}");
    let db = Connection::open(file("all.gpkg")).unwrap();
    let broken = |sql: &str| db.prepare(sql).unwrap().exists([]).unwrap();
    assert!(!broken("PRAGMA foreign_key_check"));
    let check: String = db
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(check, "ok");
}

#[test]
fn what_cannot_be_joined_is_told_and_the_rest_is() {
    let yard = branches();
    let (_, told, code) = yard.call(&["records", "merge", "north.gpkg", "./north.gpkg"]);
    assert!(
        code == 2 && told.contains("Name the other files after it"),
        "{told}"
    );
    yard.put("text.gpkg", "no database");
    let (_, told, code) = yard.call(&["records", "merge", "all.gpkg", "north.gpkg", "text.gpkg"]);
    assert!(code == 1 && told.contains("text.gpkg"), "{told}");
    assert!(!yard.temp.path().join("all.gpkg").exists());
    let south = yard.temp.path().join("south.gpkg");
    let db = Connection::open(&south).unwrap();
    db.execute("UPDATE surveys SET document = x'00' WHERE id = 2", [])
        .unwrap();
    drop(db);
    let (_, told, code) = yard.call(&["records", "merge", "all.gpkg", "south.gpkg"]);
    assert!(
        code == 3 && told.contains("south.gpkg: 2 surveys taken over"),
        "{told}"
    );
    assert!(told.contains("J-3") && told.contains("damaged"), "{told}");
}

/// A merge that is killed is run once more.
#[test]
fn a_merge_that_broke_off_goes_on() {
    let yard = branches();
    let whole = ["records", "merge", "whole.gpkg", "north.gpkg", "south.gpkg"];
    yard.call(&whole);
    // What one that stopped after the first file, or within it, leaves: each batch is one transaction.
    yard.call(&["records", "merge", "part.gpkg", "south.gpkg"]);
    let args = [
        "records",
        "merge",
        "part.gpkg",
        "north.gpkg",
        "south.gpkg",
        "-q",
    ];
    let mut killed = Command::new(boundwalk().get_program())
        .current_dir(yard.temp.path())
        .args(args)
        .spawn()
        .unwrap();
    let _ = killed.kill();
    killed.wait().unwrap();
    yard.call(&args);
    let held = |name: &str| held(&yard.temp.path().join(name));
    assert_eq!(held("part.gpkg"), held("whole.gpkg"));
}
