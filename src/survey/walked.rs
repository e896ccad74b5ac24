//! One walked ring: from its fixes to its area, its pull on the error, and its drawn edge.

mod beside;
pub mod carried;
pub mod cornered;
mod doubts;
mod drift;
mod ends;
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
use crate::band::budget::{Causes, Coarse, Term};
use crate::band::evidence::{self, Difference};
use crate::band::ground::Height;
use crate::band::model::{Receiver, SigmaSource};
use crate::band::propagate::Pull;
use crate::band::rough::{Rough, roughness_m};
use crate::fault::Fault;
use crate::job::Carry;
use crate::notice::{Course, Notice};
use crate::process::{ClaimSpread, LOST_S, REPEATS_OVER_M};
use crate::read::Outline;
use crate::ring::edge::{self, Edge};
use crate::ring::smooth::smooth_area;
use crate::ring::steady::steadied;
use crate::ring::{area_gradients_m, distance_m, signed_area_m2};
use crate::walk::clean::{self, Cleaned, Gap};
use crate::walk::jumps::Jump;
use crate::walk::laps::{self, Laps, NoLap};
use crate::walk::{Removal, Spot, pace, pauses, turning, wander_m};
use beside::{gaps_on_edge, jumps_that_matter, lost_beside_s, suspects};
use carried::carry_edge;
pub use doubts::told_apart_m;
use doubts::{
    Closing, may_gape_m, stood_apart_m, stops_short, stray_m, tell_apart, tell_cleaning,
    tell_closing, tell_left_out, unexplained_m,
};
use geo::Coord;
use passes::Compare;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::sync::Arc;

/// A corner the job sheet names. Known by when it was passed: vertices move and multiply when an edge is carried.
#[derive(Debug, Clone, PartialEq)]
pub struct Fixed {
    pub name: String,
    pub t_s: f64,
}

/// How the hand held the antenna to the edge unless told: metres, one sigma, the same all the way round.
pub const CARRY_SIGMA_M: f64 = 0.02;

/// The same of what was driven, as the time it takes to cover it, seconds: a driver keeps to an edge, and knows where on the
/// vehicle the antenna is, to about a metre at 3 m/s, and to less the faster he goes. Common practice, no source.
pub const DRIVEN_SIGMA_S: f64 = 0.3;

/// How the antenna was held to the edge unless told, at this pace: metres, one sigma.
fn carry_sigma_m(pace_m_s: f64) -> f64 {
    if pace_m_s > pace::DRIVEN_M_S {
        DRIVEN_SIGMA_S * pace_m_s
    } else {
        CARRY_SIGMA_M
    }
}

/// A walked ring, measured.
#[derive(Debug, Clone)]
pub struct Walked {
    pub label: String,
    /// Area inside the edge, m², carry offset and smoothing included.
    pub area_m2: f64,
    /// What the smooth path added to the chords, and what the carry offset added, m².
    pub smoothing_m2: f64,
    pub carried_m2: f64,
    pub sampling_sigma_m2: f64,
    /// Area's answer to every fix, in the order of time, positive when the fix moves outwards.
    pub pulls: Arc<Vec<Pull>>,
    /// Where each pull's fix is, if that is not the line.
    pull_at: Option<Vec<Coord<f64>>>,
    /// How rough it is, where that can be told.
    pub rough: Option<Rough>,
    /// How far the position wanders where the surveyor stands.
    pub stood: Vec<Difference>,
    /// How passes of the same places differ.
    pub differences: Vec<Difference>,
    /// Sum of squared gradients, m².
    pub gradient2_m2: f64,
    pub coarse: Coarse,
    /// The edge itself, counter-clockwise; its area is `area_m2`.
    pub edge: Edge,
    /// Which of `spots` are the line that was walked: each run of laps in one direction.
    runs: Vec<RangeInclusive<usize>>,
    /// Heights along it, where the log has them.
    pub heights: Vec<Height>,
    /// Everything that survived cleaning, lead-in and lead-out too.
    pub spots: Vec<Spot>,
    pub laps: u32,
    pub closing_gap_m: f64,
    /// From how many metres between its ends on a single lap is told; `None` where there is no such test.
    pub may_gape_m: Option<f64>,
    pub closing_sigma_m2: f64,
    /// How much more area it would hold if it were closed at another place that is as likely, m²; negative for less.
    pub elsewhere_m2: f64,
    pub start: Coord<f64>,
    /// Corners the job sheet names; where there are any, they are the only ones.
    pub fixed: Vec<Fixed>,
    pub gaps: Vec<Gap>,
    /// What was added for ways that gaps hide, m².
    pub bulges_m2: f64,
    /// Part of the way that is not in the laps.
    pub left_out: f64,
    /// Longest stretch without a fix beside the laps found that is long enough to hide a part of one, seconds.
    pub lost_beside_s: Option<f64>,
    pub jumps: Vec<Jump>,
    /// The odd steps that put most area into doubt.
    pub suspects: Vec<Suspect>,
    pub passes: Vec<Pass>,
    /// How far it comes back from where it began, beyond what the receiver claims.
    pub drift: Option<Drift>,
    pub removed: Vec<(usize, Removal)>,
    pub receiver: Receiver,
    pub sigma_m: f64,
    pub sigma_source: SigmaSource,
    pub carry_sigma_m: f64,
    pub warnings: Vec<Notice>,
    pub pace_m_s: f64,
    pub step_s: f64,
    /// Its corners were listed, not walked.
    pub drawn: bool,
    /// Whether the log has times.
    pub timed: bool,
}

impl Walked {
    /// What notices call it.
    pub fn course(&self) -> Course {
        Course {
            label: self.label.clone(),
            drawn: self.drawn,
        }
    }

    /// The line that was walked, cleaned.
    pub fn line(&self) -> Cow<'_, [Spot]> {
        line(&self.spots, &self.runs)
    }

    pub fn line_len(&self) -> usize {
        self.runs.iter().map(|run| run.clone().count()).sum()
    }

    /// When the line begins and ends, seconds.
    pub fn times_s(&self) -> (f64, f64) {
        let t_s = |spot: Option<&usize>| spot.map_or(0.0, |&i| self.spots[i].t_s);
        let (first, last) = (self.runs.first(), self.runs.last());
        (
            t_s(first.map(|run| run.start())),
            t_s(last.map(|run| run.end())),
        )
    }

    pub fn lasted_s(&self) -> f64 {
        let (from_s, to_s) = self.times_s();
        to_s - from_s
    }

    /// Where each pull's fix is.
    pub fn pull_at(&self) -> Cow<'_, [Coord<f64>]> {
        match &self.pull_at {
            Some(at) => Cow::Borrowed(at),
            None => self.line().iter().map(|spot| spot.at).collect(),
        }
    }

    /// Variance of the area from where the walk was not seen: between fixes at corners, at the closing, in gaps, m⁴.
    pub fn others_m4(&self) -> f64 {
        self.sampling_sigma_m2.powi(2) + self.closing_sigma_m2.powi(2) + self.gaps_m4()
    }

    /// Variance of the area from gaps, m⁴: anything up to the most each may hide, evenly spread.
    pub fn gaps_m4(&self) -> f64 {
        let sigma_m2 = |gap: &Gap| gap.may_hide_m2 / 3f64.sqrt() / f64::from(self.laps);
        self.gaps.iter().map(|gap| sigma_m2(gap).powi(2)).sum()
    }

    /// What is believed of the receiver's claims before the walk bears witness.
    pub fn claim(&self) -> ClaimSpread {
        let claim = self.receiver.claim(self.sigma_source);
        let given = self.sigma_source == SigmaSource::Given || self.drawn;
        if !given && self.gaps.iter().any(|gap| gap.lasted_s > LOST_S) {
            claim.losing_fixes(self.receiver)
        } else {
            claim
        }
    }

    /// How far the hand leaves the area unsure, m²: all the way round on one side.
    pub fn hand_m2(&self) -> f64 {
        self.edge.perimeter_m * self.carry_sigma_m
    }

    /// What the error of where it was walked is made of, the hand included; not of where it was not seen.
    pub fn causes(&self) -> Causes {
        Causes {
            pulls: self.pulls.clone(),
            gradient2_m2: self.gradient2_m2,
            coarse: vec![self.coarse.clone()],
            others: vec![Term {
                term: "edge",
                sigma_m2: self.hand_m2(),
                correction_m2: 0.0,
            }],
            laps: f64::from(self.laps),
            passes_s: self.passes_s(),
        }
    }

    /// After how many seconds the walker is where what comes back at a place is another.
    pub fn passes_s(&self) -> f64 {
        REPEATS_OVER_M / self.pace_m_s.max(0.1)
    }
}

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

/// What is asked of one ring.
pub struct Asked<'a> {
    pub label: &'a str,
    pub carry: Carry,
    pub sigma_m: Option<f64>,
    /// Nobody gave `sigma_m`: it is what is believed of a plan.
    pub assumed: bool,
    /// What a list says of its tracks.
    pub outlines: &'a BTreeMap<u16, Outline>,
}

impl<'a> Asked<'a> {
    pub fn of(part: &'a Part) -> Asked<'a> {
        Asked {
            label: &part.label,
            carry: part.carry,
            sigma_m: part.sigma_m,
            assumed: part.assumed,
            outlines: &part.log.outlines,
        }
    }
}

/// What a ring's log shows before anything is cleaned.
struct Seen {
    placed: Placed,
    /// What is odd about corners that were listed rather than walked; `None` of a walk.
    drawn: Option<Vec<Notice>>,
    sigma_m: f64,
    /// What refusals call it.
    what: Course,
}

impl Seen {
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
/// Of kind `Withheld`: stands still, too few places, does not come round.
pub fn measure(placed: Placed, asked: &Asked) -> Result<Walked, Fault> {
    let mut seen = Seen::new(placed, asked);
    let listed = is_corner_list(&seen.placed);
    seen.what.drawn = listed;
    let what = &seen.what;
    let spots = &seen.placed.spots;
    if spots.len() < 4 {
        return Err(Fault::withheld(
            "too-few-fixes",
            format!(
                "There are only {} usable position(s) in {what}; an edge needs at least four.",
                spots.len()
            ),
            "Check that the logger recorded the whole walk, and walk it again.",
        ));
    }
    if listed {
        let corners: Vec<Coord<f64>> = spots.iter().map(|s| s.at).collect();
        listed::refuse_too_large(signed_area_m2(&corners), true, what)?;
        let outline = (seen.placed.track).and_then(|track| asked.outlines.get(&track));
        let line = seen.placed.route || outline == Some(&Outline::Line);
        seen.drawn = Some(match outline {
            // A ring that is said to be one; slits to its holes make it turn about more than once.
            Some(Outline::Lawn(_) | Outline::TakenOff(_)) => Vec::new(),
            Some(Outline::Line) | None => {
                once_round(spots, what)?;
                listed::look(spots, line, what)?
            }
        });
        let cleaned = Cleaned {
            spots: spots.clone(),
            step_s: 1.0,
            pace_m_s: 1.0,
            ..Cleaned::default()
        };
        let laps = corner_ring(&cleaned.spots);
        return ring(&seen, asked, cleaned, &laps, true);
    }
    let cleaned = clean::clean(std::mem::take(&mut seen.placed.spots));
    let pace_m_s = cleaned.pace_m_s;
    rounds(&seen, asked, cleaned).map_err(|refused| {
        if pace_m_s <= pace::DRIVEN_M_S {
            return refused;
        }
        let seen = format!("{} {}", round::was_driven(pace_m_s, what), refused.what());
        Fault::withheld(refused.code(), seen, refused.advice())
    })
}

/// The ring of a walk that comes round its inside.
fn rounds(seen: &Seen, asked: &Asked, cleaned: Cleaned) -> Result<Walked, Fault> {
    let laps = find_laps(&cleaned, seen.sigma_m, &seen.what)?;
    let agreed = round::agreed(&cleaned.spots, laps, seen.sigma_m, &seen.what)?;
    let told = round::look(&cleaned, &agreed, seen.sigma_m, &seen.what)?;
    let mut walked = ring(seen, asked, cleaned, &agreed.laps, false)?;
    round::name(&agreed.odd, &mut walked.removed, &walked.spots);
    let driven = round::driven(walked.pace_m_s, walked.carry_sigma_m, &seen.what);
    walked.warnings.extend(driven.into_iter().chain(told));
    Ok(walked)
}

/// The ring of the laps found; `corner_list` takes the spots as corners joined by straight lines.
fn ring(
    seen: &Seen,
    asked: &Asked,
    mut cleaned: Cleaned,
    laps: &Laps,
    corner_list: bool,
) -> Result<Walked, Fault> {
    let &Seen {
        ref placed,
        sigma_m,
        ref what,
        ref drawn,
    } = seen;
    let timed = placed.timed;
    let mut warnings = Vec::new();
    tell_cleaning(&cleaned, what, &mut warnings);
    tell_left_out(laps, what, &mut warnings);
    warnings.extend(drawn.iter().flatten().cloned());
    if !timed && !corner_list {
        warnings.push(Notice::NoTimes { walk: what.clone() });
    }

    // Area: the whole closed walk of each leg, divided by the number of laps.
    let count = laps.count() as f64;
    let spots = &cleaned.spots;
    let (mut area_m2, mut chords_m2, mut sampling_m4) = (0.0, 0.0, 0.0);
    let mut pulls = Vec::with_capacity(spots.len());
    let mut gradient2_m2 = 0.0;
    let runs = laps
        .legs
        .iter()
        .map(|leg| leg.bounds[0]..=leg.bounds[leg.bounds.len() - 1]);
    let runs: Vec<_> = runs.collect();
    let places = steadied(spots, cleaned.step_s, cleaned.pace_m_s, sigma_m);
    for (leg, run) in laps.legs.iter().zip(&runs) {
        let (walk, places) = (&spots[run.clone()], &places[run.clone()]);
        let whole = smooth_area(walk, places, cleaned.step_s, corner_list || !timed);
        let share = leg.turn / count;
        area_m2 += whole.smooth_m2 * share;
        chords_m2 += whole.chords_m2 * share;
        sampling_m4 += (whole.sampling_sigma_m2 * share).powi(2);
        for (spot, gradient) in walk.iter().zip(area_gradients_m(places)) {
            let [gx, gy] = [gradient[0] * share, gradient[1] * share];
            pulls.push(Pull {
                t_s: spot.t_s,
                pull_m2: [gx * spot.sigma_m[0], gy * spot.sigma_m[1]],
            });
            gradient2_m2 += gx * gx + gy * gy;
        }
    }
    drop(places);
    let passes = passes::passes(laps);
    let mut gaps = gaps_on_edge(&cleaned.gaps, laps);
    unseen::shown_by_laps(&mut gaps, spots, &passes, cleaned.pace_m_s, cleaned.step_s);
    let bulges_m2: f64 = (gaps.iter())
        .filter_map(|gap| Some(gap.bulge_m2 * laps.leg_at(gap.after)?.turn))
        .sum();
    area_m2 += bulges_m2 / count;
    if !area_m2.is_finite() || area_m2 <= 0.0 {
        return Err(Fault::withheld(
            "holds-no-area",
            format!(
                "The laps of {what} cancel each other: the path crosses itself like a figure of eight."
            ),
            "Walk each part as a closed walk of its own, in one direction, without crossing the path.",
        ));
    }
    listed::refuse_too_large(area_m2, corner_list, what)?;

    let rings: Vec<(&[Spot], bool)> = laps
        .legs
        .iter()
        .flat_map(|leg| leg.bounds.windows(2).map(move |w| (w, leg.turn < 0.0)))
        .map(|(w, clockwise)| (&spots[w[0]..=w[1]], clockwise))
        .collect();
    let walks = laps
        .legs
        .iter()
        .map(|leg| &spots[leg.bounds[0]..=leg.bounds[leg.bounds.len() - 1]]);
    let rough = roughness_m(walks, cleaned.step_s, cleaned.pace_m_s)
        .filter(|_| timed && !corner_list)
        .map(|size_m| Rough {
            size_m,
            sigma_m,
            receiver: placed.receiver,
        });
    let unsteady = rough.map_or(1.0, |rough| rough.of_claimed());
    let (pace_m_s, step_s) = (cleaned.pace_m_s, cleaned.step_s);
    let mut edge = edge::fit(&rings, pace_m_s, step_s, unsteady, corner_list);
    edge.fill(area_m2);
    // Laps that err by as much as the lawn is wide may average to next to nothing.
    const LEAST_DRAWN: f64 = 0.5;
    if signed_area_m2(&edge.ring()) < LEAST_DRAWN * area_m2 {
        return Err(Fault::withheld(
            "no-edge-drawn",
            format!(
                "No edge can be drawn through the {} lap(s) of {what}: they hold {area_m2:.0} m², and this receiver errs by about \
                 {sigma_m:.1} m.",
                laps.count()
            ),
            "Measure a lawn as small as this with a tape, or walk it with a better receiver.",
        ));
    }
    tell_apart(spots, laps, edge.perimeter_m, sigma_m, what, &mut warnings);
    let closing_gap_m = laps.closing_gap_m();
    // A closing chord can cut at most gap²/4 off a square corner; taken as evenly spread, a sigma of gap²/7.
    let closing_sigma_m2 = if corner_list {
        0.0
    } else {
        closing_gap_m * closing_gap_m / 7.0 / count
    };
    let stray_m = if corner_list {
        0.0
    } else {
        stray_m(spots, laps, sigma_m)
    };
    let stood_apart_m = if corner_list {
        None
    } else {
        stood_apart_m(spots, laps, cleaned.pace_m_s, cleaned.step_s)
    };
    let closing = Closing {
        gap_m: laps.widest_gap_m(),
        unexplained_m: unexplained_m(&cleaned, laps, area_m2),
        stray_m,
        stood_apart_m,
        stops_short: stops_short(spots, laps),
    };
    tell_closing(&closing, edge.perimeter_m, sigma_m, what, &mut warnings)?;
    let mut removed = std::mem::take(&mut cleaned.removed);
    let first = laps.legs[0].bounds[0];
    removed.extend(spots[..first].iter().map(|s| (s.fix, Removal::LeadIn)));
    let ends = laps.legs.iter().map(|leg| leg.bounds[leg.bounds.len() - 1]);
    let starts = laps.legs.iter().skip(1).map(|leg| leg.bounds[0]);
    for (end, start) in ends.zip(starts.chain([spots.len()])) {
        removed.extend(
            spots[(end + 1).min(start)..start]
                .iter()
                .map(|s| (s.fix, Removal::LeadOut)),
        );
    }

    let smoothing_m2 = area_m2 - bulges_m2 / count - chords_m2;
    let carried_m2 = carry_edge(&mut edge, asked.carry, what)?;
    let sigma_source = match asked.assumed {
        true => SigmaSource::Assumed,
        false => placed.sigma_source,
    };
    let compare = Compare {
        spots,
        passes: &passes,
        sigma_m,
        step_s: cleaned.step_s,
        pace_m_s: cleaned.pace_m_s,
    };
    let mut stood = Vec::new();
    let differences = if corner_list {
        Vec::new()
    } else {
        let pauses = pauses::find(spots, cleaned.pace_m_s);
        stood = evidence::standing(spots, &pauses);
        evidence::differences(spots, laps, cleaned.step_s)
    };
    let drift = if corner_list {
        None
    } else {
        drift::find(
            spots,
            &passes,
            &differences,
            sigma_m,
            cleaned.pace_m_s,
            cleaned.step_s,
        )
    };
    Ok(Walked {
        label: asked.label.to_string(),
        area_m2: area_m2 + carried_m2,
        smoothing_m2,
        carried_m2,
        sampling_sigma_m2: sampling_m4.sqrt(),
        coarse: coarse(&line(spots, &runs), count),
        heights: placed.heights(&line(spots, &runs)),
        pulls: Arc::new(pulls),
        pull_at: None,
        rough,
        stood,
        differences,
        drift,
        gradient2_m2,
        edge,
        start: spots[first].at,
        fixed: Vec::new(),
        runs,
        laps: laps.count() as u32,
        closing_gap_m,
        may_gape_m: (!corner_list && laps.count() == 1).then(|| may_gape_m(sigma_m)),
        closing_sigma_m2,
        elsewhere_m2: laps.elsewhere_m2(),
        gaps,
        bulges_m2: bulges_m2 / count,
        left_out: laps.left_out,
        lost_beside_s: lost_beside_s(&cleaned, laps, area_m2),
        jumps: jumps_that_matter(&cleaned, laps, &compare),
        suspects: suspects(&cleaned, &passes),
        passes,
        removed,
        receiver: placed.receiver,
        sigma_m,
        sigma_source,
        carry_sigma_m: (asked.carry.sigma_m).unwrap_or(carry_sigma_m(cleaned.pace_m_s)),
        warnings,
        pace_m_s: cleaned.pace_m_s,
        step_s: cleaned.step_s,
        timed,
        spots: cleaned.spots,
        drawn: drawn.is_some(),
    })
}

fn rms_sigma_m(spots: &[Spot]) -> f64 {
    (spots.iter().map(|s| s.sigma().powi(2)).sum::<f64>() / spots.len().max(1) as f64).sqrt()
}

/// Whether the fixes are corners in order (a route, a point list without times) rather than a walk.
fn is_corner_list(placed: &Placed) -> bool {
    // A point list with the times of a walk is a walk.
    let spots = &placed.spots;
    let lasted_s = spots.last().map_or(0.0, |l| l.t_s) - spots.first().map_or(0.0, |f| f.t_s);
    placed.listed && (!placed.timed || lasted_s <= 0.0 || lasted_s / spots.len() as f64 > 4.0)
}

/// A list of corners has no laps to average: one that comes round twice would hold twice the area.
fn once_round(spots: &[Spot], what: &Course) -> Result<(), Fault> {
    let mut ring: Vec<Coord<f64>> = spots.iter().map(|s| s.at).collect();
    ring.dedup();
    while ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    let turns = turning::turns(&ring).abs();
    if turns < 1.5 {
        return Ok(());
    }
    Err(Fault::withheld(
        "goes-round-twice",
        format!(
            "The corners of {what} go round {turns:.0} times, so its area would count {turns:.0} times."
        ),
        "List each corner once, in order. Several lists of one lawn are several surveys; of several lawns, give each a [[lawn]] in a \
         job sheet.",
    ))
}

/// A list of corners is one lap, as it stands.
fn corner_ring(spots: &[Spot]) -> Laps {
    let ring: Vec<_> = spots.iter().map(|s| s.at).collect();
    let turn = if signed_area_m2(&ring) < 0.0 {
        -1.0
    } else {
        1.0
    };
    Laps {
        legs: vec![laps::Leg {
            bounds: vec![0, spots.len() - 1],
            turn,
            gaps_m: vec![0.0],
            elsewhere_m2: 0.0,
        }],
        inside: ring[0],
        left_out: 0.0,
        turns_left_out: 0.0,
    }
}

fn find_laps(cleaned: &Cleaned, sigma_m: f64, what: &Course) -> Result<Laps, Fault> {
    let stands_still = || {
        Fault::withheld(
            "stands-still",
            format!(
                "The receiver hardly moved during {what}: its fixes only wander about one place."
            ),
            "Walk round the edge of the lawn with the logger running; a log of standing still holds no area.",
        )
    };
    if !moves(&cleaned.spots, sigma_m) {
        return Err(stands_still());
    }
    laps::find(&cleaned.spots, sigma_m).map_err(|why| match why {
        NoLap::StandsStill => stands_still(),
        NoLap::Open { turn, ends_apart_m } => Fault::withheld(
            "open-walk",
            format!(
                "The path of {what} does not come round: it goes {:.0} % of the way about its inside, and its ends are \
                 {ends_apart_m:.1} m apart.",
                100.0 * turn.min(1.0)
            ),
            "Walk the whole edge back to where you started, and a few steps past it.",
        ),
    })
}

/// Whether the walker got anywhere, by net progress: at a stroll within seconds or, however slowly, within half a minute or a minute
/// further than wandering takes a receiver that stands.
fn moves(spots: &[Spot], sigma_m: f64) -> bool {
    const STROLL_M_S: f64 = 0.25;
    // Wanderings, and the least a slow walker gets on in half a minute, metres.
    const WANDERINGS: f64 = 2.0;
    const GETS_ON_M: f64 = 3.0;
    // Parts of the windows in which one who walks gets on. A receiver that stands and errs as it claims wanders so far in one of seven.
    const OF_SHORT: f64 = 0.2;
    const OF_LONG: f64 = 0.5;
    let slowly_m = |lasted_s| (WANDERINGS * wander_m(sigma_m, lasted_s)).max(GETS_ON_M);
    match gets_on(spots, 10.0, |lasted_s| STROLL_M_S * lasted_s) {
        Some(share) if share < OF_SHORT => {
            [(30.0, OF_SHORT), (60.0, OF_LONG)]
                .into_iter()
                .any(|(window_s, least)| {
                    gets_on(spots, window_s, slowly_m).is_some_and(|share| share >= least)
                })
        }
        _ => true,
    }
}

/// In which part of the windows of so many seconds the way from end to end is longer than `least_m`; `None` where there are too few
/// to say.
fn gets_on(spots: &[Spot], window_s: f64, least_m: impl Fn(f64) -> f64) -> Option<f64> {
    let (mut windows, mut moving) = (0u32, 0u32);
    let mut from = 0;
    for (i, spot) in spots.iter().enumerate() {
        let lasted_s = spot.t_s - spots[from].t_s;
        if lasted_s >= window_s {
            windows += 1;
            moving += u32::from(distance_m(spots[from].at, spot.at) > least_m(lasted_s));
            from = i;
        }
    }
    (windows >= 3).then(|| f64::from(moving) / f64::from(windows))
}

/// The ring of the second-order error: at most some eighty places over all laps.
fn coarse(line: &[Spot], laps: f64) -> Coarse {
    const PLACES: usize = 40;
    let stride = line.len().div_ceil(PLACES).max(1);
    let mut coarse = Coarse {
        laps,
        ..Coarse::default()
    };
    for spot in line.iter().step_by(stride) {
        coarse.t_s.push(spot.t_s);
        coarse.sigma_m.push(spot.sigma());
    }
    coarse
}
