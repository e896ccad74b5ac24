//! GeoJSON (RFC 7946): rings and lines become tracks, points become marks with the size that their properties give. Lines and points whose
//! properties have times are a walk. A result that this program wrote is known by its features, and gives the same lawn again. Shapes of
//! KML are read here as well.

use super::{Drawing, Sheet, Vertex};
use crate::fault::Fault;
use crate::fix::Source;
use crate::process::Accuracy;
use crate::read::Outline;
use crate::read::accuracy;
use crate::read::batch::{Batch, Limits};
use crate::read::record::Record;
use crate::read::stamp::Stamp;
use crate::ring::bridge::ring_of;
use geo::{LineString, Polygon};
use geojson::{Feature, GeoJson, GeometryValue, JsonObject, Position};
use serde_json::Value;
use std::collections::VecDeque;
use std::io::Read;

/// Reads one file.
pub(crate) fn read(
    from: &mut dyn Read,
    sheet: &Sheet<'_>,
    mut batch: Batch,
) -> Result<Batch, Fault> {
    let text = super::whole(from, &mut batch)?;
    let json: GeoJson = serde_json::from_str(&text).map_err(|e| broken(&e, &text))?;
    let mut shapes = Shapes::new(position_lines(&text));
    match json {
        GeoJson::Geometry(geometry) => shapes.geometry(&geometry.value, &[], 0),
        GeoJson::Feature(feature) => shapes.feature(&feature, false),
        GeoJson::FeatureCollection(all) => {
            // In a result that this program wrote, one feature is the lawn, and the others are drawn from it.
            let lawn = all.features.iter().find(|f| role(f) == Some("lawn"));
            let ours = lawn.is_some();
            batch.plane_height_m = lawn
                .and_then(|f| f.properties.as_ref()?.get("plane_height_m")?.as_f64())
                .filter(|m| m.is_finite());
            for feature in &all.features {
                shapes.feature(feature, ours);
            }
        }
    }
    taken(shapes, false, sheet, batch)
}

/// Puts all that was found into the batch. Where something was `walked`, drawn lines and rings are taken to be drawn from the walk and are
/// left out; marks stay.
pub(crate) fn taken(
    mut shapes: Shapes,
    mut walked: bool,
    sheet: &Sheet<'_>,
    mut batch: Batch,
) -> Result<Batch, Fault> {
    // Points with times are a walk where there is nothing else, and marks beside it where there is.
    if shapes.timed_lines == 0
        && (walked || !shapes.drawing.lines.is_empty() || shapes.timed.len() < FEWEST_TIMED)
    {
        shapes.drawing.points.append(&mut shapes.timed_points);
        shapes.timed.clear();
    }
    let limits = Limits {
        most_fixes: sheet.most_fixes,
        keep_all: sheet.keep_all,
    };
    for record in shapes.timed {
        walked = true;
        batch.take(record, sheet.file, &limits);
    }
    if walked {
        shapes.drawing.lines.clear();
    }
    shapes.drawing.walked = walked;
    shapes.drawing.into_batch(sheet, batch)
}

/// The fewest points with times that are a walk; fewer are marks.
const FEWEST_TIMED: usize = 4;

fn broken(e: &serde_json::Error, text: &str) -> Fault {
    let what = if text.contains("\"type\"") && e.is_data() {
        format!("The JSON is no GeoJSON ({e}).")
    } else if e.is_eof() {
        "The GeoJSON file breaks off before its end.".to_string()
    } else {
        format!("The file is no GeoJSON ({e}).")
    };
    let fault = Fault::unreadable("geojson-broken", what, "Export the outline again.");
    match e.line() {
        0 => fault,
        line => fault.at_line(line as u64),
    }
}

/// What a feature of a result that this program wrote is.
fn role(feature: &Feature) -> Option<&str> {
    feature.properties.as_ref()?.get("role")?.as_str()
}

/// The names of the lawns that a result of ours holds.
fn lawns(feature: &Feature) -> Option<VecDeque<String>> {
    let listed = feature.properties.as_ref()?.get("lawns")?.as_array();
    let names = listed.map(|all| {
        all.iter()
            .map(|lawn| lawn.get("label").and_then(|l| l.as_str()).unwrap_or(""))
            .map(str::to_owned)
            .collect()
    });
    Some(names.unwrap_or_default())
}

/// To join holes to an edge, every place of it is looked at for each hole. This many looks take some seconds, and no lawn needs as many;
/// where there would be more, holes are not joined.
const MOST_STEPS: usize = 100_000_000;

/// What was found in a drawing: walks, lines and rings, and lone points.
pub(crate) struct Shapes {
    drawing: Drawing,
    /// Positions with times: those of lines, or where there is no such line, of points. `timed_points` has the same points as marks, and
    /// `timed_lines` counts the lines.
    timed: Vec<Record>,
    timed_points: Vec<(Vertex, Vec<String>)>,
    timed_lines: u16,
    lines: std::vec::IntoIter<u32>,
    /// Of a result that this program wrote: the names of its lawns in the order of their polygons, where there are as many; else no names.
    lawns: Option<VecDeque<String>>,
    /// Whether the polygons of a result of ours are not one for each lawn, so that one may lie in the hole of another.
    islands: bool,
}

impl Shapes {
    /// `lines` are the line numbers of the positions, in the order in which these come.
    pub(crate) fn new(lines: Vec<u32>) -> Shapes {
        Shapes {
            drawing: Drawing::default(),
            timed: Vec::new(),
            timed_points: Vec::new(),
            timed_lines: 0,
            lines: lines.into_iter(),
            lawns: None,
            islands: false,
        }
    }

    /// Takes a feature. In a result that this program wrote (`ours`) only the feature of the lawn counts.
    pub(crate) fn feature(&mut self, feature: &Feature, ours: bool) {
        let texts = feature.properties.as_ref().map(texts).unwrap_or_default();
        let before = self.drawing.clone_sizes();
        self.lawns = if ours { lawns(feature) } else { None };
        let properties = feature.properties.as_ref();
        if let Some(geometry) = &feature.geometry
            && !properties.is_some_and(|said| self.walked(&geometry.value, said, &texts))
        {
            self.geometry(&geometry.value, &texts, 0);
        }
        if ours && role(feature) != Some("lawn") {
            self.drawing.cut_back(before);
        }
    }

    /// Takes a line whose properties have a time for each place, or a point with a time; gives `false`, and takes nothing, where it is
    /// neither.
    fn walked(&mut self, value: &GeometryValue, said: &JsonObject, texts: &[String]) -> bool {
        let parts = match value {
            GeometryValue::LineString { coordinates } => std::slice::from_ref(coordinates),
            GeometryValue::MultiLineString { coordinates } => coordinates.as_slice(),
            GeometryValue::Point { coordinates } => {
                let Some(stamp) = POINT_TIMES.iter().find_map(|key| stamp(said.get(*key)?)) else {
                    return false;
                };
                let Some(vertex) = self.vertex(coordinates) else {
                    return true;
                };
                let mut record = timed(vertex, Some(stamp));
                if let Some((kind, figure_m)) = stated_m(said) {
                    record.state(kind, [figure_m; 2]);
                }
                self.timed_points.push((vertex, texts.to_vec()));
                self.timed.push(record);
                return true;
            }
            _ => return false,
        };
        let Some(times) = times(said) else {
            return false;
        };
        // A line has one list of times; several lines have a list of lists.
        let lists: Vec<&[Value]> = match times.first() {
            Some(Value::Array(_)) => times
                .iter()
                .filter_map(|t| Some(t.as_array()?.as_slice()))
                .collect(),
            _ => vec![times.as_slice()],
        };
        let as_many =
            lists.len() == parts.len() && lists.iter().zip(parts).all(|(l, p)| l.len() == p.len());
        if !as_many {
            return false;
        }
        if self.timed_lines == 0 {
            self.drawing.points.append(&mut self.timed_points);
            self.timed.clear();
        }
        for (list, part) in lists.iter().zip(parts) {
            for (time, place) in list.iter().zip(part) {
                if let Some(vertex) = self.vertex(place) {
                    let mut record = timed(vertex, stamp(time));
                    (record.track, record.segment) = (self.timed_lines, self.timed_lines);
                    self.timed.push(record);
                }
            }
            self.timed_lines = self.timed_lines.saturating_add(1);
        }
        true
    }

    /// Takes any geometry. `depth` counts collections within collections, which RFC 7946 advises against; deeper ones than 16 are left out.
    fn geometry(&mut self, value: &GeometryValue, texts: &[String], depth: usize) {
        match value {
            GeometryValue::Point { coordinates } => self.point(coordinates, texts),
            GeometryValue::MultiPoint { coordinates } => {
                for position in coordinates {
                    self.point(position, texts);
                }
            }
            GeometryValue::LineString { coordinates } => {
                self.line(coordinates, Some(Outline::Line));
            }
            GeometryValue::MultiLineString { coordinates } => {
                for line in coordinates {
                    self.line(line, Some(Outline::Line));
                }
            }
            GeometryValue::Polygon { coordinates } => self.polygon(coordinates),
            GeometryValue::MultiPolygon { coordinates } => {
                let holes = coordinates.iter().any(|polygon| polygon.len() > 1);
                let as_many = self.lawns.as_ref().map(VecDeque::len) == Some(coordinates.len());
                self.islands = holes && coordinates.len() > 1 && !as_many;
                if let Some(labels) = self.lawns.as_mut().filter(|_| !as_many) {
                    labels.clear();
                }
                for polygon in coordinates {
                    self.polygon(polygon);
                }
                self.islands = false;
            }
            GeometryValue::GeometryCollection { geometries } if depth < 16 => {
                for geometry in geometries {
                    self.geometry(&geometry.value, texts, depth + 1);
                }
            }
            GeometryValue::GeometryCollection { .. } => {}
        }
    }

    fn vertex(&mut self, position: &Position) -> Option<Vertex> {
        let line = self.lines.next().unwrap_or(1);
        let numbers = position.as_slice();
        Some(Vertex {
            x: *numbers.first()?,
            y: *numbers.get(1)?,
            z: numbers.get(2).copied(),
            line,
        })
    }

    fn point(&mut self, position: &Position, texts: &[String]) {
        if let Some(vertex) = self.vertex(position) {
            self.drawing.points.push((vertex, texts.to_vec()));
        }
    }

    /// The first ring is the outer one, the others are holes (RFC 7946, 3.1.6).
    fn polygon(&mut self, rings: &[Vec<Position>]) {
        let places: usize = rings.iter().map(Vec::len).sum();
        if self.islands && places.saturating_mul(rings.len()) <= MOST_STEPS {
            return self.in_one_ring(rings);
        }
        for (number, ring) in rings.iter().enumerate() {
            let outline = match (&mut self.lawns, number) {
                (Some(labels), 0) => Some(Outline::Lawn(labels.pop_front().unwrap_or_default())),
                (None, 0) => None,
                _ => Some(Outline::TakenOff(String::new())),
            };
            self.line(ring, outline);
        }
    }

    /// Takes a polygon of a result of ours that may lie in the hole of another. A hole is to be taken off its own polygon only, so the
    /// holes are joined to the edge and make one ring with it.
    fn in_one_ring(&mut self, rings: &[Vec<Position>]) {
        let mut line = 1;
        let mut lines: Vec<LineString<f64>> = Vec::with_capacity(rings.len());
        for ring in rings {
            let vertices = ring.iter().filter_map(|position| self.vertex(position));
            let vertices: Vec<Vertex> = vertices.collect();
            line = vertices.first().map_or(line, |v| v.line);
            lines.push(vertices.iter().map(|v| (v.x, v.y)).collect());
        }
        if lines.is_empty() {
            return;
        }
        let outer = lines.remove(0);
        let ring = ring_of(&Polygon::new(outer, lines));
        let ring: Vec<Vertex> = ring
            .iter()
            .map(|at| Vertex {
                x: at.x,
                y: at.y,
                z: None,
                line,
            })
            .collect();
        let outline = Some(Outline::Lawn(String::new()));
        self.drawing.lines.push((ring, outline));
    }

    fn line(&mut self, positions: &[Position], outline: Option<Outline>) {
        let mut ring = Vec::with_capacity(positions.len());
        for position in positions {
            ring.extend(self.vertex(position));
        }
        if !ring.is_empty() {
            self.drawing.lines.push((ring, outline));
        }
    }
}

impl Drawing {
    fn clone_sizes(&self) -> (usize, usize) {
        (self.lines.len(), self.points.len())
    }

    fn cut_back(&mut self, (lines, points): (usize, usize)) {
        self.lines.truncate(lines);
        self.points.truncate(points);
    }
}

/// Names under which the properties of a point may have its time.
const POINT_TIMES: [&str; 4] = ["time", "timestamp", "datetime", "date_time"];

/// The times of a line's places: `coordTimes`, or `coordinateProperties.times` (both common practice, no standard).
fn times(said: &JsonObject) -> Option<&Vec<Value>> {
    let nested = || said.get("coordinateProperties")?.get("times");
    said.get("coordTimes")
        .or_else(nested)
        .or_else(|| said.get("times"))?
        .as_array()
}

fn stamp(value: &Value) -> Option<Stamp> {
    match value {
        Value::String(text) => Stamp::parse(text.as_bytes()),
        Value::Number(number) => Stamp::parse(number.to_string().as_bytes()),
        _ => None,
    }
}

/// An accuracy among the properties, metres, and its kind; of several the one of the first kind in the order of [`Accuracy`].
fn stated_m(said: &JsonObject) -> Option<(Accuracy, f32)> {
    let stated =
        |(key, value): (&String, &Value)| Some((accuracy::kind(key)?, value.as_f64()? as f32));
    let least = |a: &(Accuracy, f32), b: &(Accuracy, f32)| a.0.cmp(&b.0);
    said.iter().filter_map(stated).min_by(least)
}

fn timed(vertex: Vertex, stamp: Option<Stamp>) -> Record {
    let mut record = Record::new(vertex.y, vertex.x, Source::Vertex, vertex.line);
    record.height_m = vertex.z;
    record.stamp = stamp;
    record
}

/// A feature's texts, its name first. A number under `radius` or `diameter` is written out as a text, so that it is read like one.
fn texts(properties: &JsonObject) -> Vec<String> {
    let mut texts = Vec::new();
    for key in [
        "name",
        "label",
        "title",
        "cmt",
        "desc",
        "description",
        "note",
    ] {
        if let Some(text) = properties.get(key).and_then(|v| v.as_str()) {
            texts.push(text.to_string());
        }
    }
    for (key, word) in [
        ("radius_m", "radius"),
        ("radius", "radius"),
        ("diameter_m", "diameter"),
        ("diameter", "diameter"),
    ] {
        match properties.get(key) {
            Some(serde_json::Value::Number(n)) => texts.push(format!("{word} = {n}")),
            Some(serde_json::Value::String(s)) if !s.trim().is_empty() => {
                texts.push(format!("{word} = {s}"));
            }
            _ => {}
        }
    }
    texts
}

/// The line of each innermost array of two or more numbers within `"coordinates"`, in the order of the text.
fn position_lines(text: &str) -> Vec<u32> {
    let mut lines = Vec::new();
    let mut line = 1u32;
    let mut rest = text;
    while let Some(at) = rest.find("\"coordinates\"") {
        let (before, after) = rest.split_at(at);
        line = line.saturating_add(newlines(before));
        let mut depth = 0i32;
        let mut open: Option<(u32, usize)> = None;
        let mut used = after.len();
        for (i, b) in after.bytes().enumerate().skip("\"coordinates\"".len()) {
            match b {
                b'\n' => line = line.saturating_add(1),
                b'[' => {
                    depth += 1;
                    open = Some((line, 0));
                }
                b',' => {
                    if let Some((_, commas)) = &mut open {
                        *commas += 1;
                    }
                }
                b']' => {
                    if let Some((on, commas)) = open.take()
                        && commas > 0
                    {
                        lines.push(on);
                    }
                    depth -= 1;
                    if depth <= 0 {
                        used = i;
                        break;
                    }
                }
                b':' | b' ' | b'\t' | b'\r' => {}
                b'0'..=b'9' | b'.' | b'-' | b'+' | b'e' | b'E' if depth > 0 => {}
                _ => {
                    used = i;
                    break;
                }
            }
        }
        rest = after.get(used.max(1)..).unwrap_or("");
    }
    lines
}

fn newlines(text: &str) -> u32 {
    u32::try_from(memchr::memchr_iter(b'\n', text.as_bytes()).count()).unwrap_or(u32::MAX)
}
