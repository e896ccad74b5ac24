//! Tables for a spreadsheet: the take-off, and the lettered points. Metric, full enough to work on, RFC 4180.

mod points;

pub use points::points;

use super::{takeoff, text};
use crate::fault::Fault;
use crate::lawn::Kind;
use crate::survey::Measured;
use crate::visible::visible;

/// The take-off: a row for each area and length, with its unit and basis.
///
/// # Errors
/// When the table cannot be written.
pub fn takeoff(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut rows = vec![row([
        "item",
        "label",
        "quantity",
        "unit",
        "low",
        "high",
        "sigma",
        "basis",
        "net",
        "allowance",
    ])];
    if let Some(area) = &measured.area {
        let m2 = |item: &str, label: &str, value: f64, basis: &str| {
            row([item, &words(label), &places(value), "m2", "", "", "", basis])
        };
        let taped = &measured.taped.shapes;
        let inside = match (taped.is_empty(), measured.is_drawn()) {
            (false, _) => "sum of the taped shapes",
            (true, true) => "inside the drawn edge",
            (true, false) => "inside the walked edge",
        };
        for one in taped {
            let item = if one.deducted {
                "taped deduction"
            } else {
                "taped shape"
            };
            rows.push(row([
                item,
                &words(&one.label),
                &places(one.area_m2),
                "m2",
                "",
                "",
                &places(one.sigma_m2),
                one.kind,
            ]));
        }
        rows.push(m2("gross area", "", area.gross_m2, inside));
        for deduction in &measured.deductions {
            let basis = match (deduction.kind, deduction.radius_m) {
                (Kind::Bed, Some(m)) => format!("circle of radius {m:.3} m"),
                (Kind::Bed, None) => "circle".to_owned(),
                (Kind::Walked, _) => "walked round".to_owned(),
                (Kind::Path, _) => "walked along the middle".to_owned(),
                (Kind::Taped, _) => "taped".to_owned(),
            };
            rows.push(m2(
                "deduction",
                &deduction.label,
                deduction.deducted_m2,
                &basis,
            ));
        }
        rows.push(m2(
            "deductions",
            "",
            area.deductions_m2,
            "sum of the deductions",
        ));
        let band = format!("band at {} confidence", area.confidence);
        rows.push(row([
            "net area",
            "",
            &places(area.net_m2),
            "m2",
            &places(area.low_m2),
            &places(area.high_m2),
            &places(area.sigma_m2),
            &band,
        ]));
        if let (Some(slope_m2), Some(sigma_m2), Some(band_m2), Some(slope)) = (
            area.slope_m2,
            area.slope_sigma_m2,
            area.slope_band_m2,
            &measured.slope,
        ) {
            rows.push(row([
                "net area on the slope",
                "",
                &places(slope_m2),
                "m2",
                &places((slope_m2 - band_m2).max(0.0)),
                &places(slope_m2 + band_m2),
                &places(sigma_m2),
                &text::words::slope(slope),
            ]));
        }
        if measured.lawns.len() > 1 {
            for lawn in &measured.lawns {
                let (net, sigma) = (places(lawn.net_m2), places(lawn.sigma_m2));
                rows.push(row([
                    "net area of lawn",
                    &words(&lawn.label),
                    &net,
                    "m2",
                    "",
                    "",
                    &sigma,
                    "",
                ]));
            }
        }
    }
    if let Some(perimeter) = measured.perimeter_m {
        let sigma = measured.perimeter_sigma_m.map(places).unwrap_or_default();
        rows.push(row([
            "edge",
            "",
            &places(perimeter),
            "m",
            "",
            "",
            &sigma,
            if measured.taped.shapes.is_empty() {
                "length of the fitted edge"
            } else {
                "from the taped shapes"
            },
        ]));
    }
    if let Some(ordered) = &measured.order {
        for line in takeoff::takeoff(ordered) {
            rows.push(row([
                &line.item,
                &words(&line.label),
                &line.quantity,
                &words(&line.unit),
                "",
                "",
                "",
                &words(&line.basis),
                &line.net,
                &line.allowance,
            ]));
        }
    }
    // Only what is ordered has a net quantity and an allowance.
    for row in &mut rows {
        row.resize(10, String::new());
    }
    table(&rows)
}

/// Every piece of turf in its place and where it is cut from.
///
/// # Errors
/// When the table cannot be written.
pub fn cuts(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut rows = vec![row(takeoff::CUTS)];
    let turf = measured.order.as_ref().and_then(|o| o.turf.as_ref());
    if let Some(laid) = turf.and_then(|turf| turf.rows.as_ref()) {
        for cut in takeoff::cuts(laid) {
            rows.push(cut.iter().map(|cell| words(cell)).collect());
        }
    }
    table(&rows)
}

/// The mark by which spreadsheets know UTF-8; without it they take a file for the letters of their own country (common practice,
/// no source). For files: a program at the end of a pipe would take it for part of the first column's name.
#[cfg(feature = "sheets")]
pub(crate) const MARK: &str = "\u{feff}";

/// A table as a file.
#[cfg(feature = "sheets")]
pub(super) fn file(table: Vec<u8>) -> Vec<u8> {
    [MARK.as_bytes(), &table].concat()
}

fn row<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.iter().map(|cell| (*cell).to_owned()).collect()
}

/// Square metres and metres to six decimals: far below any error, short enough to read.
pub(crate) fn places(value: f64) -> String {
    format!("{value:.6}")
}

/// A text of the user's as a cell. A spreadsheet runs what starts with one of these as a formula, so such a cell gets
/// an apostrophe in front, which spreadsheets take as "this is text" (common practice, no source).
pub(crate) fn words(text: &str) -> String {
    let text = visible(text);
    if text.trim_start().starts_with(['=', '+', '-', '@']) {
        format!("'{text}")
    } else {
        text.into_owned()
    }
}

fn table(rows: &[Vec<String>]) -> Result<Vec<u8>, Fault> {
    let fault = |error: String| {
        Fault::withheld(
            "csv",
            format!("the table could not be written ({error})."),
            "",
        )
    };
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    for row in rows {
        writer
            .write_record(row)
            .map_err(|error| fault(error.to_string()))?;
    }
    writer
        .into_inner()
        .map_err(|error| fault(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn read(bytes: &[u8]) -> Vec<Vec<String>> {
        csv::ReaderBuilder::new()
            .from_reader(bytes)
            .records()
            .map_while(Result::ok)
            .map(|record| record.iter().map(str::to_owned).collect())
            .collect()
    }

    #[test]
    fn deductions_add_up_and_formulas_stay_text() {
        let mut garden = sample::garden();
        garden.deductions[0].label = "=1+1".into();
        let rows = read(&takeoff(&garden).unwrap_or_default());
        let sum: f64 = rows
            .iter()
            .filter(|r| r[0] == "deduction")
            .filter_map(|r| r[2].parse::<f64>().ok())
            .sum();
        let all: f64 = rows
            .iter()
            .filter(|r| r[0] == "deductions")
            .filter_map(|r| r[2].parse::<f64>().ok())
            .sum();
        approx::assert_abs_diff_eq!(sum, all, epsilon = 1e-5);
        assert!(rows.iter().any(|r| r[1] == "'=1+1"));
    }

    #[test]
    fn points_have_nine_decimals() {
        let rows = read(&points(&sample::garden()).unwrap_or_default());
        assert_eq!(rows.len(), sample::garden().points.len());
        assert!(rows[0][1].split('.').nth(1).is_some_and(|d| d.len() == 9));
    }
}
