//! The distributions behind the tests: chi-square (of a sum of squares), Student's t (of a mean whose sigma is itself estimated) and
//! Pope's tau (of a residual in sigmas that the same adjustment estimated). A quantile is the value that is not exceeded with a given
//! chance.
//!
//! Accuracy: 1e-10 relative in the quantiles, checked against printed tables.

use crate::normal;

/// Regularised lower incomplete gamma function P(a, x): by its series where x is small, else by its continued fraction.
fn gamma_p(a: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let front = (a * x.ln() - x - libm::lgamma(a)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        for _ in 0..1000 {
            n += 1.0;
            term *= x / n;
            sum += term;
            if term < sum * 1e-16 {
                break;
            }
        }
        front * sum
    } else {
        // Lentz's continued fraction for Q(a, x).
        const TINY: f64 = 1e-300;
        let mut b = x + 1.0 - a;
        let mut c = 1.0 / TINY;
        let mut d = 1.0 / b;
        let mut h = d;
        for i in 1..1000 {
            let i = f64::from(i);
            let an = -i * (i - a);
            b += 2.0;
            d = 1.0 / keep_off_zero(an * d + b);
            c = keep_off_zero(b + an / c);
            let step = d * c;
            h *= step;
            if (step - 1.0).abs() < 1e-16 {
                break;
            }
        }
        1.0 - front * h
    }
}

/// The number, or a tiny one in its place where it is zero: it is going to be divided by.
fn keep_off_zero(x: f64) -> f64 {
    if x.abs() < 1e-300 { 1e-300 } else { x }
}

/// Regularised incomplete beta function I_x(a, b).
fn beta_i(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - beta_i(b, a, 1.0 - x);
    }
    let front =
        (libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b) + a * x.ln() + b * (1.0 - x).ln())
            .exp()
            / a;
    let mut c = 1.0;
    let mut d = 1.0 / keep_off_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..1000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / keep_off_zero(1.0 + even * d);
        c = keep_off_zero(1.0 + even / c);
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / keep_off_zero(1.0 + odd * d);
        c = keep_off_zero(1.0 + odd / c);
        let step = d * c;
        h *= step;
        if (step - 1.0).abs() < 1e-16 {
            break;
        }
    }
    front * h
}

/// The `x` in `low..high` where the rising function `share` reaches `p`, by bisection.
fn where_reached(p: f64, low: f64, high: f64, share: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (low, high);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if share(middle) < p {
            low = middle;
        } else {
            high = middle;
        }
        if high - low <= 1e-14 * high.abs() {
            break;
        }
    }
    0.5 * (low + high)
}

/// Half-width in sigmas of a two-sided normal interval, e.g. 1.96 at 0.95.
pub(crate) fn two_sided(confidence: f64) -> f64 {
    normal::quantile(0.5 * (1.0 + confidence))
}

/// Chance that chi-square with `freedom` degrees lies below `x`.
fn chi_square_share(x: f64, freedom: f64) -> f64 {
    gamma_p(0.5 * freedom, 0.5 * x)
}

/// The value that chi-square stays below with chance `p`.
pub(crate) fn chi_square_quantile(p: f64, freedom: f64) -> f64 {
    let high = freedom + 40.0 * (2.0 * freedom).sqrt() + 100.0;
    where_reached(p, 0.0, high, |x| chi_square_share(x, freedom))
}

/// Chance that Student's t with `freedom` degrees lies below `t`.
fn student_share(t: f64, freedom: f64) -> f64 {
    let tail = 0.5 * beta_i(0.5 * freedom, 0.5, freedom / (freedom + t * t));
    if t < 0.0 { tail } else { 1.0 - tail }
}

/// The value that Student's t stays below with chance `p`, 0.5 <= p < 1.
pub(crate) fn student_quantile(p: f64, freedom: f64) -> f64 {
    where_reached(p, 0.0, 1e8, |t| student_share(t, freedom))
}

/// Critical value of Pope's tau at significance `alpha` (two-sided) with `freedom` degrees of freedom:
/// `tau = t sqrt(f) / sqrt(f - 1 + t²)` with Student's t of `f - 1` degrees (A. J. Pope, *The statistics of
/// residuals and the detection of outliers*, NOAA Technical Report NOS 65 NGS 1, 1976; from memory).
/// `None` below two degrees: a single one can't tell a large residual from a wrong sigma.
pub(crate) fn tau_critical(alpha: f64, freedom: usize) -> Option<f64> {
    if freedom < 2 {
        return None;
    }
    let f = freedom as f64;
    let t = student_quantile(1.0 - 0.5 * alpha, f - 1.0);
    Some(t * f.sqrt() / (f - 1.0 + t * t).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn normal_as_tabled() {
        // Standard normal table; 1.959964, 2.575829, 3.290527 (from memory, in every table).
        assert_relative_eq!(two_sided(0.95), 1.959_963_985, epsilon = 1e-8);
        assert_relative_eq!(two_sided(0.99), 2.575_829_304, epsilon = 1e-8);
        assert_relative_eq!(two_sided(0.999), 3.290_526_731, epsilon = 1e-8);
    }

    #[test]
    fn chi_square_as_tabled() {
        // NIST/SEMATECH e-Handbook of Statistical Methods, table of critical values of the chi-square
        // distribution: lower 0.95 at 10 degrees 3.940, lower 0.975 at 5 degrees 0.831, 0.90 at 20 degrees
        // 12.443, 0.999 at 15 degrees 3.483.
        assert_relative_eq!(chi_square_quantile(0.05, 10.0), 3.940, epsilon = 5e-4);
        assert_relative_eq!(chi_square_quantile(0.025, 5.0), 0.831, epsilon = 5e-4);
        assert_relative_eq!(chi_square_quantile(0.10, 20.0), 12.443, epsilon = 5e-4);
        assert_relative_eq!(chi_square_quantile(0.001, 15.0), 3.483, epsilon = 5e-4);
        // Upper tail, from an examination board's printed table: 1 degree 0.05 3.84146, 4 degrees 0.025 11.14329.
        assert_relative_eq!(chi_square_quantile(0.95, 1.0), 3.841_46, epsilon = 5e-6);
        assert_relative_eq!(chi_square_quantile(0.975, 4.0), 11.143_29, epsilon = 5e-6);
    }

    #[test]
    fn student_as_tabled() {
        // Student's table (from memory): 0.975 at 1, 2, 10, 30 degrees.
        for (freedom, t) in [(1.0, 12.706), (2.0, 4.303), (10.0, 2.228), (30.0, 2.042)] {
            assert_relative_eq!(student_quantile(0.975, freedom), t, epsilon = 6e-4);
        }
    }

    #[test]
    fn tau_lies_below_its_bound_and_tends_to_normal() {
        // |tau| can't exceed sqrt(f); for many degrees it becomes normal.
        assert!(tau_critical(0.05, 1).is_none());
        for f in 2..40 {
            let tau = tau_critical(0.05, f).expect("two degrees or more");
            assert!(tau < (f as f64).sqrt());
        }
        let many = tau_critical(0.05, 100_000).expect("many");
        assert_relative_eq!(many, two_sided(0.95), epsilon = 1e-4);
    }
}
