//! What the log itself shows of its errors, and how that changes what is believed of the receiver.
//!
//! Two passes of one place differ by the errors of both passes. Their difference square to the edge is one observation; along the edge
//! nobody knows where the same place is. Positions at a standstill differ in the same way. For each belief (a correlation time and a
//! scale) these differences have a joint normal density, their likelihood. By Bayes' rule each belief's weight is multiplied by it. The
//! likelihood is tempered, and a part of the weight never moves, because the model is only roughly true.

use super::model::{Belief, Process, WHITE_SHARE};
use super::moments::Moments;
use super::propagate::abreast;
use super::rough::Rough;
use super::tridiagonal::Tridiagonal;
use crate::process::STANDING_SHOWS;
use crate::process::hand;
use crate::process::{LIAR_SCALES, LIARS_SHARE};
use crate::ring::{distance_m, dot, foot, size_m};
use crate::walk::Spot;
use crate::walk::clean::longest_step_s;
use crate::walk::laps::Laps;
use crate::walk::pauses::Pause;
use geo::Coord;

/// The offset between two passes of one place, square to the edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// The times of the two passes, seconds on the log's clock.
    pub t_s: [f64; 2],
    /// How far the second pass lies from the first along `normal`, metres.
    pub offset_m: f64,
    /// Unit vector square to the edge.
    pub normal: [f64; 2],
    /// Claimed sigma of either pass along the normal, metres.
    pub sigma_m: f64,
    /// How much the two passes may differ for reasons that are not the receiver's, metres, one sigma.
    pub hand_m: f64,
}

/// The power to which the likelihood is raised, so that it says less than it would if the model were exact: the passes are matched by
/// nearness, their white part and the hand's share are guesses, and real errors are not quite Gauss-Markov. With 0.6 walks under series
/// drawn as widely as real receivers err were covered one or two in a hundred less often, with 1 four.
pub(super) const TEMPER: f64 = 0.4;
/// The part of each weight that no evidence moves: laps that happen to agree must not make the band far too narrow.
const UNMOVED: f64 = 0.12;
/// With a horizontal sigma of less than this, metres, a pass shows where it goes round a corner.
const CLEAR_M: f64 = 0.2;
/// The number of differences used, at most; the time for the likelihood grows with its cube.
const MOST: usize = 24;

/// Compares each lap with the one before it at places spread along it, away from corners. Of a single lap it compares the end with the
/// start. At most [`MOST`] differences; none where nothing can be compared.
pub(crate) fn differences(spots: &[Spot], laps: &Laps, step_s: f64) -> Vec<Difference> {
    let turns: Vec<f64> = laps
        .legs
        .iter()
        .flat_map(|leg| vec![leg.turn; leg.bounds.len() - 1])
        .collect();
    let bounds: Vec<(usize, usize, f64)> = laps
        .each()
        .zip(turns)
        .map(|((a, b), turn)| (a, b, turn))
        .collect();
    let pairs: Vec<_> = bounds.windows(2).collect();
    if pairs.is_empty() {
        return bounds
            .first()
            .and_then(|&(a, b, _)| closing(spots, a, b))
            .into_iter()
            .collect();
    }
    let per_pair = (MOST / pairs.len()).clamp(1, 12);
    // Of many laps not all pairs are taken, but some spread through the walk.
    let stride = pairs.len().div_ceil(MOST / per_pair).max(1);
    let longest_step_s = longest_step_s(step_s);
    let mut found = Vec::new();
    for pair in pairs.iter().step_by(stride) {
        let (one, other) = (&spots[pair[0].0..=pair[0].1], &spots[pair[1].0..=pair[1].1]);
        let way_m: f64 = one.windows(2).map(|w| distance_m(w[0].at, w[1].at)).sum();
        let (mut gone_m, mut next_m) = (0.0, 0.5 * way_m / per_pair as f64);
        for k in 1..one.len().saturating_sub(1) {
            gone_m += distance_m(one[k - 1].at, one[k].at);
            if gone_m < next_m {
                continue;
            }
            next_m += way_m / per_pair as f64;
            found.extend(difference(
                one,
                k,
                other,
                pair[0].2 * pair[1].2,
                longest_step_s,
            ));
        }
    }
    found.truncate(MOST);
    found
}

/// What standing still shows: how far the position wanders at one place, from one rest of some seconds to the next, east and north. (A
/// rest is the mean over the first seconds of each half minute.) A receiver that holds its position for most of the time that it stands
/// shows nothing by that, and gives none.
pub(crate) fn standing(spots: &[Spot], pauses: &[Pause]) -> Vec<Difference> {
    // Seconds from one rest to the next, and over how many each is averaged. Real receivers smooth over ten seconds and more, so that
    // rests nearer to each other would make them look better than they are.
    const APART_S: f64 = 30.0;
    const OVER_S: f64 = 3.0;
    const MOST: usize = 4;
    let mut found = Vec::new();
    for pause in pauses.iter().filter(|p| p.lasted_s > APART_S + OVER_S) {
        let stood = &spots[pause.first..=pause.last];
        if 2.0 * held_s(stood) > pause.lasted_s {
            continue;
        }
        let rests = rests(stood, APART_S, OVER_S);
        for pair in rests.windows(2).take(MOST) {
            let [(t_s, at), (next_s, next)] = [pair[0], pair[1]];
            let [east_m, north_m] = stood[0].sigma_m;
            let axes = [
                (next.x - at.x, [1.0, 0.0], east_m),
                (next.y - at.y, [0.0, 1.0], north_m),
            ];
            found.extend(axes.map(|(offset_m, normal, sigma_m)| Difference {
                t_s: [t_s, next_s],
                offset_m,
                normal,
                sigma_m,
                hand_m: hand::STANDING_SWAY_M,
            }));
        }
    }
    found.truncate(2 * MOST);
    found
}

/// For how many seconds of a standstill the position is held, counting runs that are longer than a working receiver's position stays so
/// near.
fn held_s(stood: &[Spot]) -> f64 {
    const AT_LEAST_S: f64 = 8.0;
    let (mut held_s, mut from) = (0.0, 0);
    for (k, spot) in stood.iter().enumerate() {
        let on = stood.get(k + 1).is_some_and(|next| stood[from].holds(next));
        if !on {
            let run_s = spot.t_s - stood[from].t_s;
            held_s += if run_s > AT_LEAST_S { run_s } else { 0.0 };
            from = k + 1;
        }
    }
    held_s
}

/// The mean time and place of the first `over_s` seconds of each stretch of `apart_s` seconds; stretches that are too short are left out.
fn rests(stood: &[Spot], apart_s: f64, over_s: f64) -> Vec<(f64, Coord<f64>)> {
    let from_s = stood[0].t_s;
    let stretch = |s: &Spot| ((s.t_s - from_s) / apart_s) as usize;
    stood
        .chunk_by(|a, b| stretch(a) == stretch(b))
        .filter_map(|own| {
            let rest: Vec<&Spot> = own.iter().filter(|s| s.t_s - own[0].t_s < over_s).collect();
            let n = rest.len() as f64;
            let lasted_s = own[own.len() - 1].t_s - own[0].t_s;
            let mean = |value: fn(&Spot) -> f64| rest.iter().map(|s| value(s)).sum::<f64>() / n;
            let at = Coord {
                x: mean(|s| s.at.x),
                y: mean(|s| s.at.y),
            };
            (lasted_s >= over_s - 1.0).then(|| (mean(|s| s.t_s), at))
        })
        .collect()
}

/// Direction of a walk at spot `k`, a vector of length 1, taken over one and a half metres to either side; `None` where the walk is not
/// straight there, or ends.
fn heading(walk: &[Spot], k: usize) -> Option<Coord<f64>> {
    const REACH_M: f64 = 1.5;
    let here = walk[k].at;
    let back = walk[..k]
        .iter()
        .rev()
        .find(|s| distance_m(s.at, here) >= REACH_M)?
        .at;
    let on = walk[k + 1..]
        .iter()
        .find(|s| distance_m(s.at, here) >= REACH_M)?
        .at;
    let (before, after) = (here - back, on - here);
    let whole = on - back;
    let size = size_m(whole);
    let cos = dot(before, after) / (size_m(before) * size_m(after));
    (cos > 0.9 && size > 0.0).then(|| whole / size)
}

/// The difference between spot `k` of one lap and the nearest place of another lap that is passed in the same direction; `way` is -1
/// where the laps go round in opposite directions, else 1. `None` at corners, where there is no such place, and where the other lap has a
/// gap there.
fn difference(
    one: &[Spot],
    k: usize,
    other: &[Spot],
    way: f64,
    longest_step_s: f64,
) -> Option<Difference> {
    let along = heading(one, k)?;
    let here = &one[k];
    let mut nearest: Option<(f64, Coord<f64>, f64, usize)> = None;
    for (i, pair) in other.windows(2).enumerate() {
        let span = pair[1].at - pair[0].at;
        let size = size_m(span);
        // A span that runs the other way belongs to the opposite side of a narrow lawn.
        if size <= 0.0 || way * dot(span, along) / size < 0.8 {
            continue;
        }
        let at = foot(here.at, pair[0].at, pair[1].at);
        let away = distance_m(at, here.at);
        if nearest.is_none_or(|(d, ..)| away < d) {
            let share = distance_m(at, pair[0].at) / size;
            let t_s = pair[0].t_s + share * (pair[1].t_s - pair[0].t_s);
            nearest = Some((away, at, t_s, i));
        }
    }
    let (_, at, t_s, i) = nearest?;
    // If the other pass has a gap here, nobody knows where it went.
    if other[i + 1].t_s - other[i].t_s > longest_step_s {
        return None;
    }
    // Where the other pass cut a corner, the distance is no difference of errors; with a poor receiver that cannot be seen among the
    // noise.
    let cuts = || heading(other, i).is_none_or(|on| way * dot(on, along) < 0.9);
    if size_m(Coord {
        x: here.sigma_m[0],
        y: here.sigma_m[1],
    }) < CLEAR_M
        && cuts()
    {
        return None;
    }
    let normal = Coord {
        x: -along.y,
        y: along.x,
    };
    let [east, north] = here.sigma_m;
    Some(Difference {
        t_s: [here.t_s, t_s],
        offset_m: dot(at - here.at, normal),
        normal: [normal.x, normal.y],
        sigma_m: (east * normal.x).hypot(north * normal.y),
        hand_m: hand::PASSES_APART_M,
    })
}

/// The end of a single lap against its start, square to the direction in which the walk sets out; `None` where it goes nowhere.
fn closing(spots: &[Spot], first: usize, last: usize) -> Option<Difference> {
    let start = spots[first];
    let on = spots[first..last]
        .iter()
        .find(|s| distance_m(s.at, start.at) >= 1.5)?;
    let along = on.at - start.at;
    let along = along / along.x.hypot(along.y);
    let normal = Coord {
        x: -along.y,
        y: along.x,
    };
    let [east, north] = start.sigma_m;
    Some(Difference {
        t_s: [start.t_s, spots[last].t_s],
        offset_m: dot(spots[last].at - start.at, normal),
        normal: [normal.x, normal.y],
        sigma_m: (east * normal.x).hypot(north * normal.y),
        hand_m: hand::ENDS_APART_M,
    })
}

impl Process {
    /// Weighs the beliefs by how likely they make the differences and the walk's roughness. Large scales, beyond the prior's spread, are
    /// let in at a small weight, so that a receiver that errs by many times its claim is found out by its laps.
    ///
    /// Differences are jointly normal with covariance `sigma² (n_i·n_j) [rho(a_i−a_j) + rho(b_i−b_j) − rho(a_i−b_j) − rho(b_i−a_j)]` plus
    /// white parts and the hand: `a` and `b` are the times of the two passes, `n` the directions square to the edge. Nothing changes
    /// where nothing was seen.
    pub(crate) fn learn(&mut self, seen: &[Difference], stood: &[Difference], rough: &[Rough]) {
        if seen.is_empty() && stood.is_empty() && rough.is_empty() {
            return;
        }
        let honest = self.beliefs.len();
        self.admit_liars();
        let passes = by_time(&self.correlation_s, seen);
        let stood = by_time(&self.correlation_s, stood);
        let times = self.correlation_s.clone();
        self.weigh(honest, |k, scale| {
            let passes = (passes.get(k)).map_or(0.0, |own| own.log_density(scale * scale));
            let stood = stood.get(k).map_or(0.0, |own| shown(own, scale));
            // Several rings all show the same receiver, so that their roughness counts once: the mean of their logarithms.
            let each = |r: &Rough| r.log_likelihood(scale, times[k]) / rough.len() as f64;
            TEMPER * (passes + stood) + rough.iter().map(each).sum::<f64>()
        });
    }

    /// Multiplies the beliefs' weights by how likely what was seen is under each, given as a logarithm for a correlation time (by its
    /// index) and a scale. The first `honest` beliefs are those within the prior's spread. Nothing changes where no belief makes it
    /// possible.
    pub(super) fn weigh(&mut self, honest: usize, log_density: impl Fn(usize, f64) -> f64) {
        let logs: Vec<f64> = self
            .beliefs
            .iter()
            .map(|b| {
                let known = self
                    .correlation_s
                    .iter()
                    .position(|&t| t == b.correlation_s);
                known.map_or(f64::NEG_INFINITY, |k| log_density(k, b.scale))
            })
            .collect();
        let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !top.is_finite() {
            return;
        }
        let before: Vec<f64> = self.beliefs.iter().map(|b| b.weight).collect();
        for (belief, log) in self.beliefs.iter_mut().zip(&logs) {
            belief.weight *= (log - top).exp();
        }
        self.level();
        for (belief, before) in self.beliefs.iter_mut().zip(before) {
            belief.weight += UNMOVED * (before - belief.weight);
        }
        // If what was seen does not speak for so large a scale, they are taken out again; otherwise their far tail alone would carry the
        // variance.
        let liars: f64 = self.beliefs[honest..].iter().map(|b| b.weight).sum();
        if liars < 0.02 {
            self.beliefs.truncate(honest);
            self.level();
        }
    }

    /// Makes the weights sum to one.
    fn level(&mut self) {
        let sum: f64 = self.beliefs.iter().map(|b| b.weight).sum();
        for belief in &mut self.beliefs {
            belief.weight /= sum;
        }
    }

    /// Adds beliefs in scales far beyond the prior's spread, each at a small weight: receivers that err by many times what is usual of
    /// their kind.
    pub(super) fn admit_liars(&mut self) {
        let most = self.beliefs.iter().map(|b| b.scale).fold(0.0, f64::max);
        let liars = LIAR_SCALES.iter().filter(|&&scale| scale > most);
        let times = self.correlation_s.clone();
        let each = LIARS_SHARE / (times.len() * liars.clone().count()) as f64;
        for belief in &mut self.beliefs {
            belief.weight *= 1.0 - LIARS_SHARE;
        }
        for correlation_s in times {
            self.beliefs.extend(liars.clone().map(|&scale| Belief {
                weight: each,
                scale,
                correlation_s,
            }));
        }
    }
}

/// Logarithm of how likely what standing showed is for a receiver that errs `scale` times what it claims. A standstill shows only a part
/// of the error, and which part is not known: the mean over several.
fn shown(stood: &Tridiagonal, scale: f64) -> f64 {
    let logs = STANDING_SHOWS.map(|part| stood.log_density((part * scale).powi(2)));
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| (log - top).exp()).sum();
    top + (sum / logs.len() as f64).ln()
}

/// What [`turned`] makes of the differences' own offsets; empty where there is none.
fn by_time(correlation_s: &[f64], seen: &[Difference]) -> Vec<Tridiagonal> {
    let readings: Vec<f64> = seen.iter().map(|d| d.offset_m / d.hand_m).collect();
    match seen {
        [] => Vec::new(),
        seen => turned(correlation_s, seen, &readings),
    }
}

/// Prepares readings that belong to these differences (in units of each one's hand) so that their likelihood is quick to work out for
/// every scale; one result for each correlation time.
pub(super) fn turned(
    correlation_s: &[f64],
    seen: &[Difference],
    readings: &[f64],
) -> Vec<Tridiagonal> {
    // The correlations depend on the correlation time alone and are the same for every scale.
    let passes = Moments::new(seen.iter().flat_map(|difference| difference.t_s));
    let mut rho = Vec::new();
    abreast(correlation_s, |times: [f64; 4]| {
        passes.correlations(times, &mut rho);
        likelihoods(&rho, seen, readings)
    })
}

/// The likelihoods of the differences for several correlation times side by side. `rho` has, row by row, the correlations between both
/// passes of every difference. Each difference is taken in units of its hand's share: their covariance is then the unit matrix and a part
/// that grows with the square of the scale, which is the form that [`Tridiagonal`] takes.
fn likelihoods<const N: usize>(
    rho: &[[f64; N]],
    seen: &[Difference],
    readings: &[f64],
) -> [Tridiagonal; N] {
    let n = seen.len();
    let row = |pass: usize| &rho[pass * 2 * n..(pass + 1) * 2 * n];
    let mut matrix = vec![[0.0; N]; n * n];
    for (i, p) in seen.iter().enumerate() {
        let (first, second) = (row(2 * i), row(2 * i + 1));
        for (j, q) in seen[..=i].iter().enumerate() {
            let together = p.normal[0] * q.normal[0] + p.normal[1] * q.normal[1];
            let (one, other) = (2 * j, 2 * j + 1);
            let (own, others) = (p.sigma_m / p.hand_m, q.sigma_m / q.hand_m);
            let value = std::array::from_fn(|l| {
                let passes = first[one][l] + second[other][l] - first[other][l] - second[one][l];
                let mut shared = (1.0 - WHITE_SHARE) * together * passes;
                if i == j {
                    shared += 2.0 * WHITE_SHARE;
                }
                shared * own * others
            });
            matrix[i * n + j] = value;
            matrix[j * n + i] = value;
        }
    }
    Tridiagonal::new(matrix, readings)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::band::model::{Receiver, SigmaSource};

    fn seen(offset_m: f64) -> Vec<Difference> {
        (0..8)
            .map(|i| Difference {
                t_s: [10.0 * i as f64, 100.0 + 10.0 * i as f64],
                offset_m: offset_m * if i % 2 == 0 { 1.0 } else { -0.7 },
                normal: if i % 2 == 0 { [1.0, 0.0] } else { [0.0, 1.0] },
                sigma_m: 0.02,
                hand_m: hand::PASSES_APART_M,
            })
            .collect()
    }

    #[test]
    fn laps_that_agree_leave_the_claim_alone() {
        let mut process = Process::prior(Receiver::RtkFixed, SigmaSource::Gst, None);
        process.learn(&seen(0.03), &[], &[]);
        assert!(
            (process.beyond_usual() - 1.0).abs() < 0.15,
            "{}",
            process.scale()
        );
    }

    #[test]
    fn laps_a_metre_apart_unmask_a_false_fix() {
        let mut process = Process::prior(Receiver::RtkFixed, SigmaSource::Gst, None);
        process.learn(&seen(1.0), &[], &[]);
        assert!(process.scale() * 0.02 > 0.4, "{}", process.scale());
    }

    /// A phone stands at one place for a minute. Where it holds its position, to the last digit or to the millimetre, that does not
    /// narrow the band.
    #[test]
    fn a_receiver_that_holds_its_position_shows_nothing_by_standing() {
        let stood = |off_m: fn(usize) -> f64| {
            let spots: Vec<Spot> = (0..70)
                .map(|i| Spot {
                    at: Coord {
                        x: off_m(i),
                        y: 0.0,
                    },
                    t_s: i as f64,
                    sigma_m: [2.0; 2],
                    fix: i,
                })
                .collect();
            let pause = Pause {
                first: 0,
                last: 69,
                at: Coord { x: 0.0, y: 0.0 },
                lasted_s: 69.0,
                scatter_m: 0.0,
            };
            standing(&spots, &[pause])
        };
        assert_eq!(stood(|_| 0.0), []);
        assert_eq!(stood(|i| 0.002 * (i % 3) as f64), []);
        // The position is held, takes one step, and is held again.
        assert_eq!(stood(|i| if i < 30 { 0.0 } else { 0.4 }), []);
        assert!(!stood(|i| 0.3 * (i as f64 / 7.0).sin()).is_empty());
    }
}
