//! From metres on the plane to millimetres on the paper.

use geo::{BoundingRect, Coord, LineString, MultiPolygon, Rect, Simplify};

/// Bends smaller than this on the paper are not drawn, millimetres: a third of the thinnest line.
const SMOOTH_MM: f64 = 0.04;

/// Where on the paper the ground lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// This place on the plane …
    pub middle_m: Coord<f64>,
    /// … lies here on the paper.
    pub middle_mm: Coord<f64>,
    pub mm_per_m: f64,
    /// How far the drawing is turned clockwise from north up, radians.
    pub turn_rad: f64,
}

impl View {
    pub fn at(&self, place: Coord<f64>) -> Coord<f64> {
        let (east, north) = (place.x - self.middle_m.x, place.y - self.middle_m.y);
        let (sin, cos) = self.turn_rad.sin_cos();
        Coord {
            x: self.middle_mm.x + self.mm_per_m * (east * cos + north * sin),
            y: self.middle_mm.y - self.mm_per_m * (north * cos - east * sin),
        }
    }

    pub fn line(&self, places: &[Coord<f64>]) -> Vec<Coord<f64>> {
        let line: LineString<f64> = places.iter().map(|place| self.at(*place)).collect();
        line.simplify(SMOOTH_MM).0
    }

    /// Every ring of a drawing, first place not repeated.
    pub fn rings(&self, area: &MultiPolygon<f64>) -> Vec<Vec<Coord<f64>>> {
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

/// The rectangle round everything once turned, metres, in the turned directions.
pub fn bounds(places: &[Coord<f64>], turn_rad: f64) -> Option<Rect<f64>> {
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

/// The place on the plane that lies in the middle of the turned rectangle.
pub fn middle(bounds: Rect<f64>, turn_rad: f64) -> Coord<f64> {
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
