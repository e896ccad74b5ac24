//! How large an error must be before a test shows it, and what an error just smaller than that does to an area.
//!
//! A test tells of an error when what it looks at passes a limit. What it looks at errs too, so that an error of the very size of the
//! limit is told only half of the time. The *smallest detectable* error is the one that is told with chance `POWER` by a test that speaks
//! up without cause with chance `SIGNIFICANCE` (*internal reliability*); what an error of that size does to the area, unseen, is the
//! *external reliability* of the measurement.
//!
//! # References
//! W. Baarda, *A testing procedure for use in geodetic networks*, Publications on Geodesy 2-5, Delft 1968, where the square of
//! `told_from` one sigma is read off a nomogram: 17.075 for 0.001 and 0.80 in one dimension. P. J. G. Teunissen, *Testing Theory: an
//! introduction*, Delft University Press 2000. Both from memory.

use crate::limits::tape::{POWER, SIGNIFICANCE};
use crate::normal;

/// The smallest detectable error for a test that tells from `limit` on, of something that errs by `sigma` by chance; all in one unit. A
/// limit smaller than [`SIGNIFICANCE`] allows counts as the one that it allows.
pub(crate) fn told_from(limit: f64, sigma: f64) -> f64 {
    let least = normal::quantile(1.0 - 0.5 * SIGNIFICANCE) * sigma;
    limit.max(least) + normal::quantile(POWER) * sigma
}

/// How many directions an error is tried in, over half a turn: in the opposite direction it does the same with the other sign.
const DIRECTIONS: usize = 24;

/// The largest change of an area by an error that no test tells of, m², and the error itself as a vector in metres, of all directions the
/// worst. `area_m2` gives what an error of one metre in a direction does to the area, and `told_from_m` from which size on an error in
/// that direction is told. `None` where one is never told and yet moves the area.
pub(crate) fn largest_unseen(
    area_m2: impl Fn([f64; 2]) -> f64,
    told_from_m: impl Fn([f64; 2]) -> Option<f64>,
) -> Option<(f64, [f64; 2])> {
    // An area that answers with less than this for each metre does not answer.
    const NOTHING_M2: f64 = 1e-9;
    let mut largest = (0.0, [0.0; 2]);
    for k in 0..DIRECTIONS {
        let angle = std::f64::consts::PI * k as f64 / DIRECTIONS as f64;
        let along = [angle.cos(), angle.sin()];
        let by_m2 = area_m2(along).abs();
        if by_m2 < NOTHING_M2 {
            continue;
        }
        let size_m = told_from_m(along).filter(|m| m.is_finite())?;
        if by_m2 * size_m > largest.0 {
            largest = (by_m2 * size_m, along.map(|part| part * size_m));
        }
    }
    Some(largest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tape::adjust::adjust;
    use crate::tape::matrix::Matrix;
    use crate::tape::reading::{Line, Reading};
    use approx::assert_abs_diff_eq;
    use geo::Coord;

    /// Worked by hand. Three points on a line: the middle one at 10 m, the last at 20 m from the first; taped are both parts and the
    /// whole, each to 1 cm, and nothing else is known. Two unknowns and three readings: every redundancy number is
    /// 1 − 2/3 = 1/3, so the smallest detectable error is 4.1321 · 1 cm · sqrt 3 = 7.157 cm. Of an error in the whole two
    /// thirds go into its adjusted length: 4.771 cm. Of one in a part a third goes, with its other sign, into the other part.
    #[test]
    fn a_line_in_two_parts_and_as_a_whole() {
        let at = |x: f64| Coord { x, y: 0.0 };
        let points = [at(0.0), at(10.0), at(20.0)];
        // Anywhere along the line.
        let vague = Matrix::diagonal(&[1e6, 1e-12, 1e6, 1e-12, 1e6, 1e-12]);
        let line = |from, to, value| Reading {
            label: String::new(),
            line: Line::Length { from, to },
            value,
            sigma: 0.01,
        };
        let readings = [line(0, 1, 10.0), line(1, 2, 10.0), line(0, 2, 20.0)];
        let adjustment = adjust(&points, &vague, &readings, Some(1)).unwrap();
        for residual in &adjustment.residuals {
            assert_abs_diff_eq!(residual.redundancy, 1.0 / 3.0, epsilon = 1e-4);
            // A third of an error in a reading shows in its own residual.
            let by_hand = told_from(0.0, 0.01) / (1.0f64 / 3.0).sqrt();
            assert_abs_diff_eq!(by_hand, 0.07157, epsilon = 1e-5);
            assert_abs_diff_eq!(residual.detectable, by_hand, epsilon = 1e-5);
        }
        let whole = [-1.0, 0.0, 0.0, 0.0, 1.0, 0.0];
        let influence = adjustment.influence(&whole);
        assert_abs_diff_eq!(influence[2], 2.0 / 3.0, epsilon = 1e-4);
        assert_abs_diff_eq!(influence[0], 1.0 / 3.0, epsilon = 1e-4);
        let other_part = [0.0, 0.0, -1.0, 0.0, 1.0, 0.0];
        assert_abs_diff_eq!(
            adjustment.influence(&other_part)[0],
            -1.0 / 3.0,
            epsilon = 1e-4
        );
    }

    /// At Baarda's own limit of 3.29 sigma the result is that of his nomogram; a limit that is set wider is passed 0.84 sigma beyond it.
    #[test]
    fn an_error_is_told_some_way_beyond_the_limit() {
        assert_abs_diff_eq!(told_from(0.0, 1.0).powi(2), 17.075, epsilon = 1e-3);
        assert_abs_diff_eq!(told_from(3.2905, 1.0), 4.132, epsilon = 1e-3);
        assert_abs_diff_eq!(told_from(5.0, 1.0), 5.842, epsilon = 1e-3);
        // One of four measurings of the same length, each to 1 cm: r = 3/4.
        let one_of_four = told_from(0.0, 0.01) / 0.75f64.sqrt();
        assert_abs_diff_eq!(one_of_four, 0.0477, epsilon = 1e-4);
    }

    #[test]
    fn what_cannot_be_seen_in_one_direction_is_unbounded() {
        let east_only = |along: [f64; 2]| (along[0].abs() > 0.01).then(|| 1.0 / along[0].abs());
        assert!(largest_unseen(|u| u[1], east_only).is_none());
        assert!(largest_unseen(|u| 5.0 * u[0], |_| None).is_none());
        let (m2, by_m) = largest_unseen(|u| 3.0 * u[0], |_| Some(0.5)).unwrap();
        assert_abs_diff_eq!(m2, 1.5, epsilon = 1e-12);
        assert_abs_diff_eq!(by_m[0], 0.5, epsilon = 1e-12);
    }
}
