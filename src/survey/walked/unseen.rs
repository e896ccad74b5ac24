//! What one lap passes over without a fix (a gap), another lap may show.

use super::Track;
use super::passes::{Pass, lap_of};
use crate::process::hand::LAPS_APART_M;
use crate::ring::{distance_m, signed_area_m2};
use crate::walk::clean::{Gap, longest_step_s, walked_m};
use crate::walk::laps::Laps;
use crate::walk::{Spot, wander_m};
use geo::Coord;

/// How many laps are asked about a gap: the nearest in time are as good as all.
const ASKED: usize = 2;
/// How near to a gap's ends another lap must pass, in sigmas and on top of that metres: two laps err differently, and a fix is a step
/// from the next.
const NEAR_SIGMAS: f64 = 3.0;
const NEAR_M: f64 = 1.5;
/// Two laps lie apart in a gap by this part of what a receiver's position wanders in the time of the gap.
const OF_WANDER: f64 = 0.5;

/// Takes what hides in each gap from another lap that has fixes there: by how its way lies to the straight line between the places where
/// it passes the gap's ends, which works even if the laps lie apart. Gaps that no lap shows stay as they are.
pub(super) fn shown_by_laps(gaps: &mut [Gap], spots: &[Spot], passes: &[Pass], track: &Track) {
    let Track {
        pace_m_s, step_s, ..
    } = *track;
    for gap in gaps {
        let Some(own) = lap_of(passes, gap.after) else {
            continue;
        };
        let others = (1..passes.len())
            .flat_map(|apart| [own.checked_sub(apart), Some(own + apart)])
            .flatten()
            .filter_map(|lap| passes.get(lap))
            .filter(|other| other.turn == passes[own].turn)
            .take(ASKED);
        let reach_m = walked_m(pace_m_s * gap.lasted_s);
        let mut shown = others.filter_map(|other| {
            let way = way(
                &spots[other.first..=other.last],
                spots,
                gap,
                longest_step_s(step_s),
            )?;
            let way_m: f64 = way.windows(2).map(|w| distance_m(w[0], w[1])).sum();
            // If the other lap went by more than could be walked in the time of the gap, it went another way.
            (way_m <= 1.2 * reach_m + NEAR_M).then_some((way, way_m))
        });
        let Some((way, way_m)) = shown.next() else {
            continue;
        };
        let line_m = distance_m(way[0], way[way.len() - 1]);
        let apart_m = LAPS_APART_M + OF_WANDER * wander_m(spots[gap.after].sigma(), gap.lasted_s);
        // The area between the way and the line is positive to the right of the line: the ring goes along the way and back along the
        // line.
        gap.bulge_m2 = signed_area_m2(&way);
        gap.may_hide_m2 = gap.may_hide_m2.min(apart_m * way_m);
        let drawn_or_not_m = 0.5 * (way_m - line_m);
        gap.may_lengthen_m = gap.may_lengthen_m.min(apart_m + drawn_or_not_m);
    }
}

/// What the ways that gaps hide add to the area, m².
pub(super) fn bulges_m2(gaps: &[Gap], laps: &Laps) -> f64 {
    let bulge_m2 = |gap: &Gap| Some(gap.bulge_m2 * laps.leg_at(gap.after)?.turn);
    gaps.iter().filter_map(bulge_m2).sum::<f64>() / laps.count() as f64
}

/// The places of a lap from where it passes the one end of the gap to where it passes the other; `None` if it does not, or has a gap
/// there itself.
fn way(lap: &[Spot], spots: &[Spot], gap: &Gap, longest_step_s: f64) -> Option<Vec<Coord<f64>>> {
    let (one, other) = (spots[gap.after], spots[gap.after + 1]);
    let near_m = NEAR_M + NEAR_SIGMAS * one.sigma();
    let nearest = |to: &Spot, among: &[Spot]| {
        crate::steps::count(among.len());
        let away_m = |k: &usize| distance_m(among[*k].at, to.at);
        let found = (0..among.len()).min_by(|a, b| away_m(a).total_cmp(&away_m(b)))?;
        (away_m(&found) <= near_m).then_some(found)
    };
    let from = nearest(&one, lap)?;
    let to = from + nearest(&other, &lap[from..])?;
    let way = &lap[from..=to];
    let seen = way
        .windows(2)
        .all(|w| w[1].t_s - w[0].t_s <= longest_step_s);
    (way.len() > 2 && seen).then(|| way.iter().map(|spot| spot.at).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::walk::clean;

    /// Twice round 20 x 10 m at a metre a second; of the first lap the fixes about the corner at (20, 0) are missing.
    #[test]
    fn a_corner_that_one_lap_passes_over_is_taken_from_the_other() {
        let at = |along: usize| {
            let m = (along % 60) as f64;
            let (x, y) = match along % 60 {
                0..20 => (m, 0.0),
                20..30 => (20.0, m - 20.0),
                30..50 => (50.0 - m, 10.0),
                _ => (0.0, 60.0 - m),
            };
            Coord { x, y }
        };
        let spots: Vec<Spot> = (0..=120)
            .filter(|i| !(16..25).contains(i))
            .map(|i| Spot {
                at: at(i)
                    + Coord {
                        x: if i > 60 { 0.05 } else { 0.0 },
                        y: 0.0,
                    },
                t_s: i as f64,
                sigma_m: [0.02; 2],
                fix: i,
            })
            .collect();
        let mut gaps = clean::clean(&spots).gaps;
        let pass = |first, last| Pass {
            first,
            last,
            turn: 1.0,
        };
        let passes = [pass(0, 51), pass(51, 111)];
        shown_by_laps(&mut gaps, &spots, &passes, &Track::of_test(0.02));
        // Legs of 5 m: half of 25 m².
        let [gap] = gaps[..] else { panic!("{gaps:?}") };
        assert!((gap.bulge_m2 - 12.5).abs() < 0.1, "{gap:?}");
        assert!(gap.may_hide_m2 < 1.5, "{gap:?}");
    }
}
