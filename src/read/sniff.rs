//! Tells what form a file has, by its content and never by its name. Files that are known to be something else than a log are refused with
//! advice on what to do with them.

use crate::fault::Fault;
use crate::read::nmea::scan::{self, Checksum, Found};
use crate::read::nmea::sentence::Kind;
use crate::read::points::numbers::angle_deg;
use crate::read::{LogKind, phone, pos, tpv, ubx};

/// How a file is to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    Nmea,
    Gpx,
    /// Training Center XML, which the reader of GPX reads.
    Tcx,
    Kml,
    Ubx,
    /// A post-processed solution.
    Pos,
    /// Reports of gpsd, one a line.
    Gpsd,
    /// Lines of an Android logger.
    Android,
    /// Rows of text with separators.
    Table,
    GeoJson,
    Wkt,
}

impl Form {
    /// Every form.
    pub const ALL: [Form; 11] = [
        Form::Nmea,
        Form::Gpx,
        Form::Tcx,
        Form::Kml,
        Form::Ubx,
        Form::Pos,
        Form::Gpsd,
        Form::Android,
        Form::Table,
        Form::GeoJson,
        Form::Wkt,
    ];

    /// What the result calls it.
    pub(super) fn kind(self) -> LogKind {
        match self {
            Form::Nmea => LogKind::Nmea,
            Form::Gpx => LogKind::Gpx,
            Form::Tcx => LogKind::Tcx,
            Form::Kml => LogKind::Kml,
            Form::Ubx => LogKind::Ubx,
            Form::Pos => LogKind::Pos,
            Form::Gpsd => LogKind::Gpsd,
            Form::Android => LogKind::Android,
            Form::Table | Form::GeoJson | Form::Wkt => LogKind::Points,
        }
    }
}

const FROM_ITS_PROGRAM: &str = "Export the walk or the outline as GPX, KML, GeoJSON or CSV from the program that has its positions.";
const OWN_BINARY: &str =
    "Convert it to NMEA or a post-processed solution (.pos) with the maker's program, or log NMEA.";

/// First bytes of binary streams, what each is, and what to do. A receiver may send NMEA among them, so that they count only where there is no
/// NMEA.
const STREAMS: [(&[u8], &str, &str); 4] = [
    (
        b"\xd3\x00",
        "a stream of corrections (RTCM 3), which has no positions",
        "Log the receiver's own NMEA or UBX output.",
    ),
    (b"\xaa\x44\x12", "a receiver's own binary log", OWN_BINARY),
    (b"\xaa\x44\x13", "a receiver's own binary log", OWN_BINARY),
    (b"$@", "a receiver's own binary log", OWN_BINARY),
];

/// First bytes that say outright what a file is, and what to do with it.
const OTHERS: [(&[u8], &str, &str); 20] = [
    (
        b"PK\x03\x04",
        "a zip archive or an office document",
        "Unpack it, or export it as CSV.",
    ),
    (b"%PDF", "a PDF document", FROM_ITS_PROGRAM),
    (b"\x89PNG", "a picture", FROM_ITS_PROGRAM),
    (b"\xff\xd8\xff", "a picture", FROM_ITS_PROGRAM),
    (b"GIF8", "a picture", FROM_ITS_PROGRAM),
    (b"II*\0", "a picture", FROM_ITS_PROGRAM),
    (b"MM\0*", "a picture", FROM_ITS_PROGRAM),
    (b"{\\rtf", "an office document", "Export its table as CSV."),
    (
        b"AC10",
        "a drawing (DWG)",
        "Export its outline as DXF, and that as GeoJSON or as a list of corners.",
    ),
    (
        b"LASF",
        "a cloud of points (LAS)",
        "Draw the outline on it, and export that as GeoJSON or KML.",
    ),
    (
        b"\xd0\xcf\x11\xe0",
        "an office document",
        "Export its table as CSV.",
    ),
    (
        b"\x00\x00\x27\x0a",
        "a shapefile",
        "Convert it to GeoJSON in degrees (WGS 84).",
    ),
    (
        b"SQLite format 3",
        "a database (a GeoPackage is one)",
        "Export the track or the outline as GPX, GeoJSON or CSV.",
    ),
    (
        b"7z\xbc\xaf\x27\x1c",
        "a compressed archive",
        "Unpack it first.",
    ),
    (b"Rar!", "a compressed archive", "Unpack it first."),
    (b"BZh", "a compressed file", "Unpack it first."),
    (b"\xfd7zXZ", "a compressed file", "Unpack it first."),
    (b"\x28\xb5\x2f\xfd", "a compressed file", "Unpack it first."),
    (b"\x7fELF", "a program", FROM_ITS_PROGRAM),
    (b"MZ\x90", "a program", FROM_ITS_PROGRAM),
];

/// Decides from the first bytes of a file, which are plain UTF-8 or bytes. A file that shows nothing is read as
/// NMEA, as its sentences may begin after any amount of binary.
///
/// # Errors
/// `empty`, and `not-a-log` where it is known to be something else.
pub(crate) fn form(head: &[u8]) -> Result<Form, Fault> {
    if head.is_empty() {
        return Err(Fault::unreadable(
            "empty",
            "The file is empty.",
            "Copy it from the logger again.",
        ));
    }
    begins_like(head, &OTHERS)?;
    if let Some((what, advice)) = other(head) {
        return Err(Fault::unreadable("not-a-log", what, advice));
    }
    if ubx::has_positions(head) {
        return Ok(Form::Ubx);
    }
    if pos::is_one(head) {
        return Ok(Form::Pos);
    }
    if tpv::is_one(head) {
        return Ok(Form::Gpsd);
    }
    if phone::is_one(head) {
        return Ok(Form::Android);
    }
    let text = head.trim_ascii_start();
    let drawn = match text.first() {
        Some(b'<') => is_xml(text),
        Some(b'{' | b'[') => contains(text, b"\"coordinates\""),
        _ => false,
    };
    // What a logger puts before each NMEA sentence may begin like XML or JSON: "[12:00:00] $GNGGA", "<13> $GNGGA".
    let prefixed = !drawn && has_sentence(head);
    if text.starts_with(b"<") && !prefixed {
        return xml(text);
    }
    if (text.starts_with(b"{") || text.starts_with(b"[")) && !prefixed {
        return Ok(Form::GeoJson);
    }
    if is_wkt(text) {
        return Ok(Form::Wkt);
    }
    if has_sentence(head) {
        return Ok(Form::Nmea);
    }
    // The positions of a UBX log may come later. Where none do, the refusal says which messages are missing.
    if ubx::has_messages(head) {
        return Ok(Form::Ubx);
    }
    begins_like(head, &STREAMS)?;
    if is_table(head) {
        return Ok(Form::Table);
    }
    Ok(Form::Nmea)
}

/// Refuses a file that begins with the bytes of one of these; each stands with what it is and what to do with it.
fn begins_like(head: &[u8], known: &[(&[u8], &str, &str)]) -> Result<(), Fault> {
    match known.iter().find(|(magic, ..)| head.starts_with(magic)) {
        Some((_, what, advice)) => Err(Fault::unreadable(
            "not-a-log",
            format!("This is {what}, not a log."),
            *advice,
        )),
        None => Ok(()),
    }
}

/// What else than a log it is, where that is told by more than its first bytes, and what to do with it.
fn other(head: &[u8]) -> Option<(&'static str, &'static str)> {
    let begins = |at: usize, with: &[u8]| head.get(at..).is_some_and(|rest| rest.starts_with(with));
    let lines = || head.split(|b| *b == b'\n').map(<[u8]>::trim_ascii);
    if begins(8, b".FIT") {
        return Some((
            "This is a sports watch's file (FIT), not a log that can be read.",
            "Export the activity as GPX or TCX.",
        ));
    }
    if is_igc(head) {
        return Some((
            "This is a flight log (IGC): its positions are to a thousandth of a minute, 2 m, too coarse for a lawn.",
            "Walk the lawn with a logger that records NMEA or GPX.",
        ));
    }
    if begins(4, b"ftyp") || (begins(0, b"RIFF") && (begins(8, b"WEBP") || begins(8, b"AVI "))) {
        return Some(("This is a picture or a film, not a log.", FROM_ITS_PROGRAM));
    }
    // The label of RINEX stands in columns 61 to 80 (IGS, RINEX 3.04, section 5.1), as does that of its compressed form.
    let said = |label: &[u8]| lines().take(2).any(|line| contains(line, label));
    if said(b"RINEX VERSION") || said(b"CRINEX VERS") {
        return Some((
            "These are raw observations (RINEX), not positions.",
            "Process them to positions first, and export those as NMEA, CSV or a post-processed solution (.pos).",
        ));
    }
    let raw = |line: &[u8]| line.starts_with(b"Raw,") || line.starts_with(b"# Raw,");
    let fix = |line: &[u8]| line.starts_with(b"Fix,") || line.starts_with(b"# Fix,");
    if lines().take(200).any(raw) && !lines().any(fix) && !has_sentence(head) {
        return Some((
            "These are a phone's raw measurements (Android) without its own positions.",
            "Turn on the logger's lines `Fix` or NMEA and walk again, or process the measurements to positions first.",
        ));
    }
    if lines().take(40).any(|line| line == b"SECTION")
        && lines().take(40).any(|line| line == b"HEADER")
    {
        return Some((
            "This is a drawing (DXF), not a log.",
            "Export its outline as GeoJSON, KML or a list of corners (CSV); in metres of a plan with --grid local.",
        ));
    }
    None
}

/// What can be read.
pub(crate) const WANTED: &str = "Give an NMEA 0183, UBX, GPX, KML, TCX, gpsd or Android log, a post-processed solution (.pos), a point list (CSV), GeoJSON or WKT; a zip \
     of them will do.";

fn contains(text: &[u8], what: &[u8]) -> bool {
    memchr::memmem::find(text, what).is_some()
}

/// Whether it says of itself that it is XML, or has a track's points.
fn is_xml(text: &[u8]) -> bool {
    let opens = |name: &[u8]| {
        text.get(..name.len())
            .is_some_and(|t| t.eq_ignore_ascii_case(name))
    };
    opens(b"<?xml") || opens(b"<!") || opens(b"<gpx") || contains(text, b"trkpt")
}

/// The form of an XML file, by its first element.
fn xml(text: &[u8]) -> Result<Form, Fault> {
    let mut at = 0;
    while let Some(open) = text.get(at..).and_then(|t| memchr::memchr(b'<', t)) {
        at += open + 1;
        let rest = text.get(at..).unwrap_or(&[]);
        if !rest
            .first()
            .is_some_and(|b| b.is_ascii_alphabetic() || *b == b'_')
        {
            continue;
        }
        let name: Vec<u8> = rest
            .iter()
            .copied()
            .take(80)
            .take_while(|b| b.is_ascii_alphanumeric() || matches!(b, b':' | b'_' | b'-' | b'.'))
            .collect();
        let local = name.rsplit(|b| *b == b':').next().unwrap_or(&name);
        // A file that lost its beginning has no element `gpx`, but still has its points.
        if [&b"gpx"[..], b"trk", b"trkseg", b"trkpt", b"rte", b"wpt"]
            .iter()
            .any(|known| local.eq_ignore_ascii_case(known))
            || contains(text, b"<trkpt")
        {
            return Ok(Form::Gpx);
        }
        if local.eq_ignore_ascii_case(b"kml") {
            return Ok(Form::Kml);
        }
        if local.eq_ignore_ascii_case(b"TrainingCenterDatabase") {
            return Ok(Form::Tcx);
        }
        let shown = String::from_utf8_lossy(&name).into_owned();
        return Err(Fault::unreadable(
            "not-a-log",
            format!(
                "This is XML of another kind (its first element is <{shown}>), not GPX, KML or TCX."
            ),
            "Export it as GPX.",
        ));
    }
    Ok(Form::Gpx)
}

/// Whether it is a flight log: the first line names the recorder, and one of the next the day (FAI's specification of flight logs, from
/// memory).
fn is_igc(head: &[u8]) -> bool {
    let mut lines = head.split(|b| *b == b'\n').take(40);
    let named = lines
        .next()
        .is_some_and(|line| line.starts_with(b"A") && line.len() >= 7);
    named && lines.any(|line| line.starts_with(b"HFDTE"))
}

/// Whether a text begins with a shape of well-known text, or with the `SRID=` before one.
fn is_wkt(text: &[u8]) -> bool {
    let word: Vec<u8> = text
        .iter()
        .take(20)
        .take_while(|b| b.is_ascii_alphabetic())
        .map(u8::to_ascii_uppercase)
        .collect();
    let shapes: [&[u8]; 8] = [
        b"POINT",
        b"LINESTRING",
        b"LINEARRING",
        b"POLYGON",
        b"MULTIPOINT",
        b"MULTILINESTRING",
        b"MULTIPOLYGON",
        b"GEOMETRYCOLLECTION",
    ];
    let bracket = text.iter().skip(word.len()).take(12).any(|b| *b == b'(');
    (shapes.contains(&word.as_slice()) && bracket) || text.starts_with(b"SRID=")
}

/// Whether a sentence of a known kind, or any with a right checksum, is there.
pub(crate) fn has_sentence(head: &[u8]) -> bool {
    let mut found = false;
    scan::whole(head, b'\n', &mut |_, what| {
        if let Found::Sentence { body, checksum } = what {
            let known = body
                .first_chunk::<5>()
                .map(|a| a.map(|b| b.to_ascii_uppercase()))
                .and_then(|a| Kind::of(&a))
                .is_some();
            found = (known && body.get(5) == Some(&b','))
                || (checksum == Checksum::Right && body.len() > 5);
        }
        !found
    });
    found
}

/// Whether it is rows of text of which at least a quarter have two numbers or more between separators.
fn is_table(head: &[u8]) -> bool {
    let rows = head.split(|b| *b == b'\n' || *b == b'\r');
    let (mut rows_seen, mut telling) = (0, 0);
    for row in rows.filter(|row| !row.trim_ascii().is_empty()).take(200) {
        rows_seen += 1;
        let numbers = |separator: &u8| {
            row.split(|b| b == separator)
                .filter(|c| is_number(c))
                .count()
        };
        telling += usize::from(
            [b',', b';', b'\t', b' ', b'|']
                .iter()
                .any(|s| numbers(s) >= 2),
        );
    }
    telling > 0 && telling * 4 >= rows_seen
}

/// Whether a cell holds a number, or an angle with degree marks and a letter.
fn is_number(cell: &[u8]) -> bool {
    let cell = cell.trim_ascii();
    let cell = cell.strip_prefix(b"\"").unwrap_or(cell);
    let cell = cell.strip_suffix(b"\"").unwrap_or(cell).trim_ascii();
    if !cell.iter().any(u8::is_ascii_digit) {
        return false;
    }
    let plain = |b: &u8| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'-' | b'+' | b'e' | b'E');
    cell.iter().all(plain)
        || (cell.len() < 60
            && std::str::from_utf8(cell)
                .is_ok_and(|text| angle_deg(&text.replace("\"\"", "\"")).is_some()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_content() {
        let nmea =
            b"junk\x00\xb5b $GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n";
        assert_eq!(form(nmea).unwrap(), Form::Nmea);
        assert_eq!(form(b" <?xml version='1.0'?><x:gpx>").unwrap(), Form::Gpx);
        assert_eq!(form(b"<!-- c --><gpx>").unwrap(), Form::Gpx);
        assert_eq!(form(b"{\"type\":\"Point\"}").unwrap(), Form::GeoJson);
        assert_eq!(form(b"POLYGON ((1 2, 3 4))").unwrap(), Form::Wkt);
        assert_eq!(form(b"name;lat;lon\nA;52,1;-1,2\n").unwrap(), Form::Table);
        assert_eq!(form(b"A 52.1 -1.2\n").unwrap(), Form::Table);
        assert_eq!(form(&[0; 1000]).unwrap(), Form::Nmea);
        for prefix in [
            "[2026-05-14 12:35:19.123] RX> ",
            "{12} ",
            "<13>May 14: ",
            "<RX> ",
        ] {
            let line = format!(
                "{prefix}$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"
            );
            assert_eq!(form(line.as_bytes()).unwrap(), Form::Nmea, "{prefix}");
        }
        assert_eq!(form(b"<kml><Document/>").unwrap(), Form::Kml);
        for other in [&b"PK\x03\x04abc"[..], b"%PDF-1.7", b"<svg/>"] {
            assert_eq!(form(other).unwrap_err().code(), "not-a-log");
        }
        assert_eq!(form(b"").unwrap_err().code(), "empty");
    }
}
