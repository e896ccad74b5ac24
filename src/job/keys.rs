//! Reads a TOML sheet key by key and keeps every fault with its line, so that a person mends the sheet once and not once for each fault.
//!
//! Whoever reads a table asks a [`Keys`] for each key that it knows, by type and range, and calls `Keys::done` at the
//! end. Each key of the table that was not asked for is then told as unknown, with the nearest key that was.

mod get;
mod limits;
mod nearest;
mod sheet;
mod value;

pub use limits::Limits;
pub use sheet::{Faults, Origin, Setting, Sheet};

use crate::fault::Fault;
use nearest::nearest;
use sheet::clip;
use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One table of a sheet, while it is being read.
///
/// Each getter gives `None` for a key that is absent *and* for one that is wrong; in the second case the fault is
/// already recorded. `Keys::need` tells the two apart.
#[derive(Debug)]
pub struct Keys<'s> {
    sheet: &'s Sheet<'s>,
    /// What messages call the table: "" at the top of the sheet, else `[order.soil]` or `[[bed]] number 2`.
    name: String,
    at: usize,
    table: &'s DeTable<'s>,
    asked: Vec<&'static str>,
}

impl<'s> Keys<'s> {
    /// Line this table starts on, from 1.
    pub(crate) fn line(&self) -> u64 {
        self.sheet.line_at(self.at)
    }

    /// What messages call this table, such as `[order.soil]`.
    pub(crate) fn name(&self) -> &str {
        &self.name
    }

    /// Whether the key is written in the sheet, rightly or wrongly.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The table `key` inside this one, `[name.key]`; `None` where there is none.
    pub(crate) fn table(&mut self, key: &'static str) -> Option<Keys<'s>> {
        self.asked.push(key);
        let (at, value) = self.entry(key)?;
        let name = match self.path() {
            "" => format!("[{key}]"),
            path => format!("[{path}.{key}]"),
        };
        match value.get_ref() {
            DeValue::Table(table) => Some(self.inner(name, at, table)),
            _ => self.wrong(
                key,
                value,
                &format!("it must be a table that starts with {name}"),
            ),
        }
    }

    /// The tables of a list, `[[key]]`, in the order of the sheet. A single `[key]` counts as a list of one.
    pub(crate) fn tables(&mut self, key: &'static str) -> Vec<Keys<'s>> {
        self.asked.push(key);
        let Some((at, value)) = self.entry(key) else {
            return Vec::new();
        };
        let whole = match self.path() {
            "" => key.to_owned(),
            path => format!("{path}.{key}"),
        };
        let items: Vec<&Spanned<DeValue<'s>>> = match value.get_ref() {
            DeValue::Array(items) => items.iter().collect(),
            DeValue::Table(table) => return vec![self.inner(format!("[{whole}]"), at, table)],
            _ => Vec::new(),
        };
        let mut tables = Vec::new();
        for (number, item) in items.iter().enumerate() {
            if let DeValue::Table(table) = item.get_ref() {
                let called = ["label", "name"]
                    .iter()
                    .find_map(|key| table.get(*key)?.get_ref().as_str())
                    .map(|label| format!(" “{}”", clip(label)))
                    .unwrap_or_default();
                let name = format!("[[{whole}]] number {}{called}", number + 1);
                tables.push(self.inner(name, item.span().start, table));
            }
        }
        if tables.is_empty() || tables.len() < items.len() {
            self.wrong::<()>(
                key,
                value,
                &format!("write each as a table that starts with [[{whole}]]"),
            );
        }
        tables
    }

    /// Records, as a setting, what is used for `key` where the sheet does not have it.
    pub(crate) fn default_is(&self, key: &str, value: impl fmt::Display) {
        if !self.has(key) {
            self.sheet.settings.borrow_mut().push((
                usize::MAX,
                Setting {
                    key: self.full(key),
                    value: value.to_string(),
                    from: Origin::Default,
                },
            ));
        }
    }

    /// Passes `got` on; where the key is absent, records that it is needed. `why` completes the sentence
    /// "… has no width_m: ".
    pub(crate) fn need<T>(&self, key: &str, got: Option<T>, why: &str) -> Option<T> {
        if got.is_none() && !self.has(key) {
            let table = if self.name.is_empty() {
                "the sheet"
            } else {
                &self.name
            };
            self.fault(None, format!("{table} has no {key}: {why}."), "Add it.");
        }
        got
    }

    /// Records a fault that the caller found, at the line of `key`, or of the table where that is `None` or not there.
    pub(crate) fn fault(
        &self,
        key: Option<&str>,
        what: impl Into<String>,
        advice: impl Into<String>,
    ) {
        let at = key
            .and_then(|key| self.entry(key))
            .map_or(self.at, |(at, _)| at);
        self.sheet.push(at, Fault::usage("job-sheet", what, advice));
    }

    /// Ends the reading of this table: records a fault for every key that was not asked for, with the nearest key that was.
    pub(crate) fn done(self) {
        for (key, _) in self.unasked() {
            let unknown = key.get_ref();
            let advice = match nearest(unknown, &self.asked) {
                Some(near) => format!("Did you mean {near}?"),
                None => {
                    let mut known = self.asked.clone();
                    known.sort_unstable();
                    known.dedup();
                    format!("Known here: {}.", known.join(", "))
                }
            };
            let place = if self.name.is_empty() {
                "at the top of the sheet".to_owned()
            } else {
                format!("in {}", self.name)
            };
            self.sheet.push(
                key.span().start,
                Fault::usage(
                    "unknown-key",
                    format!("{unknown} is not known {place}."),
                    advice,
                ),
            );
        }
    }

    /// The keys of the table that were not asked for, in the order of the sheet.
    fn unasked(
        &self,
    ) -> Vec<(
        &'s Spanned<toml::de::DeString<'s>>,
        &'s Spanned<DeValue<'s>>,
    )> {
        let mut left: Vec<_> = self
            .table
            .iter()
            .filter(|(key, _)| !self.asked.iter().any(|asked| *asked == key.get_ref()))
            .collect();
        left.sort_by_key(|(key, _)| key.span().start);
        left
    }

    /// A table within the same sheet; `at` is the byte at which it begins.
    fn inner(&self, name: String, at: usize, table: &'s DeTable<'s>) -> Keys<'s> {
        Keys {
            sheet: self.sheet,
            name,
            at,
            table,
            asked: Vec::new(),
        }
    }

    /// The value of a key, and the byte of the sheet at which the key stands.
    fn entry(&self, key: &str) -> Option<(usize, &'s Spanned<DeValue<'s>>)> {
        self.table
            .get_key_value(key)
            .map(|(key, value)| (key.span().start, value))
    }

    /// Marks the key as known, records it as a setting, and gives its value.
    fn take(&mut self, key: &'static str) -> Option<&'s Spanned<DeValue<'s>>> {
        self.asked.push(key);
        let (_, value) = self.entry(key)?;
        if value.span().is_empty() {
            // The parser put this in place of something broken, which is already told.
            return None;
        }
        self.record(key, value);
        Some(value)
    }

    fn record(&self, key: &str, value: &Spanned<DeValue<'_>>) {
        let at = value.span().start;
        let setting = Setting {
            key: self.full(key),
            value: self.shown(value),
            from: Origin::Sheet {
                line: self.sheet.line_at(at),
            },
        };
        self.sheet.settings.borrow_mut().push((at, setting));
    }

    /// Takes over the settings of the rates file that `key` names, but for what the sheet says itself.
    pub(in crate::job) fn take_rates(&self, key: &str, settings: Vec<Setting>) {
        let at = self.entry(key).map_or(self.at, |(at, _)| at);
        // The file has the same tables as the sheet; keys at its top belong to `[price]`.
        const PRICE: &str = "price";
        let settings = (settings.into_iter()).filter(|s| match s.key.split_once('.') {
            Some((table, key)) => !self.sheet.has(table, key),
            None => !self.sheet.has(PRICE, &s.key),
        });
        let mut all = self.sheet.settings.borrow_mut();
        all.extend(settings.map(|setting| {
            let from = match setting.from {
                Origin::Sheet { line } => Origin::Rates { line },
                other => other,
            };
            let key = match setting.key.contains('.') {
                true => setting.key,
                false => format!("{PRICE}.{}", setting.key),
            };
            let value = setting.value;
            (at, Setting { key, value, from })
        }));
    }

    /// Passes on a fault of the file that `key` names, and says where it was named.
    pub(in crate::job) fn pass_on(&self, key: &str, fault: Fault) {
        let at = self.entry(key).map_or(self.at, |(at, _)| at);
        let named = format!(
            "(It is named by {key} in line {} of the job sheet.)",
            self.sheet.line_at(at)
        );
        let advice = match fault.advice() {
            "" => named,
            advice => format!("{advice} {named}"),
        };
        self.sheet.push(at, fault.advising(advice));
    }

    /// Records that the value of a key is wrong; `wanted` says what it must be. Gives `None`, so that a getter can end with it.
    fn wrong<T>(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) -> Option<T> {
        let what = match self.sheet.shown {
            true => format!("{}{key} is {}; {wanted}.", self.prefix(), self.shown(value)),
            false => format!("{}{key}: {wanted}.", self.prefix()),
        };
        self.sheet
            .push(value.span().start, Fault::usage("job-sheet", what, ""));
        None
    }

    /// The value as the sheet writes it, on one line.
    fn shown(&self, value: &Spanned<DeValue<'_>>) -> String {
        match value.get_ref() {
            DeValue::Table(_) => "a table".to_owned(),
            _ => {
                let raw = self.sheet.text.get(value.span()).unwrap_or("");
                clip(&raw.split_whitespace().collect::<Vec<_>>().join(" "))
            }
        }
    }

    fn prefix(&self) -> String {
        if self.name.is_empty() {
            String::new()
        } else {
            format!("{} ", self.name)
        }
    }

    /// Dotted path of a `[table]`; empty for the top and for list items.
    fn path(&self) -> &str {
        self.name
            .strip_prefix('[')
            .and_then(|name| name.strip_suffix(']'))
            .unwrap_or("")
    }

    /// The key with its table, as settings show it: `order.soil.depth_m`, or `[[bed]] number 2 radius_m`.
    fn full(&self, key: &str) -> String {
        match (self.name.is_empty(), self.path()) {
            (true, _) => key.to_owned(),
            (false, "") => format!("{} {key}", self.name),
            (false, path) => format!("{path}.{key}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(super) fn faults(text: &str, read: impl Fn(&mut Keys<'_>)) -> Vec<String> {
        let sheet = Sheet::parse(text, "job.toml");
        let mut root = sheet.root();
        read(&mut root);
        root.done();
        match sheet.finish() {
            Ok(_) => Vec::new(),
            Err(faults) => faults.0.iter().map(|fault| fault.to_string()).collect(),
        }
    }

    #[test]
    fn every_fault_is_kept_with_the_nearest_key() {
        let sheet = Sheet::parse(
            "[order.soil]\ndepth_m = \"3cm\"\nbag_m3 = 0\nrund_t = 0.5\n",
            "job.toml",
        );
        let mut root = sheet.root();
        if let Some(mut order) = root.table("order") {
            if let Some(mut soil) = order.table("soil") {
                let depth_m = soil.length_m_or("depth_m", Limits::POSITIVE.up_to(2.0), 0.03);
                let bag_m3 = soil.number("bag_m3", Limits::POSITIVE);
                let round_t = soil.number("round_t", Limits::POSITIVE);
                assert_eq!((depth_m, bag_m3, round_t), (0.03, None, None));
                soil.done();
            }
            order.done();
        }
        root.done();
        let faults = sheet.finish().unwrap_err();
        assert_eq!(faults.0.len(), 2);
        assert!(faults.0[0].what().contains("bag_m3 is 0"));
        assert!(faults.0[1].advice().contains("round_t"));
    }

    #[test]
    fn every_fault_shows_with_its_line() {
        let text = "[walk]\ncarry_m = \"wide\"\nfiles = [\"a\", 3]\nlapps = 2\ndate = 2026-13-01\n\n[[bed]]\nradius_m = -1\n[[bed]]\nlabel = \"x\"\n";
        let all = faults(text, |root| {
            if let Some(mut walk) = root.table("walk") {
                assert_eq!(walk.length_m("carry_m", Limits::NOT_NEGATIVE), None);
                assert_eq!(walk.texts("files"), None);
                assert_eq!(walk.integer("laps", 1..=9), None);
                assert_eq!(walk.date("date"), None);
                walk.done();
            }
            for mut bed in root.tables("bed") {
                let radius = bed.length_m("radius_m", Limits::POSITIVE);
                bed.need("radius_m", radius, "a bed is a circle of known size");
                bed.text("label");
                bed.done();
            }
        });
        let starts: Vec<&str> = all.iter().filter_map(|f| f.get(..16)).collect();
        assert_eq!(
            starts,
            [
                "job.toml line 2:",
                "job.toml line 3:",
                "job.toml line 4:",
                "job.toml line 5:",
                "job.toml line 8:",
                "job.toml line 9:"
            ],
            "{all:#?}"
        );
        assert!(all[0].contains("\"wide\" is not a length"), "{}", all[0]);
        assert!(all[2].contains("Did you mean laps?"), "{}", all[2]);
        assert!(
            all[4].contains("radius_m is -1; it must be more than 0"),
            "{}",
            all[4]
        );
        assert!(
            all[5].contains("[[bed]] number 2 “x” has no radius_m"),
            "{}",
            all[5]
        );
    }

    #[test]
    fn what_is_not_toml_is_a_fault_and_the_rest_is_still_read() {
        let text = "a = 1\nb = = 2\nc = \"open\nd = -4\n";
        let all = faults(text, |root| {
            root.number("a", Limits::POSITIVE);
            root.number("b", Limits::POSITIVE);
            root.text("c");
            root.number("d", Limits::POSITIVE);
        });
        let lines: Vec<&str> = all.iter().filter_map(|f| f.get(..16)).collect();
        assert_eq!(
            lines,
            ["job.toml line 2:", "job.toml line 3:", "job.toml line 4:"],
            "{all:#?}"
        );
    }

    #[test]
    fn settings_say_where_they_come_from() {
        let sheet = Sheet::parse("[order.soil]\ndepth_m = \"3cm\"\n", "job.toml");
        let mut root = sheet.root();
        if let Some(mut soil) = root
            .table("order")
            .and_then(|mut order| order.table("soil"))
        {
            soil.length_m_or("depth_m", Limits::POSITIVE, 0.05);
            soil.number_or("round_t", Limits::POSITIVE, 0.5);
        }
        let settings = sheet.finish().unwrap_or_default();
        let shown: Vec<(String, Origin)> = settings
            .into_iter()
            .map(|s| (format!("{}={}", s.key, s.value), s.from))
            .collect();
        assert_eq!(
            shown,
            [
                (
                    "order.soil.depth_m=\"3cm\"".to_owned(),
                    Origin::Sheet { line: 2 }
                ),
                ("order.soil.round_t=0.5".to_owned(), Origin::Default)
            ]
        );
    }
}
