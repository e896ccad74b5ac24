//! From a survey to the result document.

use super::checked::{Checked, ERRS_MORE};
use super::collect::{Collected, stem};
use super::measured::{
    Area, Band, DeductionFacts, Drawing, Identity, LawnArea, LogFacts, Measured, PlaneFacts, Point,
    RingFacts, Status, TapeFacts,
};
use super::walked::{Drift, ToldBy, Walked};
use super::{Depth, Request, Survey, checked, corners, dates, next, settled, status};
use crate::band::budget::Assessment;
use crate::band::model::SigmaSource;
use crate::band::propagate::{Pull, correlated_variances_m4, merge};
use crate::fault::Fault;
use crate::job::Job;
use crate::lawn::drawn;
use crate::normal;
use crate::notice::{Course, Notice};
use crate::order::{Slope, Take};
use crate::plane::Plane;
use crate::read::Dropped;
use crate::ring::size_m;
use crate::walk::clean::Gap;
use geo::Coord;

/// Name of the result document and its version.
pub const SCHEMA: &str = "boundwalk/result/1";
/// The revision of the method that results come from. Raised with every change to the program that moves an area, a band, a
/// count or a status by more than rounding, or adds to the document: what was kept or recorded before is then measured again,
/// although its inputs are the same. `tests/method.rs` sees to it.
pub const METHOD: u32 = 14;
pub const CONFIDENCE: f64 = 0.95;

/// Laps of one edge differ in length by less than this part of the longest, or than so many sigmas of the receiver, which turns a
/// small lawn's edge about. Tried on simulated walks (`tests/edge_length.rs`).
const SHORTER_LAP: f64 = 0.25;
const SHORTER_SIGMAS: f64 = 6.0;

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

fn log_facts(collected: &Collected, rings: &[&Walked]) -> LogFacts {
    let mut dropped = collected.dropped.clone();
    for ring in rings {
        for (_, reason) in &ring.removed {
            let text = reason.text();
            match dropped.iter_mut().find(|d| d.reason == text) {
                Some(known) => known.count += 1,
                None => dropped.push(Dropped {
                    reason: text.to_string(),
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

/// A result without an area: what was read, and why no number is given.
pub fn withheld(
    request: &Request,
    collected: &Collected,
    plane: Option<&Plane>,
    fault: &Fault,
    mut warnings: Vec<Notice>,
) -> Measured {
    warnings.insert(0, Notice::Refused(fault.clone()));
    Measured {
        schema: SCHEMA,
        status: Status::Withheld,
        survey: identity(request, collected),
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
        log: log_facts(collected, &[]),
        plane: plane.map(plane_facts),
        grid: None,
        warnings,
        taped: TapeFacts::default(),
        settings: request.settings(),
        paperwork: request.job.paperwork.clone(),
        drawing: Drawing::default(),
        on: plane.filter(|plane| !plane.is_local()).cloned(),
    }
}

/// The whole result of a survey.
pub fn report(
    request: &Request,
    collected: &Collected,
    survey: &Survey,
    mut warnings: Vec<Notice>,
) -> Measured {
    let confidence = request.confidence.unwrap_or(CONFIDENCE);
    let mut band = survey.assess(confidence);
    let walked_sigma_m2 = band.sigma_m2;
    // What is odd about a walk is not odder because a narrower band was asked for.
    let walked_band_m2 = if confidence == CONFIDENCE {
        band.band_m2
    } else {
        survey.assess(CONFIDENCE).band_m2
    };
    if let Some(adjusted) = &survey.settled.adjusted {
        band = by_tape(band, adjusted.sigma_m2, confidence);
    }
    let net_m2 = survey.gross_m2 - survey.deductions_m2;
    doubts(survey, band.band_m2, walked_band_m2, &mut warnings);
    let rings: Vec<&Walked> = survey.lawns.iter().chain(&survey.deducts).collect();
    if let Some(fault) = super::refused::fault(survey, net_m2, &band) {
        let mut refused = withheld(request, collected, Some(&survey.plane), &fault, warnings);
        refused.log = log_facts(collected, &rings);
        return refused;
    }
    let mut status = status(&warnings, request.strict);
    let mut area = Area {
        gross_m2: survey.gross_m2,
        deductions_m2: survey.deductions_m2,
        net_m2,
        sigma_m2: band.sigma_m2,
        confidence,
        coverage_factor: band.band_m2 / band.sigma_m2,
        band_m2: band.band_m2,
        low_m2: (net_m2 - band.band_m2).max(0.0),
        high_m2: net_m2 + band.band_m2,
        slope_m2: None,
        slope_sigma_m2: None,
        slope_band_m2: None,
    };
    if !(area.net_m2.is_finite() && area.band_m2.is_finite()) {
        status = Status::Withheld;
    }
    let slope = survey.slope;
    if let Some(slope) = &slope {
        area.lay_on(slope);
    }
    let first = &survey.lawns[0];
    let perimeter_m: f64 = survey.lawns.iter().map(|l| l.edge.perimeter_m).sum();
    let letters = letters(survey);
    let mut measured = Measured {
        schema: SCHEMA,
        status,
        survey: identity(request, collected),
        lawns: lawn_areas(survey, walked_sigma_m2),
        slope,
        perimeter_m: Some(perimeter_m),
        perimeter_sigma_m: Some(
            survey
                .lawns
                .iter()
                .map(|l| perimeter_sigma_m(survey, l).powi(2))
                .sum::<f64>()
                .sqrt(),
        ),
        band: Some(Band {
            receiver: first.track.receiver,
            sigma_m: first.track.sigma_m * survey.process.scale(),
            sigma_source: sigma_source(survey),
            correlation_s: collected.lawns.first().and_then(|l| l.correlation_s),
            worst_case_m2: band.worst_case_m2,
            terms: band.terms.clone(),
        }),
        next: if band.band_m2 > 0.05 * net_m2 && survey.settled.adjusted.is_none() {
            next::remedies(survey, confidence)
        } else {
            Vec::new()
        },
        points: points(survey, &letters),
        ring: Some(RingFacts {
            fixes: survey.lawns.iter().map(|l| l.line_len() as u64).sum(),
            laps: survey.lawns.iter().map(|l| l.laps).min().unwrap_or(0),
            closing_gap_m: survey
                .lawns
                .iter()
                .map(|l| l.closed.gap_m)
                .fold(0.0, f64::max),
            corners: letters.len() as u32,
            drawn: survey.lawns.iter().all(|l| l.track.drawn),
        }),
        deductions: survey
            .laid
            .deductions
            .iter()
            .map(|d| {
                let (lat, lon) = degrees(&survey.plane, d.centre);
                DeductionFacts {
                    label: d.label.clone(),
                    kind: d.kind,
                    lat,
                    lon,
                    radius_m: d.radius_m,
                    area_m2: d.area_m2,
                    deducted_m2: d.deducted_m2,
                }
            })
            .collect(),
        order: None,
        checked: checked(survey, walked_band_m2, request.depth),
        log: log_facts(collected, &rings),
        plane: Some(plane_facts(&survey.plane)),
        grid: None,
        settings: request.settings(),
        paperwork: request.job.paperwork.clone(),
        drawing: Drawing {
            lawns: survey.laid.lawns.clone(),
            deductions: survey.laid.deductions.clone(),
            ..Drawing::default()
        },
        on: Some(survey.plane.clone()).filter(|plane| !plane.is_local()),
        area: Some(area),
        warnings,
        taped: survey.settled.facts.clone(),
    };
    if status != Status::Withheld {
        order(&request.job, request.strict, &mut measured);
        status = measured.status;
    }
    if status == Status::Withheld {
        measured.checked = Checked::default();
        measured.area = None;
        measured.order = None;
    }
    if request.depth == Depth::Drawing {
        draw(survey, &rings, &mut measured);
    }
    measured
}

/// What checks the number; what would stay unseen only where a document is made.
fn checked(survey: &Survey, walked_band_m2: f64, depth: Depth) -> Checked {
    let mut checked = Checked {
        by: checked::made(survey, walked_band_m2),
        ..Checked::default()
    };
    if depth >= Depth::Document {
        checked.unseen = checked::unseen(survey, walked_band_m2);
        checked.would = checked::would(survey, &checked.unseen, walked_band_m2);
    }
    checked
}

/// What only drawings have: sides, walks and the ends of the band.
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
        // One thinning does for both, as the high end is about as far off as the low one.
        if let Ok(movable) = drawn::Movable::new(&net, area.high_m2 - area.net_m2) {
            drawing.low = movable.of_area(area.low_m2).ok();
            drawing.high = movable.of_area(area.high_m2).ok();
        }
    }
}

/// Works out the order the job sheet asks for. What it warns of comes before all else.
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
        taped: !measured.taped.shapes.is_empty(),
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

/// The band once the tape has settled the corners: what is left of the position is what makes up the new sigma.
fn by_tape(mut band: Assessment, sigma_m2: f64, confidence: f64) -> Assessment {
    // Beds and paths are not what was taped.
    let kept = |term: &str| matches!(term, "beds" | "paths");
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
    // Tapes are normal; no mixture is left to speak of.
    band.band_m2 = normal::quantile(0.5 + 0.5 * confidence) * sigma_m2;
    band.worst_case_m2 = band.worst_case_m2.min(band.band_m2 * 1.5).max(band.band_m2);
    band.sigma_m2 = sigma_m2;
    band
}

fn sigma_source(survey: &Survey) -> SigmaSource {
    let prior = survey.lawns[0].track.sigma_source;
    // Believed to be off by more than is usual of its kind: the walk has spoken.
    let process = &survey.process;
    if process.beyond_usual().ln() > process.claim.width {
        SigmaSource::Laps
    } else {
        prior
    }
}

fn tell_drift(drift: &Drift, walk: Course) -> Notice {
    let (apart_m, moves_m2) = (size_m(drift.by), drift.moves_m2);
    match drift.told_by {
        ToldBy::Laps => Notice::LapsDrift {
            walk,
            apart_m,
            moves_m2,
        },
        ToldBy::Stood => Notice::EndsStoodApart {
            walk,
            apart_m,
            moves_m2,
        },
        ToldBy::Turned => Notice::EndsTurnedApart {
            walk,
            apart_m,
            moves_m2,
        },
    }
}

/// Whether it is told that a stretch is missing. The band allows for what may hide there; that is told where it is the better part
/// of the band and more than the spare that is ordered anyway, or where so much is missing that even how often the walk goes round is not sure.
fn gap_matters(ring: &Walked, gap: &Gap, band_m2: f64) -> bool {
    const OF_BAND: f64 = 0.3;
    const BETTER_PART: f64 = 0.5;
    const OF_LAP: f64 = 0.25;
    // Growers advise 5 % of spare turf on simple shapes.
    const OF_AREA: f64 = 0.05;
    let sigma_m2 = band_m2 / normal::quantile(0.975);
    let hides_m2 = gap.may_hide_m2 / f64::from(ring.laps);
    let widens = ring.gaps_m4() > BETTER_PART * sigma_m2 * sigma_m2;
    widens && hides_m2 > (OF_BAND * band_m2).max(OF_AREA * ring.area_m2)
        || ring.track.pace_m_s * gap.lasted_s > OF_LAP * ring.edge.perimeter_m
}

/// What in the walk makes the area doubtful, weighed against its band; noise against the 95 % band before any tape.
fn doubts(survey: &Survey, band_m2: f64, walked_band_m2: f64, warnings: &mut Vec<Notice>) {
    for ring in survey.lawns.iter().chain(&survey.deducts) {
        let walk = ring.course();
        for gap in &ring.gaps {
            if gap_matters(ring, gap, band_m2) {
                warnings.push(Notice::GapMayHideACorner {
                    walk: walk.clone(),
                    lasted_s: gap.lasted_s,
                    across_m: gap.across_m,
                    hides_m2: gap.may_hide_m2,
                });
            }
        }
        if let Some(lost_s) = ring.odd.lost_beside_s {
            warnings.push(Notice::FixesLostBeside {
                walk: walk.clone(),
                lost_s,
                laps: ring.laps as usize,
            });
        }
        if let Some((least_m2, most_m2)) = ring.laps_differ_m2(walked_band_m2) {
            warnings.push(Notice::LapsDiffer {
                walk: walk.clone(),
                least_m2,
                most_m2,
            });
        }
        let (least_m, most_m) = ring.edge.laps_m;
        if most_m - least_m > (SHORTER_LAP * most_m).max(SHORTER_SIGMAS * ring.track.sigma_m) {
            warnings.push(Notice::LapLengthsDiffer {
                walk: walk.clone(),
                least_m,
                most_m,
            });
        }
        let jumps = ring.jumps_past(walked_band_m2);
        if let Some(jump) = jumps.iter().max_by(|a, b| a.by_m.total_cmp(&b.by_m)) {
            warnings.push(Notice::PositionJumps {
                walk: walk.clone(),
                times: jumps.len(),
                by_m: jump.by_m,
            });
        } else if let Some(step) = ring.doubted(walked_band_m2) {
            warnings.push(Notice::PositionMayJump {
                walk: walk.clone(),
                by_m: step.by_m(),
                moves_m2: step.moves_m2,
            });
        }
        if let Some(drift) = ring.drifts_past(walked_band_m2) {
            warnings.push(tell_drift(drift, walk.clone()));
        }
        if ring.closed.elsewhere_m2.abs() > walked_band_m2 {
            warnings.push(Notice::MayCloseElsewhere {
                walk: walk.clone(),
                more_m2: ring.closed.elsewhere_m2,
            });
        }
        let signed_m2 = ring.area_m2 - ring.carried_m2;
        let lawn = survey.laid.lawns.iter().find(|l| l.label == ring.label);
        if let Some(lawn) = lawn.filter(|_| survey.lawns.len() == 1) {
            let turned_m2 = 0.5 * (lawn.gross_m2 - ring.area_m2);
            let twice_m2 = (-2.0 * turned_m2).max(ring.edge.loops_m2.abs());
            if turned_m2 > (0.02 * signed_m2).max(0.25 * band_m2) {
                warnings.push(Notice::CrossesBack {
                    walk,
                    back_m2: turned_m2,
                });
            } else if twice_m2 > (0.02 * signed_m2).max(0.16 * band_m2) {
                warnings.push(Notice::CrossesTwice { walk, twice_m2 });
            }
        }
    }
    let scale = survey.process.scale();
    // One lap that stopped short differs from itself by what was not walked.
    let by_its_gap =
        |lawn: &Walked| lawn.laps == 1 && super::refused::stopped_short(&lawn.warnings);
    if survey.process.beyond_usual() > ERRS_MORE && !survey.lawns.iter().all(by_its_gap) {
        warnings.push(Notice::ReceiverErrsMore { times: scale });
    }
}

/// Each lawn by itself. `sigma_m2` is that of all of them together, before any tape.
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

/// One sigma of the fitted edge's length, metres.
fn perimeter_sigma_m(survey: &Survey, ring: &Walked) -> f64 {
    // Over a few metres noise turns the drawn sides about; only what is slower than that lengthens the edge.
    const SMOOTH_S: f64 = 5.0;
    // One sigma of what noise adds to the length, as a part of what was taken off for it: chosen like those of `ring::edge`.
    const OF_NOISE: f64 = 1.4;
    let mut pulls: Vec<Pull> = ring
        .edge
        .vertices
        .iter()
        .zip(ring.edge.length_gradient())
        .map(|(v, g)| Pull {
            t_s: v.t_s,
            pull_m2: g.map(|w| w * v.sigma_m),
        })
        .collect();
    pulls.sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
    let pulls = merge(&pulls, SMOOTH_S);
    let laps = f64::from(ring.laps.max(1));
    let process = &survey.process;
    let receiver: f64 = process
        .correlation_s
        .iter()
        .zip(correlated_variances_m4(&pulls, &process.correlation_s))
        .map(|(&correlation_s, variance)| process.scale2_of(correlation_s) * variance)
        .sum::<f64>()
        / laps;
    // The hand moves the edge out by e: the length grows by 2 pi e.
    let hand = std::f64::consts::TAU * ring.carry_sigma_m;
    let noise = OF_NOISE * process.scale().powi(2) * ring.edge.noise_m;
    let gaps = |gap: &Gap| (gap.may_lengthen_m / 3f64.sqrt() / laps).powi(2);
    let gaps: f64 = ring.gaps.iter().map(gaps).sum();
    (receiver + hand * hand + noise * noise + gaps + ring.edge.drawing_sigma_m.powi(2)).sqrt()
}

/// A lettered corner: its name, place and sigma.
struct Lettered {
    name: String,
    at: Coord<f64>,
    sigma_m: f64,
}

/// Corners clockwise from the one nearest the start or named first, lawn after lawn.
fn letters(survey: &Survey) -> Vec<Lettered> {
    let scale = survey.process.scale();
    survey
        .lawns
        .iter()
        .zip(corners::named(&survey.lawns))
        .flat_map(|(lawn, named)| {
            named.into_iter().map(move |(vertex, name)| Lettered {
                name,
                at: lawn.edge.vertices[vertex].at,
                sigma_m: lawn.edge.vertices[vertex].sigma_m * scale,
            })
        })
        .collect()
}

/// Latitude and longitude, where a place has them.
fn degrees(plane: &Plane, at: Coord<f64>) -> (Option<f64>, Option<f64>) {
    if plane.is_local() {
        return (None, None);
    }
    let (lat, lon) = plane.inverse(at);
    (Some(lat), Some(lon))
}

fn points(survey: &Survey, letters: &[Lettered]) -> Vec<Point> {
    let point = |name: String, at: Coord<f64>, sigma_m: f64| {
        let (lat, lon) = degrees(&survey.plane, at);
        Point {
            name,
            lat,
            lon,
            x_m: at.x,
            y_m: at.y,
            sigma_m,
        }
    };
    let sigma_m = survey.lawns[0].track.sigma_m * survey.process.scale();
    letters
        .iter()
        .map(|l| point(l.name.clone(), l.at, l.sigma_m))
        .chain(
            survey
                .beds
                .iter()
                .map(|b| point(b.label.clone(), b.centre, sigma_m)),
        )
        .collect()
}
