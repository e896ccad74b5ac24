//! `[price]` of the job sheet, and the rates file all jobs may share.

use super::keys::{Faults, Keys, Limits, Sheet};
use super::{LARGEST_SHEET, SheetFile};
use jiff::civil::Date;
use rust_decimal::Decimal;
use std::path::Path;
use std::str::FromStr;

/// The rates there are: the key in the sheet, and what one of it is.
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

/// `[price]`.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceSettings {
    /// As written: an ISO 4217 code or any other name.
    pub currency: String,
    /// Amounts are rounded to this many decimals.
    pub decimals: u32,
    /// Added to the sum, percent.
    pub tax_percent: Decimal,
    /// A binding price, valid until the date; otherwise an estimate.
    pub quote_valid_until: Option<Date>,
    /// By the key of [`RATES`], in its order.
    pub rates: Vec<(&'static str, Decimal)>,
    /// Whatever else is charged.
    pub extras: Vec<Extra>,
    /// Where rates came from that the sheet itself does not say.
    pub rates_file: Option<SheetFile>,
}

/// `[[price.extra]]`: a line of the user's own.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// What it is.
    pub label: String,
    /// How many.
    pub quantity: Decimal,
    /// Of what.
    pub unit: String,
    /// For one.
    pub rate: Decimal,
}

impl PriceSettings {
    /// What one costs, by a key of [`RATES`].
    pub fn rate(&self, key: &str) -> Option<Decimal> {
        self.rates.iter().find(|(k, _)| *k == key).map(|(_, r)| *r)
    }
}

/// More than any rate in any currency.
const RATE: Limits = Limits::NOT_NEGATIVE.up_to(1e9);

/// Exactly the decimal that was written: the shortest text that gives back the same `f64`.
fn decimal(number: f64) -> Decimal {
    Decimal::from_str(&number.to_string()).unwrap_or_default()
}

/// Reads `[price]`; the rates file it names is looked for in `folder`, and what the sheet says wins over it.
pub(super) fn read(mut keys: Keys<'_>, folder: &Path) -> PriceSettings {
    let currency = keys.text_or("currency", "GBP");
    let decimals = keys.integer_or("decimals", 0..=4, 2) as u32;
    let tax_percent =
        decimal(keys.number_or("tax_percent", Limits::NOT_NEGATIVE.up_to(100.0), 0.0));
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
    let (mut rates, rates_file) = match keys.text("rates") {
        Some(name) => shared(&keys, &folder.join(name)),
        None => (Vec::new(), None),
    };
    for (key, rate) in rates_in(&mut keys) {
        match rates.iter_mut().find(|(k, _)| *k == key) {
            Some(known) => known.1 = rate,
            None => rates.push((key, rate)),
        }
    }
    let extras = keys.tables("extra").into_iter().filter_map(extra).collect();
    keys.done();
    PriceSettings {
        currency,
        decimals,
        tax_percent,
        quote_valid_until: if quote { valid_until } else { None },
        rates,
        extras,
        rates_file,
    }
}

fn rates_in(keys: &mut Keys<'_>) -> Vec<(&'static str, Decimal)> {
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

/// Lines of a rates file that may be broken by slips of the pen, each of which is told. Where there are more it is another file, and
/// one is enough.
const SLIPS: usize = 3;

/// The rates file: the same rate keys, at its top. Whoever wrote the sheet may name any file here, and whoever reads the fault
/// may be someone else: a fault shows its line and key, never what the file says.
fn shared(keys: &Keys<'_>, path: &Path) -> (Vec<(&'static str, Decimal)>, Option<SheetFile>) {
    let name = path.display().to_string();
    let unusable = |why: String| {
        keys.fault(
            Some("rates"),
            format!("the rates file {name} {why}."),
            "It is looked for beside the job sheet, and has a rate a line, such as turf_per_piece = 4.20.",
        );
        (Vec::new(), None)
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
    let rates = rates_in(&mut root);
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
    (rates, Some(file))
}
