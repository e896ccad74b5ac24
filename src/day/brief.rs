//! A survey in one short line, for database engines that read millions of them: the figures of the day's table as JSON, and the net lawn
//! as WKB (Well-Known Binary, the usual binary form of a shape). An outline with many places is thinned, and the line says by how much
//! it may be off.

use super::line::Line;
use crate::plane::Plane;
use crate::records::blob::wkb;
use crate::visible::in_json;
use data_encoding::BASE64;
use geo::{BoundingRect, Coord, CoordsIter, MapCoords, MultiPolygon, Simplify};
use geojson::Geometry;
use serde::Serialize;
use serde_json::Value;

/// The most places that an outline has; with so many a line stays under 1.5 kB.
const MOST_PLACES: usize = 40;
/// An outline is thinned so that it is off by at most this, metres; where that leaves too many places, by twice that, and so on.
const FIRST_OFF_M: f64 = 0.01;
/// Once the distance is more than this, metres, the outline is not thinned further, as it would no longer look like the lawn.
const FURTHEST_OFF_M: f64 = 5.0;
/// The most letters of a reason; the whole of it stands in the result document.
const MOST_REASON: usize = 120;

/// The fields of the line; numbers are `null` where there is none.
#[derive(Serialize)]
struct Brief<'a> {
    survey: &'a str,
    status: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    job: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    site: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    date: Option<&'a str>,
    net_m2: Option<f64>,
    band_m2: Option<f64>,
    low_m2: Option<f64>,
    high_m2: Option<f64>,
    pieces: Option<u64>,
    laid_pieces: Option<u64>,
    pallets: Option<u64>,
    checks: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    /// How far off the outline may be because it was thinned, metres; 0 where it has all its places.
    outline_off_m: Option<f64>,
    /// A MultiPolygon, longitude and latitude on WGS 84, in base64.
    wkb: Option<String>,
}

/// The line of a survey with its line end. `geometry` is the net lawn as a GeoJSON geometry.
#[must_use]
pub fn line(line: &Line, geometry: Option<&Value>) -> Vec<u8> {
    let outline = geometry.and_then(thinned);
    let area = line.area.as_ref();
    // Four decimals of a square metre are finer than anyone measures, and shorter than the full number.
    let m2 = |m2: f64| (m2 * 1e4).round() / 1e4;
    let brief = Brief {
        survey: &line.name,
        status: line.status.word(),
        job: line.job.as_deref(),
        site: line.site.as_deref(),
        date: line.date.as_deref(),
        net_m2: area.map(|a| m2(a.net_m2)),
        band_m2: area.map(|a| m2(a.band_m2)),
        low_m2: area.map(|a| m2(a.low_m2)),
        high_m2: area.map(|a| m2(a.high_m2)),
        pieces: line.pieces,
        laid_pieces: line.laid_pieces,
        pallets: line.pallets,
        checks: line.checks,
        reason: line.reason.as_deref().map(short),
        outline_off_m: outline.as_ref().map(|(_, off_m)| *off_m),
        wkb: outline.map(|(wkb, _)| BASE64.encode(&wkb)),
    };
    // It has only numbers and texts, so writing it as JSON does not fail.
    let mut text = serde_json::to_vec(&brief).unwrap_or_default();
    text.push(b'\n');
    in_json(text)
}

fn short(reason: &str) -> String {
    match reason.char_indices().nth(MOST_REASON) {
        Some((end, _)) => format!("{}…", &reason[..end]),
        None => reason.to_owned(),
    }
}

/// The outline as WKB with at most [`MOST_PLACES`] places if that can be, and how far off it may be, metres. `None` where it is no outline.
fn thinned(geometry: &Value) -> Option<(Vec<u8>, f64)> {
    let geometry: Geometry = serde_json::from_value(geometry.clone()).ok()?;
    let whole = match geo::Geometry::try_from(geometry).ok()? {
        geo::Geometry::Polygon(one) => MultiPolygon(vec![one]),
        geo::Geometry::MultiPolygon(all) => all,
        _ => return None,
    };
    if whole.coords_count() <= MOST_PLACES {
        return Some((wkb(&whole.0)?, 0.0));
    }
    let middle = whole.bounding_rect()?.center();
    let plane = Plane::new(middle.y, middle.x, 0.0).ok()?;
    let laid = whole.map_coords(|at| plane.forward(at.y, at.x));
    let mut off_m = FIRST_OFF_M;
    let thin = loop {
        let thin = laid.simplify(off_m);
        // With very many beds even the fewest places for each are more than wanted.
        if thin.coords_count() <= MOST_PLACES || off_m > FURTHEST_OFF_M {
            break thin;
        }
        off_m *= 2.0;
    };
    let back = thin.map_coords(|at| {
        let (y, x) = plane.inverse(at);
        Coord { x, y }
    });
    Some((wkb(&back.0)?, off_m))
}
