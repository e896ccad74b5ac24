//! Which tests a number has passed, and how large an error of each kind could have passed them all unseen (external reliability, Baarda
//! 1968). What comes of it stands in `checked`.
//!
//! Three kinds of test can fail: laps against each other, the end of a lap against its start, taped readings against the walk. For each
//! kind of error (a drift, a shift, a cut corner, a misread tape) the file works out the smallest size that some test would tell, and
//! what an error of just that size does to the area.

use super::Survey;
use super::checked::{By, Check, ErrorKind, Unit, Unseen, Would};
use super::measured::TapeFacts;
use super::reliability::{largest_unseen, told_from};
use super::settled::Adjusted;
use super::walked::{Walked, told_apart_m};
use crate::band::evidence::Difference;
use crate::band::telling::Telling;
use crate::limits::tape::{POWER, REMEDY_SHARE};
use crate::limits::walk::drift::RECEIVER_ERRS_TIMES;
use crate::next_step::NextStep;
use crate::normal;
use crate::ring::{area_gradient_m, distance_m};
use crate::tape::trust::w_critical;
use geo::Coord;

/// Which tests were made, one entry for each kind. `walked_band_m2` is the 95 % band before any tape.
pub fn made(survey: &Survey, walked_band_m2: f64) -> Vec<Check> {
    let rings = || survey.lawns.iter().chain(&survey.deducts);
    let laps = rings().filter(|ring| ring.passes.len() > 1).map(|ring| {
        let (least_m2, most_m2) = ring.laps_hold_m2();
        Check {
            check: By::Laps,
            count: ring.laps,
            walks: 1,
            apart_s: ring.track.timed.then(|| laps_apart_s(ring)),
            differ: Some(most_m2 - least_m2),
            allowed: Some(ring.laps_may_differ_m2(walked_band_m2)),
            unit: Unit::M2,
        }
    });
    let closing = rings().filter_map(|ring| {
        Some(Check {
            check: By::Closing,
            count: 1,
            walks: 1,
            apart_s: ring.track.timed.then(|| ring.lasted_s()),
            differ: Some(ring.closed.gap_m),
            allowed: Some(ring.closed.may_gape_m?),
            unit: Unit::M,
        })
    });
    let mut made: Vec<Check> = [worst(laps), worst(closing)]
        .into_iter()
        .flatten()
        .collect();
    made.extend(taped(&survey.settled.facts));
    made
}

/// The test by tape: readings against a walk, or figures that were closed by more lengths than they need. `None` where nothing was
/// tested.
#[must_use]
pub fn taped(facts: &TapeFacts) -> Option<Check> {
    let check = |count: usize, differ: f64, allowed: f64| Check {
        check: By::Tape,
        count: u32::try_from(count).unwrap_or(u32::MAX),
        walks: 1,
        apart_s: None,
        differ: Some(differ).filter(|sigmas| sigmas.is_finite()),
        allowed: Some(allowed),
        unit: Unit::Sigma,
    };
    if let Some(agreement) = &facts.tape {
        let largest = agreement.checks.iter().map(|c| c.sigmas.abs());
        return (!agreement.checks.is_empty()).then(|| {
            check(
                agreement.checks.len(),
                largest.fold(0.0, f64::max),
                crate::tape::trust::walk_critical(),
            )
        });
    }
    let closed = || {
        facts
            .shapes
            .iter()
            .filter_map(|shape| shape.closing.as_ref())
    };
    let freedom: usize = closed().map(|closing| closing.freedom).sum();
    let largest = closed()
        .flat_map(|closing| &closing.lines)
        .map(|l| l.w.abs());
    (freedom > 0).then(|| check(freedom, largest.fold(0.0, f64::max), w_critical()))
}

/// Of tests of one kind the one that came nearest to failing, with the count of all; `None` where there is none.
fn worst(checks: impl Iterator<Item = Check>) -> Option<Check> {
    let part = |c: &Check| match (c.differ, c.allowed) {
        (Some(differ), Some(allowed)) => differ / allowed,
        _ => 0.0,
    };
    checks.reduce(|a, b| {
        let (count, walks) = (a.count + b.count, a.walks + b.walks);
        let nearer = if part(&b) > part(&a) { b } else { a };
        Check {
            count,
            walks,
            ..nearer
        }
    })
}

/// The shortest time from the start of one lap to that of the next, seconds.
fn laps_apart_s(ring: &Walked) -> f64 {
    let start_s = |pass: &super::walked::Pass| ring.spots[pass.first].t_s;
    let pairs = ring.passes.windows(2);
    pairs
        .map(|pair| start_s(&pair[1]) - start_s(&pair[0]))
        .fold(f64::INFINITY, f64::min)
}

/// The largest change of area that stays unseen, m², and the error that makes it, metres east and north; `None` where nothing
/// bounds it.
type Worst = Option<(f64, [f64; 2])>;

/// The larger of both; `None` if nothing bounds one of them.
fn larger(a: Worst, b: Worst) -> Worst {
    let (a, b) = (a?, b?);
    Some(if b.0 > a.0 { b } else { a })
}

/// What would stay unseen, by kind of error. Of several rings it is the worst.
pub fn unseen(survey: &Survey, walked_band_m2: f64) -> Vec<Unseen> {
    let taped = survey.settled.adjusted.as_ref();
    let lawns = survey.lawns.iter().enumerate();
    let rings: Vec<Ring> = lawns
        .map(|(k, lawn)| Ring::new(survey, lawn, taped.map(|taped| (k, taped)), walked_band_m2))
        .chain((survey.deducts.iter()).map(|walk| Ring::new(survey, walk, None, walked_band_m2)))
        .collect();
    let of = |error: ErrorKind, ring_of: fn(&Ring) -> Worst| {
        // What nothing bounds counts as larger than all.
        let size = |worst: &Worst| worst.map_or(f64::INFINITY, |(m2, _)| m2);
        // What was drawn or listed was not walked with a receiver, so that nothing can have drifted or shifted there.
        let may_err = |ring: &&Ring| error == ErrorKind::Corner || !ring.walked.track.drawn;
        let each = rings.iter().filter(may_err).map(|r| (r, ring_of(r)));
        let (ring, worst) = each.max_by(|a, b| size(&a.1).total_cmp(&size(&b.1)))?;
        let label = ring.walked.label.clone();
        Some(Unseen {
            error,
            area_m2: worst.map(|(m2, _)| m2),
            by_m: worst.map(|(_, by_m)| by_m),
            walk: Some(label).filter(|_| rings.len() > 1).unwrap_or_default(),
        })
    };
    let mut unseen: Vec<Unseen> = [
        of(ErrorKind::Drift, |ring| ring.drift()),
        of(ErrorKind::Shift, |ring| ring.shift()),
        of(ErrorKind::Corner, |ring| ring.corner()),
    ]
    .into_iter()
    .flatten()
    .collect();
    if let Some(adjusted) = &survey.settled.adjusted {
        unseen.push(Unseen {
            error: ErrorKind::Tape,
            area_m2: adjusted.shown.misread_m2(),
            by_m: None,
            walk: String::new(),
        });
    }
    unseen
}

/// What would show a smaller drift than is shown now, for a single lawn that was walked once and not taped; empty for others.
pub fn would(survey: &Survey, unseen: &[Unseen], walked_band_m2: f64) -> Vec<Would> {
    let ([walked], None) = (survey.lawns.as_slice(), &survey.settled.adjusted) else {
        return Vec::new();
    };
    if walked.closed.may_gape_m.is_none() {
        return Vec::new();
    }
    let now_m2 = unseen.iter().find(|u| u.error == ErrorKind::Drift);
    let now_m2 = now_m2.and_then(|u| u.area_m2).unwrap_or(f64::INFINITY);
    let if_taped = survey.settled.if_taped.as_ref();
    let taped = if_taped
        .and_then(|taped| Ring::new(survey, walked, Some((0, taped)), walked_band_m2).drift());
    [
        (NextStep::SecondLap, once_more(survey, walked)),
        (NextStep::TapeCheckLines, taped),
    ]
    .into_iter()
    .filter_map(|(remedy, worst)| {
        let (area_m2, _) = worst.filter(|&(m2, _)| m2 < REMEDY_SHARE * now_m2)?;
        Some(Would { remedy, area_m2 })
    })
    .collect()
}

/// The drift that would stay unseen if a second lap just like the first had been walked.
fn once_more(survey: &Survey, walked: &Walked) -> Worst {
    let seen = second_lap(walked);
    let lasted_s = 2.0 * walked.lasted_s();
    let share = |d: &Difference| (d.t_s[1] - d.t_s[0]) / lasted_s;
    let telling = Telling::new(&survey.prior, &seen, share, RECEIVER_ERRS_TIMES)?;
    let answer_m = drift_answer_m(walked)?;
    // Half of the drift is in each lap.
    largest_unseen(
        |along| 0.5 * (answer_m[0] * along[0] + answer_m[1] * along[1]),
        |along| Some(told_by_laps_m(&telling, along)),
    )
}

/// The differences that a second lap just like the first would give, at places spread along it.
fn second_lap(walked: &Walked) -> Vec<Difference> {
    const PLACES: usize = 12;
    let lasted_s = walked.lasted_s() + walked.track.step_s;
    let line = &walked.line();
    let apart = (line.len() / PLACES).max(1);
    line.windows(2)
        .skip(apart / 2)
        .step_by(apart)
        .filter_map(|pair| {
            let way = pair[1].at - pair[0].at;
            let length_m = distance_m(pair[0].at, pair[1].at);
            (length_m > 0.0).then(|| Difference {
                t_s: [pair[0].t_s, pair[0].t_s + lasted_s],
                offset_m: 0.0,
                normal: [-way.y / length_m, way.x / length_m],
                sigma_m: pair[0].sigma(),
                hand_m: crate::process::hand::PASSES_APART_M,
            })
        })
        .collect()
}

/// From how many metres on a drift in a direction is told by the laps with a chance of [`POWER`].
fn told_by_laps_m(telling: &Telling, along: [f64; 2]) -> f64 {
    // What is foreseen holds for a receiver that errs just as it claims; one that errs less takes a larger drift to be found out. On
    // simulated walks without this factor a drift of the size foreseen was told 72 times in 100 (85 of 118), one half as large again 97
    // times.
    const MISCLAIMED: f64 = 1.15;
    MISCLAIMED * telling.told_from_m(along, normal::quantile(POWER))
}

/// By how much a ring's area moves, m², for each metre of a drift that grows evenly from the start of its laps to their end, east and
/// north; `None` where that is not known.
fn drift_answer_m(walked: &Walked) -> Option<[f64; 2]> {
    let (line, from_s) = (walked.line(), walked.times_s().0);
    let lasted_s = walked.lasted_s();
    if walked.inside.pulls.len() != line.len() || lasted_s <= 0.0 {
        return None;
    }
    let mut sum = [0.0; 2];
    for (pull, spot) in walked.inside.pulls.iter().zip(line.iter()) {
        let share = (spot.t_s - from_s) / lasted_s;
        let parts = pull.pull_m2.iter().zip(spot.sigma_m);
        for (sum, (pull_m2, sigma_m)) in sum.iter_mut().zip(parts) {
            // A pull is the gradient times the sigma.
            if sigma_m > 0.0 {
                *sum += share * pull_m2 / sigma_m;
            }
        }
    }
    Some(sum)
}

/// One walked ring, with the tests that its errors would have to pass.
struct Ring<'a> {
    walked: &'a Walked,
    /// Its index among the lawns, and what the adjustment by tape made of them.
    taped: Option<(usize, &'a Adjusted)>,
    /// From how many square metres of difference between two laps on it is told; `None` of a single lap.
    laps_m2: Option<f64>,
    /// From which size on a drift between laps is told by their differences; `None` of a single lap.
    telling: Option<Telling>,
}

impl<'a> Ring<'a> {
    /// Gathers from which sizes on the tests of this ring tell. `taped` is its index among the lawns and what the tape made of them, if
    /// anything was taped.
    fn new(
        survey: &'a Survey,
        walked: &'a Walked,
        taped: Option<(usize, &'a Adjusted)>,
        walked_band_m2: f64,
    ) -> Ring<'a> {
        let several = walked.passes.len() > 1;
        let lasted_s = walked.lasted_s().max(1e-9);
        Ring {
            walked,
            taped,
            laps_m2: several.then(|| {
                let limit_m2 = walked.laps_may_differ_m2(walked_band_m2);
                told_from(limit_m2, walked.lap_sigma_m2(walked_band_m2))
            }),
            telling: several
                .then(|| {
                    let share = |d: &Difference| (d.t_s[1] - d.t_s[0]) / lasted_s;
                    Telling::new(
                        &survey.prior,
                        &walked.witness.differences,
                        share,
                        RECEIVER_ERRS_TIMES,
                    )
                })
                .flatten(),
        }
    }

    /// The largest drift that stays unseen: told by how far apart the laps' middles lie, by the differences between passes, or by the
    /// tape.
    fn drift(&self) -> Worst {
        let answer_m = drift_answer_m(self.walked)?;
        let (from_s, lasted_s) = (self.walked.times_s().0, self.walked.lasted_s());
        let share = |t_s: f64| ((t_s - from_s) / lasted_s).clamp(0.0, 1.0);
        let laps = f64::from(self.walked.laps.max(1));
        let apart_m = (self.walked.passes.len() > 1).then(|| {
            let limit_m = told_apart_m(self.walked.edge.perimeter_m, self.walked.track.sigma_m);
            told_from(
                limit_m,
                std::f64::consts::SQRT_2 * self.walked.track.sigma_m,
            ) * laps
                / (laps - 1.0)
        });
        largest_unseen(
            |along| {
                let walked_m2 = answer_m[0] * along[0] + answer_m[1] * along[1];
                self.after_tape_m2(walked_m2, &share, along)
            },
            |along| {
                let by_laps = self.telling.as_ref();
                let by_laps = by_laps.map(|telling| told_by_laps_m(telling, along));
                let told = [apart_m, by_laps, self.told_by_tape_m(&share, along)];
                told.into_iter().flatten().reduce(f64::min)
            },
        )
    }

    /// What an error does to the area after tape, if it moves each point by `share` (which depends on when the point was passed) of a
    /// metre `along`.
    fn after_tape_m2(&self, walked_m2: f64, share: &dyn Fn(f64) -> f64, along: [f64; 2]) -> f64 {
        match self.taped {
            Some((lawn, adjusted)) => {
                let moved = adjusted.moved(Some(lawn), share, along);
                adjusted.shown.area_m2(lawn, walked_m2, &moved)
            }
            None => walked_m2,
        }
    }

    /// From how many metres on such an error is told by the tape; `None` where it never is.
    fn told_by_tape_m(&self, share: &dyn Fn(f64) -> f64, along: [f64; 2]) -> Option<f64> {
        let (lawn, adjusted) = self.taped?;
        sized_by_tape_m(adjusted, &adjusted.moved(Some(lawn), share, along))
    }

    /// The largest single shift that stays unseen. A lap that is moved as a whole holds what it held, and one of which a part is moved
    /// holds another area than the rest, which is told. Nothing shows that in a single lap: if the position may move anywhere, it may do
    /// so where the lap is closed.
    fn shift(&self) -> Worst {
        let laps = f64::from(self.walked.laps);
        self.laps_m2.map(|m2| (m2 / laps, [0.0; 2]))
    }

    /// The worst misplaced corner that stays unseen. A corner out of its place moves the area as that vertex of the ring of corners does.
    fn corner(&self) -> Worst {
        let by_laps = self
            .laps_m2
            .map(|m2| (m2 / f64::from(self.walked.laps), [0.0; 2]));
        let by_tape = self.taped.and_then(|(lawn, adjusted)| {
            let corners = adjusted.corners(lawn);
            let ring: Vec<Coord<f64>> = corners.iter().map(|&p| adjusted.walked_at[p]).collect();
            let gradients = area_gradient_m(&ring);
            let each = corners.iter().zip(gradients).map(|(&point, gradient)| {
                let moved = |along: [f64; 2]| {
                    let mut moved = vec![0.0; 2 * adjusted.walked_at.len()];
                    moved[2 * point..2 * point + 2].copy_from_slice(&along);
                    moved
                };
                largest_unseen(
                    |along| {
                        let walked_m2 = gradient[0] * along[0] + gradient[1] * along[1];
                        adjusted.shown.area_m2(lawn, walked_m2, &moved(along))
                    },
                    |along| sized_by_tape_m(adjusted, &moved(along)),
                )
            });
            each.reduce(larger).flatten()
        });
        match (by_laps, by_tape) {
            (Some(a), Some(b)) => Some(if a.0 < b.0 { a } else { b }),
            (a, b) => a.or(b),
        }
    }
}

/// From how many times `moved` on a reading tells of it; `None` where none ever does.
fn sized_by_tape_m(adjusted: &Adjusted, moved: &[f64]) -> Option<f64> {
    // An answer of less than this for each metre is rounding.
    const NOTHING: f64 = 1e-9;
    let sigmas = adjusted.shown.sigmas(moved);
    (sigmas > NOTHING).then(|| told_from(adjusted.shown.critical, 1.0) / sigmas)
}
