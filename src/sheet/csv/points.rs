//! `points.csv`: lettered corners, marks and centres of beds. Where these do not make up the whole lawn, every point of every edge
//! follows. The file can be read back and gives the same lawn, which is why each row also says what it is, which ring it
//! belongs to, and the receiver's class.

use super::{row, table, words};
use crate::fault::Fault;
use crate::lawn::Kind;
use crate::plane;
use crate::read::points::own::What;
use crate::ring::bridge::bridged;
use crate::survey::Measured;
use crate::survey::measured::GridPlace;
use geo::{Coord, MultiPolygon};

/// The table. Where a grid was asked for, such as a national one, places are given on it as well, in its own unit.
///
/// # Errors
/// When the table cannot be written.
pub fn points(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut head = row([
        "name",
        "lat",
        "lon",
        "x_m",
        "y_m",
        "sigma_m",
        "what",
        "diameter_m",
        "ring",
        "quality",
        "plane_height_m",
    ]);
    if measured.grid.is_some() {
        head.extend(row(["easting", "northing", "grid"]));
    } else if measured.is_local() {
        head.extend(row(["grid"]));
    }
    let mut rows = vec![head];
    // The points are first the corners, then the beds' centres in the order of the deductions, then marks.
    let corners = measured.ring.as_ref().map_or(0, |r| r.corners as usize);
    let mut beds = measured.deductions.iter().filter(|d| d.kind == Kind::Bed);
    for (i, point) in measured.points.iter().enumerate() {
        let bed = if i < corners { None } else { beds.next() };
        let what = match (i < corners, bed) {
            (true, _) => What::Corner,
            (false, Some(_)) => What::Bed,
            (false, None) => What::Mark,
        };
        let diameter = bed
            .and_then(|bed| bed.radius_m)
            .map_or(String::new(), |m| format!("{:.6}", 2.0 * m));
        let mut cells = place(
            measured,
            &point.name,
            point.lat.zip(point.lon),
            Coord {
                x: point.x_m,
                y: point.y_m,
            },
            point.sigma_m,
        );
        cells.extend(row([what.word(), &diameter, ""]));
        cells.extend(all_rows(measured));
        cells.extend(on_grid(measured, i));
        rows.push(cells);
    }
    edges(measured, corners, &mut rows);
    table(&rows)
}

/// The last cells of point number `i`: its place on the grid that was asked for, or the word that says its metres are a plan's own, or
/// nothing.
fn on_grid(measured: &Measured, i: usize) -> Vec<String> {
    if let Some(grid) = &measured.grid {
        let point = grid.points.get(i);
        let place =
            |of: fn(&GridPlace) -> f64| point.map_or(String::new(), |p| format!("{:.4}", of(p)));
        return vec![
            place(|p| p.easting),
            place(|p| p.northing),
            grid.code.clone(),
        ];
    }
    let local = measured.is_local().then(|| plane::LOCAL.to_owned());
    local.into_iter().collect()
}

/// The first cells of a row: name, place in degrees (empty where not known) and in metres, and one sigma of the place.
fn place(
    measured: &Measured,
    name: &str,
    degrees: Option<(f64, f64)>,
    at: Coord<f64>,
    sigma_m: f64,
) -> Vec<String> {
    let degree = |value: Option<f64>| value.map_or(String::new(), |d| format!("{d:.9}"));
    // On a plan without degrees the metres are all there is, so they are given more finely; beside degrees they are only to look at.
    let metre = |m: f64| match measured.is_local() {
        true => format!("{m:.6}"),
        false => format!("{m:.4}"),
    };
    row([
        &words(name),
        &degree(degrees.map(|d| d.0)),
        &degree(degrees.map(|d| d.1)),
        &metre(at.x),
        &metre(at.y),
        &format!("{sigma_m:.4}"),
    ])
}

/// What every row repeats about the whole survey: the receiver's class, which says how far a sigma is to be believed, and the height of
/// the plane, metres, since a metre on the ground is a little more of a degree the higher it lies.
fn all_rows(measured: &Measured) -> [String; 2] {
    let class = measured.band.as_ref().map(|band| band.receiver);
    let class = class.and_then(|class| serde_json::to_value(class).ok());
    let class = class.as_ref().and_then(|class| class.as_str());
    let height_m = measured.plane.as_ref().map(|plane| plane.height_m);
    [
        class.unwrap_or_default().to_owned(),
        height_m.map_or(String::new(), |m| format!("{m:.3}")),
    ]
}

/// Adds a row for every point of every edge, unless the corners and beds say it all.
fn edges(measured: &Measured, corners: usize, rows: &mut Vec<Vec<String>>) {
    let drawing = &measured.drawing;
    let others = drawing.deductions.iter().any(|d| d.kind != Kind::Bed);
    if measured.area.is_none() || (!others && made_of_corners(measured, corners)) {
        return;
    }
    let mut number = 0u32;
    let mut ring = |what: What, label: &str, area: &MultiPolygon<f64>| {
        for line in bridged(area) {
            number += 1;
            // A ring's last place is its first again, so one of the two is left out.
            for &at in line.iter().skip(1) {
                let degrees = measured.on.as_ref().map(|plane| plane.inverse(at));
                let sigma_m = measured.band.as_ref().map_or(0.0, |band| band.sigma_m);
                let mut cells = place(measured, label, degrees, at, sigma_m);
                cells.extend(row([what.word(), "", &number.to_string()]));
                cells.extend(all_rows(measured));
                if measured.grid.is_some() {
                    cells.extend(row(["", "", ""]));
                } else if measured.is_local() {
                    cells.push(plane::LOCAL.to_owned());
                }
                rows.push(cells);
            }
        }
    };
    for lawn in &drawing.lawns {
        ring(What::Edge, &lawn.label, &lawn.outer);
    }
    for deduction in drawing.deductions.iter().filter(|d| d.kind != Kind::Bed) {
        ring(What::Hole, &deduction.label, &deduction.outline);
    }
}

/// Whether the lettered corners, joined in their order, are the edge of the only lawn.
fn made_of_corners(measured: &Measured, corners: usize) -> bool {
    match measured.drawing.lawns.as_slice() {
        // Nothing is drawn of a tape survey without a plan.
        [] => true,
        [only] => match only.outer.0.as_slice() {
            [outer] => outer.interiors().is_empty() && outer.exterior().0.len() == corners + 1,
            _ => false,
        },
        _ => false,
    }
}
