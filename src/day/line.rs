//! What the day's table says of one survey: its figures in one line. It comes from a result that was just measured, or from a result
//! document that an earlier run kept; both give the same line.

use crate::survey::Measured;
use crate::survey::checked::Checked;
use crate::survey::measured::Status;
use crate::units::Units;
use serde::Deserialize;
use serde_json::Value;

/// The area and its band at the confidence asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Figures {
    /// Net area, square metres.
    pub net_m2: f64,
    /// Half of the band, square metres.
    pub band_m2: f64,
    /// Lower end of the band, square metres.
    pub low_m2: f64,
    /// Upper end of the band, square metres.
    pub high_m2: f64,
}

impl Figures {
    /// The band as percent of the net area.
    #[must_use]
    pub fn percent(&self) -> f64 {
        100.0 * self.band_m2 / self.net_m2.max(f64::MIN_POSITIVE)
    }
}

/// One survey in one line.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Line {
    /// What the survey is called.
    pub name: String,
    /// How it ended.
    pub status: Status,
    /// The job's number.
    pub job: Option<String>,
    /// Where it is.
    pub site: Option<String>,
    /// The day it was walked, ISO 8601.
    pub date: Option<String>,
    /// Area and band; `None` where it is withheld.
    pub area: Option<Figures>,
    /// Pieces of turf ordered, where an order was asked for.
    pub pieces: Option<u64>,
    /// Pallets that they come on.
    pub pallets: Option<u64>,
    /// How many pieces the lawn as measured takes.
    pub laid_pieces: Option<u64>,
    /// Independent tests that the area passed or failed; `None` where it is withheld.
    pub checks: Option<u32>,
    /// Why it is not `ok`.
    pub reason: Option<String>,
}

impl Line {
    /// The line of a result; its reason tells lengths and areas in these units.
    #[must_use]
    pub fn of(measured: &Measured, units: Units) -> Line {
        let survey = &measured.survey;
        let turf = measured
            .order
            .as_ref()
            .and_then(|order| order.turf.as_ref());
        Line {
            name: survey.name.clone(),
            status: measured.status,
            job: survey.job.clone(),
            site: survey.site.clone(),
            date: survey.date.clone(),
            area: measured.area.as_ref().map(|area| Figures {
                net_m2: area.net_m2,
                band_m2: area.band_m2,
                low_m2: area.low_m2,
                high_m2: area.high_m2,
            }),
            pieces: turf.map(|turf| turf.ordered_pieces),
            pallets: turf.map(|turf| turf.pallets),
            laid_pieces: turf.map(|turf| turf.laid_pieces),
            checks: measured.area.as_ref().map(|_| measured.checked.count()),
            reason: measured.reason(units),
        }
    }

    /// The line from a result document that was kept. The document does not say which of its warnings decided the
    /// status, so `reason` is handed in. `None` where it is not such a document.
    #[must_use]
    pub fn kept(document: &Value, reason: Option<String>) -> Option<Line> {
        let text = |path: &str| {
            document
                .pointer(path)
                .and_then(Value::as_str)
                .map(str::to_owned)
        };
        let number = |path: &str| document.pointer(path).and_then(Value::as_f64);
        let count = |path: &str| document.pointer(path).and_then(Value::as_u64);
        let status = match document.get("status")?.as_str()? {
            "ok" => Status::Ok,
            "check" => Status::Check,
            "withheld" => Status::Withheld,
            _ => return None,
        };
        let area = match number("/area/net_m2") {
            Some(net_m2) => Some(Figures {
                net_m2,
                band_m2: number("/area/band_m2")?,
                low_m2: number("/area/low_m2")?,
                high_m2: number("/area/high_m2")?,
            }),
            None => None,
        };
        Some(Line {
            name: text("/survey/name")?,
            status,
            job: text("/survey/job"),
            site: text("/survey/site"),
            date: text("/survey/date"),
            area,
            pieces: count("/order/turf/ordered_pieces"),
            pallets: count("/order/turf/pallets"),
            laid_pieces: count("/order/turf/laid_pieces"),
            checks: area
                .and_then(|_| Checked::deserialize(document.get("checked")?).ok())
                .map(|checked| checked.count()),
            reason,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kept_document_gives_the_same_line() {
        let sheet = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/garden/job.toml");
        let job = crate::job::Job::from_file(sheet.as_ref()).unwrap();
        let measured = crate::survey::measure(&crate::survey::Request {
            name: "yard/garden".into(),
            job,
            ..Default::default()
        })
        .unwrap();
        let bytes = crate::sheet::json::document(&measured).unwrap();
        let document: Value = serde_json::from_slice(&bytes).unwrap();
        let line = Line::of(&measured, Units::Metric);
        assert!(line.pieces.is_some_and(|n| n > 100));
        assert_eq!(Line::kept(&document, line.reason.clone()), Some(line));
        assert_eq!(Line::kept(&Value::Null, None), None);
    }
}
