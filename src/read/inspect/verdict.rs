//! Judges whether a log is fit to measure from, and says why in sentences for the surveyor. The thresholds are in `limits::log`.

use super::standing::Standing;
use super::{Inspected, is_usable};
use crate::fix::{Fix, Quality};
use crate::limits::log::doubtful::{FEW_SATELLITES, POOR_HDOP};
use crate::limits::log::{doubtful, unfit};
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

/// The verdict on a log and the reasons for it. `doubts` are those that reading it gave already.
pub(super) fn judge(
    seen: &Inspected,
    usable: &[Fix],
    doubts: Vec<String>,
) -> (Verdict, Vec<String>) {
    let mut unfit = unfit(seen, usable);
    if !unfit.is_empty() {
        // The doubts may be the cause, such as a log that breaks off.
        unfit.extend(doubts);
        return (Verdict::Unfit, unfit);
    }
    let mut why = doubts;
    why.extend(doubtful(seen, usable));
    if why.is_empty() {
        return (Verdict::Fit, vec![fit(seen, usable)]);
    }
    (Verdict::Doubtful, why)
}

/// Why nothing can be measured from a log; empty where something can.
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
    if usable.len() < unfit::LEAST_FIXES {
        why.push(format!(
            "Only {} position(s): too few to enclose anything.",
            usable.len()
        ));
        return why;
    }
    if let Some(extent) = extent_m(usable)
        && extent < unfit::WALKED_M
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

/// What speaks against a log that can be measured from; empty where nothing does.
fn doubtful(seen: &Inspected, usable: &[Fix]) -> Vec<String> {
    let mut why: Vec<String> = seen.standing.iter().filter_map(overclaims).collect();
    why.extend(long_gaps(usable, seen.rate_hz));
    if let Some(hz) = seen.rate_hz.filter(|hz| *hz < doubtful::SLOW_HZ) {
        why.push(format!(
            "Only one position every {:.0} s: corners are cut. Set the logger to one a second or faster.",
            1.0 / hz
        ));
    }
    let shares = Shares::of(usable);
    why.extend(shares.corrections());
    if shares.unknown > doubtful::MUCH_SHARE {
        why.extend(shares.unsaid(usable));
    }
    why.extend(hidden_sky(usable));
    if usable.iter().all(|f| f.clock_s.is_none()) && seen.kind != LogKind::Points {
        why.push(
            "There are no times: pauses can't be told from slow walking, nor a loop from a jump."
                .to_string(),
        );
    }
    why
}

/// A sentence where the positions of a standing scatter far more than the receiver claims; else `None`.
fn overclaims(standing: &Standing) -> Option<String> {
    let claimed_m = standing.claimed_m?;
    (standing.scatter_m > doubtful::OVERCLAIMS_TIMES * claimed_m).then(|| {
        format!(
            "Standing still from {} to {} the positions scatter by {} while the receiver claims {}: its claims \
             can't be trusted here (trees or walls near by?).",
            standing.from,
            standing.to,
            short_m(standing.scatter_m),
            short_m(claimed_m)
        )
    })
}

/// A sentence where the walk went on through long gaps without a position; else `None`.
fn long_gaps(usable: &[Fix], rate_hz: Option<f64>) -> Option<String> {
    let interval_s = rate_hz.map_or(0.0, |hz| 1.0 / hz);
    let least_s = doubtful::LONG_GAP_S.max(doubtful::LONG_GAP_INTERVALS * interval_s);
    let long = moving_gaps(usable, least_s);
    let longest_s = long.iter().copied().reduce(f64::max)?;
    Some(format!(
        "{} gap(s) of more than {least_s:.0} s while walking, the longest {longest_s:.0} s: a piece of the edge \
         is missing there.",
        long.len()
    ))
}

/// How much of a log has which corrections, 0 to 1.
struct Shares {
    fixed: f64,
    float: f64,
    /// Without carrier-phase corrections (RTK).
    code: f64,
    unknown: f64,
}

impl Shares {
    fn of(usable: &[Fix]) -> Shares {
        let of = |qualities: &[Quality]| share(usable, |f| qualities.contains(&f.quality));
        Shares {
            fixed: of(&[Quality::RtkFixed]),
            float: of(&[Quality::RtkFloat]),
            code: of(&[Quality::Autonomous, Quality::Differential, Quality::Pps]),
            unknown: of(&[Quality::Unknown]),
        }
    }

    /// A sentence where carrier-phase corrections (RTK) were missing, or held only for a part of the log; else `None`.
    fn corrections(&self) -> Option<String> {
        let Shares {
            fixed, float, code, ..
        } = *self;
        if fixed > 0.0 {
            (1.0 - fixed > doubtful::MUCH_SHARE).then(|| {
                format!(
                    "Only {:.0} % of the positions are RTK fixed ({:.0} % float, {:.0} % without RTK): walk the rest again \
                     when the receiver holds its fix.",
                    100.0 * fixed,
                    100.0 * float,
                    100.0 * code
                )
            })
        } else if float > 0.0 {
            Some("RTK float, never fixed: errors of decimetres. On a small lawn wait for a fix or tape a line.".to_string())
        } else {
            (code > 0.0).then(|| {
                "Positions without carrier-phase corrections: errors of a metre or more that last for minutes. Enough for \
                 a large lawn, not for a small one."
                    .to_string()
            })
        }
    }

    /// A sentence on how good a log may be that does not say what corrections it had; `None` where that is no doubt.
    fn unsaid(&self, usable: &[Fix]) -> Option<String> {
        if let Some(claimed_m) = claimed_m(usable) {
            return (claimed_m > doubtful::CLAIMS_M).then(|| {
                format!(
                    "The log claims errors of about {} for its positions. Enough for a large lawn, not for a small one.",
                    short_m(claimed_m)
                )
            });
        }
        let what = if usable.iter().all(|f| f.hdop.is_none()) {
            "The log says nothing of how good its positions are: the band rests on an assumption."
        } else if self.code + self.float + self.fixed == 0.0 {
            "The log does not say whether its positions were corrected (RTK or not): the band rests on an assumption."
        } else {
            return None;
        };
        Some(what.to_string())
    }
}

/// Sentences where satellites were few or badly spread over the sky; else empty.
fn hidden_sky(usable: &[Fix]) -> Vec<String> {
    let poor = share(usable, |f| f.hdop.is_some_and(|h| h > POOR_HDOP));
    let few = share(usable, |f| f.satellites.is_some_and(|s| s < FEW_SATELLITES));
    let mut why = Vec::new();
    if poor > doubtful::MUCH_SHARE {
        why.push(format!(
            "HDOP is over {POOR_HDOP:.0} for {:.0} % of the time: much of the sky was hidden.",
            100.0 * poor
        ));
    }
    if few > doubtful::MUCH_SHARE {
        why.push(format!(
            "Fewer than {FEW_SATELLITES} satellites for {:.0} % of the time.",
            100.0 * few
        ));
    }
    why
}

/// The share of fixes of which this holds.
fn share(fixes: &[Fix], holds: impl Fn(&Fix) -> bool) -> f64 {
    fixes.iter().filter(|fix| holds(fix)).count() as f64 / fixes.len() as f64
}

/// The median of the claimed sigmas, metres, of the worse axis of each fix; `None` where fewer than half of the positions have any.
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

/// A sentence on a log that nothing speaks against.
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
            (seconds > least_s && a.apart_m(b) > doubtful::MOVED_M).then_some(seconds)
        })
        .collect()
}

/// The larger side of the box around all fixes, metres.
fn extent_m(fixes: &[Fix]) -> Option<f64> {
    let first = fixes.first()?;
    let mut low = (0.0f64, 0.0f64);
    let mut high = low;
    for fix in fixes {
        let (east, north) = fix.off_m(first);
        low = (low.0.min(east), low.1.min(north));
        high = (high.0.max(east), high.1.max(north));
    }
    Some((high.0 - low.0).max(high.1 - low.1))
}
