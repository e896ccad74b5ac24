//! Lengths as people write them, and numbers as people read them.
//!
//! Inside the program everything is metres and square metres in `f64`. Here lengths in calls and job sheets become metres
//! ([`length_m`]; readers of logs have their own rules for texts of waypoints and titles of columns), and measured numbers become text with
//! their unit ([`Units`], [`Rounded`]).

use crate::fault::Fault;

/// International foot, metres. Exact since 1959 (NIST Handbook 44, appendix C).
pub const FOOT_M: f64 = 0.3048;
/// Inch, metres. Exact.
pub const INCH_M: f64 = 0.0254;
/// Yard, metres. Exact.
pub const YARD_M: f64 = 0.9144;

/// One pound, kilograms. Exact (international yard and pound agreement, 1959).
pub const POUND_KG: f64 = 0.453_592_37;

/// Unit words, longest first so that the first match is the right one, with metres per unit and a
/// rank (compound lengths such as `12ft 6in` must go down in rank within one family).
const UNIT_WORDS: [(&str, f64, Family, u8); 32] = [
    ("millimetres", 0.001, Family::Metric, 0),
    ("millimeters", 0.001, Family::Metric, 0),
    ("millimetre", 0.001, Family::Metric, 0),
    ("millimeter", 0.001, Family::Metric, 0),
    ("centimetres", 0.01, Family::Metric, 1),
    ("centimeters", 0.01, Family::Metric, 1),
    ("centimetre", 0.01, Family::Metric, 1),
    ("centimeter", 0.01, Family::Metric, 1),
    ("metres", 1.0, Family::Metric, 2),
    ("meters", 1.0, Family::Metric, 2),
    ("metre", 1.0, Family::Metric, 2),
    ("meter", 1.0, Family::Metric, 2),
    ("inches", INCH_M, Family::Imperial, 0),
    ("yards", YARD_M, Family::Imperial, 2),
    ("inch", INCH_M, Family::Imperial, 0),
    ("feet", FOOT_M, Family::Imperial, 1),
    ("foot", FOOT_M, Family::Imperial, 1),
    ("yard", YARD_M, Family::Imperial, 2),
    ("yds", YARD_M, Family::Imperial, 2),
    ("ins", INCH_M, Family::Imperial, 0),
    ("mm", 0.001, Family::Metric, 0),
    ("cm", 0.01, Family::Metric, 1),
    ("ft", FOOT_M, Family::Imperial, 1),
    ("in", INCH_M, Family::Imperial, 0),
    ("yd", YARD_M, Family::Imperial, 2),
    ("''", INCH_M, Family::Imperial, 0),
    ("m", 1.0, Family::Metric, 2),
    ("'", FOOT_M, Family::Imperial, 1),
    ("\u{2032}", FOOT_M, Family::Imperial, 1),
    ("\u{2019}", FOOT_M, Family::Imperial, 1),
    ("\"", INCH_M, Family::Imperial, 0),
    ("\u{2033}", INCH_M, Family::Imperial, 0),
];

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Family {
    Metric,
    Imperial,
}

/// Reads a whole text as a length in metres: `12.4`, `0,35`, `70cm`, `12ft 6in`, `2' 4 1/2"`, `3 yd`.
/// A bare number is metres.
///
/// # Errors
/// Says what is wrong with the text: empty, negative, not finite, an unknown unit, a thousands comma
/// that could be a decimal comma (`1,200`), a second part without a unit (`12ft 6`), parts that do not
/// go from larger to smaller units, or something left over.
pub fn length_m(text: &str) -> Result<f64, Fault> {
    let bad = |why: String| {
        Fault::usage(
            "length",
            format!("\"{}\" is not a length: {why}.", clip(text)),
            "Write metres as a plain number, or a number with mm, cm, m, in, ft or yd, such as \"70cm\" or \"12ft 6in\".",
        )
    };
    match scan_length(text) {
        Ok((metres, used)) => {
            let left = text.get(used..).unwrap_or("").trim();
            if left.is_empty() {
                Ok(metres)
            } else {
                Err(bad(format!("\"{}\" is left over", clip(left))))
            }
        }
        Err(why) => Err(bad(why)),
    }
}

/// Reads a length at the start of `text` and says how many bytes it took; for lengths inside free
/// text. Leading blanks are skipped; a bare number is metres.
///
/// # Errors
/// A short clause saying what is wrong, without the text itself.
pub fn scan_length(text: &str) -> Result<(f64, usize), String> {
    let mut at = text.len() - text.trim_start().len();
    if at == text.len() {
        return Err("it is empty".into());
    }
    let mut total = 0.0;
    let mut last: Option<(Family, u8, f64)> = None;
    let mut end = at;
    loop {
        let rest = text.get(at..).unwrap_or("");
        let (value, taken) = match scan_number(rest) {
            Ok(found) => found,
            Err(_) if last.is_some() => break,
            Err(why) => return Err(why),
        };
        let after = rest.get(taken..).unwrap_or("");
        let gap = after.len() - after.trim_start_matches([' ', '\u{a0}', '\t']).len();
        let unit = scan_unit(after.get(gap..).unwrap_or(""));
        match (unit, last) {
            (None, None) => {
                total = value;
                end = at + taken;
                break;
            }
            (None, Some(_)) => {
                return Err("the second part has no unit".to_owned());
            }
            (Some((metres, family, rank, word)), before) => {
                let part_m = in_metres(value, metres, family);
                if let Some((old_family, old_rank, old_metres)) = before {
                    if family != old_family {
                        return Err("it mixes metric and imperial units".into());
                    }
                    if rank >= old_rank {
                        return Err(
                            "its parts do not go from the larger unit to the smaller".into()
                        );
                    }
                    // 2 ft 14 in is more likely a slip than a length.
                    if part_m >= old_metres {
                        return Err("its second part is more than one of the unit before it".into());
                    }
                }
                total += part_m;
                end = at + taken + gap + word;
                last = Some((family, rank, metres));
                let next = text.get(end..).unwrap_or("");
                at = end + next.len() - next.trim_start_matches([' ', '\u{a0}', '\t']).len();
            }
        }
    }
    if total.is_finite() {
        Ok((total, end))
    } else {
        Err("it is too large".into())
    }
}

/// A number of units in metres. Metric lengths are divided, as 70/100 is the `f64` nearest to 0.7 and 70 × 0.01 is not.
fn in_metres(value: f64, metres: f64, family: Family) -> f64 {
    match family {
        Family::Metric => value / (1.0 / metres).round(),
        Family::Imperial => value * metres,
    }
}

/// A number at the start of `text` and how many bytes it takes: a decimal, a fraction, or both (`0.35`, `3/8`, `4 1/2`).
fn scan_number(text: &str) -> Result<(f64, usize), String> {
    if text.starts_with('-') || text.starts_with('\u{2212}') {
        return Err("it is negative".into());
    }
    let body = text.strip_prefix('+').unwrap_or(text);
    let sign = text.len() - body.len();
    let used = body
        .find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ','))
        .unwrap_or(body.len());
    // A full stop or comma that ends a phrase is not part of the number.
    let digits = body.get(..used).unwrap_or("").trim_end_matches(['.', ',']);
    if digits.is_empty() {
        return Err("no number where one was expected".into());
    }
    let value = decimal(digits)?;
    let mut end = sign + digits.len();
    let after = text.get(end..).unwrap_or("");
    if let Some((below, len)) = denominator(after) {
        // "3/8": the number itself is the numerator.
        return Ok((value / below, end + len));
    }
    let gap = after.len() - after.trim_start_matches(' ').len();
    if gap > 0
        && let Some(rest) = after.get(gap..)
        && let Some((above, len)) = whole(rest)
        && let Some((below, more)) = denominator(rest.get(len..).unwrap_or(""))
        && above < below
    {
        end += gap + len + more;
        return Ok((value + above / below, end));
    }
    Ok((value, end))
}

/// A whole number at the start of `text`, and how many bytes it takes; `None` where there is no digit.
fn whole(text: &str) -> Option<(f64, usize)> {
    let len = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let value = text.get(..len)?.parse().ok()?;
    Some((value, len))
}

/// The number after a slash at the start of `text`, and how many bytes both take; `None` where there is none, or it is 0.
fn denominator(text: &str) -> Option<(f64, usize)> {
    let (value, len) = whole(text.strip_prefix('/')?)?;
    (value >= 1.0).then_some((value, len + 1))
}

/// Digits with at most one decimal point or decimal comma.
fn decimal(digits: &str) -> Result<f64, String> {
    let commas = digits.matches(',').count();
    let points = digits.matches('.').count();
    if commas + points > 1 {
        return Err("it has more than one decimal sign; write it without thousands signs".into());
    }
    if let Some((before, after)) = digits.split_once(',')
        && after.len() == 3
        && !before.is_empty()
        && before.len() <= 3
        && !before.starts_with('0')
    {
        return Err(format!(
            "{digits} may mean {before}.{after} or {before}{after}; write it with a decimal point or no comma"
        ));
    }
    digits
        .replace(',', ".")
        .parse::<f64>()
        .map_err(|_| "no number where one was expected".to_owned())
}

/// The unit at the start of `text`: metres per unit, family, rank, bytes.
fn scan_unit(text: &str) -> Option<(f64, Family, u8, usize)> {
    UNIT_WORDS.iter().find_map(|&(word, metres, family, rank)| {
        let head = text.get(..word.len())?;
        let ends = text
            .get(word.len()..)
            .and_then(|rest| rest.chars().next())
            .is_none_or(|c| !c.is_alphabetic());
        // "m" in "mulch" is no unit; a quote mark needs no such care.
        (head.eq_ignore_ascii_case(word)
            && (ends || !word.starts_with(|c: char| c.is_alphabetic())))
        .then_some((metres, family, rank, word.len()))
    })
}

/// Metres per unit of a word that names one of the units of length people list points in.
pub(crate) fn named_m(word: &str) -> Option<f64> {
    // The foot that older plans of the United States are in: exactly 1200/3937 m (NIST Handbook 44, appendix C; from memory).
    const SURVEY_FOOT_M: f64 = 1200.0 / 3937.0;
    const ELSE: [(&str, f64); 11] = [
        ("km", 1000.0),
        ("kilometres", 1000.0),
        ("kilometers", 1000.0),
        ("dm", 0.1),
        ("usft", SURVEY_FOOT_M),
        ("ftus", SURVEY_FOOT_M),
        ("usfeet", SURVEY_FOOT_M),
        ("surveyft", SURVEY_FOOT_M),
        ("surveyfeet", SURVEY_FOOT_M),
        ("ussurveyft", SURVEY_FOOT_M),
        ("ussurveyfeet", SURVEY_FOOT_M),
    ];
    let usual = UNIT_WORDS.iter().map(|&(name, m, _, _)| (name, m));
    usual
        .chain(ELSE)
        .find_map(|(name, m)| (name == word).then_some(m))
}

/// A quoted text short enough for one line of a message.
fn clip(text: &str) -> String {
    if text.chars().count() <= 40 {
        text.to_owned()
    } else {
        let mut short: String = text.chars().take(39).collect();
        short.push('…');
        short
    }
}

/// The units in which a sheet for people is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// m, m².
    #[default]
    Metric,
    /// ft, ft².
    Imperial,
}

impl Units {
    /// Square metres in this system's unit of area.
    #[must_use]
    pub fn area(self, m2: f64) -> f64 {
        match self {
            Units::Metric => m2,
            Units::Imperial => m2 / (FOOT_M * FOOT_M),
        }
    }
    /// Metres in this system's unit of length.
    #[must_use]
    pub fn length(self, m: f64) -> f64 {
        match self {
            Units::Metric => m,
            Units::Imperial => m / FOOT_M,
        }
    }
    /// The sign of the unit of area.
    #[must_use]
    pub fn area_unit(self) -> &'static str {
        match self {
            Units::Metric => "m²",
            Units::Imperial => "ft²",
        }
    }
    /// The sign of the unit of length.
    #[must_use]
    pub fn length_unit(self) -> &'static str {
        match self {
            Units::Metric => "m",
            Units::Imperial => "ft",
        }
    }
    /// An area with its uncertainty, both square metres, rounded for people.
    #[must_use]
    pub fn rounded_area(self, m2: f64, uncertainty_m2: f64) -> Rounded {
        Rounded::new(self.area(m2), self.area(uncertainty_m2))
    }
    /// A length with its uncertainty, both metres, rounded for people.
    #[must_use]
    pub fn rounded_length(self, m: f64, uncertainty_m: f64) -> Rounded {
        Rounded::new(self.length(m), self.length(uncertainty_m))
    }
    /// A length shown without its uncertainty, to a centimetre or an inch: `12.40 m`, `40 ft 8 in`.
    #[must_use]
    pub fn plain_length(self, m: f64) -> String {
        match self {
            Units::Metric => format!("{} m", fixed(m, 2)),
            Units::Imperial => {
                let inches = (m / INCH_M).round();
                let sign = if inches < 0.0 { "-" } else { "" };
                let (feet, rest) = ((inches.abs() / 12.0).floor(), inches.abs() % 12.0);
                if feet == 0.0 {
                    format!("{sign}{rest} in")
                } else {
                    format!("{sign}{} ft {rest} in", grouped(&format!("{feet:.0}")))
                }
            }
        }
    }
    /// A small length to two significant figures, in the smaller unit below a metre or a foot: `2.0 cm`, `0.80 in`, `1.2 m`.
    #[must_use]
    pub fn small_length(self, m: f64) -> String {
        match self {
            Units::Metric if m.abs() < 0.995 => format!("{} cm", two_figures(m * 100.0)),
            Units::Metric => format!("{} m", two_figures(m)),
            Units::Imperial if m.abs() < FOOT_M => format!("{} in", two_figures(m / INCH_M)),
            Units::Imperial => format!("{} ft", two_figures(m / FOOT_M)),
        }
    }
    /// A length as it is read off a tape, to a centimetre or a quarter of an inch: `12.40 m`, `40 ft 8 1/4 in`.
    #[must_use]
    pub fn on_a_tape(self, m: f64) -> String {
        if self == Units::Metric {
            return self.plain_length(m);
        }
        let quarters = (4.0 * m / INCH_M).round();
        let sign = if quarters < 0.0 { "-" } else { "" };
        let (feet, left) = ((quarters.abs() / 48.0).floor(), quarters.abs() % 48.0);
        let (inches, part) = ((left / 4.0).floor(), left % 4.0);
        let part = match part as u8 {
            1 => "1/4",
            2 => "1/2",
            3 => "3/4",
            _ => "",
        };
        let inches = match (inches, part) {
            (0.0, "") if feet > 0.0 => String::new(),
            (0.0, part) if !part.is_empty() => format!("{part} in"),
            (whole, "") => format!("{whole:.0} in"),
            (whole, part) => format!("{whole:.0} {part} in"),
        };
        match (feet, inches.as_str()) {
            (0.0, _) => format!("{sign}{inches}"),
            (_, "") => format!("{sign}{feet:.0} ft"),
            _ => format!("{sign}{feet:.0} ft {inches}"),
        }
    }
    /// A weight to two figures, or to whole units from a hundred on: `20 kg`; `44 lb (20 kg)`.
    #[must_use]
    pub fn weight(self, kg: f64) -> String {
        match self {
            Units::Metric => format!("{} kg", rough(kg)),
            Units::Imperial => format!("{} lb ({} kg)", rough(kg / POUND_KG), rough(kg)),
        }
    }
    /// An area alone, to hundredths below a hundred, tenths below a thousand, else whole.
    #[must_use]
    pub fn plain_area(self, m2: f64) -> String {
        let value = self.area(m2);
        let digits = match value.abs() {
            v if v < 99.995 => 2,
            v if v < 999.95 => 1,
            _ => 0,
        };
        format!("{} {}", fixed(value, digits), self.area_unit())
    }
}

/// A value and its uncertainty as text, rounded together.
///
/// The uncertainty keeps two significant figures and the value is rounded to match (JCGM 100:2008,
/// "GUM", 7.2.6). Uncertainties are rounded up, so that a band never shrinks on paper, unless what is
/// dropped is less than a tenth of the last figure kept: the GUM's own examples round 10.47 up to 11
/// and 28.05 down to 28. `low` and `high` are the rounded value less and plus the rounded
/// uncertainty, so that a reader's sums come out; `low` is never below zero.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Rounded {
    /// Decimals of all four texts, negative where they are rounded to tens or hundreds. Other numbers shown beside them take the
    /// same.
    pub digits: i32,
    /// The value.
    pub value: String,
    /// Its uncertainty.
    pub uncertainty: String,
    /// Value less uncertainty.
    pub low: String,
    /// Value plus uncertainty.
    pub high: String,
}

impl Rounded {
    /// `uncertainty` is the half-width to be shown (already multiplied by the coverage factor), in the
    /// unit of `value`. Without a usable uncertainty (zero, not finite) the value keeps three decimals.
    #[must_use]
    pub fn new(value: f64, uncertainty: f64) -> Rounded {
        if !value.is_finite() || !uncertainty.is_finite() || uncertainty <= 0.0 {
            let shown = fixed(value, 3);
            return Rounded {
                digits: 3,
                value: shown.clone(),
                uncertainty: "0".into(),
                low: shown.clone(),
                high: shown,
            };
        }
        let mut digits = 1 - uncertainty.log10().floor() as i32;
        let mut steps = round_up(uncertainty * 10f64.powi(digits));
        // 0.0996 goes up to 0.10: one figure fewer, so that two stay.
        if steps >= 100.0 {
            digits -= 1;
            steps = 10.0;
        }
        let shown = steps / 10f64.powi(digits);
        let middle = (value * 10f64.powi(digits)).round() / 10f64.powi(digits);
        Rounded {
            digits,
            value: fixed(middle, digits),
            uncertainty: fixed(shown, digits),
            low: fixed((middle - shown).max(0.0), digits),
            high: fixed(middle + shown, digits),
        }
    }
}

/// Rounds up to a whole number, or down where less than a tenth is dropped by that.
fn round_up(steps: f64) -> f64 {
    let down = steps.floor();
    // The small allowance keeps 1.1 (stored as 1.1000000000000001) at 11 steps, not 12.
    if steps - down < 0.1 + 1e-9 {
        down
    } else {
        down + 1.0
    }
}

/// A number with two significant figures.
#[must_use]
pub fn two_figures(value: f64) -> String {
    if !value.is_finite() || value == 0.0 {
        return fixed(value, 0);
    }
    let mut digits = 1 - value.abs().log10().floor() as i32;
    let rounded = |digits: i32| (value * 10f64.powi(digits)).round() / 10f64.powi(digits);
    // 0.996 rounds to 1.0, not to 1.00.
    if (rounded(digits) * 10f64.powi(digits)).abs() > 99.5 {
        digits -= 1;
    }
    fixed(rounded(digits), digits)
}

/// A number with two significant figures, or to a whole number from 100 on.
#[must_use]
pub fn rough(value: f64) -> String {
    if value.abs() >= 100.0 {
        fixed(value, 0)
    } else {
        two_figures(value)
    }
}

/// `value` with this many decimals (none where negative), thousands set apart from 10 000 on by a
/// space as ISO 80000-1 does, since a comma is a decimal sign to half the world. Never `-0`.
#[must_use]
pub fn fixed(value: f64, digits: i32) -> String {
    let places = digits.clamp(0, 12) as usize;
    let text = format!("{value:.places$}");
    let text = match text.strip_prefix('-') {
        Some(bare) if bare.bytes().all(|b| matches!(b, b'0' | b'.')) => bare.to_owned(),
        _ => text,
    };
    grouped(&text)
}

/// The space between thousands: one at which no line ends, as "12 100 kg" would read "100 kg" on the next.
pub const NO_BREAK: char = '\u{a0}';

/// A number as text, with a space before every three digits of its whole part, where that has five digits or more.
fn grouped(text: &str) -> String {
    let (sign, body) = match text.strip_prefix('-') {
        Some(body) => ("-", body),
        None => ("", text),
    };
    let (whole, rest) = body.split_at(body.find('.').unwrap_or(body.len()));
    if whole.len() < 5 || !whole.bytes().all(|b| b.is_ascii_digit()) {
        return text.to_owned();
    }
    let mut out = String::from(sign);
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at) % 3 == 0 {
            out.push(NO_BREAK);
        }
        out.push(digit);
    }
    out.push_str(rest);
    out
}

/// The letter of a corner: A for 0, Z for 25, AA for 26.
#[must_use]
pub fn letter(i: usize) -> String {
    let letters = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    let last = char::from(letters.get(i % 26).copied().unwrap_or(b'?'));
    if i < 26 {
        last.to_string()
    } else {
        format!("{}{last}", letter(i / 26 - 1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metres(text: &str) -> f64 {
        length_m(text).unwrap_or_else(|fault| panic!("{fault}"))
    }

    #[test]
    fn lengths_as_people_write_them() {
        // Exact by the definitions of the foot and inch (NIST Handbook 44, appendix C).
        for (text, expected) in [
            ("12.4", 12.4),
            ("0,35", 0.35),
            ("0,350", 0.35),
            (",5 m", 0.5),
            ("+3 m", 3.0),
            ("70cm", 0.7),
            ("700 mm", 0.7),
            ("2 Metres", 2.0),
            ("1 m 20 cm", 1.2),
            ("12ft 6in", 3.81),
            ("2' 4\"", 0.7112),
            ("2\u{2032}4\u{2033}", 0.7112),
            ("2' 4''", 0.7112),
            ("4 1/2 in", 0.1143),
            ("3/8in", 0.009525),
            ("1 yd 2 ft 3 in", 1.6002),
            ("  7 FEET ", 2.1336),
        ] {
            approx::assert_abs_diff_eq!(metres(text), expected, epsilon = 1e-12);
        }
    }

    #[test]
    fn what_is_not_a_length_says_why() {
        for (text, why) in [
            ("", "empty"),
            ("   ", "empty"),
            ("-2 m", "negative"),
            ("wide", "no number"),
            ("12ft 6", "no unit"),
            ("12ft 14in", "more than one"),
            ("6in 12ft", "larger unit"),
            ("1 m 2 ft", "mixes"),
            ("1,200 m", "1.200 or 1200"),
            ("1.2.3", "more than one decimal sign"),
            ("3 mulch", "left over"),
            ("3 m wide", "left over"),
            (&"9".repeat(400), "too large"),
        ] {
            let fault = length_m(text).expect_err(text);
            assert!(fault.what().contains(why), "{text}: {}", fault.what());
        }
    }

    #[test]
    fn a_length_inside_free_text_says_where_it_ends() {
        assert_eq!(scan_length("0.35 m, birch"), Ok((0.35, 6)));
        assert_eq!(scan_length("0.35, birch"), Ok((0.35, 4)));
        let (m, used) = scan_length(" 2ft 4in by the wall").unwrap_or((0.0, 0));
        approx::assert_abs_diff_eq!(m, 0.7112, epsilon = 1e-12);
        assert_eq!(used, 8);
    }

    #[test]
    fn the_gums_own_examples_of_rounding() {
        // JCGM 100:2008, 7.2.6: 10.057 62 with u = 27 mΩ; 10.47 up to 11; 28.05 down to 28.
        let r = Rounded::new(10.05762, 0.027);
        assert_eq!(
            (r.value.as_str(), r.uncertainty.as_str()),
            ("10.058", "0.027")
        );
        assert_eq!(Rounded::new(100.0, 10.47).uncertainty, "11");
        assert_eq!(Rounded::new(100.0, 28.05).uncertainty, "28");
        // NIST's example of a stated interval: 100.021 47 g ± 0.000 70 g.
        let r = Rounded::new(100.02147, 0.00070);
        assert_eq!(
            (r.value.as_str(), r.uncertainty.as_str()),
            ("100.02147", "0.00070")
        );
    }

    #[test]
    fn rounding_keeps_two_figures_and_sums_that_come_out() {
        let r = Rounded::new(92.858, 0.0996);
        assert_eq!(
            (
                r.value.as_str(),
                r.uncertainty.as_str(),
                r.low.as_str(),
                r.high.as_str()
            ),
            ("92.86", "0.10", "92.76", "92.96")
        );
        let r = Rounded::new(18_783.4, 1234.0);
        assert_eq!(
            (r.value.as_str(), r.uncertainty.as_str(), r.high.as_str()),
            ("18\u{a0}800", "1300", "20\u{a0}100")
        );
        assert_eq!(Rounded::new(3.0, 5.2).low, "0.0");
        assert_eq!(Rounded::new(1.0, 1.1).uncertainty, "1.1");
        assert_eq!(Rounded::new(1.0, f64::NAN).value, "1.000");
        assert_eq!(two_figures(0.996), "1.0");
        assert_eq!(two_figures(0.0234), "0.023");
        assert_eq!(fixed(-0.001, 2), "0.00");
    }

    #[test]
    fn imperial_sheets() {
        let u = Units::Imperial;
        // 92.858 m² / 0.09290304 m² (exact square foot) = 999.515 ft².
        let r = u.rounded_area(92.858, 1.3);
        assert_eq!((r.value.as_str(), r.uncertainty.as_str()), ("1000", "14"));
        assert_eq!(u.plain_length(12.40), "40 ft 8 in");
        assert_eq!(u.plain_length(0.25), "10 in");
        assert_eq!(u.on_a_tape(12.40), "40 ft 8 1/4 in");
        assert_eq!(u.on_a_tape(0.3048), "1 ft");
        assert_eq!(u.on_a_tape(0.0), "0 in");
        assert_eq!(u.on_a_tape(0.01), "1/2 in");
        assert_eq!(u.weight(45.36), "100 lb (45 kg)");
        assert_eq!(u.small_length(0.02), "0.79 in");
        assert_eq!(Units::Metric.small_length(0.02), "2.0 cm");
        assert_eq!(Units::Metric.plain_area(0.3848), "0.38 m²");
    }

    #[test]
    fn letters_go_on_after_z() {
        let names: Vec<_> = [0, 25, 26, 51, 52, 701, 702].map(letter).into();
        assert_eq!(names, ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }
}
