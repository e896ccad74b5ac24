//! One walked ring: from its fixes to its area, its pull on the error, and its drawn edge.
//!
//! The fixes are put on the plane (`placed`) and cleaned, laps are found (`found`) and compared with each other (`round`, `passes`), and
//! from the laps follow the area (`area`), the fitted edge and what the walk itself shows of the receiver's errors (`lapped`). What is
//! odd about the walk is looked at in `doubts`, `beside`, `drift`, `ends` and `unseen`. Corners that were listed and not walked take the
//! same way with one lap (`listed`), and so does a walk that does not come round but whose corners are taped (`cornered`).

mod area;
mod beside;
pub mod carried;
pub mod cornered;
mod doubts;
mod drift;
mod ends;
mod found;
mod lapped;
pub mod listed;
mod passes;
mod placed;
mod round;
mod settling;
mod unseen;

pub use beside::{Suspect, held_at_end_s, lost_at_end};
pub use drift::{Drift, ToldBy};
pub use passes::Pass;
pub use placed::Placed;

use super::collect::Part;
use crate::band::budget::{Causes, Term};
use crate::band::evidence::Difference;
use crate::band::ground::Height;
use crate::band::model::{Receiver, SigmaSource};
use crate::band::rough::Rough;
use crate::cause::Cause;
use crate::edge::Edge;
use crate::job::{Bed, Carry, Place};
use crate::left_out::LeftOut;
use crate::notice::{Course, Notice};
use crate::process::hand;
use crate::process::{ClaimSpread, LOST_S, REPEATS_OVER_M};
use crate::read::Outline;
use crate::refusal::Refusal;
use crate::ring::signed_area_m2;
use crate::walk::Spot;
use crate::walk::clean::{self, Cleaned, Gap};
use crate::walk::jumps::Jump;
use crate::walk::laps::Laps;
use area::LapArea;
use carried::carry_edge;
pub(crate) use doubts::told_apart_m;
use doubts::{tell_apart, tell_cleaning, tell_closing, tell_left_out};
use geo::Coord;
use lapped::Lapped;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// A corner that the job sheet names. It is known by when it was passed, as vertices move and multiply when an edge is carried.
#[derive(Debug, Clone, PartialEq)]
pub struct Fixed {
    pub name: String,
    pub t_s: f64,
}

/// How truly the antenna is taken to have followed the edge at this pace, unless told: metres, one sigma.
fn carry_sigma_m(pace_m_s: f64) -> f64 {
    if pace_m_s > hand::DRIVEN_M_S {
        hand::DRIVEN_SIGMA_S * pace_m_s
    } else {
        hand::CARRY_SIGMA_M
    }
}

/// How a ring was walked, and what its receiver claims.
#[derive(Debug, Clone, Copy)]
pub struct Track {
    pub receiver: Receiver,
    /// Root mean square of the claimed sigmas, metres per axis.
    pub sigma_m: f64,
    pub sigma_source: SigmaSource,
    pub pace_m_s: f64,
    /// Median time between fixes, seconds.
    pub step_s: f64,
    /// Whether the log has times.
    pub timed: bool,
    /// Whether its corners were listed and not walked.
    pub drawn: bool,
}

impl Track {
    /// How far one fix is from the next, metres.
    fn step_m(&self) -> f64 {
        self.pace_m_s * self.step_s
    }
}

/// What a walk itself says of the receiver's errors.
#[derive(Debug, Clone, Default)]
pub struct Witness {
    /// How rough it is; `None` where that cannot be told.
    pub rough: Option<Rough>,
    /// How far the position wanders where the surveyor stands.
    pub stood: Vec<Difference>,
    /// How passes of the same places differ.
    pub differences: Vec<Difference>,
}

/// How the laps close, and what that leaves open.
#[derive(Debug, Clone, Copy)]
pub struct Closed {
    /// Root mean square distance between the two ends of a lap, metres.
    pub gap_m: f64,
    /// From how many metres between its ends on a single lap is told to gape; `None` where there is no such test.
    pub may_gape_m: Option<f64>,
    /// One sigma of the area for what lies across the closing line.
    pub sigma_m2: f64,
    /// How much more area it would hold if it were closed at another place that is as likely, m²; negative for less.
    pub elsewhere_m2: f64,
}

/// What is odd about a walk, each to be weighed against the band.
#[derive(Debug, Clone, Default)]
pub struct Odd {
    /// Longest stretch without a fix beside the laps found that is long enough to hide a part of one, seconds.
    pub lost_beside_s: Option<f64>,
    pub jumps: Vec<Jump>,
    /// The odd steps that put most area into doubt.
    pub suspects: Vec<Suspect>,
    /// The drift from start to end beyond what the receiver claims, if there is one.
    pub drift: Option<Drift>,
}

/// A walked ring, measured.
#[derive(Debug, Clone)]
pub struct Walked {
    pub label: String,
    pub track: Track,
    /// Every fix that is left after cleaning, those of the ways in and out as well.
    pub spots: Vec<Spot>,
    /// The ranges of `spots` that are the line which was walked: one for each run of laps in one direction.
    runs: Vec<RangeInclusive<usize>>,
    pub removed: Vec<(usize, LeftOut)>,
    pub laps: u32,
    pub passes: Vec<Pass>,
    /// The part of the way that is not in the laps, 0 to 1.
    pub left_out: f64,
    pub closed: Closed,
    pub gaps: Vec<Gap>,
    pub inside: LapArea,
    /// Where the fix of each pull is, if those are not the places of the line.
    pull_at: Option<Vec<Coord<f64>>>,
    /// What was added to the area by chords: for the smooth path, for ways that gaps hide, and for the carry offset, m².
    pub smoothing_m2: f64,
    pub bulges_m2: f64,
    pub carried_m2: f64,
    /// Area inside the edge, m², with all of these added.
    pub area_m2: f64,
    pub carry_sigma_m: f64,
    /// The edge itself, counter-clockwise; its area is `area_m2`.
    pub edge: Edge,
    pub start: Coord<f64>,
    /// Corners the job sheet names; where there are any, they are the only ones.
    pub fixed: Vec<Fixed>,
    /// Heights along it, where the log has them.
    pub heights: Vec<Height>,
    pub witness: Witness,
    pub odd: Odd,
    pub warnings: Vec<Notice>,
}

impl Walked {
    /// What notices call it.
    pub(crate) fn course(&self) -> Course {
        Course {
            label: self.label.clone(),
            drawn: self.track.drawn,
        }
    }

    /// The line that was walked, cleaned.
    pub(crate) fn line(&self) -> Cow<'_, [Spot]> {
        line(&self.spots, &self.runs)
    }

    /// How many fixes the line has.
    pub(crate) fn line_len(&self) -> usize {
        self.runs.iter().map(|run| run.clone().count()).sum()
    }

    /// When the line begins and ends, seconds on the log's clock; 0 where there is none.
    pub(crate) fn times_s(&self) -> (f64, f64) {
        let t_s = |spot: Option<&usize>| spot.map_or(0.0, |&i| self.spots[i].t_s);
        let (first, last) = (self.runs.first(), self.runs.last());
        (
            t_s(first.map(|run| run.start())),
            t_s(last.map(|run| run.end())),
        )
    }

    pub(crate) fn lasted_s(&self) -> f64 {
        let (from_s, to_s) = self.times_s();
        to_s - from_s
    }

    /// Where the fix of each pull is, in their order.
    pub(crate) fn pull_at(&self) -> Cow<'_, [Coord<f64>]> {
        match &self.pull_at {
            Some(at) => Cow::Borrowed(at),
            None => self.line().iter().map(|spot| spot.at).collect(),
        }
    }

    /// Variance of the area from where the walk was not seen (between fixes at corners, at the closing, in gaps), m⁴.
    pub(crate) fn others_m4(&self) -> f64 {
        self.inside.sampling_sigma_m2.powi(2) + self.closed.sigma_m2.powi(2) + self.gaps_m4()
    }

    /// Variance of the area from gaps, m⁴: the area hidden is taken as evenly spread up to the most that each may hide.
    pub(crate) fn gaps_m4(&self) -> f64 {
        let sigma_m2 = |gap: &Gap| gap.may_hide_m2 / 3f64.sqrt() / f64::from(self.laps);
        self.gaps.iter().map(|gap| sigma_m2(gap).powi(2)).sum()
    }

    /// What is believed of the receiver's claims before the walk itself has been looked at.
    pub(crate) fn claim(&self) -> ClaimSpread {
        let claim = self.track.receiver.claim(self.track.sigma_source);
        let given = self.track.sigma_source == SigmaSource::Given || self.track.drawn;
        if !given && self.gaps.iter().any(|gap| gap.lasted_s > LOST_S) {
            claim.losing_fixes(self.track.receiver)
        } else {
            claim
        }
    }

    /// One sigma of the area from the hand, m²: it may hold the antenna to one side all the way round.
    pub(crate) fn hand_m2(&self) -> f64 {
        self.edge.perimeter_m * self.carry_sigma_m
    }

    /// What the error of where it was walked is made of, the hand included; what was not seen (see [`Walked::others_m4`]) is not in it.
    pub(crate) fn causes(&self) -> Causes {
        Causes {
            pulls: self.inside.pulls.clone(),
            gradient2_m2: self.inside.gradient2_m2,
            coarse: vec![self.inside.coarse.clone()],
            others: vec![Term {
                term: Cause::Edge,
                sigma_m2: self.hand_m2(),
                correction_m2: 0.0,
            }],
            laps: f64::from(self.laps),
            passes_s: self.passes_s(),
        }
    }

    /// After how many seconds the walker has gone so far that the part of the error which belongs to a place is another.
    pub(crate) fn passes_s(&self) -> f64 {
        REPEATS_OVER_M / self.track.pace_m_s.max(0.1)
    }
}

/// The spots of these runs, one after the other; without copying where there is a single run.
fn line<'a>(spots: &'a [Spot], runs: &[RangeInclusive<usize>]) -> Cow<'a, [Spot]> {
    match runs {
        [only] => Cow::Borrowed(&spots[only.clone()]),
        several => several
            .iter()
            .flat_map(|run| &spots[run.clone()])
            .copied()
            .collect(),
    }
}

/// What is asked for one ring: its name, how it was carried, and what was said of its sigma.
pub struct Asked<'a> {
    pub label: &'a str,
    pub carry: Carry,
    pub sigma_m: Option<f64>,
    /// Nobody gave `sigma_m`: it is what is believed of a plan.
    pub assumed: bool,
    /// What a list of points says of its tracks.
    pub outlines: &'a BTreeMap<u16, Outline>,
    /// Beds are placed by standing in them.
    pub stands_in_beds: bool,
}

impl<'a> Asked<'a> {
    pub(crate) fn of(part: &'a Part, beds: &[Bed]) -> Asked<'a> {
        Asked {
            label: &part.label,
            carry: part.carry,
            sigma_m: part.sigma_m,
            assumed: part.assumed,
            outlines: &part.log.outlines,
            stands_in_beds: beds
                .iter()
                .any(|bed| !matches!(bed.place, Place::At { .. })),
        }
    }
}

/// What a ring's log shows before anything is cleaned.
struct Seen {
    placed: Placed,
    /// For corners that were listed: what is odd about them. `None` for a walk.
    drawn: Option<Vec<Notice>>,
    sigma_m: f64,
    /// What refusals call it.
    what: Course,
}

impl Seen {
    fn track(&self, cleaned: &Cleaned, asked: &Asked) -> Track {
        Track {
            receiver: self.placed.receiver,
            sigma_m: self.sigma_m,
            sigma_source: match asked.assumed {
                true => SigmaSource::Assumed,
                false => self.placed.sigma_source,
            },
            pace_m_s: cleaned.pace_m_s,
            step_s: cleaned.step_s,
            timed: self.placed.timed,
            drawn: self.drawn.is_some(),
        }
    }

    /// What is to be told before anything is measured.
    fn told(&self, cleaned: &Cleaned, laps: &Laps, corner_list: bool) -> Vec<Notice> {
        let what = &self.what;
        let mut told = tell_cleaning(cleaned, what);
        told.extend(tell_left_out(laps, what));
        told.extend(self.drawn.iter().flatten().cloned());
        if !self.placed.timed && !corner_list {
            told.push(Notice::NoTimes { walk: what.clone() });
        }
        told
    }

    fn new(placed: Placed, asked: &Asked) -> Seen {
        Seen {
            sigma_m: rms_sigma_m(&placed.spots),
            placed,
            drawn: None,
            what: Course {
                label: asked.label.to_owned(),
                drawn: false,
            },
        }
    }
}

/// Measures one ring.
///
/// # Errors
/// It stands still, has too few places, or does not come round.
pub(crate) fn measure(placed: Placed, asked: &Asked) -> Result<Walked, Refusal> {
    let mut seen = Seen::new(placed, asked);
    let listed = listed::is_corner_list(&seen.placed);
    seen.what.drawn = listed;
    let what = &seen.what;
    let spots = &seen.placed.spots;
    if spots.len() < 4 {
        return Err(Refusal::TooFewFixes {
            walk: what.clone(),
            usable: spots.len(),
        });
    }
    if listed {
        let corners: Vec<Coord<f64>> = spots.iter().map(|s| s.at).collect();
        listed::refuse_too_large(signed_area_m2(&corners), true, what)?;
        let outline = (seen.placed.track).and_then(|track| asked.outlines.get(&track));
        let line = seen.placed.route || outline == Some(&Outline::Line);
        seen.drawn = Some(match outline {
            // A ring of which the file says that it is one: slits to its holes may make it turn about more than once.
            Some(Outline::Lawn(_) | Outline::TakenOff(_)) => Vec::new(),
            Some(Outline::Line) | None => {
                listed::once_round(spots, what)?;
                listed::look(spots, line, what)?
            }
        });
        let cleaned = Cleaned {
            spots: spots.clone(),
            step_s: 1.0,
            pace_m_s: 1.0,
            ..Cleaned::default()
        };
        let laps = listed::corner_ring(&cleaned.spots);
        return ring(&seen, asked, cleaned, &laps, true);
    }
    let cleaned = clean::clean(std::mem::take(&mut seen.placed.spots));
    let pace_m_s = cleaned.pace_m_s;
    rounds(&seen, asked, cleaned).map_err(|refused| {
        if pace_m_s <= hand::DRIVEN_M_S {
            return refused;
        }
        Refusal::OfADrive {
            walk: what.clone(),
            pace_m_s,
            refusal: Box::new(refused),
        }
    })
}

/// The ring of a walk that comes round its inside.
fn rounds(seen: &Seen, asked: &Asked, cleaned: Cleaned) -> Result<Walked, Refusal> {
    let laps = found::find(&cleaned, seen.sigma_m, &seen.what)?;
    let agreed = round::agreed(&cleaned.spots, laps, seen.sigma_m, &seen.what)?;
    let told = round::look(
        &cleaned,
        &agreed,
        seen.sigma_m,
        &seen.what,
        asked.stands_in_beds,
    )?;
    let mut walked = ring(seen, asked, cleaned, &agreed.laps, false)?;
    round::name(&agreed.odd, &mut walked.removed, &walked.spots);
    let driven = round::driven(walked.track.pace_m_s, walked.carry_sigma_m, &seen.what);
    walked.warnings.extend(driven.into_iter().chain(told));
    Ok(walked)
}

/// Measures the ring of the laps found. `corner_list` takes the spots as corners joined by straight lines.
fn ring(
    seen: &Seen,
    asked: &Asked,
    cleaned: Cleaned,
    laps: &Laps,
    corner_list: bool,
) -> Result<Walked, Refusal> {
    let what = &seen.what;
    let track = seen.track(&cleaned, asked);
    let passes = passes::passes(laps);
    let lapped = Lapped {
        cleaned: &cleaned,
        laps,
        passes: &passes,
        track: &track,
        corner_list,
    };
    let inside = lapped.area();
    let gaps = lapped.gaps();
    let bulges_m2 = unseen::bulges_m2(&gaps, laps);
    let area_m2 = inside.smooth_m2 + bulges_m2;
    refuse_none(area_m2, what)?;
    listed::refuse_too_large(area_m2, corner_list, what)?;
    let witness = lapped.witness();
    let mut edge = lapped.edge(area_m2, witness.rough.as_ref(), what)?;
    let mut warnings = seen.told(&cleaned, laps, corner_list);
    warnings.extend(tell_apart(&lapped, edge.perimeter_m, what));
    warnings.extend(tell_closing(&lapped, area_m2, edge.perimeter_m, what)?);
    let smoothing_m2 = area_m2 - bulges_m2 - inside.chords_m2;
    let carried_m2 = carry_edge(&mut edge, asked.carry, what)?;
    Ok(Walked {
        label: asked.label.to_string(),
        heights: seen.placed.heights(&lapped.line()),
        start: cleaned.spots[laps.legs[0].ends().0].at,
        removed: lapped.removed(),
        runs: lapped.runs(),
        laps: laps.count() as u32,
        left_out: laps.left_out,
        closed: lapped.closed(),
        odd: lapped.odd(&witness, area_m2),
        area_m2: area_m2 + carried_m2,
        carry_sigma_m: (asked.carry.sigma_m).unwrap_or(carry_sigma_m(track.pace_m_s)),
        fixed: Vec::new(),
        pull_at: None,
        spots: cleaned.spots,
        track,
        passes,
        gaps,
        inside,
        smoothing_m2,
        bulges_m2,
        carried_m2,
        edge,
        witness,
        warnings,
    })
}

/// Refuses laps that hold nothing.
fn refuse_none(area_m2: f64, what: &Course) -> Result<(), Refusal> {
    if area_m2.is_finite() && area_m2 > 0.0 {
        return Ok(());
    }
    Err(Refusal::LapsCancel { walk: what.clone() })
}

fn rms_sigma_m(spots: &[Spot]) -> f64 {
    (spots.iter().map(|s| s.sigma().powi(2)).sum::<f64>() / spots.len().max(1) as f64).sqrt()
}

#[cfg(test)]
impl Track {
    /// A fix a second at a metre a second, by a receiver that claims this.
    pub(crate) fn of_test(sigma_m: f64) -> Track {
        Track {
            receiver: Receiver::Unknown,
            sigma_m,
            sigma_source: SigmaSource::Gst,
            pace_m_s: 1.0,
            step_s: 1.0,
            timed: true,
            drawn: false,
        }
    }
}
