//! The plan for setting out: a tape is laid along a baseline between two corners, and every point is given by how far along the tape it is
//! (its chainage) and how far from the tape at right angles (its offset). On a slope both are along the ground, while the plan
//! shows the horizontal.

use super::fit::{self, Fit};
use super::frame::{self, Key, Sample, Strip};
use super::ground;
use super::labels::{self, Words};
use super::lawn::{NOTHING, corners};
use super::place::{Placer, Spot};
use crate::order::slope::{Slope, Stretch};
use crate::sheet::board::{Circle, Ink, Mark, Page, Stroke, Weight, at, line};
use crate::sheet::paper_size;
use crate::survey::Measured;
use crate::tape::setout::{Baseline, Row, SetOut, What};
use crate::units::{Units, fixed};
use geo::Coord;

const TAPE: Ink = Ink(0x0b, 0x3f, 0x7a);
const BASELINE: Stroke = Stroke {
    ink: TAPE,
    width_mm: 0.5,
    dash_mm: &[6.0, 1.2, 1.2, 1.2],
};
const OFFSET: Stroke = Stroke {
    ink: TAPE,
    width_mm: 0.16,
    dash_mm: &[1.0, 0.8],
};
const CURVE: Stroke = Stroke {
    ink: TAPE,
    width_mm: 0.1,
    dash_mm: &[0.3, 0.6],
};
/// How far the baseline is drawn on at both ends, millimetres.
const OVER_MM: f64 = 5.0;
const SIZE_MM: f64 = 2.3;
/// Places closer than this on the paper count as one, so their figure is written once. Millimetres.
const SAME_MM: f64 = 1.0;

/// Said where there is no baseline.
const NO_BASELINE: &str = "There are no two corners to lay a baseline between.";

/// The plan; where there is no baseline, a page that says so.
pub(crate) fn set_out(measured: &Measured, units: Units) -> Page {
    from_baseline(measured, units)
        .unwrap_or_else(|| frame::empty(measured, "SETTING OUT", NO_BASELINE, units))
}

/// The plan, where there is a baseline to set out from.
pub(crate) fn from_baseline(measured: &Measured, units: Units) -> Option<Page> {
    let lawns = measured.lawn_sheets();
    let tables: Vec<&SetOut> = lawns
        .iter()
        .filter_map(|lawn| lawn.set_out.as_ref())
        .collect();
    let first = tables.first()?;
    let mut places = ground::places(measured);
    for table in &tables {
        let tape = Tape::of(measured, &table.baseline);
        places.extend([0.0, table.baseline.length_m].map(|chainage_m| tape.at(chainage_m, 0.0)));
        places.extend(table.rows.iter().map(|row| tape.foot(row)));
    }
    let Some(fit) = fit::choose(&places, paper_size(measured, units)) else {
        return Some(frame::empty(measured, "SETTING OUT", NOTHING, units));
    };
    let mut page = frame::page(measured, &fit, &strip(&tables, units), units);
    let baselines: Vec<String> = tables
        .iter()
        .map(|table| baseline_said(&table.baseline, units))
        .collect();
    page.about = format!(
        "{}. Chainages and offsets are in the table{}.",
        baselines.join("; "),
        match Tape::of(measured, &first.baseline).stretch {
            Some(_) => ", along the slope",
            None => "",
        }
    );
    let mut placer = Placer::new(fit.room());
    let left = draw(measured, &tables, &fit, units, &mut placer, &mut page.marks);
    if left > 0 {
        frame::note(
            "Some figures did not fit on this plan: the set-out table has them all.",
            &fit,
            &mut placer,
            &mut page,
        );
    }
    Some(page)
}

/// The baseline in words.
fn baseline_said(baseline: &Baseline, units: Units) -> String {
    format!(
        "Baseline from {} to {}, {}",
        baseline.from,
        baseline.to,
        units.on_a_tape(baseline.length_m)
    )
}

/// The tape along a baseline. It knows where a chainage and an offset, both along the ground, lie on the plan.
struct Tape<'a> {
    baseline: &'a Baseline,
    stretch: Option<Stretch>,
}

impl Tape<'_> {
    fn of<'a>(measured: &Measured, baseline: &'a Baseline) -> Tape<'a> {
        let slope = measured.slope.as_ref();
        Tape {
            baseline,
            stretch: slope.and_then(Slope::stretch),
        }
    }

    fn on_plan(&self, ground: Coord<f64>) -> Coord<f64> {
        self.stretch.map_or(ground, |stretch| stretch.plan(ground))
    }

    /// The place on the plan that lies so far along the tape and so far to its left.
    fn at(&self, chainage_m: f64, left_m: f64) -> Coord<f64> {
        let (start, end) = (self.baseline.start, self.baseline.end);
        let length = (end.x - start.x).hypot(end.y - start.y);
        let along = (end - start) / length.max(f64::MIN_POSITIVE);
        self.on_plan(start + along * chainage_m + at(-along.y, along.x) * left_m)
    }

    /// Where on the baseline a point's offset begins.
    fn foot(&self, row: &Row) -> Coord<f64> {
        self.at(row.chainage_m, 0.0)
    }

    /// Where the point itself lies.
    fn place(&self, row: &Row) -> Coord<f64> {
        let left_m = match row.side {
            Some("left") => row.offset_m,
            Some(_) => -row.offset_m,
            None => 0.0,
        };
        self.at(row.chainage_m, left_m)
    }
}

/// Draws everything; says how many figures found no room.
fn draw(
    measured: &Measured,
    tables: &[&SetOut],
    fit: &Fit,
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let (drawing, view) = (&measured.drawing, &fit.view);
    ground::lawns(drawing, view, marks);
    let taken = ground::taken(drawing, view, placer);
    let mut over = Vec::new();
    ground::outlines(drawing, view, placer, &mut over);
    for table in tables {
        lines_of(measured, table, fit, placer, &mut over);
    }
    let mut said = Vec::new();
    corners(measured, view, units, placer, &mut said);
    let mut left = 0;
    for table in tables {
        left += figures_of(measured, table, fit, units, placer, &mut said);
    }
    for taken in &taken {
        taken.draw(&placer.gaps(), marks);
    }
    marks.append(&mut over);
    marks.append(&mut said);
    left
}

/// Draws the tape, drawn on a little beyond both ends and any point beyond them, and every offset from it.
fn lines_of(
    measured: &Measured,
    table: &SetOut,
    fit: &Fit,
    placer: &mut Placer,
    over: &mut Vec<Mark>,
) {
    let (view, baseline) = (&fit.view, &table.baseline);
    let chainages = table.rows.iter().map(|row| row.chainage_m);
    let (low, high) = chainages.fold((0.0, baseline.length_m), |(low, high), c| {
        (f64::min(low, c), f64::max(high, c))
    });
    let beyond = OVER_MM / view.mm_per_m;
    let tape = Tape::of(measured, baseline);
    let ends = [low - beyond, high + beyond].map(|chainage_m| view.at(tape.at(chainage_m, 0.0)));
    placer.line(&ends);
    over.push(line(&ends, BASELINE));
    for row in &table.rows {
        let ends = [view.at(tape.foot(row)), view.at(tape.place(row))];
        if row.what != What::Curve {
            placer.line(&ends);
        }
        if row.side.is_some() {
            let stroke = if row.what == What::Curve {
                CURVE
            } else {
                OFFSET
            };
            over.push(line(&ends, stroke));
        }
        if row.what != What::Corner {
            over.push(Mark::Circle(Circle {
                centre: ends[1],
                radius_mm: 0.4,
                fill: Some(TAPE),
                stroke: None,
            }));
        }
    }
    // The offsets of a curve are many and close together. They are told to the placer only now, after all other lines.
    let curve = |row: &&Row| row.what == What::Curve && row.side.is_some();
    for row in table.rows.iter().filter(curve) {
        placer.line(&[view.at(tape.foot(row)), view.at(tape.place(row))]);
    }
}

/// Writes the chainages and offsets of one baseline, those of curves last since they matter least; says how many found no room.
fn figures_of(
    measured: &Measured,
    table: &SetOut,
    fit: &Fit,
    units: Units,
    placer: &mut Placer,
    said: &mut Vec<Mark>,
) -> usize {
    let view = &fit.view;
    let tape = Tape::of(measured, &table.baseline);
    let mut left = 0;
    let curve = |row: &&Row| row.what == What::Curve;
    let in_turn = table
        .rows
        .iter()
        .filter(|row| !curve(row))
        .chain(table.rows.iter().filter(curve));
    let mut feet: Vec<Coord<f64>> = Vec::new();
    let mut places: Vec<Coord<f64>> = Vec::new();
    let near = |known: &[Coord<f64>], at: Coord<f64>| {
        known
            .iter()
            .any(|k| (k.x - at.x).hypot(k.y - at.y) < SAME_MM)
    };
    for row in in_turn {
        let (foot, place) = (view.at(tape.foot(row)), view.at(tape.place(row)));
        // Where two points share a place or a chainage, its figure is written once.
        let known = (near(&feet, foot), near(&places, place));
        feet.push(foot);
        places.push(place);
        left += figures(row, &tape, fit, known, units, placer, said);
    }
    left
}

/// A length as short as can be: metres without their unit, or feet and inches.
fn short(m: f64, units: Units) -> String {
    match units {
        Units::Metric => fixed(m, 2),
        Units::Imperial => units.on_a_tape(m),
    }
}

/// Writes a point's chainage at the baseline and its offset along its own line, unless they are known already; says how many of the two
/// found no room.
fn figures(
    row: &Row,
    tape: &Tape<'_>,
    fit: &Fit,
    (foot_known, place_known): (bool, bool),
    units: Units,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> usize {
    let view = &fit.view;
    let (foot, place) = (view.at(tape.foot(row)), view.at(tape.place(row)));
    let [from, to] =
        [0.0, tape.baseline.length_m].map(|chainage_m| view.at(tape.at(chainage_m, 0.0)));
    let length = (to.x - from.x).hypot(to.y - from.y).max(1e-9);
    let along = at((to.x - from.x) / length, (to.y - from.y) / length);
    let (dx, dy) = (place.x - foot.x, place.y - foot.y);
    let far = dx.hypot(dy);
    // A point on the baseline itself has no direction away from it; any side will do.
    let away = if far > 1e-6 {
        at(dx / far, dy / far)
    } else {
        at(-along.y, along.x)
    };
    let cross = Cross {
        foot,
        place,
        along,
        away,
        turn_deg: labels::upright(away.y.atan2(away.x).to_degrees()),
    };
    let mut left = 0;
    if !foot_known {
        let words = Words {
            weight: Weight::Bold,
            ..Words::new(&[&short(row.chainage_m, units)], SIZE_MM, TAPE)
        };
        let spots = cross.at_the_foot(&words);
        left += usize::from(!words.put("chainage", None, spots, placer, marks));
    }
    if row.side.is_some() && far > 1e-6 && !place_known {
        let said = match row.what {
            What::Curve | What::Corner => short(row.offset_m, units),
            _ => format!("{} {}", row.name, short(row.offset_m, units)),
        };
        let said = crate::sheet::board::face::fit(&said, SIZE_MM, Weight::Regular, 40.0);
        let words = Words::new(&[&said], SIZE_MM, Ink::TEXT);
        let mut spots = cross.beside_the_offset(&words);
        if row.what != What::Curve {
            let (width_mm, height_mm) = (words.width_mm(), words.height_mm());
            spots.extend(labels::round_about(place, away, 1.0, width_mm, height_mm));
        }
        left += usize::from(!words.put("offset", None, spots, placer, marks));
    }
    left
}

/// A point and the foot of its offset on the baseline, on the paper, with the two directions in which a place for its figures is looked
/// for.
struct Cross {
    foot: Coord<f64>,
    place: Coord<f64>,
    /// A step of one millimetre along the baseline.
    along: Coord<f64>,
    /// A step of one millimetre from the baseline towards the point.
    away: Coord<f64>,
    turn_deg: f64,
}

impl Cross {
    /// Spots for the chainage on either side of the baseline, the nearest first; those further away are tied to the foot.
    fn at_the_foot(&self, words: &Words) -> Vec<Spot> {
        let Cross {
            foot, along, away, ..
        } = *self;
        let half = 0.5 * words.width_mm();
        let mut spots = Vec::new();
        for gap in [1.0, 2.5, 4.5, 7.0, 10.0, 14.0] {
            for side in [-1.0, 1.0] {
                for shift in [0.0, 1.9, -1.9, 3.4, -3.4] {
                    let out = side * (gap + half);
                    let middle = at(
                        foot.x + out * away.x + shift * along.x,
                        foot.y + out * away.y + shift * along.y,
                    );
                    spots.push(Spot {
                        block: words.block(middle, self.turn_deg),
                        tied_to: (gap > 4.0).then_some(foot),
                    });
                }
            }
        }
        spots
    }

    /// Spots for the offset's length along its line, on either side of it.
    fn beside_the_offset(&self, words: &Words) -> Vec<Spot> {
        let Cross {
            foot, place, along, ..
        } = *self;
        let (dx, dy) = (place.x - foot.x, place.y - foot.y);
        let beside = 0.5 * words.height_mm() + 0.8;
        let mut spots = Vec::new();
        for part in [0.5, 0.65, 0.35, 0.8, 0.2] {
            for side in [1.0, -1.0] {
                let middle = at(
                    foot.x + part * dx + side * beside * along.x,
                    foot.y + part * dy + side * beside * along.y,
                );
                spots.push(Spot {
                    block: words.block(middle, self.turn_deg),
                    tied_to: None,
                });
            }
        }
        spots
    }
}

fn strip(tables: &[&SetOut], units: Units) -> Strip {
    let count = |what: &[What]| {
        let rows = tables.iter().flat_map(|table| &table.rows);
        rows.filter(|r| what.contains(&r.what)).count()
    };
    // The strip has room for three baselines.
    let mut figures: Vec<(String, String)> = Vec::new();
    for table in tables.iter().take(3) {
        let baseline = &table.baseline;
        figures.push((
            format!("Baseline, {} (0) to {}", baseline.from, baseline.to),
            units.plain_length(baseline.length_m),
        ));
    }
    figures.push(("Corners".to_owned(), count(&[What::Corner]).to_string()));
    figures.push((
        "Beds, marks, what is taken off".to_owned(),
        count(&[What::BedCentre, What::Mark, What::Deduction]).to_string(),
    ));
    let curve = count(&[What::Curve]);
    if curve > 0 {
        let spacing_m = tables
            .iter()
            .map(|table| table.spacing_m)
            .fold(0.0, f64::max);
        figures.push((
            format!("On the curve, every {}", units.plain_length(spacing_m)),
            curve.to_string(),
        ));
    }
    Strip {
        kind: "SETTING OUT",
        figures,
        keys: vec![
            Key {
                mark: Sample::Line(BASELINE),
                said: "baseline: lay the tape",
            },
            Key {
                mark: Sample::Line(OFFSET),
                said: "offset, at right angles",
            },
            Key {
                mark: Sample::Line(ground::EDGE_LINE),
                said: "edge of the lawn",
            },
            Key {
                mark: Sample::Hatch(Stroke::whole(ground::TAKEN, 0.2)),
                said: "no turf",
            },
        ],
        note: match units {
            Units::Metric => "Bold: along the baseline; plain: offset; metres.".to_owned(),
            Units::Imperial => "Bold: along the baseline; plain: offset.".to_owned(),
        },
    }
}
