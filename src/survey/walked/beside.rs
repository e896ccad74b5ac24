//! What happened beside the laps, or on them, that may have taken or moved a part of the edge: positions lost, jumps, gaps.

use super::Walked;
use crate::fault::Warning;
use crate::walk::clean::{Cleaned, Gap};
use crate::walk::jumps::Jump;
use crate::walk::laps::Laps;

/// First and last spot of each leg.
fn ends(laps: &Laps) -> impl Iterator<Item = (usize, usize)> + '_ {
    laps.legs
        .iter()
        .map(|leg| (leg.bounds[0], leg.bounds[leg.bounds.len() - 1]))
}

pub(super) fn gaps_on_edge(gaps: &[Gap], laps: &Laps) -> Vec<Gap> {
    let on_edge = |gap: &&Gap| ends(laps).any(|(first, last)| (first..last).contains(&gap.after));
    gaps.iter().filter(on_edge).copied().collect()
}

/// Part of a lap, by time, without a position that a person would not call a corner cut.
const LONG_LOST: f64 = 0.08;

/// Part of the way that is not in the laps from which a stretch without a position may have taken a part of the edge.
const WALKED_BESIDE: f64 = 0.15;

/// A receiver that lost its position for good may have lost a part of the edge, if much was walked beside the laps.
pub fn lost_at_end(ring: &Walked, lost_s: f64) -> Option<Warning> {
    let lap_s = ring.edge.perimeter_m / ring.pace_m_s.max(0.1);
    (ring.left_out > WALKED_BESIDE && lost_s > LONG_LOST * lap_s).then(|| {
        Warning::doubt(
            "fixes-lost",
            format!(
                "The receiver had no position for the last {lost_s:.0} s of the log, and {:.0} % of the way is not part of the {} \
                 lap(s) found. If the edge was walked then, the laps are not the lawn: look at the plan, and walk it again.",
                100.0 * ring.left_out,
                ring.laps
            ),
        )
    })
}

/// The longest stretch without a fix outside of all legs. Between two of them a walk was broken off and taken up again, if
/// hardly anything was walked beside them.
pub(super) fn lost_beside_s(cleaned: &Cleaned, laps: &Laps) -> Option<f64> {
    let (first, last) = (
        laps.legs.first()?.bounds[0],
        laps.legs.last()?.bounds.last().copied()?,
    );
    let lap_s: f64 = ends(laps)
        .map(|(a, b)| cleaned.spots[b].t_s - cleaned.spots[a].t_s)
        .sum::<f64>()
        / laps.count() as f64;
    cleaned
        .gaps
        .iter()
        .filter(|gap| {
            let between = (first..last).contains(&gap.after);
            let on_edge = ends(laps).any(|(a, b)| (a..b).contains(&gap.after));
            !on_edge && (!between || laps.left_out > WALKED_BESIDE)
        })
        .map(|gap| gap.lasted_s)
        .filter(|&lasted_s| lasted_s > LONG_LOST * lap_s)
        .reduce(f64::max)
}

/// Jumps on the edge or close to its ends: there they decide where it seems to close.
pub(super) fn jumps_that_matter(cleaned: &Cleaned, laps: &Laps) -> Vec<Jump> {
    const CLOSE_S: f64 = 15.0;
    let at_s = |i: usize| cleaned.spots[i].t_s;
    let lap_s = ends(laps).map(|(a, b)| at_s(b) - at_s(a)).sum::<f64>() / laps.count() as f64;
    let close_s = CLOSE_S.max(0.5 * lap_s);
    cleaned
        .jumps
        .iter()
        .filter(|jump| {
            ends(laps).any(|(first, last)| {
                if jump.beyond_reach {
                    at_s(jump.after) > at_s(first) - close_s
                        && at_s(jump.after) < at_s(last) + close_s
                } else {
                    // Stepping on to the edge and off it again is no jump.
                    (first + 3..last.saturating_sub(3)).contains(&jump.after)
                }
            })
        })
        .copied()
        .collect()
}
