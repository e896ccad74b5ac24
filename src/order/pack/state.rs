//! A part-laid lawn: what lies ready, what was taken, and how good that is.

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
    /// Metres that nothing will take any more.
    pub scrap: f64,
    pub cuts: u32,
    /// Joints nearer to one of the row before than the stagger asks.
    pub close: u32,
    /// Joints of the row before, and of this one so far.
    pub before: Rc<Vec<Joints>>,
    pub now: Rc<Vec<Joints>>,
    /// Metres lost or likely to be: the less the better.
    pub score: f64,
    pub history: Option<Rc<Step>>,
}

/// How the last demand was laid, and all before it.
#[derive(Debug)]
pub(super) struct Step {
    pub way: Way,
    pub earlier: Option<Rc<Step>>,
}

impl State {
    pub fn same_as(&self, other: &State) -> bool {
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
    pub fn score_after(
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

    pub fn after(
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
    pub fn take(
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
