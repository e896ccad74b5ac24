use super::*;
use crate::job::template;
use std::path::Path;

/// The template with every table and key opened.
fn whole_sheet() -> String {
    template()
        .lines()
        .map(|line| format!("{}\n", line.strip_prefix("#: ").unwrap_or(line)))
        .collect()
}

fn job(text: &str) -> Option<Job> {
    Job::from_text(text, "job.toml", Path::new("")).ok()
}

/// The fingerprint without the bytes of the sheet, so that it differs only by what was read from it.
fn of_what_was_read(job: Job) -> Fingerprint {
    let request = Request {
        job,
        ..Request::default()
    };
    request.fingerprint(&[])
}

/// Other values that may be written in the place of one, at least one of which is of the kind that its key wants.
fn others(value: &str) -> Vec<String> {
    let mut others: Vec<String> = [
        "\"inside\"",
        "\"outside\"",
        "\"left\"",
        "\"right\"",
        "\"trapezoid\"",
        "\"simpson\"",
        "\"rectangle\"",
        "\"circle\"",
        "\"percent\"",
        "\"letter\"",
        "\"perimeter\"",
        "\"estimate\"",
        "\"0.61 x 1.64 m\"",
        "\"Z\"",
        "\"EPSG:25832\"",
        "[\"lawn\"]",
        "[\"other.nmea\"]",
        "true",
        "false",
        "2026-09-09",
        "03:04:05",
    ]
    .map(str::to_owned)
    .to_vec();
    // The last number in the value is made a little more, a little less, or one more or less.
    let digit = |c: char| c.is_ascii_digit() || c == '.';
    if let Some(end) = value.rfind(digit) {
        let start = value[..end].rfind(|c| !digit(c)).map_or(0, |at| at + 1);
        if let Ok(number) = value[start..=end].parse::<f64>() {
            for number in [number * 1.01, number * 0.99, number + 1.0, number - 1.0] {
                others.push(format!("{}{number}{}", &value[..start], &value[end + 1..]));
            }
        }
    }
    others
}

/// Figures that the template only hints at; each is changed key by key.
const FIGURES: &str = r#"
[[shape]]
kind = "rectangle"
length_m = 4
width_m = 3
[[shape]]
kind = "triangle"
base_m = 4
height_m = 3
foot_m = 1
[[shape]]
kind = "triangle"
sides_m = [3, 4, 5]
[[shape]]
kind = "circle"
radius_m = 2
sector_deg = 90
[[shape]]
kind = "ellipse"
length_m = 4
width_m = 3
[[shape]]
kind = "trapezoid"
parallel_m = [4.0, 6.0]
height_m = 3
[[shape]]
kind = "polygon"
sides_m = [4.0, 3.0, 4.0, 3.0]
diagonals_m = [5.0]
[[shape]]
kind = "radii"
radii_m = [3.0, 4.0, 5.0]
[[shape]]
kind = "offsets"
chainage_m = [0, 1.2, 2.5]
left_m = [2.8, 3.1, 3.0]
"#;

/// Changes every key of a sheet by itself, sees that the fingerprint changes with it, and counts the keys.
fn every_key_counts(text: &str) -> usize {
    let base = job(text).expect("a sheet");
    let print = of_what_was_read(base.clone());
    let lines: Vec<&str> = text.lines().collect();
    let (mut keys, mut without) = (0, Vec::new());
    for (at, line) in lines.iter().enumerate() {
        let Some((key, rest)) = line.split_once(" = ") else {
            continue;
        };
        // A figure of another kind has other keys, and what a size stands for is written beside it.
        if line.starts_with('#') || ["kind", "size"].contains(&key) {
            continue;
        }
        let value = rest.split("  #").next().unwrap_or(rest).trim();
        let changed = others(value).into_iter().filter_map(|other| {
            let mut changed = lines.clone();
            let line = format!("{key} = {other}");
            changed[at] = &line;
            job(&changed.join("\n"))
        });
        let differing: Vec<Job> = changed
            .map(|job| Job {
                settings: base.settings.clone(),
                ..job
            })
            .filter(|job| *job != base)
            .collect();
        if differing.is_empty() {
            without.push(*line);
        }
        for other in differing {
            assert_ne!(of_what_was_read(other), print, "{line}");
        }
        keys += 1;
    }
    assert!(without.is_empty(), "changed by nothing: {without:#?}");
    keys
}

#[test]
fn every_key_of_the_sheet_counts() {
    let keys = every_key_counts(&whole_sheet());
    assert!(keys > 100, "{keys}");
    let keys = every_key_counts(FIGURES);
    assert!(keys > 15, "{keys}");
}

type Change = fn(&mut Request);

/// A band at a confidence of 2, or of not a number, would be no band.
#[test]
fn numbers_out_of_range_are_refused_before_anything_is_read() {
    let wrong: [(&str, Change); 8] = [
        ("confidence", |r| r.confidence = Some(2.0)),
        ("confidence", |r| r.confidence = Some(f64::NAN)),
        ("sigma_m", |r| r.sigma_m = Some(0.0)),
        ("sigma_m", |r| r.sigma_m = Some(f64::INFINITY)),
        ("correlation_s", |r| r.correlation_s = Some(-1.0)),
        ("carry.offset_m", |r| r.carry.offset_m = Some(-0.3)),
        ("carry.sigma_m", |r| r.carry.sigma_m = Some(f64::NAN)),
        ("carry.side", |r| r.carry.offset_m = Some(0.3)),
    ];
    for (name, change) in wrong {
        let mut request = Request::of([Input::File("no-such-log.nmea".into())]);
        change(&mut request);
        let fault = crate::survey::measure(&request).unwrap_err();
        assert_eq!(fault.kind(), crate::fault::Kind::Usage, "{fault}");
        assert!(fault.what().contains(name), "{fault}");
    }
}

#[test]
fn every_setting_of_the_call_counts() {
    let changes: [(&str, Change); 14] = [
        ("name", |r| r.name = "x".into()),
        ("carry_m", |r| r.carry.offset_m = Some(0.1)),
        ("carry_side", |r| r.carry.side = Some(Side::Inside)),
        ("other side", |r| r.carry.side = Some(Side::Outside)),
        ("carry_sigma_m", |r| r.carry.sigma_m = Some(0.1)),
        ("sigma_m", |r| r.sigma_m = Some(0.1)),
        ("correlation_s", |r| r.correlation_s = Some(0.1)),
        ("confidence", |r| r.confidence = Some(0.9)),
        ("grid", |r| r.grid = Some("EPSG:25832".into())),
        ("by_time", |r| r.by_time = true),
        ("max_fixes", |r| r.max_fixes = Some(7)),
        ("strict", |r| r.strict = true),
        ("deduct", |r| {
            r.deduct = vec![Input::File("a/patio.nmea".into())]
        }),
        ("logs", |r| r.logs = vec![Input::File("lawn.nmea".into())]),
    ];
    let mut prints = vec![("nothing", Request::default().fingerprint(&[]))];
    for (name, change) in changes {
        let mut request = Request::default();
        change(&mut request);
        prints.push((name, request.fingerprint(&[])));
        // Each is shown among the settings, but for what is shown elsewhere.
        let shown = request.settings();
        let elsewhere = ["name", "logs"].contains(&name);
        assert_eq!(shown.is_empty(), elsewhere, "{name}: {shown:?}");
    }
    for (at, (name, print)) in prints.iter().enumerate() {
        for (other, same) in &prints[at + 1..] {
            assert_ne!(print, same, "{name} and {other}");
        }
    }
    let quick = Request {
        depth: Depth::Numbers,
        ..Request::default()
    };
    assert_eq!(quick.fingerprint(&[]), Request::default().fingerprint(&[]));
    let moved = Request {
        deduct: vec![Input::File("b/patio.nmea".into())],
        ..Request::default()
    };
    let print = moved.fingerprint(&[]);
    assert!(
        prints
            .iter()
            .any(|(name, at_a)| *name == "deduct" && *at_a == print)
    );
}

#[test]
fn files_are_all_that_is_read_and_shown_by_name() {
    let temp = tempfile::tempdir().unwrap();
    let at = |name: &str| temp.path().join(name);
    std::fs::write(
        at("rates.toml"),
        "turf_per_piece = 4.20\nsoil_per_tonne = 30\n",
    )
    .unwrap();
    std::fs::write(
        at("job.toml"),
        "[walk]\nfiles = [\"lawn.nmea\"]\n[[deduct]]\nfiles = [\"patio.nmea\"]\n[[path]]\nfiles = [\"path.gpx\"]\nwidth_m = 1\n\
         [order]\n[price]\nrates = \"rates.toml\"\nsoil_per_tonne = 35\n",
    )
    .unwrap();
    let mut request = Request {
        job: Job::from_file(&at("job.toml")).unwrap(),
        deduct: vec![Input::File(at("bed.gpx"))],
        ..Request::default()
    };
    let mut files = request.files();
    files.sort();
    let mut wanted: Vec<PathBuf> = [
        "lawn.nmea",
        "patio.nmea",
        "path.gpx",
        "bed.gpx",
        "job.toml",
        "rates.toml",
    ]
    .map(at)
    .to_vec();
    wanted.sort();
    assert_eq!(files, wanted);
    let names =
        |request: &Request| -> Vec<String> { request.inputs().iter().map(Input::name).collect() };
    assert_eq!(
        names(&request),
        ["lawn.nmea", "patio.nmea", "bed.gpx", "path.gpx"]
    );
    let settings = request.settings();
    let of = |key: &str| {
        let found: Vec<String> = settings
            .iter()
            .filter(|s| s.key == key)
            .map(|s| format!("{} ({})", s.value, s.from))
            .collect();
        found.join(", ")
    };
    assert_eq!(of("price.turf_per_piece"), "4.20 (rates file, line 1)");
    assert_eq!(of("price.soil_per_tonne"), "35 (job sheet, line 11)");
    assert_eq!(of("deduct"), "bed.gpx (asked, before the job sheet)");
    let print = request.fingerprint(&[]);
    std::fs::write(
        at("rates.toml"),
        "turf_per_piece = 4.20\nsoil_per_tonne = 31\n",
    )
    .unwrap();
    request.job = Job::from_file(&at("job.toml")).unwrap();
    assert_ne!(request.fingerprint(&[]), print);
    request.logs = vec![Input::Stdin];
    assert_eq!(names(&request)[0], "standard input");
    assert_eq!(request.fingerprint_on_disk(), None);
}
