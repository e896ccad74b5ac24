//! The survey as GPX 1.1: the fitted edge of each lawn as a track, corners, beds and marks as waypoints. A bed's waypoint says
//! its radius in the words boundwalk reads back.

use super::board::face;
use crate::fault::Fault;
use crate::plane::Plane;
use crate::read::gpx::own::{CORNER, LAWN_EDGE, TAKEN_OFF, at_height};
use crate::ring::bridge::bridged;
use crate::survey::Measured;
use crate::units::fixed;
use geo::{Coord, MultiPolygon, Point};
use gpx::{Gpx, GpxVersion, Metadata, Track, TrackSegment, Waypoint};

/// By which a sheet of ours is known from a log that was walked.
pub const CREATOR: &str = concat!("boundwalk sheet ", env!("CARGO_PKG_VERSION"));
/// Decimals of a degree, as in the GeoJSON: 1.1 mm.
const DECIMALS: f64 = 1e8;

/// The file. Without a place on the ground it has nothing but its head.
///
/// # Errors
/// When a coordinate is not finite.
pub fn file(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let plane_height_m = measured.plane.as_ref().map_or(0.0, |plane| plane.height_m);
    let mut gpx = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(CREATOR.to_owned()),
        metadata: Some(Metadata {
            name: Some(said(&measured.survey.name)),
            keywords: Some(at_height(plane_height_m)),
            description: Some(
                "Edges as measured. Not a survey of legal boundaries or levels.".to_owned(),
            ),
            ..Metadata::default()
        }),
        ..Gpx::default()
    };
    if let Some(plane) = &measured.on {
        for lawn in &measured.drawing.lawns {
            gpx.tracks
                .extend(tracks(&lawn.label, LAWN_EDGE, &lawn.outer, plane)?);
        }
        // A bed is a circle, which its waypoint says better.
        let outlined = measured.drawing.deductions.iter();
        for taken in outlined.filter(|d| d.radius_m.is_none()) {
            gpx.tracks
                .extend(tracks(&taken.label, TAKEN_OFF, &taken.outline, plane)?);
        }
        let corners = super::plan::lettered(measured);
        for point in corners {
            gpx.waypoints.push(waypoint(
                &point.name,
                CORNER,
                String::new(),
                point.lat.zip(point.lon),
            )?);
        }
        for deduction in &measured.deductions {
            let about = match deduction.radius_m {
                Some(m) => format!("radius {} m", fixed(m, 4)),
                None => format!("{} m2 taken off", fixed(deduction.deducted_m2, 2)),
            };
            gpx.waypoints.push(waypoint(
                &deduction.label,
                TAKEN_OFF,
                about,
                deduction.lat.zip(deduction.lon),
            )?);
        }
    }
    let mut bytes = Vec::new();
    gpx::write(&gpx, &mut bytes).map_err(|error| {
        Fault::withheld(
            "gpx",
            format!("the GPX could not be written ({error})."),
            "",
        )
    })?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn said(text: &str) -> String {
    face::clean(text)
}

fn point(lat: f64, lon: f64) -> Result<Point<f64>, Fault> {
    if !(lat.is_finite() && lon.is_finite()) {
        return Err(Fault::withheld(
            "not-finite",
            "a number of the drawing is not finite, so it is not written.",
            "This is a defect of boundwalk: please report it with the log.",
        ));
    }
    let round = |degrees: f64| (degrees * DECIMALS).round() / DECIMALS + 0.0;
    // The schema has longitudes below 180 only.
    let lon = round(lon);
    Ok(Point::new(
        if lon >= 180.0 { lon - 360.0 } else { lon },
        round(lat),
    ))
}

/// A closed track for each polygon.
fn tracks(
    label: &str,
    kind: &str,
    area: &MultiPolygon<f64>,
    plane: &Plane,
) -> Result<Vec<Track>, Fault> {
    let rings = bridged(area);
    let track = |ring: &Vec<Coord<f64>>| {
        Ok(Track {
            name: Some(said(label)),
            type_: Some(kind.to_owned()),
            segments: vec![segment(ring, plane)?],
            ..Track::default()
        })
    };
    rings.iter().map(track).collect()
}

fn segment(ring: &[Coord<f64>], plane: &Plane) -> Result<TrackSegment, Fault> {
    let points = ring
        .iter()
        .map(|at: &Coord<f64>| {
            let (lat, lon) = plane.inverse(*at);
            Ok(Waypoint::new(point(lat, lon)?))
        })
        .collect::<Result<Vec<_>, Fault>>()?;
    Ok(TrackSegment { points })
}

fn waypoint(
    name: &str,
    kind: &str,
    about: String,
    place: Option<(f64, f64)>,
) -> Result<Waypoint, Fault> {
    let (lat, lon) = place.unwrap_or((f64::NAN, f64::NAN));
    let mut waypoint = Waypoint::new(point(lat, lon)?);
    waypoint.name = Some(said(name));
    waypoint.description = Some(about).filter(|about| !about.is_empty());
    waypoint.type_ = Some(kind.to_owned());
    Ok(waypoint)
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::trial::chance::Chance;

    #[test]
    fn a_second_reader_finds_the_ring_and_the_beds() {
        let mut measured = sample::random_lawn(&mut Chance::stream(3, "gpx"), false);
        for deduction in &mut measured.deductions {
            deduction.label = "</name><script>\u{1}&".into();
        }
        let bytes = file(&measured).expect("a file");
        let back = gpx::read(bytes.as_slice()).expect("GPX");
        assert_eq!(back.version, GpxVersion::Gpx11);
        let ring = &back.tracks[0].segments[0].points;
        assert_eq!(
            ring.len(),
            measured.drawing.lawns[0].outer.0[0].exterior().0.len()
        );
        assert_eq!(
            ring.first().map(|p| p.point()),
            ring.last().map(|p| p.point())
        );
        let taken: Vec<_> = back
            .waypoints
            .iter()
            .filter(|w| w.type_.as_deref() == Some("taken off"))
            .collect();
        assert_eq!(taken.len(), measured.deductions.len());
        assert!(
            taken
                .iter()
                .all(|w| w.name.as_deref() == Some(r"</name><script>\u{1}&"))
        );
    }

    #[test]
    fn a_withheld_survey_has_a_head_only() {
        let bytes = file(&sample::withheld()).expect("a file");
        let back = gpx::read(bytes.as_slice()).expect("GPX");
        assert!(back.tracks.is_empty() && back.waypoints.is_empty());
    }
}
