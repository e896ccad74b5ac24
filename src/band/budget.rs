//! The error of one area: its budget term by term, and the band at the confidence asked for.
//!
//! The input is the process (what is believed of the receiver) and the causes of error of this area; the result is one sigma, the band,
//! the worst case over all correlation times, and the terms. Receivers' errors enter as pulls: the area's gradient at a fix times the
//! fix's claimed sigma. Beside what is linear in the errors there is a part that is quadratic (an error of one fix times that of its
//! neighbour), which matters where the lawn is not much larger than the error.

use super::model::{Process, WHITE_SHARE, WOBBLE_M};
use super::propagate::{
    Pull, correlated_variance_m4, correlated_variances_m4, merge, mixture_half_width,
    white_variance_m4,
};
use crate::cause::Cause;
use crate::normal;
use crate::process::REPEATS_SHARE;
use crate::process::hand::CARRY_SCALES;
use serde::Serialize;
use std::sync::Arc;

/// One line of the error budget.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Term {
    /// Which cause it is of.
    pub term: Cause,
    /// One sigma of the area from this cause, m².
    pub sigma_m2: f64,
    /// What was added to the area for this cause, m²; most causes add nothing.
    pub correction_m2: f64,
}

/// A thinned ring for the quadratic part of the error: the times and the claimed sigmas of its places, in walking order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Coarse {
    pub t_s: Vec<f64>,
    pub sigma_m: Vec<f64>,
    /// How many laps were walked. The area is the closed walk's divided by this.
    pub laps: f64,
}

/// Everything that an area's error is made of.
#[derive(Debug, Clone, Default)]
pub struct Causes {
    /// The pull of every fix of every walked ring of one receiver, in the order of time. Those of deductions have the opposite sign, as
    /// what moves both edges the same way cancels.
    pub pulls: Arc<Vec<Pull>>,
    /// Sum of the squared area gradients of all fixes, m²: for errors that are independent from fix to fix and that the claimed sigma
    /// knows nothing of (the pole).
    pub gradient2_m2: f64,
    /// Places of each walked ring, for the quadratic part.
    pub coarse: Vec<Coarse>,
    /// All other terms. They are independent of each other and of the position.
    pub others: Vec<Term>,
    /// How many laps the pulls are of; and after how many seconds the walker has gone so far that the part of the error which belongs to
    /// a place (signals bent by what stands there) is another one.
    pub laps: f64,
    pub passes_s: f64,
}

/// What is said of an area's error: one sigma, the half-width of the band, that half-width for the most harmful correlation time, all in
/// m², and the terms.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    pub sigma_m2: f64,
    pub band_m2: f64,
    pub worst_case_m2: f64,
    pub terms: Vec<Term>,
}

/// Fixes closer in time than this are taken as one when correlated errors are propagated, seconds: a thirtieth of the shortest
/// correlation time, over which the error hardly changes.
const MERGE_S: f64 = 0.5;

/// Where the error is as large as the lawn, the quadratic part is taken out of the gradient's part (see `believed`); at least this share
/// of that is always left.
const LEAST_OF_FIRST: f64 = 0.5;

/// Variances of an area for the receiver's errors as claimed. Working them out is most of the work, and they serve for all that is asked
/// of the same pulls and places.
#[derive(Debug, Clone)]
pub struct Claimed {
    /// The pulls, with fixes close together taken as one.
    slow: Vec<Pull>,
    /// The variance from what is independent from fix to fix, m⁴.
    white_m4: f64,
    /// The variance from what comes back at the same place on every lap, m⁴.
    repeats_m4: f64,
    /// For each of the process's correlation times: the variance that the gradient of the walked ring gives, white part included; and
    /// that of the part which is quadratic in the errors, m⁴.
    first_m4: Vec<f64>,
    second_m4: Vec<f64>,
}

impl Claimed {
    /// Works the variances out for each of the process's correlation times.
    pub(crate) fn new(process: &Process, causes: &Causes) -> Claimed {
        let mut claimed = Claimed {
            slow: merge(&causes.pulls, MERGE_S),
            white_m4: WHITE_SHARE * white_variance_m4(&causes.pulls),
            repeats_m4: 0.0,
            first_m4: Vec::new(),
            second_m4: Vec::new(),
        };
        // Each lap has one part in `laps` of the pull, and all have this error in common. Together that is the variance of one lap, which
        // is `laps` times the sum of the laps' own, as passes of a place lie much further apart in time than this part of the error
        // lasts.
        claimed.repeats_m4 =
            causes.laps.max(1.0) * correlated_variance_m4(&claimed.slow, causes.passes_s.max(0.1));
        claimed.first_m4 = claimed.linear_m4(&process.correlation_s);
        claimed.second_m4 = process
            .correlation_s
            .iter()
            .map(|&t| {
                let whole_m4: f64 = causes.coarse.iter().map(|c| second_order_m4(c, t)).sum();
                (1.0 - WHITE_SHARE).powi(2) * whole_m4
            })
            .collect();
        claimed
    }

    /// The variance from the gradient for each correlation time: of the slow part a share comes back on every lap, the rest drifts on,
    /// and the white part is added.
    fn linear_m4(&self, correlation_s: &[f64]) -> Vec<f64> {
        correlated_variances_m4(&self.slow, correlation_s)
            .into_iter()
            .map(|variance_m4| {
                let slow_m4 = (1.0 - REPEATS_SHARE) * variance_m4 + REPEATS_SHARE * self.repeats_m4;
                (1.0 - WHITE_SHARE) * slow_m4 + self.white_m4
            })
            .collect()
    }

    /// For each belief its weight, and the variance of the area if it is right, m⁴.
    ///
    /// With errors `e`, the true ring's gradient `g` and `J` the area's second derivative, the variance is `g'Cg + Q`, `Q = ½ tr(JCJC)`.
    /// But the gradient at hand is that of the walked ring, `g + Je`, and on average `(g + Je)'C(g + Je)` is `g'Cg + 2Q`: it has `Q` once
    /// too often, which is taken off.
    fn believed<'a>(&'a self, process: &'a Process) -> impl Iterator<Item = (f64, f64)> + 'a {
        process.beliefs.iter().map(|belief| {
            let k = process
                .correlation_s
                .iter()
                .position(|&t| t == belief.correlation_s)
                .unwrap_or(0);
            let scale2 = belief.scale * belief.scale;
            let first_m4 = self.first_m4[k];
            let variance_m4 =
                (first_m4 - scale2 * self.second_m4[k]).max(LEAST_OF_FIRST * first_m4);
            (belief.weight, scale2 * variance_m4)
        })
    }

    /// The expected variance over all beliefs, m⁴.
    fn position_m4(&self, process: &Process) -> f64 {
        self.believed(process)
            .map(|(weight, variance_m4)| weight * variance_m4)
            .sum()
    }
}

impl Causes {
    /// Puts the pulls of several rings, or of a walk whose clock ran back, in the order of time, which propagation relies on.
    pub(crate) fn in_order_of_time(&mut self) {
        if !self
            .pulls
            .is_sorted_by(|a, b| a.t_s.total_cmp(&b.t_s).is_le())
        {
            Arc::make_mut(&mut self.pulls).sort_by(|a, b| a.t_s.total_cmp(&b.t_s));
        }
    }

    /// The variance from the pole's wobble, which is independent from second to second, m⁴.
    fn pole_m4(&self) -> f64 {
        WOBBLE_M * WOBBLE_M * self.gradient2_m2
    }

    /// The variance of all that is not the receiver's, m⁴.
    fn others_m4(&self) -> f64 {
        self.pole_m4() + self.others.iter().map(Term::variance_m4).sum::<f64>()
    }
}

impl Term {
    fn variance_m4(&self) -> f64 {
        self.sigma_m2 * self.sigma_m2
    }
}

/// Variance of an area, m⁴: the part of [`assess`] that its sigma needs.
pub(crate) fn variance_m4(process: &Process, causes: &Causes) -> f64 {
    Claimed::new(process, causes).variance_m4(process, causes)
}

/// Works out sigma, band and budget of an area from its causes and the beliefs about the receiver. `confidence` is the share that the
/// band holds, such as 0.95.
pub(crate) fn assess(process: &Process, causes: &Causes, confidence: f64) -> Assessment {
    Claimed::new(process, causes).assess(process, causes, confidence)
}

impl Claimed {
    /// What the function [`variance_m4`] gives, for causes with the same pulls and places that this was worked out from, by the same
    /// process.
    pub(crate) fn variance_m4(&self, process: &Process, causes: &Causes) -> f64 {
        self.position_m4(process) + causes.others_m4()
    }

    /// What the function [`assess`] gives, under the same condition.
    pub(crate) fn assess(&self, process: &Process, causes: &Causes, confidence: f64) -> Assessment {
        let others_m4 = causes.others_m4();
        let edges = causes.others.iter().filter(|t| t.term == Cause::Edge);
        let edge_m4: f64 = edges.map(Term::variance_m4).sum();
        // The mixture: every belief about the receiver with every belief about how truly the hand kept to the edge.
        let parts: Vec<(f64, f64)> = self
            .believed(process)
            .flat_map(|(belief, variance_m4)| {
                CARRY_SCALES.map(|(weight, scale)| {
                    (
                        belief * weight,
                        variance_m4 + others_m4 + (scale * scale - 1.0) * edge_m4,
                    )
                })
            })
            .collect();
        let position_m4 = self.position_m4(process);
        let sigma_m2 = (position_m4 + others_m4).sqrt();
        let band_m2 = mixture_half_width(&parts, confidence);

        // The worst case: the largest variance over correlation times from a third of a second to three times the walk.
        let lasted_s = match (self.slow.first(), self.slow.last()) {
            (Some(first), Some(last)) => (last.t_s - first.t_s).max(1.0),
            _ => 1.0,
        };
        const STEPS: usize = 24;
        let (low, high) = (0.3f64.ln(), (3.0 * lasted_s).max(10.0).ln());
        let times: Vec<f64> = (0..=STEPS)
            .map(|k| (low + (high - low) * k as f64 / STEPS as f64).exp())
            .collect();
        let worst_m4 = self
            .linear_m4(&times)
            .into_iter()
            .chain(self.first_m4.iter().copied())
            .fold(0.0, f64::max);
        let scale2 = process.scale().powi(2);
        let worst_sigma_m2 = (scale2 * worst_m4 + others_m4).sqrt();
        let worst_case_m2 =
            (normal::quantile(0.5 + 0.5 * confidence) * worst_sigma_m2).max(band_m2);

        let mut terms = vec![
            Term {
                term: Cause::Position,
                sigma_m2: position_m4.sqrt(),
                correction_m2: 0.0,
            },
            Term {
                term: Cause::Pole,
                sigma_m2: causes.pole_m4().sqrt(),
                correction_m2: 0.0,
            },
        ];
        terms.extend(causes.others.iter().cloned());
        Assessment {
            sigma_m2,
            band_m2,
            worst_case_m2,
            terms,
        }
    }
}

/// Variance of the part of a ring's area that is quadratic in the errors, m⁴, for sigma as claimed:
/// `¼ Σ_ij C_ij (C_{i+1,j+1} − C_{i+1,j−1} − C_{i−1,j+1} + C_{i−1,j−1})`. It matters on lawns not much larger than the position error. It
/// is summed over a thinned ring; a ring of fewer than three places has none.
///
/// The term of `i` and `j` is that of `j` and `i`. Between places further apart than neighbours a covariance is a product,
/// `C_ij = σ_i σ_j exp(-(t_j − t_i) / tau)`, so the sum over all `i` folds into a running one, as in
/// [`super::propagate::correlated_variance_m4`], and takes `n` steps and not `n²`. Only where the ring's end meets its start are there
/// other terms, which are added one by one.
fn second_order_m4(ring: &Coarse, correlation_s: f64) -> f64 {
    let (n, s) = (ring.t_s.len(), &ring.sigma_m);
    if n < 3 {
        return 0.0;
    }
    let decay: Vec<f64> = ring
        .t_s
        .windows(2)
        .map(|w| (-(w[1] - w[0]).max(0.0) / correlation_s).exp())
        .collect();
    let with = |place: usize| {
        let mut row = vec![s[place] * s[place]; n];
        let mut rho = 1.0;
        for other in place + 1..n {
            rho *= decay[other - 1];
            row[other] = s[place] * s[other] * rho;
        }
        rho = 1.0;
        for other in (0..place).rev() {
            rho *= decay[other];
            row[other] = s[place] * s[other] * rho;
        }
        row
    };
    let [first, second, last_but_one, last] = [0, 1, n - 2, n - 1].map(with);
    let mut diagonal = first[0] * (second[1] - 2.0 * second[n - 1] + last[n - 1])
        + last[n - 1] * (first[0] - 2.0 * first[n - 2] + last_but_one[n - 2]);
    let mut above = first[n - 1] * (second[0] - second[n - 2] - last[0] + last[n - 2]);
    for k in 1..n - 1 {
        let (before, after) = (k - 1, k + 1);
        above += first[k] * (second[after] - second[before] - last[after] + last[before]);
        above +=
            last[k] * (first[after] - last_but_one[after] - first[before] + last_but_one[before]);
        let across = s[before] * s[after] * decay[before] * decay[k];
        diagonal += s[k] * s[k] * (s[after] * s[after] - 2.0 * across + s[before] * s[before]);
    }
    // For each place its neighbour before it, and then all places before that: `past` is the sum over those as it stands at the
    // neighbour.
    let mut past = 0.0;
    for (s, decay) in s.windows(4).zip(decay.windows(3)) {
        let (&[s0, s1, s2, s3], &[d0, d1, d2]) = (s, decay) else {
            continue;
        };
        above +=
            s1 * s2 * d1 * (s2 * s3 * d2 - s2 * s1 * d1 - s0 * s3 * d0 * d1 * d2 + s0 * s1 * d0);
        above += past * s2 * d1 * (s3 * d1 * d2 - s1);
        past = d1 * d1 * past + s1 * d1 * (s2 - s0 * d0 * d1);
    }
    (0.25 * (diagonal + 2.0 * above) / (ring.laps * ring.laps)).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::band::model::{Receiver, SigmaSource};
    use approx::assert_relative_eq;
    use geo::Coord;

    /// Exact for independent vertices: n sigma⁴ / 2 (derived and Monte Carlo checked for this project's table).
    #[test]
    fn second_order_of_independent_vertices() {
        let n = 100;
        let ring = Coarse {
            t_s: (0..n).map(|i| i as f64).collect(),
            sigma_m: vec![2.0; n],
            laps: 1.0,
        };
        assert_relative_eq!(
            second_order_m4(&ring, 1e-3),
            100.0 * 16.0 / 2.0,
            max_relative = 1e-9
        );
        // Rectangle 30 x 20 at tau 30 s: first order 75.647, with the quadratic part 76.0107.
        let added = 76.0107f64.powi(2) - 75.646947f64.powi(2);
        assert_relative_eq!(second_order_m4(&ring, 30.0), added, max_relative = 0.01);
    }

    /// The same sum as [`second_order_m4`], term by term as its formula has it.
    fn second_order_plainly(ring: &Coarse, tau: f64) -> f64 {
        let n = ring.t_s.len();
        let c = |i: usize, j: usize| {
            let (i, j) = (i % n, j % n);
            ring.sigma_m[i] * ring.sigma_m[j] * (-(ring.t_s[i] - ring.t_s[j]).abs() / tau).exp()
        };
        let mut sum = 0.0;
        for i in n..2 * n {
            for j in n..2 * n {
                sum += c(i, j)
                    * (c(i + 1, j + 1) - c(i + 1, j - 1) - c(i - 1, j + 1) + c(i - 1, j - 1));
            }
        }
        0.25 * sum / ring.laps.powi(2)
    }

    #[test]
    fn second_order_is_what_its_formula_says() {
        for n in [3usize, 4, 5, 6, 17, 40] {
            let ring = Coarse {
                t_s: (0..n).map(|i| 7.0 * i as f64 + (i % 5) as f64).collect(),
                sigma_m: (0..n).map(|i| 0.5 + (i % 4) as f64).collect(),
                laps: 2.0,
            };
            for tau in [0.01, 15.0, 250.0, 1e4] {
                assert_relative_eq!(
                    second_order_m4(&ring, tau),
                    second_order_plainly(&ring, tau),
                    max_relative = 1e-11
                );
            }
        }
    }

    #[test]
    fn a_variance_alone_is_the_assessments() {
        let at: Vec<Coord<f64>> = (0..40)
            .map(|i| {
                let angle = std::f64::consts::TAU * i as f64 / 40.0;
                Coord {
                    x: 9.0 * angle.cos(),
                    y: 6.0 * angle.sin(),
                }
            })
            .collect();
        let causes = Causes {
            pulls: at
                .iter()
                .enumerate()
                .map(|(i, at)| Pull {
                    t_s: 2.5 * i as f64,
                    pull_m2: [0.6 * at.x, 0.6 * at.y],
                })
                .collect::<Vec<Pull>>()
                .into(),
            gradient2_m2: 120.0,
            coarse: vec![Coarse {
                t_s: (0..40).map(|i| 2.5 * i as f64).collect(),
                sigma_m: vec![0.6; 40],
                laps: 1.0,
            }],
            others: vec![Term {
                term: Cause::Edge,
                sigma_m2: 1.5,
                correction_m2: 0.0,
            }],
            laps: 1.0,
            passes_s: 6.0,
        };
        for source in [SigmaSource::Gst, SigmaSource::Assumed] {
            let process = Process::prior(Receiver::RtkFloat, source, None);
            let whole = assess(&process, &causes, 0.95);
            assert_relative_eq!(
                variance_m4(&process, &causes),
                whole.sigma_m2.powi(2),
                max_relative = 1e-12
            );
            let terms: f64 = whole.terms.iter().map(Term::variance_m4).sum();
            assert_relative_eq!(terms, whole.sigma_m2.powi(2), max_relative = 1e-12);
        }
    }

    /// Rings walked with errors about as large as the lawn: their own gradients give the variance that their areas have.
    #[test]
    fn a_ring_walked_badly_tells_its_own_variance() {
        use crate::ring::{area_gradient_m, signed_area_m2};
        use crate::trial::chance::{Chance, GaussMarkov};
        const SIGMA_M: f64 = 2.0;
        let n = 36;
        let truth = |i: usize| {
            // 10 x 8 m at a metre and a fix a second.
            let along = i as f64;
            match i {
                0..=9 => (along, 0.0),
                10..=17 => (10.0, along - 10.0),
                18..=27 => (28.0 - along, 8.0),
                _ => (0.0, 36.0 - along),
            }
        };
        for tau_s in [15.0, 60.0] {
            let process = Process {
                beliefs: vec![crate::band::model::Belief {
                    weight: 1.0,
                    scale: 1.0,
                    correlation_s: tau_s,
                }],
                correlation_s: vec![tau_s],
                claim: Receiver::Unknown.claim(SigmaSource::Given),
                usual: 1.0,
            };
            let mut chance = Chance::new(8);
            let (mut said_m4, mut is_m4) = (0.0, 0.0);
            let walks = 6000;
            for _ in 0..walks {
                let slow_m = SIGMA_M * (1.0 - WHITE_SHARE).sqrt();
                let [mut east, mut north] = [(); 2].map(|()| GaussMarkov::new(tau_s));
                let white_m = SIGMA_M * WHITE_SHARE.sqrt();
                let mut error_m = |axis: &mut GaussMarkov, i: usize| {
                    slow_m * axis.at(i as f64, &mut chance) + white_m * chance.normal()
                };
                let ring: Vec<Coord<f64>> = (0..n)
                    .map(|i| Coord {
                        x: truth(i).0 + error_m(&mut east, i),
                        y: truth(i).1 + error_m(&mut north, i),
                    })
                    .collect();
                is_m4 += (signed_area_m2(&ring) - 80.0).powi(2) / f64::from(walks);
                let t_s: Vec<f64> = (0..n).map(|i| i as f64).collect();
                let gradients = area_gradient_m(&ring);
                let causes = Causes {
                    pulls: t_s
                        .iter()
                        .zip(gradients)
                        .map(|(&t_s, g)| Pull {
                            t_s,
                            pull_m2: g.map(|g| g * SIGMA_M),
                        })
                        .collect::<Vec<Pull>>()
                        .into(),
                    coarse: vec![Coarse {
                        t_s,
                        sigma_m: vec![SIGMA_M; n],
                        laps: 1.0,
                    }],
                    // The part of the error that comes back at a place gets the same correlation time here, so that the process has only
                    // one.
                    laps: 1.0,
                    passes_s: tau_s,
                    ..Causes::default()
                };
                said_m4 += variance_m4(&process, &causes) / f64::from(walks);
            }
            let ratio = (said_m4 / is_m4).sqrt();
            // One percent is chance. The white part stays in twice, which is a percent or two here.
            assert!((0.97..1.03).contains(&ratio), "{tau_s} s: {ratio}");
        }
    }

    #[test]
    fn other_terms_add_in_quadrature() {
        let causes = Causes {
            others: vec![
                Term {
                    term: Cause::Edge,
                    sigma_m2: 3.0,
                    correction_m2: 0.0,
                },
                Term {
                    term: Cause::Beds,
                    sigma_m2: 4.0,
                    correction_m2: 0.0,
                },
            ],
            ..Causes::default()
        };
        let band = assess(
            &Process::prior(Receiver::RtkFixed, SigmaSource::Gst, None),
            &causes,
            0.95,
        );
        assert_relative_eq!(band.sigma_m2, 5.0, max_relative = 1e-12);
        // That the hand's sigma is itself unsure makes the tails a little heavier than a normal distribution's.
        let factor = band.band_m2 / band.sigma_m2;
        assert!((1.960..1.985).contains(&factor), "{factor}");
        let share: f64 = CARRY_SCALES.iter().map(|(w, s)| w * s * s).sum();
        assert_relative_eq!(share, 1.0, max_relative = 2e-3);
    }
}
