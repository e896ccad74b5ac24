//! The typeface of all drawings and printed sheets: Noto Sans (SIL Open Font License 1.1), which comes with the crate `notosans` and
//! has the Latin, Greek and Cyrillic scripts. The widths of its letters decide where text goes. PDF files carry the font; SVG
//! files only name it, and say how wide each text must come out.

use crate::visible::visible;
use std::sync::OnceLock;
use ttf_parser::{Face, GlyphId};

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    Regular,
    Bold,
}

/// Height of capitals above the base line and depth of letters below it, as parts of the em (the font's size), a little rounded up.
pub(crate) const CAPITAL: f64 = 0.72;
pub(crate) const DEPTH: f64 = 0.22;
/// The first character beyond Latin, Greek and Cyrillic.
const BEYOND: char = '\u{530}';

impl Weight {
    pub(crate) const BOTH: [Weight; 2] = [Weight::Regular, Weight::Bold];

    pub(crate) fn bytes(self) -> &'static [u8] {
        match self {
            Weight::Regular => notosans::REGULAR_TTF,
            Weight::Bold => notosans::BOLD_TTF,
        }
    }

    /// The font, read once. `None` only if the crate brought something that is no font.
    pub(crate) fn face(self) -> Option<&'static Face<'static>> {
        static REGULAR: OnceLock<Option<Face<'static>>> = OnceLock::new();
        static BOLD: OnceLock<Option<Face<'static>>> = OnceLock::new();
        let (cell, bytes) = match self {
            Weight::Regular => (&REGULAR, notosans::REGULAR_TTF),
            Weight::Bold => (&BOLD, notosans::BOLD_TTF),
        };
        cell.get_or_init(|| Face::parse(bytes, 0).ok()).as_ref()
    }

    /// Widths of all characters before [`BEYOND`], by their number. Nearly all texts are made of these, and setting one page asks for
    /// thousands of them, so they are kept.
    fn widths(self, face: &Face<'_>) -> &'static [u16] {
        static REGULAR: OnceLock<Vec<u16>> = OnceLock::new();
        static BOLD: OnceLock<Vec<u16>> = OnceLock::new();
        let cell = match self {
            Weight::Regular => &REGULAR,
            Weight::Bold => &BOLD,
        };
        cell.get_or_init(|| ('\0'..BEYOND).map(|c| width(face, c)).collect())
    }
}

/// The glyph for a character; the face's own box where it has none.
pub(crate) fn glyph(face: &Face<'_>, c: char) -> GlyphId {
    face.glyph_index(c).unwrap_or_default()
}

/// How wide a line of text is, millimetres. Kerning (moving certain pairs of letters closer) is not applied, neither here nor where
/// text is written. Without a font the width is a guess.
pub(crate) fn width_mm(text: &str, size_mm: f64, weight: Weight) -> f64 {
    let Some(face) = weight.face() else {
        return 0.6 * size_mm * text.chars().count() as f64;
    };
    let widths = weight.widths(face);
    let units: f64 = text
        .chars()
        .map(|c| match widths.get(c as usize) {
            Some(width) => f64::from(*width),
            None => f64::from(width(face, c)),
        })
        .sum();
    size_mm * units / f64::from(face.units_per_em())
}

/// Whether the face has every letter of a text.
pub(crate) fn has_all(text: &str, weight: Weight) -> bool {
    let has = |c: char| {
        c < BEYOND
            || weight
                .face()
                .is_none_or(|face| face.glyph_index(c).is_some())
    };
    text.chars().all(has)
}

/// How far a character moves the pen on, in the font's own units.
fn width(face: &Face<'_>, c: char) -> u16 {
    face.glyph_hor_advance(glyph(face, c)).unwrap_or(0)
}

/// The text as it can be drawn: characters that control or reorder a line are shown by their number, characters that join or part
/// others without being seen are left out, and line ends become spaces.
pub(crate) fn clean(text: &str) -> String {
    visible(text)
        .chars()
        .filter_map(|c| match c {
            '\u{200b}'..='\u{200d}' | '\u{2060}'..='\u{2065}' | '\u{feff}' => None,
            '\u{fffe}' | '\u{ffff}' => None,
            c => Some(c),
        })
        .collect()
}

/// The text, shortened with an ellipsis where it is wider than there is room for.
pub(crate) fn fit(text: &str, size_mm: f64, weight: Weight, room_mm: f64) -> String {
    let text = clean(text);
    if width_mm(&text, size_mm, weight) <= room_mm {
        return text;
    }
    let mut short = String::new();
    for c in text.chars() {
        let longer = format!("{short}{c}…");
        if width_mm(&longer, size_mm, weight) > room_mm {
            break;
        }
        short.push(c);
    }
    format!("{}…", short.trim_end())
}

/// The words set into lines no wider than the room; a word longer than a line is cut. There is always at least one line, be it empty.
pub(crate) fn wrap(text: &str, size_mm: f64, weight: Weight, room_mm: f64) -> Vec<String> {
    let text = clean(text);
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    let wide = |text: &str| width_mm(text, size_mm, weight);
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let longer = match line.is_empty() {
            true => word.to_owned(),
            false => format!("{line} {word}"),
        };
        if wide(&longer) <= room_mm {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            if !line.is_empty() && wide(&format!("{line}{c}")) > room_mm {
                lines.push(std::mem::take(&mut line));
            }
            line.push(c);
        }
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_have_the_three_scripts_and_what_sheets_say() {
        for weight in Weight::BOTH {
            let face = weight.face().expect("a font");
            for c in "AZazÄéłøŞ ΑΩαωΐ АЯаяЩҐєў 0123456789 m² m³ ± × · – — “” ’ … ° € £ % …".chars()
            {
                assert!(face.glyph_index(c).is_some(), "{weight:?} lacks {c:?}");
            }
        }
    }

    #[test]
    fn widths_are_those_of_the_font() {
        // The face's own hmtx table: digits are 1171 wide on an em of 2048.
        let ten = width_mm("0123456789", 10.0, Weight::Regular);
        approx::assert_abs_diff_eq!(ten, 100.0 * 1171.0 / 2048.0, epsilon = 1e-9);
    }

    #[test]
    fn lines_keep_within_their_room_and_lose_nothing() {
        let text = "Ein Garten an der Straße, κήπος 12, улица Садовая und ein sehrlangeswortohneeinenzwischenraum";
        for room in [12.0, 30.0, 80.0] {
            let lines = wrap(text, 3.0, Weight::Regular, room);
            for line in &lines {
                assert!(width_mm(line, 3.0, Weight::Regular) <= room, "{line}");
            }
            let (kept, was): (String, String) = (lines.concat(), text.to_owned());
            assert_eq!(kept.replace(' ', ""), was.replace(' ', ""));
        }
        assert!(width_mm(&fit(text, 3.0, Weight::Bold, 20.0), 3.0, Weight::Bold) <= 20.0);
    }

    #[test]
    fn what_controls_a_line_is_drawn_by_its_number() {
        let text = "a\u{202e}b\nc\u{0}d\u{feff}";
        assert_eq!(clean(text), r"a\u{202e}b c\u{0}d");
    }
}
