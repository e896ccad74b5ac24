//! `--out DIR`: the whole set of sheets, whatever the things on it are called.

use super::call;
use boundwalk::job::Job;
use boundwalk::sheet::{paper, plan};
use boundwalk::survey::{Input, Request, measure};
use boundwalk::units::Units;
use std::fs;
use std::path::Path;

/// Ends attributes, elements, comments, strings and lines; begins formulas; is in three scripts.
const HOSTILE: &str =
    "=1+1\"'><script>alert(1)</script><img src=x onerror=alert(1)>]]>&amp;%%d^J κήπος сад";

/// The example survey with hostile names, and where its sheets are.
fn hostile(folder: &Path) -> std::path::PathBuf {
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden");
    for log in ["lawn.nmea", "patio.nmea"] {
        fs::copy(fixture.join(log), folder.join(log)).expect("a log");
    }
    let quoted = format!("{HOSTILE:?}").replace("\\'", "'");
    let sheet = fs::read_to_string(fixture.join("job.toml"))
        .expect("a job sheet")
        .replace("\"An invented garden\"", &quoted)
        .replace("\"patio\"", &quoted)
        .replace("\"birch\"", &quoted);
    fs::write(folder.join("job.toml"), sheet).expect("written");
    let out = folder.join("sheets");
    let (_, stderr, code) = call(&[
        "measure",
        folder.to_str().expect("a path"),
        "--out",
        out.to_str().expect("a path"),
    ]);
    assert!(code == 0 || code == 3, "{code}: {stderr}");
    let told: Vec<&str> = stderr.lines().filter(|l| l.contains("Wrote")).collect();
    assert_eq!(told.len(), 1, "one line says what was written: {stderr}");
    for entry in fs::read_dir(&out).expect("a folder") {
        let name = entry.expect("a file").file_name();
        let name = name.to_string_lossy();
        // The list of what was written, which is no sheet.
        if name == "boundwalk-files.json" {
            continue;
        }
        assert!(told[0].contains(&*name), "{name} is not told: {}", told[0]);
        assert!(
            name.chars().all(|c| c.is_ascii_lowercase() || c == '.'),
            "{name}"
        );
    }
    out
}

fn text(path: &Path) -> String {
    String::from_utf8(fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display())))
        .expect("UTF-8")
}

#[test]
fn hostile_names_stay_text_on_every_sheet() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = hostile(folder.path());
    for name in [
        "sheet.html",
        "plan.svg",
        "rows.svg",
        "setout.svg",
        "lawn.kml",
        "lawn.gpx",
    ] {
        let text = text(&out.join(name)).to_lowercase();
        for never in ["<script>alert", "<img", "onerror=alert(1)>", "=\"=1+1\"'"] {
            assert!(!text.contains(never), "{never} in {name}");
        }
    }
    let page = text(&out.join("sheet.html"));
    assert!(
        page.contains("&lt;script&gt;alert(1)&lt;/script&gt;"),
        "it is shown, though"
    );
    assert_eq!(page.matches("<script>").count(), 1, "our own");
    assert!(page.contains("κήπος сад"));
    // Nothing is fetched: no address but those of namespaces.
    for (at, _) in page.match_indices("http") {
        let around = &page[at..page.len().min(at + 40)];
        assert!(
            around.starts_with("http-equiv") || around.starts_with("http://www.w3.org/2000/svg"),
            "{around}"
        );
    }
    // A cell that a spreadsheet would run is marked as text.
    for name in ["takeoff.csv", "points.csv", "rows.csv"] {
        for record in csv::Reader::from_path(out.join(name))
            .expect("a table")
            .records()
        {
            for cell in record.expect("a row").iter() {
                assert!(!cell.starts_with(['=', '@', '+']), "{cell:?} in {name}");
            }
        }
    }
    for name in ["sheet.pdf", "crew.pdf", "order.pdf", "record.pdf"] {
        let bytes = fs::read(out.join(name)).expect("a PDF");
        assert!(
            bytes.starts_with(b"%PDF-1.") && bytes.ends_with(b"%%EOF"),
            "{name}"
        );
    }
    assert!(
        fs::read(out.join("plan.png"))
            .expect("a picture")
            .starts_with(b"\x89PNG")
    );
    assert!(
        fs::read(out.join("lawn.dxf"))
            .expect("a drawing")
            .is_ascii()
    );
}

#[test]
fn the_same_survey_gives_the_same_bytes() {
    let (one, two) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let (one, two) = (hostile(one.path()), hostile(two.path()));
    let mut files = 0;
    for entry in fs::read_dir(&one).expect("a folder") {
        let name = entry.expect("a file").file_name();
        let (a, b) = (fs::read(one.join(&name)), fs::read(two.join(&name)));
        assert_eq!(a.ok(), b.ok(), "{name:?}");
        files += 1;
    }
    assert!(files >= 18, "{files}");
}

#[test]
fn the_customer_reads_the_answer_and_the_record_says_what_it_rests_on() {
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden");
    let request = Request {
        job: Job::from_file(&fixture.join("job.toml")).unwrap_or_else(|faults| panic!("{faults}")),
        ..Request::default()
    };
    let record = record(&request);
    let digest = {
        use sha2::Digest;
        sha2::Sha256::digest(fs::read(fixture.join("lawn.nmea")).expect("a log"))
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect::<String>()
    };
    let folder = tempfile::tempdir().expect("a folder");
    let page = text(&hostile(folder.path()).join("sheet.html"));
    for said in [
        digest.as_str(),
        "job sheet, line",
        "walk.carry_sigma_m",
        "how truly the edge was followed",
    ] {
        assert!(record.contains(said), "{said}");
        assert!(!page.contains(said), "{said}");
    }
    for said in [
        concat!("boundwalk ", env!("CARGO_PKG_VERSION")),
        "207.1 ± 2.0 m²",
        "Not a survey of legal boundaries",
    ] {
        assert!(record.contains(said) && page.contains(said), "{said}");
    }
    assert!(page.contains("Buried services"));
}

/// The record as a page of HTML.
fn record(request: &Request) -> String {
    let measured = measure(request).unwrap_or_else(|fault| panic!("{fault}"));
    paper::page(&paper::record(
        &measured,
        &plan::lawn(&measured, Units::Metric),
        Units::Metric,
    ))
}

#[test]
fn what_was_asked_beside_the_sheet_is_told_as_such() {
    let log = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden/lawn.nmea");
    let page = record(&Request {
        sigma_m: Some(0.3),
        confidence: Some(0.9),
        ..Request::of([Input::File(log)])
    });
    for row in [
        "<td>sigma_m</td><td>0.3</td><td>asked, before the job sheet</td>",
        "<td>confidence</td><td>0.9</td><td>asked, before the job sheet</td>",
    ] {
        assert!(page.contains(row), "{row}");
    }
}

/// RFC 3629, 6: U+FEFF at the beginning of a file says UTF-8; a program at the end of a pipe takes it for part of a name.
#[test]
fn tables_open_with_the_right_letters_and_are_known_as_ours() {
    let fixture = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden");
    let fixture = fixture.to_str().expect("a path");
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| {
        folder
            .path()
            .join(name)
            .to_str()
            .expect("a path")
            .to_owned()
    };
    call(&["measure", fixture, "--out", &path("sheets")]);
    call(&["day", fixture, "--out", &path("day"), "--quiet"]);
    let loose = folder.path().join("loose");
    fs::create_dir(&loose).expect("a folder");
    for table in [
        "sheets/takeoff.csv",
        "sheets/points.csv",
        "sheets/rows.csv",
        "day/day.csv",
    ] {
        let bytes = fs::read(folder.path().join(table)).expect("a table");
        assert!(bytes.starts_with("\u{feff}".as_bytes()), "{table}");
        let name = Path::new(table).file_name().expect("a name");
        fs::write(loose.join(name), bytes).expect("written");
    }
    for command in ["measure", "day"] {
        let (stdout, ..) = call(&[command, fixture, "--format", "csv", "--quiet"]);
        assert!(!stdout.contains('\u{feff}'), "{stdout}");
    }
    // No table of ours is a walk of the day; named outright, points.csv is the lawn.
    let (stdout, stderr, code) = call(&["day", &path("loose"), "--format", "csv"]);
    assert_eq!((stdout.lines().count(), code), (0, 1), "{stdout}{stderr}");
    let net = |of: &str| {
        let (json, ..) = call(&["measure", of, "--format", "json", "--quiet"]);
        let document: serde_json::Value = serde_json::from_str(&json).expect("a result");
        document["area"]["net_m2"].as_f64().expect("an area")
    };
    let (walked, back) = (net(fixture), net(&path("loose/points.csv")));
    approx::assert_relative_eq!(walked, back, max_relative = 1e-4);
}
