//! The plan of the turf as it is laid: every piece in its place, whole and cut ones in different colours, the rows' numbers, and the
//! lengths to cut. Where rows would be too narrow on the paper only some are drawn, as numbered lines.

use super::fit::{self, Fit};
use super::frame::{self, Key, Sample, Strip};
use super::ground;
use super::labels::{self, Words};
use super::lawn::{NOTHING, corners};
use super::place::{Block, Placer, Spot};
use crate::order::rows::{Row, Rows};
use crate::order::turf::Turf;
use crate::sheet::board::{Group, Ink, Mark, Page, Path, Stroke, at};
use crate::sheet::order::MOST_ROWS;
use crate::sheet::{paper_size, quantity};
use crate::survey::Measured;
use crate::units::{Units, fixed};
use geo::Coord;

/// Colours of whole pieces and of cut ones.
const WHOLE: Ink = Ink(0xf4, 0xf8, 0xf0);
const CUT: Ink = Ink(0xc9, 0xdc, 0xbd);
const PIECE_LINE: Stroke = Stroke::whole(Ink(0x5d, 0x6b, 0x62), 0.12);
/// The text within a row is no larger than this part of the row's width, and no larger or smaller than these sizes in millimetres.
const PART: f64 = 0.58;
const LARGEST_MM: f64 = 2.5;
const SMALLEST_MM: f64 = 1.35;
/// Rows are numbered no closer than this, millimetres.
const NUMBERS_MM: f64 = 3.0;
/// Rows narrower than this are not drawn one by one, millimetres: so many lines would only make the lawn grey.
const NARROW_MM: f64 = 1.0;
/// A piece shorter than the full length by more than this is cut, metres.
const WHOLE_M: f64 = 0.005;

/// Said where no rows were laid out.
const NO_ROWS: &str =
    "No rows of turf were laid out: the job sheet asks for none, or no area could be given.";

/// The plan; where no rows were laid out, a page that says so.
pub(crate) fn rows(measured: &Measured, units: Units) -> Page {
    laid_out(measured, units).unwrap_or_else(|| frame::empty(measured, "TURF ROWS", NO_ROWS, units))
}

/// The plan, where rows were laid out.
pub(crate) fn laid_out(measured: &Measured, units: Units) -> Option<Page> {
    let turf = measured.order.as_ref()?.turf.as_ref()?;
    let rows = turf.rows.as_ref()?;
    let mut places = ground::places(measured);
    for row in &rows.layout {
        let end = row.pieces.last().map_or(0.0, |piece| piece.end_m);
        let strip = rows.on_plan(row, turf.piece_width_m, 0.0, end);
        places.extend(geo::CoordsIter::coords_iter(&strip));
    }
    let Some(fit) = fit::choose(&places, paper_size(measured, units)) else {
        return Some(frame::empty(measured, "TURF ROWS", NOTHING, units));
    };
    let mut page = frame::page(measured, &fit, &strip(turf, rows, &fit, units), units);
    page.about = format!(
        "{} at {:.0} degrees from north, {}. Row by row lengths are in rows.csv.",
        quantity::count(rows.rows, "row"),
        rows.direction_deg,
        quantity::count(rows.pieces, &turf.noun)
    );
    let mut placer = Placer::new(fit.room());
    let left = draw(
        measured,
        turf,
        rows,
        &fit,
        units,
        &mut placer,
        &mut page.marks,
    );
    if left > 0 {
        let all = match rows.layout.len() > MOST_ROWS {
            true => "rows.csv has them all",
            false => "rows.csv and the crew sheet have them all",
        };
        frame::note(
            &format!("{left} cut lengths did not fit on this plan: {all}."),
            &fit,
            &mut placer,
            &mut page,
        );
    }
    Some(page)
}

/// Draws everything; says how many lengths found no room.
fn draw(
    measured: &Measured,
    turf: &Turf,
    rows: &Rows,
    fit: &Fit,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let (drawing, view) = (&measured.drawing, &fit.view);
    let pitch_mm = turf.piece_width_m * view.mm_per_m;
    if pitch_mm < NARROW_MM {
        numbered_rows(measured, rows, fit, pitch_mm, placer, marks);
    } else {
        pieces(turf, rows, fit, placer, marks);
    }
    let taken = ground::taken(drawing, view, placer);
    let mut over = Vec::new();
    ground::outlines(drawing, view, placer, &mut over);
    let mut said = Vec::new();
    corners(measured, view, units, placer, &mut said);
    numbers(rows, fit, pitch_mm, placer, &mut said);
    let left = cuts(turf, rows, fit, pitch_mm, units, placer, &mut said);
    for taken in &taken {
        taken.draw(&placer.gaps(), marks);
    }
    marks.append(&mut over);
    marks.append(&mut said);
    left
}

/// Draws every piece in its place, whole ones and cut ones in their colours.
fn pieces(turf: &Turf, rows: &Rows, fit: &Fit, placer: &mut Placer, marks: &mut Vec<Mark>) {
    let (mut whole, mut cut) = (Vec::new(), Vec::new());
    for row in &rows.layout {
        for piece in &row.pieces {
            let strip = rows.on_plan(row, turf.piece_width_m, piece.start_m, piece.end_m);
            let rings = fit.view.rings(&strip);
            for ring in &rings {
                placer.ring(ring);
            }
            if piece.end_m - piece.start_m < turf.piece_length_m - WHOLE_M {
                cut.extend(rings);
            } else {
                whole.extend(rings);
            }
        }
    }
    for (rings, fill) in [(whole, WHOLE), (cut, CUT)] {
        if rings.is_empty() {
            continue;
        }
        // Each piece is a path of its own: filled as one path by the even-odd rule, pieces that overlap would leave holes.
        let path = |ring| {
            Mark::Path(Path {
                lines: vec![ring],
                closed: true,
                fill: Some(fill),
                stroke: Some(PIECE_LINE),
            })
        };
        marks.push(Mark::Group(Group {
            class: "pieces",
            tip: None,
            marks: rings.into_iter().map(path).collect(),
        }));
    }
}

/// Draws the lawn and, since its rows are too narrow to draw, only the middle line of those rows that get a number.
fn numbered_rows(
    measured: &Measured,
    rows: &Rows,
    fit: &Fit,
    pitch_mm: f64,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) {
    for lawn in &measured.drawing.lawns {
        marks.push(Mark::Path(Path {
            lines: fit.view.rings(&lawn.net),
            closed: true,
            fill: Some(WHOLE),
            stroke: None,
        }));
    }
    let lines: Vec<Vec<Coord<f64>>> = rows
        .layout
        .iter()
        .filter(|row| row.row % every(pitch_mm) == 0)
        .map(|row| {
            let (from, to) = ends(row, fit);
            vec![from, to]
        })
        .collect();
    for line in &lines {
        placer.line(line);
    }
    if !lines.is_empty() {
        marks.push(Mark::Path(Path {
            lines,
            closed: false,
            fill: None,
            stroke: Some(PIECE_LINE),
        }));
    }
}

/// Every how many rows one gets a number, so that numbers are not too close.
fn every(pitch_mm: f64) -> u64 {
    [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000]
        .into_iter()
        .find(|n| *n as f64 * pitch_mm >= NUMBERS_MM)
        .unwrap_or(1000)
}

/// Where a row's middle line starts and ends on the paper.
fn ends(row: &Row, fit: &Fit) -> (Coord<f64>, Coord<f64>) {
    let place = |[x, y]: [f64; 2]| fit.view.at(at(x, y));
    (place(row.from_m), place(row.to_m))
}

/// Writes numbers beside the rows, at the end where each begins or, for want of room, at the other: of the first row, the last one, and
/// those between at even steps. Numbers that find no room are left out without a word.
fn numbers(rows: &Rows, fit: &Fit, pitch_mm: f64, placer: &mut Placer, marks: &mut Vec<Mark>) {
    let every = every(pitch_mm);
    let mut last = 0;
    for row in &rows.layout {
        let first_or_round = row.row == 1 || row.row % every == 0 || row.row == rows.rows;
        if row.row == last || !first_or_round {
            continue;
        }
        last = row.row;
        let (from, to) = ends(row, fit);
        let length = (to.x - from.x).hypot(to.y - from.y).max(1e-9);
        let (ux, uy) = ((to.x - from.x) / length, (to.y - from.y) / length);
        let said = if row.row == 1 {
            "row 1, start".to_owned()
        } else {
            row.row.to_string()
        };
        let size = (0.8 * pitch_mm * every as f64).clamp(SMALLEST_MM + 0.4, 2.4);
        let words = Words {
            weight: crate::sheet::board::Weight::Bold,
            ..Words::new(&[&said], size, Ink::TEXT)
        };
        let turn = labels::upright(uy.atan2(ux).to_degrees());
        let spots = [1.2, 2.5, 4.5, 7.0, 10.0].into_iter().flat_map(|away| {
            let far = away + 0.5 * words.width_mm();
            [(from, -1.0), (to, 1.0)].map(|(end, way)| Spot {
                block: words.block(at(end.x + way * far * ux, end.y + way * far * uy), turn),
                tied_to: None,
            })
        });
        let spots: Vec<Spot> = spots.collect();
        words.put("row", None, spots, placer, marks);
    }
}

/// Writes the length of each cut piece into it; says how many found no room.
fn cuts(
    turf: &Turf,
    rows: &Rows,
    fit: &Fit,
    pitch_mm: f64,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let size = (PART * pitch_mm).min(LARGEST_MM);
    let mut left = 0;
    for row in &rows.layout {
        let (from, to) = ends(row, fit);
        let length_mm = (to.x - from.x).hypot(to.y - from.y);
        let whole_m = row.pieces.last().map_or(0.0, |piece| piece.end_m);
        if !(length_mm > 0.0 && whole_m > 0.0) {
            continue;
        }
        let (ux, uy) = ((to.x - from.x) / length_mm, (to.y - from.y) / length_mm);
        let turn = labels::upright(uy.atan2(ux).to_degrees());
        for piece in &row.pieces {
            let length_m = piece.end_m - piece.start_m;
            if length_m >= turf.piece_length_m - WHOLE_M {
                continue;
            }
            if size < SMALLEST_MM {
                left += 1;
                continue;
            }
            let said = match units {
                Units::Metric => fixed(length_m, 2),
                Units::Imperial => units.plain_length(length_m),
            };
            let middle = |part: f64| {
                let along = length_mm * (piece.start_m + part * length_m) / whole_m;
                at(from.x + along * ux, from.y + along * uy)
            };
            match length_in_place(&said, size, turn, &middle, placer) {
                Some(drawn) => marks.extend(drawn),
                None => left += 1,
            }
        }
    }
    left
}

/// A piece's length where there is room for it, in smaller letters rather than not at all. `middle` gives the place at a part (0 to 1) of
/// the piece.
fn length_in_place(
    said: &str,
    size_mm: f64,
    turn_deg: f64,
    middle: &dyn Fn(f64) -> Coord<f64>,
    placer: &mut Placer,
) -> Option<Vec<Mark>> {
    let sizes = [1.0, 0.85, 0.7, 0.6].map(|part| part * size_mm);
    let mut sizes = sizes.into_iter().filter(|size| *size >= SMALLEST_MM);
    let (words, spot) = sizes.find_map(|size| {
        let words = Words::new(&[said], size, Ink::TEXT);
        // Figures do not reach below the line they stand on, so the block is only as high as they are.
        let spots = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8].map(|part| Spot {
            block: Block {
                height_mm: 0.72 * size,
                ..words.block(middle(part), turn_deg)
            },
            tied_to: None,
        });
        placer.place(spots).map(|spot| (words, spot))
    })?;
    // The block found is centred on the figures; the one to draw in also has the unused depth below them.
    let (sin, cos) = spot.block.turn_deg.to_radians().sin_cos();
    let down = 0.5 * crate::sheet::board::face::DEPTH * words.size_mm;
    let block = Block {
        height_mm: words.height_mm(),
        middle: at(
            spot.block.middle.x - down * sin,
            spot.block.middle.y + down * cos,
        ),
        ..spot.block
    };
    Some(words.marks(&block))
}

fn pieces_keys(pitch_mm: f64, units: Units) -> Vec<Key> {
    if pitch_mm < NARROW_MM {
        return vec![Key {
            mark: Sample::Line(PIECE_LINE),
            said: "numbered rows only",
        }];
    }
    vec![
        Key {
            mark: Sample::Fill(WHOLE, PIECE_LINE),
            said: "whole piece",
        },
        Key {
            mark: Sample::Fill(CUT, PIECE_LINE),
            said: match units {
                Units::Metric => "cut to length, in metres",
                Units::Imperial => "cut to length",
            },
        },
    ]
}

fn strip(turf: &Turf, rows: &Rows, fit: &Fit, units: Units) -> Strip {
    let pitch_mm = turf.piece_width_m * fit.view.mm_per_m;
    let noun = &turf.noun;
    let figures = vec![
        (
            "Order".to_owned(),
            quantity::count(turf.ordered_pieces, noun),
        ),
        (
            format!("One {noun}"),
            quantity::size(turf.piece_width_m, turf.piece_length_m, units),
        ),
        ("Rows".to_owned(), rows.rows.to_string()),
        (
            "Direction".to_owned(),
            format!("{:.0}° from north", rows.direction_deg),
        ),
        ("Laid out".to_owned(), quantity::count(rows.pieces, noun)),
        (
            "Joints apart".to_owned(),
            units.small_length(rows.stagger_m),
        ),
    ];
    Strip {
        kind: "TURF ROWS",
        figures,
        keys: [
            pieces_keys(pitch_mm, units),
            vec![
                Key {
                    mark: Sample::Line(ground::EDGE_LINE),
                    said: "edge: trim here",
                },
                Key {
                    mark: Sample::Hatch(Stroke::whole(ground::TAKEN, 0.2)),
                    said: "no turf",
                },
            ],
        ]
        .concat(),
        note: "Start at row 1; pieces butt together.".to_owned(),
    }
}
