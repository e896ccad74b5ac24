//! Reads a TOML sheet key by key and keeps every fault, each with its line, so that a person mends
//! the sheet once and not once per fault.
//!
//! A reader asks a [`Keys`] for each key it knows, by type and range, and calls [`Keys::done`] at the
//! end: what nobody asked for is then reported with the nearest key that was.
//!
//! ```
//! use boundwalk::job::keys::{Limits, Sheet};
//! let sheet = Sheet::parse("[order.soil]\ndepth_m = \"3cm\"\nbag_m3 = 0\nrund_t = 0.5\n", "job.toml");
//! let mut root = sheet.root();
//! if let Some(mut order) = root.table("order") {
//!     if let Some(mut soil) = order.table("soil") {
//!         let depth_m = soil.length_m_or("depth_m", Limits::POSITIVE.up_to(2.0), 0.03);
//!         let bag_m3 = soil.number("bag_m3", Limits::POSITIVE);
//!         let round_t = soil.number("round_t", Limits::POSITIVE);
//!         assert_eq!((depth_m, bag_m3, round_t), (0.03, None, None));
//!         soil.done();
//!     }
//!     order.done();
//! }
//! root.done();
//! let faults = sheet.finish().unwrap_err();
//! assert_eq!(faults.0.len(), 2);
//! assert!(faults.0[0].what().contains("bag_m3 is 0"));
//! assert!(faults.0[1].advice().contains("round_t"));
//! ```

mod limits;
mod nearest;
mod sheet;
mod value;

pub use limits::Limits;
pub use sheet::{Faults, Origin, Setting, Sheet};

use crate::fault::Fault;
use crate::units;
use jiff::civil::Date;
use nearest::nearest;
use sheet::clip;
use std::fmt;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use value::{as_number, clock_text_s};

/// One table of a sheet, while it is being read.
///
/// Each getter gives `None` for a key that is absent *and* for one that is wrong; in the second case the fault is
/// already recorded. [`Keys::need`] tells the two apart.
#[derive(Debug)]
pub struct Keys<'s> {
    sheet: &'s Sheet<'s>,
    /// What messages call it: "" at the top, else `[order.soil]` or `[[bed]] number 2`.
    name: String,
    at: usize,
    table: &'s DeTable<'s>,
    asked: Vec<&'static str>,
}

impl<'s> Keys<'s> {
    /// Line this table starts on, from 1.
    pub fn line(&self) -> u64 {
        self.sheet.line_at(self.at)
    }

    /// What messages call this table, such as `[order.soil]`.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether the key is written in the sheet, rightly or wrongly.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// A number in the key's own unit. Integers and floats alike; texts are faults.
    pub fn number(&mut self, key: &'static str, limits: Limits) -> Option<f64> {
        let value = self.take(key)?;
        match as_number(value.get_ref()) {
            Some(number) => self.within(key, value.span(), number, limits),
            None => self.wrong(key, value, &format!("it must be {limits}, without quotes")),
        }
    }

    /// A length in metres: a plain number is metres, a text has units (`"70cm"`, `"12ft 6in"`).
    pub fn length_m(&mut self, key: &'static str, limits: Limits) -> Option<f64> {
        let value = self.take(key)?;
        let metres = self.as_length(key, value)?;
        self.within(key, value.span(), metres, limits)
    }

    /// A whole number.
    pub fn integer(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<i64> {
        let value = self.take(key)?;
        let whole = match value.get_ref() {
            DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix()).ok(),
            _ => None,
        };
        match whole {
            Some(whole) if range.contains(&whole) => Some(whole),
            _ => {
                let (low, high) = (range.start(), range.end());
                let wanted = match (*low, *high) {
                    (low, i64::MAX) => format!("it must be a whole number, {low} or more"),
                    (low, high) => format!("it must be a whole number from {low} to {high}"),
                };
                self.wrong(key, value, &wanted)
            }
        }
    }

    /// A text in quotes, not blank.
    pub fn text(&mut self, key: &'static str) -> Option<String> {
        let value = self.take(key)?;
        match value.get_ref().as_str().map(str::trim) {
            Some(text) if !text.is_empty() => Some(text.to_owned()),
            Some(_) => self.wrong(
                key,
                value,
                "it must not be blank; leave the line out instead",
            ),
            None => self.wrong(key, value, "it must be a text in double quotes"),
        }
    }

    /// `true` or `false`.
    pub fn flag(&mut self, key: &'static str) -> Option<bool> {
        let value = self.take(key)?;
        match value.get_ref().as_bool() {
            Some(flag) => Some(flag),
            None => self.wrong(key, value, "it must be true or false, without quotes"),
        }
    }

    /// A date, `2026-05-14`, with or without quotes.
    pub fn date(&mut self, key: &'static str) -> Option<Date> {
        let value = self.take(key)?;
        let date = match value.get_ref() {
            DeValue::Datetime(when) if when.time.is_none() => when.date.and_then(|d| {
                Date::new(i16::try_from(d.year).ok()?, d.month as i8, d.day as i8).ok()
            }),
            DeValue::String(text) => text.trim().parse().ok(),
            _ => None,
        };
        match date {
            Some(date) => Some(date),
            None => self.wrong(key, value, "it must be a date written 2026-05-14"),
        }
    }

    /// A time of day (UTC) as seconds since midnight: `10:42:30`, with or without quotes; `10:42` will do.
    pub fn time_of_day_s(&mut self, key: &'static str) -> Option<f64> {
        let value = self.take(key)?;
        let parsed = match value.get_ref() {
            DeValue::Datetime(when) => when.time.map(|t| {
                f64::from(t.hour) * 3600.0
                    + f64::from(t.minute) * 60.0
                    + f64::from(t.second.unwrap_or(0))
                    + f64::from(t.nanosecond.unwrap_or(0)) * 1e-9
            }),
            DeValue::String(text) => clock_text_s(text),
            _ => None,
        };
        match parsed {
            Some(seconds) => Some(seconds),
            None => self.wrong(
                key,
                value,
                "it must be a time of day (UTC) written 10:42:30",
            ),
        }
    }

    /// One of a few words, each standing for a value. Upper and lower case are alike.
    pub fn choice<T: Copy>(&mut self, key: &'static str, choices: &[(&str, T)]) -> Option<T> {
        let value = self.take(key)?;
        let word = value.get_ref().as_str().map(str::trim);
        let found = choices
            .iter()
            .find(|(name, _)| word.is_some_and(|word| word.eq_ignore_ascii_case(name)));
        match found {
            Some((_, choice)) => Some(*choice),
            None => {
                let words: Vec<String> = choices.iter().map(|(w, _)| format!("\"{w}\"")).collect();
                self.wrong(key, value, &format!("it must be {}", words.join(" or ")))
            }
        }
    }

    /// A list of lengths in metres, each as in [`Keys::length_m`].
    pub fn lengths_m(&mut self, key: &'static str, limits: Limits) -> Option<Vec<f64>> {
        self.list(
            key,
            "a list of lengths, such as [2.8, 3.1]",
            |keys, item| {
                let metres = keys.as_length(key, item)?;
                keys.within(key, item.span(), metres, limits)
            },
        )
    }

    /// A list of numbers.
    pub fn numbers(&mut self, key: &'static str, limits: Limits) -> Option<Vec<f64>> {
        self.list(
            key,
            "a list of numbers, such as [1, 2.5]",
            |keys, item| match as_number(item.get_ref()) {
                Some(number) => keys.within(key, item.span(), number, limits),
                None => keys.wrong(key, item, &format!("each must be {limits}, without quotes")),
            },
        )
    }

    /// A list of texts; one text alone will do. A blank one is a fault.
    pub fn texts(&mut self, key: &'static str) -> Option<Vec<String>> {
        if let Some(DeValue::String(_)) = self.table.get(key).map(Spanned::get_ref) {
            return self.text(key).map(|text| vec![text]);
        }
        self.list(
            key,
            "a list of texts, such as [\"a\", \"b\"]",
            |keys, item| match item.get_ref().as_str().map(str::trim) {
                Some(text) if !text.is_empty() => Some(text.to_owned()),
                _ => keys.wrong(key, item, "each must be a text in double quotes, not blank"),
            },
        )
    }

    /// A table inside this one, `[name.key]`.
    pub fn table(&mut self, key: &'static str) -> Option<Keys<'s>> {
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

    /// The tables of a list, `[[key]]`, in the order of the sheet. A single `[key]` will do.
    pub fn tables(&mut self, key: &'static str) -> Vec<Keys<'s>> {
        self.asked.push(key);
        let Some((at, value)) = self.entry(key) else {
            return Vec::new();
        };
        let items: Vec<&Spanned<DeValue<'s>>> = match value.get_ref() {
            DeValue::Array(items) => items.iter().collect(),
            DeValue::Table(table) => return vec![self.inner(format!("[{key}]"), at, table)],
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
                let name = format!("[[{key}]] number {}{called}", number + 1);
                tables.push(self.inner(name, item.span().start, table));
            }
        }
        if tables.is_empty() || tables.len() < items.len() {
            self.wrong::<()>(
                key,
                value,
                &format!("write each as a table that starts with [[{key}]]"),
            );
        }
        tables
    }

    /// All numbers of this table that no getter asked for, by the sheet's own names, in its order: for
    /// tables whose keys are the user's, such as rates in `[price]`. They then count as asked for.
    pub fn other_numbers(&mut self, limits: Limits) -> Vec<(String, f64)> {
        let mut found = Vec::new();
        for (key, value) in self.unasked() {
            match as_number(value.get_ref()) {
                Some(number) if limits.allow(number) => {
                    self.record(key.get_ref(), value);
                    found.push((key.get_ref().to_string(), number));
                }
                _ => {
                    let what = format!(
                        "{}{} is {}; it must be {limits}.",
                        self.prefix(),
                        key.get_ref(),
                        self.shown(value)
                    );
                    self.sheet
                        .push(value.span().start, Fault::usage("job-sheet", what, ""));
                }
            }
        }
        // Nothing is left to report.
        self.asked.push(EVERYTHING);
        found
    }

    /// [`Keys::number`], or `default` where the key is absent or wrong; the default is recorded as a setting.
    pub fn number_or(&mut self, key: &'static str, limits: Limits, default: f64) -> f64 {
        self.default_is(key, default);
        self.number(key, limits).unwrap_or(default)
    }

    /// [`Keys::length_m`], or a default in metres.
    pub fn length_m_or(&mut self, key: &'static str, limits: Limits, default_m: f64) -> f64 {
        self.default_is(key, default_m);
        self.length_m(key, limits).unwrap_or(default_m)
    }

    /// [`Keys::integer`], or a default.
    pub fn integer_or(
        &mut self,
        key: &'static str,
        range: RangeInclusive<i64>,
        default: i64,
    ) -> i64 {
        self.default_is(key, default);
        self.integer(key, range).unwrap_or(default)
    }

    /// [`Keys::flag`], or a default.
    pub fn flag_or(&mut self, key: &'static str, default: bool) -> bool {
        self.default_is(key, default);
        self.flag(key).unwrap_or(default)
    }

    /// [`Keys::text`], or a default.
    pub fn text_or(&mut self, key: &'static str, default: &str) -> String {
        self.default_is(key, format!("\"{default}\""));
        self.text(key).unwrap_or_else(|| default.to_owned())
    }

    /// Records what stands for `key` where the sheet does not have it.
    pub fn default_is(&self, key: &str, value: impl fmt::Display) {
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
    pub fn need<T>(&self, key: &str, got: Option<T>, why: &str) -> Option<T> {
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

    /// Records a fault of the reader's own, at the line of `key` or of the table.
    pub fn fault(&self, key: Option<&str>, what: impl Into<String>, advice: impl Into<String>) {
        let at = key
            .and_then(|key| self.entry(key))
            .map_or(self.at, |(at, _)| at);
        self.sheet.push(at, Fault::usage("job-sheet", what, advice));
    }

    /// Reports every key nobody asked for, with the nearest one somebody did.
    pub fn done(self) {
        if self.asked.contains(&EVERYTHING) {
            return;
        }
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

    fn inner(&self, name: String, at: usize, table: &'s DeTable<'s>) -> Keys<'s> {
        Keys {
            sheet: self.sheet,
            name,
            at,
            table,
            asked: Vec::new(),
        }
    }

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
            // Made up by the parser in place of something broken, which is already reported.
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

    fn list<T>(
        &mut self,
        key: &'static str,
        wanted: &str,
        mut read: impl FnMut(&Keys<'s>, &Spanned<DeValue<'s>>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let value = self.take(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            return self.wrong(key, value, &format!("it must be {wanted}"));
        };
        // Every item is read before any is given up on, so that all faults show.
        let read: Vec<Option<T>> = items.iter().map(|item| read(self, item)).collect();
        read.into_iter().collect()
    }

    fn as_length(&self, key: &str, value: &Spanned<DeValue<'_>>) -> Option<f64> {
        if let Some(metres) = as_number(value.get_ref()) {
            return Some(metres);
        }
        let Some(text) = value.get_ref().as_str() else {
            return self.wrong(
                key,
                value,
                "it must be a length: metres as a number, or a text with a unit such as \"70cm\"",
            );
        };
        match units::length_m(text) {
            Ok(metres) => Some(metres),
            Err(fault) => {
                let what = format!("{}{key}: {}", self.prefix(), fault.what());
                let advice = fault.advice().to_owned();
                self.sheet
                    .push(value.span().start, Fault::usage("job-sheet", what, advice));
                None
            }
        }
    }

    fn within(&self, key: &str, span: Range<usize>, number: f64, limits: Limits) -> Option<f64> {
        if limits.allow(number) {
            return Some(number);
        }
        let shown = self.sheet.text.get(span.clone()).unwrap_or("").trim();
        let what = format!(
            "{}{key} is {}; it must be {limits}.",
            self.prefix(),
            clip(shown)
        );
        self.sheet
            .push(span.start, Fault::usage("job-sheet", what, ""));
        None
    }

    fn wrong<T>(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) -> Option<T> {
        let what = format!("{}{key} is {}; {wanted}.", self.prefix(), self.shown(value));
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

    fn full(&self, key: &str) -> String {
        match (self.name.is_empty(), self.path()) {
            (true, _) => key.to_owned(),
            (false, "") => format!("{} {key}", self.name),
            (false, path) => format!("{path}.{key}"),
        }
    }
}

/// Stands in [`Keys::asked`] for "all keys were read"; no TOML bare or quoted key of a sheet is this.
const EVERYTHING: &str = "\u{0}everything";

#[cfg(test)]
mod tests {
    use super::*;

    fn faults(text: &str, read: impl Fn(&mut Keys<'_>)) -> Vec<String> {
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
    fn lengths_take_numbers_and_texts_with_units() {
        let text =
            "a_m = 2\nb_m = 0.5\nc_m = \"70cm\"\nd_m = [1, \"1ft\"]\ne_m = nan\nf_m = true\n";
        let all = faults(text, |root| {
            assert_eq!(root.length_m("a_m", Limits::POSITIVE), Some(2.0));
            assert_eq!(root.length_m("b_m", Limits::POSITIVE), Some(0.5));
            assert_eq!(root.length_m("c_m", Limits::POSITIVE), Some(0.7));
            assert_eq!(
                root.lengths_m("d_m", Limits::POSITIVE),
                Some(vec![1.0, 0.3048])
            );
            assert_eq!(root.length_m("e_m", Limits::ANY), None);
            assert_eq!(root.length_m("f_m", Limits::ANY), None);
        });
        assert_eq!(all.len(), 2, "{all:#?}");
    }

    #[test]
    fn times_dates_choices_and_flags() {
        let text = "t = 10:42:30\nu = \"10:42\"\nd = 2026-05-14\ns = \"Inside\"\nf = false\nw = \"25:00\"\n";
        let all = faults(text, |root| {
            assert_eq!(root.time_of_day_s("t"), Some(38_550.0));
            assert_eq!(root.time_of_day_s("u"), Some(38_520.0));
            assert_eq!(root.date("d"), Date::new(2026, 5, 14).ok());
            assert_eq!(root.choice("s", &[("inside", 1), ("outside", 2)]), Some(1));
            assert!(!root.flag_or("f", true));
            assert_eq!(root.time_of_day_s("w"), None);
        });
        assert_eq!(all.len(), 1, "{all:#?}");
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

    #[test]
    fn names_of_the_users_own_are_read_as_numbers() {
        let all = faults(
            "currency = \"GBP\"\nturf_roll = 4.2\nhour = \"dear\"\n",
            |root| {
                root.text("currency");
                assert_eq!(
                    root.other_numbers(Limits::NOT_NEGATIVE),
                    [("turf_roll".to_owned(), 4.2)]
                );
            },
        );
        assert_eq!(all.len(), 1, "{all:#?}");
    }
}
