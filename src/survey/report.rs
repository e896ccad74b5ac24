//! From a survey to the result document: the area with its band and status, or the reason why there is none, with everything that goes
//! beside it.

use super::checked::Checked;
use super::checking;
use super::collect::{Collected, stem};
use super::measured::{
    Area, Band, DeductionFacts, Drawing, Identity, LawnArea, LogFacts, Measured, PlaneFacts,
    RingFacts, Status,
};
use super::walked::Walked;
use super::{Depth, Request, Survey, dates, doubts, next, places, settled, status};
use crate::band::budget::Assessment;
use crate::band::model::SigmaSource;
use crate::cause::Cause;
use crate::fault::Fault;
use crate::job::Job;
use crate::lawn::{Deduction, drawn};
use crate::limits::SPARE_TURF_SHARE;
use crate::normal;
use crate::notice::Notice;
use crate::order::{Slope, Take};
use crate::plane::Plane;
use crate::read::Dropped;

/// The confidence of the band where none is asked for: the band holds the true area 95 times in 100.
pub(crate) const CONFIDENCE: f64 = 0.95;

/// What the survey is called: as it was asked for, else after its first file.
fn identity(request: &Request, collected: &Collected) -> Identity {
    let name = match (&request.name, collected.files.first()) {
        (name, _) if !name.is_empty() => name.clone(),
        (_, Some(file)) => stem(&file.name).to_string(),
        _ => request
            .logs
            .first()
            .map_or_else(String::new, |input| stem(&input.name()).to_string()),
    };
    let date = dates::walked_on(&request.job, &collected.files);
    Identity::of(name, &request.job, date)
}

fn plane_facts(plane: &Plane) -> PlaneFacts {
    PlaneFacts {
        lat: (!plane.is_local()).then_some(plane.lat_deg),
        lon: (!plane.is_local()).then_some(plane.lon_deg),
        projection: plane.proj_string(),
        height_m: plane.height_m,
        height_factor: plane.height_factor,
    }
}

/// What was read and what was dropped, with the fixes that the walks themselves left out counted by reason.
fn log_facts(collected: &Collected, rings: &[&Walked]) -> LogFacts {
    let mut dropped = collected.dropped.clone();
    for ring in rings {
        for &(_, reason) in &ring.removed {
            match dropped.iter_mut().find(|d| d.reason == reason) {
                Some(known) => known.count += 1,
                None => dropped.push(Dropped {
                    reason,
                    count: 1,
                    first: Vec::new(),
                }),
            }
        }
    }
    LogFacts {
        files: collected.files.clone(),
        dropped,
    }
}

/// What every result has, whatever came of the survey.
fn blank(
    request: &Request,
    collected: &Collected,
    rings: &[&Walked],
    plane: Option<&Plane>,
    warnings: Vec<Notice>,
) -> Measured {
    Measured {
        plane: plane.map(plane_facts),
        warnings,
        settings: request.settings(),
        paperwork: request.job.paperwork.clone(),
        on: plane.filter(|plane| !plane.is_local()).cloned(),
        ..Measured::blank(identity(request, collected), log_facts(collected, rings))
    }
}

/// A result without an area: what was read, and why no number is given.
pub(crate) fn withheld(
    request: &Request,
    collected: &Collected,
    rings: &[&Walked],
    plane: Option<&Plane>,
    fault: Fault,
    mut warnings: Vec<Notice>,
) -> Measured {
    warnings.insert(0, Notice::Refused(fault));
    blank(request, collected, rings, plane, warnings)
}

/// The bands of one survey.
struct Bands {
    confidence: f64,
    /// The band at this confidence, with what the tape has settled.
    band: Assessment,
    /// The sigma before any tape, and the band at 95 % before any tape. Findings about a walk are weighed against the latter, so that
    /// asking for a narrower band does not make a walk odder.
    walked_sigma_m2: f64,
    walked_band_m2: f64,
}

impl Bands {
    fn of(survey: &Survey, confidence: f64) -> Bands {
        let walked = survey.assess(confidence);
        Bands {
            confidence,
            walked_sigma_m2: walked.sigma_m2,
            walked_band_m2: match confidence == CONFIDENCE {
                true => walked.band_m2,
                false => survey.assess(CONFIDENCE).band_m2,
            },
            band: match &survey.settled.adjusted {
                Some(adjusted) => by_tape(walked, adjusted.sigma_m2, confidence),
                None => walked,
            },
        }
    }
}

/// The whole result of a survey.
pub(crate) fn report(
    request: &Request,
    collected: &Collected,
    survey: &Survey,
    mut warnings: Vec<Notice>,
) -> Measured {
    let bands = Bands::of(survey, request.confidence.unwrap_or(CONFIDENCE));
    let band = &bands.band;
    warnings.extend(doubts::of(survey, band.band_m2, bands.walked_band_m2));
    let rings: Vec<&Walked> = survey.lawns.iter().chain(&survey.deducts).collect();
    let area = area(survey, &bands);
    let plane = Some(&survey.plane);
    if let Some(refusal) = super::refused::refusal(survey, area.net_m2, band) {
        return withheld(request, collected, &rings, plane, refusal.into(), warnings);
    }
    let letters = places::letters(survey);
    let no_tape = survey.settled.adjusted.is_none();
    let mut measured = Measured {
        status: match area.net_m2.is_finite() && area.band_m2.is_finite() {
            true => status(&warnings, request.strict),
            false => Status::Withheld,
        },
        lawns: lawn_areas(survey, bands.walked_sigma_m2),
        slope: survey.slope,
        perimeter_m: Some(survey.lawns.iter().map(|l| l.edge.perimeter_m).sum()),
        perimeter_sigma_m: Some(places::perimeters_sigma_m(survey)),
        band: Some(band_facts(collected, survey, band)),
        next: match no_tape && band.band_m2 > SPARE_TURF_SHARE * area.net_m2 {
            true => next::remedies(survey, bands.confidence),
            false => Vec::new(),
        },
        points: places::points(survey, &letters),
        ring: Some(ring_facts(survey, letters.len())),
        deductions: deductions(survey),
        checked: checked(survey, bands.walked_band_m2, request.depth),
        drawing: Drawing {
            lawns: survey.laid.lawns.clone(),
            deductions: survey.laid.deductions.clone(),
            ..Drawing::default()
        },
        area: Some(area),
        taped: survey.settled.facts.clone(),
        ..blank(request, collected, &rings, plane, warnings)
    };
    if measured.status != Status::Withheld {
        order(&request.job, request.strict, &mut measured);
    }
    if measured.status == Status::Withheld {
        measured.checked = Checked::default();
        measured.area = None;
        measured.order = None;
    }
    if request.depth == Depth::Drawing {
        draw(survey, &rings, &mut measured);
    }
    measured
}

/// The net area with its band, on the plan and on the slope.
fn area(survey: &Survey, bands: &Bands) -> Area {
    let net_m2 = survey.gross_m2 - survey.deductions_m2;
    let band = &bands.band;
    let mut area = Area {
        gross_m2: survey.gross_m2,
        deductions_m2: survey.deductions_m2,
        net_m2,
        sigma_m2: band.sigma_m2,
        confidence: bands.confidence,
        coverage_factor: band.band_m2 / band.sigma_m2,
        band_m2: band.band_m2,
        low_m2: (net_m2 - band.band_m2).max(0.0),
        high_m2: net_m2 + band.band_m2,
        slope_m2: None,
        slope_sigma_m2: None,
        slope_band_m2: None,
    };
    if let Some(slope) = &survey.slope {
        area.lay_on(slope);
    }
    area
}

fn band_facts(collected: &Collected, survey: &Survey, band: &Assessment) -> Band {
    let first = &survey.lawns[0].track;
    Band {
        receiver: first.receiver,
        sigma_m: first.sigma_m * survey.process.scale(),
        sigma_source: sigma_source(survey),
        correlation_s: collected.lawns.first().and_then(|l| l.correlation_s),
        worst_case_m2: band.worst_case_m2,
        terms: band.terms.clone(),
    }
}

fn ring_facts(survey: &Survey, corners: usize) -> RingFacts {
    let lawns = || survey.lawns.iter();
    RingFacts {
        fixes: lawns().map(|l| l.line_len() as u64).sum(),
        laps: lawns().map(|l| l.laps).min().unwrap_or(0),
        closing_gap_m: lawns().map(|l| l.closed.gap_m).fold(0.0, f64::max),
        corners: corners as u32,
        drawn: lawns().all(|l| l.track.drawn),
    }
}

fn deductions(survey: &Survey) -> Vec<DeductionFacts> {
    let facts = |deduction: &Deduction| {
        let (lat, lon) = places::degrees(&survey.plane, deduction.centre);
        DeductionFacts {
            label: deduction.label.clone(),
            kind: deduction.kind,
            lat,
            lon,
            radius_m: deduction.radius_m,
            area_m2: deduction.area_m2,
            deducted_m2: deduction.deducted_m2,
        }
    };
    survey.laid.deductions.iter().map(facts).collect()
}

/// What checks the number. What would stay unseen is worked out only where a document is made.
fn checked(survey: &Survey, walked_band_m2: f64, depth: Depth) -> Checked {
    let mut checked = Checked {
        by: checking::made(survey, walked_band_m2),
        ..Checked::default()
    };
    if depth >= Depth::Document {
        checked.unseen = checking::unseen(survey, walked_band_m2);
        checked.would = checking::would(survey, &checked.unseen, walked_band_m2);
    }
    checked
}

/// Fills in what only drawings have: sides, walks, and the net lawn at both ends of the band.
fn draw(survey: &Survey, rings: &[&Walked], measured: &mut Measured) {
    let drawing = &mut measured.drawing;
    drawing.sides = settled::drawn_sides(survey);
    drawing.walks = rings
        .iter()
        .map(|r| r.line().iter().map(|s| s.at).collect())
        .collect();
    if let Some(area) = &measured.area {
        let net = geo::MultiPolygon(
            survey
                .laid
                .lawns
                .iter()
                .flat_map(|l| l.net.clone())
                .collect(),
        );
        // Both ends of the band are about as far away, so that one thinned outline serves for both.
        if let Ok(movable) = drawn::Movable::new(&net, area.high_m2 - area.net_m2) {
            drawing.low = movable.of_area(area.low_m2).ok();
            drawing.high = movable.of_area(area.high_m2).ok();
        }
    }
}

/// Works out the order that the job sheet asks for, and the status anew. The order's warnings go before all others.
pub(super) fn order(job: &Job, strict: bool, measured: &mut Measured) {
    let (Some(settings), Some(area)) = (&job.order, &mut measured.area) else {
        return;
    };
    measured.slope = Slope::given(settings).or(measured.slope);
    if let Some(slope) = &measured.slope {
        area.lay_on(slope);
    }
    let take = Take {
        net_m2: area.net_m2,
        sigma_m2: area.sigma_m2,
        slope: measured.slope,
        taped: &measured.taped.shapes,
        lawns: &measured.drawing.lawns,
        deductions: &measured.drawing.deductions,
        perimeter_m: measured.perimeter_m,
        perimeter_sigma_m: measured.perimeter_sigma_m.unwrap_or(0.0),
    };
    let first = match crate::order::plan(&take, settings, job.price.as_ref()) {
        Ok(order) => {
            let warnings = order.warnings.clone();
            measured.order = Some(order);
            warnings
        }
        Err(fault) => vec![Notice::Refused(fault)],
    };
    measured.warnings.splice(0..0, first);
    measured.status = status(&measured.warnings, strict);
}

/// The band once the tape has settled the corners. All terms that the tape bears on are scaled alike, so that together with the others
/// they make up the new sigma.
fn by_tape(mut band: Assessment, sigma_m2: f64, confidence: f64) -> Assessment {
    // Beds and paths were not taped, so that their terms stay.
    let kept = |term: Cause| matches!(term, Cause::Beds | Cause::Paths);
    let sum = |wanted: bool| -> f64 {
        let terms = band.terms.iter().filter(|t| kept(t.term) == wanted);
        terms.map(|t| t.sigma_m2.powi(2)).sum()
    };
    let (others, were) = (sum(true), sum(false));
    let left = (sigma_m2 * sigma_m2 - others).max(0.0);
    let share = if were > 0.0 {
        (left / were).sqrt()
    } else {
        0.0
    };
    for term in band.terms.iter_mut().filter(|t| !kept(t.term)) {
        term.sigma_m2 *= share;
    }
    // A tape's error is taken as normal, so that the band is a multiple of sigma and no longer that of a mixture.
    band.band_m2 = normal::quantile(0.5 + 0.5 * confidence) * sigma_m2;
    band.worst_case_m2 = band.worst_case_m2.min(band.band_m2 * 1.5).max(band.band_m2);
    band.sigma_m2 = sigma_m2;
    band
}

/// Where the sigma that is reported comes from.
fn sigma_source(survey: &Survey) -> SigmaSource {
    let prior = survey.lawns[0].track.sigma_source;
    // If the receiver is believed to err by more than is usual of its kind, that comes from the walk.
    let process = &survey.process;
    if process.beyond_usual().ln() > process.claim.width {
        SigmaSource::Laps
    } else {
        prior
    }
}

/// The area of each lawn by itself. `sigma_m2` is that of all of them together, before any tape.
fn lawn_areas(survey: &Survey, sigma_m2: f64) -> Vec<LawnArea> {
    survey
        .lawns
        .iter()
        .zip(&survey.laid.lawns)
        .enumerate()
        .map(|(i, (walked, lawn))| {
            let taken: f64 = survey
                .laid
                .deductions
                .iter()
                .filter_map(|d| d.deducted_of_lawn_m2.get(i))
                .sum();
            let label = if lawn.label.is_empty() {
                "lawn".to_string()
            } else {
                lawn.label.clone()
            };
            let sigma_m2 = match survey.lawns.len() {
                1 => sigma_m2,
                _ => survey.variance_inside_m4(walked).sqrt(),
            };
            LawnArea {
                label,
                net_m2: walked.area_m2 - taken,
                sigma_m2,
            }
        })
        .collect()
}
