//! GPX 1.0 and 1.1, and what programs write under that name: tracks, routes where there is no track, and waypoints as marks. TCX, whose points
//! differ in the names of their elements, is read by the same code.
//!
//! The file is read as a stream, in bounded memory. Elements are known by their local name alone (without a prefix such as `gpx:`), so that
//! undeclared prefixes do no harm; entities that a file defines itself are never expanded; and a file that breaks off keeps all before the
//! break.

pub(crate) mod own;
mod point;
pub(super) mod quick;

use crate::fix::{Fix, Quality, Source};
use crate::left_out::LeftOut;
use crate::mark::Mark;
use crate::notice::Notice;
use crate::read::Outline;
use crate::read::batch::{Batch, Limits};
use crate::read::lines::{self, Lines};
use crate::read::marks::radius_m;
use point::{Field, Point, Sort, coordinates, field};
use quick_xml::Reader;
use quick_xml::errors::Error;
use quick_xml::events::{BytesStart, Event};
use std::io::Read;

/// The most text that is kept of one element, bytes; names and comments are shorter.
const TEXT: usize = 4096;
/// Number of faults in the XML after which the rest of the file is given up.
const MOST_FAULTS: u32 = 1000;
/// The most elements that may be open within each other, and the most bytes of a name. The parser keeps the names of all that are open, which
/// is 26 MB at most with these. A file that never closes its points may still hold a day of them.
const DEEPEST: usize = 100_000;
const LONGEST_NAME: usize = 255;

/// Reads one file.
pub(crate) fn read(from: &mut dyn Read, file: u16, limits: &Limits) -> Batch {
    let mut xml = lenient(from);
    let mut walk = Walk::new(file, limits.keep_all);
    let mut buffer = Vec::new();
    let mut faults = 0;
    let mut broken_at = None;
    let mut depth = 0usize;
    loop {
        buffer.clear();
        xml.get_mut().begin();
        let event = xml.read_event_into(&mut buffer);
        let between = matches!(event, Ok(Event::Start(_) | Event::Empty(_) | Event::End(_)));
        // An element stands on the line where it begins.
        let mut line = || xml.get_mut().began_line();
        match event {
            Ok(Event::Eof) => break,
            Ok(Event::Start(tag)) => {
                depth += 1;
                if depth > DEEPEST || tag.name().as_ref().len() > LONGEST_NAME {
                    let line = line();
                    walk.batch.tally.add(LeftOut::BadXml, file, line);
                    broken_at = Some((line, "elements without end within each other".to_string()));
                    break;
                }
                walk.start(&tag, &mut line);
            }
            Ok(Event::Empty(tag)) => {
                walk.start(&tag, &mut line);
                walk.end(tag.local_name().as_ref(), &mut line);
            }
            Ok(Event::End(tag)) => {
                depth = depth.saturating_sub(1);
                walk.end(tag.local_name().as_ref(), &mut line);
            }
            Ok(Event::Text(text)) if walk.field.is_some() => walk.text(&text.into_inner()),
            Ok(Event::CData(text)) if walk.field.is_some() => walk.text(&text.into_inner()),
            Ok(Event::GeneralRef(name)) if walk.field.is_some() => walk.reference(&name),
            Ok(_) => {}
            Err(Error::IllFormed(_)) if faults < MOST_FAULTS => {
                faults += 1;
                walk.batch.tally.add(LeftOut::BadXml, file, line());
            }
            Err(e) => {
                walk.batch.tally.add(LeftOut::BadXml, file, line());
                broken_at = Some((line(), why(&e)));
                break;
            }
        }
        // After a tag the parser holds no text of its own: whole points may be taken from the buffer without it, which is quicker.
        if between {
            while walk.batch.fixes.len() < limits.most_fixes && walk.quickly(xml.get_mut()) {}
        }
        if walk.batch.fixes.len() >= limits.most_fixes {
            walk.batch.stopped = true;
            break;
        }
    }
    walk.batch.lines = xml.get_mut().lines();
    walk.done(broken_at)
}

/// A reader of XML that goes on where tags do not match.
fn lenient(from: &mut dyn Read) -> Reader<Lines<'_>> {
    let mut xml = Reader::from_reader(Lines::new(from, lines::LONGEST));
    let config = xml.config_mut();
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    config.allow_dangling_amp = true;
    xml
}

fn why(e: &Error) -> String {
    match e {
        Error::Io(e) => e.to_string(),
        Error::Syntax(e) => e.to_string(),
        Error::IllFormed(_) => "too many faults in the XML".to_string(),
        other => other.to_string(),
    }
}

/// What is known of the file while it is read.
struct Walk {
    file: u16,
    batch: Batch,
    routes: Vec<Fix>,
    point: Option<Point>,
    field: Option<Field>,
    text: String,
    in_extensions: bool,
    /// How many elements that matter are open; more than 0 at the end of the file means that it broke off.
    open: i32,
    track: Option<u16>,
    segment: u16,
    new_track: bool,
    new_segment: bool,
    swapped: u64,
    track_points: u64,
    route_points: u64,
    waypoints: u64,
    keep_all: bool,
    /// Not `None` where the file is a sheet of ours, whose tracks and waypoints say what they are.
    own: Option<Own>,
}

/// What is read of a file that this program wrote, beside its points.
#[derive(Debug, Default)]
struct Own {
    /// Name and type of the track being read.
    name: String,
    kind: String,
    /// Type of the waypoint being read.
    mark: String,
}

impl Walk {
    fn new(file: u16, keep_all: bool) -> Walk {
        Walk {
            file,
            batch: Batch::default(),
            routes: Vec::new(),
            point: None,
            field: None,
            text: String::new(),
            in_extensions: false,
            open: 0,
            track: None,
            segment: 0,
            new_track: true,
            new_segment: false,
            swapped: 0,
            track_points: 0,
            route_points: 0,
            waypoints: 0,
            keep_all,
            own: None,
        }
    }

    /// `line` works out the line on which the tag stands.
    fn start(&mut self, tag: &BytesStart<'_>, line: &mut dyn FnMut() -> u32) {
        let local = tag.local_name();
        let name: &[u8] = local.as_ref().as_bytes();
        match name {
            b"trkpt" | b"Trackpoint" => self.begin(Sort::Track, tag, line()),
            b"rtept" => self.begin(Sort::Route, tag, line()),
            b"wpt" => self.begin(Sort::Waypoint, tag, line()),
            b"trk" | b"rte" | b"Activity" | b"Course" => {
                self.finish();
                self.new_track = true;
                self.open += 1;
                if let Some(own) = &mut self.own {
                    *own = Own::default();
                }
            }
            b"trkseg" => {
                self.finish();
                self.new_segment = true;
                self.open += 1;
            }
            b"gpx" => {
                self.open += 1;
                let ours = tag
                    .try_get_attribute("creator")
                    .ok()
                    .flatten()
                    .is_some_and(|creator| creator.value.starts_with(own::CREATED));
                self.own = ours.then(Own::default);
            }
            b"extensions" => self.in_extensions = true,
            _ if self.point.is_some() => {
                self.field = field(name, self.in_extensions);
                if self.own.is_some() && name == b"type" {
                    self.field = Some(Field::Type);
                }
                self.text.clear();
            }
            _ if self.own.is_some() => {
                self.field = match name {
                    b"name" => Some(Field::Name),
                    b"type" => Some(Field::Type),
                    b"keywords" => Some(Field::Keywords),
                    _ => None,
                };
                self.text.clear();
            }
            _ => {}
        }
    }

    fn begin(&mut self, sort: Sort, tag: &BytesStart<'_>, line: u32) {
        self.finish();
        self.in_extensions = false;
        self.open += 1;
        let (lat, lon) = coordinates(tag.attributes_raw());
        self.point = Some(Point::new(sort, lat, lon, line));
    }

    /// Takes the track point that comes next, if it is written so plainly that [`quick`] can read it without the parser.
    fn quickly(&mut self, lines: &mut Lines<'_>) -> bool {
        if self.point.is_some() {
            return false;
        }
        let Some(found) = quick::point(lines.ahead()) else {
            return false;
        };
        let line = lines.line_ahead() + u64::from(found.lines_before);
        lines.take(found.bytes, found.lines_before + found.lines_within);
        self.in_extensions = false;
        let mut point = found.point;
        point.line = u32::try_from(line).unwrap_or(u32::MAX);
        self.place(&point);
        true
    }

    fn text(&mut self, text: &str) {
        if self.text.len() + text.len() <= TEXT {
            self.text.push_str(text);
        }
    }

    /// Puts in the character of one of XML's five own entities, or of a character by number. Other entities are kept as they are written.
    fn reference(&mut self, name: &quick_xml::events::BytesRef<'_>) {
        if let Ok(Some(c)) = name.resolve_char_ref() {
            self.text(c.encode_utf8(&mut [0; 4]));
            return;
        }
        let name = name.clone().into_inner();
        match name.as_ref() {
            "amp" => self.text("&"),
            "lt" => self.text("<"),
            "gt" => self.text(">"),
            "quot" => self.text("\""),
            "apos" => self.text("'"),
            other => {
                let kept = format!("&{other};");
                self.text(&kept);
            }
        }
    }

    fn end(&mut self, name: &str, line: &mut dyn FnMut() -> u32) {
        match name.as_bytes() {
            b"trkpt" | b"rtept" | b"wpt" | b"Trackpoint" => {
                self.open -= 1;
                self.finish();
            }
            b"trk" | b"rte" | b"trkseg" | b"gpx" | b"Activity" | b"Course" => {
                self.open -= 1;
                self.finish();
            }
            b"extensions" => self.in_extensions = false,
            _ => {}
        }
        let Some(field) = self.field.take() else {
            return;
        };
        if let Some(own) = &mut self.own {
            let text = self.text.trim();
            match (field, &self.point) {
                (Field::Type, None) => own.kind = text.to_string(),
                (Field::Type, Some(_)) => own.mark = text.to_string(),
                (Field::Name, None) => own.name = text.to_string(),
                (Field::Keywords, None) => self.batch.plane_height_m = own::height_of_m(text),
                _ => {}
            }
        }
        let Some(point) = &mut self.point else { return };
        if !point.set(field, self.text.trim()) {
            self.batch.tally.add(LeftOut::BadTime, self.file, line());
        }
    }

    /// Takes the point that was being read, if any.
    fn finish(&mut self) {
        self.field = None;
        if let Some(point) = self.point.take() {
            self.place(&point);
        }
    }

    /// Checks a point that is complete, and makes a fix or a mark of it. One that cannot be used is counted by its reason.
    fn place(&mut self, point: &Point) {
        let (Some(lat), Some(lon)) = (point.lat, point.lon) else {
            self.batch
                .tally
                .add(LeftOut::NotANumber, self.file, point.line);
            return;
        };
        if !(lat.abs() <= 90.0 && lon.abs() <= 180.0) {
            if lat.abs() <= 180.0 && lon.abs() <= 90.0 {
                self.swapped += 1;
            }
            self.batch
                .tally
                .add(LeftOut::BadPosition, self.file, point.line);
            return;
        }
        let lon = if lon >= 180.0 { lon - 360.0 } else { lon };
        match point.sort {
            Sort::Track => self.track_points += 1,
            Sort::Route => self.route_points += 1,
            Sort::Waypoint => self.waypoints += 1,
        }
        if point.sort == Sort::Waypoint {
            self.mark(point, lat, lon);
            return;
        }
        if point.quality == Quality::NoFix {
            self.batch.tally.add(LeftOut::Void, self.file, point.line);
            if !self.keep_all {
                return;
            }
        }
        if self.new_track || (point.sort == Sort::Track && self.new_segment) {
            self.begin_stretch();
        }
        self.batch.accuracies.extend(point.accuracy.map(|a| a.0));
        let source = match point.sort {
            // A track that this program wrote is a drawn outline, whatever it was drawn from, and not a walk.
            Sort::Track if self.own.is_some() => Source::Point,
            Sort::Track => Source::Trkpt,
            _ => Source::Rtept,
        };
        let fix = Fix {
            track: self.track.unwrap_or(0),
            segment: self.segment,
            ..point.fix(lat, lon, source, self.file)
        };
        match point.sort {
            Sort::Track => self.batch.fixes.push(fix),
            _ => self.routes.push(fix),
        }
    }

    /// Numbers the track or segment that the next point begins.
    fn begin_stretch(&mut self) {
        self.segment += u16::from(self.track.is_some());
        if self.new_track {
            let track = self.track.map_or(0, |t| t.saturating_add(1));
            self.track = Some(track);
            if let Some(own) = &self.own {
                let label = own.name.clone();
                let outline = match own.kind.as_str() {
                    own::TAKEN_OFF => Outline::TakenOff(label),
                    _ => Outline::Lawn(label),
                };
                self.batch.outlines.insert(track, outline);
            }
        }
        (self.new_track, self.new_segment) = (false, false);
    }

    fn mark(&mut self, point: &Point, lat_deg: f64, lon_deg: f64) {
        let [name, comment, description] = &point.texts;
        if let Some(own) = &mut self.own {
            // A corner is on the edge already, and what was taken off and is no circle has a track of its own.
            let kind = std::mem::take(&mut own.mark);
            if kind == own::CORNER || (kind == own::TAKEN_OFF && radius_m(description).is_none()) {
                return;
            }
        }
        let mut texts: Vec<&str> = Vec::new();
        for text in [name, comment, description] {
            if !text.is_empty() && !texts.contains(&text.as_str()) {
                texts.push(text);
            }
        }
        self.batch.marks.push(Mark {
            label: if name.is_empty() {
                format!("waypoint {}", self.batch.marks.len() + 1)
            } else {
                name.clone()
            },
            lat_deg,
            lon_deg,
            radius_m: texts.iter().find_map(|text| radius_m(text)),
            text: texts.join("; "),
            clock_s: point.stamp.map(|s| s.tod_s),
            file: self.file,
            line: point.line,
        });
    }

    /// Ends the reading. `broken_at` is the line at which the file broke off, and why; `None` where the parser met no fault.
    fn done(mut self, mut broken_at: Option<(u32, String)>) -> Batch {
        // A point that the break cut through has lost its time or accuracy: it isn't used.
        if broken_at.is_none() && !self.batch.stopped {
            if self.open > 0 {
                let last = u32::try_from(self.batch.lines.max(1)).unwrap_or(u32::MAX);
                broken_at = Some((last, "the file ends inside an element".to_string()));
            } else {
                self.finish();
            }
        }
        if let Some((line, why)) = broken_at {
            self.batch.warnings.push(Notice::XmlBroken { line, why });
        }
        if self.batch.fixes.is_empty() && !self.routes.is_empty() {
            self.batch.fixes = std::mem::take(&mut self.routes);
            self.batch.warnings.push(Notice::RouteUsed {});
        }
        if self.swapped > 0 && self.batch.fixes.is_empty() {
            self.batch.swapped = self.swapped;
        }
        for (name, count) in [
            ("trkpt", self.track_points),
            ("rtept", self.route_points),
            ("wpt", self.waypoints),
        ] {
            if count > 0 {
                self.batch.sentences.insert(name.to_string(), count);
            }
        }
        self.batch
    }
}
