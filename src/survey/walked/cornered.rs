//! A walk that does not close, but stood at its corners: if every side is taped from corner to corner, the lawn is drawn from these.

use super::listed::corner_ring;
use super::{Asked, Placed, Seen, Walked, ring};
use crate::job::{Corner, Job, Tape};
use crate::notice::Notice;
use crate::plane::Plane;
use crate::refusal::Refusal;
use crate::survey::corners::stood_at;
use crate::walk::Spot;
use crate::walk::clean;
use std::sync::Arc;

/// The lawn between the job sheet's corners, for a walk that was refused because it does not come round. `None` unless the sheet names
/// three corners or more, the walk passed each, and a tape goes from each straight to the next.
pub(crate) fn measure(
    placed: Placed,
    plane: &Plane,
    asked: &Asked,
    job: &Job,
    refused: &Refusal,
) -> Option<Walked> {
    if !refused.taped_corners_may_help() {
        return None;
    }
    let seen = Seen::new(placed, asked);
    let mut cleaned = clean::clean(&seen.placed.spots);
    let mut stood: Vec<(&Corner, Spot)> = Vec::with_capacity(job.corners.len());
    for corner in &job.corners {
        stood.push((corner, stood_at(corner, plane, &cleaned)?));
    }
    // The corners are first taken in the order of the walk, as tapes along diagonals too would go round in any order. If that does not go
    // round, they are taken in the order of the sheet.
    let listed = stood.clone();
    stood.sort_by(|a, b| a.1.t_s.total_cmp(&b.1.t_s));
    if !goes_round(&stood, &job.tapes) {
        stood = listed;
        if !goes_round(&stood, &job.tapes) {
            return None;
        }
    }
    let corners = stood.into_iter().map(|(_, spot)| spot).collect();
    let walk = std::mem::replace(&mut cleaned.spots, corners);
    let laps = corner_ring(&cleaned.spots);
    // What happened on the way between the corners no longer matters.
    cleaned.gaps.clear();
    cleaned.jumps.clear();
    cleaned.odd_steps.clear();
    let mut walked = ring(&seen, asked, cleaned, &laps, true).ok()?;
    let mut pulled: Vec<_> = walked
        .inside
        .pulls
        .iter()
        .copied()
        .zip(walked.pull_at().into_owned())
        .collect();
    pulled.sort_by(|a, b| a.0.t_s.total_cmp(&b.0.t_s));
    let (pulls, at): (Vec<_>, Vec<_>) = pulled.into_iter().unzip();
    (walked.inside.pulls, walked.pull_at) = (Arc::new(pulls), Some(at));
    walked.runs = vec![0..=walk.len() - 1];
    walked.spots = walk;
    walked.warnings.push(Notice::DrawnFromCorners {
        why: refused.clone(),
    });
    Some(walked)
}

/// Whether a tape goes from each corner straight to the next.
fn goes_round(stood: &[(&Corner, Spot)], tapes: &[Tape]) -> bool {
    let next = stood.iter().cycle().skip(1);
    stood.len() >= 3
        && stood.iter().zip(next).all(|((a, _), (b, _))| {
            let is = |name: &str, corner: &Corner| name.eq_ignore_ascii_case(&corner.name);
            tapes.iter().any(|t| {
                t.straight != Some(false)
                    && ((is(&t.from, a) && is(&t.to, b)) || (is(&t.from, b) && is(&t.to, a)))
            })
        })
}
