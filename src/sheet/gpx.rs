//! The survey as GPX 1.1, for receivers and map programs: the fitted edge of each lawn as a track, corners and what is taken off as
//! waypoints. A bed's waypoint says its radius in words that boundwalk reads back, and the file names its maker, so that
//! it is not taken for a walked log.

use super::board::svg::escape;
use crate::fault::Fault;
use crate::plane::Plane;
use crate::read::gpx::own::{CORNER, LAWN_EDGE, TAKEN_OFF, at_height};
use crate::ring::bridge::bridged;
use crate::survey::Measured;
use crate::units::fixed;
use geo::MultiPolygon;
use std::fmt::Write;

/// The file's maker, by which the reader tells a sheet of boundwalk's from a log that was walked.
pub const CREATOR: &str = concat!("boundwalk sheet ", env!("CARGO_PKG_VERSION"));
/// Degrees are rounded to whole parts of this many, as in the GeoJSON: 1.1 mm.
const DECIMALS: f64 = 1e8;

/// The file's bytes. A survey without a place on the ground gives nothing but the head.
///
/// # Errors
/// When a coordinate is not finite.
pub fn file(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let plane_height_m = measured.plane.as_ref().map_or(0.0, |plane| plane.height_m);
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"{CREATOR}\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n<metadata><name>{}</name><desc>Edges as measured. Not a survey of legal \
         boundaries or levels.</desc><keywords>{}</keywords></metadata>\n",
        escape(&measured.survey.name),
        at_height(plane_height_m)
    );
    // Waypoints come before tracks (GPX 1.1, gpxType).
    if let Some(plane) = &measured.on {
        for point in super::plan::lettered(measured) {
            waypoint(&point.name, CORNER, "", point.lat.zip(point.lon), &mut out)?;
        }
        for deduction in &measured.deductions {
            let about = match deduction.radius_m {
                Some(m) => format!("radius {} m", fixed(m, 4)),
                None => format!("{} m2 taken off", fixed(deduction.deducted_m2, 2)),
            };
            let place = deduction.lat.zip(deduction.lon);
            waypoint(&deduction.label, TAKEN_OFF, &about, place, &mut out)?;
        }
        for lawn in &measured.drawing.lawns {
            tracks(&lawn.label, LAWN_EDGE, &lawn.outer, plane, &mut out)?;
        }
        // A bed is a circle; its waypoint with a radius says that better than a track with straight sides.
        let outlined = measured.drawing.deductions.iter();
        for taken in outlined.filter(|d| d.radius_m.is_none()) {
            tracks(&taken.label, TAKEN_OFF, &taken.outline, plane, &mut out)?;
        }
    }
    out.push_str("</gpx>\n");
    Ok(out.into_bytes())
}

/// The attributes that say where a place is.
fn place(lat: f64, lon: f64) -> Result<String, Fault> {
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
    let lon = if lon >= 180.0 { lon - 360.0 } else { lon };
    Ok(format!("lat=\"{}\" lon=\"{lon}\"", round(lat)))
}

/// A closed track for each polygon; its holes are joined to its outer ring by bridges, since a track cannot have holes.
fn tracks(
    label: &str,
    kind: &str,
    area: &MultiPolygon<f64>,
    plane: &Plane,
    out: &mut String,
) -> Result<(), Fault> {
    let label = escape(label);
    for ring in bridged(area) {
        let _ = write!(out, "<trk><name>{label}</name><type>{kind}</type><trkseg>");
        for at in ring {
            let (lat, lon) = plane.inverse(at);
            let _ = write!(out, "\n<trkpt {}/>", place(lat, lon)?);
        }
        out.push_str("</trkseg></trk>\n");
    }
    Ok(())
}

fn waypoint(
    name: &str,
    kind: &str,
    about: &str,
    at: Option<(f64, f64)>,
    out: &mut String,
) -> Result<(), Fault> {
    let (lat, lon) = at.unwrap_or((f64::NAN, f64::NAN));
    let about = match about {
        "" => String::new(),
        about => format!("<desc>{about}</desc>"),
    };
    let _ = writeln!(
        out,
        "<wpt {}><name>{}</name>{about}<type>{kind}</type></wpt>",
        place(lat, lon)?,
        escape(name)
    );
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::kept::keep;
    use crate::trial::chance::Chance;

    #[test]
    fn the_ring_and_the_beds_are_in_it() {
        let mut measured = sample::random_lawn(&mut Chance::stream(3, "gpx"), false);
        for deduction in &mut measured.deductions {
            deduction.label = "</name><script>\u{1}&".into();
        }
        let bytes = file(&measured).expect("a file");
        // Another reader finds a closed ring and the labels as they are (`.ci/kept.py`).
        keep("gpx-lawn", &bytes);
        let text = String::from_utf8(bytes).expect("UTF-8");
        let of = |what: &str| text.matches(what).count();
        let ring = measured.drawing.lawns[0].outer.0[0].exterior();
        let edge = text.split("</trkseg>").next().unwrap_or_default();
        assert_eq!(edge.matches("<trkpt").count(), ring.0.len());
        assert_eq!(
            of("<type>taken off</type>"),
            measured.deductions.len() + of("<trk>") - 1
        );
    }

    #[test]
    fn a_withheld_survey_has_a_head_only() {
        let bytes = file(&sample::withheld()).expect("a file");
        keep("gpx-withheld", &bytes);
        let text = String::from_utf8(bytes).expect("UTF-8");
        assert!(!text.contains("<trk>") && !text.contains("<wpt"), "{text}");
    }
}
