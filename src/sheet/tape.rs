//! Everything about the tape as text: the figures a lawn was taped in, the comparison of tape and walk, the check sheet (which lines to
//! tape and what they should read), and the set-out table (where everything lies, measured from a baseline).

use super::text::lines::Lines;
use super::text::words::small_amount;
use super::whose;
use crate::job::shape::Rule;
use crate::order::Slope;
use crate::survey::Measured;
use crate::tape::chance::two_sided;
use crate::tape::checks::{Check, Verdict};
use crate::tape::lines::{CheckSheet, Why};
use crate::tape::offsets::Stretch;
use crate::tape::setout::{Row, SetOut, What};
use crate::tape::settle::{Agreement, From, Report};
use crate::tape::shapes::Taped;
use crate::units::{Units, fixed, two_figures};

/// What is said where a walk has fewer than two lettered corners, or no area.
const NO_CORNERS: &str = "There are no two corners to run a tape between. Stand still for ten seconds at each corner when walking, or \
    mark places that can be found again.";

/// What is said of a taped lawn instead: nobody walked round it, so it has no corners.
const TAPED_ALONE: &str = "This lawn was taped figure by figure. Tape the longest lengths again to check it; every one stands in the \
    report. Figures with at_m and bearing_deg in the job sheet have a plan, and are set out from it.";

/// A tape is never asked to agree more closely than this, metres.
const LEAST_M: f64 = 0.01;

fn no_corners(measured: &Measured) -> &'static str {
    match measured.taped.shapes.is_empty() {
        true => NO_CORNERS,
        false => TAPED_ALONE,
    }
}

/// What was taken off, each with its amount; none without an area.
pub(super) fn taken_off(measured: &Measured, units: Units) -> Vec<String> {
    let Some(area) = &measured.area else {
        return Vec::new();
    };
    let shown = units.rounded_area(area.net_m2, area.band_m2);
    let off = measured.deductions.iter().filter(|d| d.deducted_m2 > 0.0);
    off.map(|d| {
        let amount = small_amount(units.area(d.deducted_m2), &shown);
        format!("{} {amount}", d.label)
    })
    .collect()
}

/// The report's section on the figures a lawn was taped in; nothing for a lawn that was not taped.
pub(super) fn shapes(measured: &Measured, units: Units, out: &mut Lines) {
    let taped = &measured.taped.shapes;
    let Some(area) = measured.area.as_ref().filter(|_| !taped.is_empty()) else {
        return;
    };
    out.heading("Part by part");
    let rows: Vec<_> = taped
        .iter()
        .map(|one| {
            let shown = units.rounded_area(one.area_m2, area.coverage_factor * one.sigma_m2);
            let less = if one.deducted { "less " } else { "" };
            let name = format!("{less}{} ({})", one.label, one.kind);
            (name, shown.value, format!("± {}", shown.uncertainty))
        })
        .collect();
    out.table(&rows, units.area_unit());
    for one in taped {
        for line in workings(one, area.coverage_factor, units) {
            out.bullet("-", &format!("{}: {line}", one.label));
        }
    }
    out.blank();
    out.paragraph(
        2,
        "Each ± is what 95 in 100 such measurements keep to, from reading the tape and, for offsets and radii, from the edge between \
         them that nobody measured.",
    );
}

/// How one figure was worked out, where there is more than one way to: the rule for offsets, what a common shortcut would have given, how
/// well the lengths close.
fn workings(one: &Taped, factor: f64, units: Units) -> Vec<String> {
    let mut said = Vec::new();
    // Offsets on the right of the baseline follow those on the left, and the chainage (the length along it) begins anew there.
    let right = one
        .stretches
        .windows(2)
        .position(|pair| pair[1].from_m < pair[0].to_m);
    for (at, stretch) in one.stretches.iter().enumerate() {
        let side = match right {
            Some(last_left) if at <= last_left => "on the left, ",
            Some(_) => "on the right, ",
            None => "",
        };
        said.push(format!(
            "{side}{}, {}",
            rule_words(stretch, units),
            units.plain_area(stretch.area_m2)
        ));
    }
    if one.rule_sigma_m2 > 0.0 {
        said.push(format!(
            "± {} {} of its band is the edge between the {}",
            two_figures(units.area(factor * one.rule_sigma_m2)),
            units.area_unit(),
            if one.kind == "radii" {
                "radii"
            } else {
                "offsets"
            }
        ));
    }
    if let Some(shortcut) = &one.shortcut {
        let off = 100.0 * (shortcut.area_m2 / one.area_m2 - 1.0);
        // A shortcut that comes to nearly the same is not worth a line.
        if off.abs() >= 0.05 {
            said.push(format!(
                "the common shortcut, {}, would give {}: {} % {}",
                shortcut.rule,
                units.plain_area(shortcut.area_m2),
                fixed(off.abs(), 1),
                if off > 0.0 { "high" } else { "low" }
            ));
        }
    }
    if let Some(closing) = &one.closing {
        said.push(match closing.closing_error_m {
            Some(error) => format!(
                "closing error {} on {}; {} length{} more than the figure needs",
                units.small_length(error),
                units.plain_length(one.perimeter_m.unwrap_or(0.0)),
                closing.freedom,
                if closing.freedom == 1 { "" } else { "s" }
            ),
            None => "no length to check with: one more diagonal would show a misread tape".into(),
        });
    }
    said
}

fn rule_words(stretch: &Stretch, units: Units) -> String {
    let rule = match stretch.rule {
        Rule::Trapezoid => "trapezoid rule",
        Rule::Simpson => "Simpson's rule",
    };
    format!(
        "{rule} on {} space{} from {} to {}",
        stretch.spaces,
        if stretch.spaces == 1 { "" } else { "s" },
        units.plain_length(stretch.from_m),
        units.plain_length(stretch.to_m)
    )
}

/// The report's section that compares tape and walk; nothing where no tape was compared.
pub(super) fn agreement(measured: &Measured, units: Units, out: &mut Lines) {
    let Some(agreement) = &measured.taped.tape else {
        return;
    };
    out.heading("Tape against walk");
    let head = ["", "tape", "walk", "differ", "sigmas", ""];
    let rows: Vec<[String; 6]> = agreement
        .checks
        .iter()
        .map(|c| check_row(c, units))
        .collect();
    out.grid(&head, &rows);
    for check in &agreement.checks {
        if let Some(suspect) = &check.suspect {
            out.bullet("!", &format!("{}: {suspect}", check.line));
        }
    }
    if let Some(report) = &agreement.adjustment {
        let confidence = measured.area.as_ref().map_or(0.95, |a| a.confidence);
        let factor = two_sided(confidence);
        adjustment(agreement, report, factor, units, out);
    }
}

fn check_row(check: &Check, units: Units) -> [String; 6] {
    let (value, sigma) = shown(check, units);
    let verdict = match check.verdict {
        Verdict::Agrees => "agrees",
        Verdict::Doubtful => "doubtful",
        Verdict::Disagrees => "DISAGREES",
    };
    [
        check.line.clone(),
        value(check.taped),
        format!("{} ± {sigma}", value(check.walked)),
        value(check.difference),
        fixed(check.sigmas, 1),
        verdict.to_string(),
    ]
}

/// How the numbers of a check are written (lengths in the reader's unit, or degrees), and one sigma of its walked value.
fn shown(check: &Check, units: Units) -> (impl Fn(f64) -> String, String) {
    let degrees = check.unit == "deg";
    let factor = if degrees { 1.0 } else { units.length(1.0) };
    let digits = if degrees { 1 } else { 2 };
    let sigma = fixed(check.walked_sigma * factor, digits);
    (move |v: f64| fixed(v * factor, digits), sigma)
}

/// What adjusting the walk to the tape came to: the area before and after, and the tests of the least-squares adjustment. That looks for
/// the edge that fits walk and tape best; the variance factor says whether they differ no more than their errors allow, and
/// the single tests (w) whether one reading stands out.
fn adjustment(agreement: &Agreement, report: &Report, factor: f64, units: Units, out: &mut Lines) {
    out.blank();
    out.paragraph(2, &report.message.said(units));
    for area in report.areas.iter().filter(|_| report.accepted) {
        let before = units.rounded_area(area.before_m2, factor * area.before_sigma_m2);
        let after = units.rounded_area(area.after_m2, factor * area.after_sigma_m2);
        let unit = units.area_unit();
        let from = match area.from {
            From::Walk => "the whole walk, corrected by the tape",
            From::Corners => {
                "from the corners as taped, with the edge between them straight where it was taped"
            }
        };
        let name = match report.areas.len() {
            1 => "Inside the edge",
            _ => area.lawn.as_str(),
        };
        out.paragraph(
            2,
            &format!(
                "{name}: {} ± {} {unit} by the walk alone, {} ± {} {unit} with the tape ({from}).",
                before.value, before.uncertainty, after.value, after.uncertainty
            ),
        );
    }
    if report.freedom > 0 && !report.readings.is_empty() {
        let [low, high] = report.factor_limits;
        out.paragraph(
            2,
            &format!(
                "Least squares on {} reading{}: variance factor {} ({} to {} passes), largest single test {} of {} allowed.",
                report.freedom,
                if report.freedom == 1 { "" } else { "s" },
                fixed(report.variance_factor, 2),
                fixed(low, 2),
                fixed(high, 2),
                fixed(
                    report
                        .readings
                        .iter()
                        .filter_map(|r| r.w)
                        .fold(0.0, |a: f64, w| a.max(w.abs())),
                    1
                ),
                fixed(report.w_critical, 1)
            ),
        );
    }
    if let Some(scale) = agreement.scale.as_ref().filter(|s| s.suspect.is_none()) {
        out.paragraph(
            2,
            &format!(
                "All lengths together: tape {} times the walk, ± {}.",
                fixed(scale.factor, 3),
                fixed(2.0 * scale.sigma, 3)
            ),
        );
    }
}

/// The check sheet to take to the site. It is made also where there is nothing to check against, and then says so; else a sheet of an
/// older survey would stay in the folder.
#[must_use]
pub fn check_sheet(measured: &Measured, units: Units) -> String {
    checking(measured, units).text()
}

/// The check sheet before it becomes text, for the crew sheet.
pub(super) fn checking(measured: &Measured, units: Units) -> Lines {
    let mut out = Lines::default();
    out.title("TAPE CHECK", &whose(measured));
    out.blank();
    let lawns = measured.lawn_sheets();
    let sheets: Vec<(&str, &CheckSheet)> = lawns
        .iter()
        .filter_map(|lawn| Some((lawn.label.as_str(), lawn.check_sheet.as_ref()?)))
        .filter(|(_, sheet)| !sheet.lines.is_empty())
        .collect();
    if sheets.is_empty() {
        out.paragraph(0, no_corners(measured));
        return out;
    }
    out.paragraph(
        0,
        &format!(
            "Pull each line tight {} between the corners as they are on the ground; write what the tape reads. Stop and tell the \
             office if one is further off than allowed.",
            match measured.slope.as_ref().and_then(Slope::stretch) {
                Some(_) => "and along the slope",
                None => "and level",
            }
        ),
    );
    for (label, sheet) in &sheets {
        check_lines(label, sheet, units, &mut out);
        if let (Some(band_m2), Some(area)) = (sheet.band_m2, &measured.area)
            && band_m2 < area.band_m2
        {
            out.blank();
            out.paragraph(
                0,
                &format!(
                    "If all of them fit, the area is known to ± {} {}; now it is ± {}.",
                    two_figures(units.area(band_m2)),
                    units.area_unit(),
                    two_figures(units.area(area.band_m2))
                ),
            );
        }
        curve_checks(sheet, units, &mut out);
    }
    type_back(&sheets, &mut out);
    out
}

fn check_lines(label: &str, sheet: &CheckSheet, units: Units, out: &mut Lines) {
    match label {
        "" => out.blank(),
        label => out.heading(&format!("Lines of {label}")),
    }
    let head = ["Line", "should read", "within", "", "tape reads"];
    let rows: Vec<[String; 5]> = sheet
        .lines
        .iter()
        .map(|l| {
            [
                format!("{} to {}", l.from, l.to),
                units.on_a_tape(l.expected_m),
                format!("± {}", units.on_a_tape(l.tolerance_m.max(LEAST_M))),
                why(l.why).to_string(),
                "____________".to_string(),
            ]
        })
        .collect();
    out.grid(&head, &rows);
}

fn why(why: Why) -> &'static str {
    match why {
        Why::LongestEdge => "long edge",
        Why::Diagonal => "diagonal",
        Why::Tightens => "",
    }
}

fn curve_checks(sheet: &CheckSheet, units: Units, out: &mut Lines) {
    let (Some(baseline), Some(tolerance_m)) = (&sheet.baseline, sheet.offset_tolerance_m) else {
        return;
    };
    out.heading(&format!(
        "Offsets to the curve from {} to {}",
        baseline.from, baseline.to
    ));
    out.paragraph(
        0,
        &format!(
            "Lay the tape from {} to {} and measure at right angles from it; within ± {}.",
            baseline.from,
            baseline.to,
            units.on_a_tape(tolerance_m.max(LEAST_M))
        ),
    );
    let rows: Vec<[String; 4]> = sheet
        .offsets
        .iter()
        .map(|r| {
            [
                format!("at {}", units.on_a_tape(r.chainage_m)),
                units.on_a_tape(r.offset_m),
                r.side.unwrap_or("on it").to_string(),
                "____________".to_string(),
            ]
        })
        .collect();
    out.grid(&["Along", "offset", "side", "tape reads"], &rows);
}

/// What to put into the job sheet afterwards: entries that lack only the readings.
fn type_back(sheets: &[(&str, &CheckSheet)], out: &mut Lines) {
    out.heading("Back at the desk");
    out.paragraph(
        0,
        "Put the readings into the job sheet, without the \"#\", and measure again: the area is then adjusted to them.",
    );
    out.blank();
    for l in sheets.iter().flat_map(|(_, sheet)| &sheet.lines) {
        out.set("# [[tape]]");
        out.set(&format!("# from = {:?}", l.from));
        out.set(&format!("# to = {:?}", l.to));
        out.set("# length_m =");
    }
}

/// The set-out table; where there is no baseline to set out from it says so.
#[must_use]
pub fn set_out(measured: &Measured, units: Units) -> String {
    setting_out(measured, units).text()
}

/// The set-out table before it becomes text, for the crew sheet.
pub(super) fn setting_out(measured: &Measured, units: Units) -> Lines {
    let mut out = Lines::default();
    out.title("SETTING OUT", &whose(measured));
    out.blank();
    let lawns = measured.lawn_sheets();
    let mut tables = (lawns.iter())
        .filter_map(|lawn| Some((lawn.label.as_str(), lawn.set_out.as_ref()?)))
        .peekable();
    if tables.peek().is_none() {
        out.paragraph(0, no_corners(measured));
    }
    for (label, table) in tables {
        from_baseline(label, table, units, &mut out);
    }
    out
}

/// The table of one lawn: how to lay the tape, then every point by kind.
fn from_baseline(label: &str, table: &SetOut, units: Units, out: &mut Lines) {
    if !label.is_empty() {
        out.heading(label);
    }
    out.paragraph(
        0,
        &format!(
            "Lay the tape from {} to {} ({}), zero at {}. Left and right are as seen looking along it from {}.",
            table.baseline.from,
            table.baseline.to,
            units.on_a_tape(table.baseline.length_m),
            table.baseline.from,
            table.baseline.from
        ),
    );
    let blank: &[What] = &[What::Corner];
    for (title, kinds) in [
        ("Corners", blank),
        ("Marks and beds", &[What::Mark, What::BedCentre]),
        ("What is taken off", &[What::Deduction]),
        ("Curve", &[What::Curve]),
    ] {
        part(table, title, kinds, units, out);
    }
}

/// The points of these kinds; nothing where there are none.
fn part(table: &SetOut, title: &str, kinds: &[What], units: Units, out: &mut Lines) {
    let rows: Vec<&Row> = table
        .rows
        .iter()
        .filter(|r| kinds.contains(&r.what))
        .collect();
    if rows.is_empty() {
        return;
    }
    let heading = match kinds {
        [What::Curve] => format!("{title}, every {}", units.plain_length(table.spacing_m)),
        _ => title.to_string(),
    };
    out.heading(&heading);
    let cells: Vec<[String; 5]> = rows
        .iter()
        .map(|r| {
            [
                r.name.clone(),
                units.on_a_tape(r.chainage_m),
                units.on_a_tape(r.offset_m),
                r.side.unwrap_or("on it").to_string(),
                r.radius_m
                    .map_or(String::new(), |m| format!("radius {}", units.on_a_tape(m))),
            ]
        })
        .collect();
    out.grid(&["", "along", "offset", "side", ""], &cells);
}
