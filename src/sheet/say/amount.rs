//! Lengths, areas, speeds and times of day as the sentences of notices and refusals have them, in the reader's units.

use crate::fix::DAY_S;
use crate::units::{FOOT_M, Units, rough};

/// The international mile.
const MILE_M: f64 = 5280.0 * FOOT_M;

/// A length with its unit: metres with so many decimals; inches below a foot, else feet.
pub(super) fn length(units: Units, m: f64, digits: usize) -> String {
    match units {
        Units::Metric => format!("{m:.digits$} m"),
        Units::Imperial if m < FOOT_M => units.small_length(m),
        Units::Imperial => format!("{} ft", rough(units.length(m))),
    }
}

/// An area with its unit: square metres with so many decimals, or square feet.
pub(super) fn area(units: Units, m2: f64, digits: usize) -> String {
    match units {
        Units::Metric => format!("{m2:.digits$} m²"),
        Units::Imperial => format!("{} ft²", rough(units.area(m2))),
    }
}

/// A speed in metres per second and kilometres per hour, or in miles an hour.
pub(super) fn pace(m_s: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{m_s:.1} m/s ({:.0} km/h)", 3.6 * m_s),
        Units::Imperial => format!("{:.0} miles an hour", 3600.0 * m_s / MILE_M),
    }
}

/// An amount without its unit, for "from 12 to 15 m", where the unit stands only behind the second number.
pub(super) fn bare(amount: String) -> String {
    amount
        .rsplit_once(' ')
        .map_or(amount.clone(), |(number, _)| number.to_owned())
}

/// How far away something is: in kilometres or miles where it is far.
pub(super) fn distance(m: f64, units: Units) -> String {
    match (m, units) {
        (m, Units::Metric) if m >= 1000.0 => format!("{:.1} km", m / 1000.0),
        (m, Units::Imperial) if m >= MILE_M => format!("{:.1} miles", m / MILE_M),
        (m, units) => length(units, m, usize::from(m < 10.0)),
    }
}

/// A time of day, to the second, from seconds since any midnight.
pub(super) fn clock(t_s: f64) -> String {
    let s = t_s.rem_euclid(DAY_S) as u32;
    format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
}
