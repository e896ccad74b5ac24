//! The customer's sheet: an estimate, a quotation, or the area alone. Its first page is the whole answer: plan, net area with its band,
//! what is supplied, the price, how sure it is, lines to sign. The plan is drawn as large as the rest of the page leaves room
//! for, so the sheet is first laid out without it. The whole has at most three pages, and what does not fit stands in the record.

use super::super::block::{Block, Paper, Table};
use super::super::plan;
use super::super::quantity::{self, bought_kg, bought_m3, charged, count, depth, size, tonnes};
use super::super::text::{self, checked, words};
use super::print::{capital, left_mm, pages, room_mm};
use super::{alert, cautions, customer_pair, edges, pair, paper, said, surveyor_pair};
use crate::order::Ordered;
use crate::order::price::PriceLine;
use crate::survey::Measured;
use crate::units::{Units, two_figures};
use rust_decimal::Decimal;

/// Least and most height of the plan, millimetres. If it were lower its labels would not fit; if it were higher a small lawn would look
/// lost.
const PLAN_MM: (f64, f64) = (52.0, 150.0);
/// So much of the first page is left free, so that no heading moves to the next page for want of a line.
const SPARE_MM: f64 = 6.0;
/// The most things that are named one by one in a line of text.
const MOST_NAMED: usize = 8;
/// The most rows of a table that a customer is shown; the record has all.
const MOST_ROWS: usize = 12;
/// How many further lines of the price (beside the goods supplied) may stand on the first page. These numbers are tried in turn until
/// there is room for a plan.
const MOST_LINES: [usize; 6] = [usize::MAX, 12, 8, 5, 3, 0];
/// With more sides of the lawn than this their table is left out.
const MOST_SIDES: usize = 2 * MOST_ROWS;
/// The most pages of the whole sheet, unless the price alone takes more.
const MOST_PAGES: usize = 3;

/// The sheet as a list of blocks: the answer, what the area is made of, and the cautions.
#[must_use]
pub fn customer(measured: &Measured, units: Units) -> Paper {
    let kind = match measured
        .order
        .as_ref()
        .and_then(|order| order.price.as_ref())
    {
        Some(price) if price.document == "quotation" => "Quotation",
        Some(_) => "Estimate",
        None => "Lawn area",
    };
    let above = above(measured, units);
    // The sheet without a plan, with at most so many lines of the price: longer prices are summed up and stand in full on the next page.
    let with = |most: usize| {
        let (below, listed) = below(measured, units, most);
        let all = [above.clone(), below.clone()].concat();
        (below, listed, paper(measured, units, kind, all))
    };
    let (below, listed, answer) = MOST_LINES
        .into_iter()
        .map(with)
        .find(|(.., answer)| left_mm(answer) >= PLAN_MM.0 + SPARE_MM)
        .unwrap_or_else(|| with(usize::MAX));
    let mut blocks = above;
    if !measured.drawing.lawns.is_empty() {
        let tall_mm = (left_mm(&answer) - SPARE_MM).clamp(PLAN_MM.0, PLAN_MM.1);
        let drawn = plan::figure(measured, units, room_mm(answer.size), tall_mm);
        blocks.extend(drawn.map(|page| Block::Figure(Box::new(page))));
    }
    blocks.extend(below);
    blocks.extend(listed);
    // Where the sheet gets too long, the tables that the record has as well are left out, the edges first.
    let also = [edge_table(measured, units), parts(measured, units)];
    let without = |left_out: usize| {
        let kept = also[left_out..].iter().rev().flatten().cloned();
        let all = blocks.iter().cloned().chain(kept);
        let all = all.chain(cautions(measured, units)).collect();
        paper(measured, units, kind, all)
    };
    (0..also.len())
        .map(without)
        .find(|sheet| pages(sheet).len() <= MOST_PAGES)
        .unwrap_or_else(|| without(also.len()))
}

/// Tables of what the area is made of, part by part, shortened; none without an area.
fn parts(measured: &Measured, units: Units) -> Vec<Block> {
    let Some(area) = &measured.area else {
        return Vec::new();
    };
    let mut parts = cut_short(said(|out| text::breakdown(area, measured, units, out)));
    if !parts.is_empty() {
        parts.insert(0, Block::Heading("What the area is made of".to_owned()));
    }
    parts
}

/// The table of edges; none where there are no edges or very many.
fn edge_table(measured: &Measured, units: Units) -> Vec<Block> {
    match measured.drawing.sides.len() {
        1..=MOST_SIDES => edges(measured, units),
        _ => Vec::new(),
    }
}

/// What stands above the plan: the area, doubts, for whom, who measured, and until when the price holds.
fn above(measured: &Measured, units: Units) -> Vec<Block> {
    let mut blocks = vec![lead(measured, units)];
    blocks.extend(alert(measured, 4, units));
    blocks.extend(customer_pair(measured));
    blocks.extend(surveyor_pair(measured));
    let price = measured
        .order
        .as_ref()
        .and_then(|order| order.price.as_ref());
    let until = price.and_then(|price| price.valid_until.as_deref());
    blocks.extend(pair("Valid until", until.map(words::date)));
    blocks
}

/// What stands below the plan: what is taken off, what is supplied and what it costs, how sure the area is, lines to sign. Of the further
/// lines of the price it names at most `most`; where there are more, the whole price comes back as the second list, for the next page.
/// Both are empty without an area.
fn below(measured: &Measured, units: Units, most: usize) -> (Vec<Block>, Vec<Block>) {
    let (mut blocks, mut listed) = (Vec::new(), Vec::new());
    if measured.area.is_none() {
        return (blocks, listed);
    }
    blocks.extend(made_of(measured, units));
    let price = measured
        .order
        .as_ref()
        .and_then(|order| order.price.as_ref());
    if let Some(ordered) = &measured.order {
        let head = match price {
            Some(_) => "What is supplied, and its price",
            None => "What is supplied",
        };
        blocks.push(Block::Heading(head.to_owned()));
        let (table, whole) = offered(ordered, units, most);
        blocks.push(Block::Table(table));
        if let Some(whole) = whole {
            listed.push(Block::Heading("The price line by line".to_owned()));
            listed.push(Block::Table(whole));
        }
    }
    blocks.push(Block::Heading("How sure is it".to_owned()));
    blocks.push(Block::Say(sure(measured, units)));
    if price.is_some() {
        let firm = measured.paperwork.firm.as_ref();
        let firm = firm.and_then(|firm| firm.party.name.as_deref());
        blocks.push(Block::Write(vec![
            "Agreed by the customer, date".to_owned(),
            format!("For {}, date", firm.unwrap_or("the firm")),
        ]));
    }
    (blocks, listed)
}

/// The number that the sheet is about: the net area with its band, and a line or two about it. Without an area it says so.
pub(super) fn lead(measured: &Measured, units: Units) -> Block {
    let Some(area) = &measured.area else {
        return Block::Lead(
            "No area is given".to_owned(),
            vec!["The log was read, but no honest number can be had from it.".to_owned()],
        );
    };
    let shown = units.rounded_area(area.net_m2, area.band_m2);
    let unit = units.area_unit();
    let percent = two_figures(100.0 * area.band_m2 / area.net_m2.max(f64::MIN_POSITIVE));
    let mut about = vec![format!(
        "Net area, ± {percent} %: between {} and {} {unit}, {}.",
        shown.low,
        shown.high,
        words::chance(area.confidence)
    )];
    for block in said(|out| text::net(area, measured, units, out)) {
        // The report's lines after the first, such as slope and edge.
        if let Block::Pair(name, value) = block
            && !name.is_empty()
            && name != "Net area"
        {
            about.push(format!("{name}: {value}."));
        }
    }
    Block::Lead(
        format!("{} ± {} {unit}", shown.value, shown.uncertainty),
        about,
    )
}

/// The parts of the net area in a line or two.
fn made_of(measured: &Measured, units: Units) -> Vec<Block> {
    let Some(area) = &measured.area else {
        return Vec::new();
    };
    let list = |mut parts: Vec<String>| {
        if parts.len() > MOST_NAMED {
            let more = parts.split_off(MOST_NAMED).len();
            parts.push(format!("{more} more"));
        }
        (!parts.is_empty()).then(|| parts.join(", "))
    };
    let taken = measured.deductions.iter();
    let taken = taken.map(|d| format!("{} ({})", d.label, units.plain_area(d.deducted_m2)));
    let taken = list(taken.collect()).unwrap_or_else(|| "nothing".to_owned());
    let lawns = measured.lawns.iter().filter(|_| measured.lawns.len() > 1);
    let lawns = lawns.map(|lawn| format!("{} ({})", lawn.label, units.plain_area(lawn.net_m2)));
    let taken_off = format!(
        "{taken}; inside the edge it is {}",
        units.plain_area(area.gross_m2)
    );
    pair("Lawns", list(lawns.collect()))
        .into_iter()
        .chain(pair("Taken off", Some(taken_off)))
        .collect()
}

/// Each thing that is brought or taken away: what the price's lines call it, its name on the sheet, and how much of it.
fn supplied(ordered: &Ordered, units: Units) -> Vec<[String; 3]> {
    let mut things: Vec<[String; 3]> = Vec::new();
    let mut thing = |item: &str, name: &str, many: String| {
        things.push([item.to_owned(), name.to_owned(), many]);
    };
    if let Some(turf) = &ordered.turf {
        let kind = turf
            .kind
            .as_ref()
            .map_or(String::new(), |kind| format!(", {kind}"));
        let pieces = count(turf.ordered_pieces, &turf.noun);
        let piece = size(turf.piece_width_m, turf.piece_length_m, units);
        thing("turf", "Turf", format!("{pieces} of {piece}{kind}"));
    }
    if let Some(soil) = &ordered.soil {
        let deep = depth(soil.depth_m, units);
        let many = tonnes(soil.order_tonnes, units);
        thing(
            "topsoil",
            "Topsoil",
            format!("{many}, {deep} deep once settled"),
        );
    }
    if let Some(edging) = &ordered.edging {
        let pieces = count(edging.pieces, "piece");
        let [piece, round] = [edging.piece_m, edging.length_m].map(|m| units.plain_length(m));
        thing(
            "edging",
            "Edging",
            format!("{pieces} of {piece}, for {round}"),
        );
    }
    for (item, name, spread) in [
        ("seed", "Seed", &ordered.seed),
        ("fertiliser", "Fertiliser", &ordered.fertiliser),
    ] {
        if let Some(spread) = spread {
            thing(item, name, bought_kg(spread.order_kg, units));
        }
    }
    if let Some(mulch) = &ordered.mulch {
        thing(
            "mulch",
            "Mulch",
            format!("{} loose", bought_m3(mulch.m3, units)),
        );
    }
    if let Some(old) = &ordered.old_turf {
        let skips = count(old.skips, "skip");
        thing("skips", "Old turf", format!("taken away in {skips}"));
    }
    things
}

/// The table of what is supplied, with what each thing costs where there is a price. The things supplied come first. Of the other lines,
/// such as laying or delivery, at most `most` are named and the rest summed up in one; then the second table has all lines.
fn offered(ordered: &Ordered, units: Units, most: usize) -> (Table, Option<Table>) {
    let things = supplied(ordered, units);
    let Some(price) = &ordered.price else {
        let rows = things.into_iter().map(|[_, name, many]| vec![name, many]);
        return (Table::new(&[], &[false; 2], rows.collect()), None);
    };
    let mut rows: Vec<Vec<String>> = Vec::new();
    for [item, name, many] in &things {
        let line = price.lines.iter().find(|line| line.item == *item);
        let (rate, amount) = match line {
            Some(line) => (rate(line), line.amount.to_string()),
            None => (String::new(), "not in this price".to_owned()),
        };
        let many = line.map_or_else(|| many.clone(), |line| much(many, line, units));
        rows.push(vec![name.clone(), many, rate, amount]);
    }
    let is_thing = |line: &&PriceLine| things.iter().any(|[item, ..]| *item == line.item);
    let others: Vec<_> = price.lines.iter().filter(|line| !is_thing(line)).collect();
    let named = others.iter().map(|line| {
        let many = quantity::charged_of(ordered, line, units);
        let amount = line.amount.to_string();
        vec![capital(&line.item), many, rate(line), amount]
    });
    let head = ["What", "how much", "at", price.currency.as_str()];
    let right = [false, false, true, true];
    let whole = (others.len() > most).then(|| {
        let rows = rows.iter().cloned().chain(named.clone());
        Table::new(&head, &right, rows.collect())
    });
    match whole {
        None => rows.extend(named),
        Some(_) => {
            rows.extend(named.take(most));
            let left_out = &others[most..];
            let amount: Decimal = left_out.iter().map(|line| line.amount).sum();
            let many = format!(
                "{}, listed below",
                count(left_out.len() as u64, "more line")
            );
            rows.push(vec![
                "Also".to_owned(),
                many,
                String::new(),
                amount.to_string(),
            ]);
        }
    }
    let mut sum = |name: String, amount: String| {
        rows.push(vec![name, String::new(), String::new(), amount]);
    };
    if !price.tax_percent.is_zero() {
        sum("Before tax".to_owned(), price.net.to_string());
        let tax = format!("Tax, {} %", price.tax_percent);
        sum(tax, price.tax.to_string());
    }
    sum("Total".to_owned(), price.total.to_string());
    (Table::new(&head, &right, rows), whole)
}

/// How much of a thing there is. Where it is charged for by another measure than `many` tells, that is added, so that whoever pays can
/// check the amount against the rate.
fn much(many: &str, line: &PriceLine, units: Units) -> String {
    let told = match line.item.as_str() {
        "turf" | "edging" => "piece",
        "topsoil" => "t",
        "skips" => "skip",
        "mulch" => "m3",
        "seed" | "fertiliser" => "kg",
        _ => "",
    };
    match line.unit.as_str() {
        unit if unit == told => many.to_owned(),
        _ => format!("{many} ({})", charged(line, units)),
    }
}

/// A rate with its unit, as in "2.84 / piece".
fn rate(line: &PriceLine) -> String {
    let unit = line.unit.replace("m2", "m²").replace("m3", "m³");
    match unit.as_str() {
        "" => quantity::rate(line),
        unit => format!("{} / {unit}", quantity::rate(line)),
    }
}

/// How sure the area is, in two sentences: what it was measured with, and what checks it.
fn sure(measured: &Measured, units: Units) -> String {
    let with = match (&measured.band, measured.is_drawn()) {
        (Some(_), true) => "Taken from a drawing or a list of corners, not walked.".to_owned(),
        (Some(band), false) => {
            let laps = measured.ring.as_ref().map_or(1, |ring| ring.laps);
            let laps = match laps {
                1 => "once round".to_owned(),
                2 => "twice round".to_owned(),
                laps => format!("{laps} times round"),
            };
            format!(
                "Walked {laps} with {}; one position is out by about {}.",
                words::kind(band.receiver),
                units.small_length(band.sigma_m)
            )
        }
        (None, _) => "Measured by tape.".to_owned(),
    };
    format!("{with} {}", checked::in_short(&measured.checked))
}

/// Shortens long tables: the first rows stay, one row says how many are left out, and the last row, a sum, stays too.
fn cut_short(mut blocks: Vec<Block>) -> Vec<Block> {
    for block in &mut blocks {
        if let Block::Table(Table { rows, .. }) = block
            && rows.len() > MOST_ROWS
        {
            let last = rows.pop();
            let more = rows.len() - (MOST_ROWS - 2);
            rows.truncate(MOST_ROWS - 2);
            rows.push(vec![format!("and {more} more, all in the record")]);
            rows.extend(last);
        }
    }
    blocks
}
