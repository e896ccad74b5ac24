//! Lists of corners that nobody walked (a plan, a drawing on a map): what is odd about them, and when they cannot be a lawn as they
//! stand.
//!
//! The limits on such lists are in `limits::list`.

use crate::band::model::SigmaSource;
use crate::fault::Fault;
use crate::fix::Source;
use crate::limits::list;
use crate::notice::{Course, Notice, Trueness};
use crate::read::Log;
use crate::refusal::Refusal;
use crate::ring::{cross, distance_m, signed_area_m2};
use crate::survey::walked::{Placed, Walked};
use crate::walk::laps::{Laps, Leg};
use crate::walk::{Spot, turning};
use geo::Coord;

/// Refuses a list whose numbers look like metres of a plan that were taken for degrees: they have few decimals, and its places lie very
/// far apart.
///
/// # Errors
/// Of kind `Withheld`, where they do.
pub(crate) fn refuse_plan_metres(log: &Log) -> Result<(), Fault> {
    let fixes = &log.fixes;
    let coarse = |degrees: f64| {
        let steps = degrees * 10f64.powi(list::COARSE_DECIMALS);
        (steps - steps.round()).abs() < 1e-6
    };
    let listed = fixes.iter().all(|f| f.source == Source::Point);
    if log.local || !listed || !fixes.iter().all(|f| coarse(f.lat_deg) && coarse(f.lon_deg)) {
        return Ok(());
    }
    let side_m = |pair: &[crate::fix::Fix]| match pair {
        [a, b] if a.track == b.track => a.apart_m(b),
        _ => 0.0,
    };
    let longest_m = fixes.windows(2).map(side_m).fold(0.0, f64::max);
    if longest_m < list::FAR_M {
        return Ok(());
    }
    let names: Vec<&str> = log.files.iter().map(|file| file.name.as_str()).collect();
    let refusal = Refusal::PlanMetres {
        apart_m: longest_m,
        decimals: list::COARSE_DECIMALS,
    };
    Err(Fault::from(refusal).in_file(names.join(", ")))
}

/// Refuses an area that is larger than any field: no lawn is.
///
/// # Errors
/// The area is that large.
pub(crate) fn refuse_too_large(area_m2: f64, listed: bool, what: &Course) -> Result<(), Refusal> {
    if area_m2.abs() <= list::LARGEST_M2 {
        return Ok(());
    }
    Err(Refusal::LargerThanAnyField {
        walk: what.clone(),
        area_m2: area_m2.abs(),
        listed,
    })
}

/// What is odd about drawn corners. `line` says that they were drawn as a line with two ends, not as a ring.
///
/// # Errors
/// They lead from one place to another and go round nothing.
pub(crate) fn look(spots: &[Spot], line: bool, what: &Course) -> Result<Vec<Notice>, Refusal> {
    let mut ring: Vec<Coord<f64>> = spots.iter().map(|s| s.at).collect();
    ring.dedup();
    let mut warnings = Vec::new();
    warnings.extend(open(&ring, line, what)?);
    if ring.first() == ring.last() {
        ring.pop();
    }
    warnings.extend(one_corner(&ring, what));
    Ok(warnings)
}

/// A notice where the ends of the list lie far apart; a refusal where they lie so far apart that it is no ring.
fn open(corners: &[Coord<f64>], line: bool, what: &Course) -> Result<Option<Notice>, Refusal> {
    let (Some(&first), Some(&last)) = (corners.first(), corners.last()) else {
        return Ok(None);
    };
    let sides = || corners.windows(2).map(|pair| distance_m(pair[0], pair[1]));
    let (way_m, longest_m) = (sides().sum::<f64>(), sides().fold(0.0, f64::max));
    let gap_m = distance_m(first, last);
    if gap_m <= list::OPEN_SHARE * way_m || !(line || gap_m > list::ODD_CLOSING_SIDES * longest_m) {
        return Ok(None);
    }
    if gap_m > list::NO_RING_SHARE * way_m {
        return Err(Refusal::DrawnLine {
            walk: what.clone(),
            gap_m,
            way_m,
        });
    }
    Ok(Some(Notice::DrawnOpen {
        walk: what.clone(),
        gap_m,
        way_m,
    }))
}

/// A notice where one corner, far from both its neighbours, decides most of the area: it may be mistyped.
fn one_corner(ring: &[Coord<f64>], what: &Course) -> Option<Notice> {
    let n = ring.len();
    if n < 4 {
        return None;
    }
    let area_m2 = signed_area_m2(ring).abs();
    let side_m = |i: usize| distance_m(ring[i % n], ring[(i + 1) % n]);
    // The three longest sides are kept, as the longest of all but two is needed for each corner.
    let mut longest: Vec<(usize, f64)> = (0..n).map(|i| (i, side_m(i))).collect();
    longest.sort_by(|a, b| b.1.total_cmp(&a.1));
    longest.truncate(3);
    (0..n).find_map(|i| {
        let before = (i + n - 1) % n;
        let (a, b) = (ring[before] - ring[i], ring[(i + 1) % n] - ring[i]);
        let alone_m2 = 0.5 * cross(a, b).abs();
        let other_m = longest.iter().find(|(k, _)| *k != i && *k != before)?.1;
        let shorter_m = side_m(before).min(side_m(i));
        (alone_m2 > list::ODD_AREA_SHARE * area_m2 && shorter_m > list::ODD_SIDES * other_m).then(
            || Notice::OneCornerCounts {
                walk: what.clone(),
                corner: i + 1,
                neighbours_m: shorter_m,
                others_m: other_m,
            },
        )
    })
}

/// Whether the fixes are corners in order (a route, a point list without times) rather than a walk.
pub(super) fn is_corner_list(placed: &Placed) -> bool {
    // A point list that has the times of a walk is a walk.
    let spots = &placed.spots;
    let lasted_s = spots.last().map_or(0.0, |l| l.t_s) - spots.first().map_or(0.0, |f| f.t_s);
    placed.listed && (!placed.timed || lasted_s <= 0.0 || lasted_s / spots.len() as f64 > 4.0)
}

/// Refuses a list of corners that comes round twice: it has no laps to average, and would hold twice the area.
pub(super) fn once_round(spots: &[Spot], what: &Course) -> Result<(), Refusal> {
    let mut ring: Vec<Coord<f64>> = spots.iter().map(|s| s.at).collect();
    ring.dedup();
    while ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    // Wander turns the direction either way, but it does not change how often the list goes round the middle of its places.
    let turns = turning::turns(&ring).abs().max(round_middle(&ring));
    if turns < list::TWICE_TURNS {
        return Ok(());
    }
    Err(Refusal::GoesRoundTwice {
        walk: what.clone(),
        turns,
    })
}

/// How often a closed ring goes round the mean of its corners: once at the most where it never crosses itself; 0 of an empty one.
fn round_middle(ring: &[Coord<f64>]) -> f64 {
    let Some(last) = ring.last() else { return 0.0 };
    let middle = ring
        .iter()
        .fold(Coord { x: 0.0, y: 0.0 }, |sum, corner| sum + *corner)
        / ring.len() as f64;
    let before = std::iter::once(last).chain(ring);
    let turned: f64 = before
        .zip(ring)
        .map(|(a, b)| (*a - middle, *b - middle))
        .map(|(a, b)| cross(a, b).atan2(a.x * b.x + a.y * b.y))
        .sum();
    (turned / std::f64::consts::TAU).abs()
}

/// A list of corners as one lap, from its first corner to its last. There must be one corner at least.
pub(super) fn corner_ring(spots: &[Spot]) -> Laps {
    let ring: Vec<_> = spots.iter().map(|s| s.at).collect();
    let turn = if signed_area_m2(&ring) < 0.0 {
        -1.0
    } else {
        1.0
    };
    Laps {
        legs: vec![Leg {
            bounds: vec![0, spots.len() - 1],
            turn,
            gaps_m: vec![0.0],
            elsewhere_m2: 0.0,
        }],
        inside: ring[0],
        left_out: 0.0,
        turns_left_out: 0.0,
    }
}

/// A notice where corners were listed: where they come from, and what is believed of them.
pub(crate) fn drawn<'a>(rings: impl Iterator<Item = &'a Walked>) -> Option<Notice> {
    let (drawn, walked): (Vec<&Walked>, Vec<&Walked>) = rings.partition(|ring| ring.track.drawn);
    let first = drawn.first()?;
    let outlines = match walked.is_empty() {
        true => Vec::new(),
        false => drawn.iter().map(|ring| ring.label.clone()).collect(),
    };
    let trueness = match first.track.sigma_source {
        SigmaSource::Given => Trueness::Given,
        SigmaSource::Assumed => Trueness::Assumed,
        _ => Trueness::Listed,
    };
    Some(Notice::DrawnNotWalked { outlines, trueness })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(corners: &[(f64, f64)]) -> Vec<Coord<f64>> {
        corners.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    #[test]
    fn plain_lists_of_corners_are_not_odd() {
        let shapes: [&[(f64, f64)]; 5] = [
            &[(0.0, 0.0), (20.0, 0.0), (20.0, 12.0), (0.0, 12.0)],
            &[(0.0, 0.0), (30.0, 0.0), (15.0, 2.0)],
            &[(0.0, 0.0), (5.0, 0.0), (5.0, 40.0), (0.0, 40.0)],
            // An L, whose outer corner's triangle is larger than the whole.
            &[
                (0.0, 0.0),
                (10.0, 0.0),
                (10.0, 2.0),
                (2.0, 2.0),
                (2.0, 10.0),
                (0.0, 10.0),
            ],
            &[(0.0, 0.0), (20.0, 0.0), (15.0, 10.0), (5.0, 10.0)],
        ];
        for shape in shapes {
            let shape = ring(shape);
            assert_eq!(
                open(&shape, false, &Course::default()).unwrap(),
                None,
                "{shape:?}"
            );
            assert_eq!(one_corner(&shape, &Course::default()), None, "{shape:?}");
        }
    }

    #[test]
    fn a_mistyped_corner_and_a_missing_side_are_told() {
        let typed = ring(&[(0.0, 0.0), (20.0, 0.0), (20.0, 12.0), (0.0, 112.0)]);
        assert_eq!(
            one_corner(&typed, &Course::default()).map(|w| w.code()),
            Some("one-corner-counts")
        );
        // Half a circle of corners, and less than half.
        let arc = |part: f64| -> Vec<Coord<f64>> {
            (0..=30)
                .map(|i| (std::f64::consts::TAU * part * f64::from(i) / 30.0).sin_cos())
                .map(|(sin, cos)| Coord {
                    x: 100.0 * cos,
                    y: 100.0 * sin,
                })
                .collect()
        };
        let code = |part| open(&arc(part), false, &Course::default()).map(|w| w.map(|w| w.code()));
        assert_eq!(code(1.0).unwrap(), None);
        assert_eq!(code(0.7).unwrap(), Some("drawn-open"));
        assert_eq!(code(0.4).unwrap_err().code(), "drawn-line");
        // Drawn as a line, three sides of a square lack one.
        let square = ring(&[(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0)]);
        assert!(open(&square, true, &Course::default()).unwrap().is_some());
    }
}
