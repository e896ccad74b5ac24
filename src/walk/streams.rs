//! Two streams of positions written alternately into one log, as a device with two receivers, or a receiver with two engines, may do.
//!
//! Where the streams lie far apart, `clean` tells them apart fix by fix, and this file says how far. Where they lie too near for that, a
//! test of means shows that every other fix is displaced.

use super::Spot;
use super::pace::median;
use crate::limits::walk::cleaning;
use crate::ring::distance_m;
use geo::Coord;

/// The distance between the streams, metres: the median, over the second stream's fixes (those `left` out), of how far each is from the
/// next fix of the walk. 0 where there is none.
pub(super) fn apart_m(spots: &[Spot], walk: &[usize], left: &[&Vec<usize>]) -> f64 {
    let mut apart: Vec<f64> = Vec::new();
    for &i in left.iter().copied().flatten() {
        let after = walk.partition_point(|&w| w < i);
        if let Some(&near) = walk.get(after).or(walk.last()) {
            apart.push(distance_m(spots[i].at, spots[near].at));
        }
    }
    median(&mut apart).unwrap_or(0.0)
}

/// How far every other fix lies from the rest, metres, where that is more than chance; `None` where it is not, or where there are too few
/// fixes to say.
///
/// Each fix is compared with the middle of its two neighbours, and the sign of every other difference is turned round. Over a closed walk
/// the bends of the path cancel, and a steady offset between even and odd fixes adds up. A rough receiver errs to all sides, so that its
/// errors cancel as well.
pub(super) fn alternate_m(spots: &[Spot]) -> Option<f64> {
    let mut sum = Coord { x: 0.0, y: 0.0 };
    let (mut squares, mut n) = (0.0, 0usize);
    for (i, three) in spots.windows(3).enumerate() {
        let middle = (three[0].at + three[2].at) / 2.0;
        let aside = (three[1].at - middle) * if i % 2 == 0 { 1.0 } else { -1.0 };
        sum = sum + aside;
        squares += aside.x * aside.x + aside.y * aside.y;
        n += 1;
    }
    if n < cleaning::ALTERNATE_FIXES {
        return None;
    }
    let mean = sum / n as f64;
    let apart_m = mean.x.hypot(mean.y);
    // The spread is taken about the mean: on a short walk the offset itself would otherwise widen the spread and hide in it.
    let spread_m2 = (squares / n as f64 - apart_m * apart_m).max(0.0);
    // Chance's sigma for the mean of one axis, doubled. Were the differences independent it would be the square root of `spread / (2 n)`.
    // They share fixes and alternate in sign: each fix enters three of them with weights 1/2, 1 and 1/2 of one sign, which makes the real
    // sigma up to twice as large.
    let chance_m = 2.0 * (spread_m2 / (2.0 * n as f64)).sqrt();
    (apart_m > cleaning::ALTERNATE_SIGMAS * chance_m).then_some(apart_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::chance::Chance;

    /// Round a circle of 20 m radius, each position with white noise, every other one moved.
    fn walk(noise_m: f64, moved_m: f64, seed: u64) -> Vec<Spot> {
        let mut chance = Chance::new(seed);
        (0..126)
            .map(|fix| {
                let (y, x) = (fix as f64 / 20.0).sin_cos();
                let aside_m = if fix % 2 == 1 { moved_m } else { 0.0 };
                Spot {
                    at: Coord {
                        x: 20.0 * x + noise_m * chance.normal() + aside_m,
                        y: 20.0 * y + noise_m * chance.normal(),
                    },
                    t_s: fix as f64,
                    sigma_m: [1.0; 2],
                    fix,
                }
            })
            .collect()
    }

    #[test]
    fn a_short_walk_shows_it_too() {
        for seed in 0..200 {
            assert!(alternate_m(&walk(0.3, 1.6, seed)[..56]).is_some(), "{seed}");
            assert_eq!(alternate_m(&walk(0.3, 0.0, seed)[..56]), None, "{seed}");
        }
    }

    #[test]
    fn every_other_fix_aside_is_told_and_noise_is_not() {
        for seed in 0..200 {
            assert_eq!(alternate_m(&walk(0.5, 0.0, seed)), None, "{seed}");
            let apart_m = alternate_m(&walk(0.5, 2.0, seed)).unwrap();
            assert!((apart_m - 2.0).abs() < 0.5, "{seed}: {apart_m}");
        }
    }
}
