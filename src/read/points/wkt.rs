//! Well-known text (OGC 06-103r4, clause 7): `POLYGON ((x y, ...))` and its kin, several in one file, with the
//! `SRID=n;` in front that databases write. x is the longitude or easting, y the latitude or northing.

use super::{Drawing, Sheet, Vertex};
use crate::fault::Fault;
use crate::read::Outline;
use crate::read::batch::Batch;
use std::io::Read;

/// The deepest that brackets may be nested; a collection of multi-polygons needs four.
const DEEPEST: usize = 16;

/// Reads one file. The grid that the text itself names is not looked at here: [`srid`] gives it.
pub(crate) fn read(text: &str, sheet: &Sheet<'_>, batch: Batch) -> Result<Batch, Fault> {
    let drawing = parse(text)?;
    drawing.into_batch(sheet, batch)
}

/// All of the text, of at most [`super::LARGEST`] bytes.
pub(crate) fn text(from: &mut dyn Read, batch: &mut Batch) -> Result<String, Fault> {
    super::whole(from, batch)
}

/// The EPSG code in an `SRID=n;`, unless it is plain degrees (4326) or nothing (0).
pub(crate) fn srid(text: &str) -> Option<u32> {
    let rest = text.trim_start().strip_prefix("SRID=")?;
    let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
    digits.parse().ok().filter(|code| !matches!(code, 0 | 4326))
}

/// Reads the shapes one after another.
pub(crate) fn parse(text: &str) -> Result<Drawing, Fault> {
    let mut at = Cursor {
        rest: text,
        line: 1,
    };
    let mut drawing = Drawing::default();
    let mut depth = 0usize;
    let mut shape = String::new();
    // Whether a third number is a measure along the line (06-103r4, 7.2.2: `POINT M`) and no height.
    let mut measured = false;
    let mut ring: Vec<Vertex> = Vec::new();
    // How many rings the open polygon has had.
    let mut rings = 0;
    let mut numbers: Vec<f64> = Vec::new();
    while let Some(token) = at.token() {
        let line = at.line;
        match token {
            Token::Word(word) => match word.to_ascii_uppercase().as_str() {
                "Z" | "ZM" => {}
                "M" => measured = true,
                "EMPTY" => shape.clear(),
                upper => {
                    shape = upper.to_string();
                    measured = false;
                }
            },
            Token::Open => {
                depth += 1;
                if depth > DEEPEST {
                    return Err(broken(line, "its brackets are nested too deeply"));
                }
            }
            Token::Number(value) => numbers.push(value),
            Token::Comma | Token::Close => {
                if let Some(mut vertex) = vertex(&mut numbers, line)? {
                    vertex.z = vertex.z.filter(|_| !measured);
                    ring.push(vertex);
                }
                if token == Token::Close {
                    depth = depth
                        .checked_sub(1)
                        .ok_or_else(|| broken(line, "a bracket closes that never opened"))?;
                    close(&shape, &mut ring, &mut rings, &mut drawing);
                }
            }
            Token::Semicolon => {}
            Token::Srid => {}
            Token::Other => return Err(broken(line, "there is something that is no number")),
        }
    }
    if depth > 0 {
        return Err(broken(at.line, "it breaks off before its last bracket"));
    }
    Ok(drawing)
}

/// Takes what a closing bracket ends: a ring or line, or a whole polygon, whose first ring is the outer one (06-103r4, 6.1.11).
fn close(shape: &str, ring: &mut Vec<Vertex>, rings: &mut usize, drawing: &mut Drawing) {
    if ring.is_empty() {
        *rings = 0;
        return;
    }
    let ring = std::mem::take(ring);
    if shape.contains("POINT") {
        drawing
            .points
            .extend(ring.into_iter().map(|vertex| (vertex, Vec::new())));
    } else {
        let outline = match shape.contains("POLYGON") {
            true if *rings > 0 => Some(Outline::TakenOff(String::new())),
            true => None,
            false => shape.contains("LINESTRING").then_some(Outline::Line),
        };
        *rings += 1;
        drawing.lines.push((ring, outline));
    }
}

/// The place that the numbers read so far make; `None` where there are none.
fn vertex(numbers: &mut Vec<f64>, line: u32) -> Result<Option<Vertex>, Fault> {
    let vertex = match numbers.as_slice() {
        [] => None,
        [x, y, rest @ ..] if rest.len() <= 2 => Some(Vertex {
            x: *x,
            y: *y,
            z: rest.first().copied(),
            line,
        }),
        _ => {
            return Err(broken(
                line,
                "a point needs two numbers, or three with its height",
            ));
        }
    };
    numbers.clear();
    Ok(vertex)
}

fn broken(line: u32, why: &str) -> Fault {
    Fault::unreadable(
        "wkt-broken",
        format!("The well-known text can't be read: {why}."),
        "Export the outline again.",
    )
    .at_line(u64::from(line))
}

#[derive(Debug, Clone, PartialEq)]
enum Token<'a> {
    Word(&'a str),
    Number(f64),
    Open,
    Close,
    Comma,
    Semicolon,
    /// `SRID=n`.
    Srid,
    Other,
}

struct Cursor<'a> {
    rest: &'a str,
    line: u32,
}

impl<'a> Cursor<'a> {
    fn token(&mut self) -> Option<Token<'a>> {
        loop {
            let c = self.rest.chars().next()?;
            if !c.is_whitespace() && c != '"' {
                break;
            }
            if c == '\n' {
                self.line = self.line.saturating_add(1);
            }
            self.rest = self.rest.get(c.len_utf8()..)?;
        }
        if self.rest.starts_with("SRID=") {
            let end = self.rest.find(';').unwrap_or(self.rest.len());
            self.rest = self.rest.get(end..).unwrap_or("");
            return Some(Token::Srid);
        }
        let c = self.rest.chars().next()?;
        let len = if c.is_ascii_alphabetic() {
            run(self.rest, |c| c.is_ascii_alphabetic())
        } else if c.is_ascii_digit() || matches!(c, '.' | '-' | '+') {
            run(self.rest, |c| {
                c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E')
            })
        } else {
            c.len_utf8()
        };
        let (piece, rest) = self.rest.split_at_checked(len)?;
        self.rest = rest;
        Some(match c {
            '(' => Token::Open,
            ')' => Token::Close,
            ',' => Token::Comma,
            ';' => Token::Semicolon,
            c if c.is_ascii_alphabetic() => Token::Word(piece),
            _ => match super::numbers::number(piece) {
                Some(value) => Token::Number(value),
                None => Token::Other,
            },
        })
    }
}

/// How many bytes at the start of a text are characters that pass a test.
fn run(text: &str, test: fn(char) -> bool) -> usize {
    text.find(|c| !test(c)).unwrap_or(text.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes() {
        let d = parse("POLYGON Z ((0 0 5, 4 0 5,\n 4 3 5, 0 0 5), (1 1 5, 2 1 5, 2 2 5, 1 1 5))")
            .unwrap();
        assert_eq!(d.lines.len(), 2);
        assert_eq!(
            d.lines[0].0[1],
            Vertex {
                x: 4.0,
                y: 0.0,
                z: Some(5.0),
                line: 1
            }
        );
        assert_eq!(d.lines[0].0[2].line, 2);
        let heights = |text: &str| {
            parse(text)
                .unwrap()
                .points
                .iter()
                .map(|(p, _)| p.z)
                .collect::<Vec<_>>()
        };
        let third = "POINT M (1 2 3) POINT Z (1 2 3) POINT ZM (1 2 3 4) POINT (1 2 3)";
        assert_eq!(heights(third), [None, Some(3.0), Some(3.0), Some(3.0)]);
        let d = parse("MULTIPOLYGON (((0 0, 1 0, 1 1, 0 0)), ((5 5, 6 5, 6 6, 5 5)))").unwrap();
        assert_eq!(d.lines.len(), 2);
        let holes = |text: &str| -> Vec<bool> {
            let d = parse(text).unwrap();
            d.lines
                .iter()
                .map(|l| matches!(l.1, Some(Outline::TakenOff(_))))
                .collect()
        };
        let two = "((0 0, 9 0, 9 9, 0 0), (1 1, 2 1, 2 2, 1 1))";
        assert_eq!(holes(&format!("POLYGON {two}")), [false, true]);
        assert_eq!(
            holes(&format!(
                "MULTIPOLYGON ({two}, ((5 5, 6 5, 6 6, 5 5)))\nPOLYGON {two}"
            )),
            [false, true, false, false, true]
        );
        let d = parse("SRID=4326;LINESTRING(1 2, 3 4)\nPOINT(5 6)\nPOLYGON EMPTY").unwrap();
        assert_eq!((d.lines.len(), d.points.len()), (1, 1));
        let d = parse("MULTIPOINT ((1 2), (3 4))").unwrap();
        assert_eq!(d.points.len(), 2);
        let d = parse("MULTIPOINT (1 2, 3 4)").unwrap();
        assert_eq!(d.points.len(), 2);
    }

    #[test]
    fn what_cannot_be_read_is_named() {
        for text in [
            "POLYGON ((0 0, 1 0",
            "POLYGON ((0 x, 1 0))",
            "POLYGON ((0, 1 0))",
            "POLYGON )",
            &"(".repeat(100_000),
            "POLYGON ((1 2 3 4 5, 1 0))",
        ] {
            assert_eq!(parse(text).unwrap_err().code(), "wkt-broken");
        }
        assert_eq!(srid("SRID=27700;POINT(1 2)"), Some(27700));
        assert_eq!(srid("SRID=4326;POINT(1 2)"), None);
    }
}
