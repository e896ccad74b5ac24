//! The order on every sheet: the report's section, the take-off's rows, the list of cuts, the rows on a map.

use super::text::lines::Lines;
use crate::order::crew::Laying;
use crate::order::price::Price;
use crate::order::search::Along;
use crate::order::turf::Turf;
use crate::order::{Ordered, rows::Rows};
use crate::units::{Units, two_figures};

/// What must be read before anything else: the allowance is too wide to order on.
pub(super) fn first_line(order: &Ordered) -> Option<&str> {
    order
        .warnings
        .iter()
        .find(|w| w.code == "allowance")
        .map(|w| w.message.as_str())
}

/// The report's section.
pub(super) fn section(order: &Ordered, units: Units, out: &mut Lines) {
    out.heading("The order");
    covers(order, units, out);
    if let Some(turf) = &order.turf {
        turf_lines(turf, units, out);
    }
    materials(order, units, out);
    if let Some(laying) = &order.laying {
        laying_lines(laying, order, units, out);
    }
    if let Some(turf) = &order.turf {
        compared(turf, out);
        if let Some(rows) = &turf.rows {
            layout(rows, turf, units, out);
        }
    }
    if let Some(price) = &order.price {
        price_lines(price, out);
    }
}

/// Said on every order, in place of the report's own shorter cautions.
pub(super) fn cautions(order: &Ordered, out: &mut Lines) {
    out.heading("Before anyone starts");
    for caution in &order.cautions {
        out.bullet("-", caution);
    }
}

pub(super) fn chance(p: f64) -> String {
    let percent = 100.0 * p;
    match percent {
        p if p < 0.1 => "under 0.1 %".to_owned(),
        p if p > 99.9 => "over 99.9 %".to_owned(),
        p => format!("{} %", two_figures(p)),
    }
}

/// "1 roll", "2 rolls".
pub(super) fn count(number: u64, noun: &str) -> String {
    if number == 1 {
        format!("1 {noun}")
    } else {
        format!("{number} {noun}s")
    }
}

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

pub(super) fn turf_lines(turf: &Turf, units: Units, out: &mut Lines) {
    let pallets =
        if turf.part_pallets && turf.ordered_pieces < turf.pallets * turf.pieces_per_pallet {
            format!("{}, the last in part", count(turf.pallets, "pallet"))
        } else {
            count(turf.pallets, "full pallet")
        };
    out.pair(
        "Turf",
        &format!(
            "{} of {} x {}, {} on a pallet: {pallets}; about {} kg a {}, {:.0} kg in all",
            count(turf.ordered_pieces, &turf.noun),
            units.small_length(turf.piece_width_m),
            units.small_length(turf.piece_length_m),
            turf.pieces_per_pallet,
            two_figures(turf.kg_per_piece),
            turf.noun,
            turf.kg
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

pub(super) fn materials(order: &Ordered, units: Units, out: &mut Lines) {
    if let Some(soil) = &order.soil {
        out.pair(
            "Topsoil",
            &format!(
                "{} t, or {} bags of {} m³ loose",
                soil.order_tonnes, soil.bags, soil.bag_m3
            ),
        );
        out.pair(
            "",
            &format!(
                "{:.2} m³ settled at {} deep is {:.2} m³ loose (+ {} %), {:.1} t at {} t/m³; {:.1} to {:.1} t by kind and \
                 moisture: ask the merchant",
                soil.settled_m3,
                units.small_length(soil.depth_m),
                soil.loose_m3,
                soil.settlement_percent,
                soil.tonnes,
                soil.density_t_m3,
                soil.tonnes_range[0],
                soil.tonnes_range[1]
            ),
        );
    }
    if let Some(edging) = &order.edging {
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
        out.pair(
            "Edging",
            &format!(
                "{} of {}, by runs: {}",
                count(edging.pieces, "piece"),
                units.small_length(edging.piece_m),
                runs.join(", ")
            ),
        );
    }
    for (name, spread) in [("Seed", &order.seed), ("Fertiliser", &order.fertiliser)] {
        if let Some(spread) = spread {
            out.pair(
                name,
                &format!(
                    "{} kg at {} g/m²",
                    two_or_more(spread.order_kg),
                    two_or_more(spread.g_per_m2)
                ),
            );
        }
    }
    if let Some(water) = &order.water {
        out.pair(
            "First watering",
            &format!("{:.0} L ({} mm)", water.litres, water.mm),
        );
    }
    if let Some(old) = &order.old_turf {
        out.pair(
            "Old turf",
            &format!(
                "{:.1} m³ lifted ({:.1} m³ in the ground), {:.1} t: {} of {} m³ and {} t, filled by {}",
                old.loose_m3,
                old.bank_m3,
                old.tonnes,
                count(old.skips, "skip"),
                old.skip_m3,
                old.skip_t,
                old.skips_by
            ),
        );
    }
    if let Some(mulch) = &order.mulch {
        out.pair(
            "Mulch",
            &format!(
                "{:.2} m³ loose on {}, {} deep, {} clear of the trunk",
                mulch.m3,
                count(mulch.rings, "tree ring"),
                units.small_length(mulch.depth_m),
                units.small_length(mulch.clear_radius_m)
            ),
        );
    }
}

fn two_or_more(value: f64) -> String {
    if value >= 100.0 {
        format!("{value:.0}")
    } else {
        two_figures(value)
    }
}

pub(super) fn laying_lines(laying: &Laying, order: &Ordered, units: Units, out: &mut Lines) {
    let noun = order.turf.as_ref().map_or("piece", |turf| &turf.noun);
    let drops: Vec<String> = laying
        .deliveries
        .iter()
        .map(|drop| {
            format!(
                "day {}: {}, {}, {:.0} kg",
                drop.day,
                count(drop.pieces, noun),
                count(drop.pallets, "pallet"),
                drop.kg
            )
        })
        .collect();
    out.pair(
        "Laying",
        &format!(
            "{} h at {} an hour, {} of {} h; each delivery laid within {} h of coming",
            two_or_more(laying.hours),
            units.plain_area(laying.lay_m2_per_hour),
            count(laying.days, "day"),
            laying.hours_per_day,
            laying.lay_within_h
        ),
    );
    const SHOWN: usize = 6;
    out.pair(
        if drops.len() == 1 {
            "Delivery"
        } else {
            "Deliveries"
        },
        &drops
            .iter()
            .take(SHOWN)
            .cloned()
            .collect::<Vec<_>>()
            .join("; "),
    );
    if drops.len() > SHOWN {
        out.pair("", &format!("and {} more", drops.len() - SHOWN));
    }
}

pub(super) fn compared(turf: &Turf, out: &mut Lines) {
    let short = &turf.chance_short;
    let fewer = turf.ordered_pieces.saturating_sub(turf.pieces_per_pallet);
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
        &format!("{}s", turf.noun),
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

fn along(along: Along) -> &'static str {
    match along {
        Along::Asked => "as asked",
        Along::LongestEdge => "along the longest edge",
        Along::AcrossLongestEdge => "across the longest edge",
        Along::AnotherEdge => "along another edge",
        Along::Narrowest => "the narrowest way",
        Along::EastWest => "east and west",
        Along::NorthSouth => "north and south",
        Along::Between => "along no edge",
    }
}

pub(super) fn layout(rows: &Rows, turf: &Turf, units: Units, out: &mut Lines) {
    out.blank();
    out.pair(
        "Rows",
        &format!(
            "{} at {:.0}° from north, {}",
            count(rows.rows, "row"),
            rows.direction_deg,
            along(rows.along)
        ),
    );
    out.pair(
        "",
        &format!(
            "{} {}s laid out for the lawn as measured: {} at the very least, {} if no offcut were used again",
            rows.pieces, turf.noun, rows.pieces_lower_bound, rows.pieces_no_reuse
        ),
    );
    if let Some(strip) = &turf.strip {
        out.pair(
            "",
            &format!(
                "after a strip round the edge, {} long, of {} {}s",
                units.plain_length(strip.length_m),
                strip.pieces,
                turf.noun
            ),
        );
    }
    out.pair(
        "",
        &format!(
            "no piece under {} but a whole row, joints {} apart",
            units.small_length(rows.min_piece_m),
            units.small_length(rows.stagger_m)
        ),
    );
    let usable: Vec<String> = rows
        .offcuts_m
        .iter()
        .filter(|length| **length >= rows.min_piece_m)
        .map(|length| units.small_length(*length))
        .collect();
    const SHOWN: usize = 5;
    let more = if usable.len() > SHOWN { ", ..." } else { "" };
    let longest = match usable.is_empty() {
        true => String::new(),
        false => format!(
            ": {}{more}",
            usable
                .iter()
                .take(SHOWN)
                .cloned()
                .collect::<Vec<_>>()
                .join(", ")
        ),
    };
    out.pair(
        "Offcuts left",
        &format!(
            "{} of use{longest}; {} scraps",
            usable.len(),
            rows.offcuts_m.len() - usable.len()
        ),
    );
    let others: Vec<String> = rows
        .alternatives
        .iter()
        .filter(|a| a.along != rows.along)
        .map(|a| format!("{} ({:.0}°) {}", along(a.along), a.direction_deg, a.pieces))
        .collect();
    if !others.is_empty() {
        out.pair("Other ways", &others.join("; "));
    }
}

pub(super) fn price_lines(price: &Price, out: &mut Lines) {
    let title = match &price.valid_until {
        Some(date) => format!("Quotation, valid until {date}"),
        None => "Estimate, not a quotation".to_owned(),
    };
    out.heading(&title);
    let mut rows: Vec<(String, String, String)> = price
        .lines
        .iter()
        .map(|line| {
            (
                line.item.clone(),
                line.amount.to_string(),
                format!("{} {} at {}", line.quantity, line.unit, line.rate),
            )
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

/// The take-off's rows: item, label, quantity to order, unit, net, allowance, basis.
pub(super) fn takeoff(order: &Ordered) -> Vec<[String; 7]> {
    let places = |value: f64| format!("{value:.6}");
    let mut rows: Vec<[String; 7]> = order
        .takeoff
        .iter()
        .map(|line| {
            [
                "order".to_owned(),
                line.item.clone(),
                places(line.order),
                line.unit.to_owned(),
                places(line.net),
                places(line.allowance),
                line.basis.clone(),
            ]
        })
        .collect();
    if let Some(price) = &order.price {
        let mut money = |label: &str, amount: String, basis: String| {
            rows.push([
                price.document.to_owned(),
                label.to_owned(),
                amount,
                price.currency.clone(),
                String::new(),
                String::new(),
                basis,
            ]);
        };
        for line in &price.lines {
            money(
                &line.item,
                line.amount.to_string(),
                format!("{} {} at {}", line.quantity, line.unit, line.rate),
            );
        }
        money("before tax", price.net.to_string(), String::new());
        money(
            "tax",
            price.tax.to_string(),
            format!("{} %", price.tax_percent),
        );
        money("total", price.total.to_string(), String::new());
    }
    rows
}

/// The cuts, one row a piece.
pub(super) const CUTS: [&str; 8] = [
    "row", "lawn", "piece", "start_m", "end_m", "length_m", "offcut", "cut_from",
];

pub(super) fn cuts(rows: &Rows) -> Vec<[String; 8]> {
    let mut table = Vec::new();
    for row in &rows.layout {
        for (at, piece) in row.pieces.iter().enumerate() {
            table.push([
                row.row.to_string(),
                row.lawn.clone(),
                (at + 1).to_string(),
                format!("{:.3}", piece.start_m),
                format!("{:.3}", piece.end_m),
                format!("{:.3}", piece.end_m - piece.start_m),
                if piece.offcut { "yes" } else { "no" }.to_owned(),
                piece.of.to_string(),
            ]);
        }
    }
    table
}
