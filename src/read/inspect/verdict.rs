//! Is the log fit to measure from, and why.

use super::standing::{apart_m, flat};
use super::{Inspected, is_usable};
use crate::fix::{Fix, Quality};
use crate::read::LogKind;
use serde::Serialize;

/// Whether a log is fit to measure from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing speaks against it.
    Fit,
    /// It can be measured from, with a doubt.
    Doubtful,
    /// No area can come of it.
    Unfit,
}

/// Fewer fixes than this enclose nothing.
const LEAST_FIXES: usize = 4;
/// A log whose positions all lie within so many metres was not walked.
const WALKED_M: f64 = 3.0;
/// A walker covers a metre or more each second; longer steps cut corners.
const SLOW_HZ: f64 = 0.5;
/// A gap this long (and of several intervals) while the antenna moved leaves out a piece of the edge.
const LONG_GAP_S: f64 = 5.0;
const LONG_GAP_INTERVALS: f64 = 3.0;
const MOVED_M: f64 = 1.0;
/// Share of fixes that makes a thing worth a word.
const MUCH: f64 = 0.1;
/// Dilution and satellites beyond which positions grow poor (common practice, no source).
const POOR_HDOP: f32 = 3.0;
const FEW_SATELLITES: u8 = 6;
/// A claimed sigma per axis beyond which a log is like one without carrier-phase corrections, which are out by a metre
/// or more; float solutions are out by some decimetres.
const METRES_M: f64 = 0.5;
/// Scatter this many times the claim is no accident: claims two or three times too small are common.
const OVERCLAIM: f64 = 3.0;

pub(super) fn judge(
    seen: &Inspected,
    usable: &[Fix],
    doubts: Vec<String>,
) -> (Verdict, Vec<String>) {
    let mut unfit = unfit(seen, usable);
    if !unfit.is_empty() {
        // They may be the cause: a log that breaks off.
        unfit.extend(doubts);
        return (Verdict::Unfit, unfit);
    }
    let mut why = doubts;
    doubtful(seen, usable, &mut why);
    if why.is_empty() {
        return (Verdict::Fit, vec![fit(seen, usable)]);
    }
    (Verdict::Doubtful, why)
}

fn unfit(seen: &Inspected, usable: &[Fix]) -> Vec<String> {
    let mut why = Vec::new();
    let made_up = |f: &&Fix| matches!(f.quality, Quality::Manual | Quality::Simulator);
    if let Some(fix) = seen.as_read.iter().find(made_up) {
        why.push(format!(
            "Positions are simulated or typed in by hand, first at line {}: nothing can be measured from them.",
            fix.line
        ));
        return why;
    }
    if usable.is_empty() {
        why.push(if seen.marks > 0 {
            format!("There is no walk in it, only {} marked place(s).", seen.marks)
        } else if seen.as_read.iter().any(|f| !is_usable(f)) || !seen.dropped.is_empty() {
            "There is no usable position in it: the receiver never had a valid fix, or every record is damaged."
                .to_string()
        } else {
            "There is no position in it.".to_string()
        });
        return why;
    }
    if usable.len() < LEAST_FIXES {
        why.push(format!(
            "Only {} position(s): too few to enclose anything.",
            usable.len()
        ));
        return why;
    }
    if let Some(extent) = extent_m(usable)
        && extent < WALKED_M
        && usable.iter().any(|f| f.clock_s.is_some())
    {
        why.push(format!(
            "The antenna stood still: all positions lie within {extent:.1} m. It shows how steady the receiver is, \
             but there is no walk to measure."
        ));
    } else if let [only] = seen.standing.as_slice()
        && only.fixes * 10 >= usable.len() as u64 * 9
    {
        why.push(
            "The antenna stood still for nearly all of the log: there is no walk to measure."
                .to_string(),
        );
    }
    why
}

fn doubtful(seen: &Inspected, usable: &[Fix], why: &mut Vec<String>) {
    let n = usable.len() as f64;
    let share = |test: &dyn Fn(&Fix) -> bool| usable.iter().filter(|f| test(f)).count() as f64 / n;
    let fixed = share(&|f| f.quality == Quality::RtkFixed);
    let float = share(&|f| f.quality == Quality::RtkFloat);
    let code = share(&|f| {
        matches!(
            f.quality,
            Quality::Autonomous | Quality::Differential | Quality::Pps
        )
    });
    let unknown = share(&|f| f.quality == Quality::Unknown);
    for standing in &seen.standing {
        if let Some(claimed) = standing.claimed_m
            && standing.scatter_m > OVERCLAIM * claimed
        {
            why.push(format!(
                "Standing still from {} to {} the positions scatter by {} while the receiver claims {}: its claims \
                 can't be trusted here (trees or walls near by?).",
                standing.from,
                standing.to,
                short_m(standing.scatter_m),
                short_m(claimed)
            ));
        }
    }
    let interval_s = seen.rate_hz.map_or(0.0, |hz| 1.0 / hz);
    let least_s = LONG_GAP_S.max(LONG_GAP_INTERVALS * interval_s);
    let long = moving_gaps(usable, least_s);
    if !long.is_empty() {
        let longest = long.iter().fold(0.0f64, |a, b| a.max(*b));
        why.push(format!(
            "{} gap(s) of more than {least_s:.0} s while walking, the longest {longest:.0} s: a piece of the edge \
             is missing there.",
            long.len()
        ));
    }
    if let Some(hz) = seen.rate_hz.filter(|hz| *hz < SLOW_HZ) {
        why.push(format!(
            "Only one position every {:.0} s: corners are cut. Set the logger to one a second or faster.",
            1.0 / hz
        ));
    }
    if fixed > 0.0 && 1.0 - fixed > MUCH {
        why.push(format!(
            "Only {:.0} % of the positions are RTK fixed ({:.0} % float, {:.0} % without RTK): walk the rest again \
             when the receiver holds its fix.",
            100.0 * fixed,
            100.0 * float,
            100.0 * code
        ));
    } else if fixed == 0.0 && float > 0.0 {
        why.push(
            "RTK float, never fixed: errors of decimetres. On a small lawn wait for a fix or tape a line.".to_string(),
        );
    } else if fixed == 0.0 && code > 0.0 {
        why.push(
            "Positions without carrier-phase corrections: errors of a metre or more that last for minutes. Enough for \
             a large lawn, not for a small one."
                .to_string(),
        );
    }
    if unknown > MUCH
        && let Some(claimed) = claimed_m(usable)
    {
        if claimed > METRES_M {
            why.push(format!(
                "The log claims errors of about {} for its positions. Enough for a large lawn, not for a small one.",
                short_m(claimed)
            ));
        }
    } else if unknown > MUCH && usable.iter().all(|f| f.hdop.is_none()) {
        why.push(
            "The log says nothing of how good its positions are: the band rests on an assumption."
                .to_string(),
        );
    } else if unknown > MUCH && code + float + fixed == 0.0 {
        why.push(
            "The log does not say whether its positions were corrected (RTK or not): the band rests on an assumption."
                .to_string(),
        );
    }
    let poor = share(&|f| f.hdop.is_some_and(|h| h > POOR_HDOP));
    if poor > MUCH {
        why.push(format!(
            "HDOP is over {POOR_HDOP:.0} for {:.0} % of the time: much of the sky was hidden.",
            100.0 * poor
        ));
    }
    let few = share(&|f| f.satellites.is_some_and(|s| s < FEW_SATELLITES));
    if few > MUCH {
        why.push(format!(
            "Fewer than {FEW_SATELLITES} satellites for {:.0} % of the time.",
            100.0 * few
        ));
    }
    if usable.iter().all(|f| f.clock_s.is_none()) && seen.kind != LogKind::Points {
        why.push(
            "There are no times: pauses can't be told from slow walking, nor a loop from a jump."
                .to_string(),
        );
    }
}

/// The middle of the claimed sigmas per axis, metres; `None` where fewer than half of the positions have any.
fn claimed_m(usable: &[Fix]) -> Option<f64> {
    let mut claims: Vec<f32> = usable
        .iter()
        .filter_map(|f| Some(f.sigma_east_m?.max(f.sigma_north_m?)))
        .collect();
    if claims.len() * 2 < usable.len() {
        return None;
    }
    claims.sort_by(f32::total_cmp);
    claims.get(claims.len() / 2).map(|c| f64::from(*c))
}

fn fit(seen: &Inspected, usable: &[Fix]) -> String {
    let fixed = usable
        .iter()
        .filter(|f| f.quality == Quality::RtkFixed)
        .count();
    let rate = seen
        .rate_hz
        .map_or(String::new(), |hz| format!(" at {} Hz", trimmed(hz)));
    if fixed > 0 {
        format!(
            "{} positions{rate}, {:.0} % RTK fixed, no long gap, little damage.",
            usable.len(),
            100.0 * fixed as f64 / usable.len() as f64
        )
    } else {
        format!(
            "{} positions{rate}, with nothing against them.",
            usable.len()
        )
    }
}

fn trimmed(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

fn short_m(metres: f64) -> String {
    if metres < 0.1 {
        format!("{:.1} cm", metres * 100.0)
    } else {
        format!("{metres:.2} m")
    }
}

/// Lengths of the gaps in which the antenna moved, seconds.
fn moving_gaps(fixes: &[Fix], least_s: f64) -> Vec<f64> {
    fixes
        .windows(2)
        .filter_map(|pair| {
            let [a, b] = pair else { return None };
            let seconds = b.clock_s? - a.clock_s?;
            (seconds > least_s && apart_m(a, b) > MOVED_M).then_some(seconds)
        })
        .collect()
}

/// The larger side of the box around all fixes, metres.
fn extent_m(fixes: &[Fix]) -> Option<f64> {
    let first = fixes.first()?;
    let mut low = (0.0f64, 0.0f64);
    let mut high = low;
    for fix in fixes {
        let (east, north) = flat(fix, first);
        low = (low.0.min(east), low.1.min(north));
        high = (high.0.max(east), high.1.max(north));
    }
    Some((high.0 - low.0).max(high.1 - low.1))
}
