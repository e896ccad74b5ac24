//! A place well inside a walk, and how far the walk goes round it.
//!
//! Lines are drawn across the walk, square to it, from forty places along it. Each line crosses the walk again and again; in the middle
//! of its longest stretches between two crossings lies a place that may be inside. For each such place the span is worked out: the angle
//! by which the direction from there to the walker turns, from the least to the most. It is a full turn (2 pi) or more where the walk
//! goes round the place.

use super::{Thin, noise_m};
use crate::ring::{cross, distance2_m2, dot};
use geo::Coord;
use std::f64::consts::TAU;

/// A place well inside the walk, and the walk's span of angle about it, radians. Of all middles tried it is the one furthest from the
/// walk, among those about which the walk goes round equally often. Where the walk goes round none of them, it is the one with the widest
/// span; `None` where none was found.
pub(super) fn inside(thin: &Thin, sigma_m: f64) -> Option<(Coord<f64>, f64)> {
    const FEET: usize = 40;
    let n = thin.len();
    let stride = (n / 160).max(1);
    let last = thin.places().last();
    let path: Vec<_> = thin.places().step_by(stride).chain(last).collect();
    let mut found: Vec<Round> = Vec::with_capacity(2 * FEET);
    let (mut directions, mut across) = (Vec::new(), Vec::new());
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
        crossings(&path, k, at, square, &mut across);
        for along in widest_two(&across) {
            let middle = at + square * along;
            let (span, net) = span_rad(&path, middle, &mut directions);
            if widest.is_none_or(|(_, w)| span > w) {
                widest = Some((middle, span));
            }
            if span > TAU - 1.3 {
                found.push(Round {
                    turns: (span / TAU).round() as u64,
                    clear_m: clear_m(&path, middle),
                    place: middle,
                    span_rad: span,
                    and_back: net.abs() < 0.5 * span,
                });
            }
        }
    }
    within_a_bow(&mut found, sigma_m);
    clearest(found).or(widest)
}

/// A place that the walk goes round.
struct Round {
    /// How often, in whole turns.
    turns: u64,
    /// How far it is from the walk, metres.
    clear_m: f64,
    place: Coord<f64>,
    span_rad: f64,
    /// The walk goes round it there and back: its end lies by less than half the span from its start.
    and_back: bool,
}

/// Leaves out the house that a bent lawn lies about. The walk goes round the house as well, along the lawn's outer edge, and back again along
/// its inner one; about the lawn itself it goes one way only. Who walks one lap and then one the other way goes round his lawn there and
/// back, too, but then what lies between the two laps is no wider than noise.
fn within_a_bow(found: &mut Vec<Round>, sigma_m: f64) {
    // So many of the places found must lie on such a lawn. A corner that was cut on the way back makes fewer.
    const MANY_SHARE: f64 = 1.0 / 3.0;
    // How far apart two passes of one edge are walked, metres: a judgement.
    const HAND_APART_M: f64 = 0.6;
    let clear_m = 0.5 * noise_m(sigma_m).max(HAND_APART_M);
    let between = |f: &Round| !f.and_back && f.clear_m > clear_m;
    let many = found.iter().filter(|f| between(f)).count() as f64;
    if many >= MANY_SHARE * found.len() as f64 {
        found.retain(|f| !f.and_back);
    }
}

/// Of the places that the walk goes round equally often, the one furthest from the walk, and its span, radians; `None` of no places.
fn clearest(mut found: Vec<Round>) -> Option<(Coord<f64>, f64)> {
    // Between the way in and the way out there is a wedge outside the lawn that the walk nearly goes round as well: full rounds are
    // preferred.
    const FULL_RAD: f64 = TAU - 0.35;
    if found.iter().any(|f| f.span_rad > FULL_RAD) {
        found.retain(|f| f.span_rad > FULL_RAD);
    }
    // On a lawn hardly larger than the position error the laps lie beside each other, and only what is inside all of them shows the full
    // number of turns. Little loops of noise add a turn as well. So the highest number of turns counts that a fair share of the inside
    // has, weighed by the square of the clearance.
    const FAIR_SHARE: f64 = 0.12;
    let weight = |least: u64| -> f64 {
        found
            .iter()
            .filter(|f| f.turns >= least)
            .map(|f| f.clear_m * f.clear_m)
            .sum()
    };
    let most = found.iter().map(|f| f.turns).max().unwrap_or(0);
    let turns = (1..=most)
        .rev()
        .find(|&turns| weight(turns) >= FAIR_SHARE * weight(0))
        .unwrap_or(0);
    found
        .iter()
        .filter(|f| f.turns == turns)
        .max_by(|a, b| a.clear_m.total_cmp(&b.clear_m))
        .map(|f| (f.place, f.span_rad))
}

/// How far a place is from the nearest of a path, metres.
fn clear_m(path: &[Coord<f64>], place: Coord<f64>) -> f64 {
    // Four minima side by side, so that the processor need not wait for one comparison before the next.
    let mut least_m2 = [f64::INFINITY; 4];
    let fours = path.chunks_exact(4);
    let rest = fours.remainder();
    for four in fours {
        for (least, &at) in least_m2.iter_mut().zip(four) {
            let away = distance2_m2(at, place);
            *least = if away < *least { away } else { *least };
        }
    }
    let rest = rest.iter().map(|&at| distance2_m2(at, place));
    least_m2
        .into_iter()
        .chain(rest)
        .fold(f64::INFINITY, f64::min)
        .sqrt()
}

/// Puts into `across` where the line through `at` along `towards` crosses the path, in lengths of `towards` and in order, with 0 for `at`
/// itself. The path's spans next to place `k`, which is `at`, are left out.
fn crossings(
    path: &[Coord<f64>],
    k: usize,
    at: Coord<f64>,
    towards: Coord<f64>,
    across: &mut Vec<f64>,
) {
    across.clear();
    across.push(0.0);
    // The path crosses the line where it passes from one side of it to the other.
    let side = |place: Coord<f64>| cross(towards, place - at);
    let Some((&first, rest)) = path.split_first() else {
        return;
    };
    let (mut to, mut end) = (first, side(first));
    for (i, &next) in (1..).zip(rest) {
        let (from, start) = (to, end);
        (to, end) = (next, side(next));
        if start * end <= 0.0 && start != end && (i + 1 < k || i > k + 2) {
            across.push(cross(from - at, to - from) / (end - start));
        }
    }
    across.sort_unstable_by(f64::total_cmp);
}

/// The middles of the two widest stretches between crossings. What lies between two laps of one edge is narrow and is not inside both, so
/// that the widest are taken.
fn widest_two(across: &[f64]) -> impl Iterator<Item = f64> {
    let mut widest = [(0.0, 0.0); 2];
    for pair in across.windows(2) {
        let stretch = (pair[1] - pair[0], 0.5 * (pair[0] + pair[1]));
        if stretch.0 > widest[0].0 {
            widest = [stretch, widest[0]];
        } else if stretch.0 > widest[1].0 {
            widest[1] = stretch;
        }
    }
    widest.into_iter().filter(|w| w.0 > 1e-9).map(|w| w.1)
}

/// The angle between the furthest that a path goes round a place one way and the other, radians: the difference of the most and the least
/// of [`winding_rad`], without an arc tangent for every step, as this is asked for many places. Second, the
/// angle from the start of the path to its end.
///
/// The angle to each place of the path is its direction plus whole turns. A turn is added or taken off where the path crosses the line
/// due west of the place. Directions are compared by a number from -2 to 2 that grows as the angle does and is negative where the angle
/// is. `directions` is a buffer for them, used again to save memory.
fn span_rad(path: &[Coord<f64>], about: Coord<f64>, directions: &mut Vec<f64>) -> (f64, f64) {
    directions.clear();
    directions.extend(path.iter().map(|&at| {
        let arm = at - about;
        // This is 1 due east, 0 due north and south, -1 due west, as the cosine is. It is not a number for a path that leads straight
        // through the place.
        let east = arm.x / (arm.x.abs() + arm.y.abs());
        // Adding 0 turns -0 into 0, so that due west always counts as half a turn to the left.
        (1.0 - east).copysign(arm.y + 0.0)
    }));
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut go = |run: &[f64], turns: f64| {
        let (least, most) = extremes(run);
        low = low.min(4.0 * turns + least);
        high = high.max(4.0 * turns + most);
    };
    let (mut turns, mut from) = (0.0, 0);
    for (i, pair) in (1..).zip(directions.windows(2)) {
        let south = pair[1].is_sign_negative();
        if south == pair[0].is_sign_negative() {
            continue;
        }
        go(&directions[from..i], turns);
        from = i;
        let (before, after) = (path[i - 1] - about, path[i] - about);
        let turn = cross(before, after);
        // A step straight through the place counts as half a turn to the left.
        if south && (turn > 0.0 || (turn == 0.0 && dot(before, after) < 0.0)) {
            turns += 1.0;
        } else if !south && turn < 0.0 {
            turns -= 1.0;
        }
    }
    go(&directions[from..], turns);
    let (Some(&start), Some(&end)) = (directions.first(), directions.last()) else {
        return (0.0, 0.0);
    };
    if low > high {
        return (0.0, 0.0);
    }
    // From the number that stands for a direction, with 4 for each whole turn, back to the angle.
    let rad = |round: f64| {
        let turns = (round / 4.0).round();
        let direction = round - 4.0 * turns;
        let east = 1.0 - direction.abs();
        TAU * turns + (1.0 - east.abs()).atan2(east).copysign(direction)
    };
    (rad(high) - rad(low), rad(4.0 * turns + end) - rad(start))
}

/// The least and the most of some numbers; those that are not a number are passed over.
fn extremes(of: &[f64]) -> (f64, f64) {
    // Four extremes of each kind side by side, as in `clear_m`.
    let (mut low, mut high) = ([f64::INFINITY; 4], [f64::NEG_INFINITY; 4]);
    let fours = of.chunks_exact(4);
    let rest = fours.remainder();
    for four in fours {
        for ((low, high), &value) in low.iter_mut().zip(&mut high).zip(four) {
            *low = if value < *low { value } else { *low };
            *high = if value > *high { value } else { *high };
        }
    }
    let low = low.into_iter().chain(rest.iter().copied());
    let high = high.into_iter().chain(rest.iter().copied());
    (
        low.fold(f64::INFINITY, f64::min),
        high.fold(f64::NEG_INFINITY, f64::max),
    )
}

/// The angle by which the direction from `about` to the walker has turned by each place of the path, radians, counter-clockwise positive,
/// beginning with 0. It goes on beyond a full turn with every lap.
pub(super) fn winding_rad(
    path: impl ExactSizeIterator<Item = Coord<f64>>,
    about: Coord<f64>,
) -> Vec<f64> {
    let mut total = 0.0;
    let mut angles = Vec::with_capacity(path.len());
    let mut last: Option<Coord<f64>> = None;
    for at in path {
        let arm = at - about;
        if let Some(last) = last {
            total += cross(last, arm).atan2(last.x * arm.x + last.y * arm.y);
        }
        angles.push(total);
        last = Some(arm);
    }
    angles
}

#[cfg(test)]
mod tests {
    use super::*;

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
            let angles = winding_rad(path.iter().copied(), middle);
            let (low, high) = angles
                .iter()
                .fold((0.0f64, 0.0f64), |(l, h), &a| (l.min(a), h.max(a)));
            let (span, net) = span_rad(&path, middle, &mut Vec::new());
            assert!((span - (high - low)).abs() < 1e-9, "{case}: {span}");
            assert!(
                (net - angles[angles.len() - 1]).abs() < 1e-9,
                "{case}: {net}"
            );
        }
        let square = |y: f64| {
            [(1.0, y), (0.0, 1.0), (-1.0, y), (0.0, -1.0), (1.0, y)].map(|(x, y)| Coord { x, y })
        };
        for ring in [square(0.0), square(-0.0)] {
            let origin = Coord { x: 0.0, y: 0.0 };
            assert!((span_rad(&ring, origin, &mut Vec::new()).0 - TAU).abs() < 1e-12);
            let back: Vec<_> = ring.into_iter().rev().collect();
            assert!((span_rad(&back, origin, &mut Vec::new()).0 - TAU).abs() < 1e-12);
        }
    }

    /// [`crossings`] against the plain way to do it: each span of the path is cut with the line.
    #[test]
    fn lines_across_cross_where_spans_do() {
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
        let mut found = Vec::new();
        for k in 1..path.len() - 1 {
            let along = path[k + 1] - path[k - 1];
            let square = Coord {
                x: -along.y,
                y: along.x,
            };
            let spans = path.windows(2).enumerate();
            let mut plainly: Vec<f64> = spans
                .filter(|(i, _)| i + 2 < k || *i > k + 1)
                .filter_map(|(_, pair)| {
                    let (span, offset) = (pair[1] - pair[0], pair[0] - path[k]);
                    let denominator = cross(square, span);
                    let across = cross(offset, square) / denominator;
                    (0.0..=1.0)
                        .contains(&across)
                        .then_some(cross(offset, span) / denominator)
                })
                .chain([0.0])
                .collect();
            plainly.sort_by(f64::total_cmp);
            crossings(&path, k, path[k], square, &mut found);
            assert_eq!(plainly.len(), found.len(), "{k}");
            assert!(
                plainly
                    .iter()
                    .zip(&found)
                    .all(|(a, b)| (a - b).abs() < 1e-9),
                "{k}"
            );
        }
    }

    #[test]
    fn between_two_laps_of_one_edge_is_no_inside() {
        let middles: Vec<f64> = widest_two(&[-0.2, 0.0, 0.1, 9.9, 10.2, 14.2]).collect();
        assert_eq!(middles, [5.0, 12.2]);
    }
}
