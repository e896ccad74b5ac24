//! Finds the fields of a sentence's body by its commas. As the sentences of one kind in a log nearly always have their commas at the same
//! places, the places are kept from one to the next, and only compared.

use super::field::{self, Read};
use super::plain::{self, commas};

/// How many fields of a sentence are told apart, more than are read of any.
const FIELDS: usize = 15;
/// The longest body, bytes, whose layout is kept for the next.
const KNOWN: usize = 128;

/// Where the fields of a body begin. A log's sentences of one type are nearly always laid out as the one before.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// Length of the body; `None` where it is too short or too long for its layout to be kept.
    len: Option<usize>,
    /// Where its commas are: a bit for each in words of eight bytes, and apart from these in the last eight bytes.
    commas: [u64; KNOWN / 8],
    last_commas: u64,
    /// Where each field begins; where there is none, one beyond the body's end, as if a comma stood there.
    starts: [u32; FIELDS + 1],
}

impl Layout {
    /// Makes it the layout of another body, which is quick where the commas are at the same places.
    #[inline]
    pub(crate) fn fit(&mut self, body: &[u8]) {
        let mut other = 0;
        for (block, known) in body.as_chunks().0.iter().zip(&self.commas) {
            other |= commas(block) ^ known;
        }
        let last = body.last_chunk().map_or(0, commas);
        if self.len != Some(body.len()) || other | (last ^ self.last_commas) != 0 {
            self.begin(body);
        }
    }

    /// Finds the fields of a body from its beginning.
    #[inline(never)]
    fn begin(&mut self, body: &[u8]) {
        self.len = (8..=KNOWN).contains(&body.len()).then_some(body.len());
        for (block, known) in body.as_chunks().0.iter().zip(&mut self.commas) {
            *known = commas(block);
        }
        self.last_commas = body.last_chunk().map_or(0, commas);
        self.starts = [body.len() as u32 + 1; FIELDS + 1];
        let commas = body.iter().enumerate().filter(|(_, b)| **b == b',');
        let begins = std::iter::once(0).chain(commas.map(|(at, _)| at as u32 + 1));
        for (start, begin) in self.starts.iter_mut().zip(begins) {
            *start = begin;
        }
    }
}

/// The fields of a body.
#[derive(Debug, Clone, Copy)]
pub struct Fields<'a> {
    body: &'a [u8],
    starts: &'a [u32; FIELDS + 1],
}

impl<'a> Fields<'a> {
    /// The fields of a body, to which the layout must have been fitted ([`Layout::fit`]).
    #[inline]
    pub(crate) fn new(body: &'a [u8], layout: &'a Layout) -> Fields<'a> {
        Fields {
            body,
            starts: &layout.starts,
        }
    }

    /// A field, counted from the address, which is 0; `None` where the sentence has no more.
    #[inline]
    pub(crate) fn get(&self, field: usize) -> Option<&'a [u8]> {
        self.together(field, 1)
    }

    /// The text of so many fields with the commas between them, or of as many as there are.
    #[inline]
    pub(crate) fn together(&self, field: usize, count: usize) -> Option<&'a [u8]> {
        let start = *self.starts.get(field)? as usize;
        let end = *self.starts.get(field + count)? as usize - 1;
        self.body.get(start..end)
    }

    /// A field, empty where the sentence has no more.
    #[inline]
    pub(crate) fn at(&self, field: usize) -> &'a [u8] {
        self.get(field).unwrap_or(&[])
    }

    /// A field as [`field::time_us`].
    #[inline]
    pub(crate) fn time_us(&self, field: usize) -> Read<i64> {
        let text = self.at(field);
        plain::time_us(text).map_or_else(|| field::time_us(text), Read::Is)
    }

    /// A field as [`field::number`].
    #[inline]
    pub(crate) fn number(&self, field: usize) -> Read<f64> {
        let begins = |field: usize| self.starts.get(field).map(|start| *start as usize);
        let plain = match (begins(field), begins(field + 1)) {
            (Some(start), Some(next)) => plain::number(self.body, start, next - 1),
            _ => None,
        };
        plain.map_or_else(|| field::number(self.at(field)), Read::Is)
    }

    /// A field as [`field::small`].
    #[inline]
    pub(crate) fn small(&self, field: usize) -> Read<u8> {
        field::small(self.at(field))
    }

    /// A field and the next as [`field::degrees`].
    #[inline]
    pub(crate) fn degrees(&self, field: usize, letters: [u8; 2], most_deg: u64) -> Read<(f64, u8)> {
        let (text, side) = (self.at(field), self.at(field + 1));
        let plain = plain::degrees(text, side, letters, most_deg);
        plain.map_or_else(|| field::degrees(text, side, letters, most_deg), Read::Is)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is read eight digits at a time, and what is read one by one, say the same of any text.
    #[test]
    fn the_short_way_reads_as_the_long_one() {
        let texts = [
            "",
            "0",
            "7",
            "08",
            "300",
            "1234",
            "120000",
            "120000.00",
            "120000.123456",
            "120000.1234567",
            "235960",
            "240000.0",
            "12000",
            "99999999",
            "5206.0000000",
            "00112.0105434",
            "9000.0",
            "18000.000",
            "4860.0",
            "5206.12345678",
            "5206.1234567890123",
            "-0.0",
            "-34.25",
            "79.993",
            ".5",
            "5.",
            "-",
            ".",
            "1.2.3",
            "+4",
            "1e3",
            "nan",
            " 12",
            "12 ",
            "12x",
            "9007199254740993",
            "1234567.12345678",
            "-1234567.1",
            "0.000000001",
        ];
        for text in texts {
            for after in [
                "", ",", ",N", ",N,", ",s,1", ",E,", ",W", ",,", ",NN,", ", n ,",
            ] {
                for (before, place) in [("", 0), ("GPGGA,,", 2)] {
                    let body = format!("{before}{text}{after}");
                    let mut layout = Layout::default();
                    layout.fit(body.as_bytes());
                    let fields = Fields::new(body.as_bytes(), &layout);
                    let (it, next) = (fields.at(place), fields.at(place + 1));
                    assert_eq!(it, text.as_bytes(), "{body}");
                    assert_eq!(fields.time_us(place), field::time_us(it), "{body}");
                    assert_eq!(fields.small(place), field::small(it), "{body}");
                    assert_eq!(fields.number(place), field::number(it), "{body}");
                    for (letters, most_deg) in [(*b"NS", 90), (*b"EW", 180)] {
                        assert_eq!(
                            fields.degrees(place, letters, most_deg),
                            field::degrees(it, next, letters, most_deg),
                            "{body}"
                        );
                    }
                }
            }
        }
    }

    /// Fields are the same as by splitting at every comma, for bodies of any length, with more commas than are needed and with none.
    #[test]
    fn fields_are_what_stands_between_commas() {
        let mut body = Vec::new();
        let mut layout = Layout::default();
        for i in 0..200usize {
            body.push(if i * i % 7 < 3 {
                b','
            } else {
                b'a' + (i % 26) as u8
            });
            for body in [
                &body[..],
                &body[i / 2..],
                &b"AAAAAAAAAAAAAAAAAAAAAAAA"[..i.min(24)],
            ] {
                layout.fit(body);
                let fields = Fields::new(body, &layout);
                let mut slow = body.split(|b| *b == b',');
                for field in 0..FIELDS {
                    assert_eq!(fields.get(field), slow.next(), "{field} of {body:?}");
                }
                assert_eq!(fields.get(FIELDS), None);
            }
        }
    }
}
