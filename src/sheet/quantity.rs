//! Amounts as a merchant reads them: rolls, cubic metres or yards, tonnes or tons, litres or gallons, money. With imperial units the
//! metric amount stands beside it, since goods may be sold by either.

use crate::order::Ordered;
use crate::order::price::PriceLine;
use crate::units::{FOOT_M, INCH_M, POUND_KG, Units, YARD_M, fixed, rough, two_figures};

/// One short ton is 2000 lb.
const SHORT_TON_T: f64 = 2.0 * POUND_KG;
/// One US gallon is 231 cubic inches.
const GALLON_L: f64 = 231.0 * INCH_M * INCH_M * INCH_M * 1000.0;

/// The plural of a noun: "rolls" of "roll", "deliveries" of "delivery", "turves" of "turf".
pub(super) fn many(noun: &str) -> String {
    match noun {
        "turf" => "turves".to_owned(),
        _ => match noun.strip_suffix('y') {
            Some(stem) if !stem.ends_with(['a', 'e', 'o', 'u']) => format!("{stem}ies"),
            _ => format!("{noun}s"),
        },
    }
}

/// A number of things, as in "1 roll" or "2 rolls".
pub(crate) fn count(number: u64, noun: &str) -> String {
    if number == 1 {
        format!("1 {noun}")
    } else {
        format!("{number} {}", many(noun))
    }
}

/// A number with at most so many decimals and no zeros at the end: 2.50 is "2.5", 18.000 is "18".
pub(crate) fn at_most(value: f64, decimals: i32) -> String {
    let text = fixed(value, decimals);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// The size of a piece: "0.61 x 1.64 m", "16 x 24 in".
pub(super) fn size(width_m: f64, length_m: f64, units: Units) -> String {
    match units {
        // To the centimetre, or to the millimetre where either side is no whole number of centimetres.
        Units::Metric => {
            let odd = |m: f64| (100.0 * m - (100.0 * m).round()).abs() > 0.05;
            let digits = if odd(width_m) || odd(length_m) { 3 } else { 2 };
            format!("{} x {} m", fixed(width_m, digits), fixed(length_m, digits))
        }
        Units::Imperial => format!(
            "{} x {} in",
            at_most(width_m / INCH_M, 1),
            at_most(length_m / INCH_M, 1)
        ),
    }
}

/// A depth of soil or of water: "50 mm", "2 in".
pub(super) fn depth(m: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} mm", at_most(1000.0 * m, 1)),
        Units::Imperial => format!("{} in", at_most(m / INCH_M, 2)),
    }
}

/// A volume, as in "12.43 m³" or "16.26 yd³ (12.43 m³)".
pub(super) fn volume(m3: f64, units: Units) -> String {
    let shown = |v: f64| {
        if v >= 0.995 {
            fixed(v, 2)
        } else {
            two_figures(v)
        }
    };
    match units {
        Units::Metric => format!("{} m³", shown(m3)),
        Units::Imperial => format!("{} yd³ ({} m³)", shown(m3 / YARD_M.powi(3)), shown(m3)),
    }
}

/// What is bought by weight, to the gram, as it is charged for: fewer figures would order less than the lawn takes. "19.115 kg";
/// "42.15 lb (19.115 kg)".
pub(super) fn bought_kg(kg: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} kg", at_most(kg, 3)),
        Units::Imperial => format!("{} lb ({} kg)", at_most(kg / POUND_KG, 2), at_most(kg, 3)),
    }
}

/// What is bought by volume, to the litre, as it is charged for: "0.331 m³"; "0.433 yd³ (0.331 m³)".
pub(super) fn bought_m3(m3: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} m³", at_most(m3, 3)),
        Units::Imperial => {
            format!(
                "{} yd³ ({} m³)",
                at_most(m3 / YARD_M.powi(3), 3),
                at_most(m3, 3)
            )
        }
    }
}

/// A weight of soil or the like, as in "17.4 t" or "19.2 short tons (17.4 t)".
pub(super) fn tonnes(t: f64, units: Units) -> String {
    let shown = |v: f64| {
        if v >= 0.995 {
            at_most(v, 1)
        } else {
            two_figures(v)
        }
    };
    match units {
        Units::Metric => format!("{} t", shown(t)),
        Units::Imperial => format!("{} short tons ({} t)", shown(t / SHORT_TON_T), shown(t)),
    }
}

/// How much soil weighs for its volume, or from how much to how much, as in "1.4 t/m³" or "2360 lb/yd³ (1.4 t/m³)".
pub(super) fn density(t_m3: &[f64], units: Units) -> String {
    let each = |shown: &dyn Fn(f64) -> String| {
        let all: Vec<String> = t_m3.iter().map(|one| shown(*one)).collect();
        all.join(" to ")
    };
    let metric = format!("{} t/m³", each(&|t| at_most(t, 3)));
    match units {
        Units::Metric => metric,
        Units::Imperial => {
            // Rounded to ten pounds, since it is never known better.
            let tens = |t: f64| fixed(100.0 * t * YARD_M.powi(3) / POUND_KG, 0) + "0";
            format!("{} lb/yd³ ({metric})", each(&tens))
        }
    }
}

/// A volume of water, as in "2321 L" or "613 US gal (2321 L)".
pub(super) fn litres(l: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} L", rough(l)),
        Units::Imperial => format!("{} US gal ({} L)", rough(l / GALLON_L), rough(l)),
    }
}

/// A weight for an area, as in "35 g/m²" or "7.2 lb/1000 ft² (35 g/m²)".
pub(super) fn per_area(g_per_m2: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} g/m²", rough(g_per_m2)),
        Units::Imperial => format!(
            "{} lb/1000 ft² ({} g/m²)",
            rough(g_per_m2 * FOOT_M * FOOT_M / POUND_KG),
            rough(g_per_m2)
        ),
    }
}

/// An amount of money for one of something, as in "4.50" or "260". One decimal becomes two.
pub(super) fn rate(line: &PriceLine) -> String {
    let mut rate = line.rate;
    if rate.scale() == 1 {
        rate.rescale(2);
    }
    rate.to_string()
}

/// The same in an order: where both come, deliveries are of the turf, as what brings the soil is not counted.
pub(super) fn charged_of(order: &Ordered, line: &PriceLine, units: Units) -> String {
    let many = charged(line, units);
    match line.item == "delivery" && order.turf.is_some() && order.soil.is_some() {
        true => format!("{many} of turf"),
        false => many,
    }
}

/// How much is charged for and at what rate, as in "215 pieces at 3.25".
pub(super) fn priced(line: &PriceLine) -> String {
    format!("{} at {}", charged(line, Units::Metric), rate(line))
}

/// How much is charged for, as in "215 pieces", "17.5 m²" or "188 ft² (17.5 m²)".
pub(super) fn charged(line: &PriceLine, units: Units) -> String {
    let unit = match line.unit.as_str() {
        "m2" => "m²".to_owned(),
        "m3" => "m³".to_owned(),
        "m" | "t" | "kg" | "" => line.unit.clone(),
        word if line.quantity == rust_decimal::Decimal::ONE => word.to_owned(),
        word if word.chars().all(char::is_alphabetic) && !word.ends_with('s') => many(word),
        word => word.to_owned(),
    };
    let space = if unit.is_empty() { "" } else { " " };
    let metric = format!("{}{space}{unit}", line.quantity);
    let (one, name) = match (units, line.unit.as_str()) {
        (Units::Imperial, "m2") => (units.area(1.0), "ft²"),
        (Units::Imperial, "m") => (units.length(1.0), "ft"),
        _ => return metric,
    };
    let quantity = rust_decimal::prelude::ToPrimitive::to_f64(&line.quantity);
    let shown = rough(one * quantity.unwrap_or(f64::NAN));
    format!("{shown} {name} ({metric})")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_keep_what_is_sold_by() {
        assert_eq!(size(0.61, 1.64, Units::Metric), "0.61 x 1.64 m");
        assert_eq!(size(0.4, 2.5, Units::Metric), "0.40 x 2.50 m");
        assert_eq!(size(0.4064, 0.6096, Units::Metric), "0.406 x 0.610 m");
        assert_eq!(size(0.4064, 0.6096, Units::Imperial), "16 x 24 in");
    }

    /// US handbooks: a cubic yard is 27 cubic feet, 0.7646 m³; a gallon 3.785 L; 1 lb/1000 sq ft is 4.88 g/m² (Cornell, *Safe Sports
    /// Fields*, seeding rates).
    #[test]
    fn american_units_beside_the_metric() {
        assert_eq!(volume(7.646, Units::Imperial), "10.00 yd³ (7.65 m³)");
        assert_eq!(litres(3785.4, Units::Imperial), "1000 US gal (3785 L)");
        assert_eq!(
            per_area(24.41, Units::Imperial),
            "5.0 lb/1000 ft² (24 g/m²)"
        );
        assert_eq!(
            density(&[1.2, 1.7], Units::Imperial),
            "2020 to 2870 lb/yd³ (1.2 to 1.7 t/m³)"
        );
        assert_eq!(tonnes(17.42, Units::Imperial), "19.2 short tons (17.4 t)");
    }

    /// Two figures of 15.44 kg would be 15 kg: 2.8 % short of what the lawn takes.
    #[test]
    fn what_is_bought_is_told_as_it_is_charged_for() {
        assert_eq!(bought_kg(15.44, Units::Metric), "15.44 kg");
        assert_eq!(bought_kg(19.1149, Units::Metric), "19.115 kg");
        // 1 lb is 0.45359237 kg.
        assert_eq!(bought_kg(19.1149, Units::Imperial), "42.14 lb (19.115 kg)");
        assert_eq!(bought_m3(0.33106, Units::Metric), "0.331 m³");
        assert_eq!(bought_m3(0.33106, Units::Imperial), "0.433 yd³ (0.331 m³)");
    }

    #[test]
    fn one_and_many() {
        assert_eq!(count(1, "roll"), "1 roll");
        assert_eq!(count(0, "turf"), "0 turves");
        assert_eq!(count(2, "delivery"), "2 deliveries");
        assert_eq!(count(2, "day"), "2 days");
        assert_eq!(at_most(18.0, 6), "18");
        assert_eq!(at_most(9.048_17, 6), "9.04817");
    }
}
