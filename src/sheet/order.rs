//! The order in words: the section of the text report, and the lines of it that printed sheets use as well. Each function adds lines of
//! name and value, or a table, about one part of the order.

mod laid;

#[cfg(feature = "sheets")]
pub(super) use laid::MOST_ROWS;
pub(super) use laid::layout;

use super::quantity::{
    at_most, bought_kg, bought_m3, charged_of, count, density, depth, litres, many, per_area, rate,
    size, tonnes, volume,
};
use super::text::lines::Lines;
use crate::notice::Notice;
use crate::order::Ordered;
use crate::order::edging::Edging;
use crate::order::price::Price;
use crate::order::soil::{DENSITY_RANGE_T_M3, OldTurf, Soil};
use crate::order::turf::{Turf, one_pallet_less};
use crate::units::{Units, fixed, two_figures};

/// What must be read before anything else, if there is anything: that the area is too uncertain to order on.
pub(super) fn first_line(order: &Ordered, units: Units) -> Option<String> {
    order
        .warnings
        .iter()
        .find(|w| matches!(w, Notice::Allowance { .. }))
        .map(|notice| notice.said(units))
}

/// The report's section.
pub(super) fn section(order: &Ordered, units: Units, out: &mut Lines) {
    out.heading("The order");
    covers(order, units, out);
    if let Some(turf) = &order.turf {
        turf_lines(turf, units, out);
    }
    materials(order, units, out);
    laying_lines(order, units, out);
    if let Some(turf) = &order.turf {
        compared(turf, out);
        if let Some(rows) = &turf.rows {
            layout(rows, turf, units, out);
        }
    }
    if let Some(price) = &order.price {
        price_lines(price, order, out);
    }
}

/// The cautions said on every order. Where there is one they stand in place of the report's own, shorter ones.
pub(super) fn cautions(order: &Ordered, units: Units, out: &mut Lines) {
    out.heading("Before anyone starts");
    for caution in crate::order::cautions(order, units) {
        out.bullet("-", &caution);
    }
}

/// A chance (0 to 1) in percent, with two figures; very small and very large ones as a limit.
pub(crate) fn chance(p: f64) -> String {
    let percent = 100.0 * p;
    match percent {
        p if p < 0.1 => "under 0.1 %".to_owned(),
        p if p > 99.9 => "over 99.9 %".to_owned(),
        p if p > 99.0 => format!("{} %", fixed(p, 1)),
        p => format!("{} %", two_figures(p)),
    }
}

/// Which area the order covers, and how much of that is for the area's error.
pub(super) fn covers(order: &Ordered, units: Units, out: &mut Lines) {
    let on = if order.lawn_m2 > order.net_m2 {
        " on the slope"
    } else {
        ""
    };
    out.pair(
        "Covers",
        &format!(
            "{}{on}: {} and {} ({} %) for its error, enough at {} % chance",
            units.plain_area(order.cover_area_m2),
            units.plain_area(order.lawn_m2),
            units.plain_area(order.cover_area_m2 - order.lawn_m2),
            two_figures(order.allowance_percent),
            100.0 * order.chance_enough
        ),
    );
}

/// The pallets in words, such as "5 pallets of 50, the last with 15" or "3 full pallets of 50, as this size is sold".
pub(super) fn pallets(turf: &Turf) -> String {
    let each = turf.pieces_per_pallet;
    let last = turf.ordered_pieces % each.max(1);
    let full = count(turf.pallets, "full pallet");
    match (turf.part_pallets, last) {
        _ if turf.comes_in_parts() => {
            format!("{} in part, of up to {each}", count(turf.pallets, "pallet"))
        }
        (false, _) => format!("{full} of {each}, as this size is sold"),
        (true, 0) => format!("{full} of {each}"),
        (true, last) if turf.pallets == 1 => format!("1 pallet with {last} of {each}"),
        (true, last) => format!(
            "{} of {each}, the last with {last}",
            count(turf.pallets, "pallet")
        ),
    }
}

pub(super) fn turf_lines(turf: &Turf, units: Units, out: &mut Lines) {
    out.pair(
        "Turf",
        &format!(
            "{} of {}: {}; about {} a {}, {} in all",
            count(turf.ordered_pieces, &turf.noun),
            size(turf.piece_width_m, turf.piece_length_m, units),
            pallets(turf),
            units.weight(turf.kg_per_piece),
            turf.noun,
            units.weight(turf.kg)
        ),
    );
    out.pair(
        "",
        &format!(
            "{} laid on the lawn as measured, {} with what its error and undersized pieces ask for",
            count(turf.laid_pieces, &turf.noun),
            turf.pieces
        ),
    );
    let waste = &turf.waste;
    let parts: Vec<String> = [
        ("cutting", waste.cutting_m2),
        ("the area's error", waste.error_m2),
        ("undersized pieces", waste.tolerance_m2),
        ("whole pieces", waste.rounding_m2),
        ("whole pallets", waste.pallets_m2),
    ]
    .iter()
    .filter(|(_, m2)| m2.abs() > 0.005)
    .map(|(name, m2)| format!("{} for {name}", units.plain_area(*m2)))
    .collect();
    out.pair(
        "More than lawn",
        &format!("{} %: {}", two_figures(waste.percent), parts.join(", ")),
    );
}

/// Everything ordered beside turf.
pub(super) fn materials(order: &Ordered, units: Units, out: &mut Lines) {
    if let Some(soil) = &order.soil {
        topsoil(soil, order.net_m2, units, out);
    }
    if let Some(edging) = &order.edging {
        edging_runs(edging, units, out);
    }
    for (name, spread) in [("Seed", &order.seed), ("Fertiliser", &order.fertiliser)] {
        if let Some(spread) = spread {
            let live = match spread.live_g_per_m2 {
                Some(live) => format!(" as bought ({} of live seed)", per_area(live, units)),
                None => String::new(),
            };
            out.pair(
                name,
                &format!(
                    "{} at {}{live}",
                    bought_kg(spread.order_kg, units),
                    per_area(spread.g_per_m2, units)
                ),
            );
        }
    }
    if let Some(water) = &order.water {
        out.pair(
            "First watering",
            &format!(
                "{} ({})",
                litres(water.litres, units),
                depth(water.mm / 1000.0, units)
            ),
        );
    }
    if let Some(old) = &order.old_turf {
        old_turf(old, units, out);
    }
    if let Some(mulch) = &order.mulch {
        out.pair(
            "Mulch",
            &format!(
                "{} loose on {}, {} deep, {} clear of the trunk",
                bought_m3(mulch.m3, units),
                count(mulch.rings, "tree ring"),
                depth(mulch.depth_m, units),
                units.small_length(mulch.clear_radius_m)
            ),
        );
    }
}

fn topsoil(soil: &Soil, net_m2: f64, units: Units, out: &mut Lines) {
    out.pair(
        "Topsoil",
        &format!(
            "{}, or {} of {} loose",
            tonnes(soil.order_tonnes, units),
            count(soil.bags, "bag"),
            volume(soil.bag_m3, units)
        ),
    );
    let [light, heavy] = soil.tonnes_range;
    out.pair(
        "",
        &format!(
            "for {} on the plan, its error covered: {} settled at {} deep, {} loose (+ {} %), {} at {}; {} to {} at the \
             {} that topsoil is sold at: ask the merchant",
            units.plain_area(soil.cover * net_m2),
            volume(soil.cover * soil.settled_m3, units),
            depth(soil.depth_m, units),
            volume(soil.cover * soil.loose_m3, units),
            at_most(soil.settlement_percent, 2),
            tonnes(soil.cover * soil.tonnes, units),
            density(&[soil.density_t_m3], units),
            tonnes(soil.cover * light, units),
            tonnes(soil.cover * heavy, units),
            density(&DENSITY_RANGE_T_M3, units)
        ),
    );
}

fn edging_runs(edging: &Edging, units: Units, out: &mut Lines) {
    let runs: Vec<String> = edging
        .runs
        .iter()
        .map(|run| {
            let label = if run.label.is_empty() {
                "lawn"
            } else {
                &run.label
            };
            format!(
                "{label} {} ({})",
                units.plain_length(run.length_m),
                run.pieces
            )
        })
        .collect();
    // The error of an edge is not known where the lawn was taped without a plan; then nothing is said of it.
    let more_m = edging.order_m - edging.length_m;
    let error = match more_m > 0.0 {
        true => format!(" and {} for its error", units.plain_length(more_m)),
        false => String::new(),
    };
    out.pair(
        "Edging",
        &format!(
            "{} of {}, for {}{error}; by runs: {}",
            count(edging.pieces, "piece"),
            units.plain_length(edging.piece_m),
            units.plain_length(edging.length_m),
            runs.join(", ")
        ),
    );
}

fn old_turf(old: &OldTurf, units: Units, out: &mut Lines) {
    out.pair(
        "Old turf",
        &format!(
            "{} lifted ({} in the ground, {} deep), {}: {} of {} and {}, filled by {}",
            volume(old.loose_m3, units),
            volume(old.bank_m3, units),
            depth(old.depth_m, units),
            tonnes(old.tonnes, units),
            count(old.skips, "skip"),
            volume(old.skip_m3, units),
            tonnes(old.skip_t, units),
            old.skips_by
        ),
    );
}

pub(super) fn laying_lines(order: &Ordered, units: Units, out: &mut Lines) {
    if let Some(laying) = &order.laying {
        out.pair(
            "Laying",
            &format!(
                "{} h of laying at {} an hour, {} of up to {} h; each delivery laid within {} h of coming",
                two_figures(laying.hours),
                format_args!(
                    "{} {}",
                    at_most(units.area(laying.lay_m2_per_hour), 1),
                    units.area_unit()
                ),
                count(laying.days, "day"),
                at_most(laying.hours_per_day, 2),
                at_most(laying.lay_within_h, 2)
            ),
        );
    }
    let noun = order.turf.as_ref().map_or("piece", |turf| &turf.noun);
    let drops: Vec<String> = order
        .deliveries
        .iter()
        .map(|drop| {
            format!(
                "day {}: {}, {}, {}",
                drop.day,
                count(drop.pieces, noun),
                count(drop.pallets, "pallet"),
                units.weight(drop.kg)
            )
        })
        .collect();
    const SHOWN: usize = 6;
    let shown = drops[..drops.len().min(SHOWN)].join("; ");
    match drops.len() {
        0 => {}
        1 => out.pair("Delivery", &shown),
        _ => out.pair("Deliveries", &shown),
    }
    if drops.len() > SHOWN {
        out.pair("", &format!("and {} more", drops.len() - SHOWN));
    }
}

/// A table of how many pieces could be ordered instead, each with the chance of being short.
pub(super) fn compared(turf: &Turf, out: &mut Lines) {
    let short = &turf.chance_short;
    let fewer = one_pallet_less(turf.ordered_pieces, turf.pieces_per_pallet);
    let row = |name: &str, pieces: u64, p: f64| (name.to_owned(), pieces.to_string(), chance(p));
    out.blank();
    out.table_headed(
        "How many, and the chance of being short",
        "chance short",
        &[
            row("as ordered", turf.ordered_pieces, short.ordered),
            row("one pallet less", fewer, short.one_pallet_less),
            row(
                "area and 5 %, a rule of thumb",
                turf.by_percent.by_5,
                short.by_5_percent,
            ),
            row(
                "area and 10 %, another",
                turf.by_percent.by_10,
                short.by_10_percent,
            ),
        ],
        &many(&turf.noun),
    );
    if let Some(percent) = turf.cutting_percent {
        out.paragraph(
            2,
            &format!(
                "If cutting takes the {percent} % allowed, which nobody has laid out: on small and pointed lawns it takes more."
            ),
        );
    }
}

pub(super) fn price_lines(price: &Price, order: &Ordered, out: &mut Lines) {
    let title = match &price.valid_until {
        Some(date) => format!("Quotation, valid until {date}"),
        None => "Estimate, not a quotation".to_owned(),
    };
    out.heading(&title);
    let mut rows: Vec<(String, String, String)> = price
        .lines
        .iter()
        .map(|line| {
            let many = charged_of(order, line, Units::Metric);
            let at = format!("{many} at {}", rate(line));
            (line.item.clone(), line.amount.to_string(), at)
        })
        .collect();
    rows.push((
        "before tax".to_owned(),
        price.net.to_string(),
        String::new(),
    ));
    rows.push((
        "tax".to_owned(),
        price.tax.to_string(),
        format!("{} %", price.tax_percent),
    ));
    rows.push(("total".to_owned(), price.total.to_string(), String::new()));
    out.table(&rows, &price.currency);
    out.paragraph(
        2,
        &format!(
            "Each line and the tax are rounded to {} decimals, halves up. Nothing else is included.",
            price.decimals
        ),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two figures of 99.6 are 100, which would be certain.
    #[test]
    fn no_chance_that_is_left_is_rounded_away() {
        let said = [0.0005, 0.046, 0.98, 0.9959, 0.9995].map(chance);
        assert_eq!(
            said,
            ["under 0.1 %", "4.6 %", "98 %", "99.6 %", "over 99.9 %"]
        );
    }
}
