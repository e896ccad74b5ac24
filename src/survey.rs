//! The pipeline for one survey, and its result.
//!
//! [`measure`] reads the logs (`collect`), measures what was walked round (`boundaries`, `walked`), places beds (`beds`), lays all of it
//! out as lawns less deductions (`crate::lawn`), and gathers what the area's error is made of (`causes`). It learns from the walks how
//! much the receiver errs, sets the walk against the tape where there is one (`settled`), and makes the result document (`report`), with
//! what is doubtful (`doubts`), what was checked (`checked`) and what would help (`next`). A survey by tape alone takes a shorter way
//! (`taped`).

pub mod beds;
mod boundaries;
mod causes;
pub mod checked;
mod checking;
pub mod collect;
pub mod corners;
mod dates;
mod doubts;
mod ground;
mod lettered;
pub mod measured;
pub mod next;
mod on_grid;
mod places;
mod refused;
pub mod reliability;
pub mod report;
pub mod settled;
mod taken;
pub mod taped;
pub mod walked;
mod which_grid;

pub use crate::asked::{Depth, Request};
pub use crate::read::Input;
pub use measured::Measured;

use crate::band::budget::{Assessment, Causes, Claimed, variance_m4};
use crate::band::evidence::Difference;
use crate::band::model::{Process, Receiver, SigmaSource};
use crate::fault::{Fault, Kind as FaultKind};
use crate::grid::{self, Grid};
use crate::job::Job;
use crate::lawn::{self, Laid, Outer, Shape, Taking};
use crate::notice::{Notice, Weight};
use crate::order::Slope;
use crate::plane::Plane;
use crate::ring::perimeter_m;
use boundaries::Boundaries;
use collect::Collected;
use measured::Status;
use settled::{Moved, Settled};
use std::borrow::Cow;
use std::cell::OnceCell;
use walked::{Placed, Walked};

/// Everything known about a survey once its area and band are.
pub struct Survey {
    pub plane: Plane,
    pub lawns: Vec<Walked>,
    /// Walked deductions, in the order of [`Survey::laid`]'s first deductions.
    pub deducts: Vec<Walked>,
    pub laid: Laid,
    pub beds: Vec<beds::Bed>,
    pub process: Process,
    /// What was believed of the receiver before the walks were looked at.
    pub prior: Process,
    pub causes: Causes,
    /// The variances that follow from `process` and `causes`, worked out when they are first asked for.
    claimed: OnceCell<Claimed>,
    pub gross_m2: f64,
    pub deductions_m2: f64,
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
    // A grid that cannot be had is told before anything is read.
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

/// Measures a survey that has logs. What kept it from an area is a withheld result, if anything could be read at all.
fn on_the_ground(request: &Request) -> Result<Measured, Fault> {
    let mut collected = match collect::collect(request) {
        Ok(collected) => collected,
        Err(fault) if fault.kind() == FaultKind::Withheld => {
            let nothing = Collected::default();
            return Ok(report::withheld(
                request,
                &nothing,
                &[],
                None,
                fault,
                Vec::new(),
            ));
        }
        Err(fault) => return Err(which_grid::asked(fault, request)),
    };
    let plane = collected.plane()?;
    let mut told = collected.warnings.clone();
    told.extend(collected.told_local());
    match survey(request, &mut collected, plane.clone(), &mut told) {
        Ok(survey) => Ok(report::report(request, &collected, &survey, told)),
        Err(fault) if fault.kind() == FaultKind::Withheld => Ok(report::withheld(
            request,
            &collected,
            &[],
            Some(&plane),
            fault,
            told,
        )),
        Err(fault) => Err(fault),
    }
}

/// From the logs to the area, what its error is made of, and what a tape makes of both. Each step gives its value and the notices to be
/// told with it. They are gathered in `told` as they come, so that they also stand beside a refusal later on.
fn survey(
    request: &Request,
    collected: &mut Collected,
    plane: Plane,
    told: &mut Vec<Notice>,
) -> Result<Survey, Fault> {
    let job = &request.job;
    let Boundaries {
        lawns,
        inside: deducts,
        told: of_edges,
    } = boundaries::find(job, collected, &plane)?;
    told.extend(of_edges);
    let (beds, of_beds) = beds::find(request, collected, &plane, &lawns);
    told.extend(of_beds);
    let takings = takings(collected, &plane, &deducts, &beds);
    let laid = lawn::lay(&outers(&lawns), &takings)?;
    told.extend(taken::doubts(&laid));
    let claim = lawns
        .first()
        .map_or(Receiver::Unknown.claim(SigmaSource::Assumed), Walked::claim);
    let prior = Process::of(claim, collected.lawns.first().and_then(|l| l.correlation_s));
    let process = learned(&prior, &lawns);
    let (slope, of_slope) = ground::slope(&lawns, &process, job);
    told.extend(of_slope);
    let mut survey = Survey {
        plane,
        gross_m2: lawns.iter().map(|l| l.area_m2).sum(),
        deductions_m2: deducted_m2(&laid),
        process,
        prior,
        causes: causes::of(collected, &lawns, &deducts, &laid, &beds),
        lawns,
        deducts,
        laid,
        beds,
        claimed: OnceCell::new(),
        slope,
        settled: Settled::default(),
    };
    if taped(job) {
        let (settled, of_tapes) = settled::settle(&survey, job, told);
        survey.settled = settled;
        told.extend(of_tapes);
        survey.take_up_the_tape(&takings)?;
    }
    if request.depth >= Depth::Document {
        let confidence = request.confidence.unwrap_or(report::CONFIDENCE);
        let sheets = settled::sheets(&survey, confidence);
        survey.settled.take(sheets);
    }
    Ok(survey)
}

/// The lawns' edges, as the lawn room takes them.
fn outers(lawns: &[Walked]) -> Vec<Outer> {
    let outer = |lawn: &Walked| Outer {
        label: lawn.label.clone(),
        ring: lawn.edge.ring(),
    };
    lawns.iter().map(outer).collect()
}

/// All that is to be taken off, in this order: what was walked round, the paths, the beds.
fn takings(
    collected: &Collected,
    plane: &Plane,
    deducts: &[Walked],
    beds: &[beds::Bed],
) -> Vec<Taking> {
    let walked = deducts.iter().map(|deduct| Taking {
        label: deduct.label.clone(),
        shape: Shape::Walked(deduct.edge.ring()),
    });
    let paths = collected.paths.iter().map(|path| {
        let fixes = Cow::Borrowed(&path.part.log.fixes[..]);
        Taking {
            label: path.part.label.clone(),
            shape: Shape::Path {
                line: beds::path_line(Placed::new(fixes, plane, path.part.sigma_m)),
                width_m: path.width_m,
            },
        }
    });
    let beds = beds.iter().map(|bed| Taking {
        label: bed.label.clone(),
        shape: Shape::Bed {
            centre: bed.centre,
            radius_m: bed.radius_m,
        },
    });
    walked.chain(paths).chain(beds).collect()
}

/// What is taken off all lawns, m².
fn deducted_m2(laid: &Laid) -> f64 {
    // Adding 0 turns the -0 of an empty sum into 0.
    laid.deductions.iter().map(|d| d.deducted_m2).sum::<f64>() + 0.0
}

/// What is believed of the receiver once the walks themselves have been looked at: their passes, their standstills and their roughness.
fn learned(prior: &Process, lawns: &[Walked]) -> Process {
    // The time for weighing differences grows with the cube of their number: of very many lawns only some are asked, spread through all.
    const MOST_SEEN: usize = 96;
    let asked = |of: fn(&Walked) -> &[Difference]| {
        let seen: Vec<Difference> = lawns.iter().flat_map(|l| of(l).iter().copied()).collect();
        let every = seen.len().div_ceil(MOST_SEEN).max(1);
        seen.into_iter().step_by(every).collect::<Vec<_>>()
    };
    let rough: Vec<_> = lawns.iter().filter_map(|lawn| lawn.witness.rough).collect();
    let (seen, stood) = (
        asked(|l| &l.witness.differences),
        asked(|l| &l.witness.stood),
    );
    let mut process = prior.clone();
    process.learn(&seen, &stood, &rough);
    process
}

impl Survey {
    /// Where an adjustment by tape was accepted, puts its edges and areas in the place of those walked, so that the plan and the order
    /// follow it.
    fn take_up_the_tape(&mut self, takings: &[Taking]) -> Result<(), Fault> {
        let Some(adjusted) = &self.settled.adjusted else {
            return Ok(());
        };
        let scale = self.process.scale();
        for (lawn, moved) in self.lawns.iter_mut().zip(&adjusted.lawns) {
            lawn.move_to(moved, scale);
        }
        self.laid = lawn::lay(&outers(&self.lawns), takings)?;
        self.gross_m2 = self.lawns.iter().map(|l| l.area_m2).sum();
        self.deductions_m2 = deducted_m2(&self.laid);
        Ok(())
    }

    /// The variances for the receiver's errors, kept for all that asks for them.
    fn claimed(&self) -> &Claimed {
        self.claimed
            .get_or_init(|| Claimed::new(&self.process, &self.causes))
    }

    /// The band of the net area, as walked.
    fn assess(&self, confidence: f64) -> Assessment {
        self.claimed()
            .assess(&self.process, &self.causes, confidence)
    }

    /// Variance of the net area before any tape, m⁴.
    fn variance_m4(&self) -> f64 {
        self.claimed().variance_m4(&self.process, &self.causes)
    }

    /// Variance of the area inside one of its rings, m⁴, from where it was walked.
    fn variance_inside_m4(&self, ring: &Walked) -> f64 {
        let own = ring.causes();
        // If there is one lawn with nothing taken off, its pulls are those of the net area, and the variances are at hand.
        if own.pulls == self.causes.pulls && own.coarse == self.causes.coarse {
            self.claimed().variance_m4(&self.process, &own)
        } else {
            variance_m4(&self.process, &own)
        }
    }
}

impl Walked {
    /// Takes the edge that walk and tape have settled on. `scale` is how many times their claims the receiver's errors are.
    fn move_to(&mut self, moved: &Moved, scale: f64) {
        let was_m = perimeter_m(&self.edge.ring());
        for (vertex, &at) in self.edge.vertices.iter_mut().zip(&moved.edge) {
            vertex.at = at;
        }
        for &(vertex, sigma_m) in &moved.corner_sigma_m {
            if let Some(corner) = self.edge.vertices.get_mut(vertex) {
                corner.sigma_m = sigma_m / scale;
            }
        }
        self.area_m2 = moved.area_m2;
        self.edge.fill(moved.area_m2);
        // The letters stay where they were.
        self.start = moved.first.unwrap_or(self.start);
        if was_m > 0.0 {
            self.edge.perimeter_m *= perimeter_m(&self.edge.ring()) / was_m;
        }
    }
}

/// The status that a set of warnings amounts to.
fn status(warnings: &[Notice], strict: bool) -> Status {
    match warnings.iter().any(|w| w.weight() == Weight::Doubt) {
        true if strict => Status::Withheld,
        true => Status::Check,
        false => Status::Ok,
    }
}
