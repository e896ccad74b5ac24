//! The area inside the laps, and how it answers to errors.
//!
//! The area is that of the whole closed walk of each leg (each run of laps in one direction), divided by the number of laps. So it is the
//! mean of the laps' areas, without deciding at which fix one lap ends and the next begins.

use super::line;
use crate::band::budget::Coarse;
use crate::band::propagate::Pull;
use crate::edge::smooth::smooth_area;
use crate::edge::steady::steadied;
use crate::ring::area_gradients_m;
use crate::walk::Spot;
use crate::walk::clean::Cleaned;
use crate::walk::laps::Laps;
use std::ops::RangeInclusive;
use std::sync::Arc;

/// The area inside the laps as walked, and how it answers to errors.
#[derive(Debug, Clone)]
pub struct LapArea {
    /// The area inside the smooth path through the fixes, m².
    pub smooth_m2: f64,
    /// The area inside straight lines between the fixes, m².
    pub chords_m2: f64,
    /// One sigma of what corners walked through between two fixes leave open, m².
    pub sampling_sigma_m2: f64,
    /// How the area answers to every fix (gradient times claimed sigma), in the order of the walk, positive when the fix moves outwards.
    pub pulls: Arc<Vec<Pull>>,
    /// Sum of squared gradients, m².
    pub gradient2_m2: f64,
    /// A thinned ring for the part of the error that is quadratic in the fixes' errors.
    pub coarse: Coarse,
}

impl LapArea {
    /// Works it out for the laps, which are these runs of the walk's spots. With `straight`, fixes are joined by straight lines.
    pub(super) fn of(
        cleaned: &Cleaned,
        laps: &Laps,
        runs: &[RangeInclusive<usize>],
        straight: bool,
        sigma_m: f64,
    ) -> LapArea {
        let spots = &cleaned.spots;
        let count = laps.count() as f64;
        let (mut smooth_m2, mut chords_m2, mut sampling_m4) = (0.0, 0.0, 0.0);
        let mut pulls = Vec::with_capacity(spots.len());
        let mut gradient2_m2 = 0.0;
        let places = steadied(spots, cleaned.step_s, cleaned.pace_m_s, sigma_m);
        for (leg, run) in laps.legs.iter().zip(runs) {
            let (walk, places) = (&spots[run.clone()], &places[run.clone()]);
            let whole = smooth_area(walk, places, cleaned.step_s, straight);
            let share = leg.turn / count;
            smooth_m2 += whole.smooth_m2 * share;
            chords_m2 += whole.chords_m2 * share;
            sampling_m4 += (whole.sampling_sigma_m2 * share).powi(2);
            for (spot, gradient) in walk.iter().zip(area_gradients_m(places)) {
                let [gx, gy] = [gradient[0] * share, gradient[1] * share];
                pulls.push(Pull {
                    t_s: spot.t_s,
                    pull_m2: [gx * spot.sigma_m[0], gy * spot.sigma_m[1]],
                });
                gradient2_m2 += gx * gx + gy * gy;
            }
        }
        LapArea {
            smooth_m2,
            chords_m2,
            sampling_sigma_m2: sampling_m4.sqrt(),
            pulls: Arc::new(pulls),
            gradient2_m2,
            coarse: coarse(&line(spots, runs), count),
        }
    }
}

/// The ring for the quadratic part of the error: forty places at the most over all laps.
fn coarse(line: &[Spot], laps: f64) -> Coarse {
    const PLACES: usize = 40;
    let stride = line.len().div_ceil(PLACES).max(1);
    let mut coarse = Coarse {
        laps,
        ..Coarse::default()
    };
    for spot in line.iter().step_by(stride) {
        coarse.t_s.push(spot.t_s);
        coarse.sigma_m.push(spot.sigma());
    }
    coarse
}
