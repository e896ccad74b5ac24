//! One walk in every form that a receiver, a phone or a map hands over gives one lawn. Files that other people's encoders wrote are in
//! `fixtures/forms`; the forms that are plain text are written by `made/forms.rs`.

use crate::written;
use boundwalk::fix::{Fix, Quality, Source};
use boundwalk::read::{Log, read};
use boundwalk::{Depth, Input, Request, measure, sheet};
use std::fmt::Write;
use std::io::Write as _;

fn fixture(name: &str) -> Input {
    Input::File(format!("{}/fixtures/{name}", env!("CARGO_MANIFEST_DIR")).into())
}

fn bytes(name: &str, text: impl Into<Vec<u8>>) -> Input {
    Input::Bytes {
        name: name.into(),
        bytes: text.into(),
    }
}

fn twin() -> Log {
    read(&[fixture("garden/lawn.nmea")]).unwrap()
}

/// The same places, each to a tenth of a millimetre, at the same times.
fn same_places(log: &Log, source: Source) {
    let twin = twin();
    assert_eq!(log.fixes.len(), twin.fixes.len());
    for (is, want) in log.fixes.iter().zip(&twin.fixes) {
        assert_eq!(is.source, source);
        assert!(
            (is.lat_deg - want.lat_deg).abs() < 1.1e-9,
            "{is:?} {want:?}"
        );
        assert!(
            (is.lon_deg - want.lon_deg).abs() < 1.1e-9,
            "{is:?} {want:?}"
        );
        assert_eq!((is.clock_s, is.date), (want.clock_s, want.date));
    }
}

fn net_m2(input: Input) -> (f64, f64) {
    let measured = measure(&Request::of([input])).unwrap();
    let area = measured
        .area
        .unwrap_or_else(|| panic!("{:?}", measured.warnings));
    (area.net_m2, area.band_m2)
}

/// Written by someone else's encoder, with torn messages and NMEA text between.
#[test]
fn binary_messages_give_what_sentences_give() {
    let log = read(&[fixture("forms/lawn.ubx")]).unwrap();
    same_places(&log, Source::Ubx);
    for (is, want) in log.fixes.iter().zip(&twin().fixes) {
        assert_eq!(
            (is.quality, is.satellites, is.hdop),
            (Quality::RtkFixed, want.satellites, want.hdop)
        );
        let sigma_m = is.sigma_east_m.unwrap() / want.sigma_east_m.unwrap();
        assert!((sigma_m - 1.0).abs() < 0.02, "{sigma_m}");
    }
    let (net, band) = net_m2(fixture("forms/lawn.ubx"));
    let (want, want_band) = net_m2(fixture("garden/lawn.nmea"));
    assert!(
        (net - want).abs() < 0.05 * want_band && (band / want_band - 1.0).abs() < 0.05,
        "{net} {band}"
    );
}

#[test]
fn a_track_of_kml_is_a_walk_with_its_times() {
    for name in ["forms/lawn.kml", "forms/lawn.kmz"] {
        let log = read(&[fixture(name)]).unwrap();
        same_places(&log, Source::Vertex);
        assert_eq!(log.marks.len(), 1, "{name}");
        assert_eq!(log.marks[0].label, "tap");
    }
}

#[test]
fn an_archive_is_the_logs_in_it() {
    let log = read(&[fixture("forms/walks.zip")]).unwrap();
    let names: Vec<&str> = log.files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(
        names,
        ["walks.zip/garden/lawn.nmea", "walks.zip/garden/patio.nmea"]
    );
    let plain = read(&[fixture("garden/lawn.nmea"), fixture("garden/patio.nmea")]).unwrap();
    assert_eq!(log.fixes, plain.fixes);
    assert_eq!(log.files[0].sha256, plain.files[0].sha256);
    // The same archive through memory.
    let path = format!("{}/fixtures/forms/walks.zip", env!("CARGO_MANIFEST_DIR"));
    let through = read(&[bytes("walks.zip", std::fs::read(path).unwrap())]).unwrap();
    assert_eq!(through.fixes, log.fixes);
}

/// Through a pipe, which is kept first: no more of it than may be.
#[test]
fn an_archive_may_come_through_a_pipe() {
    let archive = garden("forms/walks.zip");
    let most = archive.len() as u64;
    let kept = |most| boundwalk::read::Kept::of(&mut archive.as_slice(), most).unwrap();
    assert!(kept(most - 1).is_none());
    let log = read(&[Input::Kept(kept(most).unwrap())]).unwrap();
    assert_eq!(log.files[0].name, "standard input/garden/lawn.nmea");
    assert_eq!(
        log.fixes,
        read(&[fixture("forms/walks.zip")]).unwrap().fixes
    );
    let broken = &archive[..archive.len() / 2];
    let kept = boundwalk::read::Kept::of(&mut &broken[..], most)
        .unwrap()
        .unwrap();
    assert_eq!(read(&[Input::Kept(kept)]).unwrap_err().code(), "broken-zip");
}

#[test]
fn the_forms_of_text_give_the_same_places() {
    for (text, source) in [
        (written::tcx(&twin().fixes), Source::Trkpt),
        (written::gpsd(&twin().fixes), Source::TPV),
        (written::android(&twin().fixes), Source::Phone),
        (written::pos(&twin().fixes), Source::Pos),
        (written::timed_line(&twin().fixes), Source::Vertex),
        (written::timed_points(&twin().fixes), Source::Vertex),
    ] {
        same_places(&read(&[bytes("walk", text)]).unwrap(), source);
    }
}

/// Each figure of accuracy is what its form says that it is: 95 of 100 on an axis is 1.96 sigma, the radius that holds 68 of 100 is
/// 1.51 sigma (the normal and the Rayleigh distribution).
#[test]
fn figures_of_accuracy_are_taken_for_what_they_are() {
    for (text, sigma_m) in [
        (written::gpsd(&twin().fixes), 0.01398),
        (written::android(&twin().fixes), 1.987),
        (written::pos(&twin().fixes), 0.014),
        (written::timed_points(&twin().fixes), 1.987),
    ] {
        let log = read(&[bytes("walk", text)]).unwrap();
        let is = log.fixes[5].sigma_east_m.unwrap();
        assert!(
            (f64::from(is) / sigma_m - 1.0).abs() < 1e-3,
            "{is} {sigma_m}"
        );
    }
    let (net, band) = net_m2(bytes("lawn.pos", written::pos(&twin().fixes)));
    let (want, want_band) = net_m2(fixture("garden/lawn.nmea"));
    assert!(
        (net - want).abs() < 0.02 * want_band && (band / want_band - 1.0).abs() < 0.02,
        "{net} {band}"
    );
}

/// A polygon's inner boundaries are beds (OGC 07-147r2, 10.8).
#[test]
fn a_drawn_polygon_of_kml_loses_its_inner_boundaries() {
    let ring = |a: f64, b: f64| {
        let corners = [(a, a), (b, a), (b, b), (a, b), (a, a)];
        let places =
            corners.map(|(x, y)| format!("{:.9},{:.9},0", -30.0 + x * 12.7e-6, 45.0 + y * 9e-6));
        format!(
            "<LinearRing><coordinates>\n{}\n</coordinates></LinearRing>",
            places.join(" ")
        )
    };
    let text = format!(
        "<kml><Placemark><name>a</name><Polygon><outerBoundaryIs>{}</outerBoundaryIs><innerBoundaryIs>{}</innerBoundaryIs></Polygon>\
         </Placemark></kml>",
        ring(0.0, 20.0),
        ring(5.0, 10.0)
    );
    let (net, _) = net_m2(bytes("plan.kml", text));
    // 20 x 20 less 5 x 5, by the length of a degree there (1.0014 m and 1.0003 m for each step).
    assert!((net / 375.0 - 1.0017).abs() < 0.001, "{net}");
}

#[cfg(feature = "sheets")]
#[test]
fn what_is_written_as_kml_reads_back_as_the_same_lawn() {
    let job = boundwalk::Job::from_file(
        format!("{}/fixtures/garden/job.toml", env!("CARGO_MANIFEST_DIR")).as_ref(),
    )
    .unwrap();
    let mut request = Request::of([]);
    request.job = job;
    let measured = measure(&request).unwrap();
    let text = sheet::kml::file(&measured).unwrap();
    let (net, _) = net_m2(bytes("lawn.kml", text));
    let drawn: f64 = measured
        .drawing
        .lawns
        .iter()
        .map(|lawn| geo::Area::unsigned_area(&lawn.net))
        .sum();
    assert!((net / drawn - 1.0).abs() < 1e-4, "{net} {drawn}");
}

/// Cut anywhere, each is read up to the cut or refused with a reason; nothing is made up.
#[test]
fn every_form_may_be_cut_at_any_byte() {
    let binary = |name: &str| {
        std::fs::read(format!(
            "{}/fixtures/forms/{name}",
            env!("CARGO_MANIFEST_DIR")
        ))
        .unwrap()
    };
    let head = |text: String| text.into_bytes();
    for mut all in [
        binary("lawn.ubx"),
        binary("lawn.kml"),
        binary("lawn.kmz"),
        binary("walks.zip"),
        head(written::tcx(&twin().fixes)),
        head(written::gpsd(&twin().fixes)),
        head(written::android(&twin().fixes)),
        head(written::pos(&twin().fixes)),
        head(written::timed_line(&twin().fixes)),
    ] {
        let zipped = all.starts_with(b"PK");
        if !zipped {
            all.truncate(2500);
        }
        let whole = read(&[bytes("cut", all.clone())]).map_or(0, |log| log.fixes.len());
        for end in (0..all.len()).step_by(if zipped { 97 } else { 1 }) {
            match read(&[bytes("cut", &all[..end])]) {
                Ok(log) => assert!(log.fixes.len() <= whole.max(1), "{end}"),
                Err(fault) => assert!(!fault.to_string().is_empty()),
            }
        }
    }
}

/// The first bytes are those of each form's published description or registered signature (from memory).
#[test]
fn what_cannot_be_read_is_named() {
    let raw = |message: [u8; 2]| {
        let mut bytes = Vec::new();
        written::message(&mut bytes, message, &[7; 48]);
        bytes.repeat(3)
    };
    for (head, word) in [
        (
            b"\x0e\x10\x43\x08\x78\x00\x00\x00.FIT\x00\x00".to_vec(),
            "FIT",
        ),
        (b"AXXX001 FLIGHT:1\r\nHFDTE140526\r\n".to_vec(), "IGC"),
        (b"\x00\x00\x27\x0a\x00\x00".to_vec(), "shapefile"),
        (b"\xd3\x00\x13\x3e".to_vec(), "RTCM"),
        (b"SQLite format 3\x00".to_vec(), "GeoPackage"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1".to_vec(), "office"),
        (zipped("word/document.xml", b"<w/>"), "office"),
        (b"{\\rtf1 hello}".to_vec(), "office"),
        (b"%PDF-1.7".to_vec(), "PDF"),
        (b"\x89PNG\r\n".to_vec(), "picture"),
        (b"\xff\xd8\xff\xe0".to_vec(), "picture"),
        (b"\x00\x00\x00\x18ftypheic".to_vec(), "picture"),
        (b"RIFF\x10\x00\x00\x00WEBPVP8 ".to_vec(), "picture"),
        (b"MM\x00*".to_vec(), "picture"),
        (b"  0\r\nSECTION\r\n  2\r\nHEADER\r\n".to_vec(), "DXF"),
        (b"AC1032\x00".to_vec(), "DWG"),
        (b"LASF\x00".to_vec(), "LAS"),
        (
            b"     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n"
                .to_vec(),
            "RINEX",
        ),
        (
            b"3.0                 COMPACT RINEX FORMAT                    CRINEX VERS   / TYPE\n"
                .to_vec(),
            "RINEX",
        ),
        (
            b"# Raw,ElapsedRealtimeMillis,TimeNanos\nRaw,1,2,3\n".to_vec(),
            "raw measurements",
        ),
        (raw([0x02, 0x15]), "NAV-PVT"),
        (b"\xaa\x44\x12\x1c".repeat(20), "binary log"),
        (b"$@\x01\x02".repeat(20), "binary log"),
    ] {
        let refused = read(&[bytes("x", head)]).unwrap_err();
        assert!(refused.what().contains(word), "{refused}");
        assert!(refused.advice().len() > 10, "{refused}");
        assert_eq!(refused.code(), "not-a-log");
    }
    // A receiver sends its NMEA among any of them.
    for before in [
        &b"\xd3\x00\x13\x3e"[..],
        b"$@\x01\x02\x03",
        b"\xaa\x44\x12\x1c",
        &raw([0x02, 0x15]),
    ] {
        let log = read(&[bytes("x", [before, &garden("garden/lawn.nmea")].concat())]).unwrap();
        assert_eq!(log.fixes.len(), twin().fixes.len());
    }
}

fn garden(name: &str) -> Vec<u8> {
    std::fs::read(format!("{}/fixtures/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn zipped(name: &str, bytes: &[u8]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let plain = zip::write::SimpleFileOptions::default();
    zip.start_file(name, plain).unwrap();
    zip.write_all(bytes).unwrap();
    zip.finish().unwrap().into_inner()
}

/// The zone of UTM in which the walk lies, north.
const ZONE: &str = "EPSG:32625";

/// One walk in each form, with the grid of its list.
fn forms() -> Vec<(&'static str, Vec<u8>, Option<&'static str>)> {
    let nmea = garden("garden/lawn.nmea");
    let walk = twin().fixes;
    let text = |text: fn(&[Fix]) -> String| text(&walk).into_bytes();
    vec![
        ("NMEA 0183 (GGA, RMC, GST), the twin", nmea.clone(), None),
        (
            "UBX among NMEA, with torn messages",
            garden("forms/lawn.ubx"),
            None,
        ),
        ("UBX alone", written::ubx(&walk), None),
        ("KML, `gx:Track`", garden("forms/lawn.kml"), None),
        ("KMZ", garden("forms/lawn.kmz"), None),
        ("zip of the NMEA log", zipped("lawn.nmea", &nmea), None),
        ("`.pos`, UTC, degrees", text(written::pos), None),
        (
            "`.pos`, weeks and seconds, minutes and seconds",
            text(written::pos_weeks),
            None,
        ),
        ("`.pos`, geocentric", text(written::pos_geocentric), None),
        ("`.pos`, baseline", text(written::pos_baseline), None),
        ("gpsd's TPV", text(written::gpsd), None),
        ("table of degrees", text(written::csv), None),
        (
            "table of degrees, minutes and seconds, with letters, quoted, tabs",
            text(written::csv_minutes),
            None,
        ),
        (
            "table with semicolons, decimal commas, letters in columns",
            text(written::csv_commas),
            None,
        ),
        (
            "table of eastings and northings (UTM), bars",
            written::csv_grid(&walk, ZONE).into_bytes(),
            Some(ZONE),
        ),
        ("GPX 1.1, without an accuracy", text(written::gpx), None),
        ("TCX", text(written::tcx), None),
        ("GeoJSON, line with times", text(written::timed_line), None),
        (
            "GeoJSON, points with times, accuracy 3 m",
            text(written::timed_points),
            None,
        ),
        (
            "Android's `Fix` lines, accuracy 3 m",
            text(written::android),
            None,
        ),
        (
            "KML, `LineString` without times",
            text(written::kml_line),
            None,
        ),
        ("WKT, without times", text(written::wkt), None),
    ]
}

fn asked(bytes: &[u8], grid: Option<&str>) -> Request {
    Request {
        grid: grid.map(str::to_owned),
        depth: Depth::Numbers,
        ..Request::of([Input::Bytes {
            name: "walk".into(),
            bytes: bytes.to_vec(),
        }])
    }
}

/// What is said of a walk: its area and band, else why there is none; and the codes of what is told of it.
fn said(bytes: &[u8], grid: Option<&str>) -> (String, Vec<&'static str>) {
    match measure(&asked(bytes, grid)) {
        Ok(measured) => {
            let codes = measured.warnings.iter().map(|told| told.code()).collect();
            match &measured.area {
                Some(area) => (format!("{:.2} ± {:.2}", area.net_m2, area.band_m2), codes),
                None => (format!("withheld: `{}`", codes[0]), codes),
            }
        }
        Err(fault) => (format!("refused: `{}`", fault.code()), Vec::new()),
    }
}

/// Of each form the whole and three fifths of its bytes.
fn table() -> String {
    let mut table = "| one walk as | net area ± band, m² | after three fifths of its bytes | which tells besides |\n|---|---|---|---|\n".to_owned();
    for (form, bytes, grid) in forms() {
        let (whole, told) = said(&bytes, grid);
        let (cut, mut besides) = said(&bytes[..bytes.len() * 3 / 5], grid);
        besides.retain(|code| !told.contains(code));
        let besides: Vec<String> = besides.iter().map(|code| format!("`{code}`")).collect();
        writeln!(
            table,
            "| {form} | {whole} | {cut} | {} |",
            besides.join(", ")
        )
        .unwrap();
    }
    table
}

/// The table in `docs/logs.md` is what the program says.
#[test]
fn the_table_of_forms_is_what_is_said() {
    let docs =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/logs.md")).unwrap();
    let table = table();
    assert!(
        docs.contains(&table),
        "docs/logs.md should have:\n\n{table}"
    );
}

/// What has the walk's times gives the twin's area; how sure that is, is a matter of what the form says of accuracy, and never surer.
#[test]
fn every_form_gives_the_area_of_the_twin() {
    let (want, want_band) = net_m2(fixture("garden/lawn.nmea"));
    for (form, bytes, grid) in forms() {
        if form.contains("without times") {
            continue;
        }
        let measured = measure(&asked(&bytes, grid)).unwrap();
        let area = measured
            .area
            .unwrap_or_else(|| panic!("{form} {:?}", measured.warnings));
        assert!(
            (area.net_m2 - want).abs() < 0.4 * area.band_m2,
            "{form} {}",
            area.net_m2
        );
        assert!(area.band_m2 > 0.98 * want_band, "{form} {}", area.band_m2);
    }
}

/// Every zone of UTM, north and south: the walk moved there has the same area, to what the ellipsoid and the digits leave.
#[test]
fn a_list_may_be_of_any_zone() {
    let walk = twin().fixes;
    let (want, _) = net_m2(fixture("garden/lawn.nmea"));
    for number in 1..=60u32 {
        for south in [false, true] {
            let code = format!("EPSG:{}", if south { 32_700 } else { 32_600 } + number);
            let middle = f64::from(number) * 6.0 - 183.0;
            let mut moved = walk.clone();
            for fix in &mut moved {
                fix.lon_deg += 30.0 + middle + 1.0;
                fix.lat_deg *= if south { -1.0 } else { 1.0 };
            }
            let list = written::csv_grid(&moved, &code);
            let measured = measure(&asked(list.as_bytes(), Some(&code))).unwrap();
            let area = measured.area.unwrap();
            assert!(
                (area.net_m2 / want - 1.0).abs() < 1e-4,
                "{code} {}",
                area.net_m2
            );
            let at = read_first(&list, &code);
            assert!(
                (at.0 - moved[0].lat_deg).abs() < 1e-8 && (at.1 - moved[0].lon_deg).abs() < 1e-8,
                "{code} {at:?}"
            );
        }
    }
}

fn read_first(list: &str, grid: &str) -> (f64, f64) {
    let options = boundwalk::read::Options {
        grid: Some(grid.into()),
        ..Default::default()
    };
    let log = boundwalk::read::read_with(&[bytes("list", list)], &options).unwrap();
    (log.fixes[0].lat_deg, log.fixes[0].lon_deg)
}

/// A letter in a column of its own turns the sign, and no sign is turned twice.
#[test]
fn the_hemisphere_may_stand_beside_the_number() {
    for (head, row) in [
        ("Lat;N/S;Lon;E/W", "33,5;S;70,25;W"),
        ("lon,lon_dir,lat,lat_dir", "70.25,w,33.5,s"),
        ("id|Latitude N/S|Longitude E/W", "7|33.5S|70.25W"),
        (
            "Longitude\tLatitude",
            "\"70° 15' 0.0\"\" W\"\t\"33° 30' 0.0\"\" S\"",
        ),
        (
            "Latitude,Latitude hemisphere,Longitude,Longitude hemisphere",
            "-33.5,S,-70.25,W",
        ),
        ("here and there", "33°30'00.0\"S 70°15'00.0\"W"),
        ("W and S", "W070 15.000;S33 30.000"),
    ] {
        let log = read(&[bytes("list.csv", format!("{head}\n{row}\n{row}\n{row}\n"))]).unwrap();
        let fix = &log.fixes[0];
        assert_eq!((fix.lat_deg, fix.lon_deg), (-33.5, -70.25), "{head}");
    }
}

/// What a controller or a phone calls its columns, invented: in any order, each accuracy taken for what its name says and told.
#[test]
fn headers_of_many_makers_are_understood() {
    for (head, row, sigma_m, kind) in [
        (
            "\"Pt. No\";\"Horizontal accuracy [m]\";\"Longitude\";\"Ell. height\";\"Latitude\"",
            "12;0,014;-1,2;80,1;52,1",
            0.014 / 1.515,
            boundwalk::process::Accuracy::Radius68,
        ),
        (
            "HRMS_m|E|N|PointID",
            "0.020|623290.488|5773688.987|A1",
            0.020 / std::f64::consts::SQRT_2,
            boundwalk::process::Accuracy::Rms,
        ),
        (
            "timestamp\tlongitude_deg\tlatitude_deg\tr95_m\tsatellites_used",
            "2026-05-14T09:30:00Z\t-1.2\t52.1\t0.049\t17",
            0.049 / 2.448,
            boundwalk::process::Accuracy::Radius95,
        ),
        (
            "2DRMS (cm),Lon (WGS84),Lat (WGS84),Remarks",
            "5.0,-1.2,52.1,kerb",
            0.05 / (2.0 * std::f64::consts::SQRT_2),
            boundwalk::process::Accuracy::TwiceRms,
        ),
    ] {
        let options = boundwalk::read::Options {
            grid: head.contains("|E|").then(|| "EPSG:32630".to_owned()),
            ..Default::default()
        };
        let text = format!("{head}\n{row}\n{row}\n{row}\n");
        let log = boundwalk::read::read_with(&[bytes("list.csv", text)], &options).unwrap();
        let fix = &log.fixes[0];
        assert!(
            (fix.lat_deg - 52.1).abs() < 1e-8 && (fix.lon_deg + 1.2).abs() < 1e-8,
            "{head} {fix:?}"
        );
        let is = f64::from(fix.sigma_east_m.unwrap());
        assert!((is / sigma_m - 1.0).abs() < 5e-3, "{head} {is} {sigma_m}");
        let told = log.warnings.iter().any(|told| match told {
            boundwalk::Notice::Columns { columns, .. } => {
                columns.iter().any(|column| column.accuracy == Some(kind))
            }
            _ => false,
        });
        assert!(told, "{head} {:?}", log.warnings);
    }
}

/// A walk that breaks off inside its track is known up to the break.
#[test]
fn a_track_of_kml_that_breaks_off_is_not_lost() {
    let walk = twin().fixes;
    let all = written::kml_track(&walk);
    let log = read(&[bytes("cut.kml", &all.as_bytes()[..all.len() / 2])]).unwrap();
    assert!(log.fixes.len() * 2 + 10 > walk.len(), "{}", log.fixes.len());
    for (is, want) in log.fixes.iter().zip(&walk) {
        assert_eq!((is.clock_s, is.date), (want.clock_s, want.date));
    }
    assert!(log.warnings.iter().any(|told| told.code() == "xml-broken"));
}

/// Elements as few programs write them, which the parser reads, say what plain ones do, which are read at a glance.
#[test]
fn tracks_of_kml_may_be_written_in_any_way() {
    let walk = twin().fixes;
    let plain = read(&[bytes("a", written::kml_track(&walk))]).unwrap();
    let odd = written::kml_track(&walk)
        .replace("<when>", "<when >\n ")
        .replace("<gx:coord>", "<gx:coord a='b'><!-- c -->")
        .replace("</gx:coord>", "\n</gx:coord>");
    let odd = read(&[bytes("a", odd)]).unwrap();
    assert_eq!(plain.fixes.len(), odd.fixes.len());
    for (a, b) in plain.fixes.iter().zip(&odd.fixes) {
        assert_eq!(
            (a.lat_deg, a.lon_deg, a.height_m, a.clock_s, a.date),
            (b.lat_deg, b.lon_deg, b.height_m, b.clock_s, b.date)
        );
    }
    assert_eq!((plain.fixes[0].line, plain.fixes[1].line), (4, 6));
    let options = boundwalk::read::Options {
        max_fixes: Some(7),
        ..Default::default()
    };
    let few =
        boundwalk::read::read_with(&[bytes("a", written::kml_track(&walk))], &options).unwrap();
    assert_eq!(few.fixes, plain.fixes[..7]);
}

/// Coordinates of a megabyte and more in one element.
#[test]
fn a_long_line_of_kml_is_read_whole() {
    let walk: Vec<Fix> = twin().fixes.into_iter().cycle().take(60_000).collect();
    let log = read(&[bytes("a.kml", written::kml_line(&walk))]).unwrap();
    assert_eq!(log.fixes.len(), walk.len());
}

/// Eastings and northings that no grid is said of: asked back, with the grids that would put them beside the walk, and not measured.
#[test]
fn a_list_of_no_grid_is_asked_back_with_the_grids_beside_the_walk() {
    let walk = twin().fixes;
    let list = written::csv_grid(&walk, ZONE);
    let both = [bytes("bed.csv", list.as_str()), fixture("garden/lawn.nmea")];
    let refused = measure(&Request::of(both)).unwrap_err();
    assert_eq!(refused.code(), "needs-grid");
    assert_eq!(refused.file(), Some("bed.csv"));
    assert!(
        refused
            .advice()
            .contains("--grid EPSG:32625 (WGS 84 / UTM zone 25N, within 1 km of lawn.nmea)"),
        "{refused}"
    );
    assert!(!refused.advice().contains("EPSG:32626"), "{refused}");
    // The walk may be what is taken off, or a bed of the sheet.
    let mut request = Request::of([bytes("lawn.csv", list.as_str())]);
    request.deduct = vec![fixture("garden/patio.nmea")];
    let refused = measure(&request).unwrap_err();
    assert!(refused.advice().contains("EPSG:32625"), "{refused}");
    let job = format!("{}/fixtures/garden/job.toml", env!("CARGO_MANIFEST_DIR"));
    let mut request = Request::of([bytes("lawn.csv", list.as_str())]);
    request.job = boundwalk::Job::from_file(job.as_ref()).unwrap();
    request.job.deducts.clear();
    let refused = measure(&request).unwrap_err();
    assert!(refused.advice().contains("EPSG:32625"), "{refused}");
    // Alone: asked, and no zone named.
    let refused = measure(&Request::of([bytes("lawn.csv", list)])).unwrap_err();
    assert!(
        refused.advice().contains("EPSG:326zz") && !refused.advice().contains("EPSG:32625"),
        "{refused}"
    );
    // With the grid that was named it is measured.
    let (want, band) = net_m2(fixture("garden/lawn.nmea"));
    let measured = measure(&asked(
        written::csv_grid(&walk, ZONE).as_bytes(),
        Some(ZONE),
    ))
    .unwrap();
    assert!((measured.area.unwrap().net_m2 - want).abs() < 0.02 * band);
}
