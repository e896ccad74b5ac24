//! One walk in every form that a receiver, a phone or a map hands over gives one lawn. Files that other people's encoders wrote are in
//! `fixtures/forms`; the forms that are plain text are written here, by what their standards or manuals show.

use boundwalk::fix::{Fix, Quality, Source};
use boundwalk::read::{Log, read};
use boundwalk::{Input, Request, measure, sheet};
use std::fmt::Write;

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

fn stamp(fix: &Fix) -> String {
    let s = fix.clock_s.unwrap();
    let (date, whole) = (fix.date.unwrap(), s as u32);
    let (h, m) = (whole / 3600, whole / 60 % 60);
    format!("{date}T{h:02}:{m:02}:{:02}Z", whole % 60)
}

/// The walk as text: before all positions, each of them, after all.
fn written(before: &str, each: impl Fn(&Fix) -> String, after: &str) -> String {
    let mut text = before.to_owned();
    for fix in twin().fixes {
        text.push_str(&each(&fix));
    }
    text.push_str(after);
    text
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

/// Elements of Training Center XML, version 2 (from memory).
fn tcx() -> String {
    let each = |fix: &Fix| {
        format!(
            "<Trackpoint><Time>{}</Time><Position><LatitudeDegrees>{:.10}</LatitudeDegrees><LongitudeDegrees>{:.10}\
             </LongitudeDegrees></Position><AltitudeMeters>61</AltitudeMeters></Trackpoint>\n",
            stamp(fix),
            fix.lat_deg,
            fix.lon_deg
        )
    };
    let head = "<?xml version=\"1.0\"?><TrainingCenterDatabase><Activities><Activity Sport=\"Other\"><Lap><Track>\n";
    written(
        head,
        each,
        "</Track></Lap></Activity></Activities></TrainingCenterDatabase>",
    )
}

/// TPV as gpsd documents it (from memory), with a version line and satellites between.
fn gpsd() -> String {
    let each = |fix: &Fix| {
        format!(
            "{{\"class\":\"SKY\",\"hdop\":0.7,\"uSat\":19}}\n{{\"class\":\"TPV\",\"mode\":3,\"status\":3,\"time\":\"{}\",\"lat\":{:.10},\
             \"lon\":{:.10},\"altHAE\":61.9,\"epx\":0.0274,\"epy\":0.0274}}\n",
            stamp(fix),
            fix.lat_deg,
            fix.lon_deg
        )
    };
    written("{\"class\":\"VERSION\",\"release\":\"3.25\"}\n", each, "")
}

/// Columns of Android's loggers (from memory), the satellites' own positions and those of the network.
fn android() -> String {
    let each = |fix: &Fix| {
        let days = jiff::civil::date(1970, 1, 1)
            .until((jiff::Unit::Day, fix.date.unwrap()))
            .unwrap()
            .get_days();
        let ms = i64::from(days) * 86_400_000 + (fix.clock_s.unwrap() * 1000.0) as i64;
        format!(
            "Fix,GPS,{:.10},{:.10},61.9,1.2,3.0,180,{ms}\nRaw,1,2,3\nFix,NLP,{:.5},{:.5},0,0,25,,{ms}\n",
            fix.lat_deg, fix.lon_deg, fix.lat_deg, fix.lon_deg
        )
    };
    let head = "# Header\n# Fix,Provider,LatitudeDegrees,LongitudeDegrees,AltitudeMeters,SpeedMps,AccuracyMeters,BearingDegrees,UnixTimeMillis\n";
    written(head, each, "")
}

fn solution() -> String {
    let each = |fix: &Fix| {
        let stamp = stamp(fix)
            .replace('-', "/")
            .replace('T', " ")
            .replace('Z', "");
        format!(
            "{stamp} {:.10} {:.10} 61.9 1 19 0.0140 0.0140 0.03 0 0 0 0 9.9\n",
            fix.lat_deg, fix.lon_deg
        )
    };
    let head = "% program : x\n%  UTC   latitude(deg) longitude(deg) height(m)  Q  ns  sdn(m) sde(m) sdu(m) sdne(m) sdeu(m) sdun(m) age(s) ratio\n";
    written(head, each, "")
}

/// A line of RFC 7946 with the times that track exporters put beside it.
fn timed_line() -> String {
    let (mut places, mut times) = (String::new(), String::new());
    for fix in twin().fixes {
        write!(places, ",[{:.10},{:.10}]", fix.lon_deg, fix.lat_deg).unwrap();
        write!(times, ",\"{}\"", stamp(&fix)).unwrap();
    }
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{\"coordTimes\":[{}]}},\"geometry\":{{\"type\":\"LineString\",\"coordinates\":[{}]}}}}",
        &times[1..],
        &places[1..]
    )
}

fn timed_points() -> String {
    let each = |fix: &Fix| {
        format!(
            ",{{\"type\":\"Feature\",\"properties\":{{\"time\":\"{}\",\"accuracy\":3.0}},\"geometry\":{{\"type\":\"Point\",\"coordinates\":\
             [{:.10},{:.10}]}}}}",
            stamp(fix),
            fix.lon_deg,
            fix.lat_deg
        )
    };
    written("{\"type\":\"FeatureCollection\",\"features\":[", each, "]}").replacen("[,", "[", 1)
}

#[test]
fn the_forms_of_text_give_the_same_places() {
    for (text, source) in [
        (tcx(), Source::Trkpt),
        (gpsd(), Source::TPV),
        (android(), Source::Phone),
        (solution(), Source::Pos),
        (timed_line(), Source::Vertex),
        (timed_points(), Source::Vertex),
    ] {
        same_places(&read(&[bytes("walk", text)]).unwrap(), source);
    }
}

/// Each figure of accuracy is what its form says that it is: 95 of 100 on an axis is 1.96 sigma, the radius that holds 68 of 100 is
/// 1.51 sigma (the normal and the Rayleigh distribution).
#[test]
fn figures_of_accuracy_are_taken_for_what_they_are() {
    for (text, sigma_m) in [
        (gpsd(), 0.01398),
        (android(), 1.987),
        (solution(), 0.014),
        (timed_points(), 1.987),
    ] {
        let log = read(&[bytes("walk", text)]).unwrap();
        let is = log.fixes[5].sigma_east_m.unwrap();
        assert!(
            (f64::from(is) / sigma_m - 1.0).abs() < 1e-3,
            "{is} {sigma_m}"
        );
    }
    let (net, band) = net_m2(bytes("lawn.pos", solution()));
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
        head(tcx()),
        head(gpsd()),
        head(android()),
        head(solution()),
        head(timed_line()),
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

#[test]
fn what_cannot_be_read_is_named() {
    for (head, word) in [
        (&b"\x0e\x10\x43\x08\x78\x00\x00\x00.FIT\x00\x00"[..], "FIT"),
        (b"AXXX001 FLIGHT:1\r\nHFDTE140526\r\n", "IGC"),
        (b"\x00\x00\x27\x0a\x00\x00", "shapefile"),
        (b"\xd3\x00\x13\x3e", "RTCM"),
        (b"SQLite format 3\x00", "GeoPackage"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "office"),
        (b"%PDF-1.7", "PDF"),
        (b"\x89PNG\r\n", "picture"),
        (
            b"     3.04           OBSERVATION DATA    M                   RINEX VERSION / TYPE\n",
            "RINEX",
        ),
    ] {
        let refused = read(&[bytes("x", head)]).unwrap_err();
        assert!(refused.what().contains(word), "{refused}");
        assert!(!refused.advice().is_empty(), "{refused}");
    }
}
