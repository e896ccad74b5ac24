//! `day.html`: the day as a table on a page that needs no network and can be sorted by its columns. The small pictures lie in each
//! survey's folder, so that the page stays small however many surveys there are. It is written row by row.

use super::Summary;
use super::line::Line;
use crate::sheet::board::svg::escape as text;
use crate::sheet::paper::policy;
use crate::units::{Units, two_figures};

/// Name of the small picture in a survey's folder.
pub const THUMBNAIL: &str = "thumb.svg";

const STYLE: &str = "\
:root{--ink:#1d2b1f;--paper:#fbfcf8;--line:#d5dccf;--ok:#2f6b36;--check:#8a5a00;--withheld:#9b2222}\
body{font:16px/1.4 system-ui,sans-serif;color:var(--ink);background:var(--paper);margin:1.5rem auto;max-width:72rem;padding:0 1rem}\
h1{font-size:1.3rem}.wide{overflow-x:auto}table{border-collapse:collapse;width:100%}\
th,td{padding:.35rem .6rem;text-align:left;border-bottom:1px solid var(--line);vertical-align:middle}\
th button{font:inherit;font-weight:600;border:0;background:none;padding:0;cursor:pointer;color:inherit}\
th button::after{content:'';display:inline-block;width:1em}\
th[aria-sort=ascending] button::after{content:' \\2191'}th[aria-sort=descending] button::after{content:' \\2193'}\
.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}\
td:last-child{white-space:nowrap}\
img{width:64px;height:64px;display:block}td small{display:block;color:#555;max-width:34rem}\
.ok{color:var(--ok)}.check{color:var(--check);font-weight:600}.withheld{color:var(--withheld);font-weight:600}\
@media print{@page{margin:12mm}body{background:#fff;font-size:9pt;margin:0;max-width:none;padding:0}.wide{overflow:visible}\
th,td{padding:.15rem .3rem}thead{display:table-header-group}tr{break-inside:avoid}img{width:44px;height:44px}th button::after{content:none}}";

/// The script sorts the table by a column: numbers by value, rows without a value last, equal ones in the order of the day.
const SCRIPT: &str = "\
(function(){var table=document.querySelector('table'),body=table.tBodies[0],heads=table.tHead.rows[0].cells;\
Array.prototype.forEach.call(body.rows,function(row,at){row.dataset.at=at});\
Array.prototype.forEach.call(heads,function(head,column){var button=head.querySelector('button');if(!button)return;\
button.addEventListener('click',function(){var down=head.getAttribute('aria-sort')==='ascending';\
Array.prototype.forEach.call(heads,function(h){h.removeAttribute('aria-sort')});\
head.setAttribute('aria-sort',down?'descending':'ascending');\
var value=function(row){return row.cells[column].dataset.v||''};\
Array.prototype.slice.call(body.rows).sort(function(a,b){var x=value(a),y=value(b);\
if((x==='')!==(y===''))return x===''?1:-1;\
var order=head.dataset.kind==='n'?x-y:x.localeCompare(y);\
return (down?-order:order)||a.dataset.at-b.dataset.at}).forEach(function(row){body.appendChild(row)})})})})();";

/// Everything above the first survey.
#[must_use]
pub fn head(units: Units) -> String {
    let unit = units.area_unit();
    let column = |name: &str, kind: &str| {
        let class = if kind == "n" { " class=\"n\"" } else { "" };
        format!(
            "<th{class} data-kind=\"{kind}\" scope=\"col\"><button type=\"button\">{name}</button></th>"
        )
    };
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width\">\n{}<title>The day's surveys</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<main>\n<h1>The day's surveys</h1>\n<div class=\"wide\">\n<table>\n<thead><tr>\
         <th scope=\"col\">Plan</th>{}{}{}{}{}{}{}{}{}</tr></thead>\n<tbody>\n",
        // Pictures may come from where the page itself lies, be that a server or the disk. Browsers differ in whether one file on disk counts
        // as the same place as another, so files are allowed by name.
        policy(SCRIPT, "'self' file:"),
        column("Survey", "t"),
        column(&format!("Net {unit}"), "n"),
        column(&format!("Band {unit}"), "n"),
        column("%", "n"),
        column("Status", "t"),
        column("Pieces", "n"),
        column("Pallets", "n"),
        column("Checks", "n"),
        column("Date", "t"),
    )
}

/// A survey's row. `link` is its folder and the sheet to open; `drawn` says whether it has a picture.
pub fn row(line: &Line, drawn: bool, link: &str, units: Units) -> String {
    let folder = link.rsplit_once('/').map_or("", |(folder, _)| folder);
    let picture = if drawn {
        format!(
            "<a href=\"{}\"><img src=\"{}/{THUMBNAIL}\" alt=\"Plan of {}\" loading=\"lazy\"></a>",
            address(link),
            address(folder),
            text(&line.name)
        )
    } else {
        String::new()
    };
    let mut about: Vec<&str> = Vec::new();
    about.extend(line.job.as_deref());
    about.extend(line.site.as_deref());
    let mut name = format!("<a href=\"{}\">{}</a>", address(link), text(&line.name));
    if !about.is_empty() {
        name.push_str(&format!("<small>{}</small>", text(&about.join(", "))));
    }
    if let Some(reason) = &line.reason {
        name.push_str(&format!("<small>{}</small>", text(reason)));
    }
    let number = |value: Option<f64>, shown: Option<String>| {
        let value = value.map(|v| v.to_string()).unwrap_or_default();
        format!(
            "<td class=\"n\" data-v=\"{value}\">{}</td>",
            shown.unwrap_or_default()
        )
    };
    let count = |n: Option<u64>| number(n.map(|n| n as f64), n.map(|n| n.to_string()));
    let area = line.area.as_ref();
    let (net, band) = area
        .map(|a| units.rounded_area(a.net_m2, a.band_m2))
        .map(|shown| (shown.value, format!("± {}", shown.uncertainty)))
        .unzip();
    let percent = area.map(|a| a.percent());
    let status = line.status.word();
    format!(
        "<tr><td>{picture}</td><td data-v=\"{}\">{name}</td>{}{}{}<td class=\"{status}\" data-v=\"{status}\">{status}</td>{}{}{}\
         <td data-v=\"{date}\">{date}</td></tr>\n",
        text(&line.name),
        number(area.map(|a| a.net_m2), net),
        number(area.map(|a| a.band_m2), band),
        number(percent, percent.map(two_figures)),
        count(line.pieces),
        count(line.pallets),
        count(line.checks.map(u64::from)),
        date = text(line.date.as_deref().unwrap_or_default()),
    )
}

/// Everything below the last survey.
#[must_use]
pub fn end(summary: &Summary) -> String {
    format!(
        "</tbody>\n</table>\n</div>\n<p>{}</p>\n\
         <p>Approximate working measurements for ordering materials; not a survey of legal boundaries or levels. Before any \
         peg, spade or turf cutter goes in, take buried services to be there until shown otherwise. Local codes and licensed \
         practice come before this page.</p>\n</main>\n<script>{SCRIPT}</script>\n</body>\n</html>\n",
        text(&summary.told())
    )
}

/// A path as a relative address. All but letters, digits, `-`, `.`, `_`, `~` and `/` is written as its bytes in hexadecimal (RFC 3986, 2.1
/// and 2.3).
fn address(path: &str) -> String {
    let mut safe = String::with_capacity(path.len());
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~' | b'/') {
            safe.push(char::from(byte));
        } else {
            safe.push_str(&format!("%{byte:02X}"));
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::measured::Status;

    #[test]
    fn names_can_not_break_out_of_the_page() {
        let line = Line {
            name: "a\"><script>alert(1)</script>".into(),
            status: Status::Check,
            job: Some("<b>".into()),
            site: None,
            date: None,
            area: None,
            pieces: None,
            laid_pieces: None,
            pallets: None,
            checks: None,
            reason: Some("R & D".into()),
        };
        let row = row(&line, true, "a b--c/sheet.html", Units::Metric);
        assert!(!row.contains("<script") && !row.contains("<b>"), "{row}");
        assert!(row.contains("href=\"a%20b--c/sheet.html\"") && row.contains("R &amp; D"));
        // A link needs words for those who don't see its picture.
        assert!(
            row.contains("alt=\"Plan of a&quot;&gt;&lt;script&gt;"),
            "{row}"
        );
    }
}
