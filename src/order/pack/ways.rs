//! The ways one row can be laid after others: where its joints fall, and what each cut piece is cut from.

use crate::order::demand::Demand;
use crate::order::joints;
use crate::order::rule::{Offcut, Rule, SAME_M};

/// Joints at `first`, `first + length`, ...: `count` of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Joints {
    pub first: f64,
    pub count: u32,
}

/// Where a cut piece comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum From {
    Fresh,
    /// Index into the pool at that moment.
    Pool(usize),
    /// What is left of the fresh piece the row's first cut was made from.
    Rest,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cut {
    pub length: f64,
    pub from: From,
}

/// One way to lay one demand.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Way {
    /// At most one cut piece at each end of `whole` whole ones.
    Ends {
        first: Option<Cut>,
        whole: u32,
        last: Option<Cut>,
    },
    /// Any lengths, for the rare row where nothing simpler keeps the stagger.
    Free { lengths: Vec<f64>, close: u32 },
}

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

fn keeps_stagger(joints: Joints, before: &[Joints], rule: &Rule) -> bool {
    before
        .iter()
        .all(|other| nearest(joints, *other, rule.length_m) + SAME_M >= rule.stagger_m)
}

/// Every sensible way to lay `demand` from the offcuts in `pool`, shortest first, beside the joints of the row `before`;
/// handed to `found` with the number of joints that come too near to that row.
pub(super) fn ways(
    pool: &[Offcut],
    before: &[Joints],
    demand: &Demand,
    rule: &Rule,
    mut found: impl FnMut(Way, u32),
) {
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
            sources(pool, cut, rule, None, |from| {
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
            before,
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
                sources(pool, over, rule, None, |from| {
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
        for offcut in pool {
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
        for run in before {
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
            sources(pool, first, rule, None, |from_first| {
                let used = match from_first {
                    From::Pool(k) => Some(k),
                    _ => None,
                };
                sources(pool, last, rule, used, |from_last| {
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
        let (lengths, close) = joints::free(demand, rule, &positions(before, rule));
        let count = close;
        found(Way::Free { lengths, close }, count);
    }
}

/// Where a cut piece of `cut` metres could sensibly come from: the offcut that fits best, the smallest whose rest
/// is still of use, and a fresh piece.
fn sources(
    pool: &[Offcut],
    cut: f64,
    rule: &Rule,
    used: Option<usize>,
    mut found: impl FnMut(From),
) {
    let from = pool.partition_point(|o| o.length_m + SAME_M < cut);
    let mut tightest = true;
    for (k, offcut) in pool.iter().enumerate().skip(from) {
        if Some(k) == used {
            continue;
        }
        let rest_m = offcut.length_m - cut;
        if tightest {
            tightest = false;
            found(From::Pool(k));
            if rest_m <= SAME_M {
                // It fits: nothing can be better.
                return;
            }
            if rest_m >= rule.min_piece_m {
                break;
            }
        } else if rest_m + SAME_M >= rule.min_piece_m {
            found(From::Pool(k));
            break;
        }
    }
    if rule.length_m - cut > SAME_M {
        found(From::Fresh);
    }
}
