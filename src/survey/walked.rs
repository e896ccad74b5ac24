//! One walked ring: from its fixes to its area, its pull on the error, and its drawn edge.

use super::corners::{self, Fixed};
use crate::band::budget::{Causes, Coarse, Term};
use crate::band::evidence::{self, Difference};
use crate::band::ground::Height;
use crate::band::model::{Receiver, SigmaSource, fix_sigma_m};
use crate::band::propagate::Pull;
use crate::fault::{Fault, Warning};
use crate::fix::{Fix, Source};
use crate::job::{Carry, Side};
use crate::plane::Plane;
use crate::ring::edge::{self, Edge, Vertex};
use crate::ring::smooth::smooth_area;
use crate::ring::{carry, distance_m, perimeter_m, signed_area_m2};
use crate::walk::clean::{self, Cleaned, Gap};
use crate::walk::jumps::{Jump, off_m};
use crate::walk::laps::{self, Laps, NoLap};
use crate::walk::{Removal, Spot, turning};
use geo::Coord;

/// How the hand held the antenna to the edge unless told: metres, one sigma, the same all the way round.
pub const CARRY_SIGMA_M: f64 = 0.02;

/// What is left out before or after the laps found is suspiciously like another lap from here, in turns about the inside.
const TURNS_LEFT_OUT: f64 = 0.6;

/// Part of the whole way beside the laps found from which it is doubtful that they are the lawn.
const MOST_LEFT_OUT: f64 = 0.55;

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
    pub pulls: Vec<Pull>,
    /// Where each pull's fix is.
    pub pull_at: Vec<Coord<f64>>,
    /// How passes of the same places differ.
    pub differences: Vec<Difference>,
    /// Sum of squared gradients, m².
    pub gradient2_m2: f64,
    pub coarse: Coarse,
    /// The edge itself, counter-clockwise; its area is `area_m2`.
    pub edge: Edge,
    /// The line that was walked, cleaned.
    pub line: Vec<Spot>,
    /// Heights along it, where the log has them.
    pub heights: Vec<Height>,
    /// Everything that survived cleaning, lead-in and lead-out too.
    pub spots: Vec<Spot>,
    pub laps: u32,
    pub closing_gap_m: f64,
    pub closing_sigma_m2: f64,
    pub start: Coord<f64>,
    /// Corners the job sheet names; where there are any, they are the only ones.
    pub fixed: Vec<Fixed>,
    pub gaps: Vec<Gap>,
    /// Part of the way that is not in the laps.
    pub left_out: f64,
    /// Longest stretch without a fix beside the laps found that is long enough to hide a part of one, seconds.
    pub lost_beside_s: Option<f64>,
    pub jumps: Vec<Jump>,
    pub removed: Vec<(usize, Removal)>,
    pub receiver: Receiver,
    pub sigma_m: f64,
    pub sigma_source: SigmaSource,
    pub carry_sigma_m: f64,
    pub warnings: Vec<Warning>,
    pub pace_m_s: f64,
    pub step_s: f64,
}

impl Walked {
    /// Variance of the area from where the walk was not seen: between fixes at corners, at the closing, in gaps, m⁴.
    pub fn others_m4(&self) -> f64 {
        self.sampling_sigma_m2.powi(2) + self.closing_sigma_m2.powi(2) + self.gaps_m4()
    }

    /// Variance of the area from gaps, m⁴: anything up to the most each may hide, evenly spread.
    pub fn gaps_m4(&self) -> f64 {
        let sigma_m2 = |gap: &Gap| gap.may_hide_m2 / 3f64.sqrt() / f64::from(self.laps);
        self.gaps.iter().map(|gap| sigma_m2(gap).powi(2)).sum()
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
        }
    }
}

/// What is asked of one ring.
pub struct Asked<'a> {
    pub label: &'a str,
    pub carry: Carry,
    pub sigma_m: Option<f64>,
}

/// Puts fixes on the plane, in the order of the log. A log without times gets the clock of a walk at one metre a second.
pub fn spots(fixes: &[(usize, &Fix)], plane: &Plane, sigma_m: Option<f64>) -> (Vec<Spot>, bool) {
    let timed = fixes.iter().all(|(_, f)| f.clock_s.is_some());
    let mut spots: Vec<Spot> = Vec::with_capacity(fixes.len());
    let mut way_m = 0.0;
    for &(index, fix) in fixes {
        let at = plane.forward(fix.lat_deg, fix.lon_deg);
        if !(at.x.is_finite() && at.y.is_finite()) {
            continue;
        }
        if let Some(last) = spots.last() {
            way_m += distance_m(last.at, at);
        }
        let t_s = if timed {
            fix.clock_s.unwrap_or(0.0)
        } else {
            way_m
        };
        let (sigma_m, _) = fix_sigma_m(fix, sigma_m);
        spots.push(Spot {
            at,
            t_s,
            sigma_m,
            fix: index,
        });
    }
    (spots, timed)
}

/// Measures one ring.
///
/// # Errors
/// Of kind `Withheld`: stands still, too few places, does not come round.
pub fn measure(fixes: &[(usize, &Fix)], plane: &Plane, asked: &Asked) -> Result<Walked, Fault> {
    let (all, timed) = spots(fixes, plane, asked.sigma_m);
    let what = if asked.label.is_empty() {
        "the walk".to_string()
    } else {
        format!("the walk “{}”", asked.label)
    };
    if all.len() < 4 {
        return Err(Fault::withheld(
            "too-few-fixes",
            format!(
                "There are only {} usable position(s) in {what}; an edge needs at least four.",
                all.len()
            ),
            "Check that the logger recorded the whole walk, and walk it again.",
        ));
    }
    let (receiver, sigma_source) = class(fixes, asked.sigma_m);
    let sigma_m = rms_sigma_m(&all);
    let mut warnings = Vec::new();
    let corner_list = is_corner_list(fixes, &all, timed);
    let cleaned = if corner_list {
        Cleaned {
            spots: all.clone(),
            step_s: 1.0,
            pace_m_s: 1.0,
            ..Cleaned::default()
        }
    } else {
        clean::clean(&all)
    };
    let laps = if corner_list {
        once_round(&cleaned.spots, &what)?;
        corner_ring(&cleaned.spots)
    } else {
        find_laps(&cleaned, sigma_m, &what)?
    };
    tell_cleaning(&cleaned, &what, &mut warnings);
    if laps.left_out <= MOST_LEFT_OUT && laps.turns_left_out > TURNS_LEFT_OUT {
        warnings.push(Warning::doubt(
            "lap-left-out",
            format!(
                "Besides the {} lap(s) found {what} goes {:.0} % of the way round once more without coming back to its start. \
                 If another lap was walked, a jump or gap hides it: look at the plan.",
                laps.count(),
                100.0 * laps.turns_left_out
            ),
        ));
    }
    if laps.left_out > MOST_LEFT_OUT {
        warnings.push(Warning::doubt(
            "most-left-out",
            format!(
                "{:.0} % of the way of {what} is not part of the lap that was found. Look at the plan whether it is the lawn; if not, \
                 walk it again without detours.",
                100.0 * laps.left_out
            ),
        ));
    }
    if !timed && !corner_list {
        warnings.push(Warning::note(
            "no-times",
            format!("The fixes of {what} carry no times; a pace of 1 m/s was assumed to judge how errors are related."),
        ));
    }

    // Area: the whole closed walk of each leg, divided by the number of laps.
    let count = laps.count() as f64;
    let spots = &cleaned.spots;
    let (mut area_m2, mut chords_m2, mut sampling_m4) = (0.0, 0.0, 0.0);
    let mut pulls = Vec::new();
    let mut pull_at = Vec::new();
    let mut gradient2_m2 = 0.0;
    let mut line: Vec<Spot> = Vec::new();
    for leg in &laps.legs {
        let (from, to) = (leg.bounds[0], leg.bounds[leg.bounds.len() - 1]);
        let walk = &spots[from..=to];
        let whole = smooth_area(walk, cleaned.step_s, corner_list || !timed);
        let share = leg.turn / count;
        area_m2 += whole.smooth_m2 * share;
        chords_m2 += whole.chords_m2 * share;
        sampling_m4 += (whole.sampling_sigma_m2 * share).powi(2);
        for (spot, gradient) in walk.iter().zip(&whole.gradient_m) {
            let [gx, gy] = [gradient[0] * share, gradient[1] * share];
            pulls.push(Pull {
                t_s: spot.t_s,
                pull_m2: [gx * spot.sigma_m[0], gy * spot.sigma_m[1]],
            });
            pull_at.push(spot.at);
            gradient2_m2 += gx * gx + gy * gy;
        }
        line.extend_from_slice(walk);
    }
    if !area_m2.is_finite() || area_m2 <= 0.0 {
        return Err(Fault::withheld(
            "holds-no-area",
            format!(
                "The laps of {what} cancel each other: the path crosses itself like a figure of eight."
            ),
            "Walk each part as a closed walk of its own, in one direction, without crossing the path.",
        ));
    }

    let rings: Vec<Vec<Spot>> = laps
        .legs
        .iter()
        .flat_map(|leg| leg.bounds.windows(2).map(move |w| (w[0], w[1], leg.turn)))
        .map(|(a, b, turn)| {
            let mut lap = spots[a..=b].to_vec();
            if turn != laps.legs[0].turn {
                lap.reverse();
            }
            lap
        })
        .collect();
    let mut edge = edge::fit(&rings, cleaned.pace_m_s, cleaned.step_s, corner_list);
    edge.fill(area_m2);
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
        stray_m(spots, &laps, sigma_m)
    };
    tell_closing(
        laps.widest_gap_m(),
        stray_m,
        edge.perimeter_m,
        sigma_m,
        &what,
        &mut warnings,
    )?;
    let mut removed = cleaned.removed.clone();
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

    let smoothing_m2 = area_m2 - chords_m2;
    let carried_m2 = carry_edge(&mut edge, asked.carry, &what)?;
    Ok(Walked {
        label: asked.label.to_string(),
        area_m2: area_m2 + carried_m2,
        smoothing_m2,
        carried_m2,
        sampling_sigma_m2: sampling_m4.sqrt(),
        coarse: coarse(&line, count),
        heights: super::ground::heights(&line, fixes),
        pulls,
        pull_at,
        differences: if corner_list {
            Vec::new()
        } else {
            evidence::differences(spots, &laps)
        },
        gradient2_m2,
        edge,
        start: spots[first].at,
        fixed: Vec::new(),
        line,
        laps: laps.count() as u32,
        closing_gap_m,
        closing_sigma_m2,
        gaps: gaps_on_edge(&cleaned.gaps, &laps),
        left_out: laps.left_out,
        lost_beside_s: lost_beside_s(&cleaned, &laps),
        jumps: jumps_that_matter(&cleaned, &laps),
        removed,
        receiver,
        sigma_m,
        sigma_source,
        carry_sigma_m: asked.carry.sigma_m.unwrap_or(CARRY_SIGMA_M),
        warnings,
        pace_m_s: cleaned.pace_m_s,
        step_s: cleaned.step_s,
        spots: cleaned.spots,
    })
}

/// First and last spot of each leg.
fn ends(laps: &Laps) -> impl Iterator<Item = (usize, usize)> + '_ {
    laps.legs
        .iter()
        .map(|leg| (leg.bounds[0], leg.bounds[leg.bounds.len() - 1]))
}

fn gaps_on_edge(gaps: &[Gap], laps: &Laps) -> Vec<Gap> {
    let on_edge = |gap: &&Gap| ends(laps).any(|(first, last)| (first..last).contains(&gap.after));
    gaps.iter().filter(on_edge).copied().collect()
}

/// Part of a lap, by time, without a position that a person would not call a corner cut.
const LONG_LOST: f64 = 0.08;

/// Part of the way that is not in the laps from which a stretch without a position may have taken a part of the edge.
const WALKED_BESIDE: f64 = 0.15;

/// A receiver that lost its position for good may have lost a part of the edge, if much was walked beside the laps.
pub fn lost_at_end(ring: &Walked, lost_s: f64) -> Option<Warning> {
    let lap_s = ring.edge.perimeter_m / ring.pace_m_s.max(0.1);
    (ring.left_out > WALKED_BESIDE && lost_s > LONG_LOST * lap_s).then(|| {
        Warning::doubt(
            "fixes-lost",
            format!(
                "The receiver had no position for the last {lost_s:.0} s of the log, and {:.0} % of the way is not part of the {} \
                 lap(s) found. If the edge was walked then, the laps are not the lawn: look at the plan, and walk it again.",
                100.0 * ring.left_out,
                ring.laps
            ),
        )
    })
}

/// The longest stretch without a fix outside of all legs. Between two of them a walk was broken off and taken up again, if
/// hardly anything was walked beside them.
fn lost_beside_s(cleaned: &Cleaned, laps: &Laps) -> Option<f64> {
    let (first, last) = (
        laps.legs.first()?.bounds[0],
        laps.legs.last()?.bounds.last().copied()?,
    );
    let lap_s: f64 = ends(laps)
        .map(|(a, b)| cleaned.spots[b].t_s - cleaned.spots[a].t_s)
        .sum::<f64>()
        / laps.count() as f64;
    cleaned
        .gaps
        .iter()
        .filter(|gap| {
            let between = (first..last).contains(&gap.after);
            let on_edge = ends(laps).any(|(a, b)| (a..b).contains(&gap.after));
            !on_edge && (!between || laps.left_out > WALKED_BESIDE)
        })
        .map(|gap| gap.lasted_s)
        .filter(|&lasted_s| lasted_s > LONG_LOST * lap_s)
        .reduce(f64::max)
}

/// Jumps on the edge or close to its ends: there they decide where it seems to close.
fn jumps_that_matter(cleaned: &Cleaned, laps: &Laps) -> Vec<Jump> {
    const CLOSE_S: f64 = 15.0;
    let at_s = |i: usize| cleaned.spots[i].t_s;
    let lap_s = ends(laps).map(|(a, b)| at_s(b) - at_s(a)).sum::<f64>() / laps.count() as f64;
    let close_s = CLOSE_S.max(0.5 * lap_s);
    cleaned
        .jumps
        .iter()
        .filter(|jump| {
            ends(laps).any(|(first, last)| {
                if jump.beyond_reach {
                    at_s(jump.after) > at_s(first) - close_s
                        && at_s(jump.after) < at_s(last) + close_s
                } else {
                    // Stepping on to the edge and off it again is no jump.
                    (first + 3..last.saturating_sub(3)).contains(&jump.after)
                }
            })
        })
        .copied()
        .collect()
}

/// Receiver class and the source of its sigma, by the majority of fixes.
fn class(fixes: &[(usize, &Fix)], given_m: Option<f64>) -> (Receiver, SigmaSource) {
    // The best last: of classes with as many fixes it is the one taken.
    const CLASSES: [Receiver; 5] = [
        Receiver::Unknown,
        Receiver::Autonomous,
        Receiver::Differential,
        Receiver::RtkFloat,
        Receiver::RtkFixed,
    ];
    let mut of_class = [0usize; CLASSES.len()];
    for (_, fix) in fixes {
        let class = Receiver::of(fix.quality);
        for (count, one) in of_class.iter_mut().zip(CLASSES) {
            *count += usize::from(one == class);
        }
    }
    let most = CLASSES.into_iter().zip(of_class).max_by_key(|c| c.1);
    let receiver = most.map_or(Receiver::Unknown, |c| c.0);
    let mut counts = [0usize; 3];
    for (_, fix) in fixes {
        match fix_sigma_m(fix, given_m).1 {
            SigmaSource::Given => return (receiver, SigmaSource::Given),
            SigmaSource::Gst => counts[0] += 1,
            SigmaSource::Hdop => counts[1] += 1,
            _ => counts[2] += 1,
        }
    }
    let source = if counts[0] * 2 >= fixes.len() {
        SigmaSource::Gst
    } else if counts[2] * 2 >= fixes.len() {
        SigmaSource::Assumed
    } else {
        SigmaSource::Hdop
    };
    (receiver, source)
}

fn rms_sigma_m(spots: &[Spot]) -> f64 {
    (spots.iter().map(|s| s.sigma().powi(2)).sum::<f64>() / spots.len().max(1) as f64).sqrt()
}

/// Whether the fixes are corners in order (a route, a point list without times) rather than a walk.
fn is_corner_list(fixes: &[(usize, &Fix)], spots: &[Spot], timed: bool) -> bool {
    let listed = fixes
        .iter()
        .all(|(_, f)| matches!(f.source, Source::Point | Source::Rtept));
    if !listed {
        return false;
    }
    // A point list with the times of a walk is a walk.
    let lasted_s = spots.last().map_or(0.0, |l| l.t_s) - spots.first().map_or(0.0, |f| f.t_s);
    !timed || lasted_s <= 0.0 || lasted_s / spots.len() as f64 > 4.0
}

/// A list of corners has no laps to average: one that comes round twice would hold twice the area.
fn once_round(spots: &[Spot], what: &str) -> Result<(), Fault> {
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
        }],
        inside: ring[0],
        left_out: 0.0,
        turns_left_out: 0.0,
    }
}

fn find_laps(cleaned: &Cleaned, sigma_m: f64, what: &str) -> Result<Laps, Fault> {
    let stands_still = || {
        Fault::withheld(
            "stands-still",
            format!(
                "The receiver hardly moved during {what}: its fixes only wander about one place."
            ),
            "Walk round the edge of the lawn with the logger running; a log of standing still holds no area.",
        )
    };
    if !moves(&cleaned.spots) {
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

/// Whether the walker got anywhere: over half-minute windows, progress must be more than wandering.
fn moves(spots: &[Spot]) -> bool {
    const WINDOW_S: f64 = 10.0;
    const SLOWEST_M_S: f64 = 0.25;
    let (mut windows, mut moving) = (0u32, 0u32);
    let mut from = 0;
    for (i, spot) in spots.iter().enumerate() {
        if spot.t_s - spots[from].t_s >= WINDOW_S {
            windows += 1;
            let lasted_s = spot.t_s - spots[from].t_s;
            if distance_m(spots[from].at, spot.at) > SLOWEST_M_S * lasted_s {
                moving += 1;
            }
            from = i;
        }
    }
    windows < 3 || moving * 5 >= windows
}

fn tell_cleaning(cleaned: &Cleaned, what: &str, warnings: &mut Vec<Warning>) {
    let count = |reason: Removal| cleaned.removed.iter().filter(|r| r.1 == reason).count();
    let spikes = count(Removal::Spike);
    if spikes > 0 {
        warnings.push(Warning::note(
            "spikes-removed",
            format!(
                "{spikes} fix(es) of {what} were far off the walk for a moment and were left out."
            ),
        ));
    }
    let frozen = count(Removal::Frozen);
    if frozen > 0 {
        warnings.push(Warning::doubt(
            "position-froze",
            format!(
                "The position of {what} stood still for {frozen} fix(es) while the walk went on, and then caught up. They were \
                 left out; look at that stretch on the plan, and walk it again if a corner or curve is missing."
            ),
        ));
    }
    let off = count(Removal::OffTheWalk);
    if off > 0 {
        warnings.push(Warning::doubt(
            "off-the-walk",
            format!(
                "{off} fixes of {what} run off the walk and come back. They were left out; look at that stretch on the \
                 plan, and walk again if it does not look like the edge."
            ),
        ));
    }
    if let Some(apart_m) = cleaned.alternating_m {
        warnings.push(Warning::doubt(
            "two-streams",
            format!(
                "Every other fix of {what} lies {apart_m:.1} m to one side of the rest: two position streams are woven \
                 together. Set the logger to record one, and walk again, or check the area with a tape."
            ),
        ));
    }
    if let Some(apart_m) = cleaned.streams_apart_m {
        warnings.push(Warning::doubt(
            "two-streams",
            format!(
                "Two position streams {apart_m:.1} m apart are woven together in {what}; the fuller one was used. Set the \
                 logger to record one, or check the area with a tape."
            ),
        ));
    }
}

/// How far the laps end from where stopping short of the start or walking past it explains, at most, metres.
fn stray_m(spots: &[Spot], laps: &Laps, sigma_m: f64) -> f64 {
    // A pace, and a second one where a lap ends between two fixes.
    const PACES_M: f64 = 1.5;
    let ahead_m = (2.0 * sigma_m).clamp(1.0, 5.0);
    let way = |from: Option<&Spot>, to: Option<&Spot>| match (from, to) {
        (Some(from), Some(to)) if distance_m(from.at, to.at) > 0.0 => {
            (to.at - from.at) * (PACES_M / distance_m(from.at, to.at))
        }
        _ => Coord { x: 0.0, y: 0.0 },
    };
    laps.each()
        .map(|(first, last)| {
            let (start, end) = (&spots[first], &spots[last]);
            let on = spots[first..last]
                .iter()
                .find(|s| distance_m(s.at, start.at) >= ahead_m);
            let back = spots[first..last]
                .iter()
                .rev()
                .find(|s| distance_m(s.at, end.at) >= ahead_m);
            let gap = end.at - start.at;
            let (on, back) = (way(Some(start), on), way(Some(end), back));
            // Short of it or past it, and where it starts at a corner, round that.
            [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)]
                .into_iter()
                .map(|(a, b)| off_m(gap, on * a, back * b))
                .fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max)
}

fn tell_closing(
    gap_m: f64,
    stray_m: f64,
    perimeter_m: f64,
    sigma_m: f64,
    what: &str,
    warnings: &mut Vec<Warning>,
) -> Result<(), Fault> {
    if gap_m > 0.25 * perimeter_m {
        return Err(Fault::withheld(
            "too-open",
            format!(
                "The two ends of {what} are {gap_m:.1} m apart on an edge of {perimeter_m:.0} m: too open to close."
            ),
            "Walk the whole edge back to where you started, and a few steps past it.",
        ));
    }
    // Both ends err, and the hand. Independent errors pass 3.2 sigma of their distance once in 170 laps.
    let noise_m = 3.2 * std::f64::consts::SQRT_2 * sigma_m;
    if gap_m > noise_m + 1.2 || stray_m > noise_m + 0.4 {
        warnings.push(Warning::doubt(
            "closing-gap",
            format!(
                "The end of {what} is {gap_m:.1} m from its start, more than this receiver's error explains; a straight \
                 line was drawn across. Look whether the position jumped on the way; walk past the start next time."
            ),
        ));
    }
    Ok(())
}

/// Moves single sides that were carried differently from the rest: between two lettered corners, clockwise or counter-
/// clockwise, whichever way is the shorter. The rest of the edge was already moved.
///
/// # Errors
/// Of kind `Usage`: a corner of that letter does not exist; `Withheld`: nothing is left.
pub fn carry_sides(
    ring: &mut Walked,
    sides: &[crate::job::Edge],
    whole: Carry,
) -> Result<(), Fault> {
    let signed = |carry: Carry| match carry.side.or(whole.side).unwrap_or(Side::Inside) {
        Side::Inside => carry.offset_m.unwrap_or(0.0),
        Side::Outside => -carry.offset_m.unwrap_or(0.0),
    };
    let vertices = &ring.edge.vertices;
    let n = vertices.len();
    let corners = corners::of(ring);
    let find = |wanted: &str| {
        let at = corners
            .iter()
            .find(|(_, name)| name.eq_ignore_ascii_case(wanted))
            .map(|(vertex, _)| *vertex);
        at.ok_or_else(|| {
            let names: Vec<&str> = corners.iter().map(|(_, name)| name.as_str()).collect();
            Fault::usage(
                "no-such-corner",
                format!(
                    "[[edge]] names the corner “{wanted}”, but the corners found are: {}.",
                    names.join(", ")
                ),
                "Measure once without [[edge]] and take the letters from the sheet's list of corners.",
            )
        })
    };
    let mut outward_m = vec![0.0; n];
    for side in sides {
        let (from, to) = (find(&side.from)?, find(&side.to)?);
        let moved_m = signed(side.carry) - signed(whole);
        let span = |a: usize, b: usize| (a..a + (b + n - a) % n).map(|i| i % n).collect::<Vec<_>>();
        let way_m = |spans: &[usize]| {
            spans
                .iter()
                .map(|&i| distance_m(vertices[i].at, vertices[(i + 1) % n].at))
                .sum::<f64>()
        };
        let (one, other) = (span(from, to), span(to, from));
        for i in if way_m(&one) <= way_m(&other) {
            one
        } else {
            other
        } {
            outward_m[i] = moved_m;
        }
    }
    let area_m2 = move_edge(&mut ring.edge, &outward_m);
    if area_m2 <= 0.0 {
        return Err(Fault::withheld(
            "carry-collapses",
            "With the sides moved as [[edge]] says, nothing is left inside the edge.",
            "Check the carry_m and carry_side of [[edge]].",
        ));
    }
    let added_m2 = area_m2 - ring.area_m2;
    ring.carried_m2 += added_m2;
    ring.area_m2 = area_m2;
    Ok(())
}

/// Moves the spans of an edge outwards, each by its own distance; returns the area it then holds, m².
fn move_edge(edge: &mut Edge, outward_m: &[f64]) -> f64 {
    let ring = edge.ring();
    let moved = carry::parallel(&ring, outward_m);
    let vertices: Vec<_> = moved
        .into_iter()
        .map(|(from, at)| Vertex {
            at,
            ..edge.vertices[from]
        })
        .collect();
    let moved: Vec<_> = vertices.iter().map(|v| v.at).collect();
    edge.perimeter_m += perimeter_m(&moved) - perimeter_m(&ring);
    edge.vertices = vertices;
    signed_area_m2(&moved)
}

/// Moves the drawn edge by the carry offset; returns what that adds to the area, m².
fn carry_edge(edge: &mut Edge, carry: Carry, what: &str) -> Result<f64, Fault> {
    let Some(offset_m) = carry.offset_m.filter(|&m| m != 0.0) else {
        return Ok(0.0);
    };
    // Carried inside, the true edge lies outside of the walk.
    let outward_m = match carry.side.unwrap_or(Side::Inside) {
        Side::Inside => offset_m,
        Side::Outside => -offset_m,
    };
    let before_m2 = signed_area_m2(&edge.ring());
    let spans = edge.vertices.len();
    let after_m2 = move_edge(edge, &vec![outward_m; spans]);
    if after_m2 <= 0.0 || after_m2 < 0.02 * before_m2 {
        return Err(Fault::withheld(
            "carry-collapses",
            format!(
                "With the antenna carried {offset_m} m outside the edge, nothing is left inside {what}."
            ),
            "Check carry_m and carry_side.",
        ));
    }
    Ok(after_m2 - before_m2)
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
        coarse.at.push(spot.at);
        coarse.t_s.push(spot.t_s);
        coarse.sigma_m.push(spot.sigma());
    }
    coarse
}
