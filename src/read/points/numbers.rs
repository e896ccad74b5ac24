//! Reads numbers as people and spreadsheets write them: with decimal commas and signs, and angles in degrees, minutes and seconds.

/// A plain number. A comma is the decimal mark where there is no point. Where there are both, whichever comes last is the decimal mark, and
/// the other sets thousands apart. `None` where it is no finite number.
pub(crate) fn number(text: &str) -> Option<f64> {
    let text = text.trim().trim_start_matches('+').replace('−', "-");
    let point = text.rfind('.');
    let comma = text.rfind(',');
    let plain = match (point, comma) {
        (Some(p), Some(c)) if p > c => text.replace(',', ""),
        (Some(_), Some(_)) => text.replace('.', "").replace(',', "."),
        (None, Some(_)) => text.replace(',', "."),
        _ => text,
    };
    if !plain
        .bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'))
    {
        return None;
    }
    fast_float2::parse::<f64, _>(&plain)
        .ok()
        .filter(|v| v.is_finite())
}

/// An angle in degrees: decimal (`-1.25`, `1,25 W`), or degrees, minutes and seconds (`52°06'30.5"N`, `52 6 30.5`).
/// Minutes and seconds must be below 60, but for the last of them where it is rounded.
pub(crate) fn angle_deg(text: &str) -> Option<f64> {
    let text = text.trim();
    if let Some(value) = number(text) {
        return Some(value);
    }
    let mut sign = 1.0;
    let mut letters = 0;
    let mut parts: Vec<String> = vec![String::new()];
    for c in text.chars() {
        match c {
            '0'..='9' | '.' => {
                if let Some(part) = parts.last_mut() {
                    part.push(c);
                }
            }
            // A comma within a number is its decimal mark.
            ',' => {
                if let Some(part) = parts.last_mut() {
                    part.push('.');
                }
            }
            'S' | 's' | 'W' | 'w' => {
                sign = -1.0;
                letters += 1;
                parts.push(String::new());
            }
            'N' | 'n' | 'E' | 'e' => {
                letters += 1;
                parts.push(String::new());
            }
            '-' | '−' if parts.iter().all(String::is_empty) => sign = -1.0,
            '+' if parts.iter().all(String::is_empty) => {}
            '°' | 'º' | '\'' | '"' | '′' | '″' | '’' | '”' | ':' | ' ' => {
                parts.push(String::new());
            }
            _ => return None,
        }
    }
    parts.retain(|part| !part.is_empty());
    if letters > 1 || parts.is_empty() || parts.len() > 3 {
        return None;
    }
    let mut value = 0.0;
    let mut scale = 1.0;
    for (i, part) in parts.iter().enumerate() {
        let v = number(part)?;
        // What is rounded to so many decimals may come to a whole 60 in the last place, and in no other.
        let rounded_up = i + 1 == parts.len() && part.contains('.') && v == 60.0;
        if i > 0 && v >= 60.0 && !rounded_up {
            return None;
        }
        value += v / scale;
        scale *= 60.0;
    }
    Some(sign * value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn numbers_of_many_countries() {
        for (text, want) in [
            ("52.1", 52.1),
            ("52,1", 52.1),
            (" -1,25 ", -1.25),
            ("+3", 3.0),
            ("1,234,567.8", 1_234_567.8),
            ("1.234.567,8", 1_234_567.8),
            ("−0.5", -0.5),
            ("1e3", 1000.0),
        ] {
            assert_eq!(number(text), Some(want), "{text}");
        }
        for text in ["", "nan", "inf", "1 2", "x", "1e999", "--1", "1,2,3"] {
            assert_eq!(number(text), None, "{text}");
        }
    }

    /// 45 degrees 33'21" is 45.55583 (gpsd's NMEA notes have it as 4533.35).
    #[test]
    fn angles() {
        for (text, want) in [
            ("45°33'21\"N", 45.555_833_333_333),
            ("45 33 21", 45.555_833_333_333),
            ("S 45:33:21", -45.555_833_333_333),
            ("45° 33.35' W", -45.555_833_333_333),
            ("-45 33 21", -45.555_833_333_333),
            ("1,25 W", -1.25),
            ("52.1N", 52.1),
            ("1°11'60.000\"W", -1.2),
        ] {
            match angle_deg(text) {
                Some(got) => assert_abs_diff_eq!(got, want, epsilon = 1e-11),
                None => panic!("{text}"),
            }
        }
        for text in [
            "45 60 0",
            "45 60.0 0",
            "45 33 60",
            "45 33 21 7",
            "N",
            "45NS",
            "north",
            "1.2.3 W",
        ] {
            assert_eq!(angle_deg(text), None, "{text}");
        }
    }
}
