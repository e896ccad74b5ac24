//! Tables for a spreadsheet as CSV (RFC 4180): the take-off (the list of quantities), the lettered points, and the cuts of turf.
//! Numbers are always metric and have enough decimals to work on with.

mod points;

pub use points::points;

use super::{takeoff, text};
use crate::fault::Fault;
use crate::lawn::Kind;
use crate::survey::Measured;
use crate::survey::measured::Area;
use crate::visible::visible;

/// A row of the take-off. A cell for which the row has nothing to say stays empty.
#[derive(Default)]
struct Row<'a> {
    item: &'a str,
    label: &'a str,
    quantity: String,
    unit: &'a str,
    low: String,
    high: String,
    sigma: String,
    basis: &'a str,
    /// The quantity before the allowance. Only what is ordered has these two.
    net: &'a str,
    allowance: &'a str,
}

impl<'a> Row<'a> {
    const TITLES: [&'static str; 10] = [
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
    ];

    fn of_area(item: &'a str, m2: f64, basis: &'a str) -> Row<'a> {
        Row {
            item,
            quantity: places(m2),
            unit: "m2",
            basis,
            ..Row::default()
        }
    }

    fn cells(self) -> Vec<String> {
        let (label, unit, basis) = (words(self.label), words(self.unit), words(self.basis));
        row([
            self.item,
            &label,
            &self.quantity,
            &unit,
            &self.low,
            &self.high,
            &self.sigma,
            &basis,
            self.net,
            self.allowance,
        ])
    }
}

/// The take-off: a row for each area and length, with its unit and basis.
///
/// # Errors
/// When the table cannot be written.
pub fn takeoff(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut rows = vec![row(Row::TITLES)];
    if let Some(area) = &measured.area {
        gross_and_deductions(measured, area, &mut rows);
        net(measured, area, &mut rows);
    }
    if let Some(perimeter) = measured.perimeter_m {
        let edge = Row {
            item: "edge",
            quantity: places(perimeter),
            unit: "m",
            sigma: measured.perimeter_sigma_m.map(places).unwrap_or_default(),
            basis: match measured.taped.shapes.is_empty() {
                true => "length of the fitted edge",
                false => "from the taped shapes",
            },
            ..Row::default()
        };
        rows.push(edge.cells());
    }
    let ordered = measured.order.iter().flat_map(takeoff::takeoff);
    rows.extend(ordered.map(|line| {
        Row {
            item: &line.item,
            label: &line.label,
            quantity: line.quantity.clone(),
            unit: &line.unit,
            basis: &line.basis,
            net: &line.net,
            allowance: &line.allowance,
            ..Row::default()
        }
        .cells()
    }));
    table(&rows)
}

/// What was taped, the area inside the edge, and what is taken off it.
fn gross_and_deductions(measured: &Measured, area: &Area, rows: &mut Vec<Vec<String>>) {
    for shape in &measured.taped.shapes {
        let row = Row {
            item: match shape.deducted {
                true => "taped deduction",
                false => "taped shape",
            },
            label: &shape.label,
            sigma: places(shape.sigma_m2),
            ..Row::of_area("", shape.area_m2, shape.kind)
        };
        rows.push(row.cells());
    }
    let inside = match (measured.taped.shapes.is_empty(), measured.is_drawn()) {
        (false, _) => "sum of the taped shapes",
        (true, true) => "inside the drawn edge",
        (true, false) => "inside the walked edge",
    };
    rows.push(Row::of_area("gross area", area.gross_m2, inside).cells());
    for deduction in &measured.deductions {
        let basis: &str = match (deduction.kind, deduction.radius_m) {
            (Kind::Bed, Some(m)) => &format!("circle of radius {m:.3} m"),
            (Kind::Bed, None) => "circle",
            (Kind::Walked, _) => "walked round",
            (Kind::Path, _) => "walked along the middle",
            (Kind::Taped, _) => "taped",
        };
        let row = Row {
            label: &deduction.label,
            ..Row::of_area("deduction", deduction.deducted_m2, basis)
        };
        rows.push(row.cells());
    }
    let all = Row::of_area("deductions", area.deductions_m2, "sum of the deductions");
    rows.push(all.cells());
}

/// The net area: on the plan with its band, on the slope where one is known, and of each lawn where there are several.
fn net(measured: &Measured, area: &Area, rows: &mut Vec<Vec<String>>) {
    let band = format!("band at {} confidence", area.confidence);
    let on_the_plan = Row {
        low: places(area.low_m2),
        high: places(area.high_m2),
        sigma: places(area.sigma_m2),
        ..Row::of_area("net area", area.net_m2, &band)
    };
    rows.push(on_the_plan.cells());
    if let (Some(slope_m2), Some(sigma_m2), Some(band_m2), Some(slope)) = (
        area.slope_m2,
        area.slope_sigma_m2,
        area.slope_band_m2,
        &measured.slope,
    ) {
        let basis = text::words::slope(slope);
        let on_the_slope = Row {
            low: places((slope_m2 - band_m2).max(0.0)),
            high: places(slope_m2 + band_m2),
            sigma: places(sigma_m2),
            ..Row::of_area("net area on the slope", slope_m2, &basis)
        };
        rows.push(on_the_slope.cells());
    }
    if measured.lawns.len() > 1 {
        rows.extend(measured.lawns.iter().map(|lawn| {
            Row {
                label: &lawn.label,
                sigma: places(lawn.sigma_m2),
                ..Row::of_area("net area of lawn", lawn.net_m2, "")
            }
            .cells()
        }));
    }
}

/// The list of cuts: every piece of turf laid out, its place, and which piece it is cut from. Without rows it has only its titles.
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

/// The byte order mark, by which spreadsheets know a file to be UTF-8; without it they read it in their country's older encoding
/// (common practice, no source). Only files get it: a program at the end of a pipe would take it for part of the first column's name.
#[cfg(feature = "sheets")]
pub(crate) const MARK: &str = "\u{feff}";

/// A table as the content of a file, with the mark before it.
#[cfg(feature = "sheets")]
pub(super) fn file(table: Vec<u8>) -> Vec<u8> {
    [MARK.as_bytes(), &table].concat()
}

/// Cells as texts of their own.
fn row<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.iter().map(|cell| (*cell).to_owned()).collect()
}

/// Square metres or metres with six decimals, which is far finer than any error and still short enough to read.
pub(crate) fn places(value: f64) -> String {
    format!("{value:.6}")
}

/// A text that the user gave as a cell. A spreadsheet runs what starts with `=`, `+`, `-` or `@` as a formula, so such a cell gets an
/// apostrophe in front, which spreadsheets take as "this is text" (common practice, no source).
pub(crate) fn words(text: &str) -> String {
    let text = visible(text);
    if text.trim_start().starts_with(['=', '+', '-', '@']) {
        format!("'{text}")
    } else {
        text.into_owned()
    }
}

/// The rows as CSV, with the line ends that RFC 4180 asks for.
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
