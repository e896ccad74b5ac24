//! Gathers what one survey is made of: reads its logs, tells what each was walked round, and lays the plane.
//!
//! What the command line says wins over the job sheet. Logs in degrees and lists in metres of a plan cannot be mixed, as nothing says how
//! one lies on the other.

use crate::fault::Fault;
use crate::fix::{DAY_S, Fix};
use crate::job::{Carry, Job, Place, Span, Walk};
use crate::notice::Notice;
use crate::plane::Plane;
use crate::process::hand::PLAN_SIGMA_M;
use crate::read::{self, Dropped, Input, Log, LogFile};
use std::path::PathBuf;

/// One thing that was walked, with its log.
#[derive(Debug)]
pub struct Part {
    pub label: String,
    pub log: Log,
    /// All fixes of the log, kept where the sheet cuts it to a span of time and has beds that may lie outside that span; empty otherwise.
    pub uncut: Vec<Fix>,
    pub carry: Carry,
    pub sigma_m: Option<f64>,
    /// Nobody gave `sigma_m`: it is what this program believes of a plan.
    pub assumed: bool,
    pub correlation_s: Option<f64>,
}

/// A path walked along its middle.
#[derive(Debug)]
pub struct PathPart {
    pub part: Part,
    pub width_m: f64,
    pub width_sigma_m: Option<f64>,
}

/// Everything read for one survey.
#[derive(Debug, Default)]
pub struct Collected {
    pub lawns: Vec<Part>,
    pub deducts: Vec<Part>,
    pub paths: Vec<PathPart>,
    pub files: Vec<LogFile>,
    pub dropped: Vec<Dropped>,
    pub warnings: Vec<Notice>,
    how: read::Options,
}

/// The settings of `carry`, where `over` does not say otherwise: the command line wins over the sheet.
fn over(carry: Carry, over: Carry) -> Carry {
    Carry {
        offset_m: over.offset_m.or(carry.offset_m),
        side: over.side.or(carry.side),
        sigma_m: over.sigma_m.or(carry.sigma_m),
    }
}

fn from_paths(paths: &[PathBuf]) -> Vec<Input> {
    paths.iter().cloned().map(Input::File).collect()
}

/// Reads every log of a survey.
///
/// # Errors
/// A log that cannot be read at all, or no log.
pub(crate) fn collect(request: &super::Request) -> Result<Collected, Fault> {
    let job: &Job = &request.job;
    let mut collected = Collected {
        how: read::Options {
            order: match request.by_time {
                true => read::Order::ByTime,
                false => read::Order::Given,
            },
            max_fixes: request.max_fixes,
            unhashed: request.depth == super::Depth::Numbers,
            ..read::Options::default()
        },
        ..Collected::default()
    };
    for (walk, inputs) in walks(request)? {
        let lawn = collected.lawn(request, walk, &inputs)?;
        collected.lawns.push(lawn);
    }
    collected.inside(request)?;
    let lawns: Vec<&Log> = collected.lawns.iter().map(|part| &part.log).collect();
    let others: Vec<&Log> = collected.logs().skip(lawns.len()).collect();
    let wrong = super::dates::look(job, &lawns, &others, &collected.files);
    collected.warnings.extend(wrong);
    collected.one_ground(job)?;
    Ok(collected)
}

/// The walks round lawns, each with its logs. Logs that were named on the command line take the place of those of the sheet.
fn walks(request: &super::Request) -> Result<Vec<(Walk, Vec<Input>)>, Fault> {
    let of_sheet = request.job.walks.iter();
    let mut walks: Vec<(Walk, Vec<Input>)> = of_sheet
        .map(|walk| (walk.clone(), from_paths(&walk.files)))
        .collect();
    if !request.logs.is_empty() {
        match walks.as_mut_slice() {
            [] => walks.push((Walk::default(), request.logs.clone())),
            [(_, inputs)] => *inputs = request.logs.clone(),
            _ => {
                return Err(Fault::usage(
                    "logs-and-lawns",
                    "Logs were named on the command line and the job sheet has several lawns; it is not clear which lawn they belong to.",
                    "Name the logs in the sheet's [[lawn]] tables, or leave the sheet out.",
                ));
            }
        }
    }
    walks.retain(|(_, inputs)| !inputs.is_empty());
    if walks.is_empty() {
        return Err(Fault::usage(
            "no-logs",
            "No log was named.",
            "Give at least one log, or a job sheet whose [walk] names its files.",
        ));
    }
    Ok(walks)
}

/// Keeps what of a log was walked between two times of the day, UTC. Fixes without a time stay, as nothing says when they were.
fn cut(log: &mut Log, span: Span) -> Result<(), Fault> {
    // Times of the day are put on the log's clock from an hour before its first fix on, as a mark may have been set a little before the
    // log began.
    const BEFORE_S: f64 = 3600.0;
    let first_s = log.fixes.iter().find_map(|fix| fix.clock_s);
    let (Some(first_s), true) = (first_s, span != Span::default()) else {
        return Ok(());
    };
    let from_s = first_s - BEFORE_S;
    let on_clock = |tod_s: f64| from_s + (tod_s - from_s).rem_euclid(DAY_S);
    let start_s = span.start_s.map_or(f64::NEG_INFINITY, on_clock);
    let end_s = span.end_s.map_or(f64::INFINITY, on_clock);
    log.fixes
        .retain(|fix| fix.clock_s.is_none_or(|t| (start_s..=end_s).contains(&t)));
    if span.end_s.is_some() {
        log.lost_at_end_s = 0.0;
    }
    match log.fixes.is_empty() {
        false => Ok(()),
        true => Err(Fault::usage(
            "outside-its-time",
            "The log has no position between the sheet's start and end.",
            "Write start and end as UTC, as the log has them: see `boundwalk inspect`.",
        )
        .in_file(log.files.first().map_or("", |file| file.name.as_str()))),
    }
}

/// A file name without what follows its last dot.
pub(crate) fn stem(name: &str) -> &str {
    match name.rfind('.') {
        Some(dot) if dot > 0 => &name[..dot],
        _ => name,
    }
}

/// What a list in metres of a plan itself says of its corners: one sigma, metres per axis; `None` where it says nothing. It is believed
/// as it stands, as whoever drew the plan is no receiver whose claims are known to be too good.
fn stated_m(log: &Log) -> Option<f64> {
    let stated = || {
        log.fixes
            .iter()
            .filter_map(|f| f.sigma_east_m)
            .map(f64::from)
    };
    let count = stated().count();
    let sum_m2: f64 = stated().map(|m| m * m).sum();
    (log.local && count > 0).then(|| (sum_m2 / count as f64).sqrt())
}

impl Collected {
    /// Reads the logs of one walk round a lawn.
    fn lawn(
        &mut self,
        request: &super::Request,
        walk: Walk,
        inputs: &[Input],
    ) -> Result<Part, Fault> {
        // A pipe that is named on the command line is read; one that a sheet names is not even opened.
        let outright = !request.logs.is_empty();
        let mut log = self.read(inputs, outright, request.grid.clone().or(walk.grid))?;
        let uncut = match request.job.beds.is_empty() || walk.span == Span::default() {
            true => Vec::new(),
            false => log.fixes.clone(),
        };
        cut(&mut log, walk.span)?;
        let sigma_m = request.sigma_m.or(walk.sigma_m).or_else(|| stated_m(&log));
        let correlation_s = request.correlation_s.or(walk.correlation_s);
        let local = log.local;
        Ok(Part {
            label: walk.label,
            log,
            uncut,
            carry: over(walk.carry, request.carry),
            assumed: local && sigma_m.is_none(),
            sigma_m: sigma_m.or(local.then_some(PLAN_SIGMA_M)),
            // Each corner of a plan errs by itself, so that its errors have no correlation in time.
            correlation_s: correlation_s.or(local.then_some(0.0)),
        })
    }

    /// Reads what lies inside the lawns, which was walked with the same receiver.
    fn inside(&mut self, request: &super::Request) -> Result<(), Fault> {
        let job: &Job = &request.job;
        let (sigma_m, correlation_s, assumed) =
            self.lawns.first().map_or((None, None, false), |l| {
                (l.sigma_m, l.correlation_s, l.assumed)
            });
        let part = |label: String, log: Log, carry: Carry| Part {
            label,
            log,
            uncut: Vec::new(),
            carry,
            sigma_m,
            assumed,
            correlation_s,
        };
        let lies = |own: &Option<String>| request.grid.clone().or_else(|| own.clone());
        for deduct in &job.deducts {
            let mut log = self.read(&from_paths(&deduct.files), false, lies(&deduct.grid))?;
            cut(&mut log, deduct.span)?;
            let deduct = part(deduct.label.clone(), log, deduct.carry);
            self.deducts.push(deduct);
        }
        for input in &request.deduct {
            let log = self.read(std::slice::from_ref(input), true, request.grid.clone())?;
            let first = log.files.first();
            let label = first.map_or_else(String::new, |f| stem(&f.name).to_string());
            self.deducts.push(part(label, log, Carry::default()));
        }
        for path in &job.paths {
            let log = self.read(&from_paths(&path.files), false, lies(&path.grid))?;
            self.paths.push(PathPart {
                part: part(path.label.clone(), log, Carry::default()),
                width_m: path.width_m,
                width_sigma_m: path.width_sigma_m,
            });
        }
        Ok(())
    }

    /// Reads files as one log, and adds what is to be told of them. `outright` says that they were named on the command line.
    fn read(
        &mut self,
        inputs: &[Input],
        outright: bool,
        grid: Option<String>,
    ) -> Result<Log, Fault> {
        self.how.regular = !outright;
        self.how.grid = grid;
        let log = read::read_with(inputs, &self.how)?;
        self.files.extend(log.files.iter().cloned());
        for dropped in &log.dropped {
            match self.dropped.iter_mut().find(|d| d.reason == dropped.reason) {
                Some(known) => known.count += dropped.count,
                None => self.dropped.push(dropped.clone()),
            }
        }
        for warning in &log.warnings {
            if !self.warnings.contains(warning) {
                self.warnings.push(warning.clone());
            }
        }
        Ok(log)
    }

    /// Every log that was read.
    pub(crate) fn logs(&self) -> impl Iterator<Item = &Log> {
        self.parts().map(|part| &part.log)
    }

    /// All that was read: lawns, deductions and paths.
    fn parts(&self) -> impl Iterator<Item = &Part> {
        let paths = self.paths.iter().map(|path| &path.part);
        self.lawns.iter().chain(&self.deducts).chain(paths)
    }

    /// Refuses a survey that has both metres of a plan and places on the Earth.
    fn one_ground(&self, job: &Job) -> Result<(), Fault> {
        let (plan, earth): (Vec<&Part>, Vec<&Part>) = self.parts().partition(|part| part.log.local);
        let Some(local) = plan.first() else {
            return Ok(());
        };
        let names = |part: &Part| {
            let names: Vec<&str> = part.log.files.iter().map(|f| f.name.as_str()).collect();
            names.join(", ")
        };
        if let Some(other) = earth.first() {
            return Err(Fault::usage(
                "plan-and-log",
                format!(
                    "{} is in metres of a plan and {} in places on the Earth: nothing says how one lies on the other.",
                    names(local),
                    names(other)
                ),
                "Measure them as two surveys, or give both in the same coordinates (--grid EPSG:nnnn for a national grid).",
            ));
        }
        let placed = job.beds.iter().map(|bed| (&bed.label, &bed.place));
        let placed = placed.chain(job.corners.iter().map(|c| (&c.name, &c.place)));
        for (name, place) in placed {
            if matches!(place, Place::At { .. }) {
                return Err(Fault::usage(
                    "plan-and-degrees",
                    format!(
                        "The job sheet gives “{name}” by lat and lon, and {} is in metres of a plan.",
                        names(local)
                    ),
                    "Put it into the list of points instead: a row with x, y and its diameter.",
                ));
            }
        }
        Ok(())
    }

    /// A notice where it is metres of a plan that were measured.
    pub(crate) fn told_local(&self) -> Option<Notice> {
        self.parts()
            .any(|part| part.log.local)
            .then_some(Notice::LocalPlan {})
    }

    /// The plane of the survey: centred on the middle of all lawns' fixes, at their middle height.
    ///
    /// Medians are taken, so that fixes on the other side of the Earth do not move it. Without heights the plane lies at height 0.
    pub(crate) fn plane(&self) -> Result<Plane, Fault> {
        let fixes = || self.lawns.iter().flat_map(|part| &part.log.fixes);
        let Some(first) = fixes().next() else {
            let marks: usize = self.lawns.iter().map(|part| part.log.marks.len()).sum();
            let seen = match marks {
                0 => "There is no usable position in the log.".to_owned(),
                1 => "There is one waypoint in the log, but no walk.".to_owned(),
                marks => format!("There are {marks} waypoints in the log, but no walk."),
            };
            let names: Vec<&str> = self.files.iter().map(|file| file.name.as_str()).collect();
            return Err(Fault::unreadable(
                "no-fixes",
                seen,
                "Check that the logger had a fix and recorded positions (GGA, RMC, GNS or GLL sentences, or track points).",
            )
            .in_file(names.join(", ")));
        };
        if self.parts().any(|part| part.log.local) {
            return Ok(Plane::local());
        }
        // Longitudes are taken relative to the first one, so that a site on the date line is one place.
        let turned = |lon: f64| match lon - first.lon_deg + 540.0 {
            // The usual case, in which the remainder needs no slow division.
            once if (360.0..720.0).contains(&once) => once - 360.0 - 180.0,
            other => other.rem_euclid(360.0) - 180.0,
        };
        let lat_deg = median(fixes().map(|f: &Fix| f.lat_deg).collect());
        let lon_deg = first.lon_deg + median(fixes().map(|f| turned(f.lon_deg)).collect());
        let mut heights: Vec<f64> = fixes()
            .filter_map(|f| f.height_m)
            .filter(|h| h.is_finite())
            .collect();
        if heights.is_empty() {
            // A result document of this program, read as a log, says what height it was measured at.
            heights.extend(self.lawns.iter().find_map(|part| part.log.plane_height_m));
        }
        let height_m = if heights.is_empty() {
            0.0
        } else {
            median(heights)
        };
        let lon_deg = (lon_deg + 540.0).rem_euclid(360.0) - 180.0;
        // Nobody lays turf below the Dead Sea or above the highest roads; a height from there is a fault of the log.
        let height_m = if (-500.0..=6000.0).contains(&height_m) {
            height_m
        } else {
            0.0
        };
        Plane::new(lat_deg, lon_deg, height_m)
    }
}

/// The middle value, the upper of two; 0 where there is none.
fn median(mut values: Vec<f64>) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}
