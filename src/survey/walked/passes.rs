//! What laps say of each other: whether they hold the same area, and whether an odd step is a turn of the edge or a place where the
//! position moved in one of them.

use super::{Track, Walked};
use crate::limits::walk::{jump, laps};
use crate::process::hand::PASSES_APART_M;
use crate::ring::{distance_m, distance2_m2, dot, foot, signed_area_m2, size_m};
use crate::walk::Spot;
use crate::walk::clean::Gap;
use crate::walk::jumps::OddStep;
use crate::walk::laps::Laps;
use geo::Coord;

/// One lap: its first and last spot, and which way round it goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pass {
    pub first: usize,
    pub last: usize,
    /// +1 counter-clockwise, -1 clockwise.
    pub turn: f64,
}

/// Every lap of all legs, in walking order.
pub(super) fn passes(laps: &Laps) -> Vec<Pass> {
    let of_leg = laps.legs.iter().flat_map(|leg| {
        leg.bounds.windows(2).map(|bounds| Pass {
            first: bounds[0],
            last: bounds[1],
            turn: leg.turn,
        })
    });
    of_leg.collect()
}

/// The index of the lap that a spot is in, its first spot included and its last not; `None` outside of all.
pub(super) fn lap_of(passes: &[Pass], spot: usize) -> Option<usize> {
    let after = passes.partition_point(|pass| pass.first <= spot);
    let lap = after.checked_sub(1)?;
    passes.get(lap).filter(|pass| spot < pass.last).map(|_| lap)
}

impl Walked {
    /// The least and the most that a lap holds, m², if they differ by more than noise and the hand explain, given that the area has this
    /// 95 % band.
    pub(crate) fn laps_differ_m2(&self, band_m2: f64) -> Option<(f64, f64)> {
        let (least_m2, most_m2) = self.laps_hold_m2();
        (most_m2 - least_m2 > self.laps_may_differ_m2(band_m2)).then_some((least_m2, most_m2))
    }

    /// How much the areas of laps may differ before that is told, m², given that the area has this 95 % band.
    pub(crate) fn laps_may_differ_m2(&self, band_m2: f64) -> f64 {
        let first_turn = self.passes.first().map(|pass| pass.turn);
        let both_ways = self.passes.iter().any(|pass| Some(pass.turn) != first_turn);
        let noise_sigmas = match both_ways {
            true => laps::DIFFER_BACK_SIGMAS,
            false => laps::DIFFER_NOISE_SIGMAS,
        };
        laps::DIFFER_HAND_SIGMAS * self.hand_m2() + noise_sigmas * self.lap_sigma_m2(band_m2)
    }

    /// One sigma of how much two laps differ by noise, m², given that the area has this 95 % band. The hand's part of the band is taken
    /// out of it, and the mean of several laps errs by less than one.
    pub(crate) fn lap_sigma_m2(&self, band_m2: f64) -> f64 {
        let noise_m2 = (band_m2.powi(2) - (2.0 * self.hand_m2()).powi(2))
            .max(0.0)
            .sqrt();
        (self.passes.len() as f64 / 2.0).sqrt() * noise_m2
    }

    /// The least and the most that a lap holds, m².
    pub(crate) fn laps_hold_m2(&self) -> (f64, f64) {
        let holds_m2 = |pass: &Pass| {
            let lap: Vec<_> = self.spots[pass.first..=pass.last]
                .iter()
                .map(|spot| spot.at)
                .collect();
            let within = |gap: &&Gap| (pass.first..pass.last).contains(&gap.after);
            let bulges_m2: f64 = self
                .gaps
                .iter()
                .filter(within)
                .map(|gap| gap.bulge_m2)
                .sum();
            pass.turn * (signed_area_m2(&lap) + bulges_m2)
        };
        self.passes
            .iter()
            .map(holds_m2)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), a| {
                (l.min(a), m.max(a))
            })
    }
}

/// The laps of one walk, to be compared.
pub(super) struct Compare<'a> {
    pub spots: &'a [Spot],
    pub passes: &'a [Pass],
    pub track: &'a Track,
}

impl Compare<'_> {
    /// Whether an odd step of the lap `own` belongs to the edge, because other laps make it too.
    pub(crate) fn shared(&self, step: &OddStep, own: usize) -> bool {
        let strain2 = step.strain.min(jump::MOST_STRAIN).powi(2);
        let log = self.log(step.after, step.by, own);
        log.is_some_and(|log| strain2 + log / jump::STRAIN_LOG <= 1.0)
    }

    /// What the other laps say for a jump by `by` after a spot of the lap `own`, or against it if negative: the logarithm of odds, as a
    /// mean of two laps at the most. `None` where no other lap goes along there.
    pub(crate) fn log(&self, after: usize, by: Coord<f64>, own: usize) -> Option<f64> {
        // Two laps, the nearest in time, say as much as all would, as the lap's own error is in every comparison.
        const ASKED: usize = 2;
        let others = (1..self.passes.len())
            .flat_map(|apart| [own.checked_sub(apart), Some(own + apart)])
            .flatten()
            .filter(|&lap| lap < self.passes.len())
            .take(ASKED);
        let said: Vec<f64> = others
            .filter_map(|other| self.log_of_jump(after, by, own, other))
            .collect();
        (!said.is_empty()).then(|| said.iter().sum::<f64>() / said.len() as f64)
    }

    /// Logarithm of how many times likelier it is that the position jumped in the lap `own` than that it did not, by how the lap `other`
    /// lies beside it before and after the step. The two are apart by some offset; a jump adds the step to it from there on. `None` where
    /// too little of the other lap goes along.
    ///
    /// Least squares finds the offset, and which part (`share`) of the step is added after it, known with a weight `w` of one over its
    /// variance. The logarithm is `w (share − ½)`, as long as the share is about as much as none or all of the step.
    fn log_of_jump(&self, after: usize, by: Coord<f64>, own: usize, other: usize) -> Option<f64> {
        // How many seconds of the walk are compared on either side of a step, how many places in them, and for how many independent ones
        // these count.
        const BESIDE_S: f64 = 8.0;
        const PLACES: usize = 8;
        const INDEPENDENT: f64 = 3.0;
        // The direction at a place is taken over this long, seconds.
        const WAY_S: f64 = 1.5;
        // How laps differ from place to place: by the receiver's error, the hand, and chords across bends.
        const OF_SIGMA: f64 = 0.6;
        const OF_STEP: f64 = 0.08;
        let fixes = |lasted_s: f64| ((lasted_s / self.track.step_s).round() as usize).max(1);
        let (beside, way) = (fixes(BESIDE_S).max(2), fixes(WAY_S));
        let stride = beside.div_ceil(PLACES);
        let (own, other) = (&self.passes[own], &self.passes[other]);
        let (before, after) = (after, after + 1);
        let line = thinned(&self.spots[other.first..=other.last]);
        crate::steps::count(other.last - other.first);
        let at = |i: usize| self.spots[i].at;
        let left = |i: usize, along: Coord<f64>| left_m(at(i), along, &line, own.turn * other.turn);
        let past: Vec<(f64, Coord<f64>)> = (own.first.max(before.saturating_sub(beside))..=before)
            .rev()
            .step_by(stride)
            .filter_map(|i| left(i, at(i) - at(i.saturating_sub(way).max(own.first))))
            .collect();
        let next: Vec<(f64, Coord<f64>)> = (after..=own.last.min(after + beside))
            .step_by(stride)
            .filter_map(|i| left(i, at((i + way).min(own.last)) - at(i)))
            .collect();
        if past.len() < 2 || next.len() < 2 {
            return None;
        }
        let step_m = self.track.step_m();
        let noise_m = (OF_SIGMA * self.track.sigma_m)
            .hypot(PASSES_APART_M)
            .hypot(OF_STEP * step_m);
        let mut sums = Sums::default();
        for (places, moved) in [(&past, 0.0), (&next, 1.0)] {
            let n = places.len() as f64;
            let weight = INDEPENDENT.min(n) / n / (noise_m * noise_m);
            for &(offset_m, normal) in places {
                let by_step_m = -moved * dot(by, normal);
                sums.add([normal.x, normal.y, by_step_m], offset_m, weight);
            }
        }
        let (share, weight) = sums.last()?;
        // If the lap moves by much more than the step, or back, it is neither a jump nor none: the laps were not matched well.
        let says = match share {
            _ if share > 1.0 => (1.5 - share).max(0.0),
            _ if share < 0.0 => (-0.5 - share).min(0.0),
            _ => share - 0.5,
        };
        Some(weight * says)
    }
}

/// The normal equations of least squares for three unknowns: the offset east and north, and the share of the step.
#[derive(Default)]
struct Sums {
    matrix: [[f64; 3]; 3],
    right: [f64; 3],
}

impl Sums {
    /// Adds one observation.
    fn add(&mut self, row: [f64; 3], value: f64, weight: f64) {
        for i in 0..3 {
            self.right[i] += weight * row[i] * value;
            for j in 0..3 {
                self.matrix[i][j] += weight * row[i] * row[j];
            }
        }
    }

    /// The third unknown and its weight, which is one over its variance; `None` where no observation tells of it. Directions of the
    /// offset that no observation tells of are drawn to 0.
    fn last(&self) -> Option<(f64, f64)> {
        const LOOSE: f64 = 1e-3;
        let m = &self.matrix;
        let loose = LOOSE * (m[0][0] + m[1][1]);
        let (a, b, d) = (m[0][0] + loose, m[0][1], m[1][1] + loose);
        let det = a * d - b * b;
        if det <= 0.0 {
            return None;
        }
        let u = (m[0][2] * d - m[1][2] * b) / det;
        let v = (m[1][2] * a - m[0][2] * b) / det;
        let weight = m[2][2] - m[0][2] * u - m[1][2] * v;
        let right = self.right[2] - self.right[0] * u - self.right[1] * v;
        (weight > 1e-9 * m[2][2]).then(|| (right / weight, weight))
    }
}

/// A lap's line, thinned to places half a metre or more apart, which is near enough to find what lies beside it.
fn thinned(lap: &[Spot]) -> Vec<Coord<f64>> {
    const APART_M: f64 = 0.5;
    let mut line: Vec<Coord<f64>> = Vec::new();
    for spot in lap {
        if line
            .last()
            .is_none_or(|&last| distance_m(last, spot.at) >= APART_M)
        {
            line.push(spot.at);
        }
    }
    line
}

/// How far a line that goes the same way (or the opposite one, with a `turn` of -1) lies to the left of a place on the way `along`,
/// metres, and the unit vector to the left. `None` where there is no such line, or no way.
fn left_m(
    here: Coord<f64>,
    along: Coord<f64>,
    line: &[Coord<f64>],
    turn: f64,
) -> Option<(f64, Coord<f64>)> {
    // A way shorter than this has no direction, metres.
    const LEAST_M: f64 = 0.3;
    // Two ways go the same way if their directions differ by no more than the angle of this cosine (60 degrees).
    const SAME_WAY: f64 = 0.5;
    let size = size_m(along);
    if size < LEAST_M {
        return None;
    }
    let along = along / size;
    let nearest = line
        .windows(2)
        .filter(|pair| {
            let span = pair[1] - pair[0];
            turn * dot(span, along) > SAME_WAY * size_m(span)
        })
        .map(|pair| foot(here, pair[0], pair[1]))
        .min_by(|&a, &b| distance2_m2(a, here).total_cmp(&distance2_m2(b, here)))?;
    let normal = Coord {
        x: -along.y,
        y: along.x,
    };
    Some((dot(nearest - here, normal), normal))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::walk::jumps::Astray;

    /// Rounds of 20 x 20 m, a fix a metre and second; `moved` is added to a fix.
    fn rounds(laps: usize, moved: impl Fn(usize) -> Coord<f64>) -> Vec<Spot> {
        let place = |i: usize| {
            let along = (i % 20) as f64;
            match i % 80 / 20 {
                0 => (along, 0.0),
                1 => (20.0, along),
                2 => (20.0 - along, 20.0),
                _ => (0.0, 20.0 - along),
            }
        };
        (0..=80 * laps)
            .map(|i| {
                let (x, y) = place(i);
                Spot {
                    at: Coord { x, y } + moved(i),
                    t_s: i as f64,
                    sigma_m: [0.8; 2],
                    fix: i,
                }
            })
            .collect()
    }

    /// What the other laps say of a step of the first lap, 1.5 m aside half way along its second side; and whether they make it too.
    fn said(laps: usize, moved: impl Fn(usize) -> Coord<f64>) -> (Option<f64>, bool) {
        let spots = rounds(laps, moved);
        let passes: Vec<Pass> = (0..laps)
            .map(|lap| Pass {
                first: 80 * lap,
                last: 80 * (lap + 1),
                turn: 1.0,
            })
            .collect();
        let compare = Compare {
            spots: &spots,
            passes: &passes,
            track: &Track::of_test(0.8),
        };
        let by = Coord { x: 1.5, y: 0.0 };
        let step = OddStep {
            after: 29,
            by,
            strain: 1.5,
            back: false,
            astray: Astray { by, log: 3.0 },
        };
        (compare.log(29, by, 0), compare.shared(&step, 0))
    }

    #[test]
    fn what_another_lap_does_not_do_is_more_of_a_jump_and_what_it_does_is_none() {
        const HERE: Coord<f64> = Coord { x: 0.0, y: 0.0 };
        const ASIDE: Coord<f64> = Coord { x: 1.5, y: 0.0 };
        let on_first = |i: usize| if (30..80).contains(&i) { ASIDE } else { HERE };
        let on_every = |i: usize| if i % 80 >= 30 { ASIDE } else { HERE };
        assert_eq!(said(1, on_first), (None, false));
        for laps in [2, 3] {
            let (log, shared) = said(laps, on_first);
            assert!(log.is_some_and(|log| log > 2.0) && !shared, "{log:?}");
        }
        let (log, shared) = said(2, on_every);
        assert!(log.is_some_and(|log| log < -2.0) && shared, "{log:?}");
    }

    /// Laps that lie apart all the way say nothing of a jump.
    #[test]
    fn an_offset_all_the_way_is_no_jump() {
        let apart = |i: usize| Coord {
            x: if i >= 80 { 1.5 } else { 0.0 },
            y: 0.0,
        };
        let (log, shared) = said(2, apart);
        assert!(log.is_some_and(|log| log < -2.0) && shared, "{log:?}");
    }
}
