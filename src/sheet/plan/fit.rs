//! How a drawing is put on its paper: upright or lying, north up or turned, and to what scale. The paper itself is given. Whole drawings
//! get the largest of the usual scales at which everything and its labels fit; a figure among text is as large as its room.

use super::view::{View, bounds, middle};
use crate::job::people::PaperSize;
use geo::{ConvexHull, Coord, MultiPoint, Rect};

/// Scales drawings are made to. ISO 5455 has the multiples of 1, 2 and 5; 1:25, 1:250 and 1:2500 are on every scale rule.
const SCALES: [u32; 17] = [
    10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10_000, 20_000, 50_000, 100_000,
    1_000_000,
];

/// From the edge of the paper to the frame, millimetres: nearer to the edge printers do not print.
pub(crate) const MARGIN_MM: f64 = 10.0;
/// Height of the strip below the drawing that says what it is.
pub(crate) const STRIP_MM: f64 = 36.0;
/// Room between the frame and the drawing, for labels.
const LABELS_MM: f64 = 17.0;
/// The room for labels within a figure, and the height of the strip below it.
const FIGURE_LABELS_MM: f64 = 11.0;
pub(crate) const FIGURE_STRIP_MM: f64 = 11.0;
/// North stays up unless turning makes the drawing so many times larger.
const TURN_GAIN: f64 = 1.9;

/// A drawing's place on its paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    pub paper: PaperSize,
    pub width_mm: f64,
    pub height_mm: f64,
    /// The scale is 1 to this; 0 for a figure without a round scale, which goes by its scale bar alone.
    pub scale: u32,
    pub view: View,
    room: Rect<f64>,
}

impl Fit {
    /// The rectangle on the paper, in millimetres, where the drawing and its labels may go.
    pub(crate) fn room(&self) -> Rect<f64> {
        self.room
    }

    /// Paper and which way round it is held, as in "A4 landscape".
    pub(crate) fn paper_name(&self) -> String {
        let paper = match self.paper {
            PaperSize::A4 => "A4",
            PaperSize::Letter => "Letter",
        };
        let way = if self.width_mm > self.height_mm {
            "landscape"
        } else {
            "portrait"
        };
        format!("{paper} {way}")
    }
}

/// Width and height of a paper held upright, millimetres.
pub(crate) fn size_mm(paper: PaperSize) -> (f64, f64) {
    match paper {
        PaperSize::A4 => (210.0, 297.0),
        PaperSize::Letter => (215.9, 279.4),
    }
}

/// Chooses the fit for a drawing of all these places (metres on the plane). `None` without a place, or where no scale is small enough.
pub(crate) fn choose(places: &[Coord<f64>], paper: PaperSize) -> Option<Fit> {
    let turns: Vec<f64> = std::iter::once(0.0).chain(lying(places)).collect();
    let up = best(paper, places, &turns[..1]);
    let turned = best(paper, places, &turns[1..]);
    larger(up, turned)
}

/// The fit for a figure among text: as large as there is room for, above a strip for its scale bar and the arrow to the north. `None`
/// without a place.
pub(crate) fn inside(places: &[Coord<f64>], width_mm: f64, height_mm: f64) -> Option<Fit> {
    let room = Rect::new((0.0, 0.0), (width_mm, height_mm - FIGURE_STRIP_MM));
    let fit = |turn_rad: f64| {
        let bounds = bounds(places, turn_rad)?;
        let part = |room_mm: f64, extent_m: f64| {
            (room_mm - 2.0 * FIGURE_LABELS_MM).max(1.0) / extent_m.max(1e-3)
        };
        Some(Fit {
            paper: PaperSize::A4,
            width_mm,
            height_mm,
            scale: 0,
            view: View {
                middle_m: middle(bounds, turn_rad),
                middle_mm: room.center(),
                mm_per_m: part(room.width(), bounds.width())
                    .min(part(room.height(), bounds.height())),
                turn_rad,
            },
            room,
        })
    };
    let up = fit(0.0);
    let turned = lying(places).into_iter().filter_map(fit);
    let turned = turned.max_by(|a, b| a.view.mm_per_m.total_cmp(&b.view.mm_per_m));
    match (up, turned) {
        (Some(up), Some(turned)) if turned.view.mm_per_m >= TURN_GAIN * up.view.mm_per_m => {
            Some(turned)
        }
        (up, turned) => up.or(turned),
    }
}

/// The fit with north up, unless the turned one has a much larger scale (that is, a smaller number).
fn larger(up: Option<Fit>, turned: Option<Fit>) -> Option<Fit> {
    match (up, turned) {
        (Some(up), Some(turned)) if f64::from(up.scale) >= TURN_GAIN * f64::from(turned.scale) => {
            Some(turned)
        }
        (Some(up), _) => Some(up),
        (None, turned) => turned,
    }
}

/// The turns, radians, that lay the smallest rectangle round all places along the paper's sides: lengthwise and across. Of the possible
/// ones they are those with which north does not point down. The smallest such rectangle has a side along one of the convex hull's.
fn lying(places: &[Coord<f64>]) -> Vec<f64> {
    let points: MultiPoint<f64> = places.iter().map(|place| geo::Point(*place)).collect();
    let hull = points.convex_hull();
    // Whichever way things are turned, what reaches furthest is a corner of the convex hull, so only those are looked at.
    let corners = &hull.exterior().0;
    let area = |turn: f64| bounds(corners, turn).map_or(f64::MAX, |b| b.width() * b.height());
    let best = hull
        .exterior()
        .lines()
        .map(|side| (side.end.y - side.start.y).atan2(side.end.x - side.start.x))
        .map(|turn| (turn, area(turn)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let quarter = std::f64::consts::FRAC_PI_2;
    best.map_or(Vec::new(), |(turn, _)| {
        let turn = turn.rem_euclid(quarter);
        vec![turn, turn - quarter]
    })
}

/// The fit with the largest scale over the paper held upright and lying and over these turns; the first of equals.
fn best(paper: PaperSize, places: &[Coord<f64>], turns: &[f64]) -> Option<Fit> {
    let (short, long) = size_mm(paper);
    let mut found: Option<Fit> = None;
    for (width_mm, height_mm) in [(short, long), (long, short)] {
        for &turn_rad in turns {
            let Some(bounds) = bounds(places, turn_rad) else {
                continue;
            };
            let room = Rect::new(
                (MARGIN_MM, MARGIN_MM),
                (width_mm - MARGIN_MM, height_mm - MARGIN_MM - STRIP_MM),
            );
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
                    room,
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

    fn fit(width: f64, height: f64, turn: f64) -> (PaperSize, u32, bool, f64) {
        let fit = choose(&rectangle(width, height, turn), PaperSize::A4).expect("a fit");
        (
            fit.paper,
            fit.scale,
            fit.width_mm > fit.height_mm,
            fit.view.turn_rad,
        )
    }

    #[test]
    fn the_largest_scale_that_leaves_room_for_labels() {
        // A4 upright leaves 156 by 207 mm, lying 243 by 120 mm.
        assert_eq!(fit(4.0, 5.0, 0.0), (PaperSize::A4, 50, false, 0.0));
        assert_eq!(fit(24.0, 11.9, 0.0), (PaperSize::A4, 100, true, 0.0));
        assert_eq!(fit(15.6, 20.7, 0.0), (PaperSize::A4, 100, false, 0.0));
        assert_eq!(fit(48.0, 24.0, 0.0), (PaperSize::A4, 200, true, 0.0));
        assert_eq!(fit(48.0, 30.0, 0.0), (PaperSize::A4, 250, true, 0.0));
        assert_eq!(fit(141.0, 142.0, 0.0), (PaperSize::A4, 1000, false, 0.0));
        assert!(choose(&[], PaperSize::A4).is_none());
    }

    #[test]
    fn a_strip_askew_is_laid_along_the_paper_if_that_makes_it_twice_as_large() {
        // At 45° 24 by 1 m is 17.7 m each way: 1:200 north up, 1:100 along the paper.
        let (paper, scale, _, turn) = fit(24.0, 1.0, std::f64::consts::FRAC_PI_4);
        assert_eq!((paper, scale), (PaperSize::A4, 100));
        approx::assert_abs_diff_eq!(turn.abs(), std::f64::consts::FRAC_PI_4, epsilon = 1e-9);
        // A little askew gains nothing: north stays up.
        assert_eq!(fit(20.0, 5.0, 0.1).3, 0.0);
    }
}
