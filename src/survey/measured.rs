//! Everything measured in one survey, as plain data. Written by serde it is the result document `boundwalk/result/1`; fields marked
//! `skip` are not in it, and are for the sheets that draw.

pub use super::checked::Checked;
pub use crate::band::budget::Term;
pub use crate::band::model::{Receiver, SigmaSource};
use crate::lawn::{Deduction, Lawn};
use crate::next_step::NextStep;
use crate::notice::{Notice, Weight};
use crate::order::Slope;
use crate::plane::Plane;
use crate::read::{Dropped, LogFile};
use crate::tape::lines::CheckSheet;
use crate::tape::setout::SetOut;
use crate::tape::settle::Agreement;
use crate::tape::shapes::Taped;
use crate::units::Units;
use geo::Coord;
use serde::Serialize;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Nothing doubtful.
    Ok,
    /// Measured, but something needs a look before anyone orders on it.
    Check,
    /// No honest number can be given.
    Withheld,
}

impl Status {
    /// Its name in the result document.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Status::Ok => "ok",
            Status::Check => "check",
            Status::Withheld => "withheld",
        }
    }
}

impl Identity {
    /// The identity of a survey of this name, by its job sheet.
    #[must_use]
    pub fn of(name: String, job: &crate::job::Job, date: Option<jiff::civil::Date>) -> Identity {
        let customer = job.paperwork.customer.as_ref();
        Identity {
            name,
            job: job.number.clone(),
            site: job.site.clone(),
            customer: customer.and_then(|customer| customer.name.clone()),
            date: date.map(|date| date.to_string()),
        }
    }
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Identity {
    pub name: String,
    pub job: Option<String>,
    pub site: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    pub date: Option<String>,
}

/// Areas in square metres; `net_m2 ± band_m2` is the interval at `confidence`.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Area {
    pub gross_m2: f64,
    pub deductions_m2: f64,
    pub net_m2: f64,
    pub sigma_m2: f64,
    pub confidence: f64,
    /// `band_m2 / sigma_m2`: how many sigmas the band is wide on either side.
    pub coverage_factor: f64,
    pub band_m2: f64,
    /// Never below 0.
    pub low_m2: f64,
    pub high_m2: f64,
    /// The net area along the ground, where it slopes and the slope is known.
    pub slope_m2: Option<f64>,
    /// One sigma of `slope_m2`: of the plan's area and of the slope together.
    pub slope_sigma_m2: Option<f64>,
    /// `slope_m2 ± slope_band_m2` at `confidence`.
    pub slope_band_m2: Option<f64>,
}

impl Area {
    /// Puts the net area on a slope. A slope of 0 leaves the plan's area as the only one.
    pub fn lay_on(&mut self, slope: &Slope) {
        if slope.percent > 0.0 {
            let (ground_m2, sigma_m2) = slope.ground_m2(self.net_m2, self.sigma_m2);
            self.slope_m2 = Some(ground_m2);
            self.slope_sigma_m2 = Some(sigma_m2);
            self.slope_band_m2 = Some(self.coverage_factor * sigma_m2);
        }
    }
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct LawnArea {
    pub label: String,
    pub net_m2: f64,
    pub sigma_m2: f64,
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Band {
    pub receiver: Receiver,
    /// One sigma of a position, metres per axis, as it is believed after the walk was looked at.
    pub sigma_m: f64,
    pub sigma_source: SigmaSource,
    /// The correlation time, if one was given; `None` where it was averaged over the range stated.
    pub correlation_s: Option<f64>,
    /// The half-width at `confidence` for the most harmful correlation time.
    pub worst_case_m2: f64,
    pub terms: Vec<Term>,
}

/// What could be done for a narrower band, and the band that it would give.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Remedy {
    pub remedy: NextStep,
    pub band_m2: f64,
}

/// A lettered corner, a mark, a bed centre.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Point {
    pub name: String,
    /// `None` on a plan's own metres.
    pub lat: Option<f64>,
    pub lon: Option<f64>,
    pub x_m: f64,
    pub y_m: f64,
    pub sigma_m: f64,
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct RingFacts {
    pub fixes: u64,
    pub laps: u32,
    pub closing_gap_m: f64,
    pub corners: u32,
    /// The corners were drawn or listed, not walked.
    pub drawn: bool,
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct DeductionFacts {
    pub label: String,
    pub kind: crate::lawn::Kind,
    /// `None` on a plan's own metres.
    pub lat: Option<f64>,
    pub lon: Option<f64>,
    pub radius_m: Option<f64>,
    pub area_m2: f64,
    pub deducted_m2: f64,
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct LogFacts {
    pub files: Vec<LogFile>,
    pub dropped: Vec<Dropped>,
}

#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct PlaneFacts {
    /// `None` on a plan's own metres.
    pub lat: Option<f64>,
    pub lon: Option<f64>,
    pub projection: String,
    pub height_m: f64,
    pub height_factor: f64,
}

/// A place in eastings and northings, in the grid's unit.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct GridPlace {
    pub name: String,
    pub easting: f64,
    pub northing: f64,
}

/// The national grid that was asked for.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct GridFacts {
    /// "EPSG:25832".
    pub code: String,
    pub name: String,
    pub unit: String,
    /// By how much all places may be wrong together, metres; `None` where the register says nothing.
    pub accuracy_m: Option<f64>,
    /// The places of the document's `points`, in their order.
    pub points: Vec<GridPlace>,
    /// The centres of the document's `deductions`, in their order.
    pub deductions: Vec<GridPlace>,
}

/// The edge between two neighbouring lettered corners.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct DrawnSide {
    pub from: String,
    pub to: String,
    /// The places from corner to corner, both included, plane metres.
    pub points: Vec<Coord<f64>>,
    pub length_m: f64,
    /// Whether it is straight, as far as the receiver can tell.
    pub straight: bool,
}

/// What the sheets draw, in plane metres.
#[derive(Debug, Clone, Default)]
#[non_exhaustive]
pub struct Drawing {
    /// The sides from corner to corner, clockwise, lawn after lawn; those of what was taped, in the direction of its letters.
    pub sides: Vec<DrawnSide>,
    /// The corners of what was taped, which lie on no particular ground and are no points of the result.
    pub corners: Vec<Point>,
    pub lawns: Vec<Lawn>,
    pub deductions: Vec<Deduction>,
    /// The cleaned lines that were walked, one for each thing.
    pub walks: Vec<Vec<Coord<f64>>>,
    /// The net lawn drawn in and out so that its area is `low_m2` and `high_m2`.
    pub low: Option<geo::MultiPolygon<f64>>,
    pub high: Option<geo::MultiPolygon<f64>>,
}

/// What the tape has to say; each key is there only where there is something to say.
#[derive(Debug, Clone, Default, Serialize)]
#[non_exhaustive]
pub struct TapeFacts {
    /// Figures measured by tape alone.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub shapes: Vec<Taped>,
    /// Tape readings against the walk, and the adjustment to them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tape: Option<Agreement>,
    /// The tape lines that would catch the most error.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub check_sheet: Option<CheckSheet>,
    /// Everything as chainage and offset from a baseline.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_out: Option<SetOut>,
    /// The check sheet and the set-out of every lawn after the first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub other_lawns: Vec<LawnSheets>,
}

/// What to tape and to set out of one lawn.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct LawnSheets {
    pub label: String,
    pub check_sheet: Option<CheckSheet>,
    pub set_out: Option<SetOut>,
}

/// The result document.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Measured {
    pub schema: &'static str,
    pub status: Status,
    pub survey: Identity,
    pub area: Option<Area>,
    pub lawns: Vec<LawnArea>,
    /// Which way and how steeply the lawn falls; `None` where it is level or not known.
    pub slope: Option<Slope>,
    pub perimeter_m: Option<f64>,
    pub perimeter_sigma_m: Option<f64>,
    pub band: Option<Band>,
    pub next: Vec<Remedy>,
    pub points: Vec<Point>,
    pub ring: Option<RingFacts>,
    pub deductions: Vec<DeductionFacts>,
    /// `None` where none was asked for, or the area is withheld.
    pub order: Option<crate::order::Ordered>,
    /// What stands behind the area besides the receiver's own word, and what that would not show.
    pub checked: Checked,
    pub log: LogFacts,
    pub plane: Option<PlaneFacts>,
    /// Places on a grid; only where one was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grid: Option<GridFacts>,
    pub warnings: Vec<Notice>,
    #[serde(flatten)]
    pub taped: TapeFacts,
    /// What the result rests on beside the logs, and where each comes from ([`crate::survey::Request::settings`]).
    #[serde(skip)]
    pub settings: Vec<crate::job::keys::Setting>,
    /// What the job sheet says for the documents.
    #[serde(skip)]
    pub paperwork: crate::job::people::Paperwork,
    #[serde(skip)]
    pub drawing: Drawing,
    /// The plane itself, for going back to degrees.
    #[serde(skip)]
    pub on: Option<Plane>,
}

impl Measured {
    /// A result with no area and nothing found, to be filled in.
    pub(super) fn blank(survey: Identity, log: LogFacts) -> Measured {
        Measured {
            schema: crate::asked::SCHEMA,
            status: Status::Withheld,
            survey,
            area: None,
            lawns: Vec::new(),
            slope: None,
            perimeter_m: None,
            perimeter_sigma_m: None,
            band: None,
            next: Vec::new(),
            points: Vec::new(),
            ring: None,
            deductions: Vec::new(),
            order: None,
            checked: Checked::default(),
            log,
            plane: None,
            grid: None,
            warnings: Vec::new(),
            taped: TapeFacts::default(),
            settings: Vec::new(),
            paperwork: crate::job::people::Paperwork::default(),
            drawing: Drawing::default(),
            on: None,
        }
    }

    /// What to tape and to set out, lawn by lawn. The first lawn has a label only where there are others.
    #[must_use]
    pub fn lawn_sheets(&self) -> Vec<LawnSheets> {
        let others = &self.taped.other_lawns;
        let label = self.drawing.lawns.first().filter(|_| !others.is_empty());
        let first = LawnSheets {
            label: label.map_or(String::new(), |lawn| lawn.label.clone()),
            check_sheet: self.taped.check_sheet.clone(),
            set_out: self.taped.set_out.clone(),
        };
        std::iter::once(first)
            .chain(others.iter().cloned())
            .collect()
    }

    /// Whether its corners were drawn or listed, not walked.
    #[must_use]
    pub fn is_drawn(&self) -> bool {
        self.ring.as_ref().is_some_and(|ring| ring.drawn)
    }

    /// Whether it is in metres of a plan, and no place has a latitude or longitude.
    #[must_use]
    pub fn is_local(&self) -> bool {
        let plane = self.plane.as_ref();
        plane.is_some_and(|plane| plane.projection == crate::plane::LOCAL)
    }

    /// Why the status is not `ok`: the first of its doubts, in these units; `None` where there is none.
    #[must_use]
    pub fn reason(&self, units: Units) -> Option<String> {
        let mut warnings = self.warnings.iter();
        let first = warnings.find(|warning| warning.weight() == Weight::Doubt);
        first.map(|notice| notice.said(units))
    }
}
