//! The survey as KML 2.2 (OGC 07-147r2), for programs that show a globe: the net lawn, what is taken off, and the corners.

use super::board::svg::escape;
use super::geojson;
use crate::fault::Fault;
use crate::plane::Plane;
use crate::survey::Measured;
use ::geojson::{GeometryValue, Position};
use geo::MultiPolygon;
use std::fmt::Write;

/// The file's bytes. A survey without a place on the ground gives an empty document.
///
/// # Errors
/// When a coordinate is not finite.
pub fn file(measured: &Measured) -> Result<Vec<u8>, Fault> {
    let mut out = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.2\">\n<Document>\n\
         <name>{}</name>\n<description>{}</description>\n",
        escape(&measured.survey.name),
        crate::read::kml::OWN
    );
    // Colours are written as alpha (how opaque), blue, green, red (9.2).
    for (id, line, fill) in [
        ("lawn", "ff2b4d1f", "99d3ecdd"),
        ("taken", "ff1d3f6b", "66ffffff"),
    ] {
        let _ = writeln!(
            out,
            "<Style id=\"{id}\"><LineStyle><color>{line}</color><width>2</width></LineStyle><PolyStyle><color>{fill}</color>\
             </PolyStyle></Style>"
        );
    }
    if let Some(plane) = &measured.on {
        for lawn in &measured.drawing.lawns {
            placemark("lawn", &lawn.label, &lawn.net, plane, &mut out)?;
        }
        for deduction in &measured.drawing.deductions {
            placemark(
                "taken",
                &deduction.label,
                &deduction.outline,
                plane,
                &mut out,
            )?;
        }
        for point in super::plan::lettered(measured) {
            let (Some(lat), Some(lon)) = (point.lat, point.lon) else {
                continue;
            };
            let _ = writeln!(
                out,
                "<Placemark><name>{}</name><Point><coordinates>{lon:.8},{lat:.8}</coordinates></Point></Placemark>",
                escape(&point.name),
            );
        }
    }
    out.push_str("</Document>\n</kml>\n");
    Ok(out.into_bytes())
}

/// Adds an area with its holes under a name. Nothing is added where there is nothing to draw.
fn placemark(
    style: &str,
    label: &str,
    area: &MultiPolygon<f64>,
    plane: &Plane,
    out: &mut String,
) -> Result<(), Fault> {
    let polygons = match geojson::polygons(plane, area)? {
        Some(GeometryValue::Polygon { coordinates }) => vec![coordinates],
        Some(GeometryValue::MultiPolygon { coordinates }) => coordinates,
        _ => return Ok(()),
    };
    let _ = writeln!(
        out,
        "<Placemark><name>{}</name><styleUrl>#{style}</styleUrl><MultiGeometry>",
        escape(label)
    );
    for rings in &polygons {
        out.push_str("<Polygon>");
        for (k, ring) in rings.iter().enumerate() {
            let side = if k == 0 {
                "outerBoundaryIs"
            } else {
                "innerBoundaryIs"
            };
            let _ = write!(
                out,
                "<{side}><LinearRing><coordinates>{}</coordinates></LinearRing></{side}>",
                coordinates(ring)
            );
        }
        out.push_str("</Polygon>\n");
    }
    out.push_str("</MultiGeometry></Placemark>\n");
    Ok(())
}

fn coordinates(ring: &[Position]) -> String {
    let places: Vec<String> = ring
        .iter()
        .filter_map(|position| match position.as_slice() {
            [lon, lat, ..] => Some(format!("{lon:.8},{lat:.8}")),
            _ => None,
        })
        .collect();
    places.join(" ")
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::trial::chance::Chance;

    #[test]
    fn it_is_well_formed_whatever_things_are_called() {
        let mut measured = sample::random_lawn(&mut Chance::stream(11, "kml"), false);
        measured.survey.name = "]]><x>&\u{0}".into();
        for deduction in &mut measured.drawing.deductions {
            deduction.label = "<Placemark>".into();
        }
        let text = String::from_utf8(file(&measured).expect("a file")).expect("text");
        let mut reader = quick_xml::Reader::from_str(&text);
        let mut placemarks = 0;
        loop {
            match reader.read_event() {
                Ok(quick_xml::events::Event::Eof) => break,
                Ok(quick_xml::events::Event::Start(e)) if e.name().as_ref() == "Placemark" => {
                    placemarks += 1;
                }
                Ok(_) => {}
                Err(error) => panic!("{error}"),
            }
        }
        let drawing = &measured.drawing;
        assert_eq!(
            placemarks,
            drawing.lawns.len() + drawing.deductions.len() + drawing.sides.len()
        );
    }
}
