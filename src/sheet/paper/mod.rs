//! Sheets for people. What is said to whom is decided in `customer`, `order`, `crew` and `record`, each of which gives a list of
//! blocks; `html` and `print` lay blocks out as a page of HTML and as printed pages. Here stand the blocks that several of
//! them share.

mod crew;
mod customer;
mod html;
mod order;
mod policy;
mod print;
mod provenance;
mod record;
mod style;

pub use crew::crew;
pub use customer::customer;
pub use html::page;
pub use order::order;
#[cfg(feature = "day")]
pub(crate) use policy::policy;
pub(super) use print::capital;
pub use print::{pages, printed};
pub use record::record;

use super::block::{Block, Letterhead, Paper, Table};
use super::text::{self, lines::Lines, words};
use super::{paper_size, whose};
use crate::job::people::Party;
use crate::notice::Weight;
use crate::order::Slope;
use crate::picture::Picture;
use crate::ring::distance_m;
use crate::survey::Measured;
use crate::survey::measured::Status;
use crate::units::Units;
use geo::Coord;

/// What some part of the text report says, as blocks, so that the sheets say the same in the same words.
fn said(part: impl FnOnce(&mut Lines)) -> Vec<Block> {
    let mut lines = Lines::default();
    part(&mut lines);
    lines.said()
}

/// A sheet of this kind with everything that stands above and beside its blocks.
fn paper(measured: &Measured, units: Units, kind: &'static str, blocks: Vec<Block>) -> Paper {
    let survey = &measured.survey;
    Paper {
        kind,
        about: whose(measured),
        date: survey
            .date
            .as_deref()
            .map(|date| format!("{} {}", words::measured_by(measured), words::date(date)))
            .unwrap_or_default(),
        size: paper_size(measured, units),
        firm: letterhead(measured),
        blocks,
    }
}

fn letterhead(measured: &Measured) -> Letterhead {
    let Some(firm) = &measured.paperwork.firm else {
        return Letterhead::default();
    };
    Letterhead {
        lines: lines(&firm.party),
        // The logo was read once before, when the job sheet was checked, so it does not fail here.
        logo: (firm.logo.as_ref()).and_then(|logo| Picture::read(&logo.bytes).ok()),
    }
}

/// Name, address, telephone and e-mail, line by line, as far as they are known.
fn lines(party: &Party) -> Vec<String> {
    let reached: Vec<&str> = [&party.telephone, &party.email]
        .into_iter()
        .filter_map(|x| x.as_deref())
        .collect();
    let reached = (!reached.is_empty()).then(|| reached.join(", "));
    let name = party.name.iter().cloned();
    name.chain(party.address.iter().cloned())
        .chain(reached)
        .collect()
}

/// A name and its value; `None` where there is no value.
fn pair(name: &str, value: Option<impl Into<String>>) -> Option<Block> {
    value.map(|value| Block::Pair(name.to_owned(), value.into()))
}

/// For whom the job is, where that is known.
fn customer_pair(measured: &Measured) -> Option<Block> {
    let customer = measured.paperwork.customer.as_ref()?;
    pair(
        "For",
        Some(lines(customer).join(", ")).filter(|said| !said.is_empty()),
    )
}

/// Who measured, where that is known.
fn surveyor_pair(measured: &Measured) -> Option<Block> {
    let firm = measured.paperwork.firm.as_ref();
    pair("Measured by", firm.and_then(|firm| firm.surveyor.clone()))
}

/// What a driver or a crew must know to get there, as far as the job sheet says.
fn access(measured: &Measured, units: Units) -> Vec<Block> {
    let Some(access) = &measured.paperwork.access else {
        return Vec::new();
    };
    let gate = access
        .gate_width_m
        .map(|m| format!("{} at the narrowest", units.plain_length(m)));
    [
        pair("Way in", gate),
        pair("Parking", access.parking.clone()),
        pair("Steps", access.steps.clone()),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The doubts about the measurement, to stand above all else; of more than `most` the rest is only counted. `None` where there is
/// nothing doubtful.
fn alert(measured: &Measured, most: usize, units: Units) -> Option<Block> {
    let head = match measured.status {
        Status::Ok => return None,
        Status::Check => "Look at this before anyone orders",
        Status::Withheld => "Why no area is given",
    };
    let doubts = (measured.warnings.iter()).filter(|w| w.weight() == Weight::Doubt);
    let mut doubts: Vec<String> = doubts.map(|w| w.said(units)).collect();
    if doubts.len() > most {
        let more = doubts.split_off(most).len();
        doubts.push(format!("And {more} more, all in the record."));
    }
    (!doubts.is_empty()).then(|| Block::Alert(head.to_owned(), doubts))
}

/// A table of the edges from corner to corner, and of the length all round. On a slope whose fall is known it has the lengths along the
/// ground as well, which is what a tape reads. Empty where no edge is known.
fn edges(measured: &Measured, units: Units) -> Vec<Block> {
    let stretch = measured.slope.as_ref().and_then(Slope::stretch);
    let mut rows: Vec<Vec<String>> = measured
        .drawing
        .sides
        .iter()
        .map(|side| {
            let kind = match side.straight {
                true => "straight",
                false => "curved, along the edge",
            };
            let ground_m = stretch.map(|stretch| {
                let along = |pair: &[Coord<f64>]| {
                    distance_m(stretch.ground(pair[0]), stretch.ground(pair[1]))
                };
                match (side.straight, side.points.first(), side.points.last()) {
                    (true, Some(&from), Some(&to)) => along(&[from, to]),
                    _ => side.points.windows(2).map(along).sum(),
                }
            });
            let name = format!("{} to {}", side.from, side.to);
            let plan = units.plain_length(side.length_m);
            let ground = ground_m.map(|m| units.plain_length(m));
            let cells = [name, plan].into_iter().chain(ground);
            cells.chain([kind.to_owned()]).collect()
        })
        .collect();
    let mut head = vec!["From corner to corner", "length", ""];
    let mut right = vec![false, true, false];
    if stretch.is_some() {
        head.splice(1..2, ["on the plan", "along the ground"]);
        right.insert(1, true);
    }
    if let Some(perimeter_m) = measured.perimeter_m {
        let round = text::edge(perimeter_m, measured, units);
        let mut row = vec![String::new(); head.len()];
        row[0] = "all round".to_owned();
        row[1] = round;
        rows.push(row);
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let heading = match measured.drawing.corners.is_empty() {
        true => "Edges, clockwise",
        false => "Edges, as they were taped",
    };
    vec![
        Block::Heading(heading.to_owned()),
        Block::Table(Table::new(&head, &right, rows)),
    ]
}

/// A table of what is taken off the lawn, and how large each is.
fn beds(measured: &Measured, units: Units) -> Vec<Block> {
    if measured.deductions.is_empty() {
        return Vec::new();
    }
    let rows = measured
        .deductions
        .iter()
        .map(|d| {
            vec![
                d.label.clone(),
                d.radius_m.map_or(String::new(), |m| units.plain_length(m)),
                units.plain_area(d.deducted_m2),
                words::taken_off(d, units),
            ]
        })
        .collect();
    vec![
        Block::Heading("Beds and what else has no turf".to_owned()),
        Block::Table(Table::new(
            &["What", "radius", "area", "measured"],
            &[false, true, true, false],
            rows,
        )),
    ]
}

/// The order's cautions, or the report's shorter ones where there is no order.
fn cautions(measured: &Measured, units: Units) -> Vec<Block> {
    match &measured.order {
        Some(order) => said(|out| super::order::cautions(order, units, out)),
        None => std::iter::once(Block::Heading("Before anyone starts".to_owned()))
            .chain(said(super::text::cautions))
            .collect(),
    }
}
