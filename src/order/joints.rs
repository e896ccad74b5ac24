//! Where the joints of a difficult row go. Turf is laid like bricks: a joint between two pieces must not lie close to a joint of
//! the row before (the bond), at least the "stagger" away from it. Mostly whole pieces with a cut one at each end can do that;
//! this module finds lengths for the rare row where they cannot.

use super::demand::Demand;
use super::rule::{Rule, SAME_M};

/// Lengths of the pieces of one row, as few as can be, all between the minimum and a whole piece, with every joint
/// at least the stagger from `before` (joints of the row before, metres). Where that is impossible the stagger is
/// halved, up to five times, and at last the row is laid in equal pieces whatever their joints are near to. The second value
/// counts the joints that come nearer than the full stagger.
pub(crate) fn free(demand: &Demand, rule: &Rule, before: &[f64]) -> (Vec<f64>, u32) {
    let mut stagger = rule.stagger_m;
    for _ in 0..6 {
        if let Some(joints) = joints(demand, rule, before, stagger) {
            return (lengths(demand, &joints), close(&joints, before, rule));
        }
        stagger *= 0.5;
    }
    // No stagger at all: equal pieces.
    let wanted = demand.length_m();
    let pieces = ((wanted - SAME_M) / rule.length_m).ceil().max(1.0);
    let equal: Vec<f64> = (1..pieces as u64)
        .map(|k| demand.start_m + wanted * k as f64 / pieces)
        .collect();
    (lengths(demand, &equal), close(&equal, before, rule))
}

/// How many of `joints` are nearer than the stagger to one of the row before.
fn close(joints: &[f64], before: &[f64], rule: &Rule) -> u32 {
    joints
        .iter()
        .filter(|j| {
            before
                .iter()
                .any(|b| (**j - b).abs() + SAME_M < rule.stagger_m)
        })
        .count() as u32
}

/// The lengths of the pieces between the row's start, its joints and its end.
fn lengths(demand: &Demand, joints: &[f64]) -> Vec<f64> {
    let mut lengths = Vec::with_capacity(joints.len() + 1);
    let mut at = demand.start_m;
    for joint in joints.iter().chain(std::iter::once(&demand.end_m)) {
        lengths.push(joint - at);
        at = *joint;
    }
    lengths
}

/// The joints of a row with as few pieces as can be, or `None` where this stagger cannot be kept. Set number k holds the
/// stretches in which the joint after k pieces can lie; each set follows from the one before. From the first set that a last piece can
/// reach the end from, the way is followed back set by set, taking the longest pieces.
fn joints(demand: &Demand, rule: &Rule, before: &[f64], stagger: f64) -> Option<Vec<f64>> {
    let (start, end) = (demand.start_m, demand.end_m);
    let mut sets: Vec<Vec<[f64; 2]>> = vec![vec![[start, start]]];
    let most = ((end - start) / rule.length_m).ceil() as usize + 3;
    for pieces in 1..=most {
        let reached = sets.last()?;
        // The latest joint from which the last piece is neither shorter than the minimum nor longer than a whole one.
        let ends_here = reached
            .iter()
            .rev()
            .find(|[from, to]| {
                end - from + SAME_M >= rule.min_piece_m && end - to <= rule.length_m + SAME_M
            })
            .map(|[from, to]| to.min(end - rule.min_piece_m).max(*from));
        if let Some(mut at) = ends_here
            && pieces > 1
        {
            // Set 0 is the row's start, which is no joint; the last set gave `at`.
            let mut joints = vec![at];
            for set in sets.iter().take(pieces - 1).skip(1).rev() {
                let earliest = at - rule.length_m - SAME_M;
                let latest = at - rule.min_piece_m + SAME_M;
                let [from, _] = set
                    .iter()
                    .find(|[from, to]| *to >= earliest && *from <= latest)?;
                at = from.max(at - rule.length_m);
                joints.push(at);
            }
            joints.reverse();
            return Some(joints);
        }
        let mut next: Vec<[f64; 2]> = Vec::new();
        for [from, to] in reached {
            let stretch = [
                from + rule.min_piece_m,
                (to + rule.length_m).min(end - rule.min_piece_m),
            ];
            if stretch[0] <= stretch[1] {
                next.push(stretch);
            }
        }
        let next = without(merged(next), before, stagger);
        if next.is_empty() {
            return None;
        }
        sets.push(next);
    }
    None
}

/// The same stretches in order, those that overlap or touch made one.
fn merged(mut stretches: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    stretches.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut out: Vec<[f64; 2]> = Vec::new();
    for stretch in stretches {
        match out.last_mut() {
            Some(last) if stretch[0] <= last[1] => last[1] = last[1].max(stretch[1]),
            _ => out.push(stretch),
        }
    }
    out
}

/// What of the stretches is at least the stagger away from every joint of the row before.
fn without(stretches: Vec<[f64; 2]>, before: &[f64], stagger: f64) -> Vec<[f64; 2]> {
    let mut out = stretches;
    for joint in before {
        let (from, to) = (joint - stagger, joint + stagger);
        out = out
            .into_iter()
            .flat_map(|[a, b]| {
                if b < from || a > to {
                    vec![[a, b]]
                } else {
                    [[a, from], [to, b]]
                        .into_iter()
                        .filter(|[a, b]| a <= b)
                        .collect()
                }
            })
            .collect();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_clear_of_many_joints_with_odd_lengths() {
        let rule = Rule {
            length_m: 1.0,
            min_piece_m: 0.4,
            stagger_m: 0.2,
        };
        let demand = Demand {
            row: 1,
            start_m: 0.0,
            end_m: 4.05,
            reach_m: 1.0,
        };
        let before = [0.55, 1.5, 2.4, 3.2];
        let (lengths, close) = free(&demand, &rule, &before);
        assert_eq!(close, 0);
        assert!((lengths.iter().sum::<f64>() - 4.05).abs() < 1e-9);
        let mut at = 0.0;
        for length in &lengths {
            assert!((0.4 - 1e-9..=1.0 + 1e-9).contains(length), "{lengths:?}");
            at += length;
            if at < 4.04 {
                assert!(before.iter().all(|b| (b - at).abs() > 0.2 - 1e-6));
            }
        }
    }

    #[test]
    fn says_how_many_joints_are_too_close_where_it_cannot_be_helped() {
        let rule = Rule {
            length_m: 1.0,
            min_piece_m: 0.5,
            stagger_m: 0.4,
        };
        let demand = Demand {
            row: 1,
            start_m: 0.0,
            end_m: 2.0,
            reach_m: 1.0,
        };
        let (lengths, close) = free(&demand, &rule, &[0.5, 1.0, 1.5]);
        assert!((lengths.iter().sum::<f64>() - 2.0).abs() < 1e-9);
        assert!(close > 0);
    }
}
