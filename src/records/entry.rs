//! What is recorded of one survey. It is made ready by the thread that measured the survey, so that the one writer of the records has
//! nothing to do but write.

use super::blob::{Blob, encode_lines, encode_polygons};
use crate::fault::Fault;
use crate::job::keys::Setting;
use crate::lawn::{Deduction, Kind, Lawn};
use crate::notice::Weight;
use crate::plane::Plane;
use crate::sheet;
use crate::sheet::geojson::{line, pieces};
use crate::survey::measured::LawnArea;
use crate::survey::{Measured, Request};
use crate::units::Units;

/// One shape of a survey: a lawn, a deduction or an edge of the band.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// What sheets call it.
    pub label: String,
    /// The shape as it is stored; `None` where it is too small to draw.
    pub blob: Option<Blob>,
    /// What kind of deduction it is, or which edge of the band ("low" or "high"); empty for a lawn.
    pub kind: &'static str,
    /// Its area, square metres.
    pub area_m2: f64,
    /// For a lawn the standard error of its area, for a deduction the area it takes off, for a band 0; square metres.
    pub other_m2: f64,
}

/// A survey ready to be recorded.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What is said of the survey as a whole.
    pub measured: Head,
    /// A hash of all that the result depends on; `None` where not all of it could be read.
    pub fingerprint: Option<String>,
    /// The result document on one line.
    pub document: String,
    /// The net lawns.
    pub lawns: Vec<Shape>,
    /// What was taken off.
    pub deductions: Vec<Shape>,
    /// The walked lines.
    pub walks: Vec<Blob>,
    /// The lawn's edge at the low and at the high end of the band.
    pub bands: Vec<Shape>,
    /// The settings that were asked for.
    pub settings: Vec<Setting>,
}

/// The parts of a result that have columns of their own.
#[derive(Debug, Clone)]
pub struct Head {
    /// What the survey is called.
    pub name: String,
    /// `ok`, `check` or `withheld`.
    pub status: &'static str,
    /// Why the status is not `ok`.
    pub reason: Option<String>,
    /// The job's number.
    pub job: Option<String>,
    /// Where it is, in words.
    pub site: Option<String>,
    /// For whom it was measured.
    pub customer: Option<String>,
    /// The day it was walked, ISO 8601.
    pub walked_on: Option<String>,
    /// Areas and band, square metres.
    pub area: Option<crate::survey::measured::Area>,
    /// Length of the lawn's edge, metres.
    pub perimeter_m: Option<f64>,
    /// The kind of receiver.
    pub receiver: Option<String>,
    /// The plane's centre, which lies at the lawn: latitude and longitude, degrees on WGS 84.
    pub place: Option<(f64, f64)>,
    /// The lines of the order.
    pub orders: Vec<crate::order::takeoff::Line>,
    /// The files read.
    pub files: Vec<crate::read::LogFile>,
    /// The warnings: code, whether it is a doubt, and message.
    pub warnings: Vec<(&'static str, bool, String)>,
}

impl Entry {
    /// Makes a survey ready to be recorded.
    ///
    /// # Errors
    /// When a number or a coordinate is not finite.
    pub fn of(
        measured: &Measured,
        request: &Request,
        fingerprint: Option<&str>,
    ) -> Result<Entry, Fault> {
        let mut document = String::from_utf8(sheet::json::line(measured)?).unwrap_or_default();
        document.truncate(document.trim_end().len());
        let mut entry = Entry {
            measured: head(measured),
            fingerprint: fingerprint.map(str::to_owned),
            document,
            lawns: Vec::new(),
            deductions: Vec::new(),
            walks: Vec::new(),
            bands: Vec::new(),
            settings: request.settings(),
        };
        if let Some(plane) = &measured.on {
            entry.lawns = lawns(plane, measured)?;
            entry.deductions = deductions(plane, measured)?;
            for walk in &measured.drawing.walks {
                let drawn = line(plane, walk)?;
                entry.walks.extend(drawn.as_ref().and_then(encode_lines));
            }
            entry.bands = bands(plane, measured)?;
        }
        Ok(entry)
    }
}

/// The net lawns; none where no area is given.
fn lawns(plane: &Plane, measured: &Measured) -> Result<Vec<Shape>, Fault> {
    let drawn = measured.drawing.lawns.iter().zip(&measured.lawns);
    let lawn = |(drawn, sums): (&Lawn, &LawnArea)| {
        Ok(Shape {
            label: sums.label.clone(),
            blob: encode_polygons(&pieces(plane, &drawn.net)?),
            kind: "",
            area_m2: sums.net_m2,
            other_m2: sums.sigma_m2,
        })
    };
    drawn
        .filter(|_| measured.area.is_some())
        .map(lawn)
        .collect()
}

fn deductions(plane: &Plane, measured: &Measured) -> Result<Vec<Shape>, Fault> {
    let deduction = |deduction: &Deduction| {
        Ok(Shape {
            label: deduction.label.clone(),
            blob: encode_polygons(&pieces(plane, &deduction.outline)?),
            kind: match deduction.kind {
                Kind::Bed => "bed",
                Kind::Walked => "walked",
                Kind::Path => "path",
                Kind::Taped => "taped",
            },
            area_m2: deduction.area_m2,
            other_m2: deduction.deducted_m2,
        })
    };
    measured.drawing.deductions.iter().map(deduction).collect()
}

/// The lawn's edge drawn as small and as large as the band allows; none without an area.
fn bands(plane: &Plane, measured: &Measured) -> Result<Vec<Shape>, Fault> {
    let Some(area) = &measured.area else {
        return Ok(Vec::new());
    };
    let drawing = &measured.drawing;
    let low = drawing.low.iter().map(|edge| ("low", edge, area.low_m2));
    let high = drawing.high.iter().map(|edge| ("high", edge, area.high_m2));
    low.chain(high)
        .map(|(kind, edge, area_m2)| {
            Ok(Shape {
                label: String::new(),
                blob: encode_polygons(&pieces(plane, edge)?),
                kind,
                area_m2,
                other_m2: 0.0,
            })
        })
        .collect()
}

fn head(measured: &Measured) -> Head {
    Head {
        name: measured.survey.name.clone(),
        status: measured.status.word(),
        reason: measured.reason(Units::Metric),
        job: measured.survey.job.clone(),
        site: measured.survey.site.clone(),
        customer: measured.survey.customer.clone(),
        walked_on: measured.survey.date.clone(),
        area: measured.area.clone(),
        perimeter_m: measured.perimeter_m,
        receiver: measured
            .band
            .as_ref()
            .and_then(|band| serde_json::to_value(band.receiver).ok())
            .and_then(|name| name.as_str().map(str::to_owned)),
        place: measured
            .plane
            .as_ref()
            .and_then(|plane| plane.lat.zip(plane.lon)),
        orders: measured
            .order
            .as_ref()
            .map(|order| order.takeoff.clone())
            .unwrap_or_default(),
        files: measured.log.files.clone(),
        warnings: measured
            .warnings
            .iter()
            .map(|w| (w.code(), w.weight() == Weight::Doubt, w.to_string()))
            .collect(),
    }
}
