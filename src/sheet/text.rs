//! The report that a person reads: plain words in at most 80 columns, numbers rounded as the GUM (the international guide to stating
//! uncertainty) advises.
//!
//! It is in the order in which an estimator asks: how much, how sure, what was taken off, what would make it surer, what needs a look,
//! what it was read from.

pub(crate) mod checked;
mod first;
pub(crate) mod lines;
pub(in crate::sheet) mod words;

use super::order;
use super::tape;
use crate::notice::{Notice, Weight};
use crate::survey::Measured;
use crate::survey::measured::{Area, Band, Status};
use crate::units::{Rounded, Units, fixed, two_figures};
use lines::Lines;
use words::{at_digits, small_amount};

/// A band wider than this part of the area is wider than the spare turf that people order anyway. Growers and extension services advise
/// 5 % on simple shapes and 10 % on complex ones.
const WIDE: f64 = 0.05;

/// A cause with less than this part of the band's variance (its squared sigma) changes no figure that is shown. The result document has
/// it all the same.
const SHOWN: f64 = 0.002;

/// The whole report.
#[must_use]
pub fn report(measured: &Measured, units: Units) -> String {
    let mut out = Lines::default();
    if let Some(first) = measured
        .order
        .as_ref()
        .and_then(|order| order::first_line(order, units))
    {
        out.paragraph(0, &first);
        out.blank();
    }
    heading(measured, &mut out);
    match &measured.area {
        Some(area) => {
            net(area, measured, units, &mut out);
            breakdown(area, measured, units, &mut out);
            tape::shapes(measured, units, &mut out);
            if let Some(band) = &measured.band {
                certainty(area, band, measured, units, &mut out);
            }
            tape::agreement(measured, units, &mut out);
            checks(measured, units, &mut out);
            remedies(area, measured, units, &mut out);
            if let Some(order) = &measured.order {
                order::section(order, units, &mut out);
            }
        }
        None => withheld(measured, units, &mut out),
    }
    looks(measured, units, &mut out);
    source(measured, units, &mut out);
    match &measured.order {
        Some(order) => order::cautions(order, units, &mut out),
        None => cautions(&mut out),
    }
    out.text()
}

pub use first::screen;

fn heading(measured: &Measured, out: &mut Lines) {
    out.title("LAWN AREA", &about(measured));
}

/// Whose lawn it is, and the day of the survey.
fn about(measured: &Measured) -> String {
    let whose = super::whose(measured);
    let date = measured.survey.date.as_deref().map(words::date);
    let about: Vec<String> = std::iter::once(whose).chain(date).collect();
    let about: Vec<&str> = about
        .iter()
        .map(String::as_str)
        .filter(|a| !a.is_empty())
        .collect();
    about.join(", ")
}

/// The net area, the length of the edge, and a word of caution where something needs a look.
pub(super) fn net(area: &Area, measured: &Measured, units: Units, out: &mut Lines) {
    out.blank();
    net_lines(area, measured, units, out);
    if let Some(perimeter_m) = measured.perimeter_m {
        out.pair(
            "Edge",
            &format!("{} all round", edge(perimeter_m, measured, units)),
        );
    }
    if measured.status == Status::Check {
        out.blank();
        out.paragraph(
            0,
            "Something needs a look before anyone orders on this: see “Please check”.",
        );
    }
}

/// The net area with its band, and the same on the slope where there is one.
fn net_lines(area: &Area, measured: &Measured, units: Units, out: &mut Lines) {
    let shown = units.rounded_area(area.net_m2, area.band_m2);
    let unit = units.area_unit();
    let percent = two_figures(100.0 * area.band_m2 / area.net_m2.max(f64::MIN_POSITIVE));
    out.pair(
        "Net area",
        &format!(
            "{} {unit} ± {} {unit}  (± {percent} %)",
            shown.value, shown.uncertainty
        ),
    );
    out.pair(
        "",
        &format!(
            "between {} and {} {unit}, {}",
            shown.low,
            shown.high,
            words::chance(area.confidence)
        ),
    );
    if let Some(slope_m2) = area.slope_m2 {
        let slope = units.rounded_area(slope_m2, area.slope_band_m2.unwrap_or(area.band_m2));
        out.pair(
            "On the slope",
            &format!(
                "{} {unit} ± {} {unit}; turf and seed are ordered for this",
                slope.value, slope.uncertainty
            ),
        );
    }
    if let Some(slope) = measured.slope.filter(|s| s.percent > 0.0) {
        out.pair("", &words::slope(&slope));
    }
}

/// The edge's length with its own band, at the same confidence as the area's; without a band where its error is not known.
pub(super) fn edge(perimeter_m: f64, measured: &Measured, units: Units) -> String {
    match (&measured.area, measured.perimeter_sigma_m) {
        (Some(area), Some(sigma_m)) => {
            let shown = units.rounded_length(perimeter_m, area.coverage_factor * sigma_m);
            let unit = units.length_unit();
            format!("{} {unit} ± {} {unit}", shown.value, shown.uncertainty)
        }
        _ => units.plain_length(perimeter_m),
    }
}

/// The area inside the edge, each thing taken off it, and the net area, as a sum that can be followed. Where there are several lawns, each
/// of them as well.
pub(super) fn breakdown(area: &Area, measured: &Measured, units: Units, out: &mut Lines) {
    let shown = units.rounded_area(area.net_m2, area.band_m2);
    let amount = |m2: f64| fixed(at_digits(units.area(m2), shown.digits), shown.digits);
    if !measured.deductions.is_empty() {
        out.blank();
        let mut rows = vec![(
            "Inside the edge".to_owned(),
            amount(area.gross_m2),
            String::new(),
        )];
        for deduction in &measured.deductions {
            rows.push((
                format!("less {}", deduction.label),
                small_amount(units.area(deduction.deducted_m2), &shown),
                words::taken_off(deduction, units),
            ));
        }
        rows.push(("Net".to_owned(), shown.value.clone(), String::new()));
        out.table(&rows, units.area_unit());
    }
    if measured.lawns.len() > 1 {
        out.blank();
        let rows: Vec<_> = measured
            .lawns
            .iter()
            .map(|lawn| {
                let one = units.rounded_area(lawn.net_m2, area.coverage_factor * lawn.sigma_m2);
                (
                    lawn.label.clone(),
                    one.value,
                    format!("± {}", one.uncertainty),
                )
            })
            .collect();
        out.table(&rows, units.area_unit());
    }
}

/// What the band rests on and what it is made of.
fn certainty(area: &Area, band: &Band, measured: &Measured, units: Units, out: &mut Lines) {
    out.heading("How sure is it");
    out.paragraph(2, &words::receiver(band, measured, units));
    let whole_m4: f64 = band.terms.iter().map(|term| term.sigma_m2.powi(2)).sum();
    let mut terms: Vec<_> = band
        .terms
        .iter()
        .filter(|term| term.sigma_m2.powi(2) > SHOWN * whole_m4)
        .collect();
    terms.sort_by(|a, b| b.sigma_m2.total_cmp(&a.sigma_m2));
    if whole_m4 > 0.0 {
        out.blank();
        let rows: Vec<_> = terms
            .iter()
            .map(|term| {
                let width = units.area(area.coverage_factor * term.sigma_m2);
                let part = 100.0 * term.sigma_m2.powi(2) / whole_m4;
                let part = if part < 1.0 {
                    "under 1 %".to_owned()
                } else {
                    format!("{part:.0} %")
                };
                (
                    words::cause(term.term, measured.is_drawn()).to_owned(),
                    format!("± {}", two_figures(width)),
                    part,
                )
            })
            .collect();
        out.table_headed(
            "What the band is made of",
            "share of it",
            &rows,
            units.area_unit(),
        );
        out.paragraph(2, "Each is a band of its own; independent causes add by their squares, so the parts do not add up to the whole.");
    }
    let walked = band.correlation_s.is_none() && !measured.is_drawn();
    if walked && band.worst_case_m2 > 1.02 * area.band_m2 {
        let worst = Rounded::new(units.area(area.net_m2), units.area(band.worst_case_m2));
        out.blank();
        out.paragraph(
            2,
            &format!(
                "A receiver's error drifts, and how slowly is not known from one walk. At the least lucky pace the band would be ± {} {}.",
                worst.uncertainty,
                units.area_unit()
            ),
        );
    }
}

/// What checks the number, and which errors that would not show.
pub(super) fn checks(measured: &Measured, units: Units, out: &mut Lines) {
    let said = checked::sentences(&measured.checked, units);
    if !said.is_empty() {
        out.heading("What checks it");
        out.paragraph(2, &said.join(" "));
    }
}

/// What would make the area surer, and what band it would leave. Nothing where the band is narrow and nothing would help.
pub(super) fn remedies(area: &Area, measured: &Measured, units: Units, out: &mut Lines) {
    let part = area.band_m2 / area.net_m2.max(f64::MIN_POSITIVE);
    if part <= WIDE && measured.next.is_empty() {
        return;
    }
    out.heading("To make it surer");
    if part > WIDE {
        out.paragraph(
            2,
            &format!(
                "± {} % is wide for an order: on a simple shape 5 % of spare turf is usual, on a complex one 10 %.",
                two_figures(100.0 * part)
            ),
        );
    }
    if measured.next.is_empty() {
        out.paragraph(2, "Tape the lawn (boundwalk job shows how to write it down), or walk it with a better receiver.");
        return;
    }
    let rows: Vec<_> = measured
        .next
        .iter()
        .map(|next| {
            let width = Rounded::new(units.area(area.net_m2), units.area(next.band_m2));
            let part = two_figures(100.0 * next.band_m2 / area.net_m2.max(f64::MIN_POSITIVE));
            (
                next.remedy.to_string(),
                format!("± {}", width.uncertainty),
                format!("± {part} %"),
            )
        })
        .collect();
    out.table_headed("What you could do", "would leave", &rows, units.area_unit());
}

/// That no area is given, and every reason for that.
pub(super) fn withheld(measured: &Measured, units: Units, out: &mut Lines) {
    out.blank();
    out.paragraph(
        0,
        "NO AREA IS GIVEN. The log was read, but this speaks against any number from it:",
    );
    let mut reasons = measured
        .warnings
        .iter()
        .filter(|w| w.weight() == Weight::Doubt)
        .peekable();
    if reasons.peek().is_none() {
        out.bullet(
            "!",
            "no reason was recorded; run `boundwalk inspect` on the log.",
        );
    }
    for reason in reasons {
        out.bullet("!", &reason.said(units));
    }
}

/// The doubts, which need a look, and the notes, which need none. Without an area the doubts were told as its reasons already.
pub(super) fn looks(measured: &Measured, units: Units, out: &mut Lines) {
    let of = |weight: Weight| {
        measured
            .warnings
            .iter()
            .filter(move |w| w.weight() == weight)
            .collect::<Vec<_>>()
    };
    let doubts = of(Weight::Doubt);
    if measured.area.is_some() && !doubts.is_empty() {
        out.heading("Please check");
        list(&doubts, "!", units, out);
    }
    let notes = of(Weight::Note);
    if !notes.is_empty() {
        out.heading("Notes");
        list(&notes, "-", units, out);
    }
}

/// The first three of each kind in full, then how many more there are.
fn list(warnings: &[&Notice], mark: &str, units: Units, out: &mut Lines) {
    const EACH: usize = 3;
    let mut kinds: Vec<&str> = warnings.iter().map(|w| w.code()).collect();
    kinds.dedup();
    let mut told: Vec<&str> = Vec::new();
    for kind in kinds {
        if told.contains(&kind) {
            continue;
        }
        told.push(kind);
        let of_kind: Vec<_> = warnings.iter().filter(|w| w.code() == kind).collect();
        for warning in of_kind.iter().take(EACH) {
            out.bullet(mark, &warning.said(units));
        }
        if of_kind.len() > EACH {
            out.bullet(
                mark,
                &format!("and {} more of this kind.", of_kind.len() - EACH),
            );
        }
    }
}

/// Which files the result was read from, and what was made of them; nothing without a file.
pub(super) fn source(measured: &Measured, units: Units, out: &mut Lines) {
    if measured.log.files.is_empty() {
        return;
    }
    out.heading("Read from");
    for file in &measured.log.files {
        out.hanging(2, 4, &words::file(file));
    }
    if let Some(ring) = measured.ring.as_ref().filter(|ring| ring.drawn) {
        let said = format!(
            "{} places on the edge, {} corners",
            ring.fixes, ring.corners
        );
        out.hanging(2, 4, &said);
    } else if let Some(ring) = &measured.ring {
        let laps = if ring.laps == 1 {
            "1 lap".to_owned()
        } else {
            format!("{} laps", ring.laps)
        };
        out.hanging(
            2,
            4,
            &format!(
                "{} positions on the edge, {laps}, {} corners, the walk closes to {}",
                ring.fixes,
                ring.corners,
                words::gap(ring.closing_gap_m, units)
            ),
        );
    }
    let dropped: Vec<String> = measured
        .log
        .dropped
        .iter()
        .map(|dropped| format!("{} × {}", dropped.count, dropped.reason))
        .collect();
    if !dropped.is_empty() {
        out.hanging(2, 4, &format!("Left out: {}", dropped.join("; ")));
    }
}

/// The cautions of a report without an order.
pub(super) fn cautions(out: &mut Lines) {
    out.blank();
    out.paragraph(
        0,
        "Approximate working measurement for ordering materials. Not a survey of legal boundaries or levels. \
         Areas are horizontal unless a slope is stated. Before pegs, spikes or a turf cutter go into the ground, assume there are buried \
         services until those who look after them have shown there are none, and follow local rules.",
    );
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn an_area_to_order_on() {
        insta::assert_snapshot!(report(&sample::garden(), Units::Metric));
    }

    #[test]
    fn the_same_in_feet() {
        insta::assert_snapshot!(report(&sample::garden(), Units::Imperial));
    }

    #[test]
    fn a_wide_band_and_what_to_do() {
        insta::assert_snapshot!(report(&sample::phone(), Units::Metric));
    }

    #[test]
    fn no_area() {
        insta::assert_snapshot!(report(&sample::withheld(), Units::Metric));
    }

    /// A bed of 0.38 m² on a lawn known to ± 240 m² was taken off, and must not read as if it was not.
    #[test]
    fn what_is_taken_off_is_never_none() {
        let shown = Rounded::new(1280.0, 240.0);
        assert_eq!(small_amount(0.3848, &shown), "0.38");
        assert_eq!(small_amount(150.4, &shown), "150");
        assert_eq!(small_amount(5.96, &Rounded::new(144.0, 2.2)), "6.0");
    }

    #[test]
    fn at_most_eighty_columns() {
        let mut long = sample::phone();
        long.survey.site = Some("A very long name of a site ".repeat(8));
        for deduction in &mut long.deductions {
            deduction.label =
                "a bed with a name that goes on and on and on and on and on and on".into();
        }
        for units in [Units::Metric, Units::Imperial] {
            for measured in [&sample::garden(), &sample::withheld(), &long] {
                for line in report(measured, units).lines() {
                    assert!(line.chars().count() <= lines::WIDTH, "{line}");
                }
            }
        }
    }

    #[test]
    fn a_person_reads_of_an_edge_not_of_a_ring() {
        let text = report(&sample::phone(), Units::Metric).to_lowercase();
        assert!(text.contains("edge") && !text.contains(" ring"));
    }
}
