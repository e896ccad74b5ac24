//! The ideal band: what someone would state who knew the error process exactly.
//!
//! The area's gradient at a fix is half the skip-one chord turned by a right angle; errors that are correlated as
//! exp(-|dt| / tau) then add up in one pass (derived in the accuracy notes; the same sum as the double sum over all
//! pairs). Written here once more on purpose: a check of the band must not run on the band's own code.

use super::receiver::Receiver;
use super::walker::{HAND_SIGMA_M, Habits, Moment, Turn};

/// Two-sided 95 % of a normal.
const NORMAL_95: f64 = 1.959_964;

/// A fix's say in the area: time, and metres east and north per metre of error.
#[derive(Debug, Clone, Copy)]
struct Say {
    time_s: f64,
    east_m: f64,
    north_m: f64,
}

/// Half-widths at 95 %, square metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ideal {
    /// Everything known: sigma, correlation time, white share, wobble, the hand's sigma.
    pub band_m2: f64,
    /// Sigma known but not the correlation time: the variance averaged over log-uniform 15 to 600 s.
    pub fair_m2: f64,
}

pub fn ideal(moments: &[Moment], habits: &Habits, receiver: &Receiver, perimeter_m: f64) -> Ideal {
    let says = says(moments, habits);
    let slow = receiver.sigma_m.powi(2) * (1.0 - receiver.white_share);
    let white: f64 = says
        .iter()
        .map(|s| s.east_m * s.east_m + s.north_m * s.north_m)
        .sum::<f64>()
        * receiver.sigma_m.powi(2)
        * receiver.white_share;
    let wobble = habits.wobble_m.powi(2) * variance(&says, habits.wobble_tau_s);
    let hand = (perimeter_m * HAND_SIGMA_M).powi(2);
    let rest = white + wobble + hand;
    const STEPS: u32 = 9;
    let fair = (0..STEPS)
        .map(|k| 15.0 * 40_f64.powf((f64::from(k) + 0.5) / f64::from(STEPS)))
        .map(|tau_s| variance(&says, tau_s))
        .sum::<f64>()
        / f64::from(STEPS);
    Ideal {
        band_m2: NORMAL_95 * (slow * variance(&says, receiver.tau_s) + rest).sqrt(),
        fair_m2: NORMAL_95 * (slow * fair + rest).sqrt(),
    }
}

/// Laps close each on itself; each counts for its part of the mean.
fn says(moments: &[Moment], habits: &Habits) -> Vec<Say> {
    let laps = habits.laps.len().max(1) as f64;
    let mut says = Vec::new();
    for (lap, turn) in habits.laps.iter().enumerate() {
        let ring: Vec<&Moment> = moments.iter().filter(|m| m.lap == Some(lap)).collect();
        let sign = match turn {
            Turn::Anticlockwise => 1.0,
            Turn::Clockwise => -1.0,
        };
        let n = ring.len();
        says.extend((0..n).map(|i| {
            let chord = ring[(i + 1) % n].at - ring[(i + n - 1) % n].at;
            Say {
                time_s: ring[i].time_s,
                east_m: sign * chord.y / 2.0 / laps,
                north_m: -sign * chord.x / 2.0 / laps,
            }
        }));
    }
    says
}

/// Area variance for errors of unit variance per axis and this correlation time.
fn variance(says: &[Say], tau_s: f64) -> f64 {
    let (mut east, mut north, mut sum) = (0.0, 0.0, 0.0);
    let mut before_s = f64::NEG_INFINITY;
    for say in says {
        let keep = (-(say.time_s - before_s) / tau_s).exp();
        east *= keep;
        north *= keep;
        sum += say.east_m * (say.east_m + 2.0 * east) + say.north_m * (say.north_m + 2.0 * north);
        east += say.east_m;
        north += say.north_m;
        before_s = say.time_s;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::super::chance::Chance;
    use super::super::shape::{Outline, Shape};
    use super::super::walker::walk;
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn rectangle_figures_of_the_derivation() {
        // A 20 x 15 m rectangle, a fix each metre and second: sigma of the area per metre of sigma, derived and
        // checked by simulation for this project (walk starts at a corner; 70 fixes).
        let outline = Outline::drawn(
            Shape::Rectangle,
            &[(0.0, 0.0), (20.0, 0.0), (20.0, 15.0), (0.0, 15.0)],
            &[],
        );
        let says: Vec<Say> = (0..70)
            .map(|i| {
                let t = f64::from(i);
                let chord = outline.point(t + 1.0) - outline.point(t - 1.0);
                Say {
                    time_s: t,
                    east_m: chord.y / 2.0,
                    north_m: -chord.x / 2.0,
                }
            })
            .collect();
        for (tau_s, sigma) in [
            (1e-6, 8.246211),
            (5.0, 22.366396),
            (15.0, 26.843875),
            (60.0, 20.490960),
            (600.0, 7.522035),
        ] {
            assert_relative_eq!(variance(&says, tau_s).sqrt(), sigma, max_relative = 1e-7);
        }
    }

    #[test]
    fn the_ideal_band_covers_its_share() {
        // The linear theory against whole simulated walks: shoelace of what the receiver gave.
        use super::super::place::AT_SEA;
        use super::super::receiver::{Claim, Class, Ground, receive};
        let mut chance = Chance::new(33);
        let (mut inside, walks) = (0, 1500);
        for _ in 0..walks {
            let outline = Outline::random(Shape::Rectangle, 400.0, &mut chance);
            let mut habits = Habits::random(&outline, 1, &mut chance);
            habits.wobble_m = 0.0;
            habits.start_m = 0.0;
            habits.pause_s = Some((4.0, 4.0));
            let moments = walk(&outline, &habits, 1.0, &mut chance);
            let receiver = Receiver::random(Class::RtkFloat, Claim::Sigma, &mut chance);
            let place = AT_SEA[0];
            let epochs = receive(&moments, &receiver, &place, Ground::default(), &mut chance);
            let (_, per_lon) = (0, 78_846.8);
            let ring: Vec<(f64, f64)> = epochs
                .iter()
                .filter(|e| e.truth.lap.is_some())
                .map(|e| ((e.lon_deg + 30.0) * per_lon, (e.lat_deg - 45.0) * 111_132.9))
                .collect();
            let n = ring.len();
            let area = (0..n)
                .map(|i| {
                    let (a, b) = (ring[i], ring[(i + 1) % n]);
                    0.5 * (a.0 * b.1 - a.1 * b.0)
                })
                .sum::<f64>()
                .abs();
            let band = ideal(&moments, &habits, &receiver, outline.perimeter_m).band_m2;
            inside += i32::from((area - outline.area_m2).abs() < band);
        }
        let share = f64::from(inside) / f64::from(walks);
        // Standard error 0.0056; degrees were turned to metres with four good digits.
        assert!((0.93..0.97).contains(&share), "{share}");
    }
}
