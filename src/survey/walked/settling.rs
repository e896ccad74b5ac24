//! Fixed solutions that have not yet shown that they hold.
//!
//! An RTK receiver knows its position to centimetres once it has resolved the whole number of wavelengths to each satellite ("fixed"),
//! and to decimetres before ("float"). Now and then it resolves them wrongly, and notices within seconds.

use crate::fix::Quality;
use crate::process::SETTLES_S;

/// Takes the first seconds of every fixed solution that comes after another quality to be no better than that quality was. It must be
/// asked fix by fix, in the order of time.
#[derive(Debug, Default)]
pub(super) struct Settling {
    /// The last sigma of a fix that was not fixed, east and north, metres.
    before_m: Option<[f64; 2]>,
    /// When the fixed solution began; `None` while there is none.
    since_s: Option<f64>,
}

impl Settling {
    /// The sigma to believe of this fix, east and north, metres.
    pub(super) fn sigma_m(&mut self, quality: Quality, t_s: f64, claimed_m: [f64; 2]) -> [f64; 2] {
        if quality != Quality::RtkFixed {
            self.before_m = Some(claimed_m);
            self.since_s = None;
            return claimed_m;
        }
        let held_s = t_s - *self.since_s.get_or_insert(t_s);
        match self.before_m {
            Some([east_m, north_m]) if held_s < SETTLES_S => {
                [claimed_m[0].max(east_m), claimed_m[1].max(north_m)]
            }
            _ => claimed_m,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sigmas_m(qualities: &[Quality]) -> Vec<f64> {
        let mut settling = Settling::default();
        let each = qualities.iter().enumerate().map(|(t, &quality)| {
            let claimed_m = match quality {
                Quality::RtkFixed => 0.02,
                _ => 0.3,
            };
            settling.sigma_m(quality, t as f64, [claimed_m; 2])[0]
        });
        each.collect()
    }

    #[test]
    fn a_fixed_solution_counts_once_it_has_held() {
        use Quality::{RtkFixed, RtkFloat};
        // From the start it is fixed: nothing to doubt.
        assert_eq!(sigmas_m(&[RtkFixed; 5]), [0.02; 5]);
        let log: Vec<Quality> = [RtkFixed, RtkFloat]
            .into_iter()
            .chain([RtkFixed; 15])
            .chain([RtkFloat])
            .chain([RtkFixed; 3])
            .collect();
        let sigmas = sigmas_m(&log);
        assert_eq!((sigmas[0], sigmas[1]), (0.02, 0.3));
        assert!(sigmas[2..12].iter().all(|&m| m == 0.3));
        assert!(sigmas[12..17].iter().all(|&m| m == 0.02));
        assert!(sigmas[17..].iter().all(|&m| m == 0.3));
    }
}
