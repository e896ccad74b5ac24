//! Everything a person or a program reads: reports, sheets, drawings, tables, documents. Each takes a [`Measured`] and gives bytes.
//! Nothing about the ground is worked out here; all of it is in the result already.

// The text report uses some of the blocks, the sheets use all.
#[cfg_attr(not(feature = "sheets"), allow(dead_code))]
mod block;
#[cfg(feature = "sheets")]
#[doc(hidden)]
pub mod board;
pub mod csv;
#[cfg(feature = "sheets")]
pub mod dxf;
pub mod geojson;
#[cfg(feature = "sheets")]
pub mod gpx;
pub mod inspect;
pub mod json;
#[cfg(feature = "sheets")]
pub mod kml;
#[cfg(all(feature = "live", feature = "sheets"))]
#[doc(hidden)]
pub mod live;
pub(crate) mod order;
#[cfg(feature = "sheets")]
#[doc(hidden)]
pub mod paper;
#[cfg(feature = "sheets")]
#[doc(hidden)]
pub mod plan;
pub(crate) mod quantity;
#[doc(hidden)]
pub mod say;
mod takeoff;
pub mod tape;
pub mod text;

use crate::fault::Fault;
#[cfg(feature = "sheets")]
use crate::job::people::PaperSize;
use crate::survey::Measured;
use crate::units::Units;

/// Whose survey it is: job and site, as in "J-0417, 12 Example Lane", or else the survey's own name. It says so where the survey is in a
/// plan's own metres and not in a known place.
fn whose(measured: &Measured) -> String {
    let survey = &measured.survey;
    let mut about: Vec<&str> = Vec::new();
    about.extend(survey.job.as_deref());
    about.extend(survey.site.as_deref());
    if about.is_empty() && !survey.name.is_empty() {
        about.push(&survey.name);
    }
    if measured.is_local() {
        about.push("in a plan's local metres");
    }
    about.join(", ")
}

/// The paper that documents are laid out for: as asked, else A4 with metric units and Letter with imperial ones.
#[cfg(feature = "sheets")]
fn paper_size(measured: &Measured, units: Units) -> PaperSize {
    measured.paperwork.paper.unwrap_or(match units {
        Units::Metric => PaperSize::A4,
        Units::Imperial => PaperSize::Letter,
    })
}

/// A file to be written.
#[cfg(feature = "sheets")]
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Sheet {
    /// Its file name.
    pub name: &'static str,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// What can be asked for on standard output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Format {
    /// The first screen of the report, 24 lines of 80 columns.
    Text,
    /// The whole report, of 80 columns.
    Detail,
    /// The result document `boundwalk/result/1`.
    Json,
    /// The lawn and what was taken off, RFC 7946.
    Geojson,
    /// The same, each feature a text of its own (RFC 8142).
    GeojsonSeq,
    /// The order, line by line.
    Csv,
}

/// One sheet.
///
/// # Errors
/// When a number that must be written is not finite.
pub fn one(measured: &Measured, format: Format, units: Units) -> Result<Vec<u8>, Fault> {
    match format {
        Format::Text => Ok(text::screen(measured, units).into_bytes()),
        Format::Detail => Ok(text::report(measured, units).into_bytes()),
        Format::Json => json::document(measured),
        Format::Geojson | Format::GeojsonSeq if measured.is_local() => Err(Fault::usage(
            "no-degrees",
            "GeoJSON holds latitudes and longitudes only (RFC 7946), and this is in metres of a plan.",
            "Take --format json, or lawn.dxf from --out.",
        )),
        Format::Geojson => geojson::collection(measured),
        Format::GeojsonSeq => geojson::sequence(measured),
        Format::Csv => csv::takeoff(measured),
    }
}

/// Sheets that are not made of a survey in a plan's own metres: KML and GPX know only degrees on WGS 84 (OGC 07-147r2, 8.2; the GPX 1.1
/// schema), and so does GeoJSON (RFC 7946, 4).
#[cfg(feature = "sheets")]
const IN_DEGREES: [&str; 3] = ["lawn.geojson", "lawn.gpx", "lawn.kml"];

/// Every sheet there is, each with its file name. They are made for a withheld result (one without an area) too, so that sheets of
/// an older survey in the same folder are replaced and never stand beside it.
///
/// # Errors
/// When a number that must be written is not finite.
#[cfg(feature = "sheets")]
pub fn all(measured: &Measured, units: Units) -> Result<Vec<Sheet>, Fault> {
    let sheet = |name, bytes| Sheet { name, bytes };
    let mut sheets = vec![
        sheet("report.txt", text::report(measured, units).into_bytes()),
        sheet("result.json", json::document(measured)?),
        sheet("lawn.geojson", geojson::collection(measured)?),
        sheet("takeoff.csv", csv::file(csv::takeoff(measured)?)),
        sheet("points.csv", csv::file(csv::points(measured)?)),
        sheet("check.txt", tape::check_sheet(measured, units).into_bytes()),
        sheet("setout.txt", tape::set_out(measured, units).into_bytes()),
    ];
    let plan = plan::lawn(measured, units);
    let svg = |page: &board::Page| board::svg::file(page).into_bytes();
    let customer = paper::customer(measured, units);
    let record = paper::record(measured, &plan, units);
    sheets.extend([
        sheet("sheet.html", paper::page(&customer).into_bytes()),
        sheet("sheet.pdf", paper::printed(&customer)),
        sheet("crew.pdf", paper::printed(&paper::crew(measured, units))),
        sheet("record.pdf", paper::printed(&record)),
        sheet("plan.svg", svg(&plan)),
        sheet("setout.svg", svg(&plan::set_out(measured, units))),
        sheet("lawn.gpx", gpx::file(measured)?),
        sheet("lawn.kml", kml::file(measured)?),
        sheet("lawn.dxf", dxf::file(measured)?),
    ]);
    if measured.is_local() {
        sheets.retain(|sheet| !IN_DEGREES.contains(&sheet.name));
    }
    if let Some(picture) = board::png::picture(&plan, board::png::DOTS_A_MM) {
        sheets.push(sheet("plan.png", picture));
    }
    if measured.order.is_some() || measured.area.is_none() {
        sheets.push(sheet("rows.csv", csv::file(csv::cuts(measured)?)));
        if !measured.is_local() {
            sheets.push(sheet("rows.geojson", geojson::rows(measured)?));
        }
        sheets.push(sheet(
            "order.pdf",
            paper::printed(&paper::order(measured, units)),
        ));
        sheets.push(sheet("rows.svg", svg(&plan::rows(measured, units))));
    }
    Ok(sheets)
}

#[cfg(test)]
#[path = "../../tests/sheet/sample.rs"]
mod sample;
