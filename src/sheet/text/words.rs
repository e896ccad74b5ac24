//! Single facts of a survey in an estimator's words: chances, dates, slopes, receivers, causes of error, files. The sheets and the report
//! share them.

use crate::cause::Cause;
use crate::lawn::Kind;
use crate::order::Slope;
use crate::read::{LogFile, LogKind};
use crate::survey::Measured;
use crate::survey::measured::{Band, DeductionFacts, Receiver, SigmaSource};
use crate::units::{Rounded, Units, fixed, two_figures};

/// A confidence (0 to 1) in words, as in "95 times in 100".
pub(crate) fn chance(confidence: f64) -> String {
    let in_hundred = 100.0 * confidence;
    if (in_hundred - in_hundred.round()).abs() < 1e-9 {
        format!("{in_hundred:.0} times in 100")
    } else {
        format!("{} times in 1000", fixed(10.0 * in_hundred, 0))
    }
}

/// A date in words: "14 May 2026" for "2026-05-14". Anything that is no date stays as it is.
pub(crate) fn date(iso: &str) -> String {
    match iso.parse::<jiff::civil::Date>() {
        Ok(date) => date.strftime("%-d %B %Y").to_string(),
        Err(_) => iso.to_owned(),
    }
}

/// How a deduction was measured, and its whole area where a part of it lies outside the lawn.
pub(crate) fn taken_off(deduction: &DeductionFacts, units: Units) -> String {
    let way = match (deduction.kind, deduction.radius_m) {
        (Kind::Bed, Some(m)) => format!("circle, {} across", across(2.0 * m, units)),
        (Kind::Bed, None) => "circle".to_owned(),
        (Kind::Walked, _) => "walked round".to_owned(),
        (Kind::Path, _) => "walked along its middle".to_owned(),
        (Kind::Taped, _) => "taped".to_owned(),
    };
    let outside = deduction.area_m2 - deduction.deducted_m2;
    if outside > 0.005 * deduction.area_m2.max(0.01) {
        format!("{way} ({} in all)", units.plain_area(deduction.area_m2))
    } else {
        way
    }
}

/// The slope in words, as in "slope 12 % (standard error 2 %), falling south (180°), as given in the job sheet".
pub(crate) fn slope(slope: &Slope) -> String {
    let fall = match slope.fall_deg {
        Some(deg) => format!(", falling {} ({deg:.0}°)", compass(deg)),
        None => String::new(),
    };
    let from = match slope.source {
        "given" => "as given in the job sheet",
        _ => "from the heights in the log",
    };
    let shown = crate::units::Rounded::new(slope.percent, slope.sigma_percent);
    format!(
        "slope {} % (standard error {} %){fall}, {from}",
        shown.value, shown.uncertainty
    )
}

/// The slope in a few words, as in "12 % to south".
#[cfg(feature = "sheets")]
pub(crate) fn fall(slope: &Slope) -> String {
    let towards = slope
        .fall_deg
        .map_or(String::new(), |deg| format!(" to {}", compass(deg)));
    format!(
        "{} %{towards}",
        crate::units::Rounded::new(slope.percent, slope.sigma_percent).value
    )
}

/// The nearest of the eight points of the compass.
fn compass(deg: f64) -> &'static str {
    const WINDS: [&str; 8] = [
        "north",
        "north-east",
        "east",
        "south-east",
        "south",
        "south-west",
        "west",
        "north-west",
    ];
    let eighth = (deg.rem_euclid(360.0) / 45.0).round() as usize;
    WINDS.get(eighth % 8).copied().unwrap_or("north")
}

fn across(m: f64, units: Units) -> String {
    match units {
        Units::Metric => format!("{} m", fixed(m, 2)),
        Units::Imperial => units.plain_length(m),
    }
}

/// Which kind of receiver it was and how far a position may be out; of a drawing, how far a corner may be out.
pub(crate) fn receiver(band: &Band, measured: &Measured, units: Units) -> String {
    if measured.is_drawn() {
        let from = match band.sigma_source {
            SigmaSource::Given => "as you gave it",
            SigmaSource::Assumed => "assumed, because the list does not say",
            _ => "as the list says",
        };
        return format!(
            "Drawn or listed, not walked. A corner is out by about {} each way (one sigma), {from}.",
            units.small_length(band.sigma_m)
        );
    }
    let kind = kind(band.receiver);
    let from = match band.sigma_source {
        SigmaSource::Gst => "by what the receiver itself states in the log",
        SigmaSource::Hdop => "usual for its kind and the satellites it saw",
        SigmaSource::Laps => "by how unsteady the walk is",
        SigmaSource::Given => "as you gave it",
        SigmaSource::Assumed => "assumed, because the log does not say",
    };
    let mut text = format!(
        "Walked with {kind}. One position is out by about {} each way (one sigma), {from}.",
        units.small_length(band.sigma_m)
    );
    if let Some(s) = band.correlation_s {
        text.push_str(&format!(
            " Such an error lasts for about {} s.",
            two_figures(s)
        ));
    }
    if band.sigma_source != SigmaSource::Given {
        text.push_str(" The band rests on this receiver erring as others of its kind do.");
    }
    text
}

/// What kind of receiver, in words.
pub(crate) fn kind(receiver: Receiver) -> &'static str {
    match receiver {
        Receiver::Autonomous => "a receiver on its own, without corrections (phone grade)",
        Receiver::Differential => "a receiver with satellite or differential corrections",
        Receiver::RtkFloat => "an RTK receiver that had not settled (float)",
        Receiver::RtkFixed => "an RTK receiver with a fixed solution",
        Receiver::Unknown => "a receiver the log says nothing about",
    }
}

/// How the lawn was measured, in a few words.
pub(crate) fn by_what(measured: &Measured) -> &'static str {
    let Some(band) = &measured.band else {
        return "taped";
    };
    if measured.is_drawn() {
        return "drawn or listed";
    }
    match band.receiver {
        Receiver::Autonomous => "walked, phone grade",
        Receiver::Differential => "walked, with satellite corrections",
        Receiver::RtkFloat => "walked, RTK float",
        Receiver::RtkFixed => "walked, RTK fixed",
        Receiver::Unknown => "walked, receiver unknown",
    }
}

/// What was done on the day of the survey, in one word that goes before the date.
#[cfg(feature = "sheets")]
pub(crate) fn measured_by(measured: &Measured) -> &'static str {
    match (&measured.ring, measured.taped.shapes.is_empty()) {
        (Some(ring), _) if !ring.drawn => "walked",
        (None, false) => "taped",
        _ => "measured",
    }
}

/// A cause of error in plain words; `drawn` where nobody walked.
pub(crate) fn cause(cause: Cause, drawn: bool) -> &'static str {
    match cause {
        Cause::Position if drawn => "the places of the corners",
        Cause::Pole if drawn => "reading off each corner",
        Cause::Edge if drawn => "how truly the edge was drawn",
        Cause::Position => "the receiver's positions",
        Cause::Pole => "the antenna swaying on its pole",
        Cause::Edge => "how truly the edge was followed",
        Cause::Sampling => "corners cut between positions",
        Cause::Closing => "closing the walk at its start",
        Cause::Gaps => "stretches without positions",
        Cause::Beds => "the size of round beds",
        Cause::Paths => "the width of paths",
    }
}

/// A distance on the ground in the unit that suits its size.
pub(crate) fn gap(m: f64, units: Units) -> String {
    match units {
        Units::Metric if m < 0.1 => format!("{:.0} cm", 100.0 * m),
        Units::Metric => format!("{} m", two_figures(m)),
        Units::Imperial => units.small_length(m),
    }
}

/// One log in one sentence.
pub(crate) fn file(file: &LogFile) -> String {
    let kind = match file.kind {
        LogKind::Nmea => "NMEA",
        LogKind::Gpx => "GPX",
        LogKind::Ubx => "UBX",
        LogKind::Kml => "KML",
        LogKind::Pos => "post-processed solution",
        LogKind::Gpsd => "gpsd reports",
        LogKind::Android => "Android log",
        LogKind::Tcx => "TCX",
        LogKind::Points => "points",
        LogKind::Tape => "tape",
    };
    let mut text = format!("{}: {kind}, {} lines", file.name, file.lines);
    if file.kind != LogKind::Tape {
        text.push_str(&format!(", {} positions", file.fixes));
    }
    if file.damaged > 0 {
        text.push_str(&format!(", {} damaged", file.damaged));
    }
    if !file.first_time.is_empty() {
        text.push_str(&format!(
            ", {} to {} UTC",
            clock(&file.first_time),
            clock(&file.last_time)
        ));
    }
    text
}

/// The time of day of an ISO 8601 time, to the second.
fn clock(iso: &str) -> &str {
    let time = iso.split_once('T').map_or(iso, |(_, time)| time);
    time.get(..8).unwrap_or(time).trim_end_matches('Z')
}

/// A deduction's area with as many decimals as the net area, or one more where that would leave nothing of it.
pub(crate) fn small_amount(value: f64, shown: &Rounded) -> String {
    match value.abs() * 10f64.powi(shown.digits) < 10.0 {
        true => two_figures(value),
        false => fixed(at_digits(value, shown.digits), shown.digits),
    }
}

/// The value rounded to so many decimals; a negative number of them rounds to tens or hundreds.
pub(super) fn at_digits(value: f64, digits: i32) -> f64 {
    (value * 10f64.powi(digits)).round() / 10f64.powi(digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_dates_and_clocks() {
        assert_eq!(chance(0.95), "95 times in 100");
        assert_eq!(chance(0.995), "995 times in 1000");
        assert_eq!(date("2026-05-14"), "14 May 2026");
        assert_eq!(date("some day"), "some day");
        assert_eq!(clock("2026-05-14T09:30:01.000Z"), "09:30:01");
        assert_eq!(clock("09:30:01Z"), "09:30:01");
    }
}
