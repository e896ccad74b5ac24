//! A lap that was begun again: the walker went a part of the way round, came back to the start, and then went once round from there.
//!
//! The way to and fro before the last beginning is no part of the edge, and counts as way in. That it goes along the edge twice is found
//! by [`crate::ring::once`].

use super::{Leg, Spot};
use crate::ring::distance_m;
use crate::ring::once::{AGAIN_PART, beside_m, once};
use geo::Coord;

/// How many places of a lap are looked at, at most.
const PLACES: f64 = 160.0;
/// The places are no nearer to each other than this, metres, as the hand sways; nor than this many times the square of the receiver's
/// sigma, within which its error turns the direction of the way about (over 15 s at a metre a second, as `edge` has it). There are
/// always about this many of them at least.
const APART_M: f64 = 0.3;
const OF_NOISE: f64 = 2.0;
const LEAST_PLACES: f64 = 20.0;
/// What was walked before the last beginning is at least this part of the whole lap: less is a step or two to and fro.
const LEAST_PART: f64 = 0.05;

/// Moves the start of a leg to where its first lap was begun for the last time. `calmed` are the spots with their noise averaged away.
/// Changes nothing where the lap was begun once, or where the error is too large to tell one side of the lawn from the other.
pub(super) fn begin(spots: &[Spot], calmed: &[Coord<f64>], leg: &mut Leg, sigma_m: f64) {
    let (first, last) = (leg.bounds[0], leg.bounds[1]);
    let lap = &calmed[first..=last];
    let way_m: f64 = lap.windows(2).map(|w| distance_m(w[0], w[1])).sum();
    // Where the error is so large that one side of the lawn cannot be told from the other, nothing can be said.
    if beside_m(sigma_m) > way_m * AGAIN_PART {
        return;
    }
    let step_m = (OF_NOISE * sigma_m * sigma_m)
        .min(way_m / LEAST_PLACES)
        .max(way_m / PLACES)
        .max(APART_M);
    let mut thin = vec![first];
    for i in first..=last {
        if distance_m(calmed[thin[thin.len() - 1]], calmed[i]) >= step_m {
            thin.push(i);
        }
    }
    let places: Vec<_> = thin.iter().map(|&i| calmed[i]).collect();
    let kept = once(&places, sigma_m, step_m).kept;
    // Where the walk began again the kept places do not begin with 0, or they leave a hole after it.
    let start = match kept[..] {
        [0, next, ..] if next > 1 => next - 1,
        [start, ..] => start,
        [] => 0,
    };
    if (start as f64) < LEAST_PART * places.len() as f64 {
        return;
    }
    if let Some(&end) = kept.last()
        && end + 1 < places.len()
        && leg.bounds.len() == 2
    {
        leg.bounds[1] = thin[end];
    }
    let home = spots[leg.bounds[1]].at;
    let near = thin[start]..=thin[(start + 1).min(thin.len() - 1)];
    let away_m = |i: usize| distance_m(spots[i].at, home);
    let nearest = near.min_by(|&a, &b| away_m(a).total_cmp(&away_m(b)));
    leg.bounds[0] = nearest.unwrap_or(thin[start]);
    leg.gaps_m[0] = away_m(leg.bounds[0]);
    leg.elsewhere_m2 = 0.0;
}
