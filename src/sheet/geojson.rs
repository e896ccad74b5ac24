//! The survey as GeoJSON (RFC 7946): the net lawn, what was taken off, the walked line, and the edges of the lawn at the low
//! and the high end of its band.
//!
//! Outer rings run counter-clockwise and holes clockwise (3.1.6), coordinates are longitude and latitude in WGS 84
//! without a `crs` member (4), rounded to 8 decimals (11.2 asks for no more than are needed; 1e-8° is at most 1.1 mm),
//! and what crosses the antimeridian is cut there (3.1.9).

use crate::fault::Fault;
use crate::lawn::{Deduction, Kind};
use crate::plane::Plane;
use crate::plane::laea::turn;
use crate::survey::Measured;
use crate::survey::measured::Area;
use geo::orient::Direction;
use geo::{
    BooleanOps, BoundingRect, Coord, LineString, MapCoords, MultiPolygon, Orient, Polygon, Rect,
};
use geojson::{
    Feature, FeatureCollection, Geometry, GeometryValue, JsonObject, JsonValue, Position,
};
use serde_json::json;

/// Degrees are rounded to eight decimals: to whole parts of this many.
const DECIMALS: f64 = 1e8;

/// The whole collection, indented, with a newline at its end. A survey without an area gives what there is to draw, which may be
/// nothing.
///
/// # Errors
/// When a coordinate or a number is not finite.
pub fn collection(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut features = Vec::new();
    if let Some(plane) = &measured.on {
        draw(measured, plane, &mut features)?;
    }
    written(features)
}

/// The same features as a text sequence (RFC 8142): each is a text of its own, so that a reader can take them one by one.
///
/// # Errors
/// As [`collection`].
pub fn sequence(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut features = Vec::new();
    if let Some(plane) = &measured.on {
        draw(measured, plane, &mut features)?;
    }
    let texts = features.iter().map(|feature| text(&feature.to_string()));
    Ok(texts.collect::<String>().into_bytes())
}

/// One text of a sequence (RFC 8142, 2): a record separator before it, a line feed after it.
#[must_use]
pub fn text(json: &str) -> String {
    let json = crate::visible::in_json(json.as_bytes().to_vec());
    format!("\u{1e}{}\n", String::from_utf8_lossy(&json))
}

/// The turf as laid out: a feature for each row (`role: "row"`) and each piece (`role: "piece"`).
///
/// # Errors
/// When a coordinate or a number is not finite.
pub fn rows(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut features = Vec::new();
    let turf = measured.order.as_ref().and_then(|o| o.turf.as_ref());
    if let (Some(plane), Some(turf), Some(rows)) =
        (&measured.on, turf, turf.and_then(|t| t.rows.as_ref()))
    {
        for row in &rows.layout {
            let whole = row.pieces.last().map_or(0.0, |piece| piece.end_m);
            let strip = |from: f64, to: f64| rows.on_plan(row, turf.piece_width_m, from, to);
            let properties = [
                ("row", json!(row.row)),
                ("lawn", json!(row.lawn)),
                ("length_m", number(whole)?),
                ("pieces", json!(row.pieces.len())),
            ];
            features.extend(feature(
                "row",
                polygons(plane, &strip(0.0, whole))?,
                properties,
            ));
            for piece in &row.pieces {
                let properties = [
                    ("row", json!(row.row)),
                    ("length_m", number(piece.end_m - piece.start_m)?),
                    ("offcut", json!(piece.offcut)),
                    ("cut_from", json!(piece.of)),
                ];
                features.extend(feature(
                    "piece",
                    polygons(plane, &strip(piece.start_m, piece.end_m))?,
                    properties,
                ));
            }
        }
    }
    written(features)
}

fn written(features: Vec<Feature>) -> Result<Vec<u8>, Fault> {
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
    Ok(crate::visible::in_json(bytes))
}

/// Adds a feature for everything there is to draw.
fn draw(measured: &Measured, plane: &Plane, features: &mut Vec<Feature>) -> Result<(), Fault> {
    let drawing = &measured.drawing;
    if let Some(area) = &measured.area {
        features.extend(net_lawn(measured, area, plane)?);
    }
    for (i, deduction) in drawing.deductions.iter().enumerate() {
        features.extend(taken_off(measured, i, deduction, plane)?);
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

/// The lawn less what is taken off, with its area and band.
fn net_lawn(measured: &Measured, area: &Area, plane: &Plane) -> Result<Option<Feature>, Fault> {
    let net = MultiPolygon(
        measured
            .drawing
            .lawns
            .iter()
            .flat_map(|lawn| lawn.net.0.clone())
            .collect(),
    );
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
        (
            "plane_height_m",
            number(measured.plane.as_ref().map_or(0.0, |p| p.height_m))?,
        ),
    ];
    let mut lawn = feature("lawn", polygons(plane, &net)?, properties);
    if let Some(grid) = &measured.grid {
        add(&mut lawn, "grid", json!(grid.code));
        add(&mut lawn, "points", json!(grid.points));
    }
    Ok(lawn)
}

/// The deduction of this number, with its place on the grid where one was asked for.
fn taken_off(
    measured: &Measured,
    i: usize,
    deduction: &Deduction,
    plane: &Plane,
) -> Result<Option<Feature>, Fault> {
    let role = match deduction.kind {
        Kind::Bed => "bed",
        Kind::Walked => "walked",
        Kind::Path => "path",
        Kind::Taped => "taped",
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
    let mut drawn = feature(role, polygons(plane, &deduction.outline)?, properties);
    if let Some(centre) = measured
        .grid
        .as_ref()
        .and_then(|grid| grid.deductions.get(i))
    {
        add(&mut drawn, "easting", number(centre.easting)?);
        add(&mut drawn, "northing", number(centre.northing)?);
    }
    Ok(drawn)
}

/// A feature with its role among its properties; `None` where there is nothing to draw.
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

fn add(feature: &mut Option<Feature>, key: &str, value: JsonValue) {
    if let Some(properties) = feature
        .as_mut()
        .and_then(|feature| feature.properties.as_mut())
    {
        properties.insert(key.to_owned(), value);
    }
}

/// The number for JSON. One that is not finite is a fault, since JSON has no way to write it.
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

/// The place in degrees. The longitude runs on beyond ±180 from that of the plane's centre, so that neighbours on both sides of the
/// antimeridian stay neighbours.
fn degrees(plane: &Plane, at: Coord<f64>) -> Result<Coord<f64>, Fault> {
    let (lat, lon) = plane.inverse_quick(at);
    if !(lat.is_finite() && lon.is_finite()) {
        return Err(not_finite());
    }
    Ok(Coord {
        x: plane.lon_deg + turn(lon - plane.lon_deg),
        y: lat,
    })
}

/// A longitude that runs on beyond ±180 lies in one of three copies of the world, side by side. Subtracting the copy's number here
/// brings it back into −180 to 180.
const COPIES: [f64; 3] = [-360.0, 0.0, 360.0];

/// Polygons on the plane as a geometry; `None` where nothing is left after rounding.
pub(crate) fn polygons(
    plane: &Plane,
    area: &MultiPolygon<f64>,
) -> Result<Option<GeometryValue>, Fault> {
    Ok(shown(pieces(plane, area)?))
}

/// Polygons in degrees, cut at the antimeridian, not rounded.
pub(crate) fn pieces(plane: &Plane, area: &MultiPolygon<f64>) -> Result<Vec<Polygon<f64>>, Fault> {
    let mut pieces = Vec::new();
    for polygon in area.try_map_coords(|at| degrees(plane, at))?.0 {
        let Some(bounds) = polygon.bounding_rect() else {
            continue;
        };
        if bounds.min().x >= -180.0 && bounds.max().x <= 180.0 {
            pieces.push(polygon);
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
    Ok(pieces)
}

/// Polygons in degrees as they are written: rounded, with outer rings counter-clockwise and holes clockwise. `None` where none is left.
pub(crate) fn shown(pieces: Vec<Polygon<f64>>) -> Option<GeometryValue> {
    let mut written: Vec<Vec<Vec<Position>>> = Vec::new();
    for piece in pieces {
        // Rounding may turn a thin sliver over, so the direction is set after it.
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
    match only {
        Some(coordinates) => Some(GeometryValue::Polygon { coordinates }),
        None if written.is_empty() => None,
        None => Some(GeometryValue::MultiPolygon {
            coordinates: written,
        }),
    }
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

/// A closed ring of at least four positions (3.1.6), or `None` if rounding left fewer.
fn ring(line: &LineString<f64>) -> Option<Vec<Position>> {
    let mut places: Vec<Coord<f64>> = line.0.clone();
    places.dedup();
    (places.len() >= 4).then(|| places.iter().map(position).collect())
}

/// An open line as a geometry, cut where it crosses the antimeridian; `None` where fewer than two places are left.
pub(crate) fn line(plane: &Plane, walk: &[Coord<f64>]) -> Result<Option<GeometryValue>, Fault> {
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
            // The antimeridian between the two copies of the world, and where the line crosses it.
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

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, polygon};

    fn plane(lat: f64, lon: f64) -> Plane {
        Plane::new(lat, lon, 0.0).unwrap_or_else(|fault| panic!("{fault}"))
    }

    /// 12 × 8 m clockwise, with a hole counter-clockwise: both the wrong way round for RFC 7946.
    fn backwards() -> MultiPolygon<f64> {
        let lawn: Polygon<f64> = polygon![
            exterior: [(x: -6.0, y: -4.0), (x: -6.0, y: 4.0), (x: 6.0, y: 4.0), (x: 6.0, y: -4.0)],
            interiors: [[(x: -1.0, y: -1.0), (x: 1.0, y: -1.0), (x: 1.0, y: 1.0), (x: -1.0, y: 1.0)]],
        ];
        MultiPolygon(vec![lawn])
    }

    fn places(ring: &[Position]) -> Vec<(f64, f64)> {
        ring.iter()
            .map(|p| (p.as_slice()[0], p.as_slice()[1]))
            .collect()
    }

    /// Twice the signed area in square degrees: above 0 is counter-clockwise.
    fn turn(ring: &[(f64, f64)]) -> f64 {
        ring.windows(2)
            .map(|w| w[0].0 * w[1].1 - w[1].0 * w[0].1)
            .sum()
    }

    #[test]
    fn rings_turn_by_the_right_hand_and_close_rfc_7946_3_1_6() {
        let Ok(Some(GeometryValue::Polygon { coordinates })) =
            polygons(&plane(52.0, -1.2), &backwards())
        else {
            panic!("one polygon");
        };
        assert_eq!(coordinates.len(), 2);
        for (ring, sign) in coordinates.iter().zip([1.0, -1.0]) {
            let ring = places(ring);
            assert_eq!(ring.first(), ring.last());
            // About the first place, or rounding drowns so small a ring.
            let local: Vec<_> = ring
                .iter()
                .map(|p| (p.0 - ring[0].0, p.1 - ring[0].1))
                .collect();
            assert!(sign * turn(&local) > 0.0);
            for (lon, lat) in ring {
                for degrees in [lon, lat] {
                    assert_eq!(degrees, (degrees * 1e8).round() / 1e8);
                }
            }
        }
    }

    #[test]
    fn what_crosses_the_antimeridian_is_cut_there_rfc_7946_3_1_9() {
        for lon in [179.99999, -179.99999] {
            let plane = plane(-17.0, lon);
            let Ok(Some(GeometryValue::MultiPolygon { coordinates })) =
                polygons(&plane, &backwards())
            else {
                panic!("two polygons at {lon}");
            };
            assert_eq!(coordinates.len(), 2, "{lon}");
            let mut m2 = 0.0;
            for part in &coordinates {
                let outer = places(&part[0]);
                let east = outer.iter().all(|p| (179.9..=180.0).contains(&p.0));
                let west = outer.iter().all(|p| (-180.0..=-179.9).contains(&p.0));
                assert!(east != west, "each part on its own side: {outer:?}");
                for ring in part {
                    let line: LineString<f64> = places(ring)
                        .into_iter()
                        .map(|(lon, lat)| plane.forward(lat, lon))
                        .collect();
                    m2 += Polygon::new(line, Vec::new()).signed_area();
                }
            }
            // 12 × 8 − 2 × 2; eight decimals move each of the corners by up to 0.8 mm.
            approx::assert_abs_diff_eq!(m2, 92.0, epsilon = 0.05);
        }
    }

    #[test]
    fn a_walk_is_cut_at_the_antimeridian_too() {
        let walk = [(-6.0, 0.0), (6.0, 0.0), (6.0, 4.0), (-6.0, 4.0)].map(Coord::from);
        let plane = plane(-17.0, 179.99999);
        let Ok(Some(GeometryValue::MultiLineString { coordinates })) = line(&plane, &walk) else {
            panic!("three parts");
        };
        let parts: Vec<_> = coordinates.iter().map(|part| places(part)).collect();
        assert_eq!(parts.len(), 3);
        assert_eq!(parts[0].last().map(|p| p.0), Some(180.0));
        assert_eq!(parts[1].first().map(|p| p.0), Some(-180.0));
        assert_eq!(parts[0].last().map(|p| p.1), parts[1].first().map(|p| p.1));
    }

    #[test]
    fn a_number_that_is_not_finite_stops_the_sheet() {
        assert!(number(f64::INFINITY).is_err());
        let walk = [
            Coord {
                x: f64::NAN,
                y: 0.0,
            },
            Coord { x: 0.0, y: 0.0 },
        ];
        assert!(line(&plane(52.0, 0.0), &walk).is_err());
    }

    #[test]
    fn a_withheld_survey_is_an_empty_collection() {
        let bytes = collection(&super::super::sample::withheld()).unwrap_or_default();
        let back: serde_json::Value = serde_json::from_slice(&bytes).unwrap_or_default();
        assert_eq!(back["type"], "FeatureCollection");
        assert_eq!(back["features"].as_array().map(Vec::len), Some(0));
    }
}
