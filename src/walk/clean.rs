//! Takes out what was not walked: spikes, frozen stretches, a second stream of positions. It also finds jumps and gaps, which stay in the
//! walk.
//!
//! The steps are these. How far a walker and the receiver's noise can get from one fix to the next (`Reach`) is learnt from the log
//! itself. Positions that the receiver repeated while the walk went on are dropped. The rest is strung into chains, so that within a
//! chain every fix can be reached on foot from the one before it. The longest chain is the walk, with the long chains that come before or
//! after it in time; whatever is left over was a spike, an excursion, or a second receiver that wrote into the same log.

pub use super::gaps::{Gap, detour_m2, longest_step_s, walked_m};

use super::jumps::{self, Jump, OddStep};
use super::pace::{Reach, median_step_s, pace_m_s, rough_m};
use super::streams::{alternate_m, apart_m};
use super::{Spot, gaps};
use crate::left_out::LeftOut;
use crate::limits::walk::cleaning;
use crate::ring::distance_m;
use std::borrow::Cow;
use std::ops::Range;

/// A cleaned walk.
#[derive(Debug, Clone, Default)]
pub struct Cleaned {
    pub spots: Vec<Spot>,
    /// Each fix that was taken out, by its index in the log, and why; in the order of the log.
    pub removed: Vec<(usize, LeftOut)>,
    pub gaps: Vec<Gap>,
    pub jumps: Vec<Jump>,
    /// Steps that noise may explain, in the order of the walk.
    pub odd_steps: Vec<OddStep>,
    /// Median time between fixes, seconds.
    pub step_s: f64,
    /// Typical speed while moving, metres a second.
    pub pace_m_s: f64,
    /// Distance between two interleaved streams of positions, metres; `None` where there is only one stream.
    pub streams_apart_m: Option<f64>,
    /// Distance between every other fix and the rest, metres, where that is more than chance but too little to assign each fix to a
    /// stream of its own; `None` otherwise.
    pub alternating_m: Option<f64>,
}

/// Cleans a walk whose spots are in time order. Spots are only taken out: none is added or moved. An empty walk gives an empty result.
pub(crate) fn clean<'a>(spots: impl Into<Cow<'a, [Spot]>>) -> Cleaned {
    let spots = spots.into();
    let mut cleaned = Cleaned {
        step_s: median_step_s(&spots),
        ..Cleaned::default()
    };
    let rough_m = rough_m(&spots, 1, cleaned.step_s);
    cleaned.pace_m_s = pace_m_s(&spots, cleaned.step_s, rough_m);
    let reach = Reach {
        pace_m_s: cleaned.pace_m_s,
        rough_m,
        step_s: cleaned.step_s,
    };
    let thawed = drop_frozen(spots, &reach, &mut cleaned);
    let chains = chains(&thawed, &reach);
    choose(thawed, chains, &reach, &mut cleaned);
    cleaned.gaps = gaps::find(&cleaned.spots, cleaned.step_s, cleaned.pace_m_s, rough_m);
    cleaned
}

/// Drops the repeats of a position that the receiver held (to the last digit or nearly so) while the walker went on.
///
/// A held position alone proves nothing, as some receivers hold it while the walker stands. It counts as frozen where the walk then
/// catches up with a leap, longer than a step and no longer than twice the way that would have been walked meanwhile, or where it was
/// held for very long. It does not count where the walk goes on from nearby after a long hold: then the walker stood.
fn drop_frozen<'a>(
    spots: Cow<'a, [Spot]>,
    reach: &Reach,
    cleaned: &mut Cleaned,
) -> Cow<'a, [Spot]> {
    // The ranges of spots to leave out; most logs have none.
    let mut frozen: Vec<Range<usize>> = Vec::new();
    let mut i = 0;
    while i < spots.len() {
        let here = spots[i];
        let mut end = i + 1;
        while end < spots.len() && here.holds(&spots[end]) {
            end += 1;
        }
        let frozen_s = spots[end - 1].t_s - here.t_s;
        // A working receiver's noise changes the last digits all the time, so a long exact repeat means that it was stuck.
        let stuck = frozen_s > cleaning::STUCK_S && end - i > 5;
        let next = spots.get(end).filter(|_| end - i >= 2).map(|next| {
            let (by_m, step_s) = (distance_m(here.at, next.at), next.t_s - spots[end - 1].t_s);
            // Only a receiver that is otherwise unsteady gives itself away by a few identical positions.
            let held = end - i >= cleaning::HELD_FIXES && reach.rough_m > cleaning::ALIVE_M;
            let hurried_m = cleaning::HURRY_PACES * cleaned.pace_m_s * step_s
                + cleaning::HURRY_SIGMAS * reach.rough_m;
            let leaps = by_m > reach.between_m(&spots[end - 1], next) || held && by_m > hurried_m;
            let walked_m = cleaned.pace_m_s * (frozen_s + step_s);
            let caught_up = leaps && by_m < 2.0 * walked_m;
            // Someone who walked through a hold of a minute is some fifty metres away when it ends. If the position goes on from nearby,
            // the walker stood, and what moved it is the receiver correcting its drift.
            (caught_up, stuck && by_m < cleaning::STOOD_SHARE * walked_m)
        });
        let (caught_up, stood) = next.unwrap_or_default();
        if (caught_up || stuck) && !stood {
            // Without a leap at the end the last of the repeats stays: the walker may have stood first, and the way goes on from the
            // moment at which it began to move.
            let live = if caught_up { end } else { end - 1 };
            cleaned
                .removed
                .extend(spots[i + 1..live].iter().map(|s| (s.fix, LeftOut::Frozen)));
            frozen.push(i + 1..live);
        }
        i = end;
    }
    if frozen.is_empty() {
        return spots;
    }
    let mut kept = Vec::with_capacity(spots.len());
    let mut from = 0;
    for gone in frozen {
        kept.extend_from_slice(&spots[from..gone.start]);
        from = gone.end;
    }
    kept.extend_from_slice(&spots[from..]);
    Cow::Owned(kept)
}

/// Strings the spots into chains, each a list of indices in time order, in which every spot can be reached on foot from the one before
/// it. A spot that no open chain reaches begins a new one. Chains are in the order of their first spots, and every spot is in exactly one
/// of them.
fn chains(spots: &[Spot], reach: &Reach) -> Vec<Vec<usize>> {
    // How many chains may still go on at a time: without a limit, a log of pure noise would take time in the square of its length.
    const OPEN: usize = 12;
    // A chain counts as going on now if its last spot is no more than this many fixes back.
    const RECENT: usize = 4;
    // Noise makes a step of this many times its reach once in 10⁹ steps.
    const UNLUCKY: f64 = 1.5;
    let mut chains: Vec<Vec<usize>> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    for (i, spot) in spots.iter().enumerate() {
        // The quick way for most logs, which are one chain from end to end.
        if let [only] = open[..]
            && let Some(&tail) = chains[only].last()
            && distance_m(spots[tail].at, spot.at) <= reach.surely_m(&spots[tail], spot)
        {
            chains[only].push(i);
            continue;
        }
        crate::steps::count(open.len());
        // Among chains that went on within the last few fixes take the one whose step uses up the smallest part of its reach. Otherwise
        // take the one that went on last, because after some time anything is within reach of an old chain's tail.
        let strains = open.iter().enumerate().filter_map(|(at, &chain)| {
            let &tail = chains.get(chain)?.last()?;
            let last = spots.get(tail)?;
            let strain = distance_m(last.at, spot.at) / reach.between_m(last, spot);
            (strain <= 1.0).then_some((at, tail, strain))
        });
        let next = strains
            .min_by(|a, b| match (i - a.1 <= RECENT, i - b.1 <= RECENT) {
                (true, true) => a.2.total_cmp(&b.2),
                _ => a.0.cmp(&b.0),
            })
            .map(|(at, tail, _)| {
                // For the same reason one unlucky step, a little longer than its reach, must not send the walk back to an old tail and
                // make strays of all that was walked since: where the newest chain nearly reaches the spot, it goes on.
                let goes_on = || {
                    let last = spots.get(*chains.get(*open.first()?)?.last()?)?;
                    Some(distance_m(last.at, spot.at) < UNLUCKY * reach.between_m(last, spot))
                };
                if i - tail > RECENT && goes_on() == Some(true) {
                    0
                } else {
                    at
                }
            });
        match next {
            Some(at) => {
                let chain = open.remove(at);
                chains[chain].push(i);
                open.insert(0, chain);
            }
            None => {
                chains.push(vec![i]);
                open.insert(0, chains.len() - 1);
                open.truncate(OPEN);
            }
        }
    }
    chains
}

/// Picks the walk out of the chains and puts it into `cleaned`: the longest chain, with what goes before and after it in time joined on.
/// All other spots are listed as removed, each with its reason. Of chains of the same length the first is taken.
fn choose(spots: Cow<'_, [Spot]>, chains: Vec<Vec<usize>>, reach: &Reach, cleaned: &mut Cleaned) {
    let Some(main) = (0..chains.len()).max_by_key(|&c| (chains[c].len(), usize::MAX - c)) else {
        return;
    };
    if chains[main].len() == spots.len() {
        // All spots are one chain, so nothing has to be put together anew.
        drop(chains);
        cleaned.alternating_m = alternate_m(&spots);
        cleaned.spots = spots.into_owned();
    } else {
        let (walk, left) = joined(&spots, &chains, main, reach);
        // What is left over are strays, excursions, or a second stream woven through the first. A second stream shows by chains with
        // holes in them that the other stream's fixes fill: count those holes.
        let woven: usize = left
            .iter()
            .filter(|chain| chain.len() >= 3)
            .map(|chain| chain.windows(2).filter(|w| w[1] > w[0] + 1).count())
            .sum();
        let two_streams = woven as f64 > cleaning::STREAM_SHARE * walk.len() as f64;
        if two_streams {
            cleaned.streams_apart_m = Some(apart_m(&spots, &walk, &left));
        } else {
            cleaned.alternating_m = alternate_m(&spots);
        }
        for chain in left {
            let reason = match () {
                () if two_streams && chain.len() >= 3 => LeftOut::SecondStream,
                () if lasted_s(&spots, chain) > cleaning::SPIKE_S => LeftOut::OffTheWalk,
                () => LeftOut::Spike,
            };
            cleaned
                .removed
                .extend(chain.iter().map(|&i| (spots[i].fix, reason)));
        }
        cleaned.spots = walk.iter().map(|&i| spots[i]).collect();
    }
    cleaned.removed.sort_unstable();
    (cleaned.jumps, cleaned.odd_steps) = jumps::find(&cleaned.spots, reach);
}

/// From the first fix of a chain to its last, seconds.
fn lasted_s(spots: &[Spot], chain: &[usize]) -> f64 {
    spots[chain[chain.len() - 1]].t_s - spots[chain[0]].t_s
}

/// The spots that make up the walk, in order, and the chains that are left over. The walk is the main chain, the longer chains that lie
/// wholly before or after it in time (there the position jumped and stayed), and short ones through which the walk goes on after a jump
/// back.
fn joined<'a>(
    spots: &[Spot],
    chains: &'a [Vec<usize>],
    main: usize,
    reach: &Reach,
) -> (Vec<usize>, Vec<&'a Vec<usize>>) {
    let mut walk = chains[main].clone();
    let mut used = vec![false; chains.len()];
    used[main] = true;
    let worth_joining = |chain: &[usize]| {
        chain.len() * 20 >= chains[main].len()
            && chain.len() >= 3
            && lasted_s(spots, chain) >= cleaning::SPIKE_S
    };
    for (c, chain) in chains.iter().enumerate().rev() {
        if !used[c] && worth_joining(chain) && chain[chain.len() - 1] < walk[0] {
            walk.splice(0..0, chain.iter().copied());
            used[c] = true;
        }
    }
    for (c, chain) in chains.iter().enumerate() {
        if !used[c] && worth_joining(chain) && chain[0] > walk[walk.len() - 1] {
            walk.extend_from_slice(chain);
            used[c] = true;
        }
    }
    let lead_on: Vec<usize> = (0..chains.len())
        .filter(|&c| !used[c] && leads_on(spots, &chains[c], &walk, reach))
        .collect();
    for c in lead_on {
        walk.extend_from_slice(&chains[c]);
        used[c] = true;
    }
    walk.sort_unstable();
    let left = chains.iter().zip(used).filter(|(_, used)| !used);
    (walk, left.map(|(chain, _)| chain).collect())
}

/// Whether a short chain that looks like strays is where the walk really went on after it jumped back.
///
/// After a jump back the walk soon passes the place where it was before the jump, so that the main chain seems to go on there and leaves
/// out the few fixes in between. They belong to the walk if they fill the hole without a break, and if the walk comes on from the last of
/// them at its own pace and from nearer than from the spot before the hole.
fn leads_on(spots: &[Spot], chain: &[usize], walk: &[usize], reach: &Reach) -> bool {
    let (first, last) = (chain[0], chain[chain.len() - 1]);
    let whole = last - first + 1 == chain.len();
    let after = walk.partition_point(|&i| i < last);
    let (Some(&next), Some(&before)) = (
        walk.get(after),
        after.checked_sub(1).and_then(|at| walk.get(at)),
    ) else {
        return false;
    };
    whole && next == last + 1 && before + 1 == first && {
        let (stray, next, before) = (&spots[last], &spots[next], &spots[before]);
        let by_m = distance_m(stray.at, next.at);
        by_m <= reach.surely_m(stray, next) && by_m < distance_m(before.at, next.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::Coord;

    fn straight(n: usize) -> Vec<Spot> {
        (0..n)
            .map(|i| Spot {
                at: Coord {
                    x: i as f64,
                    y: 0.01 * (i % 3) as f64,
                },
                t_s: i as f64,
                sigma_m: [0.02; 2],
                fix: i,
            })
            .collect()
    }

    #[test]
    fn a_clean_walk_stays_whole() {
        let walk = straight(60);
        let cleaned = clean(&walk);
        assert_eq!(cleaned.spots, walk);
        assert!(cleaned.removed.is_empty() && cleaned.gaps.is_empty() && cleaned.jumps.is_empty());
        assert!((cleaned.pace_m_s - 1.0).abs() < 0.01);
    }

    #[test]
    fn a_spike_is_taken_out_with_its_reason() {
        let mut walk = straight(60);
        walk[20].at.y += 30.0;
        walk[21].at = Coord {
            x: 21.0,
            y: 200_000.0,
        };
        let cleaned = clean(&walk);
        assert_eq!(
            cleaned.removed,
            [(20, LeftOut::Spike), (21, LeftOut::Spike)]
        );
        assert_eq!(cleaned.spots.len(), 58);
    }

    #[test]
    fn a_lasting_jump_is_kept_and_told() {
        let mut walk = straight(60);
        for spot in &mut walk[30..] {
            spot.at.y += 5.0;
        }
        let cleaned = clean(&walk);
        assert_eq!(cleaned.spots.len(), 60);
        assert_eq!(cleaned.jumps.len(), 1);
        assert!((cleaned.jumps[0].by_m - 5.1).abs() < 0.05);
    }

    #[test]
    fn a_step_aside_that_walking_does_not_explain_is_told() {
        let mut walk = straight(60);
        for spot in &mut walk[30..45] {
            spot.at.y += 1.5;
        }
        let jumps: Vec<usize> = clean(&walk).jumps.iter().map(|j| j.after).collect();
        assert_eq!(jumps, [29, 44]);
    }

    /// At five fixes a second, thrown back by 1.2 m and half a metre aside, the walk soon passes where it was before. The fixes in
    /// between are part of the walk, and the jump is told.
    #[test]
    fn a_jump_back_is_kept_and_told() {
        let mut walk = straight(120);
        for spot in &mut walk {
            spot.t_s *= 0.2;
            spot.at.x *= 0.24;
        }
        for spot in &mut walk[60..] {
            spot.at.x -= 1.1;
            spot.at.y += 0.5;
        }
        let cleaned = clean(&walk);
        assert!(cleaned.removed.is_empty(), "{:?}", cleaned.removed);
        assert_eq!(cleaned.jumps.len(), 1);
        assert_eq!(cleaned.jumps[0].after, 59);
    }

    #[test]
    fn a_short_excursion_that_comes_back_stays_left_out() {
        let mut walk = straight(120);
        for spot in &mut walk {
            spot.t_s *= 0.2;
            spot.at.x *= 0.24;
        }
        for spot in &mut walk[60..64] {
            spot.at.y += 3.0;
        }
        let cleaned = clean(&walk);
        assert_eq!(cleaned.removed.len(), 4);
        assert!(cleaned.jumps.is_empty());
    }

    /// Minutes later anything is within reach of where the walk was then, so that the walk must not go back there.
    #[test]
    fn an_unlucky_step_does_not_send_the_walk_back() {
        let mut walk: Vec<Spot> = (0..300)
            .map(|i| Spot {
                at: Coord {
                    x: (i as f64 / 40.0).cos() * 40.0,
                    y: (i as f64 / 40.0).sin() * 40.0,
                },
                t_s: i as f64,
                sigma_m: [1.0; 2],
                fix: i,
            })
            .collect();
        // Two steps a little further than noise and walking explain.
        for spot in &mut walk[100..] {
            spot.at.x += 4.9;
        }
        for spot in &mut walk[250..] {
            spot.at.x -= 4.9;
        }
        let cleaned = clean(&walk);
        assert!(cleaned.removed.is_empty(), "{:?}", cleaned.removed.len());
        assert_eq!(cleaned.spots.len(), 300);
    }

    /// The position is repeated for twenty seconds, and goes on from half way along what was walked meanwhile.
    #[test]
    fn a_position_repeated_for_long_is_stuck_wherever_it_goes_on() {
        let mut walk = straight(80);
        let held = walk[25].at;
        for spot in &mut walk[26..46] {
            spot.at = held;
        }
        for spot in &mut walk[46..] {
            spot.at.x -= 10.0;
        }
        let cleaned = clean(&walk);
        assert_eq!((cleaned.removed.len(), cleaned.gaps.len()), (20, 1));
    }

    /// The position is repeated to the last digit for a minute, as receivers do that hold it while they stand still, and goes on from 3 m
    /// beside.
    #[test]
    fn a_position_held_while_standing_is_not_frozen() {
        let mut walk = straight(80);
        for spot in &mut walk[26..] {
            spot.t_s += 60.0;
            spot.at.y += 3.0;
        }
        let mut standing: Vec<Spot> = (1..=60)
            .map(|s| Spot {
                t_s: walk[25].t_s + f64::from(s),
                ..walk[25]
            })
            .collect();
        let mut all = walk[..=25].to_vec();
        all.append(&mut standing);
        all.extend_from_slice(&walk[26..]);
        let cleaned = clean(&all);
        assert_eq!((cleaned.removed.len(), cleaned.gaps.len()), (0, 0));
    }

    #[test]
    fn a_frozen_stretch_becomes_a_gap() {
        let mut walk = straight(60);
        let held = walk[25].at;
        for spot in &mut walk[26..31] {
            spot.at = held;
        }
        let cleaned = clean(&walk);
        assert_eq!(cleaned.removed.len(), 5);
        assert!(cleaned.removed.iter().all(|r| r.1 == LeftOut::Frozen));
        assert_eq!(cleaned.gaps.len(), 1);
        assert!(cleaned.jumps.is_empty());
    }

    #[test]
    fn two_woven_streams_are_told() {
        let mut walk = straight(80);
        for spot in walk.iter_mut().skip(1).step_by(2) {
            spot.at.y += 6.0;
        }
        let cleaned = clean(&walk);
        assert!(
            cleaned
                .streams_apart_m
                .is_some_and(|d| (d - 6.0).abs() < 1.0),
            "{:?}",
            cleaned.streams_apart_m
        );
        assert_eq!(cleaned.spots.len(), 40);
    }

    #[test]
    fn a_gap_round_a_corner_may_hide_the_triangle() {
        let mut walk = straight(20);
        let corner = walk[19].at;
        walk.truncate(18);
        walk.extend((2..20).map(|i| Spot {
            at: Coord {
                x: corner.x,
                y: corner.y + i as f64,
            },
            t_s: 19.0 + i as f64,
            sigma_m: [0.02; 2],
            fix: 19 + i,
        }));
        let cleaned = clean(&walk);
        assert_eq!(cleaned.gaps.len(), 1);
        // The legs are 2 m each, so that the triangle cut off is 2 m². No more than that may be taken as likely.
        let gap = cleaned.gaps[0];
        assert!(
            gap.bulge_m2 < 2.0 && (2.0..4.5).contains(&(gap.bulge_m2 + gap.may_hide_m2)),
            "{gap:?}"
        );
    }

    /// The position is held to the millimetre for eight seconds while the walk goes on, and is then caught up.
    #[test]
    fn a_position_held_nearly_to_the_last_digit_is_frozen() {
        let mut walk = straight(60);
        for spot in &mut walk {
            spot.sigma_m = [1.0; 2];
        }
        for i in 20..28 {
            walk[i].at = walk[20].at;
            walk[i].at.x += 0.002 * (i % 3) as f64;
        }
        let cleaned = clean(&walk);
        let frozen: Vec<usize> = cleaned.removed.iter().map(|r| r.0).collect();
        assert_eq!(frozen, (21..28).collect::<Vec<_>>());
        assert!(cleaned.removed.iter().all(|r| r.1 == LeftOut::Frozen));
    }
}
