//! A quick reader of track points that are written as most programs write them: plain tags and plain text. Of anything else, and of a point
//! whose end isn't in the buffer yet, it takes nothing, and the XML parser reads it. Both must give the same for the same text.

use super::TEXT;
use super::point::{Field, Point, Sort, field, number_of};

/// A point that was read in this way.
pub(super) struct Found {
    /// Its line is still to be set.
    pub point: Point,
    /// Bytes from where the look began to the end of the point.
    pub bytes: usize,
    /// Lines that end before the point, and inside it.
    pub lines_before: u32,
    pub lines_within: u32,
}

/// The longest name of an element that is read here, bytes.
const LONGEST_NAME: usize = 32;

/// The track point that the text begins with, after white space; `None` where it is anything else.
pub(super) fn point(text: &[u8]) -> Option<Found> {
    let mut rest = text;
    let lines_before = space(&mut rest);
    rest = rest.strip_prefix(b"<trkpt")?;
    let (mut lat, mut lon) = (None, None);
    while let Some(after) = rest.strip_prefix(b" ") {
        let place = match after {
            [b'l', b'a', b't', b'=', b'"', value @ ..] if lat.is_none() => {
                rest = value;
                &mut lat
            }
            [b'l', b'o', b'n', b'=', b'"', value @ ..] if lon.is_none() => {
                rest = value;
                &mut lon
            }
            _ => return None,
        };
        *place = Some(number_of(until(&mut rest, b'"')?)?);
    }
    rest = rest.strip_prefix(b">")?;
    let mut point = Point::new(Sort::Track, Some(lat?), Some(lon?), 0);
    let mut lines_within = 0;
    loop {
        lines_within += space(&mut rest);
        rest = rest.strip_prefix(b"<")?;
        if let Some(after) = rest.strip_prefix(b"/trkpt>") {
            return Some(Found {
                point,
                bytes: text.len() - after.len(),
                lines_before,
                lines_within,
            });
        }
        let name = name(&mut rest)?;
        let content = until(&mut rest, b'<')?;
        rest = rest
            .strip_prefix(b"/")?
            .strip_prefix(name)?
            .strip_prefix(b">")?;
        match field(name, false) {
            Some(Field::Name | Field::Comment | Field::Description) => return None,
            Some(field) => {
                let content = std::str::from_utf8(content).ok()?;
                if !point.set(field, content.trim()) {
                    return None;
                }
            }
            None => {}
        }
    }
}

/// Passes over white space, and gives the number of lines that end in it.
pub(in crate::read) fn space(rest: &mut &[u8]) -> u32 {
    let mut lines = 0;
    while let [b @ (b' ' | b'\n' | b'\r' | b'\t'), after @ ..] = *rest {
        lines += u32::from(*b == b'\n');
        *rest = after;
    }
    lines
}

/// Gives the text before the byte `end`, and passes over both. `None` where the text isn't plain and on one line, or is too long.
pub(in crate::read) fn until<'a>(rest: &mut &'a [u8], end: u8) -> Option<&'a [u8]> {
    for (i, b) in rest.iter().enumerate() {
        if *b == end {
            let before = rest.get(..i).filter(|before| before.len() <= TEXT)?;
            *rest = rest.get(i + 1..)?;
            return Some(before);
        }
        if matches!(*b, b'&' | b'<') || !(0x20..0x7f).contains(b) {
            return None;
        }
    }
    None
}

/// Gives the name of an opening tag without attributes or prefix, and passes over the tag. `None` for elements that are more than a child
/// with a text.
fn name<'a>(rest: &mut &'a [u8]) -> Option<&'a [u8]> {
    let len = rest
        .iter()
        .take(LONGEST_NAME)
        .position(|b| !b.is_ascii_alphanumeric() && *b != b'_')?;
    let (name, after) = rest.split_at(len);
    *rest = after.strip_prefix(b">")?;
    let meant: [&[u8]; 8] = [
        b"trkpt",
        b"rtept",
        b"wpt",
        b"trk",
        b"rte",
        b"trkseg",
        b"gpx",
        b"extensions",
    ];
    (!name.is_empty() && !meant.contains(&name)).then_some(name)
}
