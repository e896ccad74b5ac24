//! Turns TOML values into numbers and times; `None` where they are none.

use toml::de::DeValue;

pub(super) fn as_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix())
            .ok()
            .map(|whole| whole as f64),
        DeValue::Float(digits) => digits.as_str().parse().ok(),
        _ => None,
    }
}

/// `10:42`, `10:42:30` or `10:42:30.5`, a `Z` after it allowed, as seconds since midnight.
pub(super) fn clock_text_s(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches(['Z', 'z']);
    let mut parts = text.split(':');
    let hour: u8 = parts.next()?.parse().ok()?;
    let minute: u8 = parts.next()?.parse().ok()?;
    let second: f64 = match parts.next() {
        Some(second) if second.starts_with(|c: char| c.is_ascii_digit()) => second.parse().ok()?,
        Some(_) => return None,
        None => 0.0,
    };
    (parts.next().is_none() && hour < 24 && minute < 60 && (0.0..61.0).contains(&second))
        .then_some(f64::from(hour) * 3600.0 + f64::from(minute) * 60.0 + second)
}
