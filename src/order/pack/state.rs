//! A part-laid lawn in the search for the best packing: which offcuts lie ready, how many fresh pieces it took so far, where the
//! joints of the last rows are, and a score for how well it goes. States are copied often, so what they share is kept behind
//! `Rc` (a counted pointer), and how each was reached is a list linked backwards.

use super::ways::{Cut, From, Joints, Way, joints_of};
use crate::order::demand::Demand;
use crate::order::rule::{Laid, Offcut, Rule, SAME_M, Taste};
use std::rc::Rc;

/// A part-laid lawn.
#[derive(Debug, Clone, Default)]
pub(super) struct State {
    /// Offcuts lying ready, shortest first.
    pub pool: Vec<Offcut>,
    /// Fresh pieces taken so far.
    pub fresh: u32,
    /// Metres of rests too short to be used anywhere.
    pub scrap: f64,
    pub cuts: u32,
    /// Joints nearer to one of the row before than the stagger asks.
    pub close: u32,
    /// Joints of the row before, and of this one so far.
    pub before: Rc<Vec<Joints>>,
    pub now: Rc<Vec<Joints>>,
    /// Metres that are lost or likely to be lost: the less, the better.
    pub score: f64,
    pub history: Option<Rc<Step>>,
}

/// How the last demand was laid, linked to how all before it were.
#[derive(Debug)]
pub(super) struct Step {
    pub way: Way,
    pub earlier: Option<Rc<Step>>,
}

/// A row being laid from `at_m` on to its end; each piece is handed to `place`.
struct Along<P> {
    at_m: f64,
    end_m: f64,
    place: P,
}

impl<P: FnMut(Laid)> Along<P> {
    /// Places the next piece, cut from piece number `of`. The last one ends exactly where the row does, so that rounding cannot
    /// leave a gap.
    fn put(&mut self, length_m: f64, of: u32, offcut: bool, last: bool) {
        let start_m = self.at_m;
        self.at_m = if last { self.end_m } else { start_m + length_m };
        (self.place)(Laid {
            start_m,
            end_m: self.at_m,
            of,
            offcut,
        });
    }
}

impl State {
    /// Goes on to the next row to be laid, which lies next to this one or, after a gap, does not.
    pub(crate) fn begin_row(&mut self, next_to_it: bool) {
        let laid = std::mem::take(&mut self.now);
        // Only the row next to this one has joints to keep clear of.
        self.before = if next_to_it { laid } else { Rc::default() };
    }

    /// Whether the two stand alike for all that is still to come: as many fresh pieces, the same offcuts, the same joints in this row.
    /// Of two such states only one is carried along.
    pub(crate) fn same_as(&self, other: &State) -> bool {
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

    /// The score of the state after `way`, without making that state. Every rest that `way` leaves is counted as lost: in full
    /// where it is too short for any row or nothing comes after (`last`), else as much as `taste` makes it. An offcut that `way` uses no
    /// longer counts.
    pub(crate) fn score_after(
        &self,
        way: &Way,
        rule: &Rule,
        shortest: f64,
        last: bool,
        taste: Taste,
    ) -> f64 {
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
                // Where both ends are cut from one fresh piece, only what is left after the second cut counts.
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

    /// The state after `demand` was laid in this `way`.
    pub(crate) fn after(
        &self,
        way: Way,
        demand: &Demand,
        rule: &Rule,
        shortest: f64,
        score: f64,
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
        next.close += way.close();
        next.take(&way, demand, rule, shortest, |_| {});
        if let Some(now) = Rc::get_mut(&mut next.now) {
            joints_of(&way, demand, rule, now);
        }
        next.history = Some(Rc::new(Step {
            way,
            earlier: self.history.clone(),
        }));
        next
    }

    /// Takes the pieces of `way` from fresh ones and from the offcuts in the pool, and hands each to `place` in the order along the row.
    pub(crate) fn take(
        &mut self,
        way: &Way,
        demand: &Demand,
        rule: &Rule,
        shortest: f64,
        place: impl FnMut(Laid),
    ) {
        let mut along = Along {
            at_m: demand.start_m,
            end_m: demand.end_m,
            place,
        };
        match way {
            Way::Ends { first, whole, last } => {
                let rests = self.take_ends(*first, *whole, *last, rule, &mut along);
                for rest in rests.into_iter().flatten() {
                    self.leave(rest, shortest);
                }
            }
            Way::Free { lengths, .. } => {
                for (k, cut) in lengths.iter().enumerate() {
                    let source = self.fresh_piece(rule);
                    along.put(*cut, source.of, false, k + 1 == lengths.len());
                    if rule.length_m - cut > SAME_M {
                        self.cuts += 1;
                        self.leave(source.less(*cut), shortest);
                    }
                }
            }
        }
    }

    /// Lays a cut piece, whole ones and another cut piece, and gives back what is left of the two that were cut.
    fn take_ends(
        &mut self,
        first: Option<Cut>,
        whole: u32,
        last: Option<Cut>,
        rule: &Rule,
        along: &mut Along<impl FnMut(Laid)>,
    ) -> [Option<Offcut>; 2] {
        let mut rest_of_first = first.map(|cut| {
            let source = self.source(cut, rule);
            self.cuts += 1;
            let offcut = matches!(cut.from, From::Pool(_));
            along.put(cut.length, source.of, offcut, false);
            source.less(cut.length)
        });
        for k in 0..whole {
            let ends_row = k + 1 == whole && last.is_none();
            along.put(rule.length_m, self.fresh_piece(rule).of, false, ends_row);
        }
        let rest_of_last = last.map(|cut| {
            let source = match (cut.from, rest_of_first) {
                (From::Rest, Some(rest)) => {
                    rest_of_first = None;
                    rest
                }
                _ => self.source(cut, rule),
            };
            self.cuts += 1;
            along.put(cut.length, source.of, cut.from != From::Fresh, true);
            source.less(cut.length)
        });
        let lay_ready = |cut: Cut| match cut.from {
            From::Pool(k) => Some(k),
            From::Fresh | From::Rest => None,
        };
        let (a, b) = (first.and_then(lay_ready), last.and_then(lay_ready));
        // The one with the higher index goes first, so that the index of the other still holds.
        for k in [a.max(b), a.min(b)].into_iter().flatten() {
            self.pool.remove(k);
        }
        [rest_of_first, rest_of_last]
    }

    /// What `cut` is made from: an offcut that lies ready, or a fresh piece.
    fn source(&mut self, cut: Cut, rule: &Rule) -> Offcut {
        match cut.from {
            From::Pool(k) => self.pool[k],
            From::Fresh | From::Rest => self.fresh_piece(rule),
        }
    }

    /// The next fresh piece, whole; it gets the next number, from 1.
    fn fresh_piece(&mut self, rule: &Rule) -> Offcut {
        self.fresh += 1;
        Offcut {
            length_m: rule.length_m,
            of: self.fresh,
        }
    }

    /// Puts what is left into the pool, which stays in order, or counts it as scrap where it is shorter than `shortest`.
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
