//! The crew sheet: what to check with a tape, where everything stands, how the turf is laid.

use super::super::block::{Block, Paper, Table};
use super::super::text::words;
use super::super::{order, plan, tape};
use super::{beds, cautions, edges, paper, said};
use crate::order::Slope;
use crate::order::rows::Rows;
use crate::order::turf::Turf;
use crate::survey::Measured;
use crate::survey::measured::Status;
use crate::units::Units;

/// Rows printed on the sheet; the rest are in the list of cuts.
const MOST_ROWS: usize = 120;

pub fn crew(measured: &Measured, units: Units) -> Paper {
    let mut blocks = Vec::new();
    if measured.status != Status::Ok {
        blocks.push(Block::Alert(
            "Ask the office before starting".to_owned(),
            vec!["This measurement is flagged: something in it needs a look, or no area was given. The site sheet says what.".to_owned()],
        ));
    }
    blocks.extend(cautions(measured));
    if let Some(slope) = measured.slope.filter(|slope| slope.percent > 0.0) {
        blocks.push(Block::Heading("The slope".to_owned()));
        blocks.push(Block::Say(on_the_slope(&slope)));
    }
    blocks.push(Block::Heading("Check with the tape first".to_owned()));
    blocks.extend(
        tape::checking(measured, units)
            .said()
            .into_iter()
            .take_while(
                // What is typed at the desk does not belong on site.
                |block| !matches!(block, Block::Heading(said) if said == "Back at the desk"),
            ),
    );
    blocks.push(Block::Say(
        "If every line is within its limit, go on. If one is not, tape it again; if it stays so, stop and ring the office: the \
         order may be wrong."
            .to_owned(),
    ));
    blocks.push(Block::Heading("Set out".to_owned()));
    blocks.extend(tape::setting_out(measured, units).said());
    blocks.push(Block::Say(
        "A right angle from the tape: 3 m along it, 4 m off it, 5 m across.".to_owned(),
    ));
    if let Some(set_out) = plan::from_baseline(measured, units) {
        blocks.push(Block::Plan(Box::new(set_out)));
    }
    blocks.extend(edges(measured, units));
    blocks.extend(beds(measured, units));
    if let Some(ordered) = &measured.order {
        if let Some(turf) = &ordered.turf {
            blocks.push(Block::Heading("Lay the turf".to_owned()));
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
            blocks.push(Block::Heading("Edging, run by run".to_owned()));
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
            blocks.push(Block::Table(Table::new(
                &["Round", "length", "with its error", "pieces"],
                &[false, true, true, true],
                rows,
            )));
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
    paper(measured, "Crew sheet", blocks)
}

/// What a tape reads on it.
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
        "There is a {said}: along the fall the ground is {:.3} times as long as the plan. {tape}",
        slope.factor()
    )
}

/// Row by row what is laid, from where the row starts.
fn cut_list(rows: &Rows, turf: &Turf, units: Units) -> Vec<Block> {
    let mut table: Vec<Vec<String>> = Vec::new();
    for row in rows.layout.iter().take(MOST_ROWS) {
        let mut parts: Vec<String> = Vec::new();
        let mut whole = 0;
        let close = |whole: &mut u32, parts: &mut Vec<String>| {
            if *whole > 0 {
                parts.push(format!("{whole} whole"));
                *whole = 0;
            }
        };
        for piece in &row.pieces {
            let length_m = piece.end_m - piece.start_m;
            if length_m >= turf.piece_length_m - 0.005 {
                whole += 1;
                continue;
            }
            close(&mut whole, &mut parts);
            let mark = if piece.offcut { " (offcut)" } else { "" };
            parts.push(format!("{}{mark}", units.plain_length(length_m)));
        }
        close(&mut whole, &mut parts);
        table.push(vec![row.row.to_string(), parts.join(" + ")]);
    }
    let mut blocks = vec![
        Block::Heading("Row by row".to_owned()),
        Block::Table(Table::new(
            &["Row", "pieces, from where the row starts"],
            &[true, false],
            table,
        )),
    ];
    if rows.layout.len() > MOST_ROWS {
        blocks.push(Block::Say(format!(
            "and {} more stretches of rows: see rows.csv.",
            rows.layout.len() - MOST_ROWS
        )));
    }
    blocks
}
