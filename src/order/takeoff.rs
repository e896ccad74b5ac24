//! The order as lines: what, how much is needed, how much more, how much to order.

use super::Ordered;
use serde::Serialize;

/// One line of the take-off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Line {
    pub item: String,
    pub unit: &'static str,
    /// For the lawn as measured.
    pub net: f64,
    /// What is added.
    pub allowance: f64,
    pub order: f64,
    /// How it was worked out.
    pub basis: String,
}

/// With at most three decimals, and no zeros at the end.
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

pub(super) fn lines(order: &Ordered) -> Vec<Line> {
    let mut lines = Vec::new();
    if let Some(turf) = &order.turf {
        let piece_m2 = turf.piece_width_m * turf.piece_length_m;
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
        lines.push(line(
            &format!(
                "turf, {} {} x {} m",
                turf.noun,
                short(turf.piece_width_m),
                short(turf.piece_length_m)
            ),
            "piece",
            order.lawn_m2 / piece_m2,
            turf.ordered_pieces as f64,
            basis,
        ));
    }
    if let Some(soil) = &order.soil {
        lines.push(line(
            "topsoil",
            "t",
            soil.tonnes,
            soil.order_tonnes,
            format!(
                "{} mm deep, {} m³ settled, {} m³ loose (+ {} %), {} t/m³",
                short(1000.0 * soil.depth_m),
                short(soil.settled_m3),
                short(soil.loose_m3),
                short(soil.settlement_percent),
                short(soil.density_t_m3)
            ),
        ));
        lines.push(line(
            "topsoil, or in bulk bags",
            "bag",
            soil.loose_m3 / soil.bag_m3,
            soil.bags as f64,
            format!("{} m³ loose in a bag", short(soil.bag_m3)),
        ));
    }
    if let Some(edging) = &order.edging {
        lines.push(line(
            "edging",
            "piece",
            edging.order_m / edging.piece_m,
            edging.pieces as f64,
            format!(
                "{} m measured, {} m with what its error asks for, runs: {}; {} m pieces, {} m overlap",
                short(edging.length_m),
                short(edging.order_m),
                edging.runs.len(),
                short(edging.piece_m),
                short(edging.overlap_m)
            ),
        ));
    }
    for (name, spread) in [("seed", &order.seed), ("fertiliser", &order.fertiliser)] {
        if let Some(spread) = spread {
            lines.push(line(
                name,
                "kg",
                spread.kg,
                spread.order_kg,
                format!("{} g/m²", short(spread.g_per_m2)),
            ));
        }
    }
    if let Some(water) = &order.water {
        lines.push(line(
            "first watering",
            "L",
            water.litres,
            water.litres,
            format!("{} mm", short(water.mm)),
        ));
    }
    if let Some(old) = &order.old_turf {
        lines.push(line(
            "old turf taken away",
            "skip",
            (old.loose_m3 / old.skip_m3).max(old.tonnes / old.skip_t),
            old.skips as f64,
            format!(
                "{:.2} m³ lifted, {:.2} t; skips fill by {}",
                old.loose_m3, old.tonnes, old.skips_by
            ),
        ));
    }
    if let Some(mulch) = &order.mulch {
        lines.push(line(
            "mulch, loose",
            "m3",
            mulch.m3,
            mulch.m3,
            format!(
                "tree rings: {}; {:.0} mm deep, {} m clear of the trunk",
                mulch.rings,
                1000.0 * mulch.depth_m,
                short(mulch.clear_radius_m)
            ),
        ));
    }
    lines
}
