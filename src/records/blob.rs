//! Geometries as a GeoPackage stores them: a header with the envelope (the rectangle round the shape), then Well-Known Binary (WKB, a
//! standard form of a shape as numbers). What is read may come from another program, so nothing in it is relied upon.
//!
//! # References
//! OGC 12-128r19, GeoPackage Encoding Standard 1.4, clause 2.1.3 "Geometry Encoding"; OGC 06-103r4, Simple Feature
//! Access, clause 8.2 "Well-known Binary Representation".

use geo::{Coord, LineString, Polygon};
use geojson::GeometryValue;

/// The reference system: longitude and latitude on WGS 84 (EPSG 4326). In WKB x, the longitude, comes first, whatever the reference system
/// itself says.
const SRS: i32 = 4326;

/// "GP", version 1 (written as 0), then flags: standard binary, not empty, an envelope of x and y, little endian.
const HEADER: [u8; 4] = [b'G', b'P', 0, 0b0000_0011];
/// How many bytes stand before the WKB: those above, the reference system, and the four numbers of the envelope.
const BEFORE_WKB: usize = 4 + 4 + 4 * 8;

// The mark of the byte order and the numbers of the kinds of geometry in WKB.
const LITTLE_ENDIAN: u8 = 1;
const LINE_STRING: u32 = 2;
const POLYGON: u32 = 3;
const MULTI_LINE_STRING: u32 = 5;
const MULTI_POLYGON: u32 = 6;

/// The rectangle round a shape, degrees: west, east, south, north, in the order of the header.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Envelope {
    pub min_x: f64,
    pub max_x: f64,
    pub min_y: f64,
    pub max_y: f64,
}

impl Envelope {
    /// The envelope of nothing, which grows with every place taken in.
    const NOTHING: Envelope = Envelope {
        min_x: f64::INFINITY,
        max_x: f64::NEG_INFINITY,
        min_y: f64::INFINITY,
        max_y: f64::NEG_INFINITY,
    };

    fn take_in(&mut self, x: f64, y: f64) {
        self.min_x = self.min_x.min(x);
        self.max_x = self.max_x.max(x);
        self.min_y = self.min_y.min(y);
        self.max_y = self.max_y.max(y);
    }

    /// The smallest envelope that holds both.
    pub(crate) fn with(self, other: Envelope) -> Envelope {
        let mut both = self;
        both.take_in(other.min_x, other.min_y);
        both.take_in(other.max_x, other.max_y);
        both
    }
}

/// A geometry ready to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct Blob {
    pub bytes: Vec<u8>,
    pub envelope: Envelope,
}

/// Lines as one stored MultiLineString; `None` for any other geometry and for one without places.
pub(crate) fn encode_lines(geometry: &GeometryValue) -> Option<Blob> {
    let mut wkb = Vec::new();
    let mut envelope = Envelope::NOTHING;
    let all = match geometry {
        GeometryValue::LineString { coordinates } => std::slice::from_ref(coordinates),
        GeometryValue::MultiLineString { coordinates } => coordinates,
        _ => return None,
    };
    start(MULTI_LINE_STRING, all.len(), &mut wkb)?;
    for line in all {
        wkb.push(LITTLE_ENDIAN);
        wkb.extend(LINE_STRING.to_le_bytes());
        let ends = line
            .iter()
            .map(|place| place.as_slice().first_chunk::<2>().copied());
        places(ends, &mut wkb, &mut envelope)?;
    }
    whole(&wkb, envelope)
}

/// Polygons as one stored MultiPolygon, not rounded, since rounding could make an edge cross itself. `None` where there is nothing to
/// store.
pub(crate) fn encode_polygons(polygons: &[Polygon<f64>]) -> Option<Blob> {
    let mut wkb = Vec::new();
    let mut envelope = Envelope::NOTHING;
    start(MULTI_POLYGON, polygons.len(), &mut wkb)?;
    for polygon in polygons {
        start(POLYGON, 1 + polygon.interiors().len(), &mut wkb)?;
        for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
            let ends = ring.0.iter().map(|at| Some([at.x, at.y]));
            places(ends, &mut wkb, &mut envelope)?;
        }
    }
    whole(&wkb, envelope)
}

/// Polygons as plain WKB, without the header.
#[must_use]
#[cfg(feature = "day")]
pub(crate) fn wkb(polygons: &[Polygon<f64>]) -> Option<Vec<u8>> {
    let blob = encode_polygons(polygons)?;
    blob.bytes.get(BEFORE_WKB..).map(<[u8]>::to_vec)
}

/// The header and the WKB together; `None` where the envelope is not finite.
fn whole(wkb: &[u8], envelope: Envelope) -> Option<Blob> {
    if !(envelope.min_x.is_finite() && envelope.max_y.is_finite()) {
        return None;
    }
    let mut bytes = Vec::with_capacity(BEFORE_WKB + wkb.len());
    bytes.extend(HEADER);
    bytes.extend(SRS.to_le_bytes());
    for value in [
        envelope.min_x,
        envelope.max_x,
        envelope.min_y,
        envelope.max_y,
    ] {
        bytes.extend(value.to_le_bytes());
    }
    bytes.extend(wkb);
    Some(Blob { bytes, envelope })
}

/// Writes how a geometry of this kind with so many parts begins.
fn start(kind: u32, count: usize, wkb: &mut Vec<u8>) -> Option<()> {
    wkb.push(LITTLE_ENDIAN);
    wkb.extend(kind.to_le_bytes());
    wkb.extend(u32::try_from(count).ok()?.to_le_bytes());
    Some(())
}

/// Writes a list of places and takes them into the envelope; `None` where one has fewer than two numbers.
fn places(
    line: impl ExactSizeIterator<Item = Option<[f64; 2]>>,
    wkb: &mut Vec<u8>,
    envelope: &mut Envelope,
) -> Option<()> {
    wkb.extend(u32::try_from(line.len()).ok()?.to_le_bytes());
    for place in line {
        let [x, y] = place?;
        wkb.extend(x.to_le_bytes());
        wkb.extend(y.to_le_bytes());
        envelope.take_in(x, y);
    }
    Some(())
}

/// The envelope in a stored geometry's header, whichever program wrote it; `None` where the geometry is empty or has none, or where this is
/// no geometry.
pub(crate) fn envelope(blob: &[u8]) -> Option<Envelope> {
    let flags = *blob.get(3)?;
    let kind = (flags >> 1) & 0b111;
    if !blob.starts_with(b"GP") || is_empty(blob)? || kind == 0 || kind > 4 {
        return None;
    }
    let little = flags & 1 == 1;
    let number = |at: usize| -> Option<f64> {
        let bytes: [u8; 8] = blob.get(8 + 8 * at..16 + 8 * at)?.try_into().ok()?;
        Some(if little {
            f64::from_le_bytes(bytes)
        } else {
            f64::from_be_bytes(bytes)
        })
    };
    Some(Envelope {
        min_x: number(0)?,
        max_x: number(1)?,
        min_y: number(2)?,
        max_y: number(3)?,
    })
}

/// Whether the header says that the geometry is empty; `None` where this is no geometry.
pub(crate) fn is_empty(blob: &[u8]) -> Option<bool> {
    (blob.starts_with(b"GP") && blob.len() >= 8)
        .then(|| blob.get(3).is_some_and(|flags| flags & 0b0001_0000 != 0))
}

/// The polygons of a stored MultiPolygon in the form that this program writes, as longitude and latitude; `None` for anything else.
pub(crate) fn decode_polygons(blob: &[u8]) -> Option<Vec<Polygon<f64>>> {
    envelope(blob)?;
    let mut wkb = Wkb(blob.get(BEFORE_WKB..)?);
    let count = wkb.start(MULTI_POLYGON)?;
    let mut all = Vec::new();
    for _ in 0..count {
        let rings = wkb.start(POLYGON)?;
        let outer = wkb.places()?;
        let holes = (1..rings)
            .map(|_| wkb.places())
            .collect::<Option<Vec<_>>>()?;
        all.push(Polygon::new(outer, holes));
    }
    Some(all)
}

/// The bytes of a WKB that are still to be read.
struct Wkb<'a>(&'a [u8]);

impl Wkb<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (head, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*head)
    }

    /// Reads how a geometry begins and gives the number of its parts; `None` where it is not of this kind.
    fn start(&mut self, kind: u32) -> Option<u32> {
        let [order] = self.take::<1>()?;
        let found = u32::from_le_bytes(self.take()?);
        (order == LITTLE_ENDIAN && found == kind).then(|| self.take().map(u32::from_le_bytes))?
    }

    fn places(&mut self) -> Option<LineString<f64>> {
        let count = u32::from_le_bytes(self.take()?);
        // A count that claims more places than there are bytes for is refused before room is made for them.
        if count as usize > self.0.len() / 16 {
            return None;
        }
        (0..count)
            .map(|_| {
                Some(Coord {
                    x: f64::from_le_bytes(self.take()?),
                    y: f64::from_le_bytes(self.take()?),
                })
            })
            .collect::<Option<Vec<_>>>()
            .map(LineString::new)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;
    use serde_json::json;

    fn triangle() -> Polygon<f64> {
        polygon![(x: 1.0, y: 2.0), (x: 3.0, y: 2.0), (x: 3.0, y: 5.0)]
    }

    /// Byte by byte as Table "GeoPackage SQL Geometry Binary Format" (2.1.3.1.1) and OGC 06-103r4, 8.2.8 lay it out.
    #[test]
    fn a_polygon_byte_by_byte() {
        let blob = encode_polygons(&[triangle()]).unwrap();
        let mut expected = vec![0x47, 0x50, 0x00, 0x03, 0xe6, 0x10, 0x00, 0x00];
        for number in [1.0f64, 3.0, 2.0, 5.0] {
            expected.extend(number.to_le_bytes());
        }
        expected.extend([1, 6, 0, 0, 0, 1, 0, 0, 0]);
        expected.extend([1, 3, 0, 0, 0, 1, 0, 0, 0, 4, 0, 0, 0]);
        for number in [1.0f64, 2.0, 3.0, 2.0, 3.0, 5.0, 1.0, 2.0] {
            expected.extend(number.to_le_bytes());
        }
        assert_eq!(blob.bytes, expected);
        assert_eq!(envelope(&blob.bytes), Some(blob.envelope));
        assert_eq!(is_empty(&blob.bytes), Some(false));
    }

    #[test]
    fn polygons_come_back_as_they_went() {
        let holed = polygon! {
            exterior: [(x: 0.1, y: 0.2), (x: 3.0, y: 2.0), (x: 3.0, y: 5.0)],
            interiors: [[(x: 1.0, y: 2.0), (x: 1.1, y: 2.0), (x: 1.1, y: 2.1)]],
        };
        for shapes in [vec![holed.clone()], vec![triangle(), holed]] {
            let blob = encode_polygons(&shapes).unwrap();
            assert_eq!(decode_polygons(&blob.bytes), Some(shapes));
        }
    }

    #[test]
    fn what_is_no_geometry_is_refused_without_a_panic() {
        let value = |json| {
            serde_json::from_value::<geojson::Geometry>(json)
                .unwrap()
                .value
        };
        let line = encode_lines(&value(
            json!({"type": "LineString", "coordinates": [[1.0, 2.0], [3.0, 2.0]]}),
        ))
        .unwrap();
        assert_eq!(decode_polygons(&line.bytes), None);
        assert!(
            encode_lines(&value(json!({"type": "Point", "coordinates": [1.0, 2.0]}))).is_none()
        );
        assert!(encode_polygons(&[]).is_none());
        let polygon = encode_polygons(&[triangle()]).unwrap();
        for cut in 0..polygon.bytes.len() {
            assert_eq!(decode_polygons(&polygon.bytes[..cut]), None, "{cut}");
        }
        let mut long = polygon.bytes.clone();
        long[58..62].copy_from_slice(&u32::MAX.to_le_bytes());
        assert_eq!(decode_polygons(&long), None);
    }
}
