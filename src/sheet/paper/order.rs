//! The order as it is sent to a grower or merchant: what and how many, each thing once and in the unit it is bought in, and when and
//! where it is to come. It says nothing of what the customer pays, nor of how the turf is laid.

use super::super::block::{Block, Paper, Table};
use super::super::quantity::{
    bought_kg, bought_m3, count, density, many as many_of, rate, size, tonnes, volume,
};
use super::super::{order as report, text::words};
use super::{access, pair, paper};
use crate::order::Ordered;
use crate::order::price::{Cost, PriceLine};
use crate::order::turf::Turf;
use crate::survey::Measured;
use crate::survey::measured::Status;
use crate::units::Units;
use rust_decimal::Decimal;

/// The sheet as a list of blocks. What is not known becomes a line to fill in by hand. Without an order the sheet says why.
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
        return paper(measured, units, "Order", blocks);
    };
    if measured.status != Status::Ok {
        let mut why: Vec<String> = report::first_line(ordered, units).into_iter().collect();
        why.push("The measurement is flagged: read the record before this is sent.".to_owned());
        blocks.push(Block::Alert("Do not send yet".to_owned(), why));
    }
    blocks.extend(bought(ordered, units));
    let mut open = vec!["Merchant or grower"];
    blocks.push(Block::Heading("Delivery".to_owned()));
    for (name, asked, value) in delivery(measured, ordered) {
        if value.is_none() {
            open.push(asked);
        }
        blocks.extend(pair(name, value));
    }
    blocks.extend(access(measured, units));
    blocks.extend(pair("Vehicle", vehicle(ordered, units)));
    blocks.extend(loads(ordered, units));
    blocks.push(Block::Heading("To be filled in".to_owned()));
    if let Some(turf) = &ordered.turf {
        if turf.kind.is_none() {
            open.push("Kind of turf");
        }
        open.push("Date cut (from the delivery note)");
    }
    open.push("Ordered by, date");
    blocks.push(Block::Write(open.into_iter().map(str::to_owned).collect()));
    if ordered.turf.is_some() {
        blocks.push(Block::Say(
            "Turf is cut to order and perishes: agree the day of delivery before sending this, and have the ground ready.".to_owned(),
        ));
    }
    paper(measured, units, "Order", blocks)
}

/// What the merchant is told of the delivery: for each thing its name, what to ask for where it is not known, and its value.
fn delivery(
    measured: &Measured,
    ordered: &Ordered,
) -> [(&'static str, &'static str, Option<String>); 5] {
    let delivery = ordered.delivery.as_ref();
    let day = delivery.and_then(|delivery| delivery.date);
    let access = measured.paperwork.access.as_ref();
    [
        (
            "Day",
            "Wanted on",
            day.map(|day| words::date(&day.to_string())),
        ),
        (
            "Hours",
            "Between what hours",
            delivery.and_then(|delivery| delivery.hours.clone()),
        ),
        ("Place", "Set down at", place(measured)),
        (
            "Unloading",
            "Unloaded by",
            access.and_then(|access| access.unload.clone()),
        ),
        ("On site", "Someone to ring on site", on_site(measured)),
    ]
}

/// A table of what is bought, with what the firm pays for it where that is given.
fn bought(ordered: &Ordered, units: Units) -> Vec<Block> {
    let rows = things(ordered, units);
    let table = match &ordered.cost {
        Some(cost) => with_cost(cost, rows),
        None => {
            let rows = rows.into_iter();
            let rows = rows.map(|[_, what, many, about]| vec![what, many, about]);
            Table::new(&["What", "how many", ""], &[false; 3], rows.collect())
        }
    };
    vec![
        Block::Heading("What is ordered".to_owned()),
        Block::Table(table),
    ]
}

/// Each thing once: what the lines of cost call it, what it is, how many in the unit it is bought in, and what else is known of it.
fn things(ordered: &Ordered, units: Units) -> Vec<[String; 4]> {
    let mut rows: Vec<[String; 4]> = Vec::new();
    rows.extend(ordered.turf.as_ref().map(|turf| turf_row(turf, units)));
    let mut row = |item: &str, what: &str, many: String, about: String| {
        rows.push([item.to_owned(), what.to_owned(), many, about]);
    };
    if let Some(soil) = &ordered.soil {
        let by_bag = charged(ordered, "topsoil").is_some_and(|line| line.unit == "bag");
        let loose = volume(soil.cover * soil.loose_m3, units);
        if by_bag {
            let bag = volume(soil.bag_m3, units);
            let bags = format!("{} of {bag} loose", count(soil.bags, "bag"));
            row(
                "topsoil",
                "Topsoil, in bulk bags",
                bags,
                format!("{loose} in all"),
            );
        } else {
            let about = format!("{loose} loose, at {}", density(&[soil.density_t_m3], units));
            row(
                "topsoil",
                "Topsoil",
                tonnes(soil.order_tonnes, units),
                about,
            );
        }
    }
    if let Some(edging) = &ordered.edging {
        let piece = format!("of {}", units.plain_length(edging.piece_m));
        row("edging", "Edging", count(edging.pieces, "piece"), piece);
    }
    for (name, spread) in [("Seed", &ordered.seed), ("Fertiliser", &ordered.fertiliser)] {
        if let Some(spread) = spread {
            let many = bought_kg(spread.order_kg, units);
            row(&name.to_lowercase(), name, many, String::new());
        }
    }
    if let Some(mulch) = &ordered.mulch {
        row(
            "mulch",
            "Mulch",
            bought_m3(mulch.m3, units),
            "loose".to_owned(),
        );
    }
    if let Some(old) = &ordered.old_turf {
        let (holds, turf) = (volume(old.skip_m3, units), tonnes(old.tonnes, units));
        let about = format!("of {holds}, for {turf} of old turf");
        row("skips", "Skips", count(old.skips, "skip"), about);
    }
    rows
}

fn turf_row(turf: &Turf, units: Units) -> [String; 4] {
    let pieces = count(turf.ordered_pieces, &turf.noun);
    let pallets = count(turf.pallets, "pallet");
    let part = turf.ordered_pieces < turf.pallets * turf.pieces_per_pallet;
    let (many, other) = match turf.part_pallets {
        _ if turf.comes_in_parts() => (pieces, format!("{pallets} in part, load by load below")),
        true if part => (pieces, format!("{pallets}, the last in part")),
        true => (pieces, pallets),
        false => (pallets, format!("{pieces}, full pallets only")),
    };
    let kind = turf.kind.as_ref();
    let kind = kind.map_or(String::new(), |kind| format!(", {kind}"));
    let piece = size(turf.piece_width_m, turf.piece_length_m, units);
    [
        "turf".to_owned(),
        format!("Turf{kind}: {} of {piece}", many_of(&turf.noun)),
        many,
        format!("{other}; about {}", units.weight(turf.kg)),
    ]
}

/// The line by which a thing is paid for. The firm's cost goes before the customer's price, since its unit is the one in which the thing
/// is bought.
fn charged<'a>(ordered: &'a Ordered, item: &str) -> Option<&'a PriceLine> {
    let cost = ordered.cost.iter().flat_map(|cost| &cost.lines);
    let price = ordered.price.iter().flat_map(|price| &price.lines);
    cost.chain(price).find(|line| line.item == item)
}

/// The table with what the firm pays the merchant, before tax. Of the firm's other costs only deposit and delivery are in it, since
/// the rest, such as labour, is no merchant's business.
fn with_cost(cost: &Cost, rows: Vec<[String; 4]>) -> Table {
    let of = |item: &str| cost.lines.iter().find(|line| line.item == item);
    let mut all = Decimal::ZERO;
    let mut amount = |item: &str| {
        let line = of(item)?;
        all = all.saturating_add(line.amount);
        Some(line.amount.to_string())
    };
    let mut table: Vec<Vec<String>> = Vec::new();
    let mut whole = true;
    for [item, what, many, about] in rows {
        let amount = amount(&item).unwrap_or_default();
        whole &= !amount.is_empty();
        table.push(vec![what, many, about, amount]);
    }
    for also in ["pallet deposit", "delivery"] {
        if let (Some(amount), Some(line)) = (amount(also), of(also)) {
            let many = format!("{} at {}", line.quantity, rate(line));
            table.push(vec![
                super::print::capital(also),
                many,
                String::new(),
                amount,
            ]);
        }
    }
    let name = if whole {
        "All of it"
    } else {
        "What has a price here"
    };
    table.push(vec![
        name.to_owned(),
        String::new(),
        String::new(),
        all.to_string(),
    ]);
    let amount = format!("{}, before tax", cost.currency);
    let head = ["What", "how many", "", amount.as_str()];
    Table::new(&head, &[false, false, false, true], table)
}

/// Where the goods go: the site and the customer's address, or the one that is known; `None` without either.
fn place(measured: &Measured) -> Option<String> {
    let customer = measured.paperwork.customer.as_ref();
    let address = customer.map(|customer| customer.address.join(", "));
    let address = address.filter(|address| !address.is_empty());
    match (&measured.survey.site, address) {
        (Some(site), Some(address)) if !address.contains(site.as_str()) => {
            Some(format!("{site}; {address}"))
        }
        (_, Some(address)) => Some(address),
        (site, None) => site.clone(),
    }
}

/// Whom to ring on site: the customer, or else the firm, whichever has a telephone number.
fn on_site(measured: &Measured) -> Option<String> {
    let paperwork = &measured.paperwork;
    let firm = paperwork.firm.as_ref().map(|firm| &firm.party);
    [paperwork.customer.as_ref(), firm]
        .into_iter()
        .flatten()
        .find(|party| party.telephone.is_some())
        .map(|party| {
            let name = party.name.iter().cloned();
            name.chain(party.telephone.clone())
                .collect::<Vec<_>>()
                .join(", ")
        })
}

fn vehicle(ordered: &Ordered, units: Units) -> Option<String> {
    let delivery = ordered.delivery.as_ref()?;
    let by_weight = delivery
        .vehicle_t
        .map(|t| format!("{} a drop at most", tonnes(t, units)));
    let by_room = delivery
        .pallets_per_drop
        .map(|pallets| format!("{} a drop at most", count(u64::from(pallets), "pallet")));
    let said: Vec<String> = by_weight.into_iter().chain(by_room).collect();
    (!said.is_empty()).then(|| said.join(", "))
}

/// A table of the loads, where there is more than one.
fn loads(ordered: &Ordered, units: Units) -> Vec<Block> {
    let noun = ordered.turf.as_ref().map_or("piece", |turf| &turf.noun);
    if ordered.deliveries.len() < 2 {
        return Vec::new();
    }
    let rows = ordered.deliveries.iter().enumerate().map(|(at, drop)| {
        vec![
            (at + 1).to_string(),
            format!("day {}", drop.day),
            count(drop.pieces, noun),
            count(drop.pallets, "pallet"),
            units.weight(drop.kg),
        ]
    });
    vec![
        Block::Heading("Load by load".to_owned()),
        Block::Table(Table::new(
            &["Load", "", "", "", ""],
            &[true, false, true, true, true],
            rows.collect(),
        )),
    ]
}
