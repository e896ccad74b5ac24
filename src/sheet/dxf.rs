//! The drawing for CAD as DXF, release 12 (AC1009), which every reader knows: one layer for each kind of thing, in metres on the
//! plane. A DXF file is a list of pairs of lines: a number that says what follows (the group code), and its value. The codes
//! are those of the DXF reference of release 12.

use super::board::face;
use crate::fault::Fault;
use crate::survey::Measured;
use geo::{Coord, MultiPolygon};
use std::fmt::Write;

/// The layers, each with its colour as an index into CAD's palette.
const LAYERS: [(&str, u8); 9] = [
    ("LAWN", 3),
    ("TAKEN-OFF", 30),
    ("BEDS", 30),
    ("BAND-LOW", 6),
    ("BAND-HIGH", 6),
    ("WALK", 8),
    ("CORNERS", 7),
    ("TEXT", 7),
    ("ROWS", 9),
];

/// Height of text in the drawing, metres: 2.5 mm at 1:100.
const TEXT_M: f64 = 0.25;

/// The file's bytes. Where nothing is drawn, it has its layers only.
///
/// # Errors
/// When a coordinate is not finite.
pub fn file(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let drawing = &measured.drawing;
    let mut dxf = Dxf::default();
    dxf.head();
    for lawn in &drawing.lawns {
        dxf.rings("LAWN", &lawn.outer);
    }
    for deduction in &drawing.deductions {
        match deduction.radius_m {
            Some(radius_m) => dxf.circle("BEDS", deduction.centre, radius_m),
            None => dxf.rings("TAKEN-OFF", &deduction.outline),
        }
        dxf.text(deduction.centre, &deduction.label);
    }
    for (layer, edge) in [("BAND-LOW", &drawing.low), ("BAND-HIGH", &drawing.high)] {
        if let Some(edge) = edge {
            dxf.rings(layer, edge);
        }
    }
    for walk in &drawing.walks {
        dxf.polyline("WALK", walk, false);
    }
    for point in super::plan::lettered(measured) {
        let place = Coord {
            x: point.x_m,
            y: point.y_m,
        };
        dxf.point("CORNERS", place);
        dxf.text(place, &point.name);
    }
    let turf = measured.order.as_ref().and_then(|o| o.turf.as_ref());
    if let Some((turf, rows)) = turf.and_then(|t| t.rows.as_ref().map(|rows| (t, rows))) {
        for row in &rows.layout {
            for piece in &row.pieces {
                let strip = rows.on_plan(row, turf.piece_width_m, piece.start_m, piece.end_m);
                dxf.rings("ROWS", &strip);
            }
        }
    }
    dxf.finish()
}

/// The file as it is written.
#[derive(Default)]
struct Dxf {
    out: String,
    /// Whether some coordinate was not finite; then no file is given out.
    broken: bool,
}

impl Dxf {
    /// Writes one pair of a group code and its value.
    fn code(&mut self, code: u16, value: &str) {
        let _ = write!(self.out, "{code:>3}\r\n{value}\r\n");
    }

    fn number(&mut self, code: u16, value: f64) {
        if !value.is_finite() {
            self.broken = true;
        }
        // Adding 0 turns -0 into 0.
        self.code(code, &format!("{:.6}", value + 0.0));
    }

    fn place(&mut self, at: Coord<f64>) {
        self.number(10, at.x);
        self.number(20, at.y);
        self.number(30, 0.0);
    }

    fn head(&mut self) {
        self.code(999, concat!("boundwalk ", env!("CARGO_PKG_VERSION")));
        self.code(0, "SECTION");
        self.code(2, "HEADER");
        self.code(9, "$ACADVER");
        self.code(1, "AC1009");
        // Metres (6 of the reference of release 2000, which brought the variable; readers heed it in older files as well), a
        // metric drawing, decimals.
        for (variable, value) in [("$INSUNITS", "6"), ("$MEASUREMENT", "1"), ("$LUNITS", "2")] {
            self.code(9, variable);
            self.code(70, value);
        }
        self.code(0, "ENDSEC");
        self.code(0, "SECTION");
        self.code(2, "TABLES");
        self.code(0, "TABLE");
        self.code(2, "LTYPE");
        self.code(70, "1");
        self.code(0, "LTYPE");
        self.code(2, "CONTINUOUS");
        self.code(70, "0");
        self.code(3, "Solid line");
        self.code(72, "65");
        self.code(73, "0");
        self.code(40, "0.0");
        self.code(0, "ENDTAB");
        self.code(0, "TABLE");
        self.code(2, "LAYER");
        self.code(70, &LAYERS.len().to_string());
        for (name, colour) in LAYERS {
            self.code(0, "LAYER");
            self.code(2, name);
            self.code(70, "0");
            self.code(62, &colour.to_string());
            self.code(6, "CONTINUOUS");
        }
        self.code(0, "ENDTAB");
        self.code(0, "ENDSEC");
        self.code(0, "SECTION");
        self.code(2, "ENTITIES");
    }

    fn polyline(&mut self, layer: &str, points: &[Coord<f64>], closed: bool) {
        // A closed line is closed by its flag, so its first point is not repeated at its end.
        let points = match points {
            [first, rest @ ..] if closed && rest.last() == Some(first) => {
                &points[..points.len() - 1]
            }
            points => points,
        };
        if points.len() < 2 {
            return;
        }
        self.code(0, "POLYLINE");
        self.code(8, layer);
        self.code(66, "1");
        self.place(Coord { x: 0.0, y: 0.0 });
        self.code(70, if closed { "1" } else { "0" });
        for point in points {
            self.code(0, "VERTEX");
            self.code(8, layer);
            self.place(*point);
        }
        self.code(0, "SEQEND");
        self.code(8, layer);
    }

    fn rings(&mut self, layer: &str, area: &MultiPolygon<f64>) {
        for polygon in area {
            for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
                self.polyline(layer, &ring.0, true);
            }
        }
    }

    fn circle(&mut self, layer: &str, centre: Coord<f64>, radius_m: f64) {
        self.code(0, "CIRCLE");
        self.code(8, layer);
        self.place(centre);
        self.number(40, radius_m);
    }

    fn point(&mut self, layer: &str, at: Coord<f64>) {
        self.code(0, "POINT");
        self.code(8, layer);
        self.place(at);
    }

    fn text(&mut self, at: Coord<f64>, said: &str) {
        let said = plain(said);
        if said.is_empty() {
            return;
        }
        self.code(0, "TEXT");
        self.code(8, "TEXT");
        self.place(at);
        self.number(40, TEXT_M);
        self.code(1, &said);
    }

    fn finish(mut self) -> Result<Vec<u8>, Fault> {
        self.code(0, "ENDSEC");
        self.code(0, "EOF");
        if self.broken {
            return Err(Fault::withheld(
                "not-finite",
                "a number of the drawing is not finite, so it is not written.",
                "This is a defect of boundwalk: please report it with the log.",
            ));
        }
        Ok(self.out.into_bytes())
    }
}

/// One line of ASCII: other characters as `\U+` and four hexadecimal digits, which readers of DXF turn back; what would be
/// read as a control code (`%%`, `^`, a backslash) is taken apart. At most 255 bytes, the most a text may have.
fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in face::clean(text).trim().chars() {
        let next = match c {
            '%' if out.ends_with('%') => " %".to_owned(),
            '^' => "^ ".to_owned(),
            '\\' => "/".to_owned(),
            ' '..='~' => c.to_string(),
            c if (c as u32) <= 0xffff => format!("\\U+{:04X}", c as u32),
            _ => "?".to_owned(),
        };
        if out.len() + next.len() > 255 {
            break;
        }
        out.push_str(&next);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::trial::chance::Chance;

    #[test]
    fn every_line_is_a_code_or_its_value_whatever_things_are_called() {
        let mut measured = sample::random_lawn(&mut Chance::stream(5, "dxf"), true);
        for deduction in &mut measured.drawing.deductions {
            deduction.label = "x\r\n  0\r\nEOF\r\n%%d ^J \\P Ω 🌳".into();
        }
        let bytes = file(&measured).expect("a file");
        assert!(bytes.is_ascii());
        let text = String::from_utf8(bytes).expect("text");
        let lines: Vec<&str> = text.split("\r\n").collect();
        assert_eq!(lines.len() % 2, 1, "pairs, and the end");
        let mut ends = 0;
        for pair in lines.chunks_exact(2) {
            let code: u16 = pair[0].trim().parse().expect("a group code");
            assert!(code <= 999);
            if code == 0 && pair[1] == "EOF" {
                ends += 1;
            }
        }
        assert_eq!(ends, 1);
        // In metres (the reference of release 2000 has 6 for them).
        assert!(text.contains("  9\r\n$INSUNITS\r\n 70\r\n6\r\n"));
        assert_eq!(plain("%%d^J\\PΩ"), "% %d^ J/P\\U+03A9");
    }

    #[test]
    fn what_is_no_number_is_not_written() {
        let mut measured = sample::random_lawn(&mut Chance::stream(6, "dxf"), false);
        measured.drawing.walks.push(vec![
            Coord {
                x: f64::NAN,
                y: 0.0,
            },
            Coord { x: 1.0, y: 0.0 },
        ]);
        assert!(file(&measured).is_err());
    }
}
