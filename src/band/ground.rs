//! How the ground falls: one plane through the heights of a walk, with its error, so that ground on a slope can be told from its plan.
//!
//! The plane is fitted by least squares: of all planes it is the one for which the sum of the squared distances of the heights is least.
//! Receivers' heights err about twice as much as their plan positions, with the same correlation in time, so that the error of the slope
//! is propagated as that of an area is (`propagate`).

use super::propagate::{Pull, correlated_variances_m4, white_variance_m4};
use crate::limits::walk::slope;
use crate::process::hand::HEIGHT_M;
use crate::process::{VERTICAL_FACTOR, WHITE_SHARE};
use geo::Coord;

/// A height on the walked edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Height {
    pub at: Coord<f64>,
    pub t_s: f64,
    pub height_m: f64,
    /// Horizontal sigma of its fix, metres per axis.
    pub sigma_m: f64,
}

/// The ground as one plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// Metres of fall in 100 m along the plan. What noise adds to it on average is taken off, as noise makes level ground look sloping
    /// but never the reverse.
    pub percent: f64,
    /// One sigma of it, in the same unit.
    pub sigma_percent: f64,
    /// Which way it falls, degrees clockwise from grid north.
    pub towards_deg: f64,
}

/// What the heights say of the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ground {
    Plane(Fall),
    /// The slope is less than `LEVEL_PERCENT`, or less than twice its own error.
    Level,
    /// The error is too large for a plane to be of use: one sigma of its slope, percent.
    Rough {
        sigma_percent: f64,
    },
    /// The heights lie further from any plane than their error explains, metres root mean square.
    Uneven {
        off_m: f64,
    },
    /// There are no heights, or too few, or they lie in one line.
    Unknown,
}

/// From this fall on a slope is told, percent. A lawn that falls less has at most 0.125 % more ground than plan: less than one roll in a
/// hundred.
const LEVEL_PERCENT: f64 = 5.0;

/// A plane through heights, by least squares.
struct Plane {
    /// The mean of the places and of the heights, through which the plane goes.
    mid: Coord<f64>,
    mid_m: f64,
    /// Sums of the squares and products of the places' distances from their mean, m², and the determinant of that matrix, m⁴.
    xx: f64,
    xy: f64,
    yy: f64,
    det: f64,
    /// Metres up for each metre east and north.
    rise: Coord<f64>,
}

impl Plane {
    /// Fits the plane; `None` where the places lie nearly in one line, as nothing is then known across it.
    fn through(heights: &[Height]) -> Option<Plane> {
        let n = heights.len() as f64;
        let mid = heights
            .iter()
            .fold(Coord { x: 0.0, y: 0.0 }, |sum, h| sum + h.at)
            / n;
        let mid_m = heights.iter().map(|h| h.height_m).sum::<f64>() / n;
        let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for h in heights {
            let (d, z) = (h.at - mid, h.height_m - mid_m);
            xx += d.x * d.x;
            xy += d.x * d.y;
            yy += d.y * d.y;
            xz += d.x * z;
            yz += d.y * z;
        }
        let det = xx * yy - xy * xy;
        if det.is_nan() || det <= 1e-6 * (xx + yy).powi(2) {
            return None;
        }
        let mut plane = Plane {
            mid,
            mid_m,
            xx,
            xy,
            yy,
            det,
            rise: Coord { x: 0.0, y: 0.0 },
        };
        plane.rise = plane.solve(xz, yz);
        Some(plane)
    }

    /// Solves the normal equations (the two linear equations of least squares) for this right-hand side.
    fn solve(&self, x: f64, y: f64) -> Coord<f64> {
        Coord {
            x: (self.yy * x - self.xy * y) / self.det,
            y: (self.xx * y - self.xy * x) / self.det,
        }
    }

    /// How far the heights lie off it, metres root mean square.
    fn off_m(&self, heights: &[Height]) -> f64 {
        let squares = heights.iter().map(|h| {
            let d = h.at - self.mid;
            (h.height_m - self.mid_m - self.rise.x * d.x - self.rise.y * d.y).powi(2)
        });
        (squares.sum::<f64>() / heights.len() as f64).sqrt()
    }

    /// Variance of the slope (a number without a unit), both components together, if each height errs by its sigma in metres. Errors are
    /// correlated in time; of correlation times from 15 to 600 s, which is how little is known beforehand, the worst is taken.
    fn slope_variance(&self, heights: &[Height], sigmas_m: impl Iterator<Item = f64>) -> f64 {
        // How much each height moves the slope, in least squares: the counterpart of an area's gradient.
        let pull = |(h, sigma_m): (&Height, f64)| {
            let d = h.at - self.mid;
            let say = self.solve(d.x, d.y);
            Pull {
                t_s: h.t_s,
                pull_m2: [say.x * sigma_m, say.y * sigma_m],
            }
        };
        let pulls: Vec<Pull> = heights.iter().zip(sigmas_m).map(pull).collect();
        let slow = correlated_variances_m4(&pulls, &[15.0, 40.0, 100.0, 250.0, 600.0])
            .into_iter()
            .fold(0.0, f64::max);
        (1.0 - WHITE_SHARE) * slow + WHITE_SHARE * white_variance_m4(&pulls)
    }
}

/// Fits a plane to the heights and says what it is worth. `scale` is how many times its claim the receiver errs.
pub(crate) fn fit(heights: &[Height], scale: f64) -> Ground {
    const LEAST: usize = 8;
    if heights.len() < LEAST {
        return Ground::Unknown;
    }
    let Some(plane) = Plane::through(heights) else {
        return Ground::Unknown;
    };
    let sigmas_up_m: Vec<f64> = heights
        .iter()
        .map(|h| (VERTICAL_FACTOR * h.sigma_m * scale).hypot(HEIGHT_M))
        .collect();
    let off_m = plane.off_m(heights);
    let squares = sigmas_up_m.iter().map(|s| s.powi(2));
    let claimed_m = (squares.sum::<f64>() / heights.len() as f64).sqrt();
    if off_m > 3.0 * claimed_m {
        return Ground::Uneven { off_m };
    }
    // Where the heights scatter by more than is claimed, the claim is raised to that.
    let louder = (off_m / claimed_m).max(1.0);
    let variance = plane.slope_variance(heights, sigmas_up_m.iter().map(|s| louder * s));
    // The variance is that of both components together; along the slope's own direction there is half of it.
    let sigma = (variance / 2.0).sqrt();
    let rise = plane.rise;
    let slope = (rise.x * rise.x + rise.y * rise.y - variance)
        .max(0.0)
        .sqrt();
    // One sigma of the factor from plan to ground: about half the square of the slope, by its derivative and its second-order part.
    let factor_sigma = slope * sigma + sigma * sigma / std::f64::consts::SQRT_2;
    match () {
        () if !factor_sigma.is_finite() || factor_sigma > slope::WORST_FACTOR => Ground::Rough {
            sigma_percent: 100.0 * sigma,
        },
        () if slope < LEVEL_PERCENT / 100.0 || slope < 2.0 * sigma => Ground::Level,
        () => Ground::Plane(Fall {
            percent: 100.0 * slope,
            sigma_percent: 100.0 * sigma,
            towards_deg: (-rise.x).atan2(-rise.y).to_degrees().rem_euclid(360.0),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::chance::{Chance, GaussMarkov};
    use approx::assert_abs_diff_eq;

    /// Round a rectangle at a metre a second, on ground that rises by these, metres per metre.
    fn walk(east: f64, north: f64, sides_m: (usize, usize), sigma_m: f64) -> Vec<Height> {
        let (a, b) = sides_m;
        let corner = |x: usize, y: usize| Coord {
            x: x as f64,
            y: y as f64,
        };
        (0..a)
            .map(|i| corner(i, 0))
            .chain((0..b).map(|i| corner(a, i)))
            .chain((0..a).map(|i| corner(a - i, b)))
            .chain((0..b).map(|i| corner(0, b - i)))
            .enumerate()
            .map(|(i, at)| Height {
                at,
                t_s: i as f64,
                height_m: 87.0 + east * at.x + north * at.y,
                sigma_m,
            })
            .collect()
    }

    #[test]
    fn a_plane_is_found_again() {
        // 3 in 5 and 4 in 5 of a tenth: falls a tenth, away from the way it rises.
        let Ground::Plane(fall) = fit(&walk(0.06, 0.08, (20, 12), 0.01), 1.0) else {
            panic!("no plane");
        };
        assert_abs_diff_eq!(fall.percent, 10.0, epsilon = 0.2);
        assert_abs_diff_eq!(fall.towards_deg, 180.0 + 36.87, epsilon = 0.01);
    }

    #[test]
    fn level_rough_uneven_and_missing_are_told_apart() {
        assert_eq!(fit(&walk(0.01, 0.0, (20, 12), 0.01), 1.0), Ground::Level);
        let rough = fit(&walk(0.1, 0.0, (20, 12), 2.0), 1.0);
        assert!(matches!(rough, Ground::Rough { .. }), "{rough:?}");
        let mut bank = walk(0.0, 0.0, (20, 12), 0.01);
        for height in bank.iter_mut().filter(|h| h.at.x < 4.0) {
            height.height_m += 2.0;
        }
        let uneven = fit(&bank, 1.0);
        assert!(matches!(uneven, Ground::Uneven { .. }), "{uneven:?}");
        assert_eq!(fit(&[], 1.0), Ground::Unknown);
        let line: Vec<Height> = walk(0.1, 0.0, (20, 12), 0.01)
            .into_iter()
            .take(15)
            .collect();
        assert_eq!(fit(&line, 1.0), Ground::Unknown);
    }

    /// Heights err by a process whose correlation time the fit does not know.
    #[test]
    fn its_error_is_what_it_says() {
        let (mut within, mut told) = (0, 0);
        let mut chance = Chance::new(31);
        for _ in 0..400 {
            let tau_s = chance.log_between(15.0, 600.0);
            let mut slow = GaussMarkov::new(tau_s);
            let mut heights = walk(0.0, -0.08, (24, 15), 0.02);
            for height in &mut heights {
                let err = 0.95 * slow.at(height.t_s, &mut chance) + 0.31 * chance.normal();
                height.height_m += VERTICAL_FACTOR * 0.02 * err;
            }
            if let Ground::Plane(fall) = fit(&heights, 1.0) {
                told += 1;
                within += i32::from((fall.percent - 8.0).abs() <= 1.96 * fall.sigma_percent);
            }
        }
        assert!(told > 390, "{told}");
        // The error is that of the worst correlation time, so that at least the stated share lies within.
        assert!(
            f64::from(within) >= 0.94 * f64::from(told),
            "{within} of {told}"
        );
    }
}
