//! A sloping lawn. The plan shows the horizontal; the ground is longer than the plan along the fall (the direction in which it goes
//! down most steeply) and has more area. The lawn is taken as one plane with a slope and, where known, a direction. This
//! module gives the factor for lengths and areas with its error, and stretches outlines to the ground and back.

use crate::job::order::OrderSettings;
use geo::{Coord, MapCoords, MultiPolygon};
use serde::Serialize;

/// How a lawn falls, taken as one plane. Turf, seed and fertiliser lie on the ground, so their area is the plan's times
/// `Slope::factor`; soil depths are upright and go by the plan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Slope {
    /// Metres of fall in 100 m along the plan, 0 or more.
    pub percent: f64,
    /// The standard error of `percent`, in the same unit.
    pub sigma_percent: f64,
    /// Which way it falls, degrees clockwise from grid north, where known.
    pub fall_deg: Option<f64>,
    /// "given" in the job sheet, or from the "heights" of the walk.
    pub source: &'static str,
}

impl Slope {
    /// The slope as the job sheet gives it, if it does.
    pub(crate) fn given(settings: &OrderSettings) -> Option<Slope> {
        Some(Slope {
            percent: settings.slope_percent?,
            sigma_percent: settings.slope_sigma_percent,
            fall_deg: settings.fall_deg.map(|deg| deg.rem_euclid(360.0)),
            source: "given",
        })
    }

    /// How much longer a line on the ground is than on the plan (a factor of 1 or more), and one sigma of that factor. It depends on
    /// how the line, which runs in the direction `way`, lies to the fall. Where the direction of the fall is not known, any factor
    /// from 1 to [`Slope::factor`] is taken to be equally likely.
    pub(crate) fn along(&self, way: Coord<f64>) -> (f64, f64) {
        let slope = self.percent / 100.0;
        let Some(fall_deg) = self.fall_deg else {
            // Mean and standard deviation of an even spread between 1 and the factor.
            let over = self.factor() - 1.0;
            return (1.0 + over / 2.0, over / 12f64.sqrt());
        };
        let (east, north) = fall_deg.to_radians().sin_cos();
        let down = (way.x * east + way.y * north) / way.x.hypot(way.y).max(f64::MIN_POSITIVE);
        let longer = (slope * down).hypot(1.0);
        (
            longer,
            slope * down * down / longer * self.sigma_percent / 100.0,
        )
    }

    /// Area on the ground over area on the plan, 1 / cos of the slope: 1.005 at 10 %, 1.020 at 20 %, 1.118 at 50 %.
    pub(crate) fn factor(&self) -> f64 {
        (self.percent / 100.0).hypot(1.0)
    }

    /// The area on the ground and its standard error, m², from those of the plan. The error of the slope counts to first order and also to
    /// second: on a lawn given as level the first order is 0, yet the lawn may not be exactly level.
    pub(crate) fn ground_m2(&self, plan_m2: f64, plan_sigma_m2: f64) -> (f64, f64) {
        let (slope, sigma) = (self.percent / 100.0, self.sigma_percent / 100.0);
        let factor = self.factor();
        // d sqrt(1 + g²) = g / sqrt(1 + g²) dg + dg² / 2 (1 + g²)^-3/2
        let first = slope / factor * sigma;
        let second = sigma * sigma / (factor.powi(3) * std::f64::consts::SQRT_2);
        let of_slope = plan_m2 * first.hypot(second);
        (plan_m2 * factor, (factor * plan_sigma_m2).hypot(of_slope))
    }

    /// How the plan must be stretched to lie on the ground; `None` where the direction of the fall is not known.
    pub(crate) fn stretch(&self) -> Option<Stretch> {
        let fall_deg = self.fall_deg?;
        Some(Stretch {
            factor: self.factor(),
            fall_deg,
        })
    }
}

/// The ground is `factor` times as long as the plan along `fall_deg`, and as long as the plan across it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stretch {
    /// 1 / cos(slope), 1 or more: 1.015 at 10°, 1.064 at 20°.
    pub factor: f64,
    /// Which way the lawn falls, degrees clockwise from grid north.
    pub fall_deg: f64,
}

impl Stretch {
    /// Takes a place on the plan to the ground laid flat.
    pub(crate) fn ground(self, at: Coord<f64>) -> Coord<f64> {
        self.along_fall(at, self.factor)
    }

    /// Takes a place on the ground laid flat back to the plan.
    pub(crate) fn plan(self, at: Coord<f64>) -> Coord<f64> {
        self.along_fall(at, 1.0 / self.factor)
    }

    /// Multiplies the part of `at` that lies along the fall by `by`.
    fn along_fall(self, at: Coord<f64>, by: f64) -> Coord<f64> {
        let (east, north) = self.fall_deg.to_radians().sin_cos();
        let down = (at.x * east + at.y * north) * (by - 1.0);
        Coord {
            x: at.x + down * east,
            y: at.y + down * north,
        }
    }

    pub(crate) fn stretched(self, lawn: &MultiPolygon<f64>) -> MultiPolygon<f64> {
        lawn.map_coords(|c| self.ground(c))
    }

    /// The bearing on the ground laid flat of a line that has this bearing on the plan, degrees, 0 to below 180.
    pub(crate) fn bearing_on_ground(self, plan_deg: f64) -> f64 {
        bearing(plan_deg, |c| self.ground(c))
    }

    /// The bearing on the plan of a line that has this bearing on the ground laid flat, degrees, 0 to below 180.
    pub(crate) fn bearing_on_plan(self, ground_deg: f64) -> f64 {
        bearing(ground_deg, |c| self.plan(c))
    }
}

/// The bearing of a line after its direction went through `change`, degrees, 0 to below 180 (a line has no forward end).
fn bearing(deg: f64, change: impl Fn(Coord<f64>) -> Coord<f64>) -> f64 {
    let (x, y) = deg.to_radians().sin_cos();
    let changed = change(Coord { x, y });
    changed.x.atan2(changed.y).to_degrees().rem_euclid(180.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use geo::{Area, polygon};

    /// Erosion-control tables: 5:1 is 1.0198, 4:1 1.0308, 3:1 1.0541, 2:1 1.1180.
    #[test]
    fn ground_over_plan_and_how_sure_it_is() {
        for (percent, factor) in [
            (20.0, 1.0198),
            (100.0 / 3.0, 1.0541),
            (50.0, 1.1180),
            (25.0, 1.0308),
        ] {
            let slope = Slope {
                percent,
                sigma_percent: 2.0,
                fall_deg: None,
                source: "given",
            };
            assert_abs_diff_eq!(slope.factor(), factor, epsilon = 5e-5);
            // The error by differences.
            let steeper = Slope {
                percent: percent + 1e-3,
                ..slope
            };
            let rate = (steeper.factor() - slope.factor()) / 1e-3;
            let (ground_m2, sigma_m2) = slope.ground_m2(100.0, 0.0);
            assert_abs_diff_eq!(ground_m2, 100.0 * slope.factor(), epsilon = 1e-9);
            assert_abs_diff_eq!(sigma_m2, 100.0 * rate * 2.0, epsilon = 5e-3);
            let (_, both_m2) = slope.ground_m2(100.0, 3.0);
            assert_abs_diff_eq!(
                both_m2,
                sigma_m2.hypot(3.0 * slope.factor()),
                epsilon = 1e-9
            );
        }
    }

    /// By Pythagoras: 10 m down a fall of 25 % are 10.308 m on the ground, across it 10 m, at 45° to it 10.155 m.
    #[test]
    fn a_line_down_the_fall_is_longer_than_on_the_plan() {
        let slope = |fall_deg| Slope {
            percent: 25.0,
            sigma_percent: 1.0,
            fall_deg,
            source: "given",
        };
        for (way, longer) in [
            ((0.0, 10.0), 1.0308),
            ((10.0, 0.0), 1.0),
            ((-7.0, 7.0), 1.0155),
        ] {
            let (found, sigma) = slope(Some(180.0)).along(way.into());
            assert_abs_diff_eq!(found, longer, epsilon = 5e-5);
            assert!(sigma < 0.0025);
        }
        let (unknown, sigma) = slope(None).along((1.0, 0.0).into());
        assert!(unknown - 2.0 * sigma < 1.0 && unknown + 2.0 * sigma > 1.0308);
    }

    /// Surface over plan is 1 / cos(slope): 1.0642 at 20° (any table of secants).
    #[test]
    fn area_grows_by_the_secant_whichever_way_it_falls() {
        let lawn = MultiPolygon(vec![
            polygon![(x: 0., y: 0.), (x: 10., y: 1.), (x: 9., y: 8.), (x: -1., y: 6.)],
        ]);
        let factor = 1.0 / 20_f64.to_radians().cos();
        assert_abs_diff_eq!(factor, 1.0642, epsilon = 5e-5);
        for fall_deg in [0.0, 33.0, 90.0, 250.0] {
            let stretch = Stretch { factor, fall_deg };
            assert_abs_diff_eq!(
                stretch.stretched(&lawn).unsigned_area(),
                lawn.unsigned_area() * factor,
                epsilon = 1e-9
            );
            let there = stretch.plan(stretch.ground(Coord { x: 3.0, y: 4.0 }));
            assert_abs_diff_eq!(there.x, 3.0, epsilon = 1e-12);
            assert_abs_diff_eq!(there.y, 4.0, epsilon = 1e-12);
            assert_abs_diff_eq!(
                stretch.bearing_on_plan(stretch.bearing_on_ground(71.0)),
                71.0,
                epsilon = 1e-9
            );
        }
    }
}
