//! Areas of taped figures, each with one sigma from the tape and, where the figure was only sampled, one from the rule.
//!
//! Sigmas are of first order: `sum (dA/dl)² sigma²` over the lengths `l` that were taped, which are taken as read independently.

use super::figure::{Closing, close, refuse_open_triangle};
use super::offsets::{Stretch, radii_rule_sigma_m2, strip};
use crate::fault::Fault;
use crate::job::shape::{Across, Figure, Ordinates, Rule, Shape};
use crate::process::hand::TAPE_SIGMA_M;
use serde::Serialize;
use std::f64::consts::PI;

/// An area by a rule of thumb in common use, for comparison only.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shortcut {
    pub rule: &'static str,
    pub area_m2: f64,
}

/// One figure, measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Taped {
    pub label: String,
    pub kind: &'static str,
    pub area_m2: f64,
    /// One sigma: tape and rule together.
    pub sigma_m2: f64,
    /// Whether it is taken off instead of added.
    pub deducted: bool,
    /// One sigma from the tape's error.
    pub tape_sigma_m2: f64,
    /// One sigma from what was not measured between offsets or radii; zero for figures that are fully measured.
    pub rule_sigma_m2: f64,
    pub perimeter_m: Option<f64>,
    pub shortcut: Option<Shortcut>,
    /// For offsets only: which rule was used where.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stretches: Vec<Stretch>,
    /// For polygons only: how well their lengths fit each other.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub closing: Option<Closing>,
}

/// Area of one figure.
///
/// # Errors
/// `Usage` where a length isn't above zero, a triangle can't close, offsets are fewer than two, negative or out of order,
/// or a polygon can't be drawn; the message names the shape.
pub fn measure(shape: &Shape) -> Result<Taped, Fault> {
    let sigma_m = shape.sigma_m.unwrap_or(TAPE_SIGMA_M);
    if !(sigma_m >= 0.0 && sigma_m.is_finite()) {
        return Err(bad(
            shape,
            "sigma_m is negative",
            "Give the tape's sigma in metres, such as 0.02.",
        ));
    }
    let sized = size(shape, sigma_m)?;
    if !(sized.area_m2 > 0.0 && sized.area_m2.is_finite() && sized.tape_sigma_m2.is_finite()) {
        return Err(bad(shape, "it has no area", "Check its lengths."));
    }
    Ok(Taped {
        label: shape.label.clone(),
        kind: shape.figure.kind(),
        area_m2: sized.area_m2,
        sigma_m2: sized.tape_sigma_m2.hypot(sized.rule_sigma_m2),
        deducted: shape.deduct,
        tape_sigma_m2: sized.tape_sigma_m2,
        rule_sigma_m2: sized.rule_sigma_m2,
        perimeter_m: sized.perimeter_m,
        shortcut: sized.shortcut,
        stretches: sized.stretches,
        closing: sized.closing,
    })
}

/// What measuring a figure gives, before it has its name. Fields that a kind of figure has not are 0 or empty.
#[derive(Default)]
struct Sized {
    area_m2: f64,
    tape_sigma_m2: f64,
    rule_sigma_m2: f64,
    perimeter_m: Option<f64>,
    shortcut: Option<Shortcut>,
    stretches: Vec<Stretch>,
    closing: Option<Closing>,
}

/// A figure with a formula for its area. Its sigma is that of one tape reading, `s`, times the length of the area's gradient by the
/// lengths taped.
fn by_formula(area_m2: f64, gradient: &[f64], perimeter_m: Option<f64>, s: f64) -> Sized {
    Sized {
        area_m2,
        tape_sigma_m2: s * gradient.iter().map(|g| g * g).sum::<f64>().sqrt(),
        perimeter_m,
        ..Sized::default()
    }
}

/// Area, perimeter and sigma of a figure whose lengths have one sigma of `s` metres.
fn size(shape: &Shape, s: f64) -> Result<Sized, Fault> {
    Ok(match &shape.figure {
        Figure::Rectangle {
            length_m: l,
            width_m: w,
            ..
        } => {
            above_zero(shape, &[("length_m", *l), ("width_m", *w)])?;
            by_formula(l * w, &[*w, *l], Some(2.0 * (l + w)), s)
        }
        Figure::Triangle {
            base_m: b,
            height_m: h,
            foot_m,
            ..
        } => {
            above_zero(shape, &[("base_m", *b), ("height_m", *h)])?;
            let around = foot_m.map(|foot| b + foot.hypot(*h) + (b - foot).hypot(*h));
            by_formula(0.5 * b * h, &[0.5 * h, 0.5 * b], around, s)
        }
        Figure::ThreeSides { sides_m, .. } => three_sides(shape, *sides_m, s)?,
        Figure::Circle { across, sector_deg } => circle(shape, *across, *sector_deg, s)?,
        Figure::Ellipse {
            length_m: l,
            width_m: w,
        } => ellipse(shape, *l, *w, s)?,
        Figure::Trapezoid {
            parallel_m: [a, b],
            height_m: h,
            ..
        } => {
            let lengths = [("parallel_m", *a), ("parallel_m", *b), ("height_m", *h)];
            above_zero(shape, &lengths)?;
            let gradient = [0.5 * h, 0.5 * h, 0.5 * (a + b)];
            by_formula(0.5 * (a + b) * h, &gradient, None, s)
        }
        Figure::Polygon {
            sides_m,
            diagonals,
            inward,
            ..
        } => {
            // A tape without any error cannot be adjusted; a tenth of a millimetre stands for none.
            let closed =
                close(sides_m, diagonals, inward, s.max(1e-4)).map_err(|f| named(shape, &f))?;
            Sized {
                area_m2: closed.area_m2,
                tape_sigma_m2: closed.sigma_m2,
                perimeter_m: Some(closed.perimeter_m),
                closing: Some(closed.report),
                ..Sized::default()
            }
        }
        Figure::Radii { radii_m } => radii(shape, radii_m, s)?,
        Figure::Offsets { rule, sides } => offsets(shape, *rule, sides, s)?,
    })
}

/// A triangle by its three sides.
fn three_sides(shape: &Shape, [a, b, c]: [f64; 3], s: f64) -> Result<Sized, Fault> {
    above_zero(shape, &[("sides_m", a), ("sides_m", b), ("sides_m", c)])?;
    refuse_open_triangle([a, b, c], ["Side 1", "Side 2", "Side 3"].map(String::from))
        .map_err(|f| named(shape, &f))?;
    let area = heron(a, b, c);
    // dA/da = a (b² + c² - a²) / 8A, from 16 A² = 2a²b² + 2b²c² + 2c²a² - a⁴ - b⁴ - c⁴.
    let by = |a: f64, b: f64, c: f64| a * (b * b + c * c - a * a) / (8.0 * area);
    let gradient = [by(a, b, c), by(b, a, c), by(c, a, b)];
    Ok(by_formula(area, &gradient, Some(a + b + c), s))
}

/// An ellipse by its length and its width.
fn ellipse(shape: &Shape, l: f64, w: f64, s: f64) -> Result<Sized, Fault> {
    above_zero(shape, &[("length_m", l), ("width_m", w)])?;
    let quarter = 0.25 * PI;
    let gradient = [quarter * w, quarter * l];
    let around = Some(ellipse_perimeter_m(l, w));
    Ok(Sized {
        shortcut: Some(Shortcut {
            rule: "0.8 x length x width",
            area_m2: 0.8 * l * w,
        }),
        ..by_formula(quarter * l * w, &gradient, around, s)
    })
}

/// The strips between a baseline and the edges on both sides of it, together.
fn offsets(shape: &Shape, rule: Rule, sides: &[Ordinates], s: f64) -> Result<Sized, Fault> {
    if sides.is_empty() {
        let advice = "Give offsets_m, at least two.";
        return Err(bad(shape, "it has no offsets", advice));
    }
    let mut total = Sized::default();
    let mut mean_m2 = 0.0;
    for side in sides {
        refuse_bad_offsets(shape, &side.chainage_m, &side.offsets_m)?;
        let strip = strip(side, rule, s);
        total.area_m2 += strip.area_m2;
        total.tape_sigma_m2 = total.tape_sigma_m2.hypot(strip.tape_sigma_m2);
        total.rule_sigma_m2 = total.rule_sigma_m2.hypot(strip.rule_sigma_m2);
        total.stretches.extend(strip.stretches);
        mean_m2 += strip.mean_offset_m2;
    }
    total.shortcut = Some(Shortcut {
        rule: "mean offset x length",
        area_m2: mean_m2,
    });
    Ok(total)
}

/// A circle, or a sector of one, by its radius or diameter. The edge of a sector has its two straight sides as well.
fn circle(shape: &Shape, across: Across, sector_deg: f64, s: f64) -> Result<Sized, Fault> {
    let (r, sigma_r, name) = match across {
        Across::Radius(r) => (r, s, "radius_m"),
        Across::Diameter(d) => (0.5 * d, 0.5 * s, "diameter_m"),
    };
    above_zero(shape, &[(name, r)])?;
    if !(sector_deg > 0.0 && sector_deg <= 360.0) {
        return Err(bad(
            shape,
            "sector_deg isn't between 0 and 360",
            "A quarter circle is 90.",
        ));
    }
    let part = sector_deg / 360.0;
    let straight = if part < 1.0 { 2.0 * r } else { 0.0 };
    Ok(Sized {
        area_m2: part * PI * r * r,
        tape_sigma_m2: part * 2.0 * PI * r * sigma_r,
        perimeter_m: Some(part * 2.0 * PI * r + straight),
        shortcut: Some(Shortcut {
            rule: "0.8 x diameter²",
            area_m2: part * 0.8 * 4.0 * r * r,
        }),
        ..Sized::default()
    })
}

/// Area from radii at equal angles: `pi mean(r²)`, the sum of the sectors. `pi (mean r)²`, the common
/// shortcut, reads low by `pi` times the variance of the radii.
fn radii(shape: &Shape, radii_m: &[f64], s: f64) -> Result<Sized, Fault> {
    if radii_m.len() < 3 {
        return Err(bad(
            shape,
            "it has fewer than three radii",
            "Tape at least three, better twelve or more.",
        ));
    }
    for r in radii_m {
        above_zero(shape, &[("radii_m", *r)])?;
    }
    let n = radii_m.len() as f64;
    let mean = radii_m.iter().sum::<f64>() / n;
    let mean_square = radii_m.iter().map(|r| r * r).sum::<f64>() / n;
    Ok(Sized {
        area_m2: PI * mean_square,
        tape_sigma_m2: 2.0 * PI / n * s * (n * mean_square).sqrt(),
        rule_sigma_m2: radii_rule_sigma_m2(radii_m),
        shortcut: Some(Shortcut {
            rule: "pi x (mean radius)²",
            area_m2: PI * mean * mean,
        }),
        ..Sized::default()
    })
}

/// Heron's formula in Kahan's order, exact also for needle-shaped triangles (W. Kahan, *Miscalculating area and angles
/// of a needle-like triangle*; from memory).
fn heron(a: f64, b: f64, c: f64) -> f64 {
    let mut sides = [a, b, c];
    sides.sort_by(|p, q| q.total_cmp(p));
    let [a, b, c] = sides;
    let product = (a + (b + c)) * (c - (a - b)) * (c + (a - b)) * (a + (b - c));
    0.25 * product.max(0.0).sqrt()
}

/// Ramanujan's second approximation; better than 0.05 % for any ellipse, 1e-6 for those at most twice as long as wide
/// (from memory; checked against the integral).
#[must_use]
pub fn ellipse_perimeter_m(length_m: f64, width_m: f64) -> f64 {
    let (a, b) = (0.5 * length_m, 0.5 * width_m);
    let h = ((a - b) / (a + b)).powi(2);
    PI * (a + b) * (1.0 + 3.0 * h / (10.0 + (4.0 - 3.0 * h).sqrt()))
}

/// Refuses offsets that give no area: fewer than two, negative ones, chainages that do not rise or do not match.
fn refuse_bad_offsets(shape: &Shape, chainage_m: &[f64], offsets_m: &[f64]) -> Result<(), Fault> {
    if offsets_m.len() < 2 {
        return Err(bad(
            shape,
            "it has fewer than two offsets",
            "An area needs an offset at each end at least; a zero counts.",
        ));
    }
    if chainage_m.len() != offsets_m.len() {
        return Err(bad(
            shape,
            &format!(
                "it has {} chainages for {} offsets",
                chainage_m.len(),
                offsets_m.len()
            ),
            "Give one chainage for each offset, or spacing_m.",
        ));
    }
    if let Some(y) = offsets_m.iter().find(|y| !(**y >= 0.0 && y.is_finite())) {
        return Err(bad(
            shape,
            &format!("the offset {y} is negative or no number"),
            "Offsets to the other side of the baseline go in the other list.",
        ));
    }
    let rising = chainage_m.windows(2).all(|w| matches!(w, [a, b] if b > a));
    if !rising || chainage_m.iter().any(|x| !x.is_finite()) {
        return Err(bad(
            shape,
            "its chainages don't rise",
            "Put chainages in order along the baseline, each once; the spacing must be above zero.",
        ));
    }
    Ok(())
}

/// Refuses lengths that are not above zero; each goes with the key that it has on the sheet.
fn above_zero(shape: &Shape, lengths: &[(&str, f64)]) -> Result<(), Fault> {
    for (name, value) in lengths {
        if !(*value > 0.0 && value.is_finite()) {
            return Err(bad(
                shape,
                &format!("{name} is {value}"),
                "Every length must be above zero.",
            ));
        }
    }
    Ok(())
}

/// The fault for a shape that is not possible.
fn bad(shape: &Shape, what: &str, advice: &str) -> Fault {
    Fault::usage(
        "shape",
        format!(
            "The shape \"{}\" ({}) isn't possible: {what}.",
            shape.label,
            shape.figure.kind()
        ),
        advice,
    )
}

/// The same fault, with the shape's name in it.
fn named(shape: &Shape, fault: &Fault) -> Fault {
    Fault::usage(
        fault.code(),
        format!(
            "The shape \"{}\" ({}) isn't possible. {}",
            shape.label,
            shape.figure.kind(),
            fault.what()
        ),
        fault.advice(),
    )
}
