//! The standard normal distribution (mean 0, sigma 1): what share of errors lies within a bound, and which bound holds a share.
//! A bound is counted in sigmas. Bands, tests of tapes and odds of jumps all rest on it.

use std::cell::Cell;
use std::sync::LazyLock;

/// Share of a standard normal below `z`, 0 to 1.
///
/// # Accuracy
/// That of `libm::erfc`, better than 1e-15 relative in the central range.
pub(crate) fn cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// The `z` below which the share `p` of a standard normal lies; `p` strictly between 0 and 1
/// (outside it: minus or plus infinity).
///
/// # Accuracy
/// Better than 1e-12. The answer is found by halving a bracket of ±40 on [`cdf`], then by Newton's steps that may not leave the
/// bracket, so that it is as good as [`cdf`] itself and rests on no approximate formula.
pub(crate) fn quantile(p: f64) -> f64 {
    if p <= 0.0 {
        return f64::NEG_INFINITY;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    // All surveys of a run ask for the same dozen of shares, so that each thread keeps its latest answers.
    const KEPT: usize = 16;
    thread_local! {
        static LATEST: Cell<[(f64, f64); KEPT]> = const { Cell::new([(0.0, 0.0); KEPT]) };
    }
    let latest = LATEST.get();
    if let Some(&(_, z)) = latest.iter().find(|known| known.0 == p) {
        return z;
    }
    let z = worked_out(p);
    LATEST.set(std::array::from_fn(|k| match k {
        0 => (p, z),
        _ => latest[k - 1],
    }));
    z
}

/// The quantile, worked out anew.
fn worked_out(p: f64) -> f64 {
    let (mut low, mut high) = (-40.0, 40.0);
    // 16 halvings of 80 leave an error of 0.0012 at most. Each of Newton's steps from there at least squares what is left, even far
    // out, where the square counts 40 times.
    for _ in 0..16 {
        let middle = 0.5 * (low + high);
        if cdf(middle) < p {
            low = middle
        } else {
            high = middle
        }
    }
    let mut z = 0.5 * (low + high);
    for _ in 0..4 {
        z = (z - (cdf(z) - p) / density(z)).clamp(low, high);
    }
    z
}

/// Density of the standard normal.
fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// How many places to a sigma [`within`] keeps the share and the density of.
const PER_SIGMA: f64 = 64.0;
/// Number of sigmas beyond which the share is 1 to the last bit.
const ALL_SIGMAS: f64 = 9.0;

/// Share of a standard normal within `±z`, and its density at `z`, where `z` is 0 or more. Several times as quick as [`cdf`] and
/// [`density`]: both are worked out once for a row of places, and Taylor's series leads from the nearest place to `z`.
///
/// # Accuracy
/// 2e-15 for the share, 1e-12 for the density.
pub(crate) fn within(z: f64) -> (f64, f64) {
    static KNOWN: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| {
        (0..=(ALL_SIGMAS * PER_SIGMA) as usize)
            .map(|k| k as f64 / PER_SIGMA)
            .map(|z| (libm::erf(z / std::f64::consts::SQRT_2), density(z)))
            .collect()
    });
    let place = (z * PER_SIGMA + 0.5) as usize;
    let Some(&(share, density)) = KNOWN.get(place) else {
        return (1.0, 0.0);
    };
    let at = place as f64 / PER_SIGMA;
    let h = z - at;
    // Terms of Taylor's series of the density: its derivatives are Hermite's polynomials times itself, and each counts h^k / k!. The
    // share is the integral of that series, in which term k is divided by k + 1.
    let at2 = at * at;
    let one = -at * h;
    let two = (at2 - 1.0) * (h * h * (1.0 / 2.0));
    let three = (3.0 - at2) * at * (h * h * h * (1.0 / 6.0));
    let four = (3.0 + at2 * (at2 - 6.0)) * (h * h * h * h * (1.0 / 24.0));
    let mean = 1.0 + one / 2.0 + two / 3.0 + three / 4.0 + four / 5.0;
    (
        share + 2.0 * density * h * mean,
        density * (1.0 + one + two + three + four),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    #[test]
    fn a_share_within_is_that_of_both_sides() {
        for k in 0..2500 {
            let z = 0.0037 * f64::from(k);
            let (share, at) = within(z);
            assert_abs_diff_eq!(
                share,
                libm::erf(z / std::f64::consts::SQRT_2),
                epsilon = 2e-15
            );
            assert_abs_diff_eq!(at, density(z), epsilon = 1e-12);
        }
        assert_eq!(within(f64::INFINITY), (1.0, 0.0));
    }

    /// Handbook values of the standard normal (from memory, any statistics table).
    #[test]
    fn table_values() {
        assert_abs_diff_eq!(quantile(0.975), 1.959963984540054, epsilon = 1e-12);
        assert_abs_diff_eq!(quantile(0.95), 1.6448536269514722, epsilon = 1e-12);
        assert_abs_diff_eq!(cdf(1.0) - cdf(-1.0), 0.682689492137086, epsilon = 1e-12);
        for p in [1e-300, 1e-9, 0.03, 0.5, 0.8, 0.9999] {
            assert_relative_eq!(cdf(quantile(p)), p, max_relative = 1e-11);
        }
        assert!((8.0..8.5).contains(&quantile(1.0 - f64::EPSILON / 2.0)));
        assert_eq!(quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(quantile(1.0), f64::INFINITY);
    }
}
