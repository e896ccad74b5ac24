//! The order as it is sent: what, how much, why so much, what it costs.

use super::super::block::{Block, Paper, Table};
use super::super::{order as report, text::words};
use super::{cautions, paper, said};
use crate::survey::Measured;
use crate::survey::measured::Status;
use crate::units::{Units, fixed};

pub fn order(measured: &Measured, units: Units) -> Paper {
    let mut blocks = Vec::new();
    let Some(ordered) = &measured.order else {
        blocks.push(Block::Alert(
            "There is no order".to_owned(),
            vec![match &measured.area {
                Some(_) => "The job sheet asks for none: add [order] to it.".to_owned(),
                None => "No area could be given, so nothing can be ordered for it.".to_owned(),
            }],
        ));
        return paper(measured, "Order", blocks);
    };
    if measured.status != Status::Ok {
        let mut why: Vec<String> = report::first_line(ordered).into_iter().collect();
        why.push("The measurement is flagged: read the site sheet before this is sent.".to_owned());
        blocks.push(Block::Alert("Do not send yet".to_owned(), why));
    }
    blocks.extend(said(|out| report::covers(ordered, units, out)));
    blocks.push(Block::Heading("What is ordered".to_owned()));
    let number = |value: f64| {
        if (value - value.round()).abs() < 1e-9 {
            fixed(value, 0)
        } else {
            fixed(value, 2)
        }
    };
    let rows = ordered
        .takeoff
        .iter()
        .map(|line| {
            vec![
                line.item.clone(),
                number(line.order),
                line.unit.to_owned(),
                number(line.net),
                number(line.allowance),
                line.basis.clone(),
            ]
        })
        .collect();
    blocks.push(Block::Table(Table::new(
        &[
            "Item",
            "order",
            "unit",
            "net",
            "allowance",
            "worked out from",
        ],
        &[false, true, false, true, true, false],
        rows,
    )));
    blocks.push(Block::Heading("Details".to_owned()));
    if let Some(turf) = &ordered.turf {
        blocks.extend(said(|out| report::turf_lines(turf, units, out)));
    }
    blocks.extend(said(|out| report::materials(ordered, units, out)));
    if let Some(turf) = &ordered.turf {
        blocks.extend(said(|out| report::compared(turf, out)));
    }
    if !ordered.deliveries.is_empty() {
        blocks.push(Block::Heading("Deliveries".to_owned()));
        blocks.extend(said(|out| report::laying_lines(ordered, units, out)));
    }
    if let Some(price) = &ordered.price {
        blocks.extend(said(|out| report::price_lines(price, out)));
        if let Some(until) = &price.valid_until {
            blocks.push(Block::Pair("Valid until".to_owned(), words::date(until)));
        }
    }
    blocks.push(Block::Heading("To be filled in".to_owned()));
    blocks.push(Block::Write(
        [
            "Merchant or grower",
            "Kind of turf",
            "Wanted on, between what hours",
            "Set down at; gates, drive, vehicle",
            "Unloaded by",
            "Someone to ring on site",
            "Date cut (from the delivery note)",
            "Ordered by, date",
        ]
        .map(str::to_owned)
        .to_vec(),
    ));
    blocks.push(Block::Say(
        "Turf is cut to order and perishes: agree the day of delivery before sending this, and have the ground ready.".to_owned(),
    ));
    blocks.extend(cautions(measured));
    paper(measured, "Order", blocks)
}
