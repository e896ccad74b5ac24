//! How position errors along a walk become an error of its area.
//!
//! The area's error is `Σ_i w_i · e_i`, where `w_i` (the pull) is the area's gradient at fix `i` times the fix's sigma and `e_i` the
//! error in units of sigma. Its variance is the double sum of `w_i · w_j` times the correlation of `e_i` and `e_j`. For errors whose
//! correlation is exponential in time that double sum is worked out in one pass.

use crate::normal;

/// How much one fix moves an area, and when it was taken.
///
/// `pull_m2` is `(g_x sigma_x, g_y sigma_y)`, the area's gradient times the fix's sigma: square metres for an error of one sigma east and
/// north.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pull {
    pub t_s: f64,
    pub pull_m2: [f64; 2],
}

/// Variance of the area, m⁴, when the standardised error of each axis is a first-order Gauss-Markov process:
/// correlation `exp(-|dt| / correlation_s)` between fixes, in the order of time.
///
/// One pass: the double sum over all pairs folds into a running sum because exponentials multiply,
/// `S_i = exp(-(t_i - t_{i-1}) / tau) (S_{i-1} + w_{i-1})`, `V += w_i·w_i + 2 w_i·S_i`. The sum is open: the
/// last fix and the first are a whole walk apart in time although they are neighbours on the ground.
///
/// # Accuracy
/// 4e-13 relative against the double sum (test `recursion_equals_double_sum`).
pub(crate) fn correlated_variance_m4(pulls: &[Pull], correlation_s: f64) -> f64 {
    let [variance_m4] = side_by_side(pulls, [correlation_s]);
    variance_m4
}

/// [`correlated_variance_m4`] for each of several correlation times.
pub(crate) fn correlated_variances_m4(pulls: &[Pull], correlation_s: &[f64]) -> Vec<f64> {
    // Eight sums at once keep the processor busy while each waits for the result before it; a last few are worked out by fours.
    let eights = correlation_s.len() / 8 * 8;
    let rest = correlation_s.len() - eights;
    let (eights, rest) = correlation_s.split_at(if rest > 4 { eights + rest } else { eights });
    let mut variances_m4 = abreast(eights, |times: [f64; 8]| side_by_side(pulls, times));
    variances_m4.extend(abreast(rest, |times: [f64; 4]| side_by_side(pulls, times)));
    variances_m4
}

/// Calls `each` with `N` correlation times at once, and gives what it says of each, in order.
pub(super) fn abreast<T, const N: usize>(
    correlation_s: &[f64],
    mut each: impl FnMut([f64; N]) -> [T; N],
) -> Vec<T> {
    let mut found = Vec::with_capacity(correlation_s.len());
    for times in correlation_s.chunks(N) {
        // Places left over in the last group are filled with some time whose result is dropped.
        let mut abreast = [1.0; N];
        for (own, &time) in abreast.iter_mut().zip(times) {
            *own = time;
        }
        found.extend(each(abreast).into_iter().take(times.len()));
    }
    found
}

/// The recursion for `N` correlation times at once.
fn side_by_side<const N: usize>(pulls: &[Pull], correlation_s: [f64; N]) -> [f64; N] {
    let (mut east, mut north) = ([0.0f64; N], [0.0f64; N]);
    let mut between = [0.0; N];
    let (mut step_s, mut decay) = (f64::NAN, [0.0; N]);
    let mut before: Option<&Pull> = None;
    for here in pulls {
        if let Some(before) = before {
            let gap_s = (here.t_s - before.t_s).max(0.0);
            if (gap_s - step_s).abs() > SAME_STEP_S || step_s.is_nan() {
                step_s = gap_s;
                decay = correlation_s.map(|time| (-gap_s / time).exp());
            }
            let ([last_east, last_north], [own_east, own_north]) = (before.pull_m2, here.pull_m2);
            for k in 0..N {
                east[k] = decay[k] * (east[k] + last_east);
                north[k] = decay[k] * (north[k] + last_north);
                between[k] += own_east * east[k] + own_north * north[k];
            }
        }
        before = Some(here);
    }
    let own = white_variance_m4(pulls);
    between.map(|between| (own + 2.0 * between).max(0.0))
}

/// Steps that differ by less than this count as the same, seconds: the steps of an even logger differ in their last digits, and so little
/// changes nothing.
pub(super) const SAME_STEP_S: f64 = 1e-6;

/// Variance of the area, m⁴, when errors are independent from fix to fix: `Σ w·w`.
pub(crate) fn white_variance_m4(pulls: &[Pull]) -> f64 {
    pulls
        .iter()
        .map(|p| p.pull_m2[0] * p.pull_m2[0] + p.pull_m2[1] * p.pull_m2[1])
        .sum()
}

/// Puts fixes closer than `within_s` into one pull, so that a 20 Hz log costs no more than a 2 Hz one.
/// Over a time much shorter than the correlation time the error does not change, so nothing is lost.
pub(crate) fn merge(pulls: &[Pull], within_s: f64) -> Vec<Pull> {
    let mut merged: Vec<Pull> = Vec::with_capacity(pulls.len());
    let mut from_s = f64::NEG_INFINITY;
    for pull in pulls {
        match merged.last_mut() {
            Some(last) if pull.t_s - from_s < within_s => {
                last.pull_m2[0] += pull.pull_m2[0];
                last.pull_m2[1] += pull.pull_m2[1];
            }
            _ => {
                from_s = pull.t_s;
                merged.push(*pull);
            }
        }
    }
    merged
}

/// The half-width that holds the share `confidence` of a zero-mean mixture of normal distributions, given as (weight, variance) pairs;
/// weights sum to one. 0 where parts without spread hold as much already.
///
/// # Accuracy
/// 1e-12 relative, plus what the parts left out weigh together. The share within a half-width is a concave function of it, so that
/// Newton's steps end below the answer wherever they set out, and from below never pass it.
pub(crate) fn mixture_half_width(parts: &[(f64, f64)], confidence: f64) -> f64 {
    // After evidence only a few of some hundred parts have any weight worth counting.
    const WEIGHTLESS: f64 = 1e-16;
    let spread: Vec<(f64, f64)> = parts
        .iter()
        .filter(|&&(weight, variance)| weight > WEIGHTLESS && variance > 0.0)
        .map(|&(weight, variance)| (weight, variance.sqrt()))
        .collect();
    // A part without spread lies within any half-width.
    let certain: f64 = parts
        .iter()
        .filter(|p| p.1.is_nan() || p.1 <= 0.0)
        .map(|p| p.0)
        .sum();
    if spread.is_empty() || certain >= confidence {
        return 0.0;
    }
    // If all parts were as wide as `sigma`, this half-width would hold the share asked for.
    let width = |sigma: f64| {
        sigma * normal::quantile(0.5 + 0.5 * (confidence - certain) / (1.0 - certain).max(1e-9))
    };
    let mean2: f64 = spread
        .iter()
        .map(|(weight, sigma)| weight * sigma * sigma)
        .sum();
    let narrowest = spread.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
    // Newton's method: from a first guess, step by the missing share over the rate at which the share grows.
    let mut half = width((mean2 / (1.0 - certain).max(1e-9)).sqrt());
    for _ in 0..60 {
        let (mut within, mut rate) = (certain, 0.0);
        for &(weight, sigma) in &spread {
            let (share, density) = normal::within(half / sigma);
            within += weight * share;
            rate += weight * 2.0 * density / sigma;
        }
        let step = (confidence - within) / rate;
        if half + step <= 0.0 {
            // The guess was far too wide: begin again from the narrowest part, below the answer.
            half = width(narrowest);
            continue;
        }
        if !step.is_finite() {
            break;
        }
        half += step;
        // The error that is left is about the square of the last step.
        if step.abs() <= 1e-7 * half {
            break;
        }
    }
    half
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ring::area_gradient_m;
    use approx::{assert_abs_diff_eq, assert_relative_eq};
    use geo::Coord;

    /// Pulls of a ring walked at one metre a second, sigma one metre per axis.
    fn pulls(ring: &[(f64, f64)], step_s: f64) -> Vec<Pull> {
        let ring: Vec<_> = ring.iter().map(|&(x, y)| Coord { x, y }).collect();
        area_gradient_m(&ring)
            .into_iter()
            .enumerate()
            .map(|(i, g)| Pull {
                t_s: i as f64 * step_s,
                pull_m2: g,
            })
            .collect()
    }

    fn rectangle(a: f64, b: f64, step: f64) -> Vec<(f64, f64)> {
        let (na, nb) = ((a / step).round() as usize, (b / step).round() as usize);
        let mut ring = Vec::new();
        ring.extend((0..na).map(|i| (i as f64 * step, 0.0)));
        ring.extend((0..nb).map(|i| (a, i as f64 * step)));
        ring.extend((0..na).map(|i| (a - i as f64 * step, b)));
        ring.extend((0..nb).map(|i| (0.0, b - i as f64 * step)));
        ring
    }

    fn double_sum(pulls: &[Pull], tau: f64) -> f64 {
        let mut sum = 0.0;
        for a in pulls {
            for b in pulls {
                let rho = (-(a.t_s - b.t_s).abs() / tau).exp();
                sum += rho * (a.pull_m2[0] * b.pull_m2[0] + a.pull_m2[1] * b.pull_m2[1]);
            }
        }
        sum
    }

    /// Closed form derived for this project: opposite corners of a square have opposite gradients, neighbours
    /// are at right angles, so Var = 200 (1 - exp(-20 s / tau)) sigma² for a 10 m square at 10 s a side.
    #[test]
    fn square_closed_form() {
        let square = pulls(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)], 10.0);
        assert_relative_eq!(
            correlated_variance_m4(&square, 10.0),
            172.932943352677,
            max_relative = 1e-12
        );
        assert_relative_eq!(
            correlated_variance_m4(&square, 20.0),
            126.424111765713,
            max_relative = 1e-12
        );
        assert_relative_eq!(
            correlated_variance_m4(&square, 1e-6),
            200.0,
            max_relative = 1e-12
        );
        assert!(correlated_variance_m4(&square, 1e12) < 1e-6);
    }

    /// Vectors recomputed numerically for this project (double sum and Monte Carlo), printed to ten decimals.
    #[test]
    fn rectangle_vectors() {
        let coarse = pulls(&rectangle(30.0, 20.0, 5.0), 5.0);
        for (tau, variance) in [
            (10.0, 1218.3718589993),
            (30.0, 1370.2914257704),
            (60.0, 1029.6495282076),
            (300.0, 295.4910231932),
        ] {
            assert_relative_eq!(
                correlated_variance_m4(&coarse, tau),
                variance,
                max_relative = 1e-9
            );
        }
        let fine = pulls(&rectangle(20.0, 15.0, 1.0), 1.0);
        for (tau, sigma) in [
            (1e-6, 8.246211),
            (5.0, 22.366396),
            (15.0, 26.843875),
            (30.0, 24.862146),
            (60.0, 20.490960),
            (120.0, 15.719875),
            (600.0, 7.522035),
        ] {
            assert_abs_diff_eq!(
                correlated_variance_m4(&fine, tau).sqrt(),
                sigma,
                epsilon = 1e-6
            );
        }
    }

    /// Continuous circle, one lap, derived: Var/sigma² = 2 [P a/(a²+k²) + (1-e^{-aP})(k²-a²)/(a²+k²)²], a = 1/l, k = 1/R.
    #[test]
    fn circle_closed_form() {
        let n = 6283;
        let ring: Vec<_> = (0..n)
            .map(|i| {
                let angle = i as f64 / n as f64 * std::f64::consts::TAU;
                (10.0 * angle.cos(), 10.0 * angle.sin())
            })
            .collect();
        let lap_m = std::f64::consts::TAU * 10.0;
        let circle = pulls(&ring, lap_m / n as f64);
        for (l, sigma) in [
            (5.0, 21.878183),
            (10.0, 25.066283),
            (30.0, 22.433419),
            (60.0, 17.979406),
            (600.0, 6.387973),
        ] {
            assert_relative_eq!(
                correlated_variance_m4(&circle, l).sqrt(),
                sigma,
                max_relative = 2e-4
            );
        }
    }

    /// Laps of a 30 x 20 m rectangle, sigma 2 m, one metre a second: sigma of the mean area (this project's table).
    #[test]
    fn laps_average_by_the_walks_own_times() {
        let lap = rectangle(30.0, 20.0, 1.0);
        for (tau, table) in [
            (10.0, [70.258, 49.448, 40.311, 34.883]),
            (60.0, [65.945, 42.651, 33.225, 28.000]),
            (300.0, [35.555, 24.119, 18.990, 15.931]),
        ] {
            for (m, sigma) in (1..).zip(table) {
                let mut many = Vec::new();
                for _ in 0..m {
                    many.extend_from_slice(&lap);
                }
                let mut walk = pulls(&many, 1.0);
                for pull in &mut walk {
                    pull.pull_m2 = pull.pull_m2.map(|w| 2.0 * w / m as f64);
                }
                assert_abs_diff_eq!(
                    correlated_variance_m4(&walk, tau).sqrt(),
                    sigma,
                    epsilon = 1.1e-3
                );
            }
        }
    }

    #[test]
    fn recursion_equals_double_sum() {
        let mut walk = pulls(&rectangle(18.0, 8.0, 1.0), 1.0);
        let mut t = 0.0;
        for (i, pull) in walk.iter_mut().enumerate() {
            t += [1.0, 1.0, 1.0, 2.0, 5.0][i % 5];
            pull.t_s = t;
            pull.pull_m2[0] *= 0.5 + (i % 7) as f64 * 0.2;
        }
        let taus: Vec<f64> = (0..19).map(|k| 1.4f64.powi(k)).collect();
        let abreast = correlated_variances_m4(&walk, &taus);
        assert_eq!(abreast.len(), taus.len());
        for (&tau, variance) in taus.iter().zip(abreast) {
            assert_relative_eq!(variance, double_sum(&walk, tau), max_relative = 4e-13);
            assert_relative_eq!(
                correlated_variance_m4(&walk, tau),
                variance,
                max_relative = 1e-14
            );
        }
    }

    #[test]
    fn merging_a_fast_log_changes_nothing_that_matters() {
        let fast = pulls(&rectangle(12.0, 8.0, 0.1), 0.1);
        let slow = merge(&fast, 0.5);
        assert!(slow.len() * 4 < fast.len());
        for tau in [15.0, 60.0, 600.0] {
            assert_relative_eq!(
                correlated_variance_m4(&slow, tau).sqrt(),
                correlated_variance_m4(&fast, tau).sqrt(),
                max_relative = 0.01
            );
        }
    }

    #[test]
    fn mixture_of_equal_parts_is_the_normal() {
        assert_relative_eq!(
            mixture_half_width(&[(0.5, 4.0), (0.5, 4.0)], 0.95),
            3.919927969080108,
            max_relative = 1e-10
        );
        assert_eq!(mixture_half_width(&[(1.0, 0.0)], 0.95), 0.0);
    }
}
