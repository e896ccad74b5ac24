//! The result as a JSON document for programs, schema `boundwalk/result/1`; its JSON Schema is `docs/result.schema.json`. The fields
//! are those of [`Measured`]; this module sees to it that no number in it silently becomes `null`.

use crate::fault::Fault;
use crate::survey::Measured;
use crate::visible::in_json;

/// The document, indented, with a newline at its end. Numbers carry full precision.
///
/// # Errors
/// When a number of the areas or points is not finite: JSON would silently say `null`.
pub fn document(measured: &Measured) -> Result<Vec<u8>, Fault> {
    finite(measured)?;
    let mut bytes = serde_json::to_vec_pretty(measured).map_err(|error| unwritable(&error))?;
    bytes.push(b'\n');
    Ok(in_json(bytes))
}

/// The document on one line, with a newline at its end, so that many make a stream (NDJSON).
///
/// # Errors
/// As [`document`].
pub fn line(measured: &Measured) -> Result<Vec<u8>, Fault> {
    finite(measured)?;
    let mut bytes = serde_json::to_vec(measured).map_err(|error| unwritable(&error))?;
    bytes.push(b'\n');
    Ok(in_json(bytes))
}

/// A fault where a number of the areas or points is not finite.
fn finite(measured: &Measured) -> Result<(), Fault> {
    let area = measured.area.iter().flat_map(|a| {
        [
            a.gross_m2,
            a.deductions_m2,
            a.net_m2,
            a.sigma_m2,
            a.coverage_factor,
            a.band_m2,
            a.low_m2,
            a.high_m2,
        ]
    });
    let lawns = measured.lawns.iter().flat_map(|l| [l.net_m2, l.sigma_m2]);
    let points = measured
        .points
        .iter()
        .flat_map(|p| [p.lat.unwrap_or(0.0), p.lon.unwrap_or(0.0), p.x_m, p.y_m]);
    if area.chain(lawns).chain(points).all(f64::is_finite) {
        Ok(())
    } else {
        Err(Fault::withheld(
            "not-finite",
            "a number of the result is not finite, so it is not written.",
            "This is a defect of boundwalk: please report it with the log.",
        ))
    }
}

fn unwritable(error: &serde_json::Error) -> Fault {
    Fault::withheld(
        "json",
        format!("the result could not be written as JSON ({error})."),
        "",
    )
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::kept::keep;

    #[test]
    fn numbers_come_back_as_they_went() {
        let garden = sample::garden();
        let bytes = document(&garden).unwrap_or_default();
        keep("result", &bytes);
        let back: serde_json::Value = serde_json::from_slice(&bytes).unwrap_or_default();
        let net = garden.area.as_ref().map(|a| a.net_m2);
        assert_eq!(back["area"]["net_m2"].as_f64(), net);
        assert_eq!(back["schema"], "boundwalk/result/1");
        assert_eq!(back["deductions"][0]["radius_m"], serde_json::Value::Null);
        assert_eq!(
            line(&garden)
                .unwrap_or_default()
                .iter()
                .filter(|b| **b == b'\n')
                .count(),
            1
        );
    }

    #[test]
    fn withheld_has_no_area() {
        let bytes = document(&sample::withheld()).unwrap_or_default();
        keep("result", &bytes);
        let back: serde_json::Value = serde_json::from_slice(&bytes).unwrap_or_default();
        assert_eq!(back["status"], "withheld");
        assert!(back.get("area").is_some_and(serde_json::Value::is_null));
    }

    #[test]
    fn what_is_not_finite_is_not_written() {
        let mut garden = sample::garden();
        if let Some(area) = &mut garden.area {
            area.net_m2 = f64::NAN;
        }
        assert!(document(&garden).is_err());
    }
}
