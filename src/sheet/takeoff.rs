//! The order as rows of tables for a spreadsheet: the firm's own take-off (list of quantities) with cost, price and margin, and the list
//! of every piece of turf laid.

use super::quantity::priced;
use crate::order::{Ordered, rows::Rows};
use rust_decimal::Decimal;

/// One row of the take-off.
pub(super) struct TakeoffRow {
    pub item: String,
    pub label: String,
    /// How much to order, or an amount of money.
    pub quantity: String,
    pub unit: String,
    pub basis: String,
    /// The quantity for the lawn as measured, and what is added to it. Both are empty for money.
    pub net: String,
    pub allowance: String,
}

/// The rows of the take-off: quantities, then the price, then cost and margin, as far as there are any.
pub(super) fn takeoff(order: &Ordered) -> Vec<TakeoffRow> {
    // Numbers have no space between thousands here, since a spreadsheet would take such a number for text.
    let places = |value: f64| ((1e6 * value).round() / 1e6).to_string();
    let mut rows: Vec<TakeoffRow> = order
        .takeoff
        .iter()
        .map(|line| TakeoffRow {
            item: "order".to_owned(),
            label: line.item.clone(),
            quantity: places(line.order),
            unit: line.unit.to_owned(),
            basis: line.basis.clone(),
            net: places(line.net),
            allowance: places(line.allowance),
        })
        .collect();
    if let Some(price) = &order.price {
        let mut money = |label: &str, amount: String, basis: String| {
            rows.push(TakeoffRow {
                item: price.document.to_owned(),
                label: label.to_owned(),
                quantity: amount,
                unit: price.currency.clone(),
                basis,
                net: String::new(),
                allowance: String::new(),
            });
        };
        for line in &price.lines {
            money(&line.item, line.amount.to_string(), priced(line));
        }
        money("before tax", price.net.to_string(), String::new());
        money(
            "tax",
            price.tax.to_string(),
            format!("{} %", price.tax_percent),
        );
        money("total", price.total.to_string(), String::new());
    }
    rows.extend(margin(order));
    rows
}

/// What the firm pays and what is left to it (its margin), before tax. Only the firm's own table has this. Without costs it is empty.
fn margin(order: &Ordered) -> Vec<TakeoffRow> {
    let Some(cost) = &order.cost else {
        return Vec::new();
    };
    let row = |item: &str, label: &str, amount: Decimal, basis: String| TakeoffRow {
        item: item.to_owned(),
        label: label.to_owned(),
        quantity: amount.to_string(),
        unit: cost.currency.clone(),
        basis,
        net: String::new(),
        allowance: String::new(),
    };
    let mut rows: Vec<TakeoffRow> = (cost.lines.iter())
        .map(|line| row("cost", &line.item, line.amount, priced(line)))
        .collect();
    rows.push(row("cost", "before tax", cost.net, String::new()));
    let Some(price) = &order.price else {
        return rows;
    };
    let percent = |left: Decimal, of: Decimal| match left.checked_div(of) {
        Some(part) => format!(
            "{} % of the price",
            (part * Decimal::ONE_HUNDRED).round_dp(1)
        ),
        None => String::new(),
    };
    for line in &price.lines {
        if let Some(paid) = cost.lines.iter().find(|paid| paid.item == line.item) {
            let left = line.amount.saturating_sub(paid.amount);
            rows.push(row("margin", &line.item, left, percent(left, line.amount)));
        }
    }
    let left = price.net.saturating_sub(cost.net);
    let unknown = price.lines.iter().map(|line| line.item.as_str());
    let unknown = unknown.filter(|item| cost.lines.iter().all(|paid| paid.item != *item));
    let unknown: Vec<&str> = unknown.collect();
    let mut basis = percent(left, price.net);
    if !unknown.is_empty() {
        basis.push_str(&format!("; no cost is given for {}", unknown.join(", ")));
    }
    rows.push(row("margin", "before tax", left, basis));
    rows
}

/// The titles of the list of cuts.
pub(super) const CUTS: [&str; 8] = [
    "row", "lawn", "piece", "start_m", "end_m", "length_m", "offcut", "cut_from",
];

/// The list of cuts: a row for each piece. Start, end and length are metres along the row.
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
