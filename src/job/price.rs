//! `[price]` (what the customer pays) and `[cost]` (what the firm pays) of the job sheet, and the rates file that all jobs may share. What the sheet
//! says wins over the file. Money is kept in decimal numbers, so that sums come out to the penny.

use super::keys::{Faults, Keys, Limits, Sheet};
use super::people::Firm;
use super::{LARGEST_SHEET, SheetFile};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::path::Path;
use std::str::FromStr;

/// All rates that there are: the key in the sheet, and the unit that it is the price of.
pub const RATES: [(&str, &str); 16] = [
    ("turf_per_piece", "piece"),
    ("turf_per_m2", "m2"),
    ("turf_per_pallet", "pallet"),
    ("soil_per_tonne", "t"),
    ("soil_per_bag", "bag"),
    ("edging_per_piece", "piece"),
    ("edging_per_m", "m"),
    ("seed_per_kg", "kg"),
    ("fertiliser_per_kg", "kg"),
    ("mulch_per_m3", "m3"),
    ("skip_each", "skip"),
    ("delivery_each", "delivery"),
    ("pallet_deposit_each", "pallet"),
    ("laying_per_m2", "m2"),
    ("labour_per_hour", "hour"),
    ("old_turf_per_m2", "m2"),
];

/// `[price]`, and `[cost]` beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceSettings {
    /// The currency as written: an ISO 4217 code or any other name.
    pub currency: String,
    /// Amounts are rounded to this many decimals.
    pub decimals: u32,
    /// Tax that is added to the sum, percent.
    pub tax_percent: Decimal,
    /// What is added to the firm's cost, percent, for a price where there is no rate for the customer.
    pub markup_percent: Option<Decimal>,
    /// The date until which the price binds, which makes the document a quotation; `None` for an estimate.
    pub quote_valid_until: Option<Date>,
    /// What the customer pays, by the key of [`RATES`], in its order.
    pub rates: Vec<Rate>,
    /// What the firm pays, in the same way.
    pub costs: Vec<Rate>,
    /// Whatever else is charged.
    pub extras: Vec<Extra>,
}

/// A key of [`RATES`], and the price of one unit.
pub type Rate = (&'static str, Decimal);

/// `[[price.extra]]`: a line of the user's own.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// What it is for.
    pub label: String,
    /// How many units.
    pub quantity: Decimal,
    /// What a unit is.
    pub unit: String,
    /// The price of one unit.
    pub rate: Decimal,
}

impl PriceSettings {
    /// What the customer pays for one unit, by a key of [`RATES`]; `None` where there is no rate for it. A rate of 0 is no rate, as the
    /// template shows keys with 0.
    #[must_use]
    pub fn rate(&self, key: &str) -> Option<Decimal> {
        of(&self.rates, key)
    }

    /// What the firm pays for one unit; `None` where there is no cost for it, or it is 0.
    #[must_use]
    pub fn cost(&self, key: &str) -> Option<Decimal> {
        of(&self.costs, key)
    }

    /// Whether there is anything to work out a price for the customer from.
    #[must_use]
    pub fn sells(&self) -> bool {
        !self.rates.is_empty() || !self.extras.is_empty() || self.markup_percent.is_some()
    }
}

/// The rate of a key, unless it is missing or 0.
fn of(rates: &[Rate], key: &str) -> Option<Decimal> {
    let found = rates.iter().find(|(k, _)| *k == key);
    found.map(|(_, rate)| *rate).filter(|rate| !rate.is_zero())
}

/// What a rate may be; the bound is more than any rate in any currency.
const RATE: Limits = Limits::NOT_NEGATIVE.up_to(1e9);

/// The decimal number as it was written in the sheet: the shortest text that gives back the same `f64` is taken.
fn decimal(number: f64) -> Decimal {
    Decimal::from_str(&number.to_string()).unwrap_or_default()
}

/// What a rates file says that all jobs share.
#[derive(Default)]
pub(super) struct Shared {
    currency: Option<String>,
    tax_percent: Option<f64>,
    markup_percent: Option<f64>,
    rates: Vec<Rate>,
    costs: Vec<Rate>,
    firm: Option<Firm>,
    file: Option<SheetFile>,
}

/// What a markup on the firm's cost may be, percent: up to ten times the cost is not taken for a slip.
const MARKUP: Limits = Limits::percent(1000.0);
const TAX: Limits = Limits::percent(100.0);

/// The settings to price by, the firm in the rates file, and that file; each `None` where there is none.
pub(super) type Read = (Option<PriceSettings>, Option<Firm>, Option<SheetFile>);

/// Reads `[price]` and `[cost]`, and the rates file that `[price]` names, which is looked for in `folder`, unless `[job]` has `named`
/// it: what the sheet says wins over it.
pub(super) fn read(root: &mut Keys<'_>, folder: &Path, named: Option<Shared>) -> Read {
    let costs = root.table("cost").map(cost);
    let (mut price, firm, file) = match (root.table("price"), named) {
        (Some(keys), named) => price(keys, folder, named),
        (None, Some(all)) => all.alone(root.has("order")),
        (None, None) => (None, None, None),
    };
    if let Some(costs) = costs {
        let price = price.get_or_insert_with(|| PriceSettings {
            currency: CURRENCY.to_owned(),
            decimals: 2,
            tax_percent: Decimal::ZERO,
            markup_percent: None,
            quote_valid_until: None,
            rates: Vec::new(),
            costs: Vec::new(),
            extras: Vec::new(),
        });
        over(&mut price.costs, costs);
    }
    (price, firm, file)
}

impl Shared {
    /// The settings where the sheet has no `[price]`: what the rates file says, if something is ordered.
    fn alone(self, ordered: bool) -> Read {
        let priced = ordered && !(self.rates.is_empty() && self.costs.is_empty());
        let price = priced.then_some(PriceSettings {
            currency: self.currency.unwrap_or_else(|| CURRENCY.to_owned()),
            decimals: 2,
            tax_percent: decimal(self.tax_percent.unwrap_or(0.0)),
            markup_percent: self.markup_percent.map(decimal),
            quote_valid_until: None,
            rates: self.rates,
            costs: self.costs,
            extras: Vec::new(),
        });
        (price, self.firm, self.file)
    }
}

/// The currency unless it is told.
const CURRENCY: &str = "GBP";

fn price(mut keys: Keys<'_>, folder: &Path, named: Option<Shared>) -> Read {
    let mut shared = match (named, rates_file(&mut keys, folder)) {
        (Some(_), Some(_)) => {
            keys.fault(
                Some("rates"),
                "the rates file is named in [job] and in [price].",
                "Name it once: in [job] it serves the whole sheet.",
            );
            Shared::default()
        }
        (one, other) => one.or(other).unwrap_or_default(),
    };
    let currency = match (keys.text("currency"), shared.currency) {
        (Some(own), _) => own,
        (None, Some(all)) => all,
        (None, None) => {
            keys.default_is("currency", format!("\"{CURRENCY}\""));
            CURRENCY.to_owned()
        }
    };
    let decimals = keys.integer_or("decimals", 0..=4, 2) as u32;
    let tax_percent = keys.number("tax_percent", TAX).or(shared.tax_percent);
    if tax_percent.is_none() {
        keys.default_is("tax_percent", 0);
    }
    let markup_percent = keys
        .number("markup_percent", MARKUP)
        .or(shared.markup_percent);
    keys.default_is("document", "\"estimate\"");
    let quote = keys
        .choice("document", &[("estimate", false), ("quotation", true)])
        .unwrap_or(false);
    let valid_until = keys.date("valid_until");
    if quote && valid_until.is_none() && !keys.has("valid_until") {
        keys.fault(
            Some("document"),
            "a quotation binds, so it needs a date until which it is valid.",
            "Add valid_until, or leave the line out for an estimate.",
        );
    }
    over(&mut shared.rates, rates_in(&mut keys));
    let extras = keys.tables("extra").into_iter().filter_map(extra).collect();
    keys.done();
    let price = PriceSettings {
        currency,
        decimals,
        tax_percent: decimal(tax_percent.unwrap_or(0.0)),
        markup_percent: markup_percent.map(decimal),
        quote_valid_until: if quote { valid_until } else { None },
        rates: shared.rates,
        costs: shared.costs,
        extras,
    };
    (Some(price), shared.firm, shared.file)
}

/// The rates file that `rates` of this table names.
pub(super) fn rates_file(keys: &mut Keys<'_>, folder: &Path) -> Option<Shared> {
    let name = keys.text("rates")?;
    Some(shared(keys, &folder.join(name)))
}

fn cost(mut keys: Keys<'_>) -> Vec<Rate> {
    let costs = rates_in(&mut keys);
    keys.done();
    costs
}

/// Puts the rates of the sheet over those that all jobs share. A rate of the sheet also takes the place of shared ones for the same thing
/// by another measure, such as turf by the piece and by the square metre.
fn over(shared: &mut Vec<Rate>, own: Vec<Rate>) {
    let thing = |key: &'static str| key.split_once("_per_").map_or(key, |(thing, _)| thing);
    let is_given = |key| {
        let mut given = own.iter().filter(|(_, rate)| !rate.is_zero());
        given.any(|(own, _)| thing(own) == thing(key))
    };
    shared.retain(|(key, _)| !is_given(key));
    for (key, rate) in own {
        match shared.iter_mut().find(|(k, _)| *k == key) {
            Some(known) => known.1 = rate,
            None => shared.push((key, rate)),
        }
    }
}

fn rates_in(keys: &mut Keys<'_>) -> Vec<Rate> {
    RATES
        .iter()
        .filter_map(|(key, _)| keys.number(key, RATE).map(|rate| (*key, decimal(rate))))
        .collect()
}

fn extra(mut keys: Keys<'_>) -> Option<Extra> {
    let label = keys.text("label");
    let label = keys.need("label", label, "each line says what it is for");
    let quantity = keys.number_or("quantity", RATE, 1.0);
    let unit = keys.text("unit").unwrap_or_default();
    let rate = keys.number("rate", Limits::ANY.up_to(1e9));
    let rate = keys.need("rate", rate, "a line needs a price");
    keys.done();
    Some(Extra {
        label: label?,
        quantity: decimal(quantity),
        unit,
        rate: decimal(rate?),
    })
}

/// The most lines of a rates file that are taken to be broken by slips of the pen, each of which is told. Where there are more, it is some
/// other file, and one fault is enough.
const SLIPS: usize = 3;

/// Reads the rates file: the rate keys of `[price]` at its top, then `[cost]` and `[firm]`. Whoever wrote the sheet may name any file here,
/// and the faults may be read by someone else, so that a fault shows the line and key and never what the file says.
fn shared(keys: &Keys<'_>, path: &Path) -> Shared {
    let name = path.display().to_string();
    let unusable = |why: String| {
        keys.fault(
            Some("rates"),
            format!("the rates file {name} {why}."),
            "It is looked for beside the job sheet, and has a rate a line, such as turf_per_piece = 4.20.",
        );
        Shared::default()
    };
    let (file, bytes) = match SheetFile::read(path) {
        Ok(read) => read,
        Err(error) => return unusable(format!("cannot be read ({error})")),
    };
    if bytes.len() as u64 > LARGEST_SHEET {
        return unusable("is larger than 1 MB, which no list of rates is".to_owned());
    }
    let Ok(text) = std::str::from_utf8(&bytes) else {
        return unusable("is not text in UTF-8".to_owned());
    };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let sheet = Sheet::parse_unshown(text, &name);
    let mut root = sheet.root();
    let shared = Shared {
        currency: root.text("currency"),
        tax_percent: root.number("tax_percent", TAX),
        markup_percent: root.number("markup_percent", MARKUP),
        rates: rates_in(&mut root),
        costs: root.table("cost").map(cost).unwrap_or_default(),
        firm: super::people::firm(&mut root, path.parent().unwrap_or(Path::new(""))),
        file: Some(file),
    };
    root.done();
    match sheet.finish() {
        Ok(settings) => keys.take_rates("rates", settings),
        Err(Faults(mut faults)) => {
            let broken = faults.iter().filter(|fault| fault.code() == "not-toml");
            if broken.count() > SLIPS {
                faults.truncate(1);
            }
            for fault in faults {
                keys.pass_on("rates", fault);
            }
        }
    }
    shared
}
