//! Which paper, which way round, and to what scale.

use super::view::{View, bounds, middle};
use geo::{ConvexHull, Coord, MultiPoint, Rect};

/// Scales drawings are made to. ISO 5455 has the multiples of 1, 2 and 5; 1:25, 1:250 and 1:2500 are on every scale rule.
pub const SCALES: [u32; 17] = [
    10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10_000, 20_000, 50_000, 100_000,
    1_000_000,
];

/// From the edge of the paper to the frame, millimetres: what printers reach.
pub const MARGIN_MM: f64 = 10.0;
/// Height of the strip that says what the drawing is.
pub const STRIP_MM: f64 = 36.0;
/// Between the frame and the drawing, for labels.
const LABELS_MM: f64 = 17.0;
/// An A4 drawing smaller than this goes on A3 if that gives a larger scale.
const SMALL: u32 = 200;
/// North stays up unless turning makes the drawing so many times larger.
const TURN_GAIN: f64 = 1.9;

/// ISO 216, millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    A4,
    A3,
}

/// A drawing's place on its paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    pub paper: Paper,
    pub width_mm: f64,
    pub height_mm: f64,
    /// 1 to so many.
    pub scale: u32,
    pub view: View,
}

impl Fit {
    /// Where the drawing and its labels may go.
    pub fn room(&self) -> Rect<f64> {
        room(self.width_mm, self.height_mm)
    }

    /// "A4 landscape".
    pub fn paper_name(&self) -> String {
        let paper = match self.paper {
            Paper::A4 => "A4",
            Paper::A3 => "A3",
        };
        let way = if self.width_mm > self.height_mm {
            "landscape"
        } else {
            "portrait"
        };
        format!("{paper} {way}")
    }
}

fn room(width_mm: f64, height_mm: f64) -> Rect<f64> {
    Rect::new(
        (MARGIN_MM, MARGIN_MM),
        (width_mm - MARGIN_MM, height_mm - MARGIN_MM - STRIP_MM),
    )
}

/// Chooses for everything that is drawn; `None` without a place, or where nothing fits.
pub fn choose(places: &[Coord<f64>]) -> Option<Fit> {
    let turns: Vec<f64> = std::iter::once(0.0).chain(lying(places)).collect();
    let up = best(Paper::A4, places, &turns[..1]);
    let turned = best(Paper::A4, places, &turns[1..]);
    let mut fit = larger(up, turned)?;
    if fit.scale > SMALL {
        let up = best(Paper::A3, places, &turns[..1]);
        let turned = best(Paper::A3, places, &turns[1..]);
        if let Some(on_a3) = larger(up, turned)
            && on_a3.scale < fit.scale
        {
            fit = on_a3;
        }
    }
    Some(fit)
}

/// North up, unless turned is much larger.
fn larger(up: Option<Fit>, turned: Option<Fit>) -> Option<Fit> {
    match (up, turned) {
        (Some(up), Some(turned)) if f64::from(up.scale) >= TURN_GAIN * f64::from(turned.scale) => {
            Some(turned)
        }
        (Some(up), _) => Some(up),
        (None, turned) => turned,
    }
}

/// Turns that lay the smallest rectangle round everything along the paper; north never points down.
fn lying(places: &[Coord<f64>]) -> Vec<f64> {
    let points: MultiPoint<f64> = places.iter().map(|place| geo::Point(*place)).collect();
    let hull = points.convex_hull();
    let area = |turn: f64| bounds(places, turn).map_or(f64::MAX, |b| b.width() * b.height());
    let best = hull
        .exterior()
        .lines()
        .map(|side| (side.end.y - side.start.y).atan2(side.end.x - side.start.x))
        .min_by(|a, b| area(*a).total_cmp(&area(*b)));
    let quarter = std::f64::consts::FRAC_PI_2;
    best.map_or(Vec::new(), |turn| {
        let turn = turn.rem_euclid(quarter);
        vec![turn, turn - quarter]
    })
}

fn best(paper: Paper, places: &[Coord<f64>], turns: &[f64]) -> Option<Fit> {
    let (short, long) = match paper {
        Paper::A4 => (210.0, 297.0),
        Paper::A3 => (297.0, 420.0),
    };
    let mut found: Option<Fit> = None;
    for (width_mm, height_mm) in [(short, long), (long, short)] {
        for &turn_rad in turns {
            let Some(bounds) = bounds(places, turn_rad) else {
                continue;
            };
            let room = room(width_mm, height_mm);
            let fits = |scale: u32| {
                let mm_per_m = 1000.0 / f64::from(scale);
                bounds.width() * mm_per_m <= room.width() - 2.0 * LABELS_MM
                    && bounds.height() * mm_per_m <= room.height() - 2.0 * LABELS_MM
            };
            let Some(scale) = SCALES.into_iter().find(|scale| fits(*scale)) else {
                continue;
            };
            if found.is_none_or(|found| scale < found.scale) {
                found = Some(Fit {
                    paper,
                    width_mm,
                    height_mm,
                    scale,
                    view: View {
                        middle_m: middle(bounds, turn_rad),
                        middle_mm: room.center(),
                        mm_per_m: 1000.0 / f64::from(scale),
                        turn_rad,
                    },
                });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(width: f64, height: f64, turn: f64) -> Vec<Coord<f64>> {
        let (sin, cos) = f64::sin_cos(turn);
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
            .map(|(x, y)| Coord {
                x: x * cos - y * sin,
                y: x * sin + y * cos,
            })
            .to_vec()
    }

    fn fit(width: f64, height: f64, turn: f64) -> (Paper, u32, bool, f64) {
        let fit = choose(&rectangle(width, height, turn)).expect("a fit");
        (
            fit.paper,
            fit.scale,
            fit.width_mm > fit.height_mm,
            fit.view.turn_rad,
        )
    }

    #[test]
    fn the_largest_scale_that_leaves_room_for_labels() {
        // A4 upright leaves 156 by 207 mm, lying 243 by 120 mm, A3 upright 243 by 330, lying 366 by 207.
        assert_eq!(fit(4.0, 5.0, 0.0), (Paper::A4, 50, false, 0.0));
        assert_eq!(fit(24.0, 11.9, 0.0), (Paper::A4, 100, true, 0.0));
        assert_eq!(fit(15.6, 20.7, 0.0), (Paper::A4, 100, false, 0.0));
        assert_eq!(fit(48.0, 24.0, 0.0), (Paper::A4, 200, true, 0.0));
        // 1:250 on A4, 1:200 on A3.
        assert_eq!(fit(48.0, 30.0, 0.0), (Paper::A3, 200, false, 0.0));
        // Two hectares: A3 would have to be 1:1000 too.
        assert_eq!(fit(141.0, 142.0, 0.0), (Paper::A4, 1000, false, 0.0));
        assert!(choose(&[]).is_none());
    }

    #[test]
    fn a_strip_askew_is_laid_along_the_paper_if_that_makes_it_twice_as_large() {
        // At 45° 24 by 1 m is 17.7 m each way: 1:200 north up, 1:100 along the paper.
        let (paper, scale, _, turn) = fit(24.0, 1.0, std::f64::consts::FRAC_PI_4);
        assert_eq!((paper, scale), (Paper::A4, 100));
        approx::assert_abs_diff_eq!(turn.abs(), std::f64::consts::FRAC_PI_4, epsilon = 1e-9);
        // A little askew gains nothing: north stays up.
        assert_eq!(fit(20.0, 5.0, 0.1).3, 0.0);
    }
}
