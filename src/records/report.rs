//! Records as a person reads them: a list, one record, two compared.

use super::Records;
use super::compare::{Comparison, Verdict};
use super::find::told_apart;
use super::look::{Record, Table};
use crate::fault::Fault;
use crate::sheet::text::checked::sentences;
use crate::sheet::text::lines::Lines;
use crate::survey::checked::Checked;
use crate::units::{Rounded, Units, two_figures};
use crate::visible::visible;
use serde::Deserialize;
use serde_json::Value;
use std::collections::{HashMap, HashSet};

/// A table, one record a row.
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
    let head = row(
        "survey",
        "rev",
        "walked",
        &format!("net {unit}"),
        &format!("band {unit}"),
        "status",
    );
    let mut gardens: HashMap<&str, HashSet<i64>> = HashMap::new();
    for record in records {
        gardens
            .entry(&record.name)
            .or_default()
            .insert(record.garden);
    }
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
        let shared = gardens.get(record.name.as_str());
        let about = match shared.is_some_and(|gardens| gardens.len() > 1) {
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

/// "J-0417, 12 Example Lane, A. Sample".
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
    out.title(
        "RECORD",
        &format!(
            "{}, revision {} of {}",
            record.name, record.revision, record.revisions
        ),
    );
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
    if let (Some(net), Some(band), Some(confidence)) =
        (record.net_m2, record.band_m2, record.confidence)
    {
        let shown = units.rounded_area(net, band);
        let unit = units.area_unit();
        out.pair(
            "Net area",
            &format!(
                "{} {unit} ± {} {unit} at {confidence} confidence",
                shown.value, shown.uncertainty
            ),
        );
    }
    if let Some(receiver) = &record.receiver {
        out.pair("Receiver", receiver);
    }
    let section = |out: &mut Lines, name: &str, rows: Vec<String>| {
        if !rows.is_empty() {
            out.heading(name);
            for row in rows {
                out.hanging(2, 4, &row);
            }
        }
    };
    let rows = |table| records.rows(table, record.id);
    let lawns = rows(Table::Lawns)?;
    if lawns.len() > 1 {
        let shown = lawns.iter().map(|l| {
            format!(
                "{}: {}",
                text(l, "label"),
                units.plain_area(number(l, "net_m2"))
            )
        });
        section(&mut out, "Lawns", shown.collect());
    }
    let taken = rows(Table::Deductions)?;
    section(
        &mut out,
        "Taken off",
        taken
            .iter()
            .map(|d| {
                format!(
                    "{}, {}: {}",
                    text(d, "label"),
                    text(d, "kind"),
                    units.plain_area(number(d, "deducted_m2"))
                )
            })
            .collect(),
    );
    section(
        &mut out,
        "The order",
        rows(Table::Orders)?
            .iter()
            .map(|o| {
                format!(
                    "{}: {} {}; {}",
                    text(o, "item"),
                    two_or_whole(number(o, "quantity")),
                    text(o, "unit"),
                    text(o, "basis")
                )
            })
            .collect(),
    );
    section(
        &mut out,
        "Measured from",
        rows(Table::LogFiles)?
            .iter()
            .map(|f| {
                format!(
                    "{}: {} lines, {} positions, {} to {}; SHA-256 {}",
                    text(f, "name"),
                    number(f, "lines"),
                    number(f, "fixes"),
                    text(f, "first_time"),
                    text(f, "last_time"),
                    text(f, "sha256")
                )
            })
            .collect(),
    );
    section(
        &mut out,
        "Measured with",
        rows(Table::Settings)?
            .iter()
            .map(|s| {
                format!(
                    "{} = {} ({})",
                    text(s, "name"),
                    text(s, "value"),
                    text(s, "source")
                )
            })
            .collect(),
    );
    section(&mut out, "What checks it", checks(records, record, units)?);
    section(
        &mut out,
        "Seen on the way",
        rows(Table::Warnings)?
            .iter()
            .map(|w| text(w, "message").to_owned())
            .collect(),
    );
    out.blank();
    out.paragraph(
        0,
        "Approximate working measurement for ordering materials. Not a survey of legal boundaries or levels.",
    );
    Ok(out.text())
}

/// What stood behind the number, as it was recorded; nothing of records from before that was.
fn checks(records: &Records, record: &Record, units: Units) -> Result<Vec<String>, Fault> {
    let Ok((_, document)) = records.document(record)? else {
        // Its damage is named elsewhere.
        return Ok(Vec::new());
    };
    let checked = document.get("checked").map(Checked::deserialize);
    Ok(checked
        .and_then(Result::ok)
        .map(|checked| sentences(&checked, units))
        .unwrap_or_default())
}

/// What changed, the verdict first.
pub fn comparison(found: &Comparison, units: Units) -> String {
    let mut out = Lines::default();
    let called = |r: &Record| format!("{}, revision {}", r.name, r.revision);
    let name = if found.first.garden == found.second.garden {
        found.second.name.clone()
    } else {
        String::new()
    };
    out.title("WHAT CHANGED", &name);
    out.blank();
    let unit = units.area_unit();
    for (at, record) in [("First", &found.first), ("Second", &found.second)] {
        let area = match (record.net_m2, record.band_m2) {
            (Some(net), Some(band)) => {
                let shown = units.rounded_area(net, band);
                format!("{} {unit} ± {} {unit}", shown.value, shown.uncertainty)
            }
            _ => "no area".to_owned(),
        };
        let walked = record.walked_on.as_deref().unwrap_or("on a day not known");
        out.pair(at, &format!("{}, walked {walked}: {area}", called(record)));
    }
    if let Some(area) = &found.area {
        let shown = Rounded::new(
            units.area(area.difference_m2.abs()),
            units.area(area.allowed_m2),
        );
        let sign = match area.difference_m2 {
            _ if shown.value.bytes().all(|b| matches!(b, b'0' | b'.')) => "",
            d if d < 0.0 => "-",
            _ => "+",
        };
        let percent = match area.difference_percent.abs() {
            p if p < 0.1 => "under 0.1".to_owned(),
            p => format!("{sign}{}", two_figures(p)),
        };
        out.pair(
            "Difference",
            &format!(
                "{sign}{} {unit} ({percent} %), of ± {} {unit} that both bands together allow",
                shown.value, shown.uncertainty
            ),
        );
    }
    if let Some(overlap) = &found.overlap {
        out.pair(
            "Outlines",
            &format!(
                "{} % of what either covers is covered by both; {} only by the first, {} only by the second; their middles lie {} apart",
                two_or_whole(overlap.percent),
                units.plain_area(overlap.only_first_m2),
                units.plain_area(overlap.only_second_m2),
                if overlap.apart_m < 0.01 {
                    "under 1 cm".to_owned()
                } else {
                    units.small_length(overlap.apart_m)
                }
            ),
        );
    }
    out.blank();
    out.paragraph(0, verdict(found));
    let mut section = |name: &str, rows: Vec<String>| {
        if !rows.is_empty() {
            out.heading(name);
            for row in rows {
                out.hanging(2, 4, &row);
            }
        }
    };
    let value = |value: &Option<String>| value.clone().unwrap_or_else(|| "not set".to_owned());
    section(
        "Settings",
        found
            .settings
            .iter()
            .map(|s| format!("{}: {}, then {}", s.name, value(&s.first), value(&s.second)))
            .collect(),
    );
    let logs = found
        .logs_only_first
        .iter()
        .map(|log| format!("only the first: {log}"))
        .chain(
            found
                .logs_only_second
                .iter()
                .map(|log| format!("only the second: {log}")),
        );
    section("Logs", logs.collect());
    if found.first.program != found.second.program {
        section(
            "Program",
            vec![format!(
                "{}, then {}",
                found.first.program, found.second.program
            )],
        );
    }
    out.text()
}

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

/// A count as it is, else three figures or so.
fn two_or_whole(value: f64) -> String {
    if value.fract() == 0.0 {
        format!("{value:.0}")
    } else if value.abs() < 10.0 {
        format!("{value:.2}")
    } else {
        format!("{value:.1}")
    }
}

fn text<'v>(row: &'v Value, column: &str) -> &'v str {
    row.get(column).and_then(Value::as_str).unwrap_or_default()
}

fn number(row: &Value, column: &str) -> f64 {
    row.get(column).and_then(Value::as_f64).unwrap_or(0.0)
}
