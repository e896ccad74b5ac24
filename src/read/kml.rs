//! KML 2.2 (OGC 07-147r2): what is drawn as in GeoJSON, and tracks with their times (`gx:Track`, of the same standard's
//! extension namespace). Altitude modes are passed over: only the ground counts.

use crate::fault::Fault;
use crate::fix::Source;
use crate::read::batch::{Batch, Limits};
use crate::read::lines::Lines;
use crate::read::points::Sheet;
use crate::read::points::geojson::{self, Shapes};
use crate::read::record::Record;
use crate::read::stamp::Stamp;
use crate::read::tally::Reason;
use ::geojson::{Feature, Geometry, GeometryValue, Position};
use quick_xml::Reader;
use quick_xml::events::Event;
use serde_json::json;
use std::io::Read;

/// The description of a document that this program writes.
pub(crate) const OWN: &str = "Not a survey of legal boundaries or levels.";
/// Of its placemarks, those that are lawns.
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
    let mut xml = Reader::from_reader(Lines::new(from));
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
                document.batch.tally.add(Reason::BadXml, sheet.file, line);
                broken = Some((line, error.to_string()));
                break;
            }
        }
        if document.batch.fixes.len() >= limits.most_fixes {
            document.batch.stopped = true;
            break;
        }
    }
    document.batch.lines = xml.get_mut().lines();
    if let Some((line, why)) = broken {
        let what = crate::notice::Notice::XmlBroken { line, why };
        document.batch.warnings.push(what);
    }
    document.done(sheet)
}

#[derive(Default)]
struct Document {
    batch: Batch,
    text: String,
    text_line: u32,
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

#[derive(Default)]
struct Placemark {
    name: String,
    description: String,
    style: String,
    shapes: Vec<GeometryValue>,
    lines: Vec<u32>,
}

#[derive(Default)]
struct Track {
    times: Vec<Option<Stamp>>,
    places: Vec<(u32, Vec<f64>)>,
}

impl Document {
    fn start(&mut self, name: &str, line: u32) {
        self.text.clear();
        self.text_line = line;
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
            "when" => {
                if let Some(track) = &mut self.track {
                    track.times.push(Stamp::parse(text.as_bytes()));
                }
            }
            "coord" => {
                if let Some(track) = &mut self.track {
                    let numbers = text.split_ascii_whitespace().map_while(|n| n.parse().ok());
                    track.places.push((self.text_line, numbers.collect()));
                }
            }
            "Track" => self.walked(file, limits),
            "Placemark" => self.placed(),
            _ => {}
        }
    }

    /// Longitude, latitude and perhaps height with commas between, places with space between.
    fn coordinates(&mut self, text: &str, file: u16) {
        let mut places: Vec<Position> = Vec::new();
        for place in text.split_ascii_whitespace() {
            let numbers: Vec<f64> = place
                .split(',')
                .map_while(|n| n.trim().parse().ok())
                .collect();
            match numbers.len() {
                0 | 1 => self
                    .batch
                    .tally
                    .add(Reason::NotANumber, file, self.text_line),
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

    /// What coordinates outside of a polygon are.
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

    fn walked(&mut self, file: u16, limits: &Limits) {
        let Some(track) = self.track.take() else {
            return;
        };
        for (number, (line, place)) in track.places.iter().enumerate() {
            let &[lon_deg, lat_deg, ref rest @ ..] = place.as_slice() else {
                self.batch.tally.add(Reason::NotANumber, file, *line);
                continue;
            };
            let mut record = Record::new(lat_deg, lon_deg, Source::Vertex, *line);
            record.height_m = rest.first().copied();
            record.stamp = track.times.get(number).copied().flatten();
            (record.track, record.segment) = (self.tracks, self.tracks);
            self.batch.take(record, file, limits);
        }
        self.tracks = self.tracks.saturating_add(1);
    }

    fn done(mut self, sheet: &Sheet<'_>) -> Result<Batch, Fault> {
        // What is drawn beside a walk is drawn from it, but for marks.
        let walked = !self.batch.fixes.is_empty();
        let mut shapes = Shapes::new(std::mem::take(&mut self.lines));
        for feature in &self.features {
            shapes.feature(feature, self.ours);
        }
        geojson::taken(shapes, walked, sheet, self.batch)
    }
}
