//! Turns metres on the plane (x east, y north) into millimetres on the paper (x right, y down), and leaves out bends too small to be
//! seen there.

use geo::{BoundingRect, Coord, LineString, MultiPolygon, Rect, Simplify};

/// Bends smaller than this on the paper are not drawn, millimetres: a third of the thinnest line.
const SMOOTH_MM: f64 = 0.04;

/// A line is simplified in stretches of so many places. The time that simplifying takes may grow with the square of a line's length, as
/// it does for many laps one upon the other.
const STRETCH: usize = 1000;

/// How the ground lies on the paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// The place on the plane that comes to lie at `middle_mm`.
    pub middle_m: Coord<f64>,
    /// The place on the paper where `middle_m` comes to lie.
    pub middle_mm: Coord<f64>,
    pub mm_per_m: f64,
    /// How far the drawing is turned clockwise from north up, radians.
    pub turn_rad: f64,
}

impl View {
    /// Where on the paper a place on the plane lies.
    pub(crate) fn at(&self, place: Coord<f64>) -> Coord<f64> {
        let (east, north) = (place.x - self.middle_m.x, place.y - self.middle_m.y);
        let (sin, cos) = self.turn_rad.sin_cos();
        Coord {
            x: self.middle_mm.x + self.mm_per_m * (east * cos + north * sin),
            y: self.middle_mm.y - self.mm_per_m * (north * cos - east * sin),
        }
    }

    /// A line on the paper, without the bends that are too small to draw. Empty for an empty line.
    pub(crate) fn line(&self, places: &[Coord<f64>]) -> Vec<Coord<f64>> {
        let mut drawn: Vec<Coord<f64>> = Vec::new();
        for from in (0..places.len()).step_by(STRETCH) {
            // Each stretch begins with the last place of the one before, which is then there once.
            let stretch = &places[from..places.len().min(from + STRETCH + 1)];
            let line: LineString<f64> = stretch.iter().map(|place| self.at(*place)).collect();
            drawn.pop();
            drawn.extend(line.simplify(SMOOTH_MM).0);
        }
        drawn
    }

    /// Every ring of these polygons on the paper, the first place not repeated at the end. Rings of fewer than three places are left out.
    pub(crate) fn rings(&self, area: &MultiPolygon<f64>) -> Vec<Vec<Coord<f64>>> {
        area.iter()
            .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()))
            .map(|ring| {
                let mut line = self.line(&ring.0);
                if line.len() > 1 && line.first() == line.last() {
                    line.pop();
                }
                line
            })
            .filter(|line| line.len() > 2)
            .collect()
    }
}

/// The rectangle round all places once they are turned, in metres and in the turned directions; `None` without a finite place.
pub(crate) fn bounds(places: &[Coord<f64>], turn_rad: f64) -> Option<Rect<f64>> {
    let (sin, cos) = turn_rad.sin_cos();
    let turned: LineString<f64> = places
        .iter()
        .filter(|place| place.x.is_finite() && place.y.is_finite())
        .map(|place| Coord {
            x: place.x * cos + place.y * sin,
            y: place.y * cos - place.x * sin,
        })
        .collect();
    turned.bounding_rect()
}

/// The place on the plane that lies in the middle of that turned rectangle.
pub(crate) fn middle(bounds: Rect<f64>, turn_rad: f64) -> Coord<f64> {
    let Coord { x, y } = bounds.center();
    let (sin, cos) = turn_rad.sin_cos();
    Coord {
        x: x * cos - y * sin,
        y: x * sin + y * cos,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::coord;

    #[test]
    fn north_is_up_and_east_right_until_turned() {
        let mut view = View {
            middle_m: coord! { x: 10.0, y: 20.0 },
            middle_mm: coord! { x: 100.0, y: 100.0 },
            mm_per_m: 10.0,
            turn_rad: 0.0,
        };
        assert_eq!(
            view.at(coord! { x: 11.0, y: 20.0 }),
            coord! { x: 110.0, y: 100.0 }
        );
        assert_eq!(
            view.at(coord! { x: 10.0, y: 21.0 }),
            coord! { x: 100.0, y: 90.0 }
        );
        // A quarter turn clockwise: what was north is at the right.
        view.turn_rad = std::f64::consts::FRAC_PI_2;
        let north = view.at(coord! { x: 10.0, y: 21.0 });
        approx::assert_abs_diff_eq!(north.x, 110.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(north.y, 100.0, epsilon = 1e-9);
    }

    /// Laps of 30 by 20 m, a place every metre: all that is drawn are the corners, and where one stretch ends and the next begins.
    #[test]
    fn a_line_of_many_laps_keeps_its_corners_and_its_length() {
        let lap = (0..100).map(f64::from).map(|way| match way {
            way if way < 30.0 => coord! { x: way, y: 0.0 },
            way if way < 50.0 => coord! { x: 30.0, y: way - 30.0 },
            way if way < 80.0 => coord! { x: 80.0 - way, y: 20.0 },
            way => coord! { x: 0.0, y: 100.0 - way },
        });
        let lap: Vec<Coord<f64>> = lap.collect();
        let view = View {
            middle_m: coord! { x: 0.0, y: 0.0 },
            middle_mm: coord! { x: 0.0, y: 0.0 },
            mm_per_m: 5.0,
            turn_rad: 0.0,
        };
        for laps in [1, 10, 95] {
            let mut places = lap.repeat(laps);
            places.push(lap[0]);
            let drawn = view.line(&places);
            assert!(
                drawn.len() <= 4 * laps + 1 + places.len() / STRETCH,
                "{laps}: {}",
                drawn.len()
            );
            let length_mm: f64 = drawn
                .windows(2)
                .map(|w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y))
                .sum();
            approx::assert_abs_diff_eq!(length_mm, 500.0 * laps as f64, epsilon = 1e-6);
        }
        assert!(view.line(&[]).is_empty());
    }

    #[test]
    fn the_middle_of_the_turned_rectangle_is_found_again() {
        let places = [
            coord! { x: 3.0, y: 1.0 },
            coord! { x: 9.0, y: 5.0 },
            coord! { x: 4.0, y: 7.0 },
        ];
        for turn_rad in [0.0, 0.4, -1.2] {
            let bounds = bounds(&places, turn_rad).expect("places");
            let middle = middle(bounds, turn_rad);
            let view = View {
                middle_m: middle,
                middle_mm: coord! { x: 0.0, y: 0.0 },
                mm_per_m: 1.0,
                turn_rad,
            };
            let xs: Vec<f64> = places.iter().map(|p| view.at(*p).x).collect();
            let (low, high) = (
                xs.iter().copied().fold(f64::MAX, f64::min),
                xs.iter().copied().fold(f64::MIN, f64::max),
            );
            approx::assert_abs_diff_eq!(low, -high, epsilon = 1e-9);
        }
    }
}
