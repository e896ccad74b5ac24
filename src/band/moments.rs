//! Moments of a walk (points in time), how correlated an error is between them, and how it goes together with the error along the walk.
//!
//! Because exponentials multiply, both are worked out with running products and sums, without an exponential for every pair.

use super::propagate::{Pull, SAME_STEP_S};

/// Moments in no particular order, prepared for working out an error's correlations between them.
#[derive(Debug, Clone)]
pub struct Moments {
    /// In the order of time: each moment's time in seconds, and its index in the order in which they were given.
    in_order: Vec<(f64, usize)>,
}

impl Moments {
    pub(crate) fn new(t_s: impl IntoIterator<Item = f64>) -> Moments {
        let mut in_order: Vec<(f64, usize)> = t_s.into_iter().zip(0..).collect();
        in_order.sort_by(|a, b| a.0.total_cmp(&b.0));
        Moments { in_order }
    }

    pub(crate) fn len(&self) -> usize {
        self.in_order.len()
    }

    /// Correlations of a first-order Gauss-Markov process between every two moments, in the order in which they were given: `n` by `n`,
    /// row by row, for several correlation times side by side. They are written over what is in the table. Exponentials multiply, so
    /// there is one for each step between neighbours, not for each pair:
    /// `exp(-(t_j - t_i) / tau) = exp(-(t_{j-1} - t_i) / tau) exp(-(t_j - t_{j-1}) / tau)`.
    pub(crate) fn correlations<const N: usize>(
        &self,
        correlation_s: [f64; N],
        table: &mut Vec<[f64; N]>,
    ) {
        // Smaller values count for nothing, and processors are slow with numbers so near to zero.
        const NOTHING: f64 = 1e-200;
        let n = self.len();
        let decay: Vec<[f64; N]> = self
            .in_order
            .windows(2)
            .map(|w| correlation_s.map(|time| (-(w[1].0 - w[0].0) / time).exp()))
            .collect();
        table.resize(n * n, [0.0; N]);
        for (i, &(_, one)) in self.in_order.iter().enumerate() {
            table[one * n + one] = [1.0; N];
            let mut rho = [1.0; N];
            for (&(_, other), decay) in self.in_order[i + 1..].iter().zip(&decay[i..]) {
                for (rho, decay) in rho.iter_mut().zip(decay) {
                    let next = *rho * decay;
                    *rho = if next < NOTHING { 0.0 } else { next };
                }
                table[one * n + other] = rho;
                table[other * n + one] = rho;
            }
        }
    }

    /// The covariance of an area's error (with these pulls, in the order of time) with a standardised error at each moment, east and
    /// north: `Σ_k w_k exp(-|t - t_k| / tau)`, m², for several correlation times side by side.
    pub(crate) fn together_m2<const N: usize>(
        &self,
        pulls: &[Pull],
        correlation_s: [f64; N],
    ) -> Vec<[[f64; 2]; N]> {
        let mut together = vec![[[0.0; 2]; N]; self.len()];
        let mut add = |place: usize, sums: [[f64; 2]; N]| {
            for (together, sum) in together[place].iter_mut().zip(sums) {
                for (together, sum) in together.iter_mut().zip(sum) {
                    *together += sum;
                }
            }
        };
        let mut running = Running::new(correlation_s);
        let mut on = pulls.iter().peekable();
        for &(at_s, place) in &self.in_order {
            while let Some(pull) = on.next_if(|pull| pull.t_s <= at_s) {
                running.add(pull.t_s, pull.pull_m2);
            }
            add(place, running.at(at_s));
        }
        let mut running = Running::new(correlation_s);
        let mut back = pulls.iter().rev().peekable();
        for &(at_s, place) in self.in_order.iter().rev() {
            while let Some(pull) = back.next_if(|pull| pull.t_s > at_s) {
                running.add(-pull.t_s, pull.pull_m2);
            }
            add(place, running.at(-at_s));
        }
        together
    }
}

/// Sums of pulls that fade as time goes on, each with a correlation time of its own.
struct Running<const N: usize> {
    correlation_s: [f64; N],
    t_s: f64,
    east: [f64; N],
    north: [f64; N],
    /// The latest step and how much fades in it, kept because most steps of a logger are the same.
    step_s: f64,
    decay: [f64; N],
}

impl<const N: usize> Running<N> {
    /// Empty sums at time 0.
    fn new(correlation_s: [f64; N]) -> Running<N> {
        Running {
            correlation_s,
            t_s: 0.0,
            east: [0.0; N],
            north: [0.0; N],
            step_s: 0.0,
            decay: [1.0; N],
        }
    }

    /// Lets the sums fade up to this time and adds a pull.
    fn add(&mut self, t_s: f64, [east, north]: [f64; 2]) {
        let step_s = (t_s - self.t_s).max(0.0);
        if (step_s - self.step_s).abs() > SAME_STEP_S {
            self.step_s = step_s;
            self.decay = self.correlation_s.map(|time| (-step_s / time).exp());
        }
        for k in 0..N {
            self.east[k] = self.decay[k] * self.east[k] + east;
            self.north[k] = self.decay[k] * self.north[k] + north;
        }
        self.t_s = t_s;
    }

    /// The sums as they have faded by this time.
    fn at(&self, t_s: f64) -> [[f64; 2]; N] {
        let since_s = (t_s - self.t_s).max(0.0);
        std::array::from_fn(|k| {
            let decay = (-since_s / self.correlation_s[k]).exp();
            [self.east[k], self.north[k]].map(|sum| decay * sum)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn correlations_are_exponentials_of_the_time_between() {
        let t_s: Vec<f64> = (0..40)
            .map(|i| f64::from(i * 17 % 40).powi(2) * 0.9 + f64::from(i % 3))
            .collect();
        let moments = Moments::new(t_s.iter().copied());
        let mut table = Vec::new();
        for tau in [0.7, 15.0, 300.0] {
            moments.correlations([0.001, tau, 2.0 * tau], &mut table);
            for (i, a) in t_s.iter().enumerate() {
                for (j, b) in t_s.iter().enumerate() {
                    let found = table[i * t_s.len() + j];
                    for (found, tau) in found.into_iter().zip([0.001, tau, 2.0 * tau]) {
                        let rho = (-(a - b).abs() / tau).exp();
                        assert_relative_eq!(found, rho, max_relative = 1e-13, epsilon = 1e-199);
                    }
                }
            }
        }
    }

    #[test]
    fn pulls_go_with_a_moment_as_the_plain_sum_says() {
        let walk: Vec<Pull> = (0..52)
            .map(|i| Pull {
                t_s: f64::from(i) + if i < 20 { 0.0 } else { 30.5 },
                pull_m2: [f64::from(i % 7) - 2.0, 1.5 - f64::from(i % 4)],
            })
            .collect();
        // Before the walk, on a fix, between two, in the gap, after the end; not in order.
        let at_s = [12.0, -40.0, 33.3, 12.5, 200.0, 81.5];
        let moments = Moments::new(at_s);
        let taus = [0.5, 20.0, 400.0];
        for (&t_s, found) in at_s.iter().zip(moments.together_m2(&walk, taus)) {
            for (tau, found) in taus.into_iter().zip(found) {
                for (axis, found) in found.into_iter().enumerate() {
                    let plain: f64 = walk
                        .iter()
                        .map(|p| p.pull_m2[axis] * (-(p.t_s - t_s).abs() / tau).exp())
                        .sum();
                    assert_relative_eq!(found, plain, epsilon = 1e-12, max_relative = 1e-12);
                }
            }
        }
    }
}
