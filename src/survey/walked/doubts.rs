//! What is to be told of a walk's cleaning, its laps and its closing; a walk too open to close is refused.

use crate::fault::{Fault, Warning};
use crate::ring::distance_m;
use crate::walk::clean::Cleaned;
use crate::walk::jumps::off_m;
use crate::walk::laps::Laps;
use crate::walk::{Removal, Spot};
use geo::Coord;

pub(super) fn tell_cleaning(cleaned: &Cleaned, what: &str, warnings: &mut Vec<Warning>) {
    let count = |reason: Removal| cleaned.removed.iter().filter(|r| r.1 == reason).count();
    let spikes = count(Removal::Spike);
    if spikes > 0 {
        warnings.push(Warning::note(
            "spikes-removed",
            format!(
                "{spikes} fix(es) of {what} were far off the walk for a moment and were left out."
            ),
        ));
    }
    let frozen = count(Removal::Frozen);
    if frozen > 0 {
        warnings.push(Warning::doubt(
            "position-froze",
            format!(
                "The position of {what} stood still for {frozen} fix(es) while the walk went on, and then caught up. They were \
                 left out; look at that stretch on the plan, and walk it again if a corner or curve is missing."
            ),
        ));
    }
    let off = count(Removal::OffTheWalk);
    if off > 0 {
        warnings.push(Warning::doubt(
            "off-the-walk",
            format!(
                "{off} fixes of {what} run off the walk and come back. They were left out; look at that stretch on the \
                 plan, and walk again if it does not look like the edge."
            ),
        ));
    }
    if let Some(apart_m) = cleaned.alternating_m {
        warnings.push(Warning::doubt(
            "two-streams",
            format!(
                "Every other fix of {what} lies {apart_m:.1} m to one side of the rest: two position streams are woven \
                 together. Set the logger to record one, and walk again, or check the area with a tape."
            ),
        ));
    }
    if let Some(apart_m) = cleaned.streams_apart_m {
        warnings.push(Warning::doubt(
            "two-streams",
            format!(
                "Two position streams {apart_m:.1} m apart are woven together in {what}; the fuller one was used. Set the \
                 logger to record one, or check the area with a tape."
            ),
        ));
    }
}

/// What is left out before or after the laps found is suspiciously like another lap from here, in turns about the inside.
const TURNS_LEFT_OUT: f64 = 0.45;

/// Part of the whole way beside the laps found from which it is doubtful that they are the lawn.
const MOST_LEFT_OUT: f64 = 0.55;

/// Way that is not in the laps: another lap, or the lawn itself.
pub(super) fn tell_left_out(laps: &Laps, what: &str, warnings: &mut Vec<Warning>) {
    if laps.left_out <= MOST_LEFT_OUT && laps.turns_left_out > TURNS_LEFT_OUT {
        warnings.push(Warning::doubt(
            "lap-left-out",
            format!(
                "Besides the {} lap(s) found {what} goes {:.0} % of the way round once more without coming back to its start. \
                 If another lap was walked, a jump or gap hides it: look at the plan.",
                laps.count(),
                100.0 * laps.turns_left_out
            ),
        ));
    }
    if laps.left_out > MOST_LEFT_OUT {
        warnings.push(Warning::doubt(
            "most-left-out",
            format!(
                "{:.0} % of the way of {what} is not part of the lap that was found. Look at the plan whether it is the lawn; if not, \
                 walk it again without detours.",
                100.0 * laps.left_out
            ),
        ));
    }
}

/// How far the laps end from where stopping short of the start or walking past it explains, at most, metres.
pub(super) fn stray_m(spots: &[Spot], laps: &Laps, sigma_m: f64) -> f64 {
    // A pace, and a second one where a lap ends between two fixes.
    const PACES_M: f64 = 1.5;
    let ahead_m = (2.0 * sigma_m).clamp(1.0, 5.0);
    let way = |from: Option<&Spot>, to: Option<&Spot>| match (from, to) {
        (Some(from), Some(to)) if distance_m(from.at, to.at) > 0.0 => {
            (to.at - from.at) * (PACES_M / distance_m(from.at, to.at))
        }
        _ => Coord { x: 0.0, y: 0.0 },
    };
    laps.each()
        .map(|(first, last)| {
            let (start, end) = (&spots[first], &spots[last]);
            let on = spots[first..last]
                .iter()
                .find(|s| distance_m(s.at, start.at) >= ahead_m);
            let back = spots[first..last]
                .iter()
                .rev()
                .find(|s| distance_m(s.at, end.at) >= ahead_m);
            let gap = end.at - start.at;
            let (on, back) = (way(Some(start), on), way(Some(end), back));
            // Short of it or past it, and where it starts at a corner, round that.
            [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)]
                .into_iter()
                .map(|(a, b)| off_m(gap, on * a, back * b))
                .fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max)
}

pub(super) fn tell_closing(
    gap_m: f64,
    stray_m: f64,
    perimeter_m: f64,
    sigma_m: f64,
    what: &str,
    warnings: &mut Vec<Warning>,
) -> Result<(), Fault> {
    if gap_m > 0.25 * perimeter_m {
        return Err(Fault::withheld(
            "too-open",
            format!(
                "The two ends of {what} are {gap_m:.1} m apart on an edge of {perimeter_m:.0} m: too open to close."
            ),
            "Walk the whole edge back to where you started, and a few steps past it.",
        ));
    }
    // Both ends err, and the hand. Independent errors pass 3.2 sigma of their distance once in 170 laps.
    let noise_m = 3.2 * std::f64::consts::SQRT_2 * sigma_m;
    if gap_m > noise_m + 1.2 || stray_m > noise_m + 0.4 {
        warnings.push(Warning::doubt(
            "closing-gap",
            format!(
                "The end of {what} is {gap_m:.1} m from its start, more than this receiver's error explains; a straight \
                 line was drawn across. Look whether the position jumped on the way; walk past the start next time."
            ),
        ));
    }
    Ok(())
}
