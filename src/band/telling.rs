//! How large a slow change of position (a drift) must be before the passes of a walk show it.
//!
//! This is asked before any difference is read: a check is worth only as much as the smallest error that it would find (surveying calls
//! that its reliability). A drift between two laps is put into the differences in thought, and the question is from which size on
//! `Process::learn` would believe the receiver to err so much more than usual that it is told.

use super::evidence::{Difference, TEMPER, turned};
use super::model::Process;

/// From which size on the differences between passes show a change of position that came about between them, before any of them is read:
/// what `Process::learn` is expected to make of it.
#[derive(Debug, Clone, Copy)]
pub struct Telling {
    /// A quadratic form in a change east and north (its coefficients of east², north² and east times north), 1/m²: one over the square of
    /// how well the change's size would be known at the claimed scale, averaged over the correlation times.
    known: [f64; 3],
    /// From how many sigmas of its size on a change is expected to be told.
    sigmas: f64,
}

impl Telling {
    /// `share` gives the part of the change that came about between the two passes of a difference, 0 to 1. The change is told when the
    /// believed scale is `limit` times what is usual of its kind. `None` without differences, or where nothing short of a kilometre would
    /// do that.
    pub(crate) fn new(
        prior: &Process,
        seen: &[Difference],
        share: impl Fn(&Difference) -> f64,
        limit: f64,
    ) -> Option<Telling> {
        if seen.is_empty() {
            return None;
        }
        let expected = Expected::new(prior, seen, share);
        // Of both axes the one that takes the larger change.
        let sigmas = [0, 1].map(|axis| {
            let mut along = [0.0; 2];
            along[axis] = 1.0;
            Some(expected.passes_m(along, limit)? * square(expected.known, along).sqrt())
        });
        let [east, north] = sigmas;
        Some(Telling {
            known: expected.known,
            sigmas: east?.max(north?),
        })
    }

    /// From how many metres on a change in this direction (a unit vector) is told with a chance whose normal quantile is `power_sigmas`
    /// (0 for one time in two, 0.84 for four times in five).
    pub(crate) fn told_from_m(&self, along: [f64; 2], power_sigmas: f64) -> f64 {
        (self.sigmas + power_sigmas) / square(self.known, along).sqrt()
    }
}

/// The value of a quadratic form for a vector.
fn square([ee, nn, en]: [f64; 3], [east, north]: [f64; 2]) -> f64 {
    ee * east * east + nn * north * north + en * east * north
}

/// What is expected to be believed after a change of any size. The readings are linear in the change, so the squares in the likelihood
/// are a quadratic form in it.
struct Expected {
    prior: Process,
    honest: usize,
    /// By correlation time, for each scale: the scale, the expected logarithm of the density with no change, and the quadratic form that
    /// a change takes off it (with a factor of one half).
    at_scale: Vec<Vec<(f64, f64, [f64; 3])>>,
    known: [f64; 3],
}

impl Expected {
    /// Prepares what is needed for changes of any size. `share` says which part of a change each difference shows.
    fn new(prior: &Process, seen: &[Difference], share: impl Fn(&Difference) -> f64) -> Expected {
        let mut prior = prior.clone();
        let honest = prior.beliefs.len();
        prior.admit_liars();
        // What a change of a metre east and north puts into the readings.
        let pattern = |east: f64, north: f64| -> Vec<f64> {
            let along = |d: &Difference| east * d.normal[0] + north * d.normal[1];
            seen.iter()
                .map(|d| share(d) * along(d) / d.hand_m)
                .collect()
        };
        let turned = [(1.0, 0.0), (0.0, 1.0), (1.0, 1.0)]
            .map(|(east, north)| turned(&prior.correlation_s, seen, &pattern(east, north)));
        // The quadratic form from its values in three directions.
        let squares = |k: usize, size: f64| -> [f64; 3] {
            let [east, north, both] = [0, 1, 2].map(|i| turned[i][k].parts(size).0);
            [east, north, both - east - north]
        };
        let unmoved = |k: usize, size: f64| {
            let log_det = |size: f64| turned[0][k].parts(size).1;
            // Readings that are noise of the claimed scale have expected squares of tr((I + sA)⁻¹ (I + A)) = n − (s − 1) d ln|I + sA| /
            // ds.
            let step = 1e-4 * size;
            let slope = (log_det(size + step) - log_det(size - step)) / (2.0 * step);
            -0.5 * (log_det(size) + seen.len() as f64 - (size - 1.0) * slope)
        };
        let times = prior.correlation_s.len();
        let mut known = [0.0; 3];
        let mut at_scale = Vec::with_capacity(times);
        for (k, &time) in prior.correlation_s.iter().enumerate() {
            for (known, own) in known.iter_mut().zip(squares(k, 1.0)) {
                *known += own / times as f64;
            }
            let of_time = prior.beliefs.iter().filter(|b| b.correlation_s == time);
            at_scale.push(
                of_time
                    .map(|b| {
                        let size = b.scale * b.scale;
                        (b.scale, unmoved(k, size), squares(k, size))
                    })
                    .collect(),
            );
        }
        Expected {
            prior,
            honest,
            at_scale,
            known,
        }
    }

    /// How many times more than usual the receiver is believed to err after a change of so many metres east and north.
    fn scale_after(&self, change_m: [f64; 2]) -> f64 {
        let mut process = self.prior.clone();
        process.weigh(self.honest, |k, scale| {
            let own = self.at_scale[k].iter().find(|own| own.0 == scale);
            own.map_or(f64::NEG_INFINITY, |own| {
                TEMPER * (own.1 - 0.5 * square(own.2, change_m))
            })
        });
        process.beyond_usual()
    }

    /// From how many metres on a change in this direction makes the scale pass `limit`, to a hundredth, by bisection; `None` where a
    /// kilometre does not do.
    fn passes_m(&self, along: [f64; 2], limit: f64) -> Option<f64> {
        const RANGE_M: (f64, f64) = (1e-3, 1e3);
        const CLOSE: f64 = 0.01;
        let after = |metres: f64| self.scale_after(along.map(|part| part * metres));
        if after(RANGE_M.1) <= limit {
            return None;
        }
        let (mut low, mut high) = (RANGE_M.0.ln(), RANGE_M.1.ln());
        while high - low > CLOSE {
            let middle = 0.5 * (low + high);
            if after(middle.exp()) > limit {
                high = middle;
            } else {
                low = middle;
            }
        }
        Some(high.exp())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::band::model::{Receiver, SigmaSource};

    /// Twelve places round a square, passed 100 s apart, all in the second pass `by_m` further east.
    fn seen(sigma_m: f64, by_m: f64, noise_m: f64) -> Vec<Difference> {
        (0..12)
            .map(|i| {
                let normal = if i % 2 == 0 { [1.0, 0.0] } else { [0.0, 1.0] };
                let t_s = 8.0 * f64::from(i);
                Difference {
                    t_s: [t_s, t_s + 100.0],
                    offset_m: normal[0] * by_m + if i % 4 < 2 { noise_m } else { -noise_m },
                    normal,
                    sigma_m,
                    hand_m: 0.05,
                }
            })
            .collect()
    }

    /// What is foreseen is what is then believed, near enough: a change of twice that size is told, one of half is not.
    #[test]
    fn a_change_is_told_about_where_it_is_foreseen() {
        const LIMIT: f64 = 2.0;
        let prior = Process::prior(Receiver::RtkFixed, SigmaSource::Gst, None);
        for (sigma_m, noise_m) in [(0.02, 0.05), (0.8, 0.6)] {
            let telling = Telling::new(&prior, &seen(sigma_m, 0.0, 0.0), |_| 1.0, LIMIT).unwrap();
            let from_m = telling.told_from_m([1.0, 0.0], 0.0);
            let told = |times: f64| {
                let mut process = prior.clone();
                process.learn(&seen(sigma_m, times * from_m, noise_m), &[], &[]);
                process.beyond_usual() > LIMIT
            };
            assert!(told(2.0) && !told(0.5), "{sigma_m}: {from_m}");
            // Along a diagonal half of the places show it.
            assert!(telling.told_from_m([0.6, 0.8], 0.84) > from_m);
        }
    }
}
