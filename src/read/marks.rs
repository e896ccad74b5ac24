//! Finds the size of a bed in the text of a waypoint, as people write it by hand: `radius 0.35 m`, `r=0.35`, `dia 70cm`, `d 2ft 4in`. The
//! text is cut into tokens, in which a word for radius or diameter is looked for with a length beside it. What is doubtful gives no size.

/// The largest radius of a bed, metres: a larger number means something else.
pub(crate) const LARGEST_M: f64 = 200.0;
/// By what part two sizes in one text (a radius, and half a diameter) may differ, as they are rounded.
const CONTRADICTION: f64 = 0.02;

/// A piece of a text.
#[derive(Debug, Clone, PartialEq)]
enum Token {
    Number {
        value: f64,
        exact: bool,
    },
    Unit(Unit),
    /// Radius (1) or diameter (2); `brief` where it is a single letter.
    Measure {
        per_radius: f64,
        brief: bool,
    },
    /// `=`, `:` or a word such as "of", "approx".
    Link,
    Other,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Unit {
    Mm,
    Cm,
    M,
    Ft,
    In,
}

impl Unit {
    fn metres(self) -> f64 {
        match self {
            Unit::Mm => 0.001,
            Unit::Cm => 0.01,
            Unit::M => 1.0,
            // International foot and inch, exact by definition (1959).
            Unit::Ft => 0.3048,
            Unit::In => 0.0254,
        }
    }
}

/// The radius in metres found in a text, from a radius or a diameter in any case and order, with a decimal
/// point or comma, in metres unless a unit says otherwise.
///
/// `None` where there is no size, where it is zero, negative or beyond 200 m, where two sizes contradict each
/// other, and for a lone letter with a whole number and no unit ("bed D 2"), which is a name as likely as a size.
#[must_use]
pub fn radius_m(text: &str) -> Option<f64> {
    let tokens = tokens(text);
    let mut found: Option<f64> = None;
    for (i, token) in tokens.iter().enumerate() {
        let Token::Measure { per_radius, brief } = *token else {
            continue;
        };
        let after = tokens.get(i + 1..).unwrap_or(&[]);
        let linked = matches!(after.first(), Some(Token::Link));
        let skipped = after.iter().take_while(|t| **t == Token::Link).count();
        let following = quantity(after.get(skipped..).unwrap_or(&[]));
        let size = match following {
            Some(q) if !brief || linked || q.unit || q.exact => Some(q.metres),
            Some(_) => None,
            // "0.35 m radius"; without a unit the number before is as likely the bed's own ("bed 3 radius").
            None => before(tokens.get(..i).unwrap_or(&[])),
        };
        let Some(radius) = size.map(|m| m / per_radius) else {
            continue;
        };
        if !(radius > 0.0 && radius <= LARGEST_M) {
            return None;
        }
        match found {
            Some(first) if (first - radius).abs() > CONTRADICTION * first => return None,
            Some(_) => {}
            None => found = Some(radius),
        }
    }
    found
}

/// Whether a text is meant to give a size, even if it cannot be read: "radius -0.7", "dia = big", "r=0". A word alone ("radius point",
/// "bed D 2") is not.
pub(crate) fn speaks_of_size(text: &str) -> bool {
    let tokens = tokens(text);
    tokens.iter().enumerate().any(|(i, token)| {
        let Token::Measure { brief, .. } = token else {
            return false;
        };
        match (tokens.get(i + 1), tokens.get(i + 2)) {
            (Some(Token::Link), Some(_)) => true,
            (Some(Token::Number { .. }), _) => !brief,
            (Some(Token::Other), Some(Token::Number { .. })) => !brief,
            _ => false,
        }
    })
}

struct Quantity {
    metres: f64,
    unit: bool,
    /// Written with decimals.
    exact: bool,
}

/// The quantity that `tokens` begin with: `0.35`, `70 cm`, `2 ft 4 in`.
fn quantity(tokens: &[Token]) -> Option<Quantity> {
    let Some(Token::Number { value, exact }) = tokens.first() else {
        return None;
    };
    let Some(Token::Unit(unit)) = tokens.get(1) else {
        return Some(Quantity {
            metres: *value,
            unit: false,
            exact: *exact,
        });
    };
    let mut metres = value * unit.metres();
    if *unit == Unit::Ft
        && let Some(Token::Number { value: inches, .. }) = tokens.get(2)
        && let Some(Token::Unit(Unit::In)) = tokens.get(3)
    {
        metres += inches * Unit::In.metres();
    }
    Some(Quantity {
        metres,
        unit: true,
        exact: *exact,
    })
}

/// The quantity that `tokens` end with; it must have a unit and not belong to a measure of its own.
fn before(tokens: &[Token]) -> Option<f64> {
    let own = |t: Option<&Token>| matches!(t, Some(Token::Measure { .. } | Token::Link));
    for len in [4, 2] {
        let Some((front, piece)) = tokens
            .len()
            .checked_sub(len)
            .map(|start| tokens.split_at(start))
        else {
            continue;
        };
        let whole = matches!(
            piece,
            [
                Token::Number { .. },
                Token::Unit(Unit::Ft),
                Token::Number { .. },
                Token::Unit(Unit::In),
            ] | [Token::Number { .. }, Token::Unit(_)]
        );
        if whole {
            return quantity(piece)
                .map(|q| q.metres)
                .filter(|_| !own(front.last()));
        }
    }
    None
}

/// Cuts a text into tokens. Spaces, commas, dashes and the like between words are left out.
fn tokens(text: &str) -> Vec<Token> {
    let chars: Vec<char> = text.chars().flat_map(char::to_lowercase).collect();
    let mut out = Vec::new();
    let mut i = 0;
    while let Some(&c) = chars.get(i) {
        let len = if c.is_ascii_digit() || (c == '.' && next_is_digit(&chars, i)) {
            let (token, len) = number(&chars, i, out.last());
            out.push(token);
            len
        } else if c.is_alphabetic() {
            let word: String = chars
                .iter()
                .skip(i)
                .take_while(|c| c.is_alphabetic())
                .collect();
            let len = word.chars().count();
            out.push(word_token(&word, out.last()));
            len
        } else {
            match c {
                '=' | ':' | '~' | '≈' => out.push(Token::Link),
                '⌀' | 'ø' | '∅' => out.push(Token::Measure {
                    per_radius: 2.0,
                    brief: false,
                }),
                '\'' | '′' | '’' => {
                    // Two single primes are a double prime, for inches.
                    if matches!(chars.get(i + 1), Some('\'' | '′' | '’')) {
                        out.push(Token::Unit(Unit::In));
                        i += 1;
                    } else {
                        out.push(Token::Unit(Unit::Ft));
                    }
                }
                '"' | '″' | '”' => out.push(Token::Unit(Unit::In)),
                // A minus sign before the number of a size makes it no size.
                '-' | '−'
                    if next_is_digit(&chars, i) && matches!(out.last(), Some(Token::Link)) =>
                {
                    out.push(Token::Other);
                }
                '-' | '−'
                    if next_is_digit(&chars, i)
                        && matches!(out.last(), Some(Token::Measure { .. })) =>
                {
                    out.push(Token::Other);
                }
                c if c.is_whitespace() || c == '.' || c == ',' || c == '-' || c == '_' => {}
                _ => out.push(Token::Other),
            }
            1
        };
        i += len;
    }
    out
}

fn next_is_digit(chars: &[char], i: usize) -> bool {
    chars
        .get(i + 1)
        .is_some_and(|c| c.is_ascii_digit() || *c == '.')
}

/// A number with a decimal point or comma, and how many characters it takes.
fn number(chars: &[char], start: usize, last: Option<&Token>) -> (Token, usize) {
    let mut text = String::new();
    let mut exact = false;
    let mut i = start;
    while let Some(&c) = chars.get(i) {
        if c.is_ascii_digit() {
            text.push(c);
        } else if (c == '.' || c == ',')
            && !exact
            && chars.get(i + 1).is_some_and(char::is_ascii_digit)
        {
            text.push('.');
            exact = true;
        } else {
            break;
        }
        i += 1;
    }
    let len = i - start;
    let written: String = chars.iter().skip(start).take(len).collect();
    // "1,200 mm" means twelve hundred, as nobody writes thousandths of a millimetre.
    let unit: String = chars
        .iter()
        .skip(i)
        .skip_while(|c| c.is_whitespace())
        .take(2)
        .collect();
    if unit == "mm"
        && let Some((thousands, rest)) = written.split_once(',')
        && rest.len() == 3
    {
        text = format!("{thousands}{rest}");
    }
    let token = match text.parse::<f64>() {
        Ok(value) if value.is_finite() && !matches!(last, Some(Token::Number { .. })) => {
            Token::Number { value, exact }
        }
        // Two numbers in a row ("1 1/2", "12 34") are not a size we could be sure of.
        _ => Token::Other,
    };
    (token, len.max(1))
}

fn word_token(word: &str, last: Option<&Token>) -> Token {
    let after_number = matches!(last, Some(Token::Number { .. }));
    match word {
        "radius" | "radii" | "rad" => measure(1.0, false),
        "diameter" | "diam" | "dia" | "dm" => measure(2.0, false),
        "r" => measure(1.0, true),
        "d" => measure(2.0, true),
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => Token::Unit(Unit::Mm),
        "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Token::Unit(Unit::Cm),
        "m" | "metre" | "metres" | "meter" | "meters" | "mtr" | "mtrs" if after_number => {
            Token::Unit(Unit::M)
        }
        "ft" | "foot" | "feet" if after_number => Token::Unit(Unit::Ft),
        "in" | "ins" | "inch" | "inches" if after_number => Token::Unit(Unit::In),
        "of" | "is" | "ca" | "circa" | "approx" | "approximately" | "about" => Token::Link,
        _ => Token::Other,
    }
}

fn measure(per_radius: f64, brief: bool) -> Token {
    Token::Measure { per_radius, brief }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn common_ways_of_writing_it() {
        for (text, want) in [
            ("radius 0.35 m", 0.35),
            ("r=0.35", 0.35),
            ("R 0.35", 0.35),
            ("r0.35m", 0.35),
            ("r: 35 cm", 0.35),
            ("dia 70cm", 0.35),
            ("Dia. 70 cm", 0.35),
            ("DIAMETER 0,70", 0.35),
            ("d 2ft 4in", 14.0 * 0.0254),
            ("d 2' 4\"", 14.0 * 0.0254),
            ("d=2ft4in", 14.0 * 0.0254),
            ("2ft 4in dia", 14.0 * 0.0254),
            ("0.35 m radius", 0.35),
            ("birch, 700 mm diameter, old", 0.35),
            ("⌀ 70 cm", 0.35),
            ("radius of 350mm", 0.35),
            ("diameter approx. 1,200 mm", 0.6),
            ("tree 3 r 0.5", 0.5),
            ("Bed 3: radius 2", 2.0),
            ("radius 0.35 m, diameter 0.7 m", 0.35),
            ("radius 14 inches", 14.0 * 0.0254),
            ("rad .5", 0.5),
        ] {
            match radius_m(text) {
                Some(got) => assert_abs_diff_eq!(got, want, epsilon = 1e-12),
                None => panic!("{text}: no size found"),
            }
        }
    }

    #[test]
    fn no_size_is_none() {
        for text in [
            "",
            "oak",
            "bed D 2",
            "R2",
            "bed 3 radius",
            "radius unknown",
            "radius 0",
            "radius -1 m",
            "r=-0.35",
            "radius 5000",
            "radius 0.35 diameter 0.9",
            "order 0.5 m",
            "radius nan",
            "radius 99999999999999999999999999999999999999999999999999",
        ] {
            assert_eq!(radius_m(text), None, "{text}");
        }
    }

    #[test]
    fn a_size_that_cannot_be_is_still_meant_as_one() {
        for text in [
            "radius -0.7",
            "dia 0",
            "diameter = big",
            "r=0",
            "radius: nan",
            "radius 5000",
        ] {
            assert!(speaks_of_size(text) && radius_m(text).is_none(), "{text}");
        }
        for text in [
            "",
            "oak",
            "bed D 2",
            "R2",
            "radius point",
            "bed 3 radius",
            "r = ",
        ] {
            assert!(!speaks_of_size(text), "{text}");
        }
    }

    /// A circle 0.70 m across is 0.385 m2 and one 1.8 m across is 2.54 m2 (common practice, no source).
    #[test]
    fn areas_the_trade_quotes() {
        let area = |text| {
            radius_m(text)
                .map(|r| std::f64::consts::PI * r * r)
                .unwrap()
        };
        assert_abs_diff_eq!(area("dia 70cm"), 0.385, epsilon = 0.0005);
        assert_abs_diff_eq!(area("diameter 1,8 m"), 2.54, epsilon = 0.005);
    }
}
