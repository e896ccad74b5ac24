//! What the order costs: what the customer pays, and what the firm pays its suppliers. Money is worked out in exact decimals, since
//! binary fractions cannot hold a cent. Quantities come from the order, rates from the job sheet or the rates file; what
//! is ordered without a rate is listed as unpriced, never taken as free.

use super::{Ordered, whole_up};
use crate::job::price::PriceSettings;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;

/// `order.price` of the result. Amounts are texts of exact decimals: each line is quantity times rate rounded to
/// `decimals`, halves away from zero; tax is worked out on the sum of the rounded lines and rounded the same way.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Price {
    /// "estimate", or "quotation" with `valid_until`.
    pub document: &'static str,
    pub valid_until: Option<String>,
    pub currency: String,
    pub decimals: u32,
    pub lines: Vec<PriceLine>,
    #[serde(serialize_with = "text")]
    pub net: Decimal,
    #[serde(serialize_with = "text")]
    pub tax_percent: Decimal,
    #[serde(serialize_with = "text")]
    pub tax: Decimal,
    #[serde(serialize_with = "text")]
    pub total: Decimal,
    /// What is ordered but has no rate.
    pub unpriced: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PriceLine {
    pub item: String,
    #[serde(serialize_with = "text")]
    pub quantity: Decimal,
    pub unit: String,
    #[serde(serialize_with = "text")]
    pub rate: Decimal,
    #[serde(serialize_with = "text")]
    pub amount: Decimal,
}

/// What the firm pays for the same, before tax. Beside a price it tells the margin, so it stands only in the take-off and on the
/// order to the merchant, and in no document for the customer.
#[derive(Debug, Clone, PartialEq)]
pub struct Cost {
    pub currency: String,
    pub lines: Vec<PriceLine>,
    pub net: Decimal,
}

/// Writes a decimal as a text, so that no reader of the document turns it into a binary fraction.
fn text<S: serde::Serializer>(value: &Decimal, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(value)
}

/// Measured quantities are priced to this many decimals.
const QUANTITY_DECIMALS: u32 = 3;

/// A measured quantity as a decimal, rounded to three places; 0 where it is too large for one.
fn measured(value: f64) -> Decimal {
    Decimal::try_from(value)
        .unwrap_or_default()
        .round_dp_with_strategy(QUANTITY_DECIMALS, RoundingStrategy::MidpointAwayFromZero)
        .normalize()
}

/// Gives the rate for a key of the job sheet, such as `turf_per_m2`, where there is one.
type RateOf<'a> = &'a dyn Fn(&str) -> Option<Decimal>;

/// A bill as it is filled line by line.
struct Bill<'a> {
    decimals: u32,
    /// Where rates are looked up; an earlier one goes before a later one.
    rates: &'a [RateOf<'a>],
    lines: Vec<PriceLine>,
    unpriced: Vec<String>,
}

impl Bill<'_> {
    /// Charges for `item` by the first rate there is for one of `ways`, each of which is a key, a quantity and its unit. Without any
    /// rate the item is unpriced.
    fn charge(&mut self, item: &str, ways: &[(&str, Decimal, &str)]) {
        let found = self.rates.iter().find_map(|rate| {
            ways.iter()
                .find_map(|(key, quantity, unit)| Some((rate(key)?, *quantity, *unit)))
        });
        match found {
            Some((rate, quantity, unit)) => self.push(item, quantity, unit, rate),
            None => self.unpriced.push(item.to_owned()),
        }
    }

    /// Charges for something that many do not charge for: without a rate there is no line, and it does not count as unpriced.
    fn charge_if(&mut self, item: &str, key: &str, quantity: Decimal, unit: &str) {
        if let Some(rate) = self.rates.iter().find_map(|rate| rate(key)) {
            self.push(item, quantity, unit, rate);
        }
    }

    /// Adds a line. An amount too large for a decimal becomes the largest one instead of a panic.
    fn push(&mut self, item: &str, quantity: Decimal, unit: &str, rate: Decimal) {
        let amount = quantity.checked_mul(rate).unwrap_or(Decimal::MAX);
        self.lines.push(PriceLine {
            item: item.to_owned(),
            quantity,
            unit: unit.to_owned(),
            rate,
            amount: rounded(amount, self.decimals),
        });
    }

    /// The sum of the lines as they are shown, each rounded by itself, so that a reader who adds them up comes to the same.
    fn net(&self) -> Decimal {
        let lines = self.lines.iter().map(|line| line.amount);
        rounded(
            lines.fold(Decimal::ZERO, Decimal::saturating_add),
            self.decimals,
        )
    }
}

/// Rounded to so many decimals, halves away from zero, and written with all of them (2.5 becomes 2.50).
fn rounded(amount: Decimal, decimals: u32) -> Decimal {
    let mut amount =
        amount.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero);
    amount.rescale(decimals);
    amount
}

/// What the customer pays: by the selling rates in the settings, else by what the firm pays and the markup. `None` where the settings
/// have nothing to sell by.
pub(super) fn price(order: &Ordered, settings: &PriceSettings) -> Option<Price> {
    if !settings.sells() {
        return None;
    }
    let marked_up = |key: &str| {
        let factor = Decimal::ONE + settings.markup_percent? / Decimal::ONE_HUNDRED;
        let rate = settings.cost(key)?.checked_mul(factor)?;
        Some(rounded(rate, settings.decimals))
    };
    let mut bill = Bill {
        decimals: settings.decimals,
        rates: &[&|key| settings.rate(key), &marked_up],
        lines: Vec::new(),
        unpriced: Vec::new(),
    };
    charge(order, &mut bill);
    for extra in &settings.extras {
        bill.push(&extra.label, extra.quantity, &extra.unit, extra.rate);
    }
    let net = bill.net();
    let tax = rounded(
        net.checked_mul(settings.tax_percent)
            .map_or(Decimal::ZERO, |t| t / Decimal::ONE_HUNDRED),
        settings.decimals,
    );
    Some(Price {
        document: if settings.quote_valid_until.is_some() {
            "quotation"
        } else {
            "estimate"
        },
        valid_until: settings.quote_valid_until.map(|date| date.to_string()),
        currency: settings.currency.clone(),
        decimals: settings.decimals,
        lines: bill.lines,
        net,
        tax_percent: settings.tax_percent,
        tax,
        total: net.saturating_add(tax),
        unpriced: bill.unpriced,
    })
}

/// What the firm pays, for as much as it gives its rates; `None` without any.
pub(super) fn cost(order: &Ordered, settings: &PriceSettings) -> Option<Cost> {
    let mut bill = Bill {
        decimals: settings.decimals,
        rates: &[&|key| settings.cost(key)],
        lines: Vec::new(),
        unpriced: Vec::new(),
    };
    charge(order, &mut bill);
    (!bill.lines.is_empty()).then(|| Cost {
        currency: settings.currency.clone(),
        net: bill.net(),
        lines: bill.lines,
    })
}

/// Puts all that is ordered on the bill, line by line.
fn charge(order: &Ordered, bill: &mut Bill<'_>) {
    charge_turf(order, bill);
    charge_materials(order, bill);
    charge_work(order, bill);
}

fn charge_turf(order: &Ordered, bill: &mut Bill<'_>) {
    let Some(turf) = &order.turf else { return };
    let pieces = Decimal::from(turf.ordered_pieces);
    let piece_m2 = turf.piece_width_m * turf.piece_length_m;
    let ordered_m2 = measured(turf.ordered_pieces as f64 * piece_m2);
    // Turf is paid by the pallets it fills, the deposit by the pallets it stands on, which may be more.
    let full = Decimal::from(turf.ordered_pieces.div_ceil(turf.pieces_per_pallet));
    let pallets = Decimal::from(turf.pallets);
    bill.charge(
        "turf",
        &[
            ("turf_per_piece", pieces, "piece"),
            ("turf_per_m2", ordered_m2, "m2"),
            ("turf_per_pallet", full, "pallet"),
        ],
    );
    bill.charge_if("pallet deposit", "pallet_deposit_each", pallets, "pallet");
}

fn charge_materials(order: &Ordered, bill: &mut Bill<'_>) {
    if let Some(soil) = &order.soil {
        bill.charge(
            "topsoil",
            &[
                ("soil_per_tonne", measured(soil.order_tonnes), "t"),
                ("soil_per_bag", Decimal::from(soil.bags), "bag"),
            ],
        );
    }
    if let Some(edging) = &order.edging {
        // As with turf by the square metre, what is bought counts: a piece that is cut is paid for whole.
        let ordered_m = measured(edging.pieces as f64 * edging.piece_m);
        bill.charge(
            "edging",
            &[
                ("edging_per_piece", Decimal::from(edging.pieces), "piece"),
                ("edging_per_m", ordered_m, "m"),
            ],
        );
    }
    if let Some(seed) = &order.seed {
        bill.charge("seed", &[("seed_per_kg", measured(seed.order_kg), "kg")]);
    }
    if let Some(fertiliser) = &order.fertiliser {
        let quantity = measured(fertiliser.order_kg);
        bill.charge("fertiliser", &[("fertiliser_per_kg", quantity, "kg")]);
    }
    if let Some(mulch) = &order.mulch {
        bill.charge("mulch", &[("mulch_per_m3", measured(mulch.m3), "m3")]);
    }
}

/// Loads: of the turf; where none is ordered, of what its vehicle may carry of the topsoil.
fn drops(order: &Ordered) -> Decimal {
    let vehicle_t = order.delivery.as_ref().and_then(|d| d.vehicle_t);
    let of_soil = match (&order.turf, &order.soil, vehicle_t) {
        (None, Some(soil), Some(vehicle_t)) => whole_up(soil.order_tonnes / vehicle_t),
        _ => 1,
    };
    Decimal::from((order.deliveries.len() as u64).max(of_soil))
}

/// What is taken away, brought and laid.
fn charge_work(order: &Ordered, bill: &mut Bill<'_>) {
    if let Some(old) = &order.old_turf {
        bill.charge("skips", &[("skip_each", Decimal::from(old.skips), "skip")]);
        bill.charge_if(
            "stripping",
            "old_turf_per_m2",
            measured(order.lawn_m2),
            "m2",
        );
    }
    bill.charge_if("delivery", "delivery_each", drops(order), "delivery");
    if order.turf.is_some() {
        bill.charge_if("laying", "laying_per_m2", measured(order.lawn_m2), "m2");
    }
    if let Some(laying) = &order.laying {
        let hours = measured(laying.hours);
        bill.charge_if("laying, labour", "labour_per_hour", hours, "hour");
    }
}
