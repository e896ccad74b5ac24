//! The sizes of beds in a list of points. A bed whose size cannot be read is told with its line, and is never taken for a corner of the lawn.

use crate::notice::{Notice, UnreadSize};
use crate::read::marks;
use crate::units;

use super::numbers::number;

/// How many such beds are named; the rest are counted.
const NAMED: usize = 5;

/// What stands in a cell for the size of a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Size {
    /// Nothing: the row is a corner.
    None,
    Metres(f64),
    /// Something that is no size.
    Unreadable,
}

/// Reads a cell of a column of sizes: a number in the column's own unit (`unit_m` metres), or a length with its unit.
pub(super) fn size(cell: &str, unit_m: f64) -> Size {
    if matches!(
        cell.to_lowercase().as_str(),
        "" | "-" | "\u{2013}" | "\u{2014}" | "n/a" | "none"
    ) {
        return Size::None;
    }
    let metres = number(cell)
        .map(|value| value * unit_m)
        .or_else(|| units::length_m(cell).ok());
    match metres {
        Some(m) if m > 0.0 && m <= 2.0 * marks::LARGEST_M => Size::Metres(m),
        _ => Size::Unreadable,
    }
}

/// The beds of one list whose size could not be read.
#[derive(Debug, Default)]
pub(super) struct Unsized {
    named: Vec<UnreadSize>,
    count: usize,
}

impl Unsized {
    pub(crate) fn add(&mut self, line: u32, text: &str) {
        self.count += 1;
        if self.named.len() < NAMED {
            self.named.push(UnreadSize {
                text: text.to_owned(),
                line,
            });
        }
    }

    pub(crate) fn told(&self) -> Option<Notice> {
        (self.count > 0).then(|| Notice::BedSize {
            sizes: self.named.clone(),
            more: self.count - self.named.len(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The foot is 0.3048 m and the inch 0.0254 m exactly (NIST Handbook 44, appendix C).
    #[test]
    fn sizes_with_and_without_a_unit() {
        for (cell, unit_m, want) in [
            ("70cm", 1.0, 0.7),
            ("0.7m", 1.0, 0.7),
            ("0,7", 1.0, 0.7),
            ("28in", 1.0, 0.7112),
            ("2ft 4in", 1.0, 0.7112),
            ("70", 0.01, 0.7),
            ("700mm", 0.01, 0.7),
        ] {
            match size(cell, unit_m) {
                Size::Metres(m) => approx::assert_abs_diff_eq!(m, want, epsilon = 1e-12),
                other => panic!("{cell}: {other:?}"),
            }
        }
        for cell in [
            "nan", "-0.7", "0", "big", "inf", "1e9", "7 8", "2ft 40in", "70 kg",
        ] {
            assert_eq!(size(cell, 1.0), Size::Unreadable, "{cell}");
        }
        for cell in ["", "-", "n/a"] {
            assert_eq!(size(cell, 1.0), Size::None, "{cell}");
        }
    }
}
