//! Which pieces go into each row, and which of them are offcuts of earlier ones.
//!
//! A row is laid as whole pieces end to end with at most one cut piece at each end. What is left of a cut piece
//! can go to a later end. Every row may be laid in many ways (where its first joint falls, which offcut it
//! takes), so a handful of the best part-laid lawns are carried along row by row and the best at the end wins
//! (a beam search). Fresh pieces times their length is what is laid plus what is left over, so the fewest pieces
//! come from the least left over.

use super::demand::Demand;
use std::rc::Rc;

/// Lengths closer than this are the same length, metres.
pub const SAME_M: f64 = 1e-6;

/// What a piece is and how it may be laid, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    pub length_m: f64,
    /// No piece shorter than this, unless it is a whole row.
    pub min_piece_m: f64,
    /// No joint nearer than this to a joint of the row before.
    pub stagger_m: f64,
}

impl Rule {
    /// The fewest pieces that could cover the demands, all offcuts used: total length over piece length.
    pub fn lower_bound(&self, demands: &[Demand]) -> u64 {
        let total: f64 = demands.iter().map(Demand::length_m).sum();
        self.whole_up(total)
    }

    /// The pieces needed where no offcut is used again: each demand rounded up by itself.
    pub fn no_reuse(&self, demands: &[Demand]) -> u64 {
        demands.iter().map(|d| self.whole_up(d.length_m())).sum()
    }

    fn whole_up(&self, length_m: f64) -> u64 {
        ((length_m - SAME_M) / self.length_m).ceil().max(0.0) as u64
    }
}

/// One piece in its place along its row, metres in the turned lawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    pub start_m: f64,
    pub end_m: f64,
    /// The fresh piece it is, or was cut from, from 1.
    pub of: u32,
    /// Cut from what an earlier cut left over.
    pub offcut: bool,
}

/// What is left of a cut piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offcut {
    pub length_m: f64,
    pub of: u32,
}

/// A lawn laid.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Packing {
    /// One list per demand.
    pub rows: Vec<Vec<Laid>>,
    pub pieces: u32,
    /// Pieces that had to be cut to length (offcuts among them).
    pub cuts: u32,
    /// Longest first; every centimetre that was ordered and not laid.
    pub left: Vec<Offcut>,
    /// Joints that had to come nearer to a joint of the row before than the stagger asks.
    pub close_joints: u32,
}

/// Joints at `first`, `first + length`, ...: `count` of them.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Joints {
    first: f64,
    count: u32,
}

/// Where a cut piece comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
enum From {
    Fresh,
    /// Index into the pool at that moment.
    Pool(usize),
    /// What is left of the fresh piece the row's first cut was made from.
    Rest,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Cut {
    length: f64,
    from: From,
}

/// One way to lay one demand.
#[derive(Debug, Clone, PartialEq)]
enum Way {
    /// At most one cut piece at each end of `whole` whole ones.
    Ends {
        first: Option<Cut>,
        whole: u32,
        last: Option<Cut>,
    },
    /// Any lengths, for the rare row where nothing simpler keeps the stagger.
    Free { lengths: Vec<f64>, close: u32 },
}

/// A part-laid lawn.
#[derive(Debug, Clone)]
struct State {
    pool: Vec<Offcut>,
    fresh: u32,
    scrap: f64,
    cuts: u32,
    close: u32,
    before: Rc<Vec<Joints>>,
    now: Rc<Vec<Joints>>,
    score: f64,
    history: Option<Rc<Step>>,
}

#[derive(Debug)]
struct Step {
    way: Way,
    earlier: Option<Rc<Step>>,
}

/// A step that might be taken, before anything is copied for it.
struct Try {
    parent: usize,
    way: Way,
    score: f64,
    close: u32,
}

/// Lays `demands` in their order, carrying `beam` part-laid lawns along. The work grows with `beam`; 1 is greedy.
pub fn pack(demands: &[Demand], rule: &Rule, beam: usize, taste: Taste) -> Packing {
    let beam = beam.max(1);
    let shortest = demands
        .iter()
        .map(Demand::length_m)
        .fold(rule.min_piece_m, f64::min);
    let mut states = vec![State {
        pool: Vec::new(),
        fresh: 0,
        scrap: 0.0,
        cuts: 0,
        close: 0,
        before: Rc::default(),
        now: Rc::default(),
        score: 0.0,
        history: None,
    }];
    let mut row = demands.first().map_or(0, |d| d.row);
    let mut tries: Vec<Try> = Vec::new();
    for (at, demand) in demands.iter().enumerate() {
        if demand.row != row {
            // Only the row next to this one has joints to keep clear of.
            let next = demand.row.abs_diff(row) == 1;
            for state in &mut states {
                state.before = if next {
                    state.now.clone()
                } else {
                    Rc::default()
                };
                state.now = Rc::default();
            }
            row = demand.row;
        }
        let last = at + 1 == demands.len();
        tries.clear();
        for (parent, state) in states.iter().enumerate() {
            ways(state, demand, rule, |way, close| {
                let score = state.score_after(&way, rule, shortest, last, taste);
                tries.push(Try {
                    parent,
                    way,
                    score,
                    close,
                });
            });
        }
        tries.sort_by(|a, b| {
            (a.close, a.score)
                .partial_cmp(&(b.close, b.score))
                .unwrap_or(std::cmp::Ordering::Equal)
        });
        let mut next: Vec<State> = Vec::with_capacity(beam);
        for tried in tries.drain(..) {
            if next.len() >= beam {
                break;
            }
            let after = states[tried.parent].after(
                tried.way,
                demand,
                rule,
                shortest,
                tried.score,
                tried.close,
            );
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

/// How part-laid lawns are told better from worse, beside scrap: what an offcut lying ready is counted as losing.
/// The longer it lies about the likelier it is that nothing takes it; but which count leads to the fewest pieces differs
/// from lawn to lawn, so several are tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taste {
    /// As a part of its length. 1 lays with the fewest fresh pieces at every step.
    pub lying: f64,
    /// For being one more thing to place, as a part of a piece.
    pub each: f64,
}

/// Found by trial on random lawns; the first alone reaches the lower bound most often.
pub const TASTES: [Taste; 3] = [
    Taste {
        lying: 0.06,
        each: 0.02,
    },
    Taste {
        lying: 1.0,
        each: 0.0,
    },
    Taste {
        lying: 0.3,
        each: 0.05,
    },
];

impl Taste {
    fn cost(self, length: f64, rule: &Rule) -> f64 {
        if length + SAME_M < rule.min_piece_m {
            (0.9 * length).max(self.lying * length)
        } else {
            self.lying * length + self.each * rule.length_m
        }
    }
}

impl State {
    fn same_as(&self, other: &State) -> bool {
        self.fresh == other.fresh
            && self.pool.len() == other.pool.len()
            && self.now.len() == other.now.len()
            && self
                .pool
                .iter()
                .zip(&other.pool)
                .all(|(a, b)| (a.length_m - b.length_m).abs() < SAME_M)
            && self
                .now
                .iter()
                .zip(other.now.iter())
                .all(|(a, b)| a.count == b.count && (a.first - b.first).abs() < SAME_M)
    }

    /// The score of the state after `way`, without making it.
    fn score_after(&self, way: &Way, rule: &Rule, shortest: f64, last: bool, taste: Taste) -> f64 {
        let length = rule.length_m;
        let mut score = self.score;
        let mut leave = |rest: f64| {
            if rest <= SAME_M {
            } else if last || rest + SAME_M < shortest {
                score += rest;
            } else {
                score += taste.cost(rest, rule);
            }
        };
        let mut taken = 0.0;
        match way {
            Way::Ends { first, last, .. } => {
                let shared = matches!(
                    last,
                    Some(Cut {
                        from: From::Rest,
                        ..
                    })
                );
                for cut in [first, last].into_iter().flatten() {
                    match cut.from {
                        From::Fresh if shared => {}
                        From::Fresh => leave(length - cut.length),
                        From::Rest => {
                            leave(length - cut.length - first.as_ref().map_or(0.0, |f| f.length))
                        }
                        From::Pool(at) => {
                            let offcut = self.pool[at].length_m;
                            taken += taste.cost(offcut, rule);
                            leave(offcut - cut.length);
                        }
                    }
                }
            }
            Way::Free { lengths, .. } => {
                for cut in lengths {
                    leave(length - cut);
                }
            }
        }
        score - taken
    }

    fn after(
        &self,
        way: Way,
        demand: &Demand,
        rule: &Rule,
        shortest: f64,
        score: f64,
        close: u32,
    ) -> State {
        let mut next = State {
            pool: self.pool.clone(),
            before: self.before.clone(),
            now: Rc::new({
                let mut now = Vec::with_capacity(self.now.len() + 1);
                now.extend_from_slice(&self.now);
                now
            }),
            score,
            history: None,
            ..*self
        };
        next.close += close;
        let mut place = |_: Laid| {};
        next.take(&way, demand, rule, shortest, &mut place);
        if let Some(now) = Rc::get_mut(&mut next.now) {
            joints_of(&way, demand, rule, now);
        }
        next.history = Some(Rc::new(Step {
            way,
            earlier: self.history.clone(),
        }));
        next
    }

    /// Takes the pieces of `way` from the stack and the pool, handing each piece to `place` in its place.
    fn take(
        &mut self,
        way: &Way,
        demand: &Demand,
        rule: &Rule,
        shortest: f64,
        place: &mut dyn FnMut(Laid),
    ) {
        let length = rule.length_m;
        let mut at = demand.start_m;
        match way {
            Way::Ends { first, whole, last } => {
                let first_of = first.as_ref().map(|cut| match cut.from {
                    From::Pool(k) => self.pool[k],
                    From::Fresh | From::Rest => {
                        self.fresh += 1;
                        Offcut {
                            length_m: length,
                            of: self.fresh,
                        }
                    }
                });
                if let (Some(cut), Some(source)) = (first, first_of) {
                    self.cuts += 1;
                    place(Laid {
                        start_m: at,
                        end_m: at + cut.length,
                        of: source.of,
                        offcut: matches!(cut.from, From::Pool(_)),
                    });
                    at += cut.length;
                }
                for k in 0..*whole {
                    self.fresh += 1;
                    let end = if k + 1 == *whole && last.is_none() {
                        demand.end_m
                    } else {
                        at + length
                    };
                    place(Laid {
                        start_m: at,
                        end_m: end,
                        of: self.fresh,
                        offcut: false,
                    });
                    at = end;
                }
                let mut rests: [Option<Offcut>; 2] = [None, None];
                let rest_of = |cut: &Cut, source: Offcut| Offcut {
                    length_m: source.length_m - cut.length,
                    of: source.of,
                };
                let mut gone: [Option<usize>; 2] = [None, None];
                if let (Some(cut), Some(source)) = (first, first_of) {
                    rests[0] = Some(rest_of(cut, source));
                    if let From::Pool(k) = cut.from {
                        gone[0] = Some(k);
                    }
                }
                if let Some(cut) = last {
                    let (source, offcut) = match cut.from {
                        From::Pool(k) => {
                            gone[1] = Some(k);
                            (self.pool[k], true)
                        }
                        From::Rest => (
                            rests[0].take().unwrap_or(Offcut {
                                length_m: 0.0,
                                of: 0,
                            }),
                            true,
                        ),
                        From::Fresh => {
                            self.fresh += 1;
                            (
                                Offcut {
                                    length_m: length,
                                    of: self.fresh,
                                },
                                false,
                            )
                        }
                    };
                    self.cuts += 1;
                    place(Laid {
                        start_m: at,
                        end_m: demand.end_m,
                        of: source.of,
                        offcut,
                    });
                    rests[1] = Some(rest_of(cut, source));
                }
                let mut gone: Vec<usize> = gone.into_iter().flatten().collect();
                gone.sort_unstable();
                for k in gone.into_iter().rev() {
                    self.pool.remove(k);
                }
                for rest in rests.into_iter().flatten() {
                    self.leave(rest, shortest);
                }
            }
            Way::Free { lengths, .. } => {
                for (k, cut) in lengths.iter().enumerate() {
                    self.fresh += 1;
                    let end = if k + 1 == lengths.len() {
                        demand.end_m
                    } else {
                        at + cut
                    };
                    place(Laid {
                        start_m: at,
                        end_m: end,
                        of: self.fresh,
                        offcut: false,
                    });
                    at = end;
                    if length - cut > SAME_M {
                        self.cuts += 1;
                        self.leave(
                            Offcut {
                                length_m: length - cut,
                                of: self.fresh,
                            },
                            shortest,
                        );
                    }
                }
            }
        }
    }

    /// Puts what is left in the pool, shortest first, or counts it as scrap.
    fn leave(&mut self, rest: Offcut, shortest: f64) {
        if rest.length_m <= SAME_M {
            return;
        }
        if rest.length_m + SAME_M < shortest {
            self.scrap += rest.length_m;
            return;
        }
        let at = self.pool.partition_point(|o| o.length_m < rest.length_m);
        self.pool.insert(at, rest);
    }
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
    let mut state = State {
        pool: Vec::new(),
        fresh: 0,
        scrap: 0.0,
        cuts: 0,
        close: 0,
        before: Rc::default(),
        now: Rc::default(),
        score: 0.0,
        history: None,
    };
    let mut rows = Vec::with_capacity(demands.len());
    for (step, demand) in steps.iter().zip(demands) {
        let mut laid = Vec::new();
        state.take(&step.way, demand, rule, shortest, &mut |piece| {
            laid.push(piece)
        });
        rows.push(laid);
    }
    let mut packing = Packing {
        rows,
        pieces: state.fresh,
        cuts: state.cuts,
        left: Vec::new(),
        close_joints: best.close,
    };
    // What was laid from each piece tells what is left of it, scraps included; a piece may have been cut at
    // both ends, but its rest is in one length except where scrap came off between.
    let mut laid_of = vec![0.0; packing.pieces as usize + 1];
    for piece in packing.rows.iter().flatten() {
        laid_of[piece.of as usize] += piece.end_m - piece.start_m;
    }
    packing.left = laid_of
        .iter()
        .enumerate()
        .skip(1)
        .map(|(of, laid)| Offcut {
            length_m: rule.length_m - laid,
            of: of as u32,
        })
        .filter(|left| left.length_m > SAME_M)
        .collect();
    packing
        .left
        .sort_by(|a, b| b.length_m.total_cmp(&a.length_m));
    packing
}

fn joints_of(way: &Way, demand: &Demand, rule: &Rule, into: &mut Vec<Joints>) {
    match way {
        Way::Ends { first, whole, last } => {
            let pieces = u32::from(first.is_some()) + whole + u32::from(last.is_some());
            if pieces > 1 {
                into.push(Joints {
                    first: demand.start_m + first.as_ref().map_or(rule.length_m, |f| f.length),
                    count: pieces - 1,
                });
            }
        }
        Way::Free { lengths, .. } => {
            let mut at = demand.start_m;
            for length in lengths.iter().take(lengths.len().saturating_sub(1)) {
                at += length;
                into.push(Joints {
                    first: at,
                    count: 1,
                });
            }
        }
    }
}

/// The smallest distance between a joint of one run of joints and one of the other.
fn nearest(a: Joints, b: Joints, length: f64) -> f64 {
    if a.count == 0 || b.count == 0 {
        return f64::INFINITY;
    }
    // b's joint number j lies `gap + j * length` after a's first: the nearest pairs are `shift` numbers apart,
    // or one more.
    let shift = ((b.first - a.first) / length).floor();
    let mut best = f64::INFINITY;
    for k in [shift, shift + 1.0] {
        // Joint i of a lies near joint i - k of b, if both exist.
        let from = k.max(0.0);
        let to = (f64::from(a.count) - 1.0).min(f64::from(b.count) - 1.0 + k);
        if from <= to {
            best = best.min((b.first - a.first - k * length).abs());
        }
    }
    if best.is_finite() {
        best
    } else {
        // The runs do not overlap: their ends face each other.
        let a_last = a.first + f64::from(a.count - 1) * length;
        let b_last = b.first + f64::from(b.count - 1) * length;
        (b.first - a_last).abs().min((a.first - b_last).abs())
    }
}

fn keeps_stagger(joints: Joints, before: &[Joints], rule: &Rule) -> bool {
    before
        .iter()
        .all(|other| nearest(joints, *other, rule.length_m) + SAME_M >= rule.stagger_m)
}

/// Every sensible way to lay `demand` after `state`, handed to `found` with the number of joints that come too
/// near to the row before.
fn ways(state: &State, demand: &Demand, rule: &Rule, mut found: impl FnMut(Way, u32)) {
    let length = rule.length_m;
    let wanted = demand.length_m();
    let mut any = false;

    // A row of one piece.
    if wanted <= length + SAME_M {
        let cut = wanted.min(length);
        if length - cut <= SAME_M {
            found(
                Way::Ends {
                    first: None,
                    whole: 1,
                    last: None,
                },
                0,
            );
        } else {
            sources(state, cut, rule, None, |from| {
                found(
                    Way::Ends {
                        first: Some(Cut { length: cut, from }),
                        whole: 0,
                        last: None,
                    },
                    0,
                );
            });
        }
        any = true;
    }

    let most = (wanted / length + SAME_M).floor();
    let over = (wanted - most * length).max(0.0);
    let exact = over <= SAME_M * 2.0;
    let ends = |first: f64, count: u32| {
        keeps_stagger(
            Joints {
                first: demand.start_m + first,
                count,
            },
            &state.before,
            rule,
        )
    };

    if exact && most >= 2.0 && ends(length, most as u32 - 1) {
        any = true;
        found(
            Way::Ends {
                first: None,
                whole: most as u32,
                last: None,
            },
            0,
        );
    }
    if !exact && most >= 1.0 && over + SAME_M >= rule.min_piece_m {
        // One cut piece, at either end.
        for (at_start, first) in [(true, over), (false, length)] {
            if ends(first, most as u32) {
                any = true;
                sources(state, over, rule, None, |from| {
                    let cut = Some(Cut { length: over, from });
                    found(
                        Way::Ends {
                            first: if at_start { cut } else { None },
                            whole: most as u32,
                            last: if at_start { None } else { cut },
                        },
                        0,
                    );
                });
            }
        }
    }

    // A cut piece at each end.
    let mut firsts: Vec<f64> = Vec::new();
    for whole in [most, most - 1.0] {
        if whole < 0.0 {
            continue;
        }
        let both = wanted - whole * length;
        let low = rule.min_piece_m.max(both - length);
        let high = (both - rule.min_piece_m).min(length);
        if low > high + SAME_M {
            continue;
        }
        let whole = whole as u32;
        firsts.clear();
        let mut push = |first: f64| {
            if first >= low - SAME_M && first <= high + SAME_M {
                firsts.push(first.clamp(low, high.max(low)));
            }
        };
        for offcut in &state.pool {
            let o = offcut.length_m;
            push(o);
            push(both - o);
            push(o - rule.min_piece_m);
            push(both - (o - rule.min_piece_m));
        }
        push(low);
        push(high);
        push(0.5 * both);
        push(0.5 * length);
        push(both - 0.5 * length);
        push(length - rule.min_piece_m);
        push(both - (length - rule.min_piece_m));
        for run in state.before.iter() {
            let phase = (run.first - demand.start_m).rem_euclid(length);
            for edge in [phase - rule.stagger_m, phase + rule.stagger_m] {
                let edge = edge.rem_euclid(length);
                push(edge);
                push(edge + length);
            }
        }
        firsts.sort_unstable_by(f64::total_cmp);
        firsts.dedup_by(|a, b| (*a - *b).abs() < SAME_M);
        for &first in &firsts {
            let last = both - first;
            if !ends(first, whole + 1) {
                continue;
            }
            any = true;
            if first + last <= length + SAME_M {
                found(
                    Way::Ends {
                        first: Some(Cut {
                            length: first,
                            from: From::Fresh,
                        }),
                        whole,
                        last: Some(Cut {
                            length: last,
                            from: From::Rest,
                        }),
                    },
                    0,
                );
            }
            sources(state, first, rule, None, |from_first| {
                let used = match from_first {
                    From::Pool(k) => Some(k),
                    _ => None,
                };
                sources(state, last, rule, used, |from_last| {
                    found(
                        Way::Ends {
                            first: Some(Cut {
                                length: first,
                                from: from_first,
                            }),
                            whole,
                            last: Some(Cut {
                                length: last,
                                from: from_last,
                            }),
                        },
                        0,
                    );
                });
            });
        }
    }
    if !any {
        let (lengths, close) = super::joints::free(demand, rule, &state.before_positions(rule));
        let count = close;
        found(Way::Free { lengths, close }, count);
    }
}

impl State {
    fn before_positions(&self, rule: &Rule) -> Vec<f64> {
        self.before
            .iter()
            .flat_map(|run| (0..run.count).map(move |k| run.first + f64::from(k) * rule.length_m))
            .collect()
    }
}

/// Where a cut piece of `cut` metres could sensibly come from: the offcut that fits best, the smallest whose rest
/// is still of use, and a fresh piece.
fn sources(state: &State, cut: f64, rule: &Rule, used: Option<usize>, mut found: impl FnMut(From)) {
    let from = state.pool.partition_point(|o| o.length_m + SAME_M < cut);
    let mut best: Option<usize> = None;
    for k in from..state.pool.len() {
        if Some(k) == used {
            continue;
        }
        if best.is_none() {
            best = Some(k);
            found(From::Pool(k));
            if state.pool[k].length_m - cut <= SAME_M {
                // It fits: nothing can be better.
                return;
            }
            if state.pool[k].length_m - cut >= rule.min_piece_m {
                break;
            }
        } else if state.pool[k].length_m - cut + SAME_M >= rule.min_piece_m {
            found(From::Pool(k));
            break;
        }
    }
    if rule.length_m - cut > SAME_M {
        found(From::Fresh);
    }
}
