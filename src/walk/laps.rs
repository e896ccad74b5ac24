//! Finds the laps of a walk: by how it winds about its own inside, and where it comes back to its start.

use super::{Spot, turning};
use crate::ring::{cross, distance_m, distance2_m2, dot, signed_area_m2};
use geo::Coord;
use std::f64::consts::TAU;

/// A run of whole laps in one direction.
#[derive(Debug, Clone, PartialEq)]
pub struct Leg {
    /// Spot indices: the start, then the end of each lap; one more than there are laps.
    pub bounds: Vec<usize>,
    /// +1 counter-clockwise, -1 clockwise.
    pub turn: f64,
    /// Distance between the two ends of each lap, metres.
    pub gaps_m: Vec<f64>,
}

/// All laps of a walk.
#[derive(Debug, Clone, PartialEq)]
pub struct Laps {
    pub legs: Vec<Leg>,
    /// A place well inside the walk.
    pub inside: Coord<f64>,
    /// Way outside of any whole lap, as a part of the whole way, 0 to 1.
    pub left_out: f64,
    /// How often the walk turns about its inside before its first lap or after its last, whichever is more.
    pub turns_left_out: f64,
}

impl Laps {
    pub fn count(&self) -> usize {
        self.legs.iter().map(|leg| leg.bounds.len() - 1).sum()
    }
    /// Root mean square distance between the ends of the laps, metres.
    pub fn closing_gap_m(&self) -> f64 {
        let (sum, n) = self
            .legs
            .iter()
            .flat_map(|leg| &leg.gaps_m)
            .fold((0.0, 0usize), |(s, n), gap| (s + gap * gap, n + 1));
        if n == 0 { 0.0 } else { (sum / n as f64).sqrt() }
    }

    /// Distance between the ends of the lap that closes worst, metres.
    pub fn widest_gap_m(&self) -> f64 {
        let gaps = self.legs.iter().flat_map(|leg| &leg.gaps_m);
        gaps.copied().fold(0.0, f64::max)
    }

    /// Start and end spot of every lap, in walking order.
    pub fn each(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.legs
            .iter()
            .flat_map(|leg| leg.bounds.windows(2).map(|w| (w[0], w[1])))
    }
}

/// Why no lap was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoLap {
    /// Fewer than four places apart from each other.
    StandsStill,
    /// The walk does not come round: the share of a full turn it makes about its inside, and how far its
    /// ends are apart, metres.
    Open { turn: f64, ends_apart_m: f64 },
}

/// A walk thinned for searching: places at a spacing, with their spot index and way from the start.
struct Thin {
    at: Vec<Coord<f64>>,
    spot: Vec<usize>,
    way_m: Vec<f64>,
}

/// How far back a lap may fall short of a full turn, radians, or overshoot it.
const SLACK_RAD: f64 = 0.7;

/// Way left out at the ends that weighs as much as a disagreement of one and a half times what noise explains, metres.
const LEFT_OUT_M: f64 = 20.0;

/// Finds the laps of a cleaned walk. `sigma_m` is the typical position sigma: it says how closely a walk can be
/// expected to come back to its start.
pub fn find(spots: &[Spot], sigma_m: f64) -> Result<Laps, NoLap> {
    let calmed = calmed(spots, sigma_m);
    let opening = opening(&calmed);
    let thin = thin(&calmed[..opening], 400);
    if thin.at.len() < 4 {
        return Err(NoLap::StandsStill);
    }
    let ends_apart_m = distance_m(thin.at[0], thin.at[thin.at.len() - 1]);
    let Some((inside, mut span)) = inside(&thin) else {
        return Err(NoLap::Open {
            turn: 0.0,
            ends_apart_m,
        });
    };
    if opening < spots.len() {
        span = span_of_long(&calmed, inside).ok_or(NoLap::StandsStill)?;
    }
    if span < TAU - 1.3 {
        return Err(NoLap::Open {
            turn: span / TAU,
            ends_apart_m,
        });
    }
    // Fine enough to find the closing place of every lap of a long walk.
    let laps_about = (span / TAU).ceil().max(1.0);
    let thin = self::thin(&calmed, (160.0 * laps_about) as usize + 240);
    let angle = winding_rad(&thin.at, inside);
    let mut legs: Vec<Leg> = Vec::new();
    let leg = |&(from, to): &(usize, usize)| leg(spots, &thin, &angle, from, to, sigma_m);
    for range in one_way(&angle) {
        let whole = leg(&range);
        let parts = without_breaks(spots, &thin, &angle, range.0, range.1);
        let parted: Vec<Leg> = parts.iter().filter_map(leg).collect();
        if parts.len() > 1 && close_as_well(&parted, whole.as_ref(), sigma_m) {
            legs.extend(parted);
        } else {
            legs.extend(whole);
        }
    }
    if legs.is_empty() {
        return Err(NoLap::Open {
            turn: span / TAU,
            ends_apart_m,
        });
    }
    let way_m = |from: usize, to: usize| -> f64 {
        calmed[from..=to]
            .windows(2)
            .map(|w| distance_m(w[0].at, w[1].at))
            .sum()
    };
    let within_m: f64 = legs
        .iter()
        .map(|l| way_m(l.bounds[0], l.bounds[l.bounds.len() - 1]))
        .sum();
    let whole_m = way_m(0, spots.len() - 1);
    let turns = |from: usize, to: usize| {
        let part: Vec<_> = calmed[from..=to].iter().map(|spot| spot.at).collect();
        winding_rad(&part, inside).last().map_or(0.0, |&w| w.abs()) / TAU
    };
    let (first, last) = (
        legs[0].bounds[0],
        legs.last()
            .and_then(|leg| leg.bounds.last().copied())
            .unwrap_or(0),
    );
    let turns_left_out = turns(0, first).max(turns(last, spots.len() - 1));
    Ok(Laps {
        turns_left_out,
        legs,
        inside,
        left_out: 1.0 - within_m / whole_m.max(1e-9),
    })
}

/// A walk longer than this many times its own extent has ten laps or more: its opening shows where they run.
const LONG_EXTENTS: f64 = 30.0;

/// Diagonal of the box about all spots, metres.
fn extent_m(spots: &[Spot]) -> f64 {
    let (mut low, mut high) = (
        Coord {
            x: f64::INFINITY,
            y: f64::INFINITY,
        },
        Coord {
            x: f64::NEG_INFINITY,
            y: f64::NEG_INFINITY,
        },
    );
    for spot in spots {
        low = Coord {
            x: low.x.min(spot.at.x),
            y: low.y.min(spot.at.y),
        };
        high = Coord {
            x: high.x.max(spot.at.x),
            y: high.y.max(spot.at.y),
        };
    }
    if spots.is_empty() {
        0.0
    } else {
        distance_m(low, high)
    }
}

/// How many spots from the start to look for the inside in: all of them, but of a long walk only its opening, or its
/// places would be thinned to further apart than the lawn is wide.
fn opening(spots: &[Spot]) -> usize {
    let most_m = LONG_EXTENTS * extent_m(spots);
    let mut way_m = 0.0;
    for (i, pair) in spots.windows(2).enumerate() {
        way_m += distance_m(pair[0].at, pair[1].at);
        if way_m > most_m {
            return i + 1;
        }
    }
    spots.len()
}

/// The angle a long walk makes about its inside; `None` where it does not keep going round but wanders to and fro,
/// as the positions of a receiver that stands still do.
fn span_of_long(spots: &[Spot], inside: Coord<f64>) -> Option<f64> {
    const ORDERLY: f64 = 0.5;
    let spacing_m = extent_m(spots) / 50.0;
    let mut path: Vec<Coord<f64>> = Vec::new();
    for spot in spots {
        if path
            .last()
            .is_none_or(|&last| distance_m(last, spot.at) >= spacing_m)
        {
            path.push(spot.at);
        }
    }
    let angles = winding_rad(&path, inside);
    let turned: f64 = angles.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
    let net = angles.last().copied().unwrap_or(0.0).abs();
    if net < ORDERLY * turned {
        return None;
    }
    let (low, high) = angles
        .iter()
        .fold((0.0f64, 0.0f64), |(l, h), &a| (l.min(a), h.max(a)));
    Some(high - low)
}

/// Half the time over which positions are averaged for the search, seconds: as long as the walker takes over the
/// position error, between these two.
const CALM_S: (f64, f64) = (0.75, 2.0);

/// The walk for searching, with most of its white noise averaged away: at 10 Hz the line through noisy fixes is many
/// times as long as the way walked, so that a few hundredths of it are wider than the lawn, and no line across the
/// lawn gets past the noise at its foot.
fn calmed(spots: &[Spot], sigma_m: f64) -> Vec<Spot> {
    turning::averaged(spots, sigma_m.clamp(CALM_S.0, CALM_S.1))
}

/// Keeps spots at least a `most`-th of the way apart.
fn thin(spots: &[Spot], most: usize) -> Thin {
    let whole_m: f64 = spots.windows(2).map(|w| distance_m(w[0].at, w[1].at)).sum();
    let spacing_m = (whole_m / most as f64).max(0.05);
    let mut thin = Thin {
        at: Vec::new(),
        spot: Vec::new(),
        way_m: Vec::new(),
    };
    for (i, spot) in spots.iter().enumerate() {
        match thin.at.last() {
            Some(&last) if distance_m(last, spot.at) < spacing_m => {}
            last => {
                let way_m = thin.way_m.last().copied().unwrap_or(0.0)
                    + last.map_or(0.0, |&l| distance_m(l, spot.at));
                thin.at.push(spot.at);
                thin.spot.push(i);
                thin.way_m.push(way_m);
            }
        }
    }
    thin
}

/// Angle walked about a place, radians, counted on from zero.
fn winding_rad(path: &[Coord<f64>], about: Coord<f64>) -> Vec<f64> {
    let mut total = 0.0;
    let mut angles = Vec::with_capacity(path.len());
    let mut last: Option<Coord<f64>> = None;
    for &at in path {
        let arm = at - about;
        if let Some(last) = last {
            total += cross(last, arm).atan2(last.x * arm.x + last.y * arm.y);
        }
        angles.push(total);
        last = Some(arm);
    }
    angles
}

/// A place well inside the walk, and the span of angle the walk makes about it: of the middles of the chords
/// square to the walk, the one furthest from the walk among those that agree on how often it comes round.
fn inside(thin: &Thin) -> Option<(Coord<f64>, f64)> {
    const FEET: usize = 40;
    let n = thin.at.len();
    let stride = (n / 160).max(1);
    let path: Vec<_> = thin
        .at
        .iter()
        .copied()
        .step_by(stride)
        .chain(thin.at.last().copied())
        .collect();
    let mut found: Vec<(u64, f64, Coord<f64>, f64)> = Vec::new();
    let mut widest: Option<(Coord<f64>, f64)> = None;
    for foot in 0..FEET {
        let k = 1 + foot * (path.len().saturating_sub(2)) / FEET;
        let (Some(&before), Some(&at), Some(&after)) =
            (path.get(k - 1), path.get(k), path.get(k + 1))
        else {
            continue;
        };
        let along = after - before;
        let square = Coord {
            x: -along.y,
            y: along.x,
        };
        for far in hits(&path, k, at, square).into_iter().flatten() {
            let middle = (at + far) / 2.0;
            let span = span_rad(&path, middle);
            if widest.is_none_or(|(_, w)| span > w) {
                widest = Some((middle, span));
            }
            if span > TAU - 1.3 {
                let clear2_m2 = path
                    .iter()
                    .map(|&p| distance2_m2(p, middle))
                    .fold(f64::INFINITY, f64::min);
                let turns = (span / TAU).round() as u64;
                found.push((turns, clear2_m2.sqrt(), middle, span));
            }
        }
    }
    // Between the way in and the way out there is a wedge that the walk nearly comes round, too.
    const FULL_RAD: f64 = TAU - 0.35;
    if found.iter().any(|f| f.3 > FULL_RAD) {
        found.retain(|f| f.3 > FULL_RAD);
    }
    // On a lawn hardly larger than the position error the laps lie apart, and only their common inside is inside all of
    // them; but little loops of noise come round once more too. Count as many turns as a fair share of the inside has.
    const FAIR_SHARE: f64 = 0.12;
    let weight = |least: u64| -> f64 {
        found
            .iter()
            .filter(|f| f.0 >= least)
            .map(|f| f.1 * f.1)
            .sum()
    };
    let most = found.iter().map(|f| f.0).max().unwrap_or(0);
    let turns = (1..=most)
        .rev()
        .find(|&turns| weight(turns) >= FAIR_SHARE * weight(0))
        .unwrap_or(0);
    found
        .iter()
        .filter(|f| f.0 == turns)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|f| (f.2, f.3))
        .or(widest)
}

/// Where the line through `at` along `towards` first crosses the path, ahead and behind, leaving out the spans next to
/// place `k`.
fn hits(
    path: &[Coord<f64>],
    k: usize,
    at: Coord<f64>,
    towards: Coord<f64>,
) -> [Option<Coord<f64>>; 2] {
    let (mut ahead, mut behind) = (f64::INFINITY, f64::INFINITY);
    // The path crosses the line where it passes from one side of it to the other.
    let side = |place: Coord<f64>| cross(towards, place - at);
    let mut last: Option<(Coord<f64>, f64)> = None;
    for (i, &to) in path.iter().enumerate() {
        let end = side(to);
        if let Some((from, start)) = last.replace((to, end))
            && start * end <= 0.0
            && start != end
            && (i + 1 < k || i > k + 2)
        {
            let along = cross(from - at, to - from) / (end - start);
            if along > 1e-9 {
                ahead = ahead.min(along);
            } else if along < -1e-9 {
                behind = behind.min(-along);
            }
        }
    }
    [ahead, -behind].map(|along| along.is_finite().then(|| at + towards * along))
}

/// The angle between the furthest a path comes round a place one way and the other, radians: what [`winding_rad`] spans,
/// without an arc tangent for every step.
///
/// An arm's angle is that of its direction and whole turns; a turn is added or taken off where the path crosses the line
/// due west of the place. The furthest is among the places with most turns: there the sides of north and south tell, then
/// the cross product.
fn span_rad(path: &[Coord<f64>], about: Coord<f64>) -> f64 {
    let south = |at: Coord<f64>| at.y - about.y < 0.0;
    let Some(&first) = path.first() else {
        return 0.0;
    };
    // Runs of places that have as many turns: how many, and where each begins.
    let mut runs = vec![(0i64, 0usize)];
    let (mut turns, mut was_south) = (0, south(first));
    for (i, &at) in path.iter().enumerate().skip(1) {
        if south(at) == was_south {
            continue;
        }
        was_south = !was_south;
        let (from, to) = (path[i - 1] - about, at - about);
        let turn = cross(from, to);
        // Straight through the place counts as half a turn to the left.
        let passed = if was_south {
            i64::from(turn > 0.0 || (turn == 0.0 && dot(from, to) < 0.0))
        } else {
            -i64::from(turn < 0.0)
        };
        if passed != 0 {
            turns += passed;
            runs.push((turns, i));
        }
    }
    let beyond = |a: Coord<f64>, b: Coord<f64>| {
        if south(a) != south(b) {
            return south(b);
        }
        let (a, b) = (a - about, b - about);
        let turn = cross(b, a);
        // Due west is half a turn from due east.
        turn > 0.0 || (turn == 0.0 && a.x < 0.0 && b.x > 0.0)
    };
    // The furthest to the left, or to the right.
    let furthest = |turns: i64, left: bool| {
        let ends = runs.iter().skip(1).map(|run| run.1).chain([path.len()]);
        let at = runs
            .iter()
            .zip(ends)
            .filter(|(run, _)| run.0 == turns)
            .flat_map(|(run, end)| &path[run.1..end])
            .copied()
            .reduce(|far, at| match left {
                true if beyond(at, far) => at,
                false if beyond(far, at) => at,
                _ => far,
            });
        let to = at.unwrap_or(first) - about;
        // Adding 0 turns -0 into 0: due west is half a turn to the left.
        (to.y + 0.0).atan2(to.x) + TAU * turns as f64
    };
    let most = runs.iter().map(|run| run.0).max().unwrap_or(0);
    let least = runs.iter().map(|run| run.0).min().unwrap_or(0);
    furthest(most, true) - furthest(least, false)
}

/// Splits a walk where it turns back: ranges of thinned places that wind one way by most of a turn.
fn one_way(angle: &[f64]) -> Vec<(usize, usize)> {
    // A walk back along the edge shorter than this is an overrun, not a new leg.
    const TURN_BACK_RAD: f64 = 3.0;
    let mut ranges = Vec::new();
    let mut from = 0;
    let (mut low, mut high) = (0, 0);
    // Direction of the present range: 0 until known.
    let mut way = 0.0;
    for i in 1..angle.len() {
        if angle[i] > angle[high] {
            high = i;
        }
        if angle[i] < angle[low] {
            low = i;
        }
        if way >= 0.0
            && angle[high] - angle[i] > TURN_BACK_RAD
            && (way > 0.0 || angle[high] - angle[from] > TURN_BACK_RAD)
        {
            ranges.push((from, high));
            (from, way) = (high, -1.0);
            (low, high) = (i, i);
        } else if way <= 0.0
            && angle[i] - angle[low] > TURN_BACK_RAD
            && (way < 0.0 || angle[from] - angle[low] > TURN_BACK_RAD)
        {
            ranges.push((from, low));
            (from, way) = (low, 1.0);
            (low, high) = (i, i);
        } else if way == 0.0 {
            if angle[i] - angle[low] > TURN_BACK_RAD {
                way = 1.0;
            } else if angle[high] - angle[i] > TURN_BACK_RAD {
                way = -1.0;
            }
        }
    }
    ranges.push((from, angle.len() - 1));
    ranges.retain(|&(a, b)| b > a + 2 && (angle[b] - angle[a]).abs() > TAU - 1.3 - SLACK_RAD);
    ranges
}

/// Splits a one-way range where logging was broken off and taken up again, if no lap is lost by it: each part has a
/// lead-in and a lead-out of its own. A hole in the middle of a lap stays inside it.
fn without_breaks(
    spots: &[Spot],
    thin: &Thin,
    angle: &[f64],
    from: usize,
    to: usize,
) -> Vec<(usize, usize)> {
    const BREAK_S: f64 = 15.0;
    let whole = |a: usize, b: usize| (((angle[b] - angle[a]).abs() + SLACK_RAD) / TAU).floor();
    let mut parts = vec![(from, to)];
    for cut in from..to {
        // Places are thinned by distance: the break is between two spots of this step.
        let (a, b) = (thin.spot[cut], thin.spot[cut + 1]);
        let broken = spots[a..=b]
            .windows(2)
            .any(|w| w[1].t_s - w[0].t_s > BREAK_S);
        let Some(&(start, end)) = parts.last() else {
            continue;
        };
        let (before, after) = (whole(start, cut), whole(cut + 1, end));
        if broken && before >= 1.0 && after >= 1.0 && before + after >= whole(start, end) {
            parts.pop();
            parts.extend([(start, cut), (cut + 1, end)]);
        }
    }
    parts
}

/// Whether the parts of a walk come back to their own starts about as closely as the walk that runs on across the breaks:
/// otherwise a break is only a stretch that was lost.
fn close_as_well(parts: &[Leg], whole: Option<&Leg>, sigma_m: f64) -> bool {
    // Between two fixes a second apart.
    const STEP_M: f64 = 0.5;
    let widest_m = |leg: &Leg| leg.gaps_m.iter().copied().fold(0.0, f64::max);
    let parted_m = parts.iter().map(widest_m).fold(0.0, f64::max);
    whole.is_none_or(|whole| parted_m <= widest_m(whole) + 2.0 * apart_m(sigma_m) + STEP_M)
}

/// How far two passes of one place are typically apart: both errors, and a pole's wobble, metres.
fn apart_m(sigma_m: f64) -> f64 {
    1.5 * sigma_m + 0.10
}

/// Finds the whole laps within one one-way range.
fn leg(
    spots: &[Spot],
    thin: &Thin,
    angle: &[f64],
    from: usize,
    to: usize,
    sigma_m: f64,
) -> Option<Leg> {
    let turn = (angle[to] - angle[from]).signum();
    let wound = |i: usize| turn * angle[i];
    let apart_m = apart_m(sigma_m);
    // The way out may unwind some of it again.
    let peak_rad = (from..=to).map(wound).fold(f64::NEG_INFINITY, f64::max);
    let most_laps = ((peak_rad - wound(from) + SLACK_RAD) / TAU)
        .floor()
        .max(1.0) as usize;
    let lap_m = (thin.way_m[to] - thin.way_m[from]) / most_laps as f64;
    let ahead_m = (2.0 * apart_m + 1.0).clamp(1.5, (lap_m / 10.0).max(1.5));
    let mut best: Option<(f64, Vec<usize>)> = None;
    for start in from..to {
        if peak_rad - wound(start) < most_laps as f64 * TAU - SLACK_RAD {
            break;
        }
        let mut bounds = vec![start];
        let mut gap_sum = 0.0;
        let mut search = start;
        for lap in 1..=most_laps {
            let target = wound(start) + lap as f64 * TAU;
            while search < to && wound(search) < target - SLACK_RAD {
                search += 1;
            }
            let mut nearest: Option<(f64, usize)> = None;
            let mut j = search;
            while j <= to && wound(j) < target + SLACK_RAD {
                if (wound(j) - target).abs() <= SLACK_RAD {
                    let gap2_m2 = distance2_m2(thin.at[j], thin.at[start]);
                    if nearest.is_none_or(|(g, _)| gap2_m2 < g) {
                        nearest = Some((gap2_m2, j));
                    }
                }
                j += 1;
            }
            let Some((gap2_m2, j)) = nearest else { break };
            gap_sum += gap2_m2;
            bounds.push(j);
            search = j;
        }
        if bounds.len() != most_laps + 1 {
            continue;
        }
        let end = bounds[most_laps];
        // Least disagreement. A walk that sets out from here and comes back the way it went has not come round: it
        // closes at the gate, or across a narrow lawn. What is left out at either end is lead-in and lead-out, and
        // that is short.
        let back = match (
            heading(thin, start, ahead_m, 1),
            heading(thin, end, ahead_m, -1),
        ) {
            (Some(out), Some(home)) => (-dot(out, home) - 0.5).max(0.0),
            _ => 0.0,
        };
        let left_out_m = thin.way_m[start] - thin.way_m[from] + thin.way_m[to] - thin.way_m[end];
        let cost = gap_sum / most_laps as f64 / (2.0 * apart_m * apart_m)
            + 8.0 * back
            + left_out_m / LEFT_OUT_M;
        if best.as_ref().is_none_or(|(c, _)| cost < *c) {
            best = Some((cost, bounds));
        }
    }
    let (_, coarse) = best?;
    let mut bounds = sharpen(spots, thin, &coarse);
    let whole = &spots[bounds[0]..=bounds[most_laps]];
    let ring: Vec<_> = whole.iter().map(|spot| spot.at).collect();
    let laps = turning::laps(whole, most_laps, signed_area_m2(&ring), sigma_m);
    if laps > most_laps {
        bounds = split(spots, thin, &coarse, laps);
    }
    let gaps_m = bounds
        .windows(2)
        .map(|w| distance_m(spots[w[0]].at, spots[w[1]].at))
        .collect();
    Some(Leg {
        bounds,
        turn,
        gaps_m,
    })
}

/// Direction in which the walk leaves a place (`way` 1) or comes to it (`way` -1), over `ahead_m` metres.
fn heading(thin: &Thin, at: usize, ahead_m: f64, way: isize) -> Option<Coord<f64>> {
    let mut other = at;
    while (thin.way_m[other] - thin.way_m[at]).abs() < ahead_m {
        other = other
            .checked_add_signed(way)
            .filter(|&o| o < thin.at.len())?;
    }
    let span = (thin.at[other] - thin.at[at]) * way as f64;
    let length_m = span.x.hypot(span.y);
    (length_m > 0.0).then(|| span / length_m)
}

/// Moves each bound from the thinned places to the nearest of all spots.
fn sharpen(spots: &[Spot], thin: &Thin, coarse: &[usize]) -> Vec<usize> {
    let start = thin.spot[coarse[0]];
    let home = spots[start].at;
    let mut bounds = vec![start];
    for &j in &coarse[1..] {
        let from = thin.spot[j.saturating_sub(1)].max(bounds[bounds.len() - 1] + 1);
        let to = thin.spot.get(j + 1).copied().unwrap_or(spots.len() - 1);
        let nearest = (from..=to.min(spots.len() - 1)).min_by(|&a, &b| {
            distance2_m2(spots[a].at, home).total_cmp(&distance2_m2(spots[b].at, home))
        });
        bounds.push(nearest.unwrap_or(thin.spot[j]));
    }
    bounds
}

/// Splits what was taken for fewer laps into this many: where it comes nearest to its start at about equal parts of the
/// way.
fn split(spots: &[Spot], thin: &Thin, coarse: &[usize], laps: usize) -> Vec<usize> {
    // Laps of one walker differ in length by less than this part of one.
    const UNEQUAL: f64 = 0.2;
    let (start, end) = (coarse[0], coarse[coarse.len() - 1]);
    let lap_m = (thin.way_m[end] - thin.way_m[start]) / laps as f64;
    let mut places = vec![start];
    for lap in 1..laps {
        let target_m = thin.way_m[start] + lap as f64 * lap_m;
        let nearest = (start + 1..end)
            .filter(|&i| (thin.way_m[i] - target_m).abs() < UNEQUAL * lap_m)
            .min_by(|&a, &b| {
                distance_m(thin.at[a], thin.at[start])
                    .total_cmp(&distance_m(thin.at[b], thin.at[start]))
            });
        places.extend(nearest);
    }
    places.push(end);
    sharpen(spots, thin, &places)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A walk through the given corners at 0.5 m spacing and 1 m/s.
    fn walk(corners: &[(f64, f64)]) -> Vec<Spot> {
        let mut spots: Vec<Spot> = Vec::new();
        for pair in corners.windows(2) {
            let (a, b) = (
                Coord {
                    x: pair[0].0,
                    y: pair[0].1,
                },
                Coord {
                    x: pair[1].0,
                    y: pair[1].1,
                },
            );
            let steps = (distance_m(a, b) / 0.5).round().max(1.0) as usize;
            for k in 0..steps {
                let fix = spots.len();
                let at = a + (b - a) * (k as f64 / steps as f64);
                spots.push(Spot {
                    at,
                    t_s: 0.5 * fix as f64,
                    sigma_m: [0.02; 2],
                    fix,
                });
            }
        }
        spots
    }

    const SQUARE: [(f64, f64); 4] = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)];

    #[test]
    fn one_lap_with_lead_in_overrun_and_walk_back() {
        let mut corners = vec![(-6.0, -5.0)];
        corners.extend(SQUARE);
        corners.extend([(0.0, 0.0), (3.0, 0.0), (-6.0, -5.0)]);
        let spots = walk(&corners);
        let laps = find(&spots, 0.02).unwrap();
        assert_eq!(laps.count(), 1);
        let (a, b) = laps.each().next().unwrap();
        let way: f64 = spots[a..=b]
            .windows(2)
            .map(|w| distance_m(w[0].at, w[1].at))
            .sum();
        assert!((way - 36.0).abs() < 1.1, "{way}");
        assert!(laps.closing_gap_m() < 0.3);
    }

    #[test]
    fn sixty_four_laps_both_ways_and_part_laps() {
        let mut corners = Vec::new();
        for _ in 0..64 {
            corners.extend(SQUARE);
        }
        corners.extend([SQUARE[0], (4.0, 0.0)]);
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!((laps.count(), laps.legs.len()), (64, 1));

        let mut there_and_back = Vec::new();
        there_and_back.extend(SQUARE);
        there_and_back.extend([(0.0, 0.0), (0.0, 8.0), (10.0, 8.0), (10.0, 0.0), (0.0, 0.0)]);
        let laps = find(&walk(&there_and_back), 0.02).unwrap();
        assert_eq!(laps.count(), 2, "{laps:?}");
        assert_eq!(laps.legs.iter().map(|l| l.turn).sum::<f64>(), 0.0);
    }

    /// Its places once were thinned to further apart than the lawn is wide, and the walk was taken for a standstill.
    #[test]
    fn six_hundred_laps_are_a_walk_and_standing_for_hours_is_not() {
        let mut corners: Vec<(f64, f64)> = std::iter::repeat_n(SQUARE, 600).flatten().collect();
        corners.extend([SQUARE[0], (4.0, 0.0)]);
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!((laps.count(), laps.legs.len()), (600, 1));

        // A receiver that stands: each position anywhere within a square metre or two.
        let mut chance = crate::trial::chance::Chance::stream(1, "standing");
        let spots: Vec<Spot> = (0..20_000)
            .map(|fix| Spot {
                at: Coord {
                    x: chance.normal(),
                    y: chance.normal(),
                },
                t_s: fix as f64,
                sigma_m: [1.0; 2],
                fix,
            })
            .collect();
        assert!(find(&spots, 1.0).is_err());
    }

    /// Three metres lost short of the end of the first lap, while the walker rested: no walk of its own ends there.
    #[test]
    fn a_stretch_lost_within_a_lap_stays_in_it() {
        let mut corners: Vec<_> = SQUARE.to_vec();
        corners.extend(SQUARE);
        corners.push((0.0, 0.0));
        let lost = 66..72;
        let spots: Vec<Spot> = walk(&corners)
            .into_iter()
            .filter(|spot| !lost.contains(&spot.fix))
            .map(|spot| Spot {
                t_s: spot.t_s + if spot.fix >= lost.end { 20.0 } else { 0.0 },
                ..spot
            })
            .collect();
        let laps = find(&spots, 0.02).unwrap();
        assert_eq!(laps.count(), 2);
        assert!(laps.widest_gap_m() < 1.0, "{}", laps.widest_gap_m());
    }

    /// Two walks of one lawn in one log: the way to the gate between them is neither lap's.
    #[test]
    fn each_walk_after_a_break_has_its_own_lead_in() {
        let mut corners = vec![(-9.0, 3.0), (-6.0, -5.0)];
        corners.extend(SQUARE);
        corners.extend([(0.0, 0.0), (3.0, 0.0), (-6.0, -5.0), (-9.0, -8.0)]);
        let once = walk(&corners);
        let mut twice = once.clone();
        let pause_s = once[once.len() - 1].t_s + 60.0;
        twice.extend(once.iter().map(|spot| Spot {
            t_s: spot.t_s + pause_s,
            fix: spot.fix + once.len(),
            ..*spot
        }));
        let laps = find(&twice, 0.02).unwrap();
        assert_eq!((laps.count(), laps.legs.len()), (2, 2));
        for (a, b) in laps.each() {
            let way: f64 = twice[a..=b]
                .windows(2)
                .map(|w| distance_m(w[0].at, w[1].at))
                .sum();
            assert!((way - 36.0).abs() < 1.1, "{way}");
        }
        // A hole in the middle of a lap splits nothing.
        let mut corners: Vec<_> = SQUARE.to_vec();
        corners.extend(SQUARE);
        corners.push(SQUARE[0]);
        let mut holed = walk(&corners);
        for spot in &mut holed[50..] {
            spot.t_s += 60.0;
        }
        let laps = find(&holed, 0.02).unwrap();
        assert_eq!((laps.count(), laps.legs.len()), (2, 1));
    }

    #[test]
    fn what_goes_round_once_more_without_closing_is_told() {
        let mut corners: Vec<_> = SQUARE.to_vec();
        corners.push(SQUARE[0]);
        // Once more, but for the last steps.
        corners.extend([(10.0, 0.0), (10.0, 8.0), (0.0, 8.0), (0.0, 5.0)]);
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!(laps.count(), 1);
        assert!(
            (0.7..0.95).contains(&laps.turns_left_out),
            "{}",
            laps.turns_left_out
        );
    }

    /// Paths that cross every axis, go round both ways and come back through places due east and west of the middle.
    #[test]
    fn a_span_is_that_of_the_angles_walked() {
        let mut chance = crate::trial::chance::Chance::stream(7, "spans");
        for case in 0..400 {
            let mut heading = 0.0f64;
            let drift = 0.02 * f64::from(case % 11 - 5);
            let mut at = Coord { x: 0.0, y: 0.0 };
            let path: Vec<Coord<f64>> = (0..200)
                .map(|_| {
                    heading += drift + 0.25 * chance.normal();
                    at = at
                        + Coord {
                            x: heading.cos(),
                            y: heading.sin(),
                        };
                    at
                })
                .collect();
            let middle = (path[30] + path[110]) / 2.0;
            let angles = winding_rad(&path, middle);
            let (low, high) = angles
                .iter()
                .fold((0.0f64, 0.0f64), |(l, h), &a| (l.min(a), h.max(a)));
            let span = span_rad(&path, middle);
            assert!((span - (high - low)).abs() < 1e-9, "{case}: {span}");
        }
        let square = |y: f64| {
            [(1.0, y), (0.0, 1.0), (-1.0, y), (0.0, -1.0), (1.0, y)].map(|(x, y)| Coord { x, y })
        };
        for ring in [square(0.0), square(-0.0)] {
            let origin = Coord { x: 0.0, y: 0.0 };
            assert!((span_rad(&ring, origin) - TAU).abs() < 1e-12);
            let back: Vec<_> = ring.into_iter().rev().collect();
            assert!((span_rad(&back, origin) - TAU).abs() < 1e-12);
        }
    }

    /// The obvious twin of [`hits`]: each span against the ray.
    #[test]
    fn lines_across_hit_where_rays_do() {
        let mut chance = crate::trial::chance::Chance::stream(8, "hits");
        let path: Vec<Coord<f64>> = (0..120)
            .map(|i| {
                let angle = f64::from(i) * 0.11;
                let reach = 10.0 + chance.normal();
                Coord {
                    x: reach * angle.cos(),
                    y: reach * angle.sin(),
                }
            })
            .collect();
        for k in 1..path.len() - 1 {
            let along = path[k + 1] - path[k - 1];
            let square = Coord {
                x: -along.y,
                y: along.x,
            };
            let ray = |towards: Coord<f64>| {
                path.windows(2)
                    .enumerate()
                    .filter(|(i, _)| i + 2 < k || *i > k + 1)
                    .filter_map(|(_, pair)| {
                        let (span, offset) = (pair[1] - pair[0], pair[0] - path[k]);
                        let denominator = cross(towards, span);
                        let along = cross(offset, span) / denominator;
                        let across = cross(offset, towards) / denominator;
                        (along > 1e-9 && (0.0..=1.0).contains(&across)).then_some(along)
                    })
                    .min_by(f64::total_cmp)
            };
            let (ahead, behind) = (ray(square), ray(square * -1.0));
            let found = hits(&path, k, path[k], square);
            for (along, hit) in [(ahead, found[0]), (behind.map(|b| -b), found[1])] {
                match (along, hit) {
                    (Some(along), Some(hit)) => {
                        assert!(distance_m(hit, path[k] + square * along) < 1e-9, "{k}");
                    }
                    (along, hit) => assert!(along.is_none() && hit.is_none(), "{k}"),
                }
            }
        }
    }

    #[test]
    fn an_open_walk_is_told() {
        let laps = find(&walk(&[(0.0, 0.0), (10.0, 0.0), (10.0, 8.0)]), 0.02);
        assert!(matches!(laps, Err(NoLap::Open { .. })), "{laps:?}");
    }

    #[test]
    fn a_thin_strip_is_a_lap() {
        let laps = find(
            &walk(&[
                (0.0, 0.0),
                (40.0, 30.0),
                (39.4, 30.8),
                (-0.6, 0.8),
                (0.0, 0.0),
            ]),
            0.02,
        )
        .unwrap();
        assert_eq!(laps.count(), 1);
    }

    #[test]
    fn a_deep_l_is_one_lap() {
        let l = [
            (0.0, 0.0),
            (20.0, 0.0),
            (20.0, 2.0),
            (2.0, 2.0),
            (2.0, 20.0),
            (0.0, 20.0),
            (0.0, 0.5),
        ];
        assert_eq!(find(&walk(&l), 0.02).unwrap().count(), 1);
    }
}
