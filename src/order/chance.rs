//! The chance that an order is too small, and what must be added to make that chance small enough. The measured area is
//! taken to have a normal error with a known standard deviation (its sigma), so both follow from the normal distribution.

use crate::normal;

/// Chance, 0 to 1, that the true area is more than `covered_m2`, where it was measured as `net_m2` with `sigma_m2` (one sigma
/// of a normal error). With a sigma of 0 it is exactly 0 or 1.
pub(crate) fn short(covered_m2: f64, net_m2: f64, sigma_m2: f64) -> f64 {
    if sigma_m2 > 0.0 {
        return normal::cdf((net_m2 - covered_m2) / sigma_m2);
    }
    // Without an error the order is either short or it is not. A difference of a part in a billion comes from rounding.
    if covered_m2 < net_m2 * (1.0 - 1e-9) {
        1.0
    } else {
        0.0
    }
}

/// What must be added to an area or a length so that it is enough with chance `enough`, in the unit of its error. It is
/// one-sided, because only too little counts as a failure: 1.645 sigma at 0.95. For a chance of a half or less it is 0.
pub(crate) fn allowance(enough: f64, sigma: f64) -> f64 {
    (normal::quantile(enough) * sigma).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// One-sided percentage points of the normal distribution, as in any printed table (from memory).
    #[test]
    fn allows_for_the_printed_percentage_points() {
        for (p, z) in [
            (0.90, 1.281_552),
            (0.95, 1.644_854),
            (0.975, 1.959_964),
            (0.99, 2.326_348),
        ] {
            assert_abs_diff_eq!(allowance(p, 2.0), 2.0 * z, epsilon = 2e-6);
            assert_abs_diff_eq!(short(100.0 + 2.0 * z, 100.0, 2.0), 1.0 - p, epsilon = 1e-6);
        }
        assert_eq!(allowance(0.4, 2.0), 0.0);
    }

    #[test]
    fn with_no_error_it_is_short_or_it_is_not() {
        assert_eq!(short(100.0, 100.0, 0.0), 0.0);
        assert_eq!(short(99.0, 100.0, 0.0), 1.0);
        assert_abs_diff_eq!(short(100.0, 100.0, 3.0), 0.5, epsilon = 1e-15);
    }
}
