//! What is said while a walk goes on: what is wrong at the moment and what to do, what was marked, the area and order so far. The facts
//! come from the room `live`; here they only become words.

use super::amount::{length, pace};
use crate::fix::Quality;
use crate::live::answer::Answer;
use crate::live::marks::What;
use crate::live::now::{Now, Wrong};
use crate::sheet::quantity::count;
use crate::units::{Rounded, Units};
use std::fmt::{self, Display, Formatter};

/// The kind of the receiver's solution (how it worked out its position) in a word or two.
#[must_use]
fn solution(quality: Quality) -> &'static str {
    match quality {
        Quality::RtkFixed => "fixed",
        Quality::RtkFloat => "float",
        Quality::Differential => "code, corrected",
        Quality::Autonomous | Quality::Pps => "code",
        Quality::DeadReckoning => "dead reckoning",
        Quality::Manual => "typed in",
        Quality::Simulator => "simulated",
        Quality::NoFix => "no position",
        Quality::Unknown => "not stated",
    }
}

/// What is wrong now, and what to do.
impl Wrong {
    /// What is wrong in a word or two, and what to do; lengths in these units.
    #[must_use]
    pub fn said(self, units: Units) -> String {
        match self {
            Wrong::NotKept { bytes } => format!(
                "NOT KEPT: the disk takes no more, {} kB wait: make room",
                bytes.div_ceil(1024)
            ),
            Wrong::Silent { for_s } => {
                format!("SILENT for {for_s:.0} s: stand still, look at cable and battery")
            }
            Wrong::NoPosition { for_s } => {
                format!("NO POSITION for {for_s:.0} s: stand still until it is back")
            }
            Wrong::Worse { is, was } => format!(
                "{}, was {}: stand still until it is back",
                solution(is).to_uppercase(),
                solution(was)
            ),
            Wrong::Float => "FLOAT: stand still until it is fixed".to_owned(),
            Wrong::Frozen { for_s } => {
                format!("FROZEN for {for_s:.0} s: the position does not move by its last digit")
            }
            Wrong::Jump { by_m } => {
                let by = length(units, by_m, 1);
                format!("JUMP of {by}: walk this stretch again")
            }
            Wrong::TooFast { m_s } => format!("TOO FAST: {}, walk the edge", pace(m_s, units)),
            Wrong::NoClock => "NO CLOCK: positions have no time".to_owned(),
            Wrong::ClockBack { by_s } => format!("CLOCK ran back by {by_s:.0} s"),
            Wrong::Torn { sentences } => {
                format!("TORN: {} lost on the way", count(sentences, "sentence"))
            }
            Wrong::Unmeasured => {
                "NOT MEASURED any more: the log is too long to be measured while it grows; all of it is at its end".to_owned()
            }
        }
    }
}

/// What was marked.
impl Display for What {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let named = |f: &mut Formatter<'_>, what: &str, name: &Option<String>| match name {
            Some(name) => write!(f, "{what} {name}"),
            None => f.write_str(what),
        };
        match self {
            What::Bed { diameter_m, label } => {
                named(f, "bed", label)?;
                write!(f, ", {diameter_m:.2} m across")
            }
            What::Corner(name) => named(f, "corner", name),
            What::Start => f.write_str("start of the edge"),
            What::End => f.write_str("end of the edge"),
            What::Lawn(name) => named(f, "new lawn", name),
            What::BedEdge(name) => named(f, "edge of a bed", name),
            What::Note(text) => write!(f, "note: {text}"),
        }
    }
}

/// A time of the day, to the second.
#[must_use]
pub fn time_of_day(tod_s: f64) -> String {
    let s = tod_s.max(0.0) as u64 % 86_400;
    format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
}

/// A length with one decimal and its unit.
fn rough_m(m: f64, units: Units) -> String {
    format!("{:.1} {}", units.length(m), units.length_unit())
}

/// The net area and its band, rounded; `None` where there is no area yet.
#[must_use]
pub(crate) fn area(answer: &Answer, units: Units) -> Option<Rounded> {
    let (net_m2, band_m2) = answer.net?;
    Some(units.rounded_area(net_m2, band_m2))
}

/// From how many to how many pieces the order may take, as in `204 to 215 rolls`; `None` without an order.
#[must_use]
pub(crate) fn pieces(answer: &Answer) -> Option<String> {
    let (noun, low, high) = answer.pieces.as_ref()?;
    Some(match low == high {
        true => count(*low, noun),
        false => format!("{low} to {}", count(*high, noun)),
    })
}

/// What would narrow the band, each in a line such as `one more lap: ± 2.0 to ± 1.4 m²`. What would not change the band as it is
/// shown is left out.
#[must_use]
fn next(answer: &Answer, units: Units) -> Vec<String> {
    let Some((net_m2, band_m2)) = answer.net else {
        return Vec::new();
    };
    let shown = |m2: f64| units.rounded_area(net_m2, m2).uncertainty;
    let each = answer.next.iter();
    let narrower = each.filter(|(_, after_m2)| shown(*after_m2) != shown(band_m2));
    narrower
        .map(|(remedy, after_m2)| {
            let unit = units.area_unit();
            format!(
                "{remedy}: ± {} to ± {} {unit}",
                shown(band_m2),
                shown(*after_m2)
            )
        })
        .collect()
}

/// What is seen at `now_s` (seconds since the start), each thing by its name.
#[must_use]
pub(crate) fn seen(now: &Now, now_s: f64, units: Units) -> Vec<(&'static str, String)> {
    let mut all = Vec::new();
    let solution = match now.solution(now_s) {
        Some((quality, age_s)) => format!("{}, {age_s:.1} s old", solution(quality)),
        None => "none yet".to_owned(),
    };
    all.push(("Solution", solution));
    if let Some(rate_hz) = now.rate_hz() {
        all.push((
            "Positions",
            format!("{rate_hz:.1} a second, {} kept", now.fixes),
        ));
    }
    if let Some(pace_m_s) = now.pace_m_s() {
        all.push(("Pace", format!("{} a second", rough_m(pace_m_s, units))));
    }
    if now.at().is_some() {
        all.push(("This lap", rough_m(now.track.lap_m(), units)));
        all.push(("To close", rough_m(now.track.gap_m, units)));
        all.push(("Laps", format!("{} done", now.track.laps)));
    }
    all
}

/// What the survey's answer says besides the [`area`] and the [`pieces`], which are shown apart from it: each thing by its name. Without
/// an area it is why there is none.
#[must_use]
pub(crate) fn answer(answer: &Answer, units: Units) -> Vec<(&'static str, String)> {
    let mut all = Vec::new();
    match answer.net {
        Some(_) => {
            let gap = units.small_length(answer.closing_gap_m);
            let laps = count(u64::from(answer.laps), "lap");
            let to = answer.to_s.map(time_of_day);
            let to = to.map_or(String::new(), |to| format!(", to {to}"));
            all.push(("Measured", format!("{laps}, {gap} open{to}")));
        }
        None => {
            let doubt = answer.doubts.first().map(|doubt| doubt.said(units));
            let why = answer.refusal.clone().or(doubt);
            all.push(("No area", why.unwrap_or_default()));
        }
    }
    all.extend(
        next(answer, units)
            .into_iter()
            .take(2)
            .map(|next| ("Would help", next)),
    );
    all
}

/// Everything in one line, for where there is no terminal to draw on.
#[must_use]
pub fn line(now: &Now, now_s: f64, of: Option<&Answer>, units: Units) -> String {
    let mut parts: Vec<String> = Vec::new();
    if let Some((Some(tod_s), _, _)) = now.here() {
        parts.push(time_of_day(tod_s));
    }
    if let Some((quality, _)) = now.solution(now_s) {
        parts.push(solution(quality).to_owned());
    }
    if let Some(rate_hz) = now.rate_hz() {
        parts.push(format!("{rate_hz:.0} a second"));
    }
    let (lap, gap) = (
        rough_m(now.track.lap_m(), units),
        rough_m(now.track.gap_m, units),
    );
    parts.push(format!("lap {}: {lap}, {gap} to close", now.track.laps + 1));
    match of.map(|answer| (answer, area(answer, units))) {
        Some((answer, Some(area))) => {
            let unit = units.area_unit();
            parts.push(format!("net {} ± {} {unit}", area.value, area.uncertainty));
            parts.extend(pieces(answer));
            parts.extend(next(answer, units).into_iter().next());
        }
        Some((_, None)) => parts.push("no area yet".to_owned()),
        None => {}
    }
    parts.join("; ")
}
