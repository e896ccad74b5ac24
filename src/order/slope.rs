//! A sloping lawn: longer along the fall than it is on the plan.

use geo::{Coord, MapCoords, MultiPolygon};
use serde::Serialize;

/// The ground is `factor` times as long as the plan along `fall_deg`, and as long as the plan across it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Stretch {
    /// 1 / cos(slope), 1 or more: 1.015 at 10°, 1.064 at 20°.
    pub factor: f64,
    /// Which way the lawn falls, degrees clockwise from grid north.
    pub fall_deg: f64,
}

impl Stretch {
    /// From the plan to the ground laid flat.
    pub fn ground(self, at: Coord<f64>) -> Coord<f64> {
        self.along_fall(at, self.factor)
    }

    /// From the ground laid flat back to the plan.
    pub fn plan(self, at: Coord<f64>) -> Coord<f64> {
        self.along_fall(at, 1.0 / self.factor)
    }

    fn along_fall(self, at: Coord<f64>, by: f64) -> Coord<f64> {
        let (east, north) = self.fall_deg.to_radians().sin_cos();
        let down = (at.x * east + at.y * north) * (by - 1.0);
        Coord {
            x: at.x + down * east,
            y: at.y + down * north,
        }
    }

    pub fn stretched(self, lawn: &MultiPolygon<f64>) -> MultiPolygon<f64> {
        lawn.map_coords(|c| self.ground(c))
    }

    /// The bearing on the ground laid flat of a line that has this bearing on the plan, degrees.
    pub fn bearing_on_ground(self, plan_deg: f64) -> f64 {
        bearing(plan_deg, |c| self.ground(c))
    }

    /// And back; 0 to below 180.
    pub fn bearing_on_plan(self, ground_deg: f64) -> f64 {
        bearing(ground_deg, |c| self.plan(c))
    }
}

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
