//! Readings between corners other than plain lengths: `[[square]]` (an angle) and `[[offset]]` (a distance from a line).

use super::keys::{Keys, Limits};
use super::shape::Hand;
use crate::process::hand::{SQUARE_SIGMA_DEG, TRIANGLE_SIGMA_M};

/// `[[square]]`: a corner that was found square, by a builder's square or by taping a triangle into it.
#[derive(Debug, Clone, PartialEq)]
pub struct Square {
    /// The corner's letter.
    pub corner: String,
    /// The angle found, degrees; 90 unless a triangle was taped.
    pub angle_deg: f64,
    /// One sigma, degrees.
    pub sigma_deg: f64,
}

/// `[[offset]]`: a point measured at right angles from the line between two others.
#[derive(Debug, Clone, PartialEq)]
pub struct Offset {
    /// The corner or mark measured to.
    pub point: String,
    /// Where the line begins.
    pub from: String,
    /// Where it ends.
    pub to: String,
    /// Distance at right angles to the line, metres, 0 or more.
    pub offset_m: f64,
    /// Which side of the line the point is on, looking from `from` to `to`; unless it is told, the side on which the walk has it.
    pub side: Option<Hand>,
    /// How far along the line, from `from`, the foot of the offset lies, metres, if that was taped too.
    pub chainage_m: Option<f64>,
    /// Error of the offset, metres, one sigma.
    pub sigma_m: Option<f64>,
}

const LENGTH: Limits = Limits::POSITIVE.up_to(10_000.0);
const OFFSET: Limits = Limits::NOT_NEGATIVE.up_to(10_000.0);
const SIGMA: Limits = Limits::POSITIVE.up_to(100.0);

impl Square {
    /// Reads one `[[square]]`.
    #[must_use]
    pub fn read(mut keys: Keys<'_>) -> Option<Square> {
        let corner = name(&mut keys, "corner");
        let along = keys.lengths_m("along_m", LENGTH);
        let across_m = keys.length_m("across_m", LENGTH);
        let sigma = keys.number("sigma_deg", Limits::POSITIVE.up_to(45.0));
        if keys.has("along_m") != keys.has("across_m") {
            keys.fault(
                None,
                format!("{} has only one of along_m and across_m.", keys.name()),
                "A taped triangle needs both: along_m = [3, 4], across_m = 5.0.",
            );
        }
        let taped = match (along.as_deref(), across_m) {
            (Some([a, b]), Some(c)) => {
                let found = triangle(*a, *b, c);
                if found.is_none() {
                    keys.fault(
                        Some("across_m"),
                        format!("{}: {a}, {b} and {c} m make no triangle.", keys.name()),
                        "Tape along both edges from the corner, then across between the two marks.",
                    );
                }
                found
            }
            (Some([_, _]), None) | (None, _) => None,
            _ => {
                keys.fault(
                    Some("along_m"),
                    format!("{} along_m needs two lengths.", keys.name()),
                    "The lengths marked off along the two edges from the corner.",
                );
                None
            }
        };
        keys.default_is("sigma_deg", SQUARE_SIGMA_DEG);
        keys.done();
        let (angle_deg, sigma_deg) = match taped {
            Some((angle_deg, sigma_deg)) => (angle_deg, sigma.unwrap_or(sigma_deg)),
            None => (90.0, sigma.unwrap_or(SQUARE_SIGMA_DEG)),
        };
        Some(Square {
            corner: corner?,
            angle_deg,
            sigma_deg,
        })
    }
}

/// Angle between the sides `a` and `b` of a triangle and its sigma, degrees: `cos C = (a² + b² - c²) / 2ab`, `dC/dc = c / (a b sin C)`, and
/// likewise by the other sides. `None` where the three make no triangle.
fn triangle(a: f64, b: f64, c: f64) -> Option<(f64, f64)> {
    let cos = (a * a + b * b - c * c) / (2.0 * a * b);
    if !(-1.0 < cos && cos < 1.0) {
        return None;
    }
    let angle = cos.acos();
    let sin = angle.sin();
    let by_c = c / (a * b * sin);
    let by_a = (b * cos - a) / (a * b * sin);
    let by_b = (a * cos - b) / (a * b * sin);
    let sigma = TRIANGLE_SIGMA_M * (by_a * by_a + by_b * by_b + by_c * by_c).sqrt();
    Some((angle.to_degrees(), sigma.to_degrees()))
}

impl Offset {
    /// Reads one `[[offset]]`.
    #[must_use]
    pub fn read(mut keys: Keys<'_>) -> Option<Offset> {
        let point = name(&mut keys, "point");
        let (from, to) = (name(&mut keys, "from"), name(&mut keys, "to"));
        let offset = keys.length_m("offset_m", OFFSET);
        let offset_m = keys.need("offset_m", offset, "what the tape said");
        let side = keys.choice("side", &[("left", Hand::Left), ("right", Hand::Right)]);
        let chainage_m = keys.length_m("chainage_m", OFFSET);
        let sigma_m = keys.length_m("sigma_m", SIGMA);
        if let (Some(point), Some(from), Some(to)) = (&point, &from, &to)
            && (point == from || point == to || from == to)
        {
            keys.fault(
                None,
                format!("{} needs three different points.", keys.name()),
                "An offset is taken from the line between two points to a third.",
            );
        }
        keys.done();
        Some(Offset {
            point: point?,
            from: from?,
            to: to?,
            offset_m: offset_m?,
            side,
            chainage_m,
            sigma_m,
        })
    }
}

fn name(keys: &mut Keys<'_>, key: &'static str) -> Option<String> {
    let name = keys.text(key);
    keys.need(key, name, "a corner's letter or a mark's name")
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_triangle_taped_into_a_corner() {
        // 3-4-5 with 5.05 instead of 5: 91.200 degrees; 6-8-10 with 10.05: 90.598 (law of cosines, recomputed).
        let (angle, sigma) = triangle(3.0, 4.0, 5.05).expect("a triangle");
        assert_abs_diff_eq!(angle, 91.200, epsilon = 5e-4);
        assert!(sigma > 0.2 && sigma < 0.6, "{sigma}");
        let (angle, _) = triangle(6.0, 8.0, 10.05).expect("a triangle");
        assert_abs_diff_eq!(angle, 90.598, epsilon = 5e-4);
        assert!(triangle(3.0, 4.0, 7.5).is_none());
    }
}
