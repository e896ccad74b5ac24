//! GPX as programs write it and as files break. Element names: the GPX 1.0 and 1.1 schemas (topografix.com/GPX/1/0,
//! /GPX/1/1); the accuracy elements of vendors' extensions as loggers write them.

use boundwalk::fix::{Quality, Source};
use boundwalk::notice::Notice;
use boundwalk::read::{Input, Log, read};

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"made\" \
                    xmlns=\"http://www.topografix.com/GPX/1/1\">\n";

fn log(bytes: impl AsRef<[u8]>) -> Log {
    let input = Input::Bytes {
        name: "track.gpx".into(),
        bytes: bytes.as_ref().to_vec(),
    };
    match read(&[input]) {
        Ok(log) => log,
        Err(fault) => panic!("{fault}"),
    }
}

/// Points a second apart, with something in each of them.
fn points(count: u32, inside: &str) -> String {
    (0..count)
        .map(|i| {
            format!(
                "<trkpt lat=\"52.1000{i:02}\" lon=\"-1.2000{i:02}\"><time>2026-05-14T10:00:{i:02}Z</time>\
                 {inside}</trkpt>\n"
            )
        })
        .collect()
}

fn track(head: &str, inside: &str) -> String {
    format!(
        "{head}<trk><trkseg>\n{}</trkseg></trk></gpx>\n",
        points(9, inside)
    )
}

fn codes(log: &Log) -> Vec<&str> {
    log.warnings.iter().map(|w| w.code()).collect()
}

#[test]
fn both_versions_and_heads_that_say_too_little() {
    for head in [
        HEAD,
        "<gpx version=\"1.0\" creator=\"made\" xmlns=\"http://www.topografix.com/GPX/1/0\">",
        "<gpx>",
        "\u{feff}<gpx version=\"1.1\">",
        "<!-- made --> <x:gpx xmlns:x=\"http://www.topografix.com/GPX/1/1\">",
    ] {
        let log = log(track(
            head,
            "<ele>80.5</ele><hdop>0.7</hdop><sat>12</sat><fix>dgps</fix>",
        ));
        assert_eq!(log.fixes.len(), 9, "{head}");
        let fix = &log.fixes[3];
        assert_eq!((fix.lat_deg, fix.lon_deg), (52.100003, -1.200003));
        assert_eq!(
            (fix.height_m, fix.hdop, fix.satellites),
            (Some(80.5), Some(0.7), Some(12))
        );
        assert_eq!(
            (fix.quality, fix.source),
            (Quality::Differential, Source::Trkpt)
        );
        assert_eq!(fix.clock_s, Some(36_003.0));
        assert!(log.warnings.is_empty(), "{:?}", log.warnings);
    }
}

#[test]
fn accuracies_in_metres_are_radii_of_68_percent_whatever_they_are_called() {
    // Of a normal alike in all directions 68 % lie within sqrt(-2 ln 0.32) = 1.50959 sigma of each axis (Rayleigh's distribution).
    for inside in [
        "<extensions><hacc>0.03</hacc></extensions>",
        "<extensions><vnd:info><vnd:hAcc>0.03</vnd:hAcc><vnd:speed>1.1</vnd:speed></vnd:info></extensions>",
        "<extensions><accuracy> 0.03 </accuracy></extensions>",
        "<hAcc>0.03</hAcc>",
    ] {
        let log = log(track("<gpx>", inside));
        for fix in &log.fixes {
            let [east_m, north_m] = [fix.sigma_east_m, fix.sigma_north_m].map(Option::unwrap);
            assert!((1.50959 * east_m - 0.03).abs() < 1e-6, "{inside}");
            assert_eq!(east_m, north_m);
        }
        let said = |w: &Notice| w.code() == "accuracy-stated" && w.to_string().contains("68 %");
        assert!(log.warnings.iter().any(said), "{:?}", log.warnings);
    }
    // Not a length, or an accuracy of something else.
    for inside in [
        "<extensions><hacc>unknown</hacc></extensions>",
        "<extensions><hacc/></extensions>",
        "<extensions><vacc>0.05</vacc><hdop>9</hdop></extensions>",
    ] {
        let log = log(track("<gpx>", inside));
        assert!(
            log.fixes
                .iter()
                .all(|f| f.sigma_east_m.is_none() && f.hdop.is_none()),
            "{inside}"
        );
    }
}

#[test]
fn empty_elements_and_padded_numbers() {
    let text = "<gpx><trk><trkseg>\
        <trkpt lon=' -1.2 ' lat='+52.1' extra='a=\"b'><ele/><time/><hdop></hdop><sat> </sat><fix/></trkpt>\
        <trkpt lat=\"52.2\" lon=\"180\"/><trkpt lat=\"52.3\" lon=\"-180.0\"></trkpt>\
        <trkpt lat=\"\" lon=\"1\"/><trkpt/><trkpt lat=\"91\" lon=\"1\"/><trkpt lat=\"NaN\" lon=\"1\"/>\
        </trkseg><trkseg/></trk><trk/></gpx>";
    let log = log(text);
    let places: Vec<(f64, f64)> = log.fixes.iter().map(|f| (f.lat_deg, f.lon_deg)).collect();
    assert_eq!(places, [(52.1, -1.2), (52.2, -180.0), (52.3, -180.0)]);
    let dropped: u64 = log.dropped.iter().map(|d| d.count).sum();
    assert_eq!(dropped, 4, "{:?}", log.dropped);
    assert!(log.fixes.iter().all(|f| f.clock_s.is_none()));
}

/// ISO 8601 as XML Schema's dateTime has it: fractions, offsets, and neither.
#[test]
fn times_of_every_kind() {
    for (time, clock_s) in [
        ("2026-05-14T10:00:00Z", 36_000.0),
        ("2026-05-14T10:00:00.250Z", 36_000.25),
        ("2026-05-14T12:00:00+02:00", 36_000.0),
        ("2026-05-14T06:30:00.5-03:30", 36_000.5),
        ("  2026-05-14T10:00:00  ", 36_000.0),
    ] {
        let text = format!("<gpx><trkpt lat=\"1\" lon=\"2\"><time>{time}</time></trkpt></gpx>");
        assert_eq!(log(text).fixes[0].clock_s, Some(clock_s), "{time}");
    }
}

#[test]
fn any_coding() {
    let text = track(HEAD, "").replace("<trk>", "<trk><name>Bérénice</name>");
    let utf16 = |unit: fn(u16) -> [u8; 2]| -> Vec<u8> {
        let marked = format!("\u{feff}{text}");
        marked.encode_utf16().flat_map(unit).collect()
    };
    let latin1: Vec<u8> = text
        .replace("UTF-8", "ISO-8859-1")
        .chars()
        .map(|c| c as u8)
        .collect();
    for bytes in [utf16(u16::to_le_bytes), utf16(u16::to_be_bytes), latin1] {
        assert_eq!(log(bytes).fixes, log(&text).fixes);
    }
}

/// Wherever it breaks off, what was whole before the break is kept as it was, and the break is said.
#[test]
fn a_file_that_breaks_off_keeps_what_came_before() {
    let whole = track(HEAD, "<hacc>0.02</hacc>");
    let all = log(&whole).fixes;
    let first = whole.find("</trkpt>").unwrap() + "</trkpt>".len();
    let end = whole.find("</gpx>").unwrap();
    for cut in first..end {
        let kept = log(&whole[..cut]);
        let complete = whole[..cut].matches("</trkpt>").count();
        assert_eq!(kept.fixes, all[..complete], "cut at {cut}");
        assert!(codes(&kept).contains(&"xml-broken"), "cut at {cut}");
        let lines = whole[..cut].matches('\n').count() + usize::from(!whole[..cut].ends_with('\n'));
        assert_eq!(kept.files[0].lines, lines as u64, "cut at {cut}");
    }
}

/// Lines are counted only where one is asked for, over many of the reader's blocks.
#[test]
fn the_line_of_every_point() {
    let mut text = String::from("<gpx>\n<trk>\n<trkseg>\n");
    const POINTS: u32 = 9_000;
    for i in 0..POINTS {
        text.push_str(&"\n".repeat(i as usize % 4));
        text.push_str(&format!(
            "<trkpt\n lat=\"{}\" lon=\"1\">\n<time>bad</time></trkpt>",
            f64::from(i) * 1e-3
        ));
    }
    text.push_str("</trkseg></trk></gpx>");
    let log = log(&text);
    let mut line = 1;
    let mut at = 0;
    assert_eq!(log.fixes.len(), POINTS as usize);
    for fix in &log.fixes {
        let here = at + text[at..].find("<trkpt").unwrap();
        line += text[at..here].matches('\n').count() as u32;
        at = here + 1;
        assert_eq!(fix.line, line);
    }
    assert_eq!(log.files[0].lines, text.lines().count() as u64);
}

/// Entities that stand for entities that stand for entities are not expanded; what is known is.
#[test]
fn entities_and_nesting_cost_nothing() {
    let bomb: String = (1..20)
        .map(|i| format!("<!ENTITY e{i} \"{}\">", format!("&e{};", i - 1).repeat(10)))
        .collect();
    let text = format!(
        "<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY e0 \"x\">{bomb}]><gpx><wpt lat=\"1\" lon=\"2\"><name>a &amp; \
         b&#x21; &e19;</name></wpt><trk><trkseg>{}</trkseg></trk></gpx>",
        points(4, "")
    );
    let read_back = log(text);
    assert_eq!(read_back.fixes.len(), 4);
    assert_eq!(read_back.marks[0].label, "a & b! &e19;");
    let deep = format!(
        "<gpx><trk><trkseg>{}{}{}</trkseg></trk></gpx>",
        points(4, ""),
        "<a>".repeat(200_000),
        "</a>".repeat(200_000)
    );
    let read_back = log(deep);
    assert_eq!(read_back.fixes.len(), 4);
    assert!(codes(&read_back).contains(&"xml-broken"));
}

#[test]
fn a_route_stands_in_for_a_track_and_waypoints_are_marks() {
    let route = "<rte><rtept lat=\"1\" lon=\"2\"/><rtept lat=\"1.1\" lon=\"2\"/></rte>";
    let mark = "<wpt lat=\"1\" lon=\"2\"><name>birch</name><cmt>radius 0.35 m</cmt></wpt>";
    let only = log(format!("<gpx>{mark}{route}</gpx>"));
    assert_eq!(only.fixes.len(), 2);
    assert_eq!(only.fixes[0].source, Source::Rtept);
    assert_eq!(only.marks[0].radius_m, Some(0.35));
    assert!(codes(&only).contains(&"route-used"));
    let both = log(format!(
        "<gpx>{route}<trk><trkseg>{}</trkseg></trk></gpx>",
        points(5, "")
    ));
    assert!(both.fixes.iter().all(|f| f.source == Source::Trkpt));
    let marks = log(format!("<gpx>{mark}</gpx>"));
    assert_eq!((marks.fixes.len(), marks.marks.len()), (0, 1));
}

#[test]
fn a_few_points_without_a_time_are_left_out() {
    let text = |untimed: u32, of: u32| {
        let points: String = (0..of)
            .map(|i| {
                let time = format!("<time>2026-05-14T10:00:{i:02}Z</time>");
                let time = if i > 10 && i <= 10 + untimed {
                    ""
                } else {
                    &time
                };
                format!("<trkpt lat=\"52.1000{i:02}\" lon=\"1.2\">{time}</trkpt>\n")
            })
            .collect();
        format!("<gpx><trk><trkseg>\n{points}</trkseg></trk></gpx>")
    };
    let few = log(text(2, 50));
    assert_eq!(few.fixes.len(), 48);
    assert!(few.fixes.iter().all(|f| f.clock_s.is_some()));
    assert_eq!(codes(&few), ["times-missing"]);
    assert!(
        few.warnings[0].to_string().contains("2 record(s)")
            && few.warnings[0].to_string().contains("line 13"),
        "{:?}",
        few.warnings
    );
    assert_eq!(few.dropped[0].count, 2);
    assert_eq!(few.files[0].damaged, 0);
    // Where many have none, the places are worth more than the times.
    let many = log(text(10, 50));
    assert_eq!(many.fixes.len(), 50);
    assert!(!codes(&many).contains(&"times-missing"));
}
