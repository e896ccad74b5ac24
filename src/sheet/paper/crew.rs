//! The crew sheet: the order of work, which lines to check with a tape first, how to set out the lawn from a baseline (a straight line
//! on the ground from which points are measured), how the turf is laid row by row, edging, deliveries and cautions. It says no
//! prices.

use super::super::block::{Block, Paper, Table};
use super::super::order::MOST_ROWS;
use super::super::quantity::{
    bought_kg, bought_m3, count, depth, litres, per_area, tonnes, volume,
};
use super::super::text::words;
use super::super::{order, plan, tape};
use super::{access, beds, cautions, customer_pair, edges, pair, paper, said};
use crate::order::edging::Edging;
use crate::order::rows::Rows;
use crate::order::turf::Turf;
use crate::order::{Ordered, Slope};
use crate::survey::Measured;
use crate::survey::measured::Status;
use crate::units::Units;

/// The crew sheet as a list of blocks. A flagged or withheld measurement is told at its top.
pub fn crew(measured: &Measured, units: Units) -> Paper {
    let mut blocks = Vec::new();
    if measured.status != Status::Ok {
        blocks.push(Block::Alert(
            "Ask the office before starting".to_owned(),
            vec!["This measurement is flagged: something in it needs a look, or no area was given. The record says what.".to_owned()],
        ));
    }
    blocks.extend(whereabouts(measured, units));
    blocks.extend(lawns(measured, units));
    blocks.extend(work(measured, units));
    blocks.extend(cautions(measured, units));
    if let Some(slope) = measured.slope.filter(|slope| slope.percent > 0.0) {
        blocks.push(Block::Heading("The slope".to_owned()));
        blocks.push(Block::Say(on_the_slope(&slope)));
    }
    blocks.extend(checked_and_set_out(measured, units));
    blocks.extend(edges(measured, units));
    blocks.extend(beds(measured, units));
    if let Some(ordered) = &measured.order {
        if let Some(turf) = &ordered.turf {
            blocks.push(Block::Heading("Lay the turf".to_owned()));
            blocks.extend(pair("Kind", turf.kind.clone()));
            blocks.extend(said(|out| order::turf_lines(turf, units, out)));
            if let Some(rows) = &turf.rows {
                blocks.extend(said(|out| order::layout(rows, turf, units, out)));
                blocks.extend(cut_list(rows, turf, units));
            }
        }
        if let Some(page) = plan::laid_out(measured, units) {
            blocks.push(Block::Plan(Box::new(page)));
        }
        if let Some(edging) = &ordered.edging {
            blocks.extend(edging_runs(edging, units));
        }
        if !ordered.deliveries.is_empty() {
            blocks.push(Block::Heading("When".to_owned()));
            blocks.extend(said(|out| order::laying_lines(ordered, units, out)));
        }
    }
    blocks.push(Block::Heading("Fill in on site".to_owned()));
    blocks.push(Block::Write(
        [
            "Services asked for, ticket number",
            "Pallets set down at",
            "Turf came at, laid by",
            "Watering began at",
            "Edges agreed with",
            "Signed, date",
        ]
        .map(str::to_owned)
        .to_vec(),
    ));
    paper(measured, units, "Crew sheet", blocks)
}

/// A table of the edging: each run (a stretch without a break) with its length and its pieces.
fn edging_runs(edging: &Edging, units: Units) -> [Block; 2] {
    let rows = edging
        .runs
        .iter()
        .map(|run| {
            vec![
                if run.label.is_empty() {
                    "lawn".to_owned()
                } else {
                    run.label.clone()
                },
                units.plain_length(run.length_m),
                units.plain_length(run.order_m),
                run.pieces.to_string(),
            ]
        })
        .collect();
    let table = Table::new(
        &["Round", "length", "with its error", "pieces"],
        &[false, true, true, true],
        rows,
    );
    [
        Block::Heading("Edging, run by run".to_owned()),
        Block::Table(table),
    ]
}

/// First the lines to tape with what the tape should read; then, lawn by lawn, where everything stands from a baseline. A lawn that
/// was itself taped is checked by taping again.
fn checked_and_set_out(measured: &Measured, units: Units) -> Vec<Block> {
    let mut blocks = vec![Block::Heading("Check with the tape first".to_owned())];
    let taped = !measured.taped.shapes.is_empty();
    if taped {
        blocks.push(Block::Say(
            "This lawn was taped figure by figure: the record has every length. Tape the longest of them again; if one does not \
             fit, stop and ring the office."
                .to_owned(),
        ));
    } else {
        let checking = tape::checking(measured, units).said().into_iter();
        // The part about what to type into the job sheet afterwards is left out: it is no work on site.
        blocks.extend(checking.take_while(
            |block| !matches!(block, Block::Heading(said) if said == "Back at the desk"),
        ));
    }
    let lawns = measured.lawn_sheets();
    if lawns.iter().all(|lawn| lawn.set_out.is_none()) {
        return blocks;
    }
    if !taped {
        blocks.push(Block::Say(
            "If every line is within its limit, go on. If one is not, tape it again; if it stays so, stop and ring the office: the \
             order may be wrong."
                .to_owned(),
        ));
    }
    blocks.push(Block::Heading("Set out".to_owned()));
    blocks.extend(tape::setting_out(measured, units).said());
    blocks.push(Block::Say(format!(
        "A right angle from the tape: {}.",
        match units {
            Units::Metric => "3 m along it, 4 m off it, 5 m across",
            Units::Imperial => "6 ft along it, 8 ft off it, 10 ft across",
        }
    )));
    let set_out = plan::from_baseline(measured, units);
    blocks.extend(set_out.map(|page| Block::Plan(Box::new(page))));
    blocks
}

/// For whom the job is, how to get there, where to set things down, notes, and when turf comes; as far as the job sheet says.
fn whereabouts(measured: &Measured, units: Units) -> Vec<Block> {
    let mut blocks: Vec<Block> = customer_pair(measured).into_iter().collect();
    blocks.extend(access(measured, units));
    let unload = measured.paperwork.access.as_ref();
    blocks.extend(pair(
        "Set down",
        unload.and_then(|access| access.unload.clone()),
    ));
    blocks.extend(pair("Notes", measured.paperwork.notes.clone()));
    let delivery = measured
        .order
        .as_ref()
        .and_then(|order| order.delivery.as_ref());
    if let Some(delivery) = delivery {
        let day = delivery.date.map(|day| words::date(&day.to_string()));
        let when: Vec<String> = day.into_iter().chain(delivery.hours.clone()).collect();
        blocks.extend(pair(
            "Turf comes",
            Some(when.join(", ")).filter(|when| !when.is_empty()),
        ));
    }
    blocks
}

/// A table of the lawns by their labels; `None` where there is only one.
fn lawns(measured: &Measured, units: Units) -> Option<Block> {
    let rows = measured
        .lawns
        .iter()
        .map(|lawn| vec![lawn.label.clone(), units.plain_area(lawn.net_m2)]);
    let table = Table::new(&["Lawn", "net area"], &[false, true], rows.collect());
    (measured.lawns.len() > 1).then_some(Block::Table(table))
}

/// The steps of the work in their order (common practice, no source), as far as they follow from the order; none without an order.
fn work(measured: &Measured, units: Units) -> Vec<Block> {
    let Some(ordered) = &measured.order else {
        return Vec::new();
    };
    let steps = steps(ordered, units).into_iter().enumerate();
    let rows = steps.map(|(at, step)| vec![(at + 1).to_string(), step]);
    vec![
        Block::Heading("Order of work".to_owned()),
        Block::Table(Table::new(&[], &[true, false], rows.collect())),
    ]
}

/// What is done, in this order, to bring in what was ordered.
fn steps(ordered: &Ordered, units: Units) -> Vec<String> {
    let mut steps = vec![
        "See that services have been asked for and shown; look at the way in.".to_owned(),
        "Tape the lines below; stop if one does not fit.".to_owned(),
        "Set out corners, beds and edges; agree the edge with the customer.".to_owned(),
    ];
    if let Some(old) = &ordered.old_turf {
        let (deep, skips) = (depth(old.depth_m, units), count(old.skips, "skip"));
        steps.push(format!("Strip the old turf, {deep}: {skips}."));
    }
    if let Some(soil) = &ordered.soil {
        steps.push(format!(
            "Spread {} of topsoil ({} loose), {} deep once settled; heel, rake, and let it fall away from the house.",
            tonnes(soil.order_tonnes, units),
            volume(soil.cover * soil.loose_m3, units),
            depth(soil.depth_m, units)
        ));
    }
    if let Some(edging) = &ordered.edging {
        let pieces = count(edging.pieces, "piece");
        steps.push(format!("Set the edging, {pieces}, run by run as below."));
    }
    for (what, spread) in [
        ("Rake in the fertiliser", &ordered.fertiliser),
        ("Sow", &ordered.seed),
    ] {
        if let Some(spread) = spread {
            let rate = per_area(spread.g_per_m2, units);
            steps.push(format!(
                "{what}: {} at {rate}.",
                bought_kg(spread.order_kg, units)
            ));
        }
    }
    if let Some(turf) = &ordered.turf {
        steps.push(format!(
            "Lay {} row by row as drawn, butted tight and never stretched, off boards; keep the offcuts the list uses again.",
            count(turf.laid_pieces, &turf.noun)
        ));
    }
    if let Some(mulch) = &ordered.mulch {
        steps.push(format!(
            "Mulch {}, {} deep, {} clear of the trunk: {} loose.",
            count(mulch.rings, "tree ring"),
            depth(mulch.depth_m, units),
            units.small_length(mulch.clear_radius_m),
            bought_m3(mulch.m3, units)
        ));
    }
    match &ordered.water {
        Some(water) => steps.push(format!("Water at once: {}.", litres(water.litres, units))),
        None if ordered.turf.is_some() => {
            steps.push("Water at once, until it is wet below the turf.".to_owned())
        }
        None => {}
    }
    steps
}

/// What the slope means for lengths taken with a tape.
fn on_the_slope(slope: &Slope) -> String {
    let tape = match slope.fall_deg {
        Some(_) => {
            "Lengths, chainages and offsets to tape are along the ground; what is measured on the plan is shorter."
        }
        None => {
            "Which way it falls is not known, so lengths are as on the plan: along the fall a tape on the ground reads more."
        }
    };
    let said = words::slope(slope);
    format!(
        "{}: along the fall the ground is {:.3} times as long as the plan. {tape}",
        super::print::capital(&said),
        slope.factor()
    )
}

/// A table of the rows: what is laid in each, piece by piece from where the row starts, whole pieces that follow each other as a number.
/// The lawn's name is a column only where there are several lawns.
fn cut_list(rows: &Rows, turf: &Turf, units: Units) -> Vec<Block> {
    let mut table: Vec<Vec<String>> = Vec::new();
    for row in rows.layout.iter().take(MOST_ROWS) {
        let mut parts: Vec<String> = Vec::new();
        let mut whole = 0;
        // Writes down the whole pieces counted so far, if any, and begins to count anew.
        let close = |whole: &mut u32, parts: &mut Vec<String>| {
            if *whole > 0 {
                parts.push(format!("{whole} whole"));
                *whole = 0;
            }
        };
        for piece in &row.pieces {
            let length_m = piece.end_m - piece.start_m;
            // A piece that is less than half a centimetre short counts as whole.
            if length_m >= turf.piece_length_m - 0.005 {
                whole += 1;
                continue;
            }
            close(&mut whole, &mut parts);
            let mark = if piece.offcut { " (offcut)" } else { "" };
            parts.push(format!("{}{mark}", units.plain_length(length_m)));
        }
        close(&mut whole, &mut parts);
        table.push(vec![
            row.row.to_string(),
            row.lawn.clone(),
            parts.join(" + "),
        ]);
    }
    let several = rows
        .layout
        .windows(2)
        .any(|pair| pair[0].lawn != pair[1].lawn);
    let mut head = vec!["Row", "lawn", "pieces, from where the row starts"];
    let mut right = vec![true, false, false];
    if !several {
        head.remove(1);
        right.remove(1);
        for cells in &mut table {
            cells.remove(1);
        }
    }
    let mut blocks = vec![
        Block::Heading("Row by row".to_owned()),
        Block::Table(Table::new(&head, &right, table)),
    ];
    if rows.layout.len() > MOST_ROWS {
        blocks.push(Block::Say(format!(
            "and {} more stretches of rows: see rows.csv.",
            rows.layout.len() - MOST_ROWS
        )));
    }
    blocks
}
