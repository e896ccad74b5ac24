//! What a log holds and whether it is fit to measure from: as text with two small pictures, as JSON, and as CSV with one row for
//! each fix (a position at one moment) as it was read. The inspection itself is made in `read::inspect`; this only shows it.

mod plot;

use crate::fault::Fault;
use crate::fix::{Fix, Quality};
use crate::read::inspect::{Inspected, Inspection, Verdict};
use crate::read::sky::Sky;
use crate::read::{LogKind, time_text};
use crate::sheet::text::lines::Lines;

/// So many lines of a list are shown; the rest is only counted.
const SHOWN: usize = 5;

/// The inspection as text for a person, one log after another.
#[must_use]
pub fn text(inspection: &Inspection) -> String {
    let mut out = Lines::default();
    for file in &inspection.files {
        out.blank();
        one(file, &mut out);
    }
    out.text()
}

/// One log: its verdict with the reasons, what is in it, what was amiss, and the pictures.
fn one(file: &Inspected, out: &mut Lines) {
    out.title("LOG", &file.name);
    let verdict = match file.verdict {
        Verdict::Fit => "Fit to measure from.",
        Verdict::Doubtful => "Doubtful: look at the reasons before measuring from it.",
        Verdict::Unfit => "Not fit to measure from.",
    };
    out.paragraph(0, verdict);
    for why in &file.why {
        out.hanging(0, 2, &format!("- {why}"));
    }
    out.blank();
    contents(file, out);
    lists(file, out);
    pictures(file, out);
}

/// What kind of file it is and what was counted in it, one line each.
fn contents(file: &Inspected, out: &mut Lines) {
    let kind = kind(file.kind);
    out.pair("kind", &format!("{kind}, {} lines", file.lines));
    let mut fixes = format!("{}", file.fixes);
    if let Some(hz) = file.rate_hz {
        fixes.push_str(&format!(", {} Hz", short(hz)));
    }
    if file.marks > 0 {
        fixes.push_str(&format!(", and {} marked places", file.marks));
    }
    out.pair("fixes", &fixes);
    if !file.first_time.is_empty() {
        out.pair(
            "time",
            &format!("{} to {}", file.first_time, file.last_time),
        );
    }
    let qualities: Vec<String> = file
        .qualities
        .iter()
        .map(|(name, count)| format!("{} {count}", words(name)))
        .collect();
    out.pair("qualities", &some_or(&qualities, "none"));
    if let Some(sats) = file.satellites {
        let (least, middle, most) = (sats.least, sats.middle, sats.most);
        out.pair(
            "satellites",
            &format!("{middle:.0} in the middle ({least:.0} to {most:.0})"),
        );
    }
    if let Some(hdop) = file.hdop {
        let (least, middle, most) = (hdop.least, hdop.middle, hdop.most);
        out.pair(
            "HDOP",
            &format!("{middle:.1} in the middle ({least:.1} to {most:.1})"),
        );
    }
    let in_view = file.sky.as_ref().map(in_view).unwrap_or_default();
    if !in_view.is_empty() {
        out.pair("in view", &in_view);
    }
    let sentences: Vec<String> = file
        .sentences
        .iter()
        .map(|(name, count)| format!("{name} {count}"))
        .collect();
    out.pair("records", &some_or(&sentences, "none"));
}

/// The satellites in view of each system, and how strongly they were heard.
fn in_view(sky: &Sky) -> String {
    let view: Vec<String> = sky
        .in_view
        .iter()
        .map(|(k, v)| format!("{k} {v}"))
        .collect();
    let mut line = view.join(", ");
    if let (Some(db), Some(good)) = (sky.signal_db, sky.good_percent) {
        line.push_str(&format!(
            "; signal {db:.0} dB-Hz, {good:.0} % of it 35 or better"
        ));
    }
    line
}

fn kind(kind: LogKind) -> &'static str {
    match kind {
        LogKind::Nmea => "NMEA 0183",
        LogKind::Gpx => "GPX",
        LogKind::Ubx => "UBX (binary)",
        LogKind::Kml => "KML",
        LogKind::Pos => "post-processed solution",
        LogKind::Gpsd => "gpsd reports",
        LogKind::Android => "Android log",
        LogKind::Tcx => "TCX",
        LogKind::Points => "point list",
        LogKind::Tape => "tape sheet",
    }
}

/// What was noted, what was left out and why, the gaps in time, and where the antenna stood still.
fn lists(file: &Inspected, out: &mut Lines) {
    for note in &file.notes {
        out.pair("note", note);
    }
    if file.unknown > 0 {
        out.pair("not records", &format!("{} lines", file.unknown));
    }
    for dropped in &file.dropped {
        let first: Vec<&str> = dropped
            .first
            .iter()
            .map(|place| place.rsplit(' ').next().unwrap_or(place))
            .collect();
        let more = if dropped.count > first.len() as u64 {
            ", ..."
        } else {
            ""
        };
        out.pair(
            "not used",
            &format!(
                "{} x {} (line {}{more})",
                dropped.count,
                dropped.reason,
                first.join(", ")
            ),
        );
    }
    for gap in file.gaps.iter().take(SHOWN) {
        out.pair(
            "gap",
            &format!(
                "{:.0} s, {} to {} (line {})",
                gap.seconds, gap.from, gap.to, gap.line
            ),
        );
    }
    more("gap", file.gaps.len(), out);
    for standing in file.standing.iter().take(SHOWN) {
        let claim = match standing.claimed_m {
            Some(claimed) => format!("claimed {claimed:.3} m"),
            None => "nothing claimed".to_string(),
        };
        out.pair(
            "standing",
            &format!(
                "{:.0} s from {}: scatter {:.3} m per axis, {claim}",
                standing.seconds, standing.from, standing.scatter_m
            ),
        );
    }
    more("standing", file.standing.len(), out);
}

/// Says how many of `count` were not shown, if any.
fn more(what: &str, count: usize, out: &mut Lines) {
    if count > SHOWN {
        out.pair(what, &format!("and {} more", count - SHOWN));
    }
}

/// Two pictures of characters: the fixes' quality over time, and the track from above.
fn pictures(file: &Inspected, out: &mut Lines) {
    if file.strip.iter().any(Option::is_some) {
        let strip: String = file
            .strip
            .iter()
            .map(|quality| quality.map_or(' ', symbol))
            .collect();
        out.blank();
        out.paragraph(0, "Quality over time (GGA digit, ? unknown, blank no fix):");
        out.push(format!("|{strip}|"));
    }
    let fixes: Vec<&Fix> = file
        .as_read
        .iter()
        .filter(|fix| crate::read::inspect::is_usable(fix))
        .collect();
    if let Some(plot) = plot::track(&fixes) {
        out.blank();
        out.paragraph(
            0,
            &format!(
                "Track, north up, one character {} m wide (S start, E end):",
                short(plot.step_m)
            ),
        );
        for row in plot.rows {
            out.push(row);
        }
    }
}

fn symbol(quality: Quality) -> char {
    match quality.digit() {
        Some(digit) => char::from(b'0' + digit),
        None => '?',
    }
}

/// A quality's digit, as in the GGA sentence of NMEA 0183, and its name.
fn words(quality: &str) -> String {
    let name = match quality {
        "0" => "void",
        "1" => "autonomous",
        "2" => "differential",
        "3" => "precise service",
        "4" => "RTK fixed",
        "5" => "RTK float",
        "6" => "dead reckoning",
        "7" => "typed in",
        "8" => "simulated",
        _ => return "unknown".to_string(),
    };
    format!("{quality} ({name})")
}

fn some_or(list: &[String], none: &str) -> String {
    if list.is_empty() {
        none.to_string()
    } else {
        list.join(", ")
    }
}

/// The number with about two or three figures, and no zeros at the end.
fn short(value: f64) -> String {
    let digits = if value >= 10.0 {
        0
    } else if value >= 1.0 {
        1
    } else {
        2
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    } else {
        text
    }
}

/// The inspection as JSON for a program, with a newline at its end.
///
/// # Errors
/// Where a number is not finite.
pub fn json(inspection: &Inspection) -> Result<Vec<u8>, Fault> {
    match serde_json::to_vec_pretty(inspection) {
        Ok(mut bytes) => {
            bytes.push(b'\n');
            Ok(crate::visible::in_json(bytes))
        }
        Err(error) => Err(unwritable(&error)),
    }
}

fn unwritable(error: &dyn std::fmt::Display) -> Fault {
    Fault::unreadable(
        "unwritable",
        format!("The inspection could not be written ({error})."),
        "Please report this with the log.",
    )
}

/// The fixes as CSV: one row for each as it was read, before any cleaning. Cells of what is not known stay empty.
///
/// # Errors
/// Where a row can't be written.
pub fn csv(inspection: &Inspection) -> Result<Vec<u8>, Fault> {
    let mut rows = csv::Writer::from_writer(Vec::new());
    rows.write_record([
        "time",
        "lat",
        "lon",
        "height_m",
        "quality",
        "satellites",
        "hdop",
        "sigma_east_m",
        "sigma_north_m",
        "source",
        "line",
    ])
    .map_err(|e| unwritable(&e))?;
    for fix in inspection.files.iter().flat_map(|file| &file.as_read) {
        rows.write_record([
            time_text(fix),
            format!("{:.9}", fix.lat_deg),
            format!("{:.9}", fix.lon_deg),
            fix.height_m.map(|h| format!("{h:.4}")).unwrap_or_default(),
            fix.quality
                .digit()
                .map(|d| d.to_string())
                .unwrap_or_default(),
            fix.satellites.map(|n| n.to_string()).unwrap_or_default(),
            fix.hdop.map(|h| h.to_string()).unwrap_or_default(),
            fix.sigma_east_m.map(|s| s.to_string()).unwrap_or_default(),
            fix.sigma_north_m.map(|s| s.to_string()).unwrap_or_default(),
            fix.source.name().to_string(),
            fix.line.to_string(),
        ])
        .map_err(|e| unwritable(&e))?;
    }
    rows.into_inner().map_err(|e| unwritable(&e))
}
