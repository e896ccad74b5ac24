//! The pipeline for one survey, and its result.

pub mod beds;
pub mod checked;
pub mod collect;
pub mod corners;
mod dates;
mod ground;
pub mod measured;
pub mod next;
mod on_grid;
mod refused;
pub mod reliability;
pub mod report;
pub mod settled;
mod taken;
pub mod taped;
pub mod walked;

pub use crate::asked::{Depth, Request};
pub use crate::read::Input;
pub use measured::Measured;

use crate::band::budget::{Assessment, Causes, Claimed, Term, variance_m4};
use crate::band::evidence::Difference;
use crate::band::model::{Process, Receiver, SigmaSource};
use crate::band::propagate::Pull;
use crate::fault::{Fault, Kind as FaultKind};
use crate::fix::Fix;
use crate::grid::{self, Grid};
use crate::job::{Carry, Job};
use crate::lawn::region::Sides;
use crate::lawn::{self, Laid, Outer, Shape, Taking};
use crate::notice::{Notice, Weight};
use crate::order::Slope;
use crate::plane::Plane;
use crate::read::Outline;
use crate::ring::edge::Vertex;
use crate::ring::foot;
use collect::Collected;
use measured::Status;
use rstar::primitives::GeomWithData;
use rstar::{PointDistance, RTree};
use settled::Settled;
use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::sync::Arc;
use walked::{Asked, Placed, Walked};

/// Everything known about a survey once its area and band are.
pub struct Survey {
    pub plane: Plane,
    pub lawns: Vec<Walked>,
    /// Walked deductions, in the order of [`Survey::laid`]'s first deductions.
    pub deducts: Vec<Walked>,
    pub laid: Laid,
    pub beds: Vec<beds::Bed>,
    pub process: Process,
    /// What was believed of the receiver before the passes were compared.
    pub prior: Process,
    pub causes: Causes,
    /// Of process and causes, once it is asked for.
    claimed: OnceCell<Claimed>,
    pub gross_m2: f64,
    pub deductions_m2: f64,
    pub warnings: Vec<Notice>,
    /// How the ground falls, where that is known.
    pub slope: Option<Slope>,
    /// What the tape says of the walk.
    pub settled: Settled,
}

/// Whether the job sheet has readings to set the walk against.
fn taped(job: &Job) -> bool {
    !(job.tapes.is_empty() && job.squares.is_empty() && job.offsets.is_empty())
}

/// Measures one survey.
///
/// # Errors
/// A [`Fault`] of kind `Unreadable` or `Usage` where there is nothing to report on. A survey that was read but
/// gives no honest number is *not* an error: it comes back with status `withheld`, no area, and the reason in
/// its warnings.
pub fn measure(request: &Request) -> Result<Measured, Fault> {
    request.check()?;
    // A grid that can't be had is said before anything is read.
    let code = request.grid.as_deref();
    let grid = code
        .filter(|_| !grid::is_local(code))
        .map(Grid::new)
        .transpose()?;
    if request.logs.is_empty() && request.job.is_taped() {
        return taped::alone(request).map_err(|faults| {
            let sheet = request.job.sheet.as_ref();
            faults.first(&sheet.map_or(String::new(), |s| s.path.display().to_string()))
        });
    }
    let mut measured = on_the_ground(request)?;
    if let Some(grid) = grid {
        on_grid::put(&mut measured, &grid)?;
    }
    Ok(measured)
}

fn on_the_ground(request: &Request) -> Result<Measured, Fault> {
    let mut collected = match collect::collect(request) {
        Ok(collected) => collected,
        Err(fault) if fault.kind() == FaultKind::Withheld => {
            return Ok(report::withheld(
                request,
                &Collected::default(),
                None,
                &fault,
                Vec::new(),
            ));
        }
        Err(fault) => return Err(fault),
    };
    let plane = collected.plane()?;
    match survey(request, &mut collected, plane.clone()) {
        Ok(survey) => Ok(report::report(request, &collected, &survey)),
        Err((fault, warnings)) if fault.kind() == FaultKind::Withheld => Ok(report::withheld(
            request,
            &collected,
            Some(&plane),
            &fault,
            warnings,
        )),
        Err((fault, _)) => Err(fault),
    }
}

type Refused = (Fault, Vec<Notice>);

fn survey(request: &Request, collected: &mut Collected, plane: Plane) -> Result<Survey, Refused> {
    let mut warnings = collected.warnings.clone();
    warnings.extend(collected.told_local());
    for log in collected.logs() {
        walked::listed::refuse_plan_metres(log).map_err(|f| (f, warnings.clone()))?;
    }
    let found = rings(request, collected, &plane, &mut warnings);
    let Tracks {
        mut lawns,
        inside: deducts,
    } = found.map_err(|f| (f, warnings.clone()))?;
    corners::fix(&request.job.corners, &plane, &mut lawns, &mut warnings);
    if let [only] = lawns.as_mut_slice()
        && !request.job.edges.is_empty()
    {
        corners::carry_sides(
            only,
            &request.job.edges,
            collected
                .lawns
                .first()
                .map_or(Carry::default(), |l| l.carry),
        )
        .map_err(|f| (f, warnings.clone()))?;
    }
    for ring in lawns.iter().chain(&deducts) {
        warnings.extend(ring.warnings.iter().cloned());
    }
    warnings.extend(walked::listed::drawn(lawns.iter().chain(&deducts)));

    let beds = beds::find(request, collected, &plane, &lawns, &mut warnings);
    let outers: Vec<Outer> = lawns
        .iter()
        .map(|l| Outer {
            label: l.label.clone(),
            ring: l.edge.ring(),
        })
        .collect();
    let mut takings: Vec<Taking> = deducts
        .iter()
        .map(|d| Taking {
            label: d.label.clone(),
            shape: Shape::Walked(d.edge.ring()),
        })
        .collect();
    for path in &collected.paths {
        let fixes = Cow::Borrowed(&path.part.log.fixes[..]);
        let line = beds::path_line(Placed::new(fixes, &plane, path.part.sigma_m));
        takings.push(Taking {
            label: path.part.label.clone(),
            shape: Shape::Path {
                line,
                width_m: path.width_m,
            },
        });
    }
    takings.extend(beds.iter().map(|b| Taking {
        label: b.label.clone(),
        shape: Shape::Bed {
            centre: b.centre,
            radius_m: b.radius_m,
        },
    }));
    let laid = lawn::lay(&outers, &takings).map_err(|f| (f, warnings.clone()))?;
    warnings.extend(taken::doubts(&laid));
    if laid.overlap_m2 > 0.01 * laid.lawns.iter().map(|l| l.gross_m2).sum::<f64>() {
        warnings.push(Notice::LawnsOverlap {
            shared_m2: laid.overlap_m2,
        });
    }

    let gross_m2: f64 = lawns.iter().map(|l| l.area_m2).sum();
    // Adding 0 turns the -0 of an empty sum into 0.
    let deductions_m2 = laid.deductions.iter().map(|d| d.deducted_m2).sum::<f64>() + 0.0;
    let claim = lawns
        .first()
        .map_or(Receiver::Unknown.claim(SigmaSource::Assumed), Walked::claim);
    let correlation_s = collected.lawns.first().and_then(|l| l.correlation_s);
    let prior = Process::of(claim, correlation_s);
    let mut process = prior.clone();
    // What differences say together costs their cube: of very many lawns some are asked, spread through all.
    const MOST_SEEN: usize = 96;
    let asked = |of: fn(&Walked) -> &[Difference]| {
        let seen: Vec<Difference> = lawns.iter().flat_map(|l| of(l).iter().copied()).collect();
        let every = seen.len().div_ceil(MOST_SEEN).max(1);
        seen.into_iter().step_by(every).collect::<Vec<_>>()
    };
    let rough: Vec<_> = lawns.iter().filter_map(|lawn| lawn.rough).collect();
    let (seen, stood) = (asked(|l| &l.differences), asked(|l| &l.stood));
    process.learn(&seen, &stood, &rough);
    let causes = causes(collected, &lawns, &deducts, &laid, &beds);
    let mut survey = Survey {
        plane,
        lawns,
        deducts,
        laid,
        beds,
        process,
        prior,
        causes,
        claimed: OnceCell::new(),
        gross_m2,
        deductions_m2,
        warnings,
        slope: None,
        settled: Settled::default(),
    };
    let mut told = Vec::new();
    survey.slope = ground::slope(&survey, &request.job, &mut told);
    survey.warnings.append(&mut told);
    let confidence = request.confidence.unwrap_or(report::CONFIDENCE);
    if taped(&request.job) {
        survey.settled = settled::settle(&survey, &request.job);
        survey.warnings.append(&mut survey.settled.warnings);
    }
    if let Some(adjusted) = &survey.settled.adjusted {
        // The picture, and with it the order, shows what the tape settled on.
        let scale = survey.process.scale();
        for (lawn, moved) in survey.lawns.iter_mut().zip(&adjusted.lawns) {
            let was_m = crate::ring::perimeter_m(&lawn.edge.ring());
            for (vertex, &at) in lawn.edge.vertices.iter_mut().zip(&moved.edge) {
                vertex.at = at;
            }
            for &(vertex, sigma_m) in &moved.corner_sigma_m {
                if let Some(corner) = lawn.edge.vertices.get_mut(vertex) {
                    corner.sigma_m = sigma_m / scale;
                }
            }
            lawn.area_m2 = moved.area_m2;
            lawn.edge.fill(moved.area_m2);
            // The letters stay where they were.
            lawn.start = moved.first.unwrap_or(lawn.start);
            if was_m > 0.0 {
                lawn.edge.perimeter_m *= crate::ring::perimeter_m(&lawn.edge.ring()) / was_m;
            }
        }
        let outers: Vec<Outer> = survey
            .lawns
            .iter()
            .map(|l| Outer {
                label: l.label.clone(),
                ring: l.edge.ring(),
            })
            .collect();
        survey.laid = lawn::lay(&outers, &takings).map_err(|f| (f, survey.warnings.clone()))?;
        survey.gross_m2 = survey.lawns.iter().map(|l| l.area_m2).sum();
        survey.deductions_m2 = survey
            .laid
            .deductions
            .iter()
            .map(|d| d.deducted_m2)
            .sum::<f64>()
            + 0.0;
    }
    if request.depth >= Depth::Document {
        let sheets = settled::sheets(&survey, confidence);
        survey.settled.if_taped = sheets.if_taped;
        let facts = &mut survey.settled.facts;
        facts.check_sheet = sheets.check_sheet;
        facts.set_out = sheets.set_out;
        facts.other_lawns = sheets.other_lawns;
    }
    Ok(survey)
}

/// The rings found in one part's log, or in all.
#[derive(Default)]
struct Tracks {
    lawns: Vec<Walked>,
    inside: Vec<Walked>,
}

impl Tracks {
    fn one(lawn: Walked) -> Tracks {
        Tracks {
            lawns: vec![lawn],
            inside: Vec::new(),
        }
    }

    fn extend(&mut self, other: Tracks) {
        self.lawns.extend(other.lawns);
        self.inside.extend(other.inside);
    }
}

/// Measures everything that was walked round. The logs' fixes are given away for it, unless the job sheet has places that are
/// to be found among them afterwards.
fn rings(
    request: &Request,
    collected: &mut Collected,
    plane: &Plane,
    warnings: &mut Vec<Notice>,
) -> Result<Tracks, Fault> {
    let keep = !(request.job.beds.is_empty() && request.job.corners.is_empty());
    let mut all = Tracks::default();
    for k in 0..collected.lawns.len() {
        let given = match keep {
            true => Vec::new(),
            false => std::mem::take(&mut collected.lawns[k].log.fixes),
        };
        let part = &collected.lawns[k];
        let fixes = match keep {
            true => Cow::Borrowed(&part.log.fixes[..]),
            false => Cow::Owned(given),
        };
        let asked = Asked::of(part);
        let mut found = tracks(fixes, plane, &asked, warnings)
            .or_else(|refused| between_corners(request, collected, plane, &asked, refused))?;
        if let Some(lawn) = found.lawns.last_mut() {
            let lost_s = part.log.lost_at_end_s + walked::held_at_end_s(lawn);
            lawn.warnings.extend(walked::lost_at_end(lawn, lost_s));
        }
        all.extend(found);
    }
    for part in &mut collected.deducts {
        let fixes = Cow::Owned(std::mem::take(&mut part.log.fixes));
        let placed = Placed::new(fixes, plane, part.sigma_m);
        all.inside.push(walked::measure(placed, &Asked::of(part))?);
    }
    Ok(all)
}

/// A walk that does not come round but stood at corners which are taped all round is a lawn for all that, if it is the only
/// one of the job.
fn between_corners(
    request: &Request,
    collected: &Collected,
    plane: &Plane,
    asked: &Asked,
    refused: Fault,
) -> Result<Tracks, Fault> {
    let [part] = collected.lawns.as_slice() else {
        return Err(refused);
    };
    let placed = Placed::new(Cow::Borrowed(&part.log.fixes), plane, asked.sigma_m);
    walked::cornered::measure(placed, plane, asked, &request.job, &refused)
        .map(Tracks::one)
        .ok_or(refused)
}

/// Measures a log's tracks. One track is one ring. Of several that each come round, those wholly inside another are
/// taken off it; pieces that only come round together are one walk.
fn tracks(
    fixes: Cow<'_, [Fix]>,
    plane: &Plane,
    asked: &Asked,
    warnings: &mut Vec<Notice>,
) -> Result<Tracks, Fault> {
    let declared = |fix: &Fix| match asked.outlines.get(&fix.track) {
        Some(Outline::Line) | None => false,
        Some(_) => true,
    };
    let first = fixes.first().map(|fix| fix.track);
    let plain = |fix: &Fix| Some(fix.track) == first && !declared(fix);
    if fixes.iter().all(plain) {
        let placed = Placed::new(fixes, plane, asked.sigma_m);
        return walked::measure(placed, asked).map(Tracks::one);
    }
    let (said, others): (Vec<_>, Vec<_>) = fixes.iter().partition(|fix| declared(fix));
    let mut found = declared_rings(&said, plane, asked, warnings)?;
    if !others.is_empty() {
        found.extend(undeclared_rings(&others, plane, asked, warnings)?);
    }
    Ok(found)
}

/// Rings of which the list itself says what they are.
fn declared_rings(
    fixes: &[&Fix],
    plane: &Plane,
    asked: &Asked,
    warnings: &mut Vec<Notice>,
) -> Result<Tracks, Fault> {
    let mut found = Tracks::default();
    let measured = |ring: &[&Fix]| walked::measure(Placed::of(ring, plane, asked.sigma_m), asked);
    for ring in fixes.chunk_by(|a, b| a.track == b.track) {
        let outline = ring.first().and_then(|f| asked.outlines.get(&f.track));
        let measured = measured(ring);
        match outline {
            Some(Outline::TakenOff(label)) => match measured {
                Ok(mut hole) => {
                    hole.label = match label.as_str() {
                        "" => format!("ring {}", found.inside.len() + 1),
                        label => label.to_owned(),
                    };
                    found.inside.push(hole);
                }
                Err(fault) => warnings.push(Notice::HoleLeftOut {
                    why: fault.what().to_owned(),
                }),
            },
            Some(Outline::Lawn(label)) if !label.is_empty() => {
                let mut lawn = measured?;
                lawn.label.clone_from(label);
                found.lawns.push(lawn);
            }
            _ => found.lawns.push(measured?),
        }
    }
    Ok(found)
}

/// Rings of which nothing is said.
fn undeclared_rings(
    all: &[&Fix],
    plane: &Plane,
    asked: &Asked,
    warnings: &mut Vec<Notice>,
) -> Result<Tracks, Fault> {
    let measured = |fixes: &[&Fix]| walked::measure(Placed::of(fixes, plane, asked.sigma_m), asked);
    let mut names: BTreeMap<u16, Vec<&Fix>> = BTreeMap::new();
    for &fix in all {
        names.entry(fix.track).or_default().push(fix);
    }
    if names.len() == 1 {
        return measured(all).map(Tracks::one);
    }
    let own = names.values().filter_map(|own| measured(own).ok());
    let mut rings: Vec<Walked> = own.collect();
    if rings.len() < 2 && rings.len() < names.len() {
        // Pieces of one walk, or one ring and strays.
        return match (measured(all), rings.pop()) {
            (Ok(whole), _) => {
                warnings.push(Notice::TracksJoined {
                    tracks: names.len(),
                });
                Ok(Tracks::one(whole))
            }
            (Err(_), Some(one)) => {
                warnings.push(Notice::TracksLeftOut {
                    tracks: names.len(),
                });
                Ok(Tracks::one(one))
            }
            (Err(fault), None) => Err(fault),
        };
    }
    rings.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
    let mut found = Tracks::default();
    let mut outlines: Vec<Sides> = Vec::new();
    for mut ring in rings {
        let within = outlines.iter().any(|outline| {
            let mut vertices = ring.edge.vertices.iter();
            vertices.all(|v| outline.contains(v.at))
        });
        if within {
            if ring.label.is_empty() {
                ring.label = format!("ring {}", found.inside.len() + 1);
            }
            warnings.push(Notice::TrackInside {
                area_m2: ring.area_m2,
            });
            found.inside.push(ring);
        } else {
            if !found.lawns.is_empty() {
                warnings.push(Notice::TrackBeside {
                    area_m2: ring.area_m2,
                });
            }
            outlines.push(Sides::of(&ring.edge.ring()));
            found.lawns.push(ring);
        }
    }
    Ok(found)
}

/// How sure a bed's radius or a path's width is unless told, metres, one sigma.
const TAPED_SIGMA_M: f64 = 0.02;

/// Gathers everything the net area's error is made of.
fn causes(
    collected: &Collected,
    lawns: &[Walked],
    deducts: &[Walked],
    laid: &Laid,
    beds: &[beds::Bed],
) -> Causes {
    let mut causes = Causes::default();
    let mut pulls: Vec<Pull> = Vec::new();
    let (mut edge, mut sampling, mut closing, mut gaps) = (0.0f64, 0.0f64, 0.0f64, 0.0f64);
    let mut bulges = 0.0;
    let (mut smoothing, mut carried) = (0.0, 0.0);
    let live_lawn: Vec<&[f64]> = laid.lawns.iter().map(|l| l.live_sides.as_slice()).collect();
    let live_deduct: Vec<&[f64]> = laid
        .deductions
        .iter()
        .map(|d| d.live_sides.as_slice())
        .collect();
    let rings = lawns.iter().zip(live_lawn).map(|(w, l)| (w, l, 1.0));
    let rings = rings.chain(deducts.iter().zip(live_deduct).map(|(w, l)| (w, l, -1.0)));
    for (ring, live, sign) in rings {
        let whole = live.iter().all(|&part| part > 0.999);
        if whole && lawns.len() == 1 && deducts.is_empty() {
            // The walk's own pulls; of a long log there is no room for them twice.
            causes.pulls = Arc::clone(&ring.pulls);
        } else {
            let near = LiveNear::new(if whole { &[] } else { &ring.edge.vertices }, live);
            pulls.extend(
                ring.pulls
                    .iter()
                    .zip(ring.pull_at().iter())
                    .map(|(pull, at)| {
                        let part = sign * if whole { 1.0 } else { near.part(*at) };
                        Pull {
                            t_s: pull.t_s,
                            pull_m2: pull.pull_m2.map(|w| w * part),
                        }
                    }),
            );
        }
        let live_m = live_length_m(ring, live);
        let share = live_m / ring.edge.perimeter_m.max(1e-9);
        causes.gradient2_m2 += ring.gradient2_m2 * share;
        causes.laps = causes.laps.max(f64::from(ring.laps));
        causes.passes_s = causes.passes_s.max(ring.passes_s());
        if whole {
            causes.coarse.push(ring.coarse.clone());
        }
        edge += (live_m * ring.carry_sigma_m).powi(2);
        sampling += ring.sampling_sigma_m2.powi(2);
        closing += ring.closing_sigma_m2.powi(2);
        gaps += ring.gaps_m4();
        bulges += sign * ring.bulges_m2;
        smoothing += sign * ring.smoothing_m2;
        carried += sign * ring.carried_m2;
    }
    if !pulls.is_empty() {
        causes.pulls = Arc::new(pulls);
    }
    causes.in_order_of_time();
    let mut term = |term: &'static str, variance_m4: f64, correction_m2: f64| {
        if variance_m4 > 0.0 || correction_m2 != 0.0 {
            causes.others.push(Term {
                term,
                sigma_m2: variance_m4.sqrt(),
                correction_m2,
            });
        }
    };
    term("edge", edge, carried);
    term("sampling", sampling, smoothing);
    term("closing", closing, 0.0);
    term("gaps", gaps, bulges);
    let rest = &laid.deductions[deducts.len().min(laid.deductions.len())..];
    let (paths, discs) = rest.split_at(collected.paths.len().min(rest.len()));
    let path_m4: f64 = paths
        .iter()
        .zip(&collected.paths)
        .map(|(d, p)| (d.live_m / 2.0 * p.width_sigma_m.unwrap_or(TAPED_SIGMA_M)).powi(2))
        .sum();
    term("paths", path_m4, 0.0);
    let bed_m4: f64 = discs
        .iter()
        .zip(beds)
        .map(|(d, b)| (d.live_m * b.radius_sigma_m).powi(2))
        .sum();
    term("beds", bed_m4, 0.0);
    causes
}

/// Which part of an edge is live near a place: not covered by a deduction.
struct LiveNear<'a> {
    sides: RTree<GeomWithData<rstar::primitives::Line<[f64; 2]>, usize>>,
    vertices: &'a [Vertex],
    live: &'a [f64],
}

impl LiveNear<'_> {
    fn new<'a>(vertices: &'a [Vertex], live: &'a [f64]) -> LiveNear<'a> {
        let next = vertices.iter().skip(1).chain(vertices.first());
        let sides = vertices.iter().zip(next).enumerate();
        let sides = sides.map(|(i, (a, b))| {
            let [a, b] = [a, b].map(|v| [v.at.x, v.at.y]);
            GeomWithData::new(rstar::primitives::Line::new(a, b), i)
        });
        LiveNear {
            sides: RTree::bulk_load(sides.collect()),
            vertices,
            live,
        }
    }

    /// Of the side nearest to a place; of several as near, at a corner, of the first.
    fn part(&self, at: geo::Coord<f64>) -> f64 {
        // Far more than rounding makes of a square of metres.
        const ROUNDING: f64 = 1e-9;
        let place = [at.x, at.y];
        let Some(nearest) = self.sides.nearest_neighbor(&place) else {
            return 1.0;
        };
        let within_m2 = nearest.distance_2(&place) * (1.0 + ROUNDING) + ROUNDING;
        let n = self.vertices.len();
        let away_m = |i: usize| {
            let near = foot(at, self.vertices[i].at, self.vertices[(i + 1) % n].at);
            crate::ring::distance_m(near, at)
        };
        self.sides
            .locate_within_distance(place, within_m2)
            .map(|side| (away_m(side.data), side.data))
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))
            .map_or(1.0, |(_, i)| self.live.get(i).copied().unwrap_or(1.0))
    }
}

/// Length of the edge that is live, metres.
fn live_length_m(ring: &Walked, live: &[f64]) -> f64 {
    let vertices = &ring.edge.vertices;
    let n = vertices.len();
    let (mut whole_m, mut live_m) = (0.0, 0.0);
    for i in 0..n {
        let side_m = crate::ring::distance_m(vertices[i].at, vertices[(i + 1) % n].at);
        whole_m += side_m;
        live_m += side_m * live.get(i).copied().unwrap_or(1.0);
    }
    if whole_m > 0.0 {
        ring.edge.perimeter_m * live_m / whole_m
    } else {
        0.0
    }
}

impl Survey {
    fn claimed(&self) -> &Claimed {
        self.claimed
            .get_or_init(|| Claimed::new(&self.process, &self.causes))
    }

    pub fn assess(&self, confidence: f64) -> Assessment {
        self.claimed()
            .assess(&self.process, &self.causes, confidence)
    }

    /// Variance of the net area before any tape, m⁴.
    pub fn variance_m4(&self) -> f64 {
        self.claimed().variance_m4(&self.process, &self.causes)
    }

    /// Variance of the area that one of its rings goes round, m⁴, from where it was walked.
    pub fn variance_inside_m4(&self, ring: &Walked) -> f64 {
        let own = ring.causes();
        // One lawn with nothing taken off: its pulls are those of the net area.
        if own.pulls == self.causes.pulls && own.coarse == self.causes.coarse {
            self.claimed().variance_m4(&self.process, &own)
        } else {
            variance_m4(&self.process, &own)
        }
    }
}

/// The status that a set of warnings amounts to.
pub fn status(warnings: &[Notice], strict: bool) -> Status {
    match warnings.iter().any(|w| w.weight() == Weight::Doubt) {
        true if strict => Status::Withheld,
        true => Status::Check,
        false => Status::Ok,
    }
}
