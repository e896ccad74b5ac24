//! Which pieces go into each row, and which of them are offcuts, that is, what was left over when an earlier piece was cut.
//!
//! A row is laid as whole pieces end to end with at most one cut piece at each end. What is left of a cut piece
//! can be used at the end of a later row. Every row may be laid in many ways (where its first joint falls, which offcut it
//! takes), so a handful of the best part-laid lawns are carried along row by row and the best at the end wins
//! (a beam search). The length of all fresh pieces is the length laid plus what is left over, so the fewest pieces
//! come from the least left over.

mod state;
mod ways;

use super::demand::Demand;
use super::rule::{Laid, Offcut, Rule, SAME_M, Taste};
use state::{State, Step};
use ways::{Way, ways};

/// A whole lawn laid: where each piece goes, and what it took.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Packing {
    /// The pieces of each demand, in the order of the demands.
    pub rows: Vec<Vec<Laid>>,
    pub pieces: u32,
    /// Pieces that had to be cut to length (offcuts among them).
    pub cuts: u32,
    /// All that was ordered and not laid, scraps included, longest first.
    pub left: Vec<Offcut>,
    /// Joints that had to come nearer to a joint of the row before than the stagger asks.
    pub close_joints: u32,
}

/// A step that might be taken from the part-laid lawn number `parent`. Most are thrown away, so nothing is copied for it yet.
struct Try {
    parent: usize,
    way: Way,
    score: f64,
}

/// Lays `demands` in their order, carrying `beam` part-laid lawns along. The work grows with `beam`; with 1 the best next step
/// is always taken. Without demands the packing is empty.
pub fn pack(demands: &[Demand], rule: &Rule, beam: usize, taste: Taste) -> Packing {
    let beam = beam.max(1);
    // A rest shorter than this can be used nowhere: it is shorter than the least piece allowed and than every row.
    let shortest = demands
        .iter()
        .map(Demand::length_m)
        .fold(rule.min_piece_m, f64::min);
    let mut states = vec![State::default()];
    let mut row = demands.first().map_or(0, |d| d.row);
    let mut tries: Vec<Try> = Vec::new();
    for (at, demand) in demands.iter().enumerate() {
        if demand.row != row {
            let next_to_it = demand.row.abs_diff(row) == 1;
            states
                .iter_mut()
                .for_each(|state| state.begin_row(next_to_it));
            row = demand.row;
        }
        let last = at + 1 == demands.len();
        tries.clear();
        for (parent, state) in states.iter().enumerate() {
            ways(&state.pool, &state.before, demand, rule, |way| {
                let score = state.score_after(&way, rule, shortest, last, taste);
                tries.push(Try { parent, way, score });
            });
        }
        tries.sort_by(|a, b| {
            (a.way.close(), a.score)
                .partial_cmp(&(b.way.close(), b.score))
                .unwrap_or(std::cmp::Ordering::Equal)
        });
        let mut next: Vec<State> = Vec::with_capacity(beam);
        for tried in tries.drain(..) {
            if next.len() >= beam {
                break;
            }
            let parent = &states[tried.parent];
            let after = parent.after(tried.way, demand, rule, shortest, tried.score);
            if !next.iter().any(|other| other.same_as(&after)) {
                next.push(after);
            }
        }
        states = next;
    }
    let best = states
        .into_iter()
        .min_by(|a, b| (a.close, a.fresh, a.cuts).cmp(&(b.close, b.fresh, b.cuts)));
    best.map(|state| unroll(&state, demands, rule, shortest))
        .unwrap_or_default()
}

/// Replays the best state's steps, this time keeping where each piece went.
fn unroll(best: &State, demands: &[Demand], rule: &Rule, shortest: f64) -> Packing {
    let mut steps: Vec<&Step> = Vec::with_capacity(demands.len());
    let mut at = best.history.as_deref();
    while let Some(step) = at {
        steps.push(step);
        at = step.earlier.as_deref();
    }
    steps.reverse();
    let mut state = State::default();
    let mut rows = Vec::with_capacity(demands.len());
    for (step, demand) in steps.iter().zip(demands) {
        let mut laid = Vec::new();
        state.take(&step.way, demand, rule, shortest, |piece| laid.push(piece));
        rows.push(laid);
    }
    Packing {
        left: left_over(&rows, state.fresh, rule),
        rows,
        pieces: state.fresh,
        cuts: state.cuts,
        close_joints: best.close,
    }
}

/// What is left of each of `pieces`, scraps included, longest first: its length less all that was laid from it. The rest of a piece
/// counts as one length, which is true except where a scrap came off between two uses.
fn left_over(rows: &[Vec<Laid>], pieces: u32, rule: &Rule) -> Vec<Offcut> {
    let mut laid_of = vec![0.0; pieces as usize + 1];
    for piece in rows.iter().flatten() {
        laid_of[piece.of as usize] += piece.end_m - piece.start_m;
    }
    let mut left: Vec<Offcut> = laid_of
        .iter()
        .enumerate()
        .skip(1)
        .map(|(of, laid)| Offcut {
            length_m: rule.length_m - laid,
            of: of as u32,
        })
        .filter(|left| left.length_m > SAME_M)
        .collect();
    left.sort_by(|a, b| b.length_m.total_cmp(&a.length_m));
    left
}
