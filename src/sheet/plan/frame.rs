//! What stands round a drawing: the frame, and the strip below it with four columns that say what the drawing is, its figures, what its
//! lines and hatches stand for, and its scale and north. All lengths are in millimetres on the paper.

use super::fit::{Fit, MARGIN_MM, STRIP_MM, size_mm};
use super::place::{Block, Placer};
use crate::sheet::board::{
    Anchor, Circle, Ink, Mark, Page, Path, Stroke, Text, Weight, at, face, text,
};
use crate::sheet::text::words;
use crate::sheet::{paper_size, whose};
use crate::survey::Measured;
use crate::units::{FOOT_M, Units};
use geo::Coord;

const THIN: Stroke = Stroke::whole(Ink::TEXT, 0.2);
const SMALL_MM: f64 = 2.3;
const BODY_MM: f64 = 2.8;

/// One line of the strip's figures: a name and its value.
pub type Figure = (String, String);

/// An entry of the key: a sample of how something is drawn, and what it stands for.
#[derive(Clone, Copy)]
pub struct Key {
    pub mark: Sample,
    pub said: &'static str,
}

/// What a sample in the key looks like.
#[derive(Clone, Copy)]
pub enum Sample {
    Line(Stroke),
    Hatch(Stroke),
    Fill(Ink, Stroke),
}

/// What the strip says.
pub struct Strip {
    /// What kind of drawing it is, such as "PLAN" or "TURF ROWS".
    pub kind: &'static str,
    pub figures: Vec<Figure>,
    pub keys: Vec<Key>,
    /// What is said before the small print at the bottom of the first column.
    pub note: String,
}

/// A page with its frame and strip; the drawing itself is added afterwards.
pub(crate) fn page(measured: &Measured, fit: &Fit, strip: &Strip, units: Units) -> Page {
    let title = format!("{}: {}", strip.kind, whose(measured));
    let mut page = Page::new(fit.width_mm, fit.height_mm, &face::clean(&title));
    let (left, right) = (MARGIN_MM, fit.width_mm - MARGIN_MM);
    let (top, bottom) = (MARGIN_MM, fit.height_mm - MARGIN_MM);
    let strip_top = bottom - STRIP_MM;
    page.marks.push(Mark::Path(Path {
        lines: vec![vec![
            at(left, top),
            at(right, top),
            at(right, bottom),
            at(left, bottom),
        ]],
        closed: true,
        fill: None,
        stroke: Some(THIN),
    }));
    page.line(&[at(left, strip_top), at(right, strip_top)], THIN);
    // The shares of the strip's width that its first three columns take; the last has the rest. Wide paper gives the words more.
    let width = right - left;
    let shares = if width > 250.0 {
        [0.32, 0.28, 0.22]
    } else if width > 200.0 {
        [0.29, 0.30, 0.22]
    } else {
        [0.27, 0.29, 0.235]
    };
    let mut x = left;
    let mut edges = vec![left];
    for share in shares {
        x += share * width;
        edges.push(x);
        page.line(
            &[at(x, strip_top), at(x, bottom)],
            Stroke::whole(Ink::RULE, 0.15),
        );
    }
    edges.push(right);
    let column = |k: usize| {
        let (from, to) = (
            edges.get(k).copied().unwrap_or(left),
            edges.get(k + 1).copied().unwrap_or(right),
        );
        (from + 2.5, to - from - 5.0)
    };
    what(measured, strip, column(0), strip_top, bottom, &mut page);
    figures(&strip.figures, column(1), strip_top, &mut page);
    keys(&strip.keys, column(2), strip_top, &mut page);
    scale(fit, column(3), strip_top, bottom, units, &mut page);
    page
}

fn push(page: &mut Page, text: Text) {
    page.marks.push(Mark::Text(text));
}

/// The first column: kind of drawing, whose it is (two lines at most), date, small print.
fn what(
    measured: &Measured,
    strip: &Strip,
    (x, room): (f64, f64),
    top: f64,
    bottom: f64,
    page: &mut Page,
) {
    let mut y = top + 6.0;
    push(
        page,
        text(at(x, y), 4.2, Weight::Bold, Ink::TEXT, strip.kind),
    );
    let mut lines = face::wrap(&whose(measured), BODY_MM, Weight::Regular, room);
    if lines.len() > 2 {
        lines.truncate(2);
        if let Some(last) = lines.last_mut() {
            *last = face::fit(&format!("{last} …"), BODY_MM, Weight::Regular, room);
        }
    }
    for line in lines {
        y += 4.1;
        push(
            page,
            text(at(x, y), BODY_MM, Weight::Regular, Ink::TEXT, line),
        );
    }
    if let Some(date) = &measured.survey.date {
        y += 4.1;
        push(
            page,
            text(
                at(x, y),
                BODY_MM,
                Weight::Regular,
                Ink::TEXT,
                face::fit(
                    &super::super::paper::capital(&format!(
                        "{} {}",
                        words::measured_by(measured),
                        words::date(date)
                    )),
                    BODY_MM,
                    Weight::Regular,
                    room,
                ),
            ),
        );
    }
    small_print(&strip.note, (x, room), bottom, page);
}

/// The note and what the areas are and are not, so that the last line stands at the bottom of the frame.
fn small_print(note: &str, (x, room): (f64, f64), bottom: f64, page: &mut Page) {
    let small = format!("{note} Areas are horizontal. Not a survey of legal boundaries or levels.");
    let lines = face::wrap(small.trim(), SMALL_MM, Weight::Regular, room);
    let mut y = bottom - 2.2 - 2.9 * (lines.len().saturating_sub(1)) as f64;
    for line in lines {
        push(
            page,
            text(at(x, y), SMALL_MM, Weight::Regular, Ink::SOFT, line),
        );
        y += 2.9;
    }
}

/// The second column: names at the left, values at the right, the first line larger.
fn figures(figures: &[Figure], (x, room): (f64, f64), top: f64, page: &mut Page) {
    let mut y = top + 5.6;
    for (i, (name, value)) in figures.iter().enumerate() {
        let (weight, size) = match i {
            0 => (Weight::Bold, 3.3),
            _ => (Weight::Regular, BODY_MM),
        };
        let value = face::fit(value, size, weight, room);
        let taken = face::width_mm(&value, size, weight) + 1.5;
        push(
            page,
            text(
                at(x, y),
                size.min(BODY_MM),
                weight,
                Ink::TEXT,
                face::fit(name, size.min(BODY_MM), weight, (room - taken).max(4.0)),
            ),
        );
        push(
            page,
            Text {
                anchor: Anchor::End,
                ..text(at(x + room, y), size, weight, Ink::TEXT, value)
            },
        );
        y += 4.4;
    }
}

/// The third column: the samples and what they stand for.
fn keys(keys: &[Key], (x, room): (f64, f64), top: f64, page: &mut Page) {
    let mut y = top + 5.2;
    for key in keys {
        let (from, to) = (at(x, y - 0.9), at(x + 8.0, y - 0.9));
        match key.mark {
            Sample::Line(stroke) => page.line(&[from, to], stroke),
            Sample::Hatch(stroke) => {
                for k in 0..6 {
                    let x = x + 1.1 * f64::from(k) + 0.6;
                    page.line(&[at(x, y + 0.2), at(x + 2.0, y - 1.8)], stroke);
                }
            }
            Sample::Fill(ink, stroke) => page.marks.push(Mark::Path(Path {
                lines: vec![vec![
                    at(x, y - 2.1),
                    at(x + 8.0, y - 2.1),
                    at(x + 8.0, y + 0.3),
                    at(x, y + 0.3),
                ]],
                closed: true,
                fill: Some(ink),
                stroke: Some(stroke),
            })),
        }
        push(
            page,
            text(
                at(x + 10.0, y),
                SMALL_MM,
                Weight::Regular,
                Ink::TEXT,
                face::fit(key.said, SMALL_MM, Weight::Regular, room - 10.0),
            ),
        );
        y += 4.2;
    }
}

/// The last column: scale, paper, north, and a bar to check a print by.
fn scale(fit: &Fit, (x, room): (f64, f64), top: f64, bottom: f64, units: Units, page: &mut Page) {
    push(
        page,
        text(
            at(x, top + 6.0),
            3.6,
            Weight::Bold,
            Ink::TEXT,
            format!("1 : {}", crate::units::fixed(f64::from(fit.scale), 0)),
        ),
    );
    push(
        page,
        text(
            at(x, top + 9.8),
            SMALL_MM,
            Weight::Regular,
            Ink::SOFT,
            format!("on {}", fit.paper_name()),
        ),
    );
    north(at(x + room - 7.2, top + 11.5), fit.view.turn_rad, page);
    bar(fit, at(x, bottom - 8.0), room - 2.0, units, page);
    let said = "Print at 100 %, not “fit to page”.";
    push(
        page,
        text(
            at(x, bottom - 2.0),
            SMALL_MM,
            Weight::Regular,
            Ink::SOFT,
            face::fit(said, SMALL_MM, Weight::Regular, room),
        ),
    );
}

/// Draws a needle that points to grid north. One half is filled and the other open, so that it can be read in black and white.
pub(super) fn north(middle: Coord<f64>, turn_rad: f64, page: &mut Page) {
    let (sin, cos) = turn_rad.sin_cos();
    // A place given by how far right and up of the middle it is, turned clockwise with the drawing.
    let place = |right: f64, up: f64| {
        at(
            middle.x + right * cos + up * sin,
            middle.y + right * sin - up * cos,
        )
    };
    page.marks.push(Mark::Circle(Circle {
        centre: middle,
        radius_mm: 5.2,
        fill: None,
        stroke: Some(Stroke::whole(Ink::RULE, 0.2)),
    }));
    for (side, fill) in [(1.0, Ink::TEXT), (-1.0, Ink::WHITE)] {
        page.marks.push(Mark::Path(Path {
            lines: vec![vec![
                place(0.0, 5.0),
                place(side * 1.7, -4.2),
                place(0.0, -2.6),
            ]],
            closed: true,
            fill: Some(fill),
            stroke: Some(Stroke::whole(Ink::TEXT, 0.2)),
        }));
    }
    let letter = place(0.0, 6.9);
    push(
        page,
        Text {
            anchor: Anchor::Middle,
            ..text(
                at(letter.x, letter.y + 1.1),
                3.2,
                Weight::Bold,
                Ink::TEXT,
                "N",
            )
        },
    );
}

/// Lengths that a scale bar may have, in metres or feet.
const BARS: [f64; 16] = [
    0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0,
    20_000.0, 50_000.0,
];

/// Draws the longest scale bar that fits into the room, in four parts, with its left end at `place`. Nothing is drawn where even the
/// shortest does not fit.
pub(super) fn bar(fit: &Fit, place: Coord<f64>, room: f64, units: Units, page: &mut Page) {
    let unit_m = match units {
        Units::Metric => 1.0,
        Units::Imperial => FOOT_M,
    };
    let mm = |length: f64| length * unit_m * fit.view.mm_per_m;
    let end_text = 4.0;
    let Some(length) = BARS.into_iter().rev().find(|l| mm(*l) <= room - end_text) else {
        return;
    };
    let parts = 4;
    let step = mm(length) / f64::from(parts);
    for k in 0..parts {
        let x = place.x + step * f64::from(k);
        page.marks.push(Mark::Path(Path {
            lines: vec![vec![
                at(x, place.y),
                at(x + step, place.y),
                at(x + step, place.y + 1.6),
                at(x, place.y + 1.6),
            ]],
            closed: true,
            fill: Some(if k % 2 == 0 { Ink::TEXT } else { Ink::WHITE }),
            stroke: Some(Stroke::whole(Ink::TEXT, 0.15)),
        }));
    }
    for (part, anchor) in [
        (0.0, Anchor::Start),
        (0.5, Anchor::Middle),
        (1.0, Anchor::Middle),
    ] {
        let value = length * part;
        let mut said = format!("{value}");
        if part == 1.0 {
            said = format!("{said} {}", units.length_unit());
        }
        push(
            page,
            Text {
                anchor,
                ..text(
                    at(place.x + part * mm(length), place.y - 1.0),
                    SMALL_MM,
                    Weight::Regular,
                    Ink::TEXT,
                    said,
                )
            },
        );
    }
}

/// A page in place of a drawing that cannot be made; it says why.
pub(crate) fn empty(measured: &Measured, kind: &str, why: &str, units: Units) -> Page {
    let title = format!("{kind}: {}", whose(measured));
    let (width_mm, height_mm) = size_mm(paper_size(measured, units));
    let mut page = Page::new(width_mm, height_mm, &face::clean(&title));
    push(
        &mut page,
        text(at(20.0, 30.0), 5.0, Weight::Bold, Ink::TEXT, kind),
    );
    let mut y = 38.0;
    for said in [whose(measured).as_str(), why] {
        for said in face::wrap(said, 3.4, Weight::Regular, 170.0) {
            y += 5.0;
            push(
                &mut page,
                text(at(20.0, y), 3.4, Weight::Regular, Ink::TEXT, said),
            );
        }
        y += 2.0;
    }
    page.about = face::clean(why);
    page
}

/// Puts a short note into the top or bottom left corner of the drawing, if there is room for it.
pub(crate) fn note(said: &str, fit: &Fit, placer: &mut Placer, page: &mut Page) {
    let room = fit.room();
    let wide = face::width_mm(said, SMALL_MM, Weight::Regular);
    let spots = [room.min().y + 3.2, room.max().y - 2.6].map(|y| super::place::Spot {
        block: Block {
            middle: at(room.min().x + 2.0 + 0.5 * wide, y),
            width_mm: wide,
            height_mm: SMALL_MM,
            turn_deg: 0.0,
        },
        tied_to: None,
    });
    if let Some(spot) = placer.place(spots) {
        push(
            page,
            Text {
                anchor: Anchor::Middle,
                ..text(
                    at(spot.block.middle.x, spot.block.middle.y + 0.8),
                    SMALL_MM,
                    Weight::Regular,
                    Ink::SOFT,
                    said,
                )
            },
        );
    }
}
