//! Draws what lies on the ground: the lawn, what is taken off it, the walked line, and the edges of the lawn at the low and the high end
//! of its band. Every line drawn is told to the placer, so that no label is put across it.

use super::hatch;
use super::place::{Block, Placer};
use super::view::View;
use crate::sheet::board::{Circle, Ink, Mark, Path, Stroke};
use crate::survey::Measured;
use crate::survey::measured::Drawing;
use geo::{Coord, CoordsIter};

/// The lawn's colour, light enough that text on it keeps a contrast of 12:1.
pub(crate) const LAWN: Ink = Ink(0xdd, 0xec, 0xd3);
pub(crate) const EDGE: Ink = Ink(0x1f, 0x4d, 0x2b);
/// Colour of what is taken off.
pub(crate) const TAKEN: Ink = Ink(0x6b, 0x3f, 0x1d);
const WALKED: Ink = Ink(0x9a, 0xa3, 0x9e);
const BAND: Ink = Ink(0x5b, 0x2a, 0x78);

pub(crate) const EDGE_LINE: Stroke = Stroke::whole(EDGE, 0.3);
pub(crate) const TAKEN_LINE: Stroke = Stroke::whole(TAKEN, 0.28);
pub(crate) const HATCH_LINE: Stroke = Stroke::whole(TAKEN, 0.12);
pub(crate) const WALK_LINE: Stroke = Stroke::whole(WALKED, 0.12);
/// The two edges of the band are told apart by their dashes where there is no colour.
pub(crate) const HIGH_LINE: Stroke = Stroke {
    ink: BAND,
    width_mm: 0.16,
    dash_mm: &[2.4, 0.9],
};
pub(crate) const LOW_LINE: Stroke = Stroke {
    ink: BAND,
    width_mm: 0.2,
    dash_mm: &[0.35, 0.75],
};
/// Distance between hatching lines.
const HATCH_MM: f64 = 1.3;

/// Every place, metres on the plane, that a plan must have room for. Those that are not finite are left out.
pub(crate) fn places(measured: &Measured) -> Vec<Coord<f64>> {
    let drawing = &measured.drawing;
    let mut places: Vec<Coord<f64>> = drawing
        .lawns
        .iter()
        .flat_map(|lawn| lawn.outer.coords_iter())
        .chain(
            drawing
                .deductions
                .iter()
                .flat_map(|d| d.outline.coords_iter()),
        )
        .chain(drawing.high.iter().flat_map(|high| high.coords_iter()))
        .filter(|c| c.x.is_finite() && c.y.is_finite())
        .collect();
    places.dedup();
    places
}

fn closed(lines: Vec<Vec<Coord<f64>>>, fill: Option<Ink>, stroke: Option<Stroke>) -> Mark {
    Mark::Path(Path {
        lines,
        closed: true,
        fill,
        stroke,
    })
}

/// The rings of all lawns' outer edges.
pub(crate) fn edges(drawing: &Drawing, view: &View) -> Vec<Vec<Coord<f64>>> {
    drawing
        .lawns
        .iter()
        .flat_map(|lawn| view.rings(&lawn.outer))
        .collect()
}

/// Fills the net lawn with its colour, without drawing its edge.
pub(crate) fn lawns(drawing: &Drawing, view: &View, marks: &mut Vec<Mark>) {
    for lawn in &drawing.lawns {
        marks.push(closed(view.rings(&lawn.net), Some(LAWN), None));
    }
}

/// Draws the walked lines faintly.
pub(crate) fn walks(drawing: &Drawing, view: &View, placer: &mut Placer, marks: &mut Vec<Mark>) {
    let lines: Vec<_> = drawing.walks.iter().map(|walk| view.line(walk)).collect();
    for line in &lines {
        placer.line(line);
    }
    if !lines.is_empty() {
        marks.push(Mark::Path(Path {
            lines,
            closed: false,
            fill: None,
            stroke: Some(WALK_LINE),
        }));
    }
}

/// Draws the low and the high edge of the band, to scale.
pub(crate) fn band(drawing: &Drawing, view: &View, placer: &mut Placer, marks: &mut Vec<Mark>) {
    for (edge, stroke) in [(&drawing.high, HIGH_LINE), (&drawing.low, LOW_LINE)] {
        if let Some(edge) = edge {
            let rings = view.rings(edge);
            for ring in &rings {
                placer.ring(ring);
            }
            marks.push(closed(rings, None, Some(stroke)));
        }
    }
}

/// Draws the lawns' outer edges.
pub(crate) fn outlines(drawing: &Drawing, view: &View, placer: &mut Placer, marks: &mut Vec<Mark>) {
    let rings = edges(drawing, view);
    for ring in &rings {
        placer.ring(ring);
    }
    marks.push(closed(rings, None, Some(EDGE_LINE)));
}

/// The outline of one deduction on the paper. The list of them is in the order of the deductions.
pub struct Taken {
    pub rings: Vec<Vec<Coord<f64>>>,
    /// Centre and radius of a round bed, which is drawn as a true circle; else `None`.
    pub circle: Option<(Coord<f64>, f64)>,
}

/// The outlines of all deductions. They are drawn only when the labels have their places, since hatching leaves gaps for those.
pub(crate) fn taken(drawing: &Drawing, view: &View, placer: &mut Placer) -> Vec<Taken> {
    drawing
        .deductions
        .iter()
        .map(|deduction| {
            let rings = view.rings(&deduction.outline);
            let circle = deduction
                .radius_m
                .map(|m| (view.at(deduction.centre), m * view.mm_per_m));
            for ring in &rings {
                placer.ring(ring);
            }
            Taken { rings, circle }
        })
        .collect()
}

impl Taken {
    /// Draws the outline and its hatching, with gaps where labels stand.
    pub(crate) fn draw(&self, gaps: &[Block], marks: &mut Vec<Mark>) {
        let lines = hatch::lines(&self.rings, HATCH_MM, gaps);
        let outline = match self.circle {
            Some((centre, radius_mm)) => Mark::Circle(Circle {
                centre,
                radius_mm: radius_mm.max(0.3),
                fill: Some(Ink::WHITE),
                stroke: Some(TAKEN_LINE),
            }),
            None => closed(self.rings.clone(), Some(Ink::WHITE), Some(TAKEN_LINE)),
        };
        marks.push(outline);
        if !lines.is_empty() {
            marks.push(Mark::Path(Path {
                lines,
                closed: false,
                fill: None,
                stroke: Some(HATCH_LINE),
            }));
        }
    }
}
