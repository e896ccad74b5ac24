//! Steadies a walk whose positions scatter by more than a step from fix to fix, before its area is taken.
//!
//! Fixes ten times a second are ten centimetres apart, and the part of the error that is independent from fix to fix may be larger than
//! that. The line through such fixes zigzags, and the area inside it is noisier than it need be. A parabola fitted through each fix and
//! its neighbours takes most of that out.

use crate::process::WHITE_SHARE;
use crate::walk::Spot;
use geo::Coord;

/// Fixes up to this long before and after a fix decide with it where it was, seconds.
const HALF_S: f64 = 0.6;

/// Where each fix of a walk is taken to be: moved on to the parabola of least squares through the fixes around it, where the part of the
/// error that is independent from fix to fix is larger than a step; as it is otherwise.
///
/// Errors of that kind enter an area in two ways. What is linear in them cancels along a ring, but their squares do not: they add `n
/// sigma⁴ / 2` to the area's variance (and nearly twice that in a smooth path through all fixes), which on a lawn under 100 m² at ten
/// fixes a second is more than all the rest. A parabola leaves straights and curves where they are; corners walked through lose a few
/// hundredths of a square metre. Where fixes do not follow each other evenly, the window is shorter.
///
/// The weights of `2 m + 1` even steps are `3 (3 m² + 3 m − 1 − 5 j²) / ((2 m − 1) (2 m + 1) (2 m + 3))` (Savitzky and Golay, Analytical
/// Chemistry 36, 1964, quadratic; closed form from memory, tested to leave every parabola as it is).
pub(crate) fn steadied(
    spots: &[Spot],
    step_s: f64,
    pace_m_s: f64,
    sigma_m: f64,
) -> Vec<Coord<f64>> {
    let mut places: Vec<Coord<f64>> = spots.iter().map(|spot| spot.at).collect();
    // How many fixes the window has on either side: with a limit, so that it never takes long. Two are the least for which a parabola
    // smooths anything.
    let half = (HALF_S / step_s).ceil().min(60.0) as u8;
    if half < 2 || WHITE_SHARE.sqrt() * sigma_m <= pace_m_s * step_s {
        return places;
    }
    let even = |from: &Spot, to: &Spot| {
        let lasts_s = to.t_s - from.t_s;
        lasts_s > 0.5 * step_s && lasts_s < 1.5 * step_s
    };
    // How many even steps in a row lead to each fix, and away from it: the window is as long as the shorter of the two.
    let mut before = vec![0u8; spots.len()];
    for i in 1..spots.len() {
        if even(&spots[i - 1], &spots[i]) {
            before[i] = (before[i - 1] + 1).min(half);
        }
    }
    let mut after = 0;
    for i in (0..spots.len()).rev() {
        after = match spots.get(i + 1) {
            Some(next) if even(&spots[i], next) => (after + 1).min(half),
            _ => 0,
        };
        let reach = before[i].min(after);
        if reach >= 2 {
            places[i] = spots[i].at + moved(spots, i, usize::from(reach));
        }
    }
    places
}

/// The vector from the fix to the parabola through it and `reach` fixes on either side. It is zero where the receiver pins its position
/// at a standstill.
fn moved(spots: &[Spot], i: usize, reach: usize) -> Coord<f64> {
    let m = reach as f64;
    let whole = (2.0 * m - 1.0) * (2.0 * m + 1.0) * (2.0 * m + 3.0) / 3.0;
    let mut sum = Coord::default();
    for j in 1..=reach {
        let weight = 3.0 * m * m + 3.0 * m - 1.0 - 5.0 * (j * j) as f64;
        let two = (spots[i - j].at - spots[i].at) + (spots[i + j].at - spots[i].at);
        sum = sum + two * weight;
    }
    sum / whole
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edge::smooth::smooth_area;
    use crate::trial::chance::Chance;
    use approx::assert_relative_eq;
    use std::f64::consts::{PI, TAU};

    fn walk(n: usize, step_s: f64, at: impl Fn(f64) -> (f64, f64)) -> Vec<Spot> {
        (0..n)
            .map(|fix| {
                let t_s = fix as f64 * step_s;
                let (x, y) = at(t_s);
                Spot {
                    at: Coord { x, y },
                    t_s,
                    sigma_m: [2.0; 2],
                    fix,
                }
            })
            .collect()
    }

    #[test]
    fn a_parabola_stays_where_it_is() {
        for step_s in [0.1, 0.2, 0.25, 0.5] {
            let parabola = walk(60, step_s, |t| (3.0 + t - 0.2 * t * t, 0.5 * t * t - 1.0));
            let steady = steadied(&parabola, step_s, 1.0, 2.0);
            for (a, b) in parabola.iter().zip(steady.iter()) {
                assert_relative_eq!(a.at.x, b.x, epsilon = 1e-11);
                assert_relative_eq!(a.at.y, b.y, epsilon = 1e-11);
            }
        }
    }

    #[test]
    fn good_receivers_and_slow_ones_are_left_alone() {
        let line = walk(50, 0.1, |t| (t, (7.0 * t).sin()));
        let as_it_is: Vec<Coord<f64>> = line.iter().map(|spot| spot.at).collect();
        assert_eq!(steadied(&line, 0.1, 1.0, 0.02), as_it_is);
        assert_eq!(steadied(&line, 1.0, 1.0, 5.0), as_it_is);
        assert_ne!(steadied(&line, 0.1, 1.0, 2.0), as_it_is);
        assert!(steadied(&[], 0.0, 1.0, 5.0).is_empty());
    }

    #[test]
    fn a_pinned_standstill_stays_one() {
        let stands = walk(60, 0.1, |t| (if t < 3.0 { t } else { 3.0 } / 3.0, 0.1));
        let steady = steadied(&stands, 0.1, 1.0, 2.0);
        assert!(steady[40..].windows(2).all(|w| w[0] == w[1]));
    }

    /// Across a minute's break nobody knows the way: each side is steadied by itself.
    #[test]
    fn a_break_is_not_bridged() {
        let mut line = walk(40, 0.1, |t| (t, 0.0));
        for spot in &mut line[20..] {
            spot.t_s += 60.0;
            spot.at.y += 50.0;
        }
        let steady = steadied(&line, 0.1, 1.0, 2.0);
        for (a, b) in line.iter().zip(steady.iter()) {
            assert_relative_eq!(a.at.y, b.y, epsilon = 1e-12);
        }
    }

    /// A square and a circle of 50 m² at ten fixes a second, with noise of 0.6 m in each fix: the area's own noise
    /// falls to a third at least, and nothing is lost but a few hundredths of a square metre a corner.
    #[test]
    fn areas_keep_their_size_and_lose_their_noise() {
        let side = 50f64.sqrt();
        let square = move |t: f64| {
            let (k, s) = ((t / side) as usize % 4, t % side);
            [(s, 0.0), (side, s), (side - s, side), (0.0, side - s)][k]
        };
        let radius = (50.0 / PI).sqrt();
        let circle = move |t: f64| (radius * (t / radius).cos(), radius * (t / radius).sin());
        let area_m2 = |spots: &[Spot], places: &[Coord<f64>]| {
            smooth_area(spots, places, 0.1, false).smooth_m2
        };
        let steady_m2 = |spots: &[Spot]| area_m2(spots, &steadied(spots, 0.1, 1.0, 2.0));
        let raw_m2 = |spots: &[Spot]| {
            let places: Vec<Coord<f64>> = spots.iter().map(|spot| spot.at).collect();
            area_m2(spots, &places)
        };
        let whole = |along_m: f64| (10.0 * along_m) as usize;
        let shapes = [
            walk(whole(4.0 * side), 0.1, square),
            walk(whole(TAU * radius), 0.1, circle),
        ];
        for (shape, most_lost_m2) in shapes.iter().zip([0.3, 0.02]) {
            let lost_m2 = raw_m2(shape) - steady_m2(shape);
            assert!(
                (-0.01..most_lost_m2).contains(&lost_m2),
                "lost {lost_m2} m²"
            );
            let mut chance = Chance::new(5);
            let (mut raw_m4, mut steady_m4) = (0.0, 0.0);
            for _ in 0..200 {
                let mut noisy = shape.clone();
                for spot in &mut noisy {
                    spot.at.x += 0.6 * chance.normal();
                    spot.at.y += 0.6 * chance.normal();
                }
                raw_m4 += (raw_m2(&noisy) - 50.0).powi(2);
                steady_m4 += (steady_m2(&noisy) - 50.0).powi(2);
            }
            assert!(steady_m4 * 9.0 < raw_m4, "{steady_m4} against {raw_m4}");
        }
    }
}
