//! Sheets for people: what they say (`site`, `crew`, `order`), as a page of HTML and as printed pages.

mod crew;
mod html;
mod order;
mod print;
mod provenance;
mod site;
mod style;

pub use crew::crew;
pub use html::page;
pub use order::order;
pub use print::{pages, printed};
pub use site::site;

use super::block::{Block, Paper, Table};
use super::text::{self, lines::Lines, words};
use super::whose;
use crate::survey::Measured;
use crate::units::Units;

/// What some part of the report says.
fn said(part: impl FnOnce(&mut Lines)) -> Vec<Block> {
    let mut lines = Lines::default();
    part(&mut lines);
    lines.said()
}

fn paper(measured: &Measured, kind: &'static str, blocks: Vec<Block>) -> Paper {
    let survey = &measured.survey;
    Paper {
        kind,
        about: whose(measured),
        date: survey
            .date
            .as_deref()
            .map(|date| format!("walked {}", words::date(date)))
            .unwrap_or_default(),
        blocks,
    }
}

/// Edges from corner to corner.
fn edges(measured: &Measured, units: Units) -> Vec<Block> {
    let mut rows: Vec<Vec<String>> = measured
        .drawing
        .sides
        .iter()
        .map(|side| {
            vec![
                format!("{} to {}", side.from, side.to),
                units.plain_length(side.length_m),
                if side.straight {
                    "straight".to_owned()
                } else {
                    "curved, along the edge".to_owned()
                },
            ]
        })
        .collect();
    if let Some(perimeter_m) = measured.perimeter_m {
        let round = text::edge(perimeter_m, measured, units);
        rows.push(vec!["all round".to_owned(), round, String::new()]);
    }
    if rows.is_empty() {
        return Vec::new();
    }
    vec![
        Block::Heading("Edges, clockwise".to_owned()),
        Block::Table(Table::new(
            &["From corner to corner", "length", ""],
            &[false, true, false],
            rows,
        )),
    ]
}

/// What is taken off, and how large it is.
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

/// Said on every order, or the shorter cautions without one.
fn cautions(measured: &Measured) -> Vec<Block> {
    match &measured.order {
        Some(order) => said(|out| super::order::cautions(order, out)),
        None => std::iter::once(Block::Heading("Before anyone starts".to_owned()))
            .chain(said(super::text::cautions))
            .collect(),
    }
}
