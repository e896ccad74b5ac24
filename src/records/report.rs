//! Records as a person reads them: a list, one record with everything known of it, two records compared, and what came of a merge.

use super::Records;
use super::compare::{Comparison, Difference, Overlap, Verdict};
use super::find::told_apart;
use super::look::{Record, Table, number, text};
use super::merge::Merged;
use super::ordered::{amount, priced, then, why};
use crate::fault::Fault;
use crate::sheet::quantity::count;
use crate::sheet::text::checked::sentences;
use crate::sheet::text::lines::Lines;
use crate::survey::checked::Checked;
use crate::units::{Rounded, Units, two_figures};
use crate::visible::visible;
use serde::Deserialize;
use serde_json::Value;
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// A table with a row for each record. Below a row stands whose it is, or, where several gardens have its name, what tells them apart.
#[must_use]
pub fn list(records: &[Record], units: Units) -> String {
    let widest = records
        .iter()
        .map(|r| visible(&r.name).chars().count())
        .max()
        .unwrap_or(0);
    let names = widest.clamp("survey".len(), 30);
    let unit = units.area_unit();
    let row = |name: &str, revision: &str, walked: &str, net: &str, band: &str, status: &str| {
        let row =
            format!("{name:<names$} {revision:>4} {walked:<10} {net:>10} {band:>10}  {status}");
        format!("{}\n", visible(row.trim_end()))
    };
    let (net, band) = (format!("net {unit}"), format!("band {unit}"));
    let head = row("survey", "rev", "walked", &net, &band, "status");
    let shared = shared_names(records);
    let mut text = format!(
        "{head}{}\n",
        "-".repeat(head.trim_end().chars().count() + 2)
    );
    for record in records {
        let (net, band) = match (record.net_m2, record.band_m2) {
            (Some(net), Some(band)) => {
                let shown = units.rounded_area(net, band);
                (shown.value, format!("± {}", shown.uncertainty))
            }
            _ => ("-".into(), "-".into()),
        };
        let revision = match record.revisions {
            1 => "1".to_owned(),
            all => format!("{}/{all}", record.revision),
        };
        let walked = record.walked_on.as_deref().unwrap_or("-");
        let shown = visible(&record.name);
        let mut name = shown.as_ref();
        if name.chars().count() > names {
            text.push_str(name);
            text.push('\n');
            name = "";
        }
        text.push_str(&row(name, &revision, walked, &net, &band, &record.status));
        let about = match shared.contains(record.name.as_str()) {
            true => told_apart(record),
            false => whose(record),
        };
        if !about.is_empty() {
            text.push_str(&format!("    {}\n", visible(&about)));
        }
    }
    let count = records.len();
    text.push_str(&format!(
        "\n{count} record{}.\n",
        if count == 1 { "" } else { "s" }
    ));
    text
}

/// Names that more than one garden has.
fn shared_names(records: &[Record]) -> HashSet<&str> {
    let mut first: HashMap<&str, i64> = HashMap::new();
    let mut shared = HashSet::new();
    for record in records {
        if *first.entry(&record.name).or_insert(record.garden) != record.garden {
            shared.insert(record.name.as_str());
        }
    }
    shared
}

/// The net area with its band, as in "51.3 m² ± 0.9 m²"; `None` without an area.
fn area(record: &Record, units: Units) -> Option<String> {
    let shown = units.rounded_area(record.net_m2?, record.band_m2?);
    let unit = units.area_unit();
    Some(format!(
        "{} {unit} ± {} {unit}",
        shown.value, shown.uncertainty
    ))
}

/// A heading and a line for each of these; nothing where there are none.
fn section<T>(out: &mut Lines, name: &str, rows: &[T], said: impl Fn(&T) -> String) {
    if !rows.is_empty() {
        out.heading(name);
    }
    for row in rows {
        out.hanging(2, 4, &said(row));
    }
}

/// Job, site and customer, as in "J-0417, 12 Example Lane, A. Sample"; empty where none is known.
fn whose(record: &Record) -> String {
    let parts = [&record.job, &record.site, &record.customer];
    let parts: Vec<&str> = parts.into_iter().filter_map(|x| x.as_deref()).collect();
    parts.join(", ")
}

/// Everything that is known of one record.
///
/// # Errors
/// When the file cannot be read.
pub fn one(records: &Records, record: &Record, units: Units) -> Result<String, Fault> {
    let mut out = Lines::default();
    head(&mut out, record, units);
    let rows = |table| records.rows(table, record.id);
    let lawns = rows(Table::Lawns)?;
    if lawns.len() > 1 {
        section(&mut out, "Lawns", &lawns, |lawn| {
            let net = units.plain_area(number(lawn, "net_m2"));
            format!("{}: {net}", text(lawn, "label"))
        });
    }
    section(&mut out, "Taken off", &rows(Table::Deductions)?, |taken| {
        let deducted = units.plain_area(number(taken, "deducted_m2"));
        format!(
            "{}, {}: {deducted}",
            text(taken, "label"),
            text(taken, "kind")
        )
    });
    section(&mut out, "The order", &rows(Table::Orders)?, |line| {
        let (item, unit, basis) = (text(line, "item"), text(line, "unit"), text(line, "basis"));
        let quantity = amount(number(line, "quantity"), unit);
        format!("{item}: {quantity}; {basis}")
    });
    if let Ok((_, document)) = records.document(record)? {
        let order = document.get("order").unwrap_or(&Value::Null);
        section(&mut out, "Why so much", &why(order, units), String::clone);
        priced(order.get("price").unwrap_or(&Value::Null), &mut out);
    }
    section(&mut out, "Measured from", &rows(Table::LogFiles)?, |file| {
        let (name, sha256) = (text(file, "name"), text(file, "sha256"));
        let (lines, fixes) = (number(file, "lines"), number(file, "fixes"));
        let (first, last) = (text(file, "first_time"), text(file, "last_time"));
        format!("{name}: {lines} lines, {fixes} positions, {first} to {last}; SHA-256 {sha256}")
    });
    section(&mut out, "Measured with", &rows(Table::Settings)?, |set| {
        let (name, value) = (text(set, "name"), text(set, "value"));
        format!("{name} = {value} ({})", text(set, "source"))
    });
    let checks = checks(records, record, units)?;
    section(&mut out, "What checks it", &checks, String::clone);
    section(
        &mut out,
        "Seen on the way",
        &rows(Table::Warnings)?,
        |seen| text(seen, "message").to_owned(),
    );
    out.blank();
    out.paragraph(
        0,
        "Approximate working measurement for ordering materials. Not a survey of legal boundaries or levels.",
    );
    Ok(out.text())
}

/// The first lines: which survey the record is of, and what it came to.
fn head(out: &mut Lines, record: &Record, units: Units) {
    let (name, revision, of) = (&record.name, record.revision, record.revisions);
    out.title("RECORD", &format!("{name}, revision {revision} of {of}"));
    out.blank();
    out.pair("Garden", &format!("garden:{}", record.garden));
    let about = whose(record);
    if !about.is_empty() {
        out.pair("Job", &about);
    }
    if let Some(walked) = &record.walked_on {
        out.pair("Walked", walked);
    }
    out.pair(
        "Recorded",
        &format!("{}, measured by {}", record.recorded_at, record.program),
    );
    if let (Some(lat), Some(lon)) = (record.lat, record.lon) {
        out.pair("Place", &format!("{lat:.6}, {lon:.6}"));
    }
    out.pair("Status", &record.status);
    if let Some(reason) = &record.reason {
        out.pair("", reason);
    }
    if let (Some(area), Some(confidence)) = (area(record, units), record.confidence) {
        out.pair("Net area", &format!("{area} at {confidence} confidence"));
    }
    if let Some(receiver) = &record.receiver {
        out.pair("Receiver", receiver);
    }
}

/// What checked the result when it was recorded; empty where the document does not say, as in older records, or is damaged.
fn checks(records: &Records, record: &Record, units: Units) -> Result<Vec<String>, Fault> {
    let Ok((_, document)) = records.document(record)? else {
        // That the document is damaged is told elsewhere.
        return Ok(Vec::new());
    };
    let checked = document.get("checked").map(Checked::deserialize);
    Ok(checked
        .and_then(Result::ok)
        .map(|checked| sentences(&checked, units))
        .unwrap_or_default())
}

/// What changed between two records: both areas, their difference, what it means, then settings, logs and program.
#[must_use]
pub fn comparison(found: &Comparison, units: Units) -> String {
    let mut out = Lines::default();
    let name = if found.first.garden == found.second.garden {
        found.second.name.as_str()
    } else {
        ""
    };
    out.title("WHAT CHANGED", name);
    out.blank();
    for (at, record) in [("First", &found.first), ("Second", &found.second)] {
        let (name, revision) = (&record.name, record.revision);
        let area = area(record, units).unwrap_or_else(|| "no area".to_owned());
        let walked = record.walked_on.as_deref().unwrap_or("on a day not known");
        out.pair(
            at,
            &format!("{name}, revision {revision}, walked {walked}: {area}"),
        );
    }
    if let Some(change) = &found.area {
        out.pair("Difference", &difference(change, units));
    }
    if let Some(overlap) = &found.overlap {
        out.pair("Outlines", &outlines(overlap, units));
    }
    out.blank();
    out.paragraph(0, verdict(found));
    let value = |value: &Option<String>| value.clone().unwrap_or_else(|| "not set".to_owned());
    section(&mut out, "Taken off", &found.taken_off, |one| {
        then(one, units)
    });
    section(&mut out, "The order", &found.order, |one| then(one, units));
    section(&mut out, "Settings", &found.settings, |s| {
        format!("{}: {}, then {}", s.name, value(&s.first), value(&s.second))
    });
    let first = found.logs_only_first.iter().map(|log| ("first", log));
    let second = found.logs_only_second.iter().map(|log| ("second", log));
    let logs: Vec<_> = first.chain(second).collect();
    section(&mut out, "Logs", &logs, |(which, log)| {
        format!("only the {which}: {log}")
    });
    let (before, after) = (&found.first.program, &found.second.program);
    if before != after {
        section(&mut out, "Program", &[()], |()| {
            format!("{before}, then {after}")
        });
    }
    out.text()
}

/// The difference in words, as in "-2.4 m² (-0.8 %), of ± 5.1 m² that both bands together allow".
fn difference(change: &Difference, units: Units) -> String {
    let unit = units.area_unit();
    let shown = Rounded::new(
        units.area(change.difference_m2.abs()),
        units.area(change.allowed_m2),
    );
    let sign = match change.difference_m2 {
        _ if shown.value.bytes().all(|b| matches!(b, b'0' | b'.')) => "",
        d if d < 0.0 => "-",
        _ => "+",
    };
    let percent = match change.difference_percent.abs() {
        p if p < 0.1 => "under 0.1".to_owned(),
        p => format!("{sign}{}", two_figures(p)),
    };
    format!(
        "{sign}{} {unit} ({percent} %), of ± {} {unit} that both bands together allow",
        shown.value, shown.uncertainty
    )
}

fn outlines(overlap: &Overlap, units: Units) -> String {
    format!(
        "{} % of what either covers is covered by both; {} only by the first, {} only by the second; their middles lie {} apart",
        two_or_whole(overlap.percent),
        units.plain_area(overlap.only_first_m2),
        units.plain_area(overlap.only_second_m2),
        if overlap.apart_m < 0.01 {
            "under 1 cm".to_owned()
        } else {
            units.small_length(overlap.apart_m)
        }
    )
}

/// What the comparison means, in a sentence.
fn verdict(found: &Comparison) -> &'static str {
    let elsewhere = found.overlap.as_ref().is_some_and(|o| o.both_m2 <= 0.0);
    match (found.verdict, elsewhere, found.share_a_log) {
        (Verdict::NotComparable, _, _) => {
            "One of them has no area, so the areas cannot be compared."
        }
        (_, true, _) => "The outlines do not touch: these are two different lawns.",
        (Verdict::WithinBands, _, false) => {
            "The areas agree: they differ by no more than both bands allow."
        }
        (Verdict::BeyondBands, _, false) => {
            "The areas differ by more than both bands allow: the lawn has changed, or one of the walks did not follow its edge."
        }
        (Verdict::WithinBands, _, true) => {
            "The areas agree. Both were measured from the same log, so their errors are mostly the same: the difference comes \
             from the settings, and says nothing about how true either is."
        }
        (Verdict::BeyondBands, _, true) => {
            "The areas differ by more than both bands allow, though both were measured from the same log: the difference comes \
             from the settings below."
        }
    }
}

/// A whole number as it is, any other with about three figures.
fn two_or_whole(value: f64) -> String {
    if value.fract() == 0.0 {
        format!("{value:.0}")
    } else if value.abs() < 10.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.1}")
    }
}

/// What was taken over from a file, in a sentence or two.
#[must_use]
pub fn merged(from: &Path, merged: &Merged) -> String {
    let mut said = format!(
        "{}: {} taken over",
        from.display(),
        count(merged.added, "survey")
    );
    if merged.known > 0 {
        said.push_str(&format!(", {} there already", merged.known));
    }
    if !merged.renumbered.is_empty() {
        // More would fill the screen; `records list --all` shows each.
        const SHOWN: usize = 10;
        let names = merged.renumbered.iter().take(SHOWN);
        let names: Vec<String> = names.map(|garden| format!("garden:{garden}")).collect();
        let more = merged.renumbered.len() - names.len();
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        said.push_str(&format!(
            ". Revisions came between others, whose numbers changed: {}{more}",
            names.join(", ")
        ));
    }
    said
}
