//! What was ordered, why so much of it, and for what price, as a person reads it in the report of a record.

use super::compare::Moved;
use super::look::{number, text};
use crate::sheet::order::chance;
use crate::sheet::quantity::{at_most, count};
use crate::sheet::text::lines::Lines;
use crate::units::Units;
use serde_json::Value;

/// Sentences that say what area the order covers, how its pieces come about, and how likely it is too little. `order` is that part of the
/// record's document.
pub(super) fn why(order: &Value, units: Units) -> Vec<String> {
    let percent = |share: f64| at_most(100.0 * share, 1);
    let area = |key: &str| units.plain_area(number(order, key));
    let mut said = Vec::new();
    if order.get("cover_area_m2").is_some() {
        said.push(format!(
            "covers {}: {} and {} for its error, enough at {} % chance",
            area("cover_area_m2"),
            area("lawn_m2"),
            area("allowance_m2"),
            percent(number(order, "chance_enough"))
        ));
    }
    if let Some(turf) = order.get("turf").filter(|turf| turf.is_object()) {
        let noun = text(turf, "noun");
        said.push(format!(
            "{} laid on the lawn as measured, {} with what its error and undersized pieces ask for, {} ordered; chance of being \
             short {}",
            count(number(turf, "laid_pieces") as u64, noun),
            number(turf, "pieces"),
            number(turf, "ordered_pieces"),
            chance(number(order, "chance_short"))
        ));
    }
    said
}

/// Adds what the customer was to pay, line by line, with the tax and the total. Adds nothing where the order has no price.
pub(super) fn priced(price: &Value, out: &mut Lines) {
    let lines = price.get("lines").and_then(Value::as_array);
    let currency = text(price, "currency");
    let mut rows: Vec<(String, String, String)> = Vec::new();
    for line in lines.into_iter().flatten() {
        let quantity = text(line, "quantity");
        let many = match quantity.parse() {
            Ok(quantity) => amount(quantity, text(line, "unit")),
            Err(_) => quantity.to_owned(),
        };
        let at = format!("{many} at {}", text(line, "rate"));
        rows.push((
            text(line, "item").to_owned(),
            text(line, "amount").to_owned(),
            at,
        ));
    }
    if rows.is_empty() {
        return;
    }
    let tax = format!("{} %", text(price, "tax_percent"));
    for (name, key, remark) in [("tax", "tax", tax), ("total", "total", String::new())] {
        rows.push((name.to_owned(), text(price, key).to_owned(), remark));
    }
    out.heading(&match text(price, "valid_until") {
        "" => "Estimate".to_owned(),
        day => format!("Quotation, valid until {day}"),
    });
    out.table(&rows, currency);
}

/// An amount as a person says it: "149 pieces", "0.331 m³", "24.5 t".
pub(super) fn amount(quantity: f64, unit: &str) -> String {
    match unit {
        "piece" | "bag" | "skip" | "pallet" | "delivery" => count(quantity as u64, unit),
        "m2" | "m3" => format!(
            "{} {}",
            at_most(quantity, 3),
            unit.replace('2', "²").replace('3', "³")
        ),
        _ => format!("{} {unit}", at_most(quantity, 3)),
    }
}

/// An amount that is not the same in two records, such as "patio: 5.96 m², then 9.00 m²".
pub(super) fn then(moved: &Moved, units: Units) -> String {
    let said = |value: Option<f64>| match (value, moved.unit.as_str()) {
        (None, _) => "none".to_owned(),
        (Some(m2), "m2") => units.plain_area(m2),
        (Some(price), currency) if moved.name == "price" => match price.fract() == 0.0 {
            true => format!("{price:.0} {currency}"),
            false => format!("{price:.2} {currency}"),
        },
        (Some(value), unit) => amount(value, unit),
    };
    format!(
        "{}: {}, then {}",
        moved.name,
        said(moved.first),
        said(moved.second)
    )
}
