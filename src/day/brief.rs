//! A survey in one short line, for engines that read millions of them: the figures of the day's table, and the net lawn as WKB.

use super::line::Line;
use crate::plane::Plane;
use crate::records::blob::wkb;
use crate::visible::in_json;
use data_encoding::BASE64;
use geo::{BoundingRect, Coord, CoordsIter, MapCoords, MultiPolygon, Simplify};
use geojson::Geometry;
use serde::Serialize;
use serde_json::Value;

/// Places that an outline has at the most: with them a line stays under 1.5 kB.
const MOST_PLACES: usize = 40;
/// How far off an outline of fewer places may lie at first, metres; then twice that, and so on.
const FIRST_OFF_M: f64 = 0.01;
/// Further off it would show another lawn, metres.
const FURTHEST_OFF_M: f64 = 5.0;
/// Letters of a reason; the whole of it stands in the result document.
const MOST_REASON: usize = 120;

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
    /// How far off the outline is for want of places, metres; 0 where it has them all.
    outline_off_m: Option<f64>,
    /// A MultiPolygon, longitude and latitude on WGS 84, in base64.
    wkb: Option<String>,
}

/// The line of a survey, with the net lawn as GeoJSON has it.
#[must_use]
pub fn line(line: &Line, geometry: Option<&Value>) -> Vec<u8> {
    let outline = geometry.and_then(thinned);
    let area = line.area.as_ref();
    // A tenth of a square millimetre is more than anyone measures, and shorter.
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
    // Numbers and texts alone: nothing that JSON cannot say.
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

/// The outline with no more than [`MOST_PLACES`], and how far off that is at the most, metres.
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
        // Very many beds have more places, however few each has.
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
