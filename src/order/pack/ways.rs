//! The ways in which one row can be laid after others: where its joints fall, and what each cut piece is cut from. It gets the
//! offcuts that lie ready and the joints of the row before, and gives every way worth a try, so that the search in
//! `pack` can choose. Ways whose joints come nearer than the stagger to those of the row before are left out.

use crate::order::demand::Demand;
use crate::order::joints;
use crate::order::rule::{Offcut, Rule, SAME_M};

/// A run of evenly spaced joints, as whole pieces make them: `count` of them at `first`, `first + length of a piece`, and so on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Joints {
    pub first: f64,
    pub count: u32,
}

/// What a cut piece is cut from: a fresh piece, an offcut that lies ready, or the rest of the row's first cut.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum From {
    Fresh,
    /// An offcut, by its index into the pool before this row takes anything from it.
    Pool(usize),
    /// What is left of the fresh piece the row's first cut was made from.
    Rest,
}

/// A piece cut to `length` metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cut {
    pub length: f64,
    pub from: From,
}

/// One way to lay one demand.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Way {
    /// `whole` whole pieces with at most one cut piece at each end of them.
    Ends {
        first: Option<Cut>,
        whole: u32,
        last: Option<Cut>,
    },
    /// Fresh pieces of any lengths, for the rare row where nothing simpler keeps the stagger. `close` joints still come too near.
    Free { lengths: Vec<f64>, close: u32 },
}

impl Way {
    fn ends(first: Option<Cut>, whole: u32, last: Option<Cut>) -> Way {
        Way::Ends { first, whole, last }
    }

    /// How many of its joints come too near to one of the row before.
    pub(crate) fn close(&self) -> u32 {
        match self {
            Way::Ends { .. } => 0,
            Way::Free { close, .. } => *close,
        }
    }
}

/// Adds the joints of `way` to those the row has so far. A row has several stretches where a bed interrupts it.
pub(super) fn joints_of(way: &Way, demand: &Demand, rule: &Rule, into: &mut Vec<Joints>) {
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

/// Where each joint lies, one by one.
fn positions(runs: &[Joints], rule: &Rule) -> Vec<f64> {
    runs.iter()
        .flat_map(|run| (0..run.count).map(move |k| run.first + f64::from(k) * rule.length_m))
        .collect()
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

/// A row to be laid: the offcuts that lie ready, shortest first, and the joints of the row next to it.
struct Row<'a> {
    pool: &'a [Offcut],
    before: &'a [Joints],
    demand: &'a Demand,
    rule: &'a Rule,
}

/// Every sensible way to lay `demand` from the offcuts in `pool`, shortest first, beside the joints of the row `before`,
/// handed to `found` one by one.
pub(super) fn ways(
    pool: &[Offcut],
    before: &[Joints],
    demand: &Demand,
    rule: &Rule,
    mut found: impl FnMut(Way),
) {
    let row = Row {
        pool,
        before,
        demand,
        rule,
    };
    let any = row.of_one_piece(&mut found)
        | row.cut_at_one_end(&mut found)
        | row.cut_at_both_ends(&mut found);
    if !any {
        let (lengths, close) = joints::free(demand, rule, &positions(before, rule));
        found(Way::Free { lengths, close });
    }
}

impl Row<'_> {
    /// As many whole pieces as the row has room for.
    fn most_whole(&self) -> f64 {
        (self.demand.length_m() / self.rule.length_m + SAME_M).floor()
    }

    /// Whether `count` joints, the first of them `first_m` from the row's start, keep the stagger from the row before.
    fn keeps_stagger(&self, first_m: f64, count: u32) -> bool {
        let joints = Joints {
            first: self.demand.start_m + first_m,
            count,
        };
        self.before.iter().all(|other| {
            nearest(joints, *other, self.rule.length_m) + SAME_M >= self.rule.stagger_m
        })
    }

    /// Hands on the ways to lay the row as a single piece. Says whether one is long enough.
    fn of_one_piece(&self, found: &mut impl FnMut(Way)) -> bool {
        let length = self.rule.length_m;
        let wanted = self.demand.length_m();
        let reaches = wanted <= length + SAME_M;
        let cut = wanted.min(length);
        if reaches && length - cut <= SAME_M {
            found(Way::ends(None, 1, None));
        } else if reaches {
            self.sources(cut, None, |from| {
                found(Way::ends(Some(Cut { length: cut, from }), 0, None));
            });
        }
        reaches
    }

    /// Hands on the ways with whole pieces alone, where they come out even, else with one cut piece at either end. Says whether there
    /// is any.
    fn cut_at_one_end(&self, found: &mut impl FnMut(Way)) -> bool {
        let length = self.rule.length_m;
        let most = self.most_whole();
        let over = (self.demand.length_m() - most * length).max(0.0);
        let whole = most as u32;
        if over <= SAME_M * 2.0 {
            let can = most >= 2.0 && self.keeps_stagger(length, whole - 1);
            if can {
                found(Way::ends(None, whole, None));
            }
            return can;
        }
        if most < 1.0 || over + SAME_M < self.rule.min_piece_m {
            return false;
        }
        let mut any = false;
        for (at_start, first) in [(true, over), (false, length)] {
            if self.keeps_stagger(first, whole) {
                any = true;
                self.sources(over, None, |from| {
                    let cut = Some(Cut { length: over, from });
                    found(if at_start {
                        Way::ends(cut, whole, None)
                    } else {
                        Way::ends(None, whole, cut)
                    });
                });
            }
        }
        any
    }

    /// Hands on the ways with a cut piece at each end of as many whole ones as there is room for, or one fewer. Says whether there is
    /// any.
    fn cut_at_both_ends(&self, found: &mut impl FnMut(Way)) -> bool {
        let most = self.most_whole();
        let mut any = false;
        for whole in [most, most - 1.0] {
            if whole < 0.0 {
                continue;
            }
            let both = self.demand.length_m() - whole * self.rule.length_m;
            let whole = whole as u32;
            for first in self.first_lengths(both) {
                if self.keeps_stagger(first, whole + 1) {
                    any = true;
                    self.end_sources([first, both - first], |first, last| {
                        found(Way::ends(Some(first), whole, Some(last)));
                    });
                }
            }
        }
        any
    }

    /// Lengths worth a try for the first of two cut pieces that are `both` metres together, shortest first: those
    /// that use up an offcut or leave one of use, those that halve something, and those that just keep the stagger.
    fn first_lengths(&self, both: f64) -> Vec<f64> {
        let (length, min_piece) = (self.rule.length_m, self.rule.min_piece_m);
        let low = min_piece.max(both - length);
        let high = (both - min_piece).min(length);
        if low > high + SAME_M {
            return Vec::new();
        }
        let mut firsts = Vec::with_capacity(4 * self.pool.len() + 7 + 4 * self.before.len());
        let mut push = |first: f64| {
            if first >= low - SAME_M && first <= high + SAME_M {
                firsts.push(first.clamp(low, high.max(low)));
            }
        };
        for offcut in self.pool {
            let o = offcut.length_m;
            push(o);
            push(both - o);
            push(o - min_piece);
            push(both - (o - min_piece));
        }
        push(low);
        push(high);
        push(0.5 * both);
        push(0.5 * length);
        push(both - 0.5 * length);
        push(length - min_piece);
        push(both - (length - min_piece));
        // The joints of a run repeat with the length of a piece, and so do the places that just keep the stagger from them.
        for run in self.before {
            let phase = (run.first - self.demand.start_m).rem_euclid(length);
            for edge in [phase - self.rule.stagger_m, phase + self.rule.stagger_m] {
                let edge = edge.rem_euclid(length);
                push(edge);
                push(edge + length);
            }
        }
        firsts.sort_unstable_by(f64::total_cmp);
        firsts.dedup_by(|a, b| (*a - *b).abs() < SAME_M);
        firsts
    }

    /// What a first and a last piece of these lengths could sensibly be cut from: both from one fresh piece where it is
    /// long enough, else each from a source of its own.
    fn end_sources(&self, [first, last]: [f64; 2], mut found: impl FnMut(Cut, Cut)) {
        let mut cuts = |from_first: From, from_last: From| {
            let first = Cut {
                length: first,
                from: from_first,
            };
            let last = Cut {
                length: last,
                from: from_last,
            };
            found(first, last);
        };
        if first + last <= self.rule.length_m + SAME_M {
            cuts(From::Fresh, From::Rest);
        }
        self.sources(first, None, |from_first| {
            let used = match from_first {
                From::Pool(k) => Some(k),
                _ => None,
            };
            self.sources(last, used, |from_last| cuts(from_first, from_last));
        });
    }

    /// What a piece of `cut` metres could sensibly be cut from: the shortest offcut that is long enough, the shortest whose rest
    /// is still of use, and a fresh piece. The offcut `used` is taken already. Where one fits exactly it is the only one.
    fn sources(&self, cut: f64, used: Option<usize>, mut found: impl FnMut(From)) {
        let from = self.pool.partition_point(|o| o.length_m + SAME_M < cut);
        let mut tightest = true;
        for (k, offcut) in self.pool.iter().enumerate().skip(from) {
            if Some(k) == used {
                continue;
            }
            let rest_m = offcut.length_m - cut;
            if tightest {
                tightest = false;
                found(From::Pool(k));
                if rest_m <= SAME_M {
                    // An offcut that fits exactly leaves nothing over, so nothing can be better.
                    return;
                }
                if rest_m >= self.rule.min_piece_m {
                    break;
                }
            } else if rest_m + SAME_M >= self.rule.min_piece_m {
                found(From::Pool(k));
                break;
            }
        }
        if self.rule.length_m - cut > SAME_M {
            found(From::Fresh);
        }
    }
}
