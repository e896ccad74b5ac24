//! The take-off: the trade's word for the list of quantities taken from a drawing or a measurement. Each line says what is
//! needed, how much for the lawn as measured, how much more, how much to order, and how that was worked out.

use super::Ordered;
use super::edging::Edging;
use super::soil::{Mulch, OldTurf, Soil, Spread, Water};
use super::turf::Turf;
use serde::Serialize;

/// One line of the take-off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    pub item: String,
    pub unit: &'static str,
    /// The quantity for the lawn as measured, in `unit`.
    pub net: f64,
    /// What is added to it, for cutting, the area's error and rounding.
    pub allowance: f64,
    /// The sum of both.
    pub order: f64,
    /// How the quantity was worked out, in words.
    pub basis: String,
}

/// The number with at most three decimals, and no zeros at the end.
fn short(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn line(item: &str, unit: &'static str, net: f64, order: f64, basis: String) -> Line {
    Line {
        item: item.to_owned(),
        unit,
        net,
        allowance: order - net,
        order,
        basis,
    }
}

/// A line for everything that is ordered, in the sequence of the sheets.
pub(super) fn lines(order: &Ordered) -> Vec<Line> {
    let mut lines = Vec::new();
    lines.extend(order.turf.as_ref().map(|it| turf(it, order.lawn_m2)));
    lines.extend(order.soil.iter().flat_map(topsoil));
    lines.extend(order.edging.as_ref().map(edging));
    lines.extend(order.seed.as_ref().map(|it| spread("seed", it)));
    lines.extend(order.fertiliser.as_ref().map(|it| spread("fertiliser", it)));
    lines.extend(order.water.as_ref().map(watering));
    lines.extend(order.old_turf.as_ref().map(old_turf));
    lines.extend(order.mulch.as_ref().map(mulch));
    lines
}

fn turf(turf: &Turf, lawn_m2: f64) -> Line {
    let basis = match (&turf.rows, turf.cutting_percent) {
        (_, Some(percent)) => format!("area and {} % for cutting", short(percent)),
        (Some(rows), _) => format!(
            "{}rows: {}, {:.0}° from north, at the very least {}",
            match &turf.strip {
                Some(strip) => format!("a strip of {} round the edge, then ", strip.pieces),
                None => String::new(),
            },
            rows.rows,
            rows.direction_deg,
            rows.pieces_lower_bound
        ),
        (None, None) => "a strip round the edge".to_owned(),
    };
    let item = format!(
        "turf, {} {} x {} m",
        turf.noun,
        short(turf.piece_width_m),
        short(turf.piece_length_m)
    );
    let net = lawn_m2 / (turf.piece_width_m * turf.piece_length_m);
    line(&item, "piece", net, turf.ordered_pieces as f64, basis)
}

/// Two lines: topsoil by weight, and the same in bulk bags instead.
fn topsoil(soil: &Soil) -> [Line; 2] {
    let basis = format!(
        "{} mm deep, {} m³ settled, {} m³ loose (+ {} %), {} m³ loose with what the area's error asks for, {} t/m³",
        short(1000.0 * soil.depth_m),
        short(soil.settled_m3),
        short(soil.loose_m3),
        short(soil.settlement_percent),
        short(soil.cover * soil.loose_m3),
        short(soil.density_t_m3)
    );
    let in_a_bag = format!("{} m³ loose in a bag", short(soil.bag_m3));
    let item = "topsoil, or in bulk bags";
    let bags = soil.loose_m3 / soil.bag_m3;
    [
        line("topsoil", "t", soil.tonnes, soil.order_tonnes, basis),
        line(item, "bag", bags, soil.bags as f64, in_a_bag),
    ]
}

fn edging(edging: &Edging) -> Line {
    let net = edging.order_m / edging.piece_m;
    let basis = format!(
        "{} m measured, {} m with what its error asks for, runs: {}; {} m pieces, {} m overlap",
        short(edging.length_m),
        short(edging.order_m),
        edging.runs.len(),
        short(edging.piece_m),
        short(edging.overlap_m)
    );
    line("edging", "piece", net, edging.pieces as f64, basis)
}

fn spread(item: &str, spread: &Spread) -> Line {
    let basis = format!("{} g/m²", short(spread.g_per_m2));
    line(item, "kg", spread.kg, spread.order_kg, basis)
}

fn watering(water: &Water) -> Line {
    let basis = format!("{} mm", short(water.mm));
    line("first watering", "L", water.litres, water.litres, basis)
}

fn old_turf(old: &OldTurf) -> Line {
    let net = (old.loose_m3 / old.skip_m3).max(old.tonnes / old.skip_t);
    let basis = format!(
        "{:.2} m³ lifted, {:.2} t; skips fill by {}",
        old.loose_m3, old.tonnes, old.skips_by
    );
    line("old turf taken away", "skip", net, old.skips as f64, basis)
}

fn mulch(mulch: &Mulch) -> Line {
    let basis = format!(
        "tree rings: {}; {:.0} mm deep, {} m clear of the trunk",
        mulch.rings,
        1000.0 * mulch.depth_m,
        short(mulch.clear_radius_m)
    );
    line("mulch, loose", "m3", mulch.m3, mulch.m3, basis)
}
