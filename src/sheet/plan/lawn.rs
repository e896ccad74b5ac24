//! The plan of the lawn: its edges with lengths and lettered corners, what is taken off, the walked line, and its band. The same drawing,
//! without walk and band, is the figure on the customer's sheet. Labels that find no room are counted and told.

use super::fit::{self, FIGURE_STRIP_MM, Fit};
use super::frame::{self, Key, Sample, Strip};
use super::ground::{self, Taken};
use super::labels::{self, Words};
use super::place::Placer;
use super::view::View;
use crate::lawn::Kind;
use crate::sheet::board::{Mark, Page, Stroke, Weight, at};
use crate::sheet::paper_size;
use crate::sheet::text::{edge, words};
use crate::survey::Measured;
use crate::survey::measured::{DeductionFacts, Drawing, Point};
use crate::units::{Units, fixed};
use geo::{Coord, InteriorPoint};

/// Said where there is nothing to draw.
pub(crate) const NOTHING: &str = "There is no drawing of this lawn: either no area could be given, or it was measured by tape alone, figure \
    by figure.";

/// How many things could not be labelled for want of room, so that the plan can say so.
#[derive(Debug, Default, PartialEq)]
pub struct Left {
    pub corners: usize,
    pub edges: usize,
    pub taken: usize,
}

/// The plan; where there is nothing to draw, a page that says so.
#[must_use]
pub fn lawn(measured: &Measured, units: Units) -> Page {
    let paper = paper_size(measured, units);
    let Some(fit) = fit::choose(&ground::places(measured), paper) else {
        return frame::empty(measured, "PLAN", NOTHING, units);
    };
    let mut page = frame::page(measured, &fit, &strip(measured, units), units);
    page.about = about(measured, units);
    let mut placer = Placer::new(fit.room());
    let left = draw(measured, &fit, units, true, &mut placer, &mut page.marks);
    if left != Left::default() {
        frame::note(
            "Some labels did not fit on this plan: the tables of corners and edges have them all.",
            &fit,
            &mut placer,
            &mut page,
        );
    }
    page
}

/// The plan as a figure among text, for readers who want no more than the lawn and its lengths. `None` where there is nothing to draw.
#[must_use]
pub fn figure(measured: &Measured, units: Units, width_mm: f64, height_mm: f64) -> Option<Page> {
    let fit = fit::inside(&ground::places(measured), width_mm, height_mm)?;
    let mut page = Page::new(width_mm, height_mm, "Plan of the lawn");
    page.about = about(measured, units);
    let mut placer = Placer::new(fit.room());
    let left = draw(measured, &fit, units, false, &mut placer, &mut page.marks);
    if left != Left::default() {
        frame::note(
            "Not every label has room here: the lists below have more.",
            &fit,
            &mut placer,
            &mut page,
        );
    }
    let foot_mm = height_mm - 0.5 * FIGURE_STRIP_MM;
    frame::north(at(width_mm - 9.0, foot_mm), fit.view.turn_rad, &mut page);
    frame::bar(&fit, at(2.0, foot_mm), 80.0, units, &mut page);
    Some(page)
}

/// Draws everything, with the walk and the band if `whole`, and says what found no label. Labels get their places before anything is
/// hatched; the order of drawing is ground, what is taken off, edges, labels.
fn draw(
    measured: &Measured,
    fit: &Fit,
    units: Units,
    whole: bool,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> Left {
    let (drawing, view) = (&measured.drawing, &fit.view);
    let mut under = Vec::new();
    ground::lawns(drawing, view, &mut under);
    if whole {
        ground::walks(drawing, view, placer, &mut under);
    }
    let taken = ground::taken(drawing, view, placer);
    let mut over = Vec::new();
    if whole {
        ground::band(drawing, view, placer, &mut over);
    }
    ground::outlines(drawing, view, placer, &mut over);
    let mut left = Left::default();
    let mut said = Vec::new();
    left.corners = corners(measured, view, units, placer, &mut said);
    left.taken = names(measured, &taken, view, units, placer, &mut said);
    left.taken += lawn_names(measured, view, units, placer, &mut said);
    left.edges = lengths(measured, view, units, placer, &mut said);
    marks.append(&mut under);
    for taken in &taken {
        taken.draw(&placer.gaps(), marks);
    }
    marks.append(&mut over);
    marks.append(&mut said);
    left
}

/// The lettered corners: those points at which a side begins.
#[must_use]
pub fn lettered(measured: &Measured) -> Vec<&Point> {
    measured
        .points
        .iter()
        .chain(&measured.drawing.corners)
        .filter(|p| measured.drawing.sides.iter().any(|s| s.from == p.name))
        .collect()
}

/// Draws the lettered corners; says how many found no room for their letter.
pub(super) fn corners(
    measured: &Measured,
    view: &View,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let rings = ground::edges(&measured.drawing, view);
    let mut without = 0;
    for point in lettered(measured) {
        let place = at(point.x_m, point.y_m);
        let tip = (
            format!("Corner {}", point.name),
            format!(
                "{}{} within {} (one sigma)",
                degrees(measured, point),
                next_edge(measured, point, units),
                units.small_length(point.sigma_m)
            ),
        );
        let outward = labels::outward(view, &rings, place);
        if !labels::corner(&point.name, view.at(place), outward, tip, placer, marks) {
            without += 1;
        }
    }
    without
}

/// The corner's latitude and longitude for its tip; empty for a tape survey, whose place on the earth is not known.
fn degrees(measured: &Measured, point: &Point) -> String {
    match point.lat.zip(point.lon).filter(|_| measured.on.is_some()) {
        Some((lat, lon)) => format!("{lat:.7}°, {lon:.7}°;"),
        None => String::new(),
    }
}

/// The edge that begins at this corner, for its tip.
fn next_edge(measured: &Measured, point: &Point, units: Units) -> String {
    measured
        .drawing
        .sides
        .iter()
        .find(|s| s.from == point.name)
        .map_or(String::new(), |s| {
            format!(" {} to {};", units.plain_length(s.length_m), s.to)
        })
}

/// What is written in or beside a deduction: its label with its radius or its area, on one line for a round bed.
fn name(facts: &DeductionFacts, units: Units) -> Words {
    let label =
        crate::sheet::board::face::fit(&facts.label, labels::NAME_MM, Weight::Regular, 42.0);
    let second = match facts.radius_m {
        Some(m) => format!("r {}", units.plain_length(m)),
        None => units.plain_area(facts.deducted_m2),
    };
    if facts.kind == Kind::Bed {
        let one = format!("{label} {second}");
        Words::new(&[one.trim()], labels::NAME_MM, labels::TAKEN_INK)
    } else {
        Words::new(&[&label, &second], labels::NAME_MM, labels::TAKEN_INK)
    }
}

/// Writes the names of what is taken off; says how many found no room. A bed too small for its name gets it beside.
fn names(
    measured: &Measured,
    taken: &[Taken],
    view: &View,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let mut without = 0;
    let drawn = measured.deductions.iter().zip(&measured.drawing.deductions);
    for ((facts, deduction), taken) in drawn.zip(taken) {
        let words = name(facts, units);
        let tip = (
            facts.label.clone(),
            format!(
                "{}; {} taken off",
                words::taken_off(facts, units),
                units.plain_area(facts.deducted_m2)
            ),
        );
        let middle = view.at(deduction.centre);
        match taken.circle {
            Some((centre, radius)) if 2.0 * radius < words.width_mm() + 2.0 => {
                let spots = labels::round_about(
                    centre,
                    at(1.0, -0.5),
                    radius,
                    words.width_mm(),
                    words.height_mm(),
                );
                if !words.put("taken", Some(tip), spots, placer, marks) {
                    without += 1;
                }
            }
            _ => {
                if !labels::taken(&words, &taken.rings, middle, tip, placer, marks) {
                    without += 1;
                }
            }
        }
    }
    without
}

/// Writes the lawns' names where there are several; says how many found no room.
fn lawn_names(
    measured: &Measured,
    view: &View,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let lawns = &measured.drawing.lawns;
    let facts = measured.lawns.iter().filter(|_| lawns.len() > 1);
    let mut without = 0;
    for (facts, lawn) in facts.zip(lawns) {
        let label = crate::sheet::board::face::fit(&facts.label, NAME_MM, Weight::Bold, 50.0);
        let area = units.plain_area(facts.net_m2);
        let words = Words {
            weight: Weight::Bold,
            ..Words::new(&[&label, &area], NAME_MM, ground::EDGE)
        };
        let Some(middle) = lawn.net.interior_point() else {
            continue;
        };
        let tip = (facts.label.clone(), format!("{area} net"));
        let rings = view.rings(&lawn.net);
        if !labels::taken(&words, &rings, view.at(middle.into()), tip, placer, marks) {
            without += 1;
        }
    }
    without
}

/// Size of the font for the lawns' names.
const NAME_MM: f64 = 3.2;

/// Writes the length of each side along it, or of the whole edge where there are no sides; says how many found no room.
fn lengths(
    measured: &Measured,
    view: &View,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let rings = ground::edges(&measured.drawing, view);
    let mut sides: Vec<_> = measured.drawing.sides.iter().collect();
    // The long sides come first, since they matter most.
    sides.sort_by(|a, b| b.length_m.total_cmp(&a.length_m));
    let mut without = 0;
    for side in sides {
        let points: Vec<Coord<f64>> = side.points.iter().map(|p| view.at(*p)).collect();
        let said = if side.straight {
            units.plain_length(side.length_m)
        } else {
            format!("{} round", units.plain_length(side.length_m))
        };
        // On which side of the line the lawn is not: looked up 0.8 mm to its right.
        let outside = match labels::point_along(&points, 0.5) {
            Some((place, way)) => {
                let right = at(place.x - way.y * 0.8, place.y + way.x * 0.8);
                if labels::contains(&rings, right) {
                    -1.0
                } else {
                    1.0
                }
            }
            None => 1.0,
        };
        if !labels::along(&said, &points, outside, placer, marks) {
            without += 1;
        }
    }
    if measured.drawing.sides.is_empty()
        && let (Some(perimeter), Some(ring)) = (measured.perimeter_m, rings.first())
    {
        let said = format!("{} all round", edge(perimeter, measured, units));
        if !labels::along(&said, ring, 1.0, placer, marks) {
            without += 1;
        }
    }
    without
}

fn strip(measured: &Measured, units: Units) -> Strip {
    Strip {
        kind: "PLAN",
        figures: figures(measured, units),
        keys: keys(&measured.drawing),
        note: String::new(),
    }
}

/// The area with its band, and what else is told of the lawn in a word or two.
fn figures(measured: &Measured, units: Units) -> Vec<(String, String)> {
    let mut figures = Vec::new();
    if let Some(area) = &measured.area {
        let shown = units.rounded_area(area.net_m2, area.band_m2);
        let unit = units.area_unit();
        let amount = |m2: f64| fixed(units.area(m2), shown.digits);
        figures.push((
            "Net".to_owned(),
            format!("{} ± {} {unit}", shown.value, shown.uncertainty),
        ));
        figures.push((
            "Inside the edge".to_owned(),
            format!("{} {unit}", amount(area.gross_m2)),
        ));
        figures.push((
            "Taken off".to_owned(),
            format!("{} {unit}", amount(area.deductions_m2)),
        ));
        figures.push((
            "Low to high".to_owned(),
            format!("{} to {} {unit}", shown.low, shown.high),
        ));
        figures.push(("Held".to_owned(), words::chance(area.confidence)));
        if let Some(perimeter) = measured.perimeter_m {
            figures.push(("Edge".to_owned(), edge(perimeter, measured, units)));
        }
        if let Some(slope) = measured.slope.filter(|slope| slope.percent > 0.0) {
            figures.push(("Slope".to_owned(), words::fall(&slope)));
        }
    } else {
        figures.push(("No area is given".to_owned(), String::new()));
    }
    figures
}

/// The key: what each line and hatch stands for, of those that are drawn.
fn keys(drawing: &Drawing) -> Vec<Key> {
    let mut keys = vec![Key {
        mark: Sample::Fill(ground::LAWN, ground::EDGE_LINE),
        said: "lawn and its edge",
    }];
    if !drawing.deductions.is_empty() {
        keys.push(Key {
            mark: Sample::Hatch(Stroke::whole(ground::TAKEN, 0.2)),
            said: "taken off",
        });
    }
    if drawing.high.is_some() {
        keys.push(Key {
            mark: Sample::Line(ground::HIGH_LINE),
            said: "high edge of band",
        });
        keys.push(Key {
            mark: Sample::Line(ground::LOW_LINE),
            said: "low edge of band",
        });
    }
    if !drawing.walks.is_empty() {
        keys.push(Key {
            mark: Sample::Line(ground::WALK_LINE),
            said: "as walked",
        });
    }
    keys
}

/// The plan in words, for those who cannot see it.
fn about(measured: &Measured, units: Units) -> String {
    let mut said = String::new();
    if let Some(area) = &measured.area {
        let shown = units.rounded_area(area.net_m2, area.band_m2);
        said.push_str(&format!(
            "Net area {} plus or minus {} {}. ",
            shown.value,
            shown.uncertainty,
            units.area_unit()
        ));
    }
    let edges: Vec<String> = measured
        .drawing
        .sides
        .iter()
        .map(|s| format!("{} to {} {}", s.from, s.to, units.plain_length(s.length_m)))
        .collect();
    if !edges.is_empty() {
        said.push_str(&format!("Edges clockwise: {}. ", edges.join(", ")));
    }
    let taken: Vec<&str> = measured
        .deductions
        .iter()
        .map(|d| d.label.as_str())
        .collect();
    if !taken.is_empty() {
        said.push_str(&format!("Taken off: {}.", taken.join(", ")));
    }
    said
}
