//! KML 2.2 (OGC 07-147r2): drawn shapes, which are brought to the form of GeoJSON and read as such, and tracks with their times
//! (`gx:Track`, of the same standard's extension namespace). What a height is counted from (the altitude mode) is not looked at.

use crate::fault::Fault;
use crate::fix::Source;
use crate::left_out::LeftOut;
use crate::read::batch::{Batch, Limits};
use crate::read::gpx::quick::{space, until};
use crate::read::lines::Lines;
use crate::read::points::geojson::{self, Shapes};
use crate::read::points::{LARGEST, Sheet, too_large};
use crate::read::record::Record;
use crate::read::stamp::Stamp;
use ::geojson::{Feature, Geometry, GeometryValue, Position};
use quick_xml::Reader;
use quick_xml::events::Event;
use serde_json::json;
use std::io::Read;

/// The description of a document that this program writes.
pub(crate) const OWN: &str = "Not a survey of legal boundaries or levels.";
/// The style of those placemarks in such a document that are lawns.
const OWN_LAWN: &str = "#lawn";

/// Reads one file.
///
/// # Errors
/// Where coordinates are no degrees.
pub(crate) fn read(
    from: &mut dyn Read,
    sheet: &Sheet<'_>,
    limits: &Limits,
) -> Result<Batch, Fault> {
    let mut xml = Reader::from_reader(Lines::new(from, LARGEST as usize));
    let config = xml.config_mut();
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    config.allow_dangling_amp = true;
    let mut document = Document::default();
    let mut buffer = Vec::new();
    let mut broken = None;
    let mut open = 0i64;
    loop {
        buffer.clear();
        xml.get_mut().begin();
        let event = xml.read_event_into(&mut buffer);
        let line = xml.get_mut().began_line();
        match event {
            Ok(Event::Eof) => {
                if open > 0 {
                    broken = Some((line, "the file ends inside an element".to_owned()));
                }
                break;
            }
            Ok(Event::Start(tag)) => {
                open += 1;
                document.start(tag.local_name().as_ref(), line);
            }
            Ok(Event::End(tag)) => {
                open -= 1;
                document.end(tag.local_name().as_ref(), sheet.file, limits);
            }
            Ok(Event::Text(text)) => document.text.push_str(&text.into_inner()),
            Ok(Event::CData(text)) => document.text.push_str(&text.into_inner()),
            Ok(_) => {}
            Err(error) => {
                document.batch.tally.add(LeftOut::BadXml, sheet.file, line);
                broken = Some((line, error.to_string()));
                break;
            }
        }
        // Between two elements of a track the parser holds no text of its own: whole ones may be taken without it, which is quicker.
        while !document.is_full(limits) && document.quickly(xml.get_mut()) {}
        if document.drawn > LARGEST {
            return Err(too_large());
        }
        if document.is_full(limits) {
            document.batch.stopped = true;
            break;
        }
    }
    document.batch.lines = xml.get_mut().lines();
    if let Some((line, why)) = broken {
        let what = crate::notice::Notice::XmlBroken { line, why };
        document.batch.warnings.push(what);
    }
    document.done(sheet, limits)
}

/// What is known of the file while it is read.
#[derive(Default)]
struct Document {
    batch: Batch,
    text: String,
    text_line: u32,
    /// Bytes of coordinates of drawn shapes so far. All of them are kept, so they are bounded ([`LARGEST`]).
    drawn: u64,
    in_placemark: bool,
    placemark: Placemark,
    /// Rings of the polygon being read; `None` outside of one.
    polygon: Option<Vec<Vec<Position>>>,
    track: Option<Track>,
    tracks: u16,
    features: Vec<Feature>,
    /// The line of each position, in the order of the features.
    lines: Vec<u32>,
    ours: bool,
}

/// The placemark being read: a feature with its texts and shapes. `lines` are the lines of its positions.
#[derive(Default)]
struct Placemark {
    name: String,
    description: String,
    style: String,
    shapes: Vec<GeometryValue>,
    lines: Vec<u32>,
}

/// The `gx:Track` being read. It has a list of times and a list of places; the first time belongs to the first place, and so on.
#[derive(Default)]
struct Track {
    /// Whether an element within the track is open.
    within: bool,
    times: Vec<Option<Stamp>>,
    /// The places with their lines; `None` for text that is no place.
    places: Vec<(u32, Option<Place>)>,
}

impl Track {
    fn take(&mut self, piece: Piece, line: u32) {
        match piece {
            Piece::When(time) => self.times.push(time),
            Piece::Coord(place) => self.places.push((line, place)),
        }
    }
}

/// Longitude, latitude and height of a track.
type Place = (f64, f64, Option<f64>);

/// What stands between two tags of a track.
enum Piece {
    When(Option<Stamp>),
    Coord(Option<Place>),
}

/// A place written as two or three numbers with space between them.
fn place(text: &str) -> Option<Place> {
    let mut numbers = text.split_ascii_whitespace().map_while(number);
    Some((numbers.next()?, numbers.next()?, numbers.next()))
}

fn number(text: &str) -> Option<f64> {
    fast_float2::parse(text).ok()
}

/// The time or place that comes next, if only white space stands before it and it is written as programs write it, so that the parser is not
/// needed; with the number of bytes up to its end, and of lines that end before it. Else `None`.
fn piece(text: &[u8]) -> Option<(Piece, usize, u32)> {
    let mut rest = text;
    let lines = space(&mut rest);
    let (end, is_time): (&[u8], bool) = if let Some(after) = rest.strip_prefix(b"<when>") {
        rest = after;
        (b"/when>", true)
    } else {
        rest = rest.strip_prefix(b"<gx:coord>")?;
        (b"/gx:coord>", false)
    };
    let content = until(&mut rest, b'<')?;
    rest = rest.strip_prefix(end)?;
    let piece = match is_time {
        true => Piece::When(Stamp::parse(content)),
        false => Piece::Coord(place(std::str::from_utf8(content).ok()?)),
    };
    Some((piece, text.len() - rest.len(), lines))
}

impl Document {
    /// Whether there are as many fixes as may be.
    fn is_full(&self, limits: &Limits) -> bool {
        let coming = self.track.as_ref().map_or(0, |track| track.places.len());
        self.batch.fixes.len() + coming >= limits.most_fixes
    }

    /// Takes the time or place that comes next in a track, if [`piece`] can read it.
    fn quickly(&mut self, lines: &mut Lines<'_>) -> bool {
        let Some(track) = self.track.as_mut().filter(|track| !track.within) else {
            return false;
        };
        let Some((piece, bytes, before)) = piece(lines.ahead()) else {
            return false;
        };
        let line = lines.line_ahead() + u64::from(before);
        lines.take(bytes, before);
        track.take(piece, u32::try_from(line).unwrap_or(u32::MAX));
        true
    }

    fn start(&mut self, name: &str, line: u32) {
        self.text.clear();
        self.text_line = line;
        if let Some(track) = &mut self.track {
            track.within = true;
        }
        match name {
            "Placemark" => {
                self.placemark = Placemark::default();
                self.in_placemark = true;
            }
            "Polygon" => self.polygon = Some(Vec::new()),
            "Track" => self.track = Some(Track::default()),
            _ => {}
        }
    }

    fn end(&mut self, name: &str, file: u16, limits: &Limits) {
        let text = std::mem::take(&mut self.text);
        let text = text.trim();
        if let Some(track) = &mut self.track {
            track.within = false;
        }
        match name {
            "name" if self.in_placemark => self.placemark.name = text.to_owned(),
            "description" if self.in_placemark => self.placemark.description = text.to_owned(),
            "description" => self.ours |= text == OWN,
            "styleUrl" if self.in_placemark => self.placemark.style = text.to_owned(),
            "coordinates" => self.coordinates(text, file),
            "LinearRing" | "LineString" | "Point" => self.shape(name),
            "Polygon" => {
                if let Some(rings) = self.polygon.take().filter(|rings| !rings.is_empty()) {
                    self.placemark
                        .shapes
                        .push(GeometryValue::Polygon { coordinates: rings });
                }
            }
            "when" | "coord" => {
                let piece = match name {
                    "when" => Piece::When(Stamp::parse(text.as_bytes())),
                    _ => Piece::Coord(place(text)),
                };
                if let Some(track) = &mut self.track {
                    track.take(piece, self.text_line);
                }
            }
            "Track" => self.walked(file, limits),
            "Placemark" => self.placed(),
            _ => {}
        }
    }

    /// Takes the places of an element `coordinates`: longitude, latitude and perhaps height with commas between them, and space between
    /// places.
    fn coordinates(&mut self, text: &str, file: u16) {
        self.drawn += text.len() as u64;
        let mut places: Vec<Position> = Vec::new();
        for place in text.split_ascii_whitespace() {
            let numbers: Vec<f64> = place.split(',').map_while(|n| number(n.trim())).collect();
            match numbers.len() {
                0 | 1 => self
                    .batch
                    .tally
                    .add(LeftOut::NotANumber, file, self.text_line),
                _ => {
                    self.placemark.lines.push(self.text_line);
                    places.push(Position::from(numbers));
                }
            }
        }
        match &mut self.polygon {
            Some(rings) => rings.push(places),
            None => self.placemark.shapes.push(GeometryValue::LineString {
                coordinates: places,
            }),
        }
    }

    /// Makes the coordinates just read, if they are outside of a polygon, what the element round them says: a point, a line or a ring.
    fn shape(&mut self, name: &str) {
        if self.polygon.is_some() {
            return;
        }
        let Some(GeometryValue::LineString { coordinates }) = self.placemark.shapes.last_mut()
        else {
            return;
        };
        let mut places = std::mem::take(coordinates);
        self.placemark.shapes.pop();
        self.placemark.shapes.extend(match (name, places.len()) {
            (_, 0) => None,
            ("Point", _) => Some(GeometryValue::Point {
                coordinates: places.swap_remove(0),
            }),
            ("LinearRing", _) => Some(GeometryValue::Polygon {
                coordinates: vec![places],
            }),
            _ => Some(GeometryValue::LineString {
                coordinates: places,
            }),
        });
    }

    /// Ends a placemark: makes a feature of GeoJSON of its shapes.
    fn placed(&mut self) {
        self.in_placemark = false;
        let Placemark {
            name,
            description,
            style,
            mut shapes,
            lines,
        } = std::mem::take(&mut self.placemark);
        if shapes.is_empty() {
            return;
        }
        let lawn = self.ours && style == OWN_LAWN;
        let properties = match lawn {
            true => {
                let each = json!({ "label": name });
                json!({ "role": "lawn", "lawns": vec![each; shapes.len()] })
            }
            false => json!({ "name": name, "description": description }),
        };
        let value = match shapes.len() {
            1 => shapes.swap_remove(0),
            _ if lawn => GeometryValue::MultiPolygon {
                coordinates: shapes
                    .into_iter()
                    .filter_map(|shape| match shape {
                        GeometryValue::Polygon { coordinates } => Some(coordinates),
                        _ => None,
                    })
                    .collect(),
            },
            _ => GeometryValue::GeometryCollection {
                geometries: shapes.into_iter().map(Geometry::new).collect(),
            },
        };
        self.lines.extend(lines);
        self.features.push(Feature {
            geometry: Some(Geometry::new(value)),
            properties: properties.as_object().cloned(),
            ..Feature::default()
        });
    }

    /// Ends a track: makes fixes of its places, each with the time of the same number.
    fn walked(&mut self, file: u16, limits: &Limits) {
        let Some(track) = self.track.take() else {
            return;
        };
        for (number, (line, place)) in track.places.iter().enumerate() {
            let &Some((lon_deg, lat_deg, height_m)) = place else {
                self.batch.tally.add(LeftOut::NotANumber, file, *line);
                continue;
            };
            let mut record = Record::new(lat_deg, lon_deg, Source::Vertex, *line);
            record.height_m = height_m;
            record.stamp = track.times.get(number).copied().flatten();
            (record.track, record.segment) = (self.tracks, self.tracks);
            self.batch.take(record, file, limits);
        }
        self.tracks = self.tracks.saturating_add(1);
    }

    fn done(mut self, sheet: &Sheet<'_>, limits: &Limits) -> Result<Batch, Fault> {
        // A track that breaks off counts up to the break. A drawn outline that does is left out, as what is missing may be any part of it.
        self.walked(sheet.file, limits);
        // Beside a walk, drawn shapes other than marks are taken to be drawn from it.
        let walked = !self.batch.fixes.is_empty();
        let mut shapes = Shapes::new(std::mem::take(&mut self.lines));
        for feature in &self.features {
            shapes.feature(feature, self.ours);
        }
        geojson::taken(shapes, walked, sheet, self.batch)
    }
}
