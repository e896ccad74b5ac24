//! Reads typed values from a table of a sheet: each getter knows the form and range of its type, and records what is wrong with anything
//! else. It gives `None` where the key is absent or its value wrong.

use super::value::{as_number, clock_text_s};
use super::{Keys, Limits, clip};
use crate::fault::Fault;
use crate::units;
use jiff::civil::Date;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::DeValue;

impl<'s> Keys<'s> {
    /// A number in the key's own unit. Integers and floats alike; texts are faults.
    pub(crate) fn number(&mut self, key: &'static str, limits: Limits) -> Option<f64> {
        let value = self.take(key)?;
        match as_number(value.get_ref()) {
            Some(number) => self.within(key, value.span(), number, limits),
            None => self.wrong(key, value, &format!("it must be {limits}, without quotes")),
        }
    }

    /// A length in metres: a plain number is metres, a text has units (`"70cm"`, `"12ft 6in"`).
    pub(crate) fn length_m(&mut self, key: &'static str, limits: Limits) -> Option<f64> {
        let value = self.take(key)?;
        let metres = self.as_length(key, value)?;
        self.within(key, value.span(), metres, limits)
    }

    /// A whole number.
    pub(crate) fn integer(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<i64> {
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
    pub(crate) fn text(&mut self, key: &'static str) -> Option<String> {
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
    pub(crate) fn flag(&mut self, key: &'static str) -> Option<bool> {
        let value = self.take(key)?;
        match value.get_ref().as_bool() {
            Some(flag) => Some(flag),
            None => self.wrong(key, value, "it must be true or false, without quotes"),
        }
    }

    /// A date, `2026-05-14`, with or without quotes.
    pub(crate) fn date(&mut self, key: &'static str) -> Option<Date> {
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
    pub(crate) fn time_of_day_s(&mut self, key: &'static str) -> Option<f64> {
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
    pub(crate) fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Option<T> {
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
    pub(crate) fn lengths_m(&mut self, key: &'static str, limits: Limits) -> Option<Vec<f64>> {
        self.list(
            key,
            "a list of lengths, such as [2.8, 3.1]",
            |keys, item| {
                let metres = keys.as_length(key, item)?;
                keys.within(key, item.span(), metres, limits)
            },
        )
    }

    /// A list of texts; one text alone will do. A blank one is a fault.
    pub(crate) fn texts(&mut self, key: &'static str) -> Option<Vec<String>> {
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

    /// [`Keys::number`], or `default` where the key is absent or wrong; the default is recorded as a setting.
    pub(crate) fn number_or(&mut self, key: &'static str, limits: Limits, default: f64) -> f64 {
        self.default_is(key, default);
        self.number(key, limits).unwrap_or(default)
    }

    /// [`Keys::length_m`], or a default in metres.
    pub(crate) fn length_m_or(&mut self, key: &'static str, limits: Limits, default_m: f64) -> f64 {
        self.default_is(key, default_m);
        self.length_m(key, limits).unwrap_or(default_m)
    }

    /// [`Keys::integer`], or a default.
    pub(crate) fn integer_or(
        &mut self,
        key: &'static str,
        range: RangeInclusive<i64>,
        default: i64,
    ) -> i64 {
        self.default_is(key, default);
        self.integer(key, range).unwrap_or(default)
    }

    /// [`Keys::flag`], or a default.
    pub(crate) fn flag_or(&mut self, key: &'static str, default: bool) -> bool {
        self.default_is(key, default);
        self.flag(key).unwrap_or(default)
    }

    /// [`Keys::text`], or a default.
    pub(crate) fn text_or(&mut self, key: &'static str, default: &str) -> String {
        self.default_is(key, format!("\"{default}\""));
        self.text(key).unwrap_or_else(|| default.to_owned())
    }

    /// A list whose items are all read by `read`; `None` where it is no list or any item is wrong.
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
        // Every item is read, even after a wrong one, so that all faults are told.
        let read: Vec<Option<T>> = items.iter().map(|item| read(self, item)).collect();
        read.into_iter().collect()
    }

    /// A value as a length in metres; else the fault is recorded.
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
            Err(_) if !self.sheet.shown => self.wrong(key, value, "it must be a length"),
            Err(fault) => {
                let what = format!("{}{key}: {}", self.prefix(), fault.what());
                let advice = fault.advice().to_owned();
                self.sheet
                    .push(value.span().start, Fault::usage("job-sheet", what, advice));
                None
            }
        }
    }

    /// The number, if it lies within its limits; else the fault is recorded.
    fn within(&self, key: &str, span: Range<usize>, number: f64, limits: Limits) -> Option<f64> {
        if limits.allow(number) {
            return Some(number);
        }
        let what = match self.sheet.shown {
            true => {
                let shown = self.sheet.text.get(span.clone()).unwrap_or("").trim();
                format!(
                    "{}{key} is {}; it must be {limits}.",
                    self.prefix(),
                    clip(shown)
                )
            }
            false => format!("{}{key}: it must be {limits}.", self.prefix()),
        };
        self.sheet
            .push(span.start, Fault::usage("job-sheet", what, ""));
        None
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::faults;
    use super::*;

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
}
