//! The survey as GeoJSON (RFC 7946): the net lawn, what was taken off, the walked line, the band's edges.
//!
//! Outer rings run counter-clockwise and holes clockwise (3.1.6), coordinates are longitude and latitude in WGS 84
//! without a `crs` member (4), rounded to 8 decimals (11.2 asks for no more than are needed; 1e-8° is at most 1.1 mm),
//! and what crosses the antimeridian is cut there (3.1.9).

use crate::fault::Fault;
use crate::lawn::Kind;
use crate::plane::Plane;
use crate::survey::Measured;
use geo::orient::Direction;
use geo::{BooleanOps, BoundingRect, Coord, LineString, MapCoords, MultiPolygon, Orient, Rect};
use geojson::{
    Feature, FeatureCollection, Geometry, GeometryValue, JsonObject, JsonValue, Position,
};
use serde_json::json;

/// Decimals of a degree that are written.
const DECIMALS: f64 = 1e8;

/// The whole collection, indented, with a newline at its end. A withheld survey gives what there is to draw.
///
/// # Errors
/// When a coordinate or a number is not finite.
pub fn collection(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut features = Vec::new();
    if let Some(plane) = &measured.on {
        draw(measured, plane, &mut features)?;
    }
    let whole = FeatureCollection {
        bbox: None,
        features,
        foreign_members: None,
    };
    let mut bytes = serde_json::to_vec_pretty(&whole).map_err(|error| {
        Fault::withheld(
            "geojson",
            format!("the GeoJSON could not be written ({error})."),
            "",
        )
    })?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn draw(measured: &Measured, plane: &Plane, features: &mut Vec<Feature>) -> Result<(), Fault> {
    let drawing = &measured.drawing;
    let net = MultiPolygon(
        drawing
            .lawns
            .iter()
            .flat_map(|lawn| lawn.net.0.clone())
            .collect(),
    );
    if let Some(area) = &measured.area {
        let properties = [
            ("survey", json!(measured.survey.name)),
            ("status", json!(measured.status)),
            ("gross_m2", number(area.gross_m2)?),
            ("deductions_m2", number(area.deductions_m2)?),
            ("net_m2", number(area.net_m2)?),
            ("band_m2", number(area.band_m2)?),
            ("low_m2", number(area.low_m2)?),
            ("high_m2", number(area.high_m2)?),
            ("confidence", number(area.confidence)?),
            ("lawns", json!(measured.lawns)),
        ];
        features.extend(feature("lawn", polygons(plane, &net)?, properties));
    }
    for deduction in &drawing.deductions {
        let role = match deduction.kind {
            Kind::Bed => "bed",
            Kind::Walked => "walked",
            Kind::Path => "path",
        };
        let radius = match deduction.radius_m {
            Some(m) => number(m)?,
            None => JsonValue::Null,
        };
        let properties = [
            ("label", json!(deduction.label)),
            ("area_m2", number(deduction.area_m2)?),
            ("deducted_m2", number(deduction.deducted_m2)?),
            ("radius_m", radius),
        ];
        features.extend(feature(
            role,
            polygons(plane, &deduction.outline)?,
            properties,
        ));
    }
    for walk in &drawing.walks {
        features.extend(feature("walk", line(plane, walk)?, []));
    }
    if let Some(area) = &measured.area {
        let edges = [
            ("band-low", &drawing.low, area.low_m2),
            ("band-high", &drawing.high, area.high_m2),
        ];
        for (role, edge, m2) in edges {
            if let Some(edge) = edge {
                features.extend(feature(
                    role,
                    polygons(plane, edge)?,
                    [("area_m2", number(m2)?)],
                ));
            }
        }
    }
    Ok(())
}

/// A feature with its role; none where there is nothing to draw.
fn feature<const N: usize>(
    role: &str,
    geometry: Option<GeometryValue>,
    properties: [(&str, JsonValue); N],
) -> Option<Feature> {
    let mut all = JsonObject::new();
    all.insert("role".into(), json!(role));
    all.extend(
        properties
            .into_iter()
            .map(|(key, value)| (key.to_owned(), value)),
    );
    Some(Feature {
        bbox: None,
        geometry: Some(Geometry::new(geometry?)),
        id: None,
        properties: Some(all),
        foreign_members: None,
    })
}

fn number(value: f64) -> Result<JsonValue, Fault> {
    if value.is_finite() {
        Ok(json!(value))
    } else {
        Err(not_finite())
    }
}

fn not_finite() -> Fault {
    Fault::withheld(
        "not-finite",
        "a number of the drawing is not finite, so it is not written.",
        "This is a defect of boundwalk: please report it with the log.",
    )
}

/// Degrees with the longitude running on over ±180 from the plane's own, so that neighbours stay neighbours.
fn degrees(plane: &Plane, at: Coord<f64>) -> Result<Coord<f64>, Fault> {
    let (lat, lon) = plane.inverse(at);
    if !(lat.is_finite() && lon.is_finite()) {
        return Err(not_finite());
    }
    let away = (lon - plane.lon_deg + 540.0).rem_euclid(360.0) - 180.0;
    Ok(Coord {
        x: plane.lon_deg + away,
        y: lat,
    })
}

/// The world's copies a running longitude may fall into, and what brings each home.
const COPIES: [f64; 3] = [-360.0, 0.0, 360.0];

fn polygons(plane: &Plane, area: &MultiPolygon<f64>) -> Result<Option<GeometryValue>, Fault> {
    let mut pieces = Vec::new();
    for polygon in &area.try_map_coords(|at| degrees(plane, at))?.0 {
        let Some(bounds) = polygon.bounding_rect() else {
            continue;
        };
        if bounds.min().x >= -180.0 && bounds.max().x <= 180.0 {
            pieces.push(polygon.clone());
            continue;
        }
        for shift in COPIES {
            let west = (-180.0 + shift).max(bounds.min().x - 1e-6);
            let east = (180.0 + shift).min(bounds.max().x + 1e-6);
            if west < east {
                let strip = Rect::new((west, bounds.min().y - 1e-6), (east, bounds.max().y + 1e-6));
                let cut = polygon.intersection(&strip.to_polygon());
                pieces.extend(
                    cut.map_coords(|c| Coord {
                        x: c.x - shift,
                        y: c.y,
                    })
                    .0,
                );
            }
        }
    }
    let mut written: Vec<Vec<Vec<Position>>> = Vec::new();
    for piece in pieces {
        // Rounding first: it may turn a sliver over.
        let piece = piece.map_coords(rounded).orient(Direction::Default);
        let Some(outer) = ring(piece.exterior()) else {
            continue;
        };
        let holes = piece.interiors().iter().filter_map(ring);
        written.push(std::iter::once(outer).chain(holes).collect());
    }
    let only = if written.len() == 1 {
        written.pop()
    } else {
        None
    };
    Ok(match only {
        Some(coordinates) => Some(GeometryValue::Polygon { coordinates }),
        None if written.is_empty() => None,
        None => Some(GeometryValue::MultiPolygon {
            coordinates: written,
        }),
    })
}

fn rounded(at: Coord<f64>) -> Coord<f64> {
    // Adding 0 turns -0 into 0.
    let round = |value: f64| (value * DECIMALS).round() / DECIMALS + 0.0;
    Coord {
        x: round(at.x).clamp(-180.0, 180.0),
        y: round(at.y),
    }
}

fn position(at: &Coord<f64>) -> Position {
    Position::from([at.x, at.y])
}

/// A closed ring of at least four positions (3.1.6), or none if rounding left less.
fn ring(line: &LineString<f64>) -> Option<Vec<Position>> {
    let mut places: Vec<Coord<f64>> = line.0.clone();
    places.dedup();
    (places.len() >= 4).then(|| places.iter().map(position).collect())
}

/// An open line, cut where it crosses the antimeridian.
fn line(plane: &Plane, walk: &[Coord<f64>]) -> Result<Option<GeometryValue>, Fault> {
    let places = walk
        .iter()
        .map(|at| degrees(plane, *at))
        .collect::<Result<Vec<_>, _>>()?;
    let copy = |at: &Coord<f64>| ((at.x + 180.0) / 360.0).floor() * 360.0;
    let mut parts: Vec<Vec<Coord<f64>>> = vec![Vec::new()];
    let mut before: Option<Coord<f64>> = None;
    for at in places {
        if let Some(from) = before
            && copy(&from) != copy(&at)
        {
            // The meridian between the two copies.
            let cut = copy(&from).max(copy(&at)) - 180.0;
            let part = (cut - from.x) / (at.x - from.x);
            let crossing = Coord {
                x: cut,
                y: from.y + part * (at.y - from.y),
            };
            let home = |x: Coord<f64>, shift: f64| {
                rounded(Coord {
                    x: x.x - shift,
                    y: x.y,
                })
            };
            if let Some(last) = parts.last_mut() {
                last.push(home(crossing, copy(&from)));
            }
            parts.push(vec![home(crossing, copy(&at))]);
        }
        if let Some(last) = parts.last_mut() {
            last.push(rounded(Coord {
                x: at.x - copy(&at),
                y: at.y,
            }));
        }
        before = Some(at);
    }
    let mut written: Vec<Vec<Position>> = Vec::new();
    for mut part in parts {
        part.dedup();
        if part.len() >= 2 {
            written.push(part.iter().map(position).collect());
        }
    }
    let only = if written.len() == 1 {
        written.pop()
    } else {
        None
    };
    Ok(match only {
        Some(coordinates) => Some(GeometryValue::LineString { coordinates }),
        None if written.is_empty() => None,
        None => Some(GeometryValue::MultiLineString {
            coordinates: written,
        }),
    })
}
