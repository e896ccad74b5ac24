//! What a walk's own roughness says of its receiver: one whose error changes much in half a minute also changes more from second to
//! second, and that shows where the path goes evenly.
//!
//! Roughness is measured by third differences, `d - 3 c + 3 b - a` of four evenly timed positions: an even walk on a straight or an arc
//! has hardly any, so that what is left is noise. It is evidence for the table of beliefs, beside that of passes and standstills.

use super::model::Receiver;
use crate::process::{ROUGH_HAND_M, ROUGH_LAG_S, WHITE_SHARE};
use crate::ring::{dot, size_m};
use crate::walk::Spot;
use crate::walk::pace::median;
use geo::Coord;

/// How rough a walk is, and what its receiver claims.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rough {
    /// The white noise per fix, metres, that would give third differences (square to the path) as large as those seen.
    pub size_m: f64,
    /// Claimed sigma, metres per axis.
    pub sigma_m: f64,
    pub receiver: Receiver,
}

/// Seconds between the fixes that are compared: four of them span three seconds, and few sides of a lawn are shorter than that.
const APART_S: f64 = 1.0;
/// How many third differences there must be at least.
const LEAST: usize = 12;

/// The roughness of the laps of one walk, metres: from the median size of the third difference square to the path, which an even arc does
/// not have and corners, being few, hardly move. Of white noise `w` the third difference has a sigma of `sqrt(20) w`, and the median size
/// of a normal is 0.6745 sigma. `None` where there are too few even stretches.
pub(crate) fn roughness_m<'a>(
    legs: impl Iterator<Item = &'a [Spot]>,
    step_s: f64,
    pace_m_s: f64,
) -> Option<f64> {
    let apart = ((APART_S / step_s).round() as usize).max(1);
    let mut sizes: Vec<f64> = legs
        .flat_map(|leg| leg.windows(3 * apart + 1))
        .filter_map(|w| third(w, apart, step_s, pace_m_s))
        .collect();
    let enough = sizes.len() >= LEAST;
    median(&mut sizes)
        .filter(|_| enough)
        .map(|size_m| size_m / (0.6745 * 20f64.sqrt()))
}

/// The third difference of four spots square to their way, metres without a sign; `None` if they are not evenly timed, or do not get on.
fn third(spots: &[Spot], apart: usize, step_s: f64, pace_m_s: f64) -> Option<f64> {
    // The part of a step by which each spot may be off its time, and the part of the usual way that must have been walked.
    const OFF: f64 = 0.3;
    const GETS_ON: f64 = 0.4;
    let each_s = apart as f64 * step_s;
    let [a, b, c, d] = [0, 1, 2, 3].map(|k| spots[k * apart]);
    let on_time = |s: &Spot, k: f64| (s.t_s - a.t_s - k * each_s).abs() < OFF * each_s;
    if !(on_time(&b, 1.0) && on_time(&c, 2.0) && on_time(&d, 3.0)) {
        return None;
    }
    let way = d.at - a.at;
    let length_m = size_m(way);
    if length_m < GETS_ON * 3.0 * each_s * pace_m_s || length_m <= 0.0 {
        return None;
    }
    let normal = Coord {
        x: -way.y / length_m,
        y: way.x / length_m,
    };
    Some(dot(d.at - a.at + (b.at - c.at) * 3.0, normal).abs())
}

impl Rough {
    /// How rough this walk is, as a part of what a receiver would show that errs as it claims and does not smooth; at most 1.
    pub(crate) fn of_claimed(&self) -> f64 {
        self.times_claimed().min(1.0)
    }

    /// How many times rougher this walk is than one by a receiver that errs as it claims.
    pub(crate) fn times_claimed(&self) -> f64 {
        // The variance of third differences of a Gauss-Markov error with a correlation time of a minute, over steps of a second, as a
        // part of that of white noise: the variance of such a step is 2/60, third differences have 6 times that and those of white noise
        // 20 times their variance, hence 0.3.
        const STEPS: f64 = 0.3 * 2.0 / 60.0;
        let claimed_m = self.sigma_m * (WHITE_SHARE + (1.0 - WHITE_SHARE) * STEPS).sqrt();
        self.size_m / claimed_m
    }

    /// Logarithm of how likely this roughness is, up to a constant, for a receiver of this kind that errs `scale` times what it claims,
    /// with this correlation time. The path itself has some roughness too, so that a walk smoother than that says no more than one just
    /// as smooth.
    pub(crate) fn log_likelihood(&self, scale: f64, correlation_s: f64) -> f64 {
        // A floor for receivers unlike any that was seen, in units of the likelihood of the one that fits best: about a third. Under
        // drawn series a thousandth left two of sixty receivers covered less than 85 times in a hundred, this none, for bands a twentieth
        // wider.
        const UNLIKE: f64 = 0.3;
        let changes_m = scale * self.sigma_m * (1.0 - (-ROUGH_LAG_S / correlation_s).exp()).sqrt();
        let seen = self.size_m.max(ROUGH_HAND_M).ln();
        let kinds = self.receiver.roughness().iter().map(|kind| {
            let expected = ROUGH_HAND_M.hypot(kind.log.exp() * changes_m).ln();
            let off = (seen - expected) / kind.spread;
            kind.share * (-0.5 * off * off).exp() / kind.spread
        });
        (UNLIKE + kinds.sum::<f64>()).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::band::model::{Process, SigmaSource};
    use crate::trial::chance::Chance;

    /// Twice round a circle of 8 m at a metre a second, with white noise.
    fn circle(noise_m: f64, corner_every: Option<usize>) -> Vec<Spot> {
        let mut chance = Chance::new(3);
        (0..400)
            .map(|i| {
                let angle = match corner_every {
                    None => i as f64 / 8.0,
                    // A polygon: the way goes on straight and turns at once.
                    Some(_) => 0.0,
                };
                let straight = corner_every.map(|n| {
                    let (side, along) = (i / n, (i % n) as f64);
                    let turn = side as f64 * std::f64::consts::FRAC_PI_2;
                    let from: Coord<f64> = (0..side).fold(Coord { x: 0.0, y: 0.0 }, |at, k| {
                        let turn = k as f64 * std::f64::consts::FRAC_PI_2;
                        at + Coord {
                            x: turn.cos(),
                            y: turn.sin(),
                        } * n as f64
                    });
                    from + Coord {
                        x: turn.cos(),
                        y: turn.sin(),
                    } * along
                });
                let at = straight.unwrap_or(Coord {
                    x: 8.0 * angle.cos(),
                    y: 8.0 * angle.sin(),
                });
                Spot {
                    at: at
                        + Coord {
                            x: noise_m * chance.normal(),
                            y: noise_m * chance.normal(),
                        },
                    t_s: i as f64,
                    sigma_m: [1.0; 2],
                    fix: i,
                }
            })
            .collect()
    }

    #[test]
    fn white_noise_is_found_again_on_arcs_and_between_corners() {
        for corner_every in [None, Some(20)] {
            for noise_m in [0.05, 0.4] {
                let walk = circle(noise_m, corner_every);
                let found = roughness_m([walk.as_slice()].into_iter(), 1.0, 1.0).unwrap();
                // 130 independent ones: the median is known to some 10 %; corners add as much.
                assert!((found / noise_m - 1.0).abs() < 0.3, "{found} {noise_m}");
            }
        }
        assert!(roughness_m([&circle(0.1, None)[..9]].into_iter(), 1.0, 1.0).is_none());
    }

    #[test]
    fn a_quiet_walk_is_believed_to_err_less_and_a_rough_one_more() {
        let after = |size_m: f64| {
            let mut process = Process::prior(Receiver::Differential, SigmaSource::Hdop, None);
            let rough = Rough {
                size_m,
                sigma_m: 0.8,
                receiver: Receiver::Differential,
            };
            process.learn(&[], &[], &[rough]);
            process.beyond_usual()
        };
        assert!(after(0.005) < 0.92 && after(0.2) > 1.05);
        // Smoother than the path itself says no more.
        assert_eq!(after(0.005), after(0.0));
    }
}
