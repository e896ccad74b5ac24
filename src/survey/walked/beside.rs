//! What happened beside the laps, or on them, that may have taken or moved a part of the edge: positions lost, jumps, gaps.
//!
//! Each finding is turned into square metres, as only that can be weighed against the band. If the position jumps by a vector `s` and the
//! rest of the lap is displaced by it, the area changes by the cross product of `s` and the vector between the two ends of the displaced
//! part.

use super::Walked;
use super::passes::{Compare, Pass, lap_of};
use crate::limits::SPARE_TURF_SHARE;
use crate::limits::walk::{jump, lost};
use crate::notice::Notice;
use crate::ring::{cross, size_m};
use crate::walk::Spot;
use crate::walk::clean::{Cleaned, Gap, detour_m2, walked_m};
use crate::walk::jumps::{Jump, OddStep};
use crate::walk::laps::{Laps, Leg};
use geo::Coord;

/// The gaps that lie in a lap.
pub(super) fn gaps_on_edge(gaps: &[Gap], laps: &Laps) -> Vec<Gap> {
    let on_edge = |gap: &&Gap| laps.leg_at(gap.after).is_some();
    gaps.iter().filter(on_edge).copied().collect()
}

/// A notice where a receiver lost its position for good, or repeated one to the end: it may have lost a part of the edge, if much was
/// walked beside the laps.
#[must_use]
pub fn lost_at_end(ring: &Walked, lost_s: f64) -> Option<Notice> {
    let lap_s = ring.edge.perimeter_m / ring.track.pace_m_s.max(0.1);
    (ring.left_out > lost::BESIDE_SHARE && lost_s > lost::OF_LAP_SHARE * lap_s).then_some(
        Notice::FixesLostAtEnd {
            lost_s,
            left_out_share: ring.left_out,
            laps: ring.laps,
        },
    )
}

/// How long one position is repeated to the last digit at the end of a walk, seconds; 0 without a fix. The receiver may have been stuck,
/// or the surveyor stood.
#[must_use]
pub fn held_at_end_s(ring: &Walked) -> f64 {
    let Some(last) = ring.spots.last() else {
        return 0.0;
    };
    let held = ring.spots.iter().rev().take_while(|s| s.at == last.at);
    held.last().map_or(0.0, |first| last.t_s - first.t_s)
}

/// The longest stretch without a fix, seconds, outside of all legs, that may have taken a part of the edge; `None` where there is none.
/// Where much was walked beside the laps it is one that is long for a lap, else one in which so much could have been gone round that it
/// matters. Between two legs a walk is taken to have been broken off and taken up again, if hardly anything was walked beside them.
pub(super) fn lost_beside_s(cleaned: &Cleaned, laps: &Laps, area_m2: f64) -> Option<f64> {
    let (first, last) = (laps.legs.first()?.ends().0, laps.legs.last()?.ends().1);
    let lap_s: f64 = (laps.legs.iter().map(Leg::ends))
        .map(|(a, b)| cleaned.spots[b].t_s - cleaned.spots[a].t_s)
        .sum::<f64>()
        / laps.count() as f64;
    let much_beside = laps.left_out > lost::BESIDE_SHARE;
    let goes_round_s = lost::GOES_ROUND_SHARE * lap_s;
    // The most that could be gone round: on the way from one end to the other, or round a circle beside it.
    let goes_round_m2 = |gap: &Gap| {
        let walked_m = walked_m(cleaned.pace_m_s * gap.lasted_s);
        let spare_m = (walked_m - gap.across_m).max(0.0);
        detour_m2(gap.across_m, walked_m).max(spare_m * spare_m / (4.0 * std::f64::consts::PI))
    };
    cleaned
        .gaps
        .iter()
        .filter(|gap| {
            let between = (first..last).contains(&gap.after);
            let on_edge = laps.leg_at(gap.after).is_some();
            !on_edge && (!between || much_beside)
        })
        .filter(|gap| gap.lasted_s > lost::OF_LAP_SHARE * lap_s)
        .filter(|gap| {
            much_beside
                || gap.lasted_s > goes_round_s && goes_round_m2(gap) > SPARE_TURF_SHARE * area_m2
        })
        .map(|gap| gap.lasted_s)
        .reduce(f64::max)
}

/// The jumps on the edge, or so close to its ends that they decide where it seems to close. A step that other laps make too is no jump.
pub(super) fn jumps_that_matter(cleaned: &Cleaned, laps: &Laps, compare: &Compare) -> Vec<Jump> {
    // If a walk jumps more often than this, its jumps are not compared with other laps.
    const MANY: usize = 16;
    let at_s = |i: usize| cleaned.spots[i].t_s;
    let legs_s = laps
        .legs
        .iter()
        .map(|leg| at_s(leg.ends().1) - at_s(leg.ends().0));
    let lap_s = legs_s.sum::<f64>() / laps.count() as f64;
    let close_s = jump::NEAR_LAP_S.max(0.5 * lap_s);
    let matters = |jump: &Jump| {
        if jump.may_be_a_step() {
            return (laps.leg_at(jump.after))
                .is_some_and(|leg| well_within(jump.after, leg.ends()));
        }
        // Find the first leg that does not end too early for this jump, as legs follow each other in time.
        let at = at_s(jump.after);
        let next = (laps.legs).partition_point(|leg| at_s(leg.ends().1) + close_s <= at);
        (laps.legs.get(next)).is_some_and(|leg| at > at_s(leg.ends().0) - close_s)
    };
    let mut jumps: Vec<Jump> = cleaned
        .jumps
        .iter()
        .filter(|j| matters(j))
        .copied()
        .collect();
    if jumps.len() <= MANY {
        jumps.retain(|jump| {
            let step = odd_step(cleaned, jump.after).filter(|_| !jump.beyond_reach);
            let lap = lap_of(compare.passes, jump.after);
            match (step, lap) {
                (Some(step), Some(lap)) => !compare.shared(step, lap),
                _ => true,
            }
        });
    }
    jumps
}

/// The odd step after this spot, if there is one.
fn odd_step(cleaned: &Cleaned, after: usize) -> Option<&OddStep> {
    let steps = &cleaned.odd_steps;
    let at = steps.binary_search_by_key(&after, |step| step.after).ok()?;
    steps.get(at)
}

/// Whether a spot is far enough within a leg: stepping on to the edge and off it again is neither a jump nor odd.
fn well_within(after: usize, (first, last): (usize, usize)) -> bool {
    (first + 3..last.saturating_sub(3)).contains(&after)
}

/// What an odd step on the edge does to the area if the position moved there and not the walker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    step: OddStep,
    /// The index of the lap that it is in.
    lap: usize,
    /// How much area would move, m²: with all of the lap that is before the step or with all that is after it, whichever is more.
    pub moves_m2: f64,
}

impl Suspect {
    /// How far the position would have moved, metres.
    pub(crate) fn by_m(&self) -> f64 {
        size_m(self.step.astray.by)
    }
}

/// How much area a jump by `by` after a spot moves, m²: with all of the lap that is before it, or after it, whichever is more. If a part
/// of a ring is moved by `s`, and its ends are `p` and `q`, the area changes by `s x (q - p)`.
fn taken_along_m2(
    spots: &[Spot],
    passes: &[Pass],
    lap: usize,
    after: usize,
    by: Coord<f64>,
) -> f64 {
    let with_all_to = |end: usize| cross(by, spots[end].at - spots[after].at).abs();
    let Pass { first, last, .. } = passes[lap];
    with_all_to(first).max(with_all_to(last)) / passes.len() as f64
}

/// The twelve odd steps, at the most, that put most area into doubt, whatever the band is.
pub(super) fn suspects(cleaned: &Cleaned, passes: &[Pass]) -> Vec<Suspect> {
    const MOST: usize = 12;
    let spots = &cleaned.spots;
    let steps = &cleaned.odd_steps;
    let mut suspects: Vec<Suspect> = Vec::new();
    for (lap, &Pass { first, last, .. }) in passes.iter().enumerate() {
        let from = steps.partition_point(|step| step.after <= first);
        let of_lap = steps[from..].iter().take_while(|s| s.after + 2 < last);
        suspects.extend(of_lap.map(|step| Suspect {
            step: *step,
            lap,
            moves_m2: taken_along_m2(spots, passes, lap, step.after, step.astray.by),
        }));
    }
    let weight =
        |suspect: &Suspect| suspect.step.astray.log * suspect.moves_m2.powf(jump::WEIGHED_POWER);
    suspects.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    suspects.truncate(MOST);
    suspects
}

impl Walked {
    /// The jumps, if together they may move an area of this 95 % band by enough to be told; empty otherwise.
    pub(crate) fn jumps_past(&self, band_m2: f64) -> &[Jump] {
        let moves_m2 = |jump: &Jump| {
            let lap = lap_of(&self.passes, jump.after).filter(|_| jump.may_be_a_step());
            lap.map_or(f64::INFINITY, |lap| {
                taken_along_m2(&self.spots, &self.passes, lap, jump.after, jump.by)
            })
        };
        let moves_m2: f64 = self.odd.jumps.iter().map(moves_m2).sum();
        if moves_m2 > jump::MOVES_BANDS * band_m2 {
            &self.odd.jumps
        } else {
            &[]
        }
    }

    /// The odd step that is most likely a jump that matters, if it is likely enough to doubt an area of this band: what its own lap says
    /// for a jump and what other laps say are weighed by how many bands it would move the area.
    pub(crate) fn doubted(&self, band_m2: f64) -> Option<Suspect> {
        let compare = Compare {
            spots: &self.spots,
            passes: &self.passes,
            track: &self.track,
        };
        let laps_say = if self.passes.len() > 1 {
            jump::LAPS_SAY_LOG
        } else {
            0.0
        };
        let doubted = self.odd.suspects.iter().filter_map(|suspect| {
            let bands = suspect.moves_m2 / band_m2;
            let weight = bands.min(jump::MOST_BANDS).powf(jump::WEIGHED_POWER);
            let Suspect { step, lap, .. } = *suspect;
            let strained = step.strain * bands / jump::STRAINED_BANDS;
            // Most steps are let go before other laps have to be asked.
            let most = (step.astray.log + laps_say) * weight / jump::DOUBTED_LOG;
            if bands < jump::LEAST_BANDS || strained.max(most) < 1.0 {
                return None;
            }
            let laps = compare.log(step.after, step.astray.by, lap).unwrap_or(0.0);
            let likely = (step.astray.log + laps.min(laps_say)) * weight / jump::DOUBTED_LOG;
            let doubt = if laps < 0.0 {
                likely
            } else {
                likely.max(strained)
            };
            (doubt > 1.0).then_some((doubt, suspect))
        });
        doubted
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, suspect)| *suspect)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::walked::Track;
    use crate::survey::walked::passes::passes;
    use crate::walk::jumps::Astray;

    /// Round 10 x 10 m, a fix a metre, from the corner at the origin.
    fn walk(laps: usize, odd_steps: Vec<OddStep>) -> (Cleaned, Laps) {
        let spots: Vec<Spot> = (0..=40 * laps)
            .map(|i| {
                let along = (i % 10) as f64;
                let (x, y) = match i % 40 / 10 {
                    0 => (along, 0.0),
                    1 => (10.0, along),
                    2 => (10.0 - along, 10.0),
                    _ => (0.0, 10.0 - along),
                };
                Spot {
                    at: Coord { x, y },
                    t_s: i as f64,
                    sigma_m: [0.3; 2],
                    fix: i,
                }
            })
            .collect();
        let leg = Leg {
            bounds: (0..=laps).map(|lap| 40 * lap).collect(),
            turn: 1.0,
            gaps_m: vec![0.0; laps],
            elsewhere_m2: 0.0,
        };
        let laps = Laps {
            legs: vec![leg],
            inside: Coord { x: 5.0, y: 5.0 },
            left_out: 0.0,
            turns_left_out: 0.0,
        };
        let cleaned = Cleaned {
            spots,
            odd_steps,
            ..Cleaned::default()
        };
        (cleaned, laps)
    }

    fn odd(after: usize, x: f64, strain: f64) -> OddStep {
        OddStep {
            after,
            by: Coord { x, y: 0.0 },
            strain,
            back: false,
            astray: Astray {
                by: Coord { x, y: 0.0 },
                log: 6.0 * strain,
            },
        }
    }

    /// From the far corner on the walk is moved by a metre, which makes a square larger by ten square metres, and the mean of two laps by
    /// five.
    #[test]
    fn an_odd_step_moves_the_area_by_its_part_of_the_ring() {
        for (laps, moves_m2) in [(1, 10.0), (2, 5.0)] {
            let (cleaned, laps) = walk(laps, vec![odd(10, 0.1, 0.9), odd(20, 1.0, 0.5)]);
            let found = suspects(&cleaned, &passes(&laps))[0];
            assert!((found.moves_m2 - moves_m2).abs() < 1e-9, "{found:?}");
            assert_eq!((found.by_m(), found.lap), (1.0, 0));
        }
    }

    #[test]
    fn stepping_on_to_the_edge_is_not_odd() {
        let (cleaned, laps) = walk(1, vec![odd(0, 9.0, 0.9), odd(38, 9.0, 0.9)]);
        assert_eq!(suspects(&cleaned, &passes(&laps)), []);
    }

    /// A step aside that both laps make belongs to the edge. A step back between two at full pace is a jump even where the lap ends.
    #[test]
    fn jumps_are_weighed_by_the_other_lap_and_by_which_way_they_go() {
        let counted = |laps: usize, after: usize, back: bool| {
            let step = OddStep {
                back,
                ..odd(after, 1.0, 1.3)
            };
            let (mut cleaned, laps) = walk(laps, vec![step]);
            cleaned.jumps = vec![Jump {
                after,
                by: step.by,
                back,
                by_m: 1.0,
                beyond_reach: false,
            }];
            let compare = Compare {
                spots: &cleaned.spots,
                passes: &passes(&laps),
                track: &Track::of_test(0.1),
            };
            jumps_that_matter(&cleaned, &laps, &compare).len()
        };
        assert_eq!([counted(1, 14, false), counted(2, 14, false)], [1, 0]);
        assert_eq!([counted(1, 38, false), counted(1, 38, true)], [0, 1]);
    }
}
