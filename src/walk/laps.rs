//! Finds the laps of a walk: by how it winds about its own inside, and where it comes back to its start.
//!
//! First a place well inside the walk is found (`inside`). Seen from there, the direction to the walker turns by a full turn with every
//! lap, so the total angle says how many laps there are, and where it runs backwards the walk turned back. Within each run in one
//! direction the start is then chosen so that the walk passes it again as closely as noise allows while little of the way is left out
//! (`leg`). What comes before is the way in, what comes after the way out. `agree` holds the laps against each other, `again` finds a lap
//! that was begun twice.
//!
//! The search looks at a thinned walk with most of its noise averaged away; the ends of laps are then placed on real fixes.

mod again;
pub mod agree;
mod inside;
mod leg;

use super::{Spot, turning};
use crate::limits::walk::closing;
use crate::ring::{distance_m, size_m};
use geo::Coord;
use inside::{inside, winding_rad};
use leg::{LOOSE_RAD, SLACK_RAD, close_as_well, leg, one_way, without_breaks};
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
    /// A single lap may close nearly as well elsewhere. Of all such places: how much more area it would hold, at the place where that
    /// differs most, m²; negative for less.
    pub elsewhere_m2: f64,
}

impl Leg {
    /// Its first and its last spot.
    pub(crate) fn ends(&self) -> (usize, usize) {
        (self.bounds[0], self.bounds[self.bounds.len() - 1])
    }
}

/// All laps of a walk.
#[derive(Debug, Clone, PartialEq)]
pub struct Laps {
    pub legs: Vec<Leg>,
    /// A place well inside the walk.
    pub inside: Coord<f64>,
    /// The part of the whole way that is in no lap, 0 to 1.
    pub left_out: f64,
    /// Turns about the inside before the first lap or after the last, whichever is more: near 1, another lap may have been missed.
    pub turns_left_out: f64,
}

impl Laps {
    /// Puts the legs together with what they leave out of the walk along these places. There must be one leg at least.
    fn of(legs: Vec<Leg>, places: &[Coord<f64>], inside: Coord<f64>) -> Laps {
        let way_m = |from: usize, to: usize| -> f64 {
            places[from..=to]
                .windows(2)
                .map(|w| distance_m(w[0], w[1]))
                .sum()
        };
        let turns = |from: usize, to: usize| {
            winding_rad(places[from..=to].iter().copied(), inside)
                .last()
                .map_or(0.0, |&w| w.abs())
                / TAU
        };
        let ends = legs.iter().map(Leg::ends);
        let within_m: f64 = ends.map(|(from, to)| way_m(from, to)).sum();
        let end = places.len() - 1;
        let (first, last) = (legs[0].ends().0, legs[legs.len() - 1].ends().1);
        Laps {
            inside,
            left_out: 1.0 - within_m / way_m(0, end).max(1e-9),
            turns_left_out: turns(0, first).max(turns(last, end)),
            legs,
        }
    }

    /// How many laps there are in all legs together.
    pub(crate) fn count(&self) -> usize {
        self.legs.iter().map(|leg| leg.bounds.len() - 1).sum()
    }
    /// Root mean square distance between the two ends of a lap, metres.
    pub(crate) fn closing_gap_m(&self) -> f64 {
        let (sum, n) = self
            .legs
            .iter()
            .flat_map(|leg| &leg.gaps_m)
            .fold((0.0, 0usize), |(s, n), gap| (s + gap * gap, n + 1));
        if n == 0 { 0.0 } else { (sum / n as f64).sqrt() }
    }

    /// Distance between the ends of the lap that closes worst, metres.
    pub(crate) fn widest_gap_m(&self) -> f64 {
        let gaps = self.legs.iter().flat_map(|leg| &leg.gaps_m);
        gaps.copied().fold(0.0, f64::max)
    }

    /// How much more area a walk of one lap would hold if it were closed at another place that is as likely, m²; negative for less. 0
    /// where there are more laps.
    pub(crate) fn elsewhere_m2(&self) -> f64 {
        match &self.legs[..] {
            [leg] if self.count() == 1 => leg.elsewhere_m2,
            _ => 0.0,
        }
    }

    /// The leg that a spot lies in, its first spot included and its last not; `None` between legs.
    pub(crate) fn leg_at(&self, spot: usize) -> Option<&Leg> {
        let after = self.legs.partition_point(|leg| leg.ends().0 <= spot);
        let leg = self.legs.get(after.checked_sub(1)?)?;
        (spot < leg.ends().1).then_some(leg)
    }

    /// Start and end spot of every lap, in walking order.
    pub(crate) fn each(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.legs
            .iter()
            .flat_map(|leg| leg.bounds.windows(2).map(|w| (w[0], w[1])))
    }
}

/// Why no lap was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NoLap {
    /// The walk has fewer than four places that lie apart from each other.
    StandsStill,
    /// The walk does not come round: the share of a full turn it makes about its inside, and how far its
    /// ends are apart, metres.
    Open { turn: f64, ends_apart_m: f64 },
}

/// A walk thinned for searching: some of its places, each by its index among the spots, with its way from the start along them.
struct Thin<'a> {
    places: &'a [Coord<f64>],
    spot: Vec<usize>,
    way_m: Vec<f64>,
}

impl Thin<'_> {
    fn len(&self) -> usize {
        self.spot.len()
    }

    fn at(&self, i: usize) -> Coord<f64> {
        self.places[self.spot[i]]
    }

    fn places(&self) -> impl ExactSizeIterator<Item = Coord<f64>> {
        self.spot.iter().map(|&i| self.places[i])
    }
}

/// Finds the laps of a cleaned walk. `sigma_m` is the typical position sigma, which says how closely a walk can be expected to come back
/// to its start.
///
/// # Errors
/// The walk stays in one place, or does not come round.
pub(crate) fn find(spots: &[Spot], sigma_m: f64) -> Result<Laps, NoLap> {
    let calmed = calmed(spots, sigma_m);
    let opening = opening(&calmed);
    let thin = thin(&calmed[..opening], 400);
    if thin.len() < 4 {
        return Err(NoLap::StandsStill);
    }
    let ends_apart_m = distance_m(thin.at(0), thin.at(thin.len() - 1));
    let open = |turn| NoLap::Open { turn, ends_apart_m };
    let (inside, mut span) = inside(&thin, sigma_m).ok_or(open(0.0))?;
    if opening < spots.len() {
        span = span_of_long(&calmed, inside).ok_or(NoLap::StandsStill)?;
    }
    if span < TAU - LOOSE_RAD {
        return Err(open(span / TAU));
    }
    // Fine enough to find the place where every lap of a long walk closes.
    let laps_about = (span / TAU).ceil().max(1.0);
    let thin = self::thin(&calmed, (160.0 * laps_about) as usize + 240);
    let mut legs = legs(spots, &thin, inside, sigma_m);
    if legs.is_empty() {
        return Err(open(span / TAU));
    }
    for leg in &mut legs {
        again::begin(spots, &calmed, leg, sigma_m);
    }
    Ok(Laps::of(legs, &calmed, inside))
}

/// The legs of a walk, each a run of whole laps in one direction. Where logging was broken off between laps, each part is a leg of its
/// own if it closes as well. Where no lap comes fully round, one that misses a part of a turn is accepted if noise explains how far apart
/// its ends are.
fn legs(spots: &[Spot], thin: &Thin, inside: Coord<f64>, sigma_m: f64) -> Vec<Leg> {
    let angle = winding_rad(thin.places(), inside);
    let mut legs: Vec<Leg> = Vec::new();
    let within = |from, to, slack_rad| leg(spots, thin, &angle, from, to, sigma_m, slack_rad);
    let leg = |&(from, to): &(usize, usize)| within(from, to, SLACK_RAD);
    for range in one_way(&angle) {
        let whole = leg(&range);
        let parts = without_breaks(spots, thin, &angle, range.0, range.1);
        let parted: Vec<Leg> = parts.iter().filter_map(leg).collect();
        if parts.len() > 1 && close_as_well(&parted, whole.as_ref(), sigma_m) {
            legs.extend(parted);
        } else {
            legs.extend(whole);
        }
    }
    if legs.is_empty() {
        let loose = one_way(&angle)
            .into_iter()
            .filter_map(|(from, to)| within(from, to, LOOSE_RAD));
        legs.extend(loose.filter(|leg| leg.gaps_m.iter().all(|&gap_m| gap_m <= noise_m(sigma_m))));
    }
    legs
}

/// How far apart the receiver's error puts the two ends of a lap at the most, metres. Both ends err, hence the root of two.
pub(crate) fn noise_m(sigma_m: f64) -> f64 {
    closing::NOISE_SIGMAS * std::f64::consts::SQRT_2 * sigma_m
}

/// From how many metres between a lap's ends on the gap is told, whichever way it lies.
pub(crate) fn may_gape_m(sigma_m: f64) -> f64 {
    noise_m(sigma_m) + closing::GAPES_M
}

/// A walk longer than this many times its own extent has ten laps or more. Its opening alone then shows where the laps run.
const LONG_EXTENTS: f64 = 30.0;

/// Diagonal of the box about all places, metres.
fn extent_m(places: &[Coord<f64>]) -> f64 {
    let across_m = |of: fn(&Coord<f64>) -> f64| {
        let low = places.iter().map(of).fold(f64::INFINITY, f64::min);
        places.iter().map(of).fold(f64::NEG_INFINITY, f64::max) - low
    };
    if places.is_empty() {
        return 0.0;
    }
    size_m(Coord {
        x: across_m(|at| at.x),
        y: across_m(|at| at.y),
    })
}

/// How many places from the start on are looked at to find the inside. It is all of them, except on a long walk, where thinning all of it
/// to a few hundred places would put them further apart than the lawn is wide.
fn opening(places: &[Coord<f64>]) -> usize {
    let most_m = LONG_EXTENTS * extent_m(places);
    let mut way_m = 0.0;
    for (i, pair) in places.windows(2).enumerate() {
        way_m += distance_m(pair[0], pair[1]);
        if way_m > most_m {
            return i + 1;
        }
    }
    places.len()
}

/// The angle that a long walk covers about its inside, radians; `None` where it does not keep going round but wanders to and fro, as the
/// positions of a receiver that stands still do.
fn span_of_long(places: &[Coord<f64>], inside: Coord<f64>) -> Option<f64> {
    // The net turn is at least this part of all turning, to and fro, of one who keeps going round.
    const ORDERLY: f64 = 0.5;
    let spacing_m = extent_m(places) / 50.0;
    let mut path: Vec<Coord<f64>> = Vec::new();
    for &at in places {
        if path
            .last()
            .is_none_or(|&last| distance_m(last, at) >= spacing_m)
        {
            path.push(at);
        }
    }
    let angles = winding_rad(path.iter().copied(), inside);
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

/// Half the time over which positions are averaged for the search, seconds, least and most. Between them it is as long as the walker
/// takes to cover one sigma of the position error at a metre a second.
const CALM_S: (f64, f64) = (0.75, 2.0);

/// The places of a walk with most of their white noise averaged away, for searching only. At 10 Hz the line through noisy fixes is many
/// times as long as the way walked: a spacing of a few hundredths of it is then wider than the lawn, and a line drawn across the lawn
/// meets noise near its foot before it meets the other side.
pub(crate) fn calmed(spots: &[Spot], sigma_m: f64) -> Vec<Coord<f64>> {
    let half_s = sigma_m.clamp(CALM_S.0, CALM_S.1);
    let (Some(first), Some(last)) = (spots.first(), spots.last()) else {
        return Vec::new();
    };
    // Near the ends of the walk the window is shortened on both sides alike. Cut off on one side only, it would draw the ends inwards,
    // apart from each other by a metre or two.
    let half_s = |t_s: f64| half_s.min(t_s - first.t_s).min(last.t_s - t_s);
    turning::averaged(spots, |i| spots[i].at, half_s)
}

/// Thins a walk to places that are at least the `most`-th part of its way apart, and 5 cm at the least.
fn thin(places: &[Coord<f64>], most: usize) -> Thin<'_> {
    let whole_m: f64 = places.windows(2).map(|w| distance_m(w[0], w[1])).sum();
    let spacing_m = (whole_m / most as f64).max(0.05);
    let mut thin = Thin {
        places,
        spot: Vec::new(),
        way_m: Vec::new(),
    };
    let mut gone_m = 0.0;
    for (i, &at) in places.iter().enumerate() {
        if let Some(&last) = thin.spot.last() {
            let step_m = distance_m(places[last], at);
            if step_m < spacing_m {
                continue;
            }
            gone_m += step_m;
        }
        thin.spot.push(i);
        thin.way_m.push(gone_m);
    }
    thin
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

    /// The way in leads from inside the lawn across to its far side and along the edge against the laps. It winds the other way round,
    /// and must not cost a lap.
    #[test]
    fn a_way_in_the_other_way_round_costs_no_lap() {
        let mut corners = vec![(3.0, 6.0), (9.5, 4.0), (10.0, 0.5)];
        corners.extend([(7.0, 0.3), (4.0, 0.2)]);
        for _ in 0..3 {
            corners.extend(SQUARE);
        }
        corners.push(SQUARE[0]);
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!(laps.count(), 3, "{laps:?}");
    }

    /// A lawn of three metres' radius, walked with a receiver that errs by two: the ends of the lap are as far apart as its error
    /// explains, 4.6 m.
    #[test]
    fn ends_as_far_apart_as_the_error_puts_them_are_no_opening() {
        let arc = |sigma_m: f64| -> Vec<Spot> {
            (0..=20)
                .map(|fix| {
                    let angle = TAU * 0.84 * fix as f64 / 20.0;
                    Spot {
                        at: Coord {
                            x: 3.0 * angle.cos(),
                            y: 3.0 * angle.sin(),
                        },
                        t_s: fix as f64,
                        sigma_m: [sigma_m; 2],
                        fix,
                    }
                })
                .collect()
        };
        assert_eq!(find(&arc(2.0), 2.0).map(|laps| laps.count()), Ok(1));
        let sharp = find(&arc(0.02), 0.02);
        assert!(matches!(sharp, Err(NoLap::Open { .. })), "{sharp:?}");
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

    /// Thinned evenly, six hundred laps would leave places further apart than the lawn is wide, and the walk would look like a
    /// standstill.
    #[test]
    fn six_hundred_laps_are_a_walk_and_standing_for_hours_is_not() {
        let mut corners: Vec<(f64, f64)> = std::iter::repeat_n(SQUARE, 600).flatten().collect();
        corners.extend([SQUARE[0], (4.0, 0.0)]);
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!((laps.count(), laps.legs.len()), (600, 1));

        // A receiver that stands still: each position lies anywhere within a square metre or two.
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

    /// Three metres are lost shortly before the end of the first lap, while the walker rested: no walk of its own ends there.
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

    /// The receiver wanders while the surveyor stands at the gate, and at the start. The way in and out again must not pass for a part of
    /// the lawn.
    #[test]
    fn a_lap_never_closes_at_the_gate() {
        for (gate, near_m) in [((-8.0, -10.0), 3.0), ((4.6, -2.1), 1.4)] {
            let start = (5.0, 0.0);
            let once = [
                start,
                (10.0, 0.0),
                (10.0, 8.0),
                (0.0, 8.0),
                (0.0, 0.0),
                start,
            ];
            let stood =
                |from: (f64, f64), to: (f64, f64)| std::iter::repeat_n(walk(&[from, to])[0], 30);
            for seed in 0..40 {
                let mut chance = crate::trial::chance::Chance::new(seed);
                let spots: Vec<Spot> = stood(gate, start)
                    .chain(walk(&[gate, start]))
                    .chain(stood(start, gate))
                    .chain(walk(&once))
                    .chain(walk(&[start, gate]))
                    .enumerate()
                    .map(|(fix, spot)| Spot {
                        at: spot.at
                            + Coord {
                                x: 0.12 * chance.normal(),
                                y: 0.12 * chance.normal(),
                            },
                        t_s: 0.5 * fix as f64,
                        sigma_m: [0.2; 2],
                        fix,
                    })
                    .collect();
                let laps = find(&spots, 0.2).unwrap();
                assert_eq!(laps.count(), 1);
                for &end in &laps.legs[0].bounds {
                    let off_m = (spots[end].at.x - start.0).hypot(spots[end].at.y - start.1);
                    assert!(off_m < near_m, "from {gate:?}, {seed}: {off_m}");
                }
            }
        }
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
        // He goes round once more, except for the last steps.
        corners.extend([(10.0, 0.0), (10.0, 8.0), (0.0, 8.0), (0.0, 5.0)]);
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!(laps.count(), 1);
        assert!(
            (0.7..0.95).contains(&laps.turns_left_out),
            "{}",
            laps.turns_left_out
        );
    }

    /// The way in goes straight across the lawn from beyond its far side: closed where the lap crosses it there, it holds only
    /// what lies beyond the way in.
    #[test]
    fn a_walk_that_may_be_closed_elsewhere_says_how_much_that_changes() {
        let start = (2.0, 0.0);
        for (from, elsewhere_m2) in [((2.0, 9.0), 16.0), ((2.0, -8.0), 0.0)] {
            let mut corners = vec![from, start];
            corners.extend([SQUARE[1], SQUARE[2], SQUARE[3], SQUARE[0]]);
            corners.extend([start, (4.0, 0.0), (4.0, -6.0)]);
            let laps = find(&walk(&corners), 0.02).unwrap();
            assert_eq!(laps.count(), 1);
            let found_m2 = laps.elsewhere_m2().abs();
            assert!((found_m2 - elsewhere_m2).abs() < 1.0, "{found_m2}");
        }
    }

    /// The way out goes across the lawn and over its far corner, and cuts off a lap there as well. Averaging draws passes of a corner apart:
    /// once this was told of no such lawn, and of one like it half was measured.
    #[test]
    fn a_start_at_a_corner_is_as_likely_as_a_crossing() {
        let corners = [
            (-6.8, -21.8),
            (-6.9, -13.2),
            (-14.3, -9.4),
            (-7.4, 3.9),
            (0.0, 0.0),
            (-6.9, -13.2),
            (-8.2, -12.5),
            (-9.0, 8.0),
        ];
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!(laps.count(), 1);
        let found_m2 = laps.elsewhere_m2().abs();
        assert!((found_m2 - 41.0).abs() < 5.0, "{found_m2}");
    }

    /// The logger keeps one position in thirteen metres. That its positions are far apart does not excuse ends that are far apart.
    #[test]
    fn far_between_positions_do_not_close_anywhere() {
        let places = [(-2.4, -1.0), (1.5, 0.0)]
            .into_iter()
            .chain((1..=9).map(|i| (13.0 * f64::from(i), 0.0)))
            .chain((1..=7).map(|i| (117.0, 13.0 * f64::from(i))))
            .chain((0..=8).rev().map(|i| (13.0 * f64::from(i), 91.0)))
            .chain((0..=6).rev().map(|i| (0.0, 13.0 * f64::from(i))));
        let spots: Vec<Spot> = places
            .enumerate()
            .map(|(fix, (x, y))| Spot {
                at: Coord { x, y },
                t_s: 12.0 * fix as f64,
                sigma_m: [0.5; 2],
                fix,
            })
            .collect();
        let laps = find(&spots, 0.5).unwrap();
        assert_eq!(laps.legs[0].bounds, [1, spots.len() - 1]);
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

    /// A lawn 3 m wide about a house, but for the way to its door; once the walk was taken for a lap round the lawn and the house and one
    /// round the house, the other way.
    #[test]
    fn a_lawn_bent_about_a_house_is_one_lap() {
        let bow = |radius_m: f64, from: f64, to: f64| -> Vec<(f64, f64)> {
            let at = |i: i32| from + (to - from) * f64::from(i) / 40.0;
            (0..=40)
                .map(|i| (radius_m * at(i).cos(), radius_m * at(i).sin()))
                .collect()
        };
        let once: Vec<_> = [bow(10.0, 0.1, TAU - 0.1), bow(7.0, TAU - 0.15, 0.15)].concat();
        for times in 1..=3 {
            let mut corners: Vec<_> = std::iter::repeat_n(&once, times)
                .flatten()
                .copied()
                .collect();
            corners.extend([once[0], once[1]]);
            let laps = find(&walk(&corners), 0.02).unwrap();
            assert_eq!((laps.count(), laps.legs.len()), (times, 1), "{times}");
        }
        // Round and round back is two laps still, a hand's breadth aside.
        let there = bow(10.0, 0.0, TAU);
        let corners = [there.clone(), bow(10.2, TAU, 0.0)].concat();
        let laps = find(&walk(&corners), 0.02).unwrap();
        assert_eq!((laps.count(), laps.legs.len()), (2, 2));
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
