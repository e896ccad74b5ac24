//! Taped figures laid out on a plan, as a walked lawn is laid out on the ground.

use crate::fault::Fault;
use crate::job::shape::{Figure, Shape};
use crate::lawn::{self, Laid, Lawn, Outer, Taking};
use crate::limits::list;
use crate::notice::Notice;
use crate::order::slope::Stretch;
use crate::process::hand::TAPE_SIGMA_M;
use crate::ring::perimeter_m;
use crate::survey::lettered::lettered;
use crate::survey::measured::{Drawing, LawnSheets};
use crate::survey::taken;
use crate::tape::outline::{AT_ORIGIN, draw};
use crate::tape::shapes::Taped;
use geo::{Area as _, BooleanOps, Contains, Coord, InteriorPoint, LineString, MultiPolygon};

/// The figures on a plan, laid like a walked lawn.
pub(super) struct Plan {
    pub drawing: Drawing,
    pub gross_m2: f64,
    /// What each deducted shape takes off, m², in their order.
    pub deducted_m2: Vec<f64>,
    /// How many of the drawing's deductions are shapes of the sheet. Holes between the lawn's parts follow after them.
    pub owned: usize,
    pub perimeter_m: f64,
    /// The variance of the figures that each lawn is made of, m⁴.
    pub variances_m4: Vec<f64>,
    /// What to set out, lawn by lawn.
    pub sheets: Vec<LawnSheets>,
}

/// A shape of the sheet, what was measured of it, and where it lies on the plan.
struct Placed<'a> {
    shape: &'a Shape,
    taped: &'a Taped,
    outline: MultiPolygon<f64>,
}

/// Lays the figures out, and gives what is to be told of that. `None` where they have no places: then nothing can be drawn.
pub(super) fn plan(
    shapes: &[Shape],
    taped: &[Taped],
    stretch: Option<Stretch>,
) -> Result<(Option<Plan>, Vec<Notice>), Fault> {
    let unplaced = unplaced(shapes);
    if !unplaced.is_empty() {
        return Ok((None, vec![Notice::NotOnAPlan { labels: unplaced }]));
    }
    let placed = placed(shapes, taped)?.into_iter();
    let (off, parts): (Vec<Placed>, Vec<Placed>) = placed.partition(|one| one.shape.deduct);

    let (lawn, overlap) = joined(&parts);
    let outers: Vec<Outer> = lawn
        .iter()
        .map(|polygon| Outer {
            label: String::new(),
            ring: open(polygon.exterior()),
        })
        .collect();
    let takings: Vec<Vec<Taking>> = off.iter().map(takings_of).collect();
    let of_each: Vec<usize> = takings.iter().map(Vec::len).collect();
    let owned = of_each.iter().sum();
    let all: Vec<Taking> = takings.into_iter().flatten().chain(holes(&lawn)).collect();
    let laid = lawn::lay(&outers, &all)?;
    let open_m2: f64 = laid
        .deductions
        .iter()
        .skip(owned)
        .map(|d| d.deducted_m2)
        .sum();
    let (deducted_m2, cut_short) = deducted(&off, &of_each, &laid);

    let mut lawns = laid.lawns;
    let variances_m4 = name_lawns(&mut lawns, &parts);
    let figures: Vec<MultiPolygon<f64>> = parts.into_iter().map(|part| part.outline).collect();
    let sigma_m = shapes.iter().find_map(|shape| shape.sigma_m);
    let sigma_m = sigma_m.unwrap_or(TAPE_SIGMA_M);
    let lettered = lettered(&lawns, &laid.deductions, &figures, sigma_m, stretch);
    let plan = Plan {
        gross_m2: lawns.iter().map(|l| l.gross_m2).sum::<f64>() - open_m2,
        perimeter_m: outers.iter().map(|o| perimeter_m(&o.ring)).sum(),
        drawing: Drawing {
            lawns,
            deductions: laid.deductions,
            sides: lettered.sides,
            corners: lettered.corners,
            ..Drawing::default()
        },
        deducted_m2,
        variances_m4,
        owned,
        sheets: lettered.sheets,
    };
    Ok((Some(plan), overlap.into_iter().chain(cut_short).collect()))
}

/// Each figure drawn where it lies.
fn placed<'a>(shapes: &'a [Shape], taped: &'a [Taped]) -> Result<Vec<Placed<'a>>, Fault> {
    let each = shapes.iter().zip(taped).map(|(shape, taped)| {
        let outline = draw(shape, taped, AT_ORIGIN)?;
        Ok(Placed {
            shape,
            taped,
            outline,
        })
    });
    each.collect()
}

/// The names of shapes that say too little of where they lie. A lawn of one part lies where its own baseline starts; a deduction must say
/// where it is.
fn unplaced(shapes: &[Shape]) -> Vec<String> {
    let parts = shapes.iter().filter(|s| !s.deduct).count();
    let without = shapes
        .iter()
        .filter(|s| s.place.is_none() && (s.deduct || parts > 1));
    without.map(|s| s.label.clone()).collect()
}

/// The parts of the lawn as one area. Ground that two of them share counts once, with a notice where it is more than rounding.
fn joined(parts: &[Placed]) -> (MultiPolygon<f64>, Option<Notice>) {
    let lawn = parts
        .iter()
        .map(|part| part.outline.clone())
        .reduce(|lawn, part| lawn.union(&part));
    let lawn = lawn.unwrap_or_else(|| MultiPolygon::new(Vec::new()));
    let areas = || parts.iter().map(|part| part.taped.area_m2);
    let overlap_m2 = areas().sum::<f64>() - lawn.unsigned_area();
    let smallest_m2 = areas().fold(f64::INFINITY, f64::min);
    let told = (overlap_m2 > list::OVERLAP_SHARE * smallest_m2)
        .then_some(Notice::ShapesOverlap { overlap_m2 });
    (lawn, told)
}

/// The holes that the lawn's parts leave open between them, as things to be taken off.
fn holes(lawn: &MultiPolygon<f64>) -> impl Iterator<Item = Taking> {
    let holes = lawn.iter().flat_map(|polygon| polygon.interiors());
    holes.map(|hole| Taking {
        label: "open between the parts".to_string(),
        shape: lawn::Shape::Walked(open(hole)),
    })
}

/// What each deducted shape takes off, m². `of_each` says in how many parts each was laid. A notice goes with a shape that takes nothing
/// off, or less than it holds.
fn deducted(off: &[Placed], of_each: &[usize], laid: &Laid) -> (Vec<f64>, Vec<Notice>) {
    let mut deductions = laid.deductions.as_slice();
    let (mut deducted_m2, mut told) = (Vec::new(), Vec::new());
    for (one, parts) in off.iter().zip(of_each) {
        let (own, others) = deductions
            .split_at_checked(*parts)
            .unwrap_or((deductions, &[]));
        deductions = others;
        let off_m2 = own
            .iter()
            .fold(0.0, |sum_m2, part| sum_m2 + part.deducted_m2);
        deducted_m2.push(off_m2);
        match own.first() {
            Some(first) if off_m2 <= 0.0 => told.push(taken::takes_nothing(first, laid)),
            _ if off_m2 < one.taped.area_m2 * (1.0 - list::OVERLAP_SHARE) => {
                told.push(Notice::DeductionOutside {
                    label: one.taped.label.clone(),
                    outside_m2: one.taped.area_m2 - off_m2,
                });
            }
            _ => {}
        }
    }
    (deducted_m2, told)
}

/// Names each lawn after the figure that it is made of, or numbers it where it is made of several. Gives the variance of each, m⁴.
fn name_lawns(lawns: &mut [Lawn], parts: &[Placed]) -> Vec<f64> {
    let count = lawns.len();
    let mut variances_m4 = Vec::new();
    for (k, lawn) in lawns.iter_mut().enumerate() {
        let within = |figure: &MultiPolygon<f64>| {
            let place = figure.interior_point();
            place.is_some_and(|place| lawn.outer.contains(&place))
        };
        let made_of = parts.iter().filter(|part| within(&part.outline));
        let made_of: Vec<&Taped> = made_of.map(|part| part.taped).collect();
        variances_m4.push(made_of.iter().map(|one| one.sigma_m2.powi(2)).sum());
        lawn.label = match made_of.as_slice() {
            [only] => only.label.clone(),
            _ if count > 1 => format!("lawn {}", k + 1),
            _ => "lawn".to_string(),
        };
    }
    variances_m4
}

/// What one deducted shape takes off: a circle as a true round bed, anything else by its outline.
fn takings_of(one: &Placed) -> Vec<Taking> {
    let Placed {
        shape,
        taped,
        outline,
    } = one;
    let place = shape.place.unwrap_or(AT_ORIGIN);
    match is_round(shape) {
        true => vec![Taking {
            label: shape.label.clone(),
            shape: lawn::Shape::Bed {
                centre: Coord {
                    x: place.east_m,
                    y: place.north_m,
                },
                radius_m: radius_m(taped),
            },
        }],
        false => outline
            .iter()
            .map(|polygon| Taking {
                label: shape.label.clone(),
                shape: lawn::Shape::Walked(open(polygon.exterior())),
            })
            .collect(),
    }
}

/// Whether the shape is a whole circle.
pub(super) fn is_round(shape: &Shape) -> bool {
    matches!(shape.figure, Figure::Circle { sector_deg, .. } if sector_deg >= 360.0)
}

/// The radius of the circle that holds as much, metres.
pub(super) fn radius_m(one: &Taped) -> f64 {
    (one.area_m2 / std::f64::consts::PI).sqrt()
}

/// A ring without its first point repeated.
fn open(ring: &LineString<f64>) -> Vec<Coord<f64>> {
    let n = ring.0.len().saturating_sub(1);
    ring.coords().take(n).copied().collect()
}
