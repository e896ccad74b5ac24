//! Makes hidden characters visible in what is shown. Names come from logs, job sheets and disks, and may hold characters that move the
//! cursor, change colours or reverse a line of text. On a terminal, in a report and in a table such a character is shown by its
//! number instead.

use std::borrow::Cow;
use unicode_width::UnicodeWidthStr;

/// Whether a character acts on the text about it rather than showing anything: the control codes C0, DEL and C1 (ISO/IEC 6429),
/// line and paragraph separators, and the marks that set the direction of writing (Unicode Standard Annex 9, table 2.1 and
/// what follows it: `LRM`, `RLM`, `ALM`, embeddings, overrides and isolates).
#[must_use]
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// How many columns a text takes up on a terminal: a combining accent takes none, a wide letter of East Asia two (Unicode Standard
/// Annex 11).
///
/// ```
/// use boundwalk::visible::columns;
/// assert_eq!((columns("m²"), columns("庭"), columns("e\u{301}")), (2, 2, 1));
/// ```
#[must_use]
pub fn columns(text: &str) -> usize {
    text.width()
}

/// A text as one line in which every character can be seen: tabs and line ends as blanks, other hidden ones as `\u{1b}`.
///
/// ```
/// use boundwalk::visible::visible;
/// assert_eq!(visible("birch\u{1b}[2J\n\u{202e}hcrib"), r"birch\u{1b}[2J \u{202e}hcrib");
/// ```
pub fn visible(text: &str) -> Cow<'_, str> {
    if !text.contains(is_hidden) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '\t' | '\n' | '\r' | '\u{2028}' | '\u{2029}' => shown.push(' '),
            c if is_hidden(c) => shown.extend(c.escape_unicode()),
            c => shown.push(c),
        }
    }
    Cow::Owned(shown)
}

/// JSON with its hidden characters written as JSON escapes (RFC 8259, 7), so that it reads as the same values. Line ends stay, as
/// JSON has them between its values. Bytes that are no UTF-8 come back as they were.
#[must_use]
pub fn in_json(json: Vec<u8>) -> Vec<u8> {
    let stays = |c: char| c == '\n' || !is_hidden(c);
    match String::from_utf8(json) {
        Ok(text) if text.chars().all(stays) => text.into_bytes(),
        Ok(text) => {
            let mut shown = String::with_capacity(text.len() + 16);
            for c in text.chars() {
                match stays(c) {
                    true => shown.push(c),
                    // All hidden characters are below U+10000, so that one escape is enough for each.
                    false => shown.push_str(&format!("\\u{:04x}", u32::from(c))),
                }
            }
            shown.into_bytes()
        }
        Err(other) => other.into_bytes(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_acts_on_a_text_is_left() {
        for c in (0..=0xffff).filter_map(char::from_u32) {
            let text = format!("a{c}b");
            let shown = visible(&text);
            assert!(!shown.contains(is_hidden), "{c:?}");
            assert_eq!(is_hidden(c), shown != text, "{c:?}");
        }
        assert_eq!(visible("\u{7f}\u{9b}1m"), r"\u{7f}\u{9b}1m");
        assert_eq!(visible("Señor Ωß 東"), "Señor Ωß 東");
    }

    #[test]
    fn json_says_the_same() {
        let texts = ["\u{1b}[2J", "a\u{202e}b\u{85}\u{7f}", "line\nend", "m²"];
        let json = serde_json::to_vec_pretty(&texts).unwrap();
        let shown = String::from_utf8(in_json(json)).unwrap();
        assert!(!shown.contains(|c| c != '\n' && is_hidden(c)), "{shown}");
        assert_eq!(serde_json::from_str::<[String; 4]>(&shown).unwrap(), texts);
    }
}
