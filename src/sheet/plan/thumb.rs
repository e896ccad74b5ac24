//! A picture of the lawn small enough for a list, such as a day's page: its shape and what is taken off, without any words.

use super::ground;
use super::view::{View, bounds, middle};
use crate::sheet::board::{Mark, Page, Path, Stroke, at, svg};
use crate::survey::Measured;
use geo::{Coord, CoordsIter};

/// Room left free all round, millimetres.
const MARGIN_MM: f64 = 1.0;

/// The lawn as an `svg` element of this size, for a page of HTML. North is up; the scale is whatever fits. Without a
/// drawing it is an empty sheet that says so to those who cannot see it.
pub(crate) fn thumbnail(measured: &Measured, width_mm: f64, height_mm: f64) -> String {
    let drawing = &measured.drawing;
    let mut page = Page::new(width_mm, height_mm, "");
    let places: Vec<Coord<f64>> = drawing
        .lawns
        .iter()
        .flat_map(|lawn| lawn.outer.coords_iter())
        .collect();
    let Some(bounds) = bounds(&places, 0.0) else {
        page.title = format!("No drawing of {}", measured.survey.name);
        return svg::element(&page, &[("class", "thumbnail")]);
    };
    page.title = format!("The shape of {}", measured.survey.name);
    let room = |mm: f64| (mm - 2.0 * MARGIN_MM).max(1.0);
    let view = View {
        middle_m: middle(bounds, 0.0),
        middle_mm: at(0.5 * width_mm, 0.5 * height_mm),
        mm_per_m: (room(width_mm) / bounds.width().max(0.01))
            .min(room(height_mm) / bounds.height().max(0.01)),
        turn_rad: 0.0,
    };
    for lawn in &drawing.lawns {
        page.marks.push(Mark::Path(Path {
            lines: view.rings(&lawn.net),
            closed: true,
            fill: Some(ground::LAWN),
            stroke: None,
        }));
        page.marks.push(Mark::Path(Path {
            lines: view.rings(&lawn.outer),
            closed: true,
            fill: None,
            stroke: Some(Stroke::whole(ground::EDGE, 0.35)),
        }));
    }
    for deduction in &drawing.deductions {
        page.marks.push(Mark::Path(Path {
            lines: view.rings(&deduction.outline),
            closed: true,
            fill: None,
            stroke: Some(Stroke::whole(ground::TAKEN, 0.25)),
        }));
    }
    svg::element(&page, &[("class", "thumbnail")])
}
