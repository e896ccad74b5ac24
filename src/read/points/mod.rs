//! Reads lists of points: rows of text from survey controllers (the handheld computers of surveyors) and spreadsheets, GeoJSON, and WKT.
//! Corner points in order make a ring; every ring or line of a drawing is a track of its own.

mod beds;
mod columns;
pub mod geojson;
mod layout;
pub mod numbers;
pub mod own;
pub(crate) mod row;
pub mod table;
pub mod wkt;

use crate::fault::Fault;
use crate::fix::{Fix, Quality, Source};
use crate::grid::likely;
use crate::left_out::LeftOut;
use crate::notice::Notice;
use crate::read::Outline;
use crate::read::batch::Batch;
use crate::read::marks;
use beds::Unsized;
use std::io::Read;

/// Eastings and northings to latitude and longitude in degrees.
pub(crate) type ToDegrees<'a> = dyn Fn(f64, f64) -> Result<(f64, f64), Fault> + 'a;

/// The largest drawing that is read, bytes. Tables are read row by row and have no bound.
pub(crate) const LARGEST: u64 = 64 << 20;

/// What the reader of any list of points needs to know.
pub(crate) struct Sheet<'a> {
    pub file: u16,
    pub most_fixes: usize,
    pub keep_all: bool,
    pub lies: Lies<'a>,
}

/// What the coordinates of a list are.
#[derive(Clone, Copy)]
pub(crate) enum Lies<'a> {
    /// Nothing is said of them: they are longitudes and latitudes, or the list is refused.
    InDegrees,
    OnGrid(&'a ToDegrees<'a>),
    /// Metres of a plan. x is kept where a longitude would be, y where a latitude would be.
    OnAPlan,
}

/// Whether two numbers, x then y, can be degrees.
fn in_degrees(x: f64, y: f64) -> bool {
    x.abs() <= 180.0 && y.abs() <= 90.0
}

/// The same longitude, with 180 degrees written as -180.
fn eastward(lon_deg: f64) -> f64 {
    if lon_deg >= 180.0 {
        lon_deg - 360.0
    } else {
        lon_deg
    }
}

/// A corner without a time or a quality.
fn corner(lat_deg: f64, lon_deg: f64, file: u16, line: u32) -> Fix {
    Fix {
        lat_deg,
        lon_deg,
        height_m: None,
        clock_s: None,
        date: None,
        quality: Quality::Unknown,
        satellites: None,
        hdop: None,
        sigma_east_m: None,
        sigma_north_m: None,
        source: Source::Point,
        file,
        line,
        track: 0,
        segment: 0,
    }
}

fn needs_grid(numbers: (f64, f64), line: u32) -> Fault {
    Fault::usage(
        "needs-grid",
        "The points are eastings and northings, and the list doesn't say of which grid.",
        likely::advice(numbers, &[]),
    )
    .of_no_grid(numbers)
    .at_line(u64::from(line))
}

/// A position of a drawing as it is written: x, y and perhaps a height, with its line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Vertex {
    pub x: f64,
    pub y: f64,
    pub z: Option<f64>,
    pub line: u32,
}

/// Lines and rings of a drawing, and its lone points with their texts.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Drawing {
    /// Whether there is a walk beside it, so that its lone points are marks.
    pub walked: bool,
    pub lines: Vec<(Vec<Vertex>, Option<Outline>)>,
    pub points: Vec<(Vertex, Vec<String>)>,
}

impl Drawing {
    /// Makes fixes and marks of it. Lone points are marks where there are lines or a walk; else those without a size are corners
    /// in order.
    fn into_batch(self, sheet: &Sheet<'_>, mut batch: Batch) -> Result<Batch, Fault> {
        self.put_lines(sheet, &mut batch)?;
        self.put_points(sheet, &mut batch)?;
        Ok(batch)
    }

    /// Makes each line a track of its own.
    fn put_lines(&self, sheet: &Sheet<'_>, batch: &mut Batch) -> Result<(), Fault> {
        let (mut exchanged, mut seen) = (0u64, 0u64);
        let mut track = 0u16;
        for (line, outline) in &self.lines {
            let before = batch.fixes.len();
            for vertex in line {
                seen += 1;
                if batch.fixes.len() >= sheet.most_fixes {
                    batch.stopped = true;
                    break;
                }
                match sheet.degrees(*vertex)? {
                    Some((lat, lon)) => {
                        let mut fix = corner(lat, lon, sheet.file, vertex.line);
                        fix.height_m = vertex.z.filter(|z| z.is_finite());
                        fix.track = track;
                        fix.segment = track;
                        batch.fixes.push(fix);
                    }
                    None => {
                        exchanged += u64::from(in_degrees(vertex.y, vertex.x));
                        batch
                            .tally
                            .add(LeftOut::BadPosition, sheet.file, vertex.line);
                    }
                }
            }
            if batch.fixes.len() > before {
                if let Some(outline) = outline {
                    batch.outlines.insert(track, outline.clone());
                }
                track = track.saturating_add(1);
            }
        }
        if seen > 0 && exchanged == seen {
            batch.swapped = exchanged;
        }
        *batch.sentences.entry("vertex".to_string()).or_default() += seen;
        Ok(())
    }

    /// Makes each lone point a bed, a mark or a corner.
    fn put_points(&self, sheet: &Sheet<'_>, batch: &mut Batch) -> Result<(), Fault> {
        let drawn = self.walked || !self.lines.is_empty();
        let mut corners = 0u64;
        let mut unsized_beds = Unsized::default();
        for (number, (vertex, texts)) in self.points.iter().enumerate() {
            *batch.sentences.entry("point".to_string()).or_default() += 1;
            let Some((lat, lon)) = sheet.degrees(*vertex)? else {
                batch
                    .tally
                    .add(LeftOut::BadPosition, sheet.file, vertex.line);
                continue;
            };
            let radius_m = texts.iter().find_map(|text| marks::radius_m(text));
            if radius_m.is_none()
                && let Some(text) = texts.iter().find(|text| marks::speaks_of_size(text))
            {
                unsized_beds.add(vertex.line, text);
                continue;
            }
            if !drawn && radius_m.is_none() {
                corners += 1;
                batch.fixes.push(corner(lat, lon, sheet.file, vertex.line));
                continue;
            }
            let label = texts.iter().find(|text| !text.is_empty());
            batch.marks.push(crate::mark::Mark {
                label: label.map_or_else(|| format!("point {}", number + 1), Clone::clone),
                lat_deg: lat,
                lon_deg: lon,
                radius_m,
                text: texts.join("; "),
                clock_s: None,
                file: sheet.file,
                line: vertex.line,
            });
        }
        batch.warnings.extend(unsized_beds.told());
        if corners > 0 {
            batch
                .warnings
                .push(Notice::PointsAsCorners { points: corners });
        }
        Ok(())
    }
}

impl Sheet<'_> {
    /// A vertex in degrees, (latitude, longitude); `None` where it is out of range.
    fn degrees(&self, vertex: Vertex) -> Result<Option<(f64, f64)>, Fault> {
        if !(vertex.x.is_finite() && vertex.y.is_finite()) {
            return Ok(None);
        }
        match self.lies {
            Lies::OnGrid(to_degrees) => to_degrees(vertex.x, vertex.y)
                .map(|(lat, lon)| Some((lat, eastward(lon))))
                .map_err(|fault| fault.at_line(u64::from(vertex.line))),
            Lies::OnAPlan => Ok(Some((vertex.y, vertex.x))),
            Lies::InDegrees if in_degrees(vertex.x, vertex.y) => {
                Ok(Some((vertex.y, eastward(vertex.x))))
            }
            // The numbers are no degrees in either order, so they are eastings and northings.
            Lies::InDegrees if !in_degrees(vertex.y, vertex.x) => {
                Err(needs_grid((vertex.x, vertex.y), vertex.line))
            }
            Lies::InDegrees => Ok(None),
        }
    }
}

pub(crate) fn too_large() -> Fault {
    Fault::unreadable(
        "too-large",
        "The drawing is larger than 64 MB.",
        "Export only the lawn's outline.",
    )
}

/// All of a drawing's text, of at most [`LARGEST`] bytes.
fn whole(from: &mut dyn Read, batch: &mut Batch) -> Result<String, Fault> {
    let mut bytes = Vec::new();
    if let Err(e) = from.take(LARGEST + 1).read_to_end(&mut bytes) {
        batch.broken = Some(e);
    }
    if bytes.len() as u64 > LARGEST {
        return Err(too_large());
    }
    batch.lines = bytes.iter().filter(|b| **b == b'\n').count() as u64
        + u64::from(bytes.last().is_some_and(|b| *b != b'\n'));
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
