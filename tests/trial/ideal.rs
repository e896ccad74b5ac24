//! The ideal band: what someone would state who knew exactly how the receiver errs. A trial compares boundwalk's band with it.
//!
//! First comes the say of each fix: by how much the area changes for each metre that this one position is off (the area's
//! gradient). It is half the line from the fix before to the fix after, turned by a right angle. The errors of two fixes are
//! correlated by exp(-|dt| / tau), the less the further apart they are in time. The variance of the area is then a double sum over
//! all pairs of fixes, which a single pass can add up, as the accuracy notes derive. This is written here once more on purpose: a
//! check of the band must not run on the band's own code.

use super::receiver::Receiver;
use super::walker::{HAND_SIGMA_M, Habits, Moment, Turn};

/// Within so many standard deviations on either side of the middle lie 95 % of a normal distribution.
const NORMAL_95: f64 = 1.959_964;

/// The say of one fix in the area: its time, and the square metres that the area changes for a metre of error east and for one
/// of error north.
#[derive(Debug, Clone, Copy)]
struct Say {
    time_s: f64,
    east_m: f64,
    north_m: f64,
}

/// The ideal bands: half-widths at 95 %, in square metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ideal {
    /// The band of someone who knows everything: sigma, correlation time, white share, the sway of the pole, the hand's sigma.
    pub band_m2: f64,
    /// The band of someone who knows sigma but not the correlation time. The variance is averaged over times of 15 to 600 s whose
    /// logarithms are spread evenly.
    pub fair_m2: f64,
}

/// The ideal bands of a walk with this receiver round an edge of this length.
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

/// The say of every fix of every lap. Each lap closes on itself, and counts for its part of the mean of all laps.
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

/// The variance of the area where the errors have variance 1 per axis and this correlation time. `east` and `north` carry what the
/// fixes so far still weigh at the present one.
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
        // A rectangle of 20 by 15 m is walked from a corner with a fix each metre and second, 70 in all. The figures are the area's
        // sigma for each metre of the receiver's sigma, derived and checked by simulation for this project.
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
        // The theory takes the area to change evenly with each error. It is held against whole simulated walks, whose area is the
        // shoelace formula's of the positions that the receiver gave.
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
        // The share's standard error is 0.0056. Degrees were turned into metres with four good digits.
        assert!((0.93..0.97).contains(&share), "{share}");
    }
}
