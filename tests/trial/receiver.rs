//! The receiver: true positions go in, and epochs come out. An epoch is one moment at which a receiver gives a position; here it
//! has the errors that real receivers make, and the accuracy that they claim.
//!
//! The error of each axis (east, north, up) is the sum of two. A slow one is nearly the same from second to second and forgets
//! itself over a minute or so (satellites, sky and surroundings do this; see [`GaussMarkov`]). A white one is new at every epoch
//! (the receiver's own noise). How large they are depends on the class of receiver, by the planning figures that the band starts
//! from too. Correlation times of some 10 s to many minutes are seen in real logs. Both are drawn anew for each walk, and the band
//! is not told them.

use super::chance::{Chance, GaussMarkov};
use super::place::Place;
use super::walker::Moment;
use boundwalk::fix::Quality;
use geo::Coord;

/// How a receiver gets its position, from the best way to the worst: with the phase of the satellites' waves settled against
/// a base station (RTK fixed) or nearly settled (RTK float), with simpler corrections (differential), or alone (autonomous).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Class {
    RtkFixed,
    RtkFloat,
    Differential,
    Autonomous,
}

impl Class {
    pub const ALL: [Class; 4] = [
        Class::RtkFixed,
        Class::RtkFloat,
        Class::Differential,
        Class::Autonomous,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Class::RtkFixed => "rtk-fixed",
            Class::RtkFloat => "rtk-float",
            Class::Differential => "differential",
            Class::Autonomous => "autonomous",
        }
    }

    pub fn quality(self) -> Quality {
        match self {
            Class::RtkFixed => Quality::RtkFixed,
            Class::RtkFloat => Quality::RtkFloat,
            Class::Differential => Quality::Differential,
            Class::Autonomous => Quality::Autonomous,
        }
    }

    /// How far the claims of a class are off, in the middle: the logarithm of true over claimed sigma, for receivers drawn widely.
    /// Below zero, receivers of the class are better than they say. The 19 receivers of [`WIDELY`] had −0.7, 0.85, 0.3 and −0.8 when
    /// the slowest part of their errors was counted. That part shifts a whole lawn and changes no area, so the figures here are
    /// nearer to zero or a little above what was measured.
    fn lies(self) -> f64 {
        match self {
            Class::RtkFixed => -0.5,
            Class::RtkFloat => 0.3,
            Class::Differential => 0.4,
            Class::Autonomous => -0.3,
        }
    }

    /// The usual error of the class in metres per axis (one sigma, the standard deviation), at this dilution: HDOP, a number that
    /// grows as the satellites stand less well spread over the sky. These are planning figures, set by judgement. Positions from the
    /// carrier's phase (RTK) do not scale with the dilution as those from code do.
    pub fn sigma_m(self, hdop: f64) -> f64 {
        match self {
            Class::RtkFixed => 0.02,
            Class::RtkFloat => 0.3,
            Class::Differential => 0.8 * hdop.max(1.0),
            Class::Autonomous => 2.0 * hdop.max(1.0),
        }
    }
}

/// What the log says about accuracy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Claim {
    /// It states sigmas, in the sentence GST.
    Sigma,
    /// It states nothing but the dilution and the quality.
    Dilution,
}

impl Claim {
    pub const ALL: [Claim; 2] = [Claim::Sigma, Claim::Dilution];

    pub fn name(self) -> &'static str {
        match self {
            Claim::Sigma => "gst",
            Claim::Dilution => "hdop",
        }
    }
}

/// One receiver on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Receiver {
    pub class: Class,
    pub claim: Claim,
    /// The dilution, see [`Class::sigma_m`].
    pub hdop: f64,
    pub satellites: u8,
    /// The sigma that it claims, in metres per axis. `None` when it claims only by dilution.
    pub claimed_m: Option<f64>,
    /// The sigma that it truly has, in metres per axis, of both errors together.
    pub sigma_m: f64,
    /// The correlation time of its slow error, in seconds.
    pub tau_s: f64,
    /// The part of the variance (sigma squared) that is white, from 0 to 1.
    pub white_share: f64,
    /// Over how many seconds the receiver smooths the slow rest. 0 stands for not at all.
    pub smoothed_s: f64,
}

/// How far claims are off from walk to walk: the logarithm of true over claimed sigma is normal with this deviation.
pub const MISSTATED: f64 = 0.2;
/// The same for receivers drawn widely. It lies within the 0.7 to 0.8 measured on 19 standing receivers whose recordings are not
/// part of this project.
const WIDELY: f64 = 0.75;
/// The shortest and longest correlation time of receivers drawn widely, in seconds, its logarithm spread evenly.
const TAU_WIDELY_S: (f64, f64) = (8.0, 1000.0);
/// The shortest and longest correlation time of the other receivers, in seconds, its logarithm spread evenly.
pub const TAU_S: (f64, f64) = (15.0, 600.0);

impl Receiver {
    /// A receiver of this class, drawn by what the band itself believes of receivers.
    pub fn random(class: Class, claim: Claim, chance: &mut Chance) -> Receiver {
        let hdop = chance.log_between(0.6, 1.5);
        let usual_m = class.sigma_m(hdop);
        // A receiver that states a sigma states its own, which differs somewhat from the class's.
        let own = (0.2 * chance.normal()).exp();
        let lie = (MISSTATED * chance.normal()).exp();
        let stated_m = match claim {
            Claim::Sigma => usual_m * own,
            Claim::Dilution => usual_m,
        };
        Receiver {
            class,
            claim,
            hdop,
            satellites: 8 + chance.below(16) as u8,
            claimed_m: (claim == Claim::Sigma).then_some(stated_m),
            sigma_m: stated_m * lie,
            tau_s: chance.log_between(TAU_S.0, TAU_S.1),
            white_share: chance.between(0.03, 0.3),
            smoothed_s: 0.0,
        }
    }

    /// A receiver drawn as real ones are: further from what it claims, quieter from fix to fix, and half of the time one that smooths
    /// what it gives. Such receivers are spread more widely than the band believes, and about other middles.
    pub fn widely(class: Class, claim: Claim, chance: &mut Chance) -> Receiver {
        let usual = Receiver::random(class, claim, chance);
        let lie = (class.lies() + WIDELY * chance.normal()).exp();
        let smooths = chance.happens(0.5);
        let smoothed_s = chance.log_between(2.0, 15.0);
        Receiver {
            sigma_m: usual.claimed_m.unwrap_or(class.sigma_m(usual.hdop)) * lie,
            tau_s: chance.log_between(TAU_WIDELY_S.0, TAU_WIDELY_S.1),
            white_share: chance.log_between(0.001, 0.3),
            smoothed_s: if smooths { smoothed_s } else { 0.0 },
            ..usual
        }
    }
}

/// One epoch of a log, and what was true then.
#[derive(Debug, Clone, PartialEq)]
pub struct Epoch {
    /// Seconds from the start of the log.
    pub time_s: f64,
    pub lat_deg: f64,
    pub lon_deg: f64,
    /// Height above the ellipsoid, the smooth figure that stands for the earth.
    pub height_m: f64,
    /// How the position was got. `NoFix` is written to the log without a position.
    pub quality: Quality,
    pub satellites: u8,
    /// The dilution; `None` when the log does not state it.
    pub hdop: Option<f64>,
    /// The sigmas claimed east, north and up, in metres.
    pub claimed_m: Option<(f64, f64, f64)>,
    /// The two letters before a sentence's name, which say what kind of device talks.
    pub talker: &'static str,
    /// Where the antenna truly was.
    pub truth: Moment,
}

/// How the ground slopes: metres of height gained for each metre walked east and for each metre walked north.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ground {
    pub east: f64,
    pub north: f64,
}

/// Vertical errors are about one and a half times the horizontal ones. This is common practice, without a source.
const UP_FACTOR: f64 = 1.5;
/// How high the antenna on its pole stands above the ground, in metres.
const POLE_M: f64 = 2.0;

/// The slow part of one axis' error, brought to variance 1: a Gauss-Markov process, smoothed if the receiver smooths. Smoothing is
/// exponential: each value moves a part of the way from the last one to the new one.
struct Slow {
    process: GaussMarkov,
    smoothed_s: f64,
    /// The deviation that smoothing leaves: the root of `tau / (tau + s)`, which is what it leaves of the variance.
    left: f64,
    /// The time and the value of the last epoch, before the value is brought back to variance 1.
    was: Option<(f64, f64)>,
}

impl Slow {
    fn new(tau_s: f64, smoothed_s: f64) -> Slow {
        Slow {
            process: GaussMarkov::new(tau_s),
            smoothed_s,
            left: (tau_s / (tau_s + smoothed_s)).sqrt(),
            was: None,
        }
    }

    /// The value at a time, which must not be earlier than the last one.
    fn at(&mut self, time_s: f64, chance: &mut Chance) -> f64 {
        let now = self.process.at(time_s, chance);
        let value = match self.was {
            Some((before_s, value)) if self.smoothed_s > 0.0 => {
                let keep = (-(time_s - before_s) / self.smoothed_s).exp();
                now + (value - now) * keep
            }
            _ => now,
        };
        self.was = Some((time_s, value));
        value / self.left
    }
}

/// What the receiver logs of a walk: one epoch for each true moment.
pub fn receive(
    moments: &[Moment],
    receiver: &Receiver,
    place: &Place,
    ground: Ground,
    chance: &mut Chance,
) -> Vec<Epoch> {
    let slow_m = receiver.sigma_m * (1.0 - receiver.white_share).sqrt();
    let white_m = receiver.sigma_m * receiver.white_share.sqrt();
    let mut slow = [0; 3].map(|_| Slow::new(receiver.tau_s, receiver.smoothed_s));
    moments
        .iter()
        .map(|moment| {
            let [east, north, up] = [0, 1, 2].map(|axis: usize| {
                slow_m * slow[axis].at(moment.time_s, chance) + white_m * chance.normal()
            });
            let at = moment.at + Coord { x: east, y: north };
            let (lat_deg, lon_deg) = place.degrees(at);
            let rise_m = ground.east * moment.at.x + ground.north * moment.at.y;
            Epoch {
                time_s: moment.time_s,
                lat_deg,
                lon_deg,
                height_m: place.height_m + POLE_M + rise_m + UP_FACTOR * up,
                quality: receiver.class.quality(),
                satellites: receiver.satellites,
                hdop: Some(receiver.hdop),
                claimed_m: receiver.claimed_m.map(|m| (m, m, UP_FACTOR * m)),
                talker: "GN",
                truth: *moment,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::place::AT_SEA;
    use super::*;

    /// The errors in metres of a receiver that stands still and gives one position a second.
    fn standing(receiver: &Receiver, seconds: u32, seed: u64) -> Vec<Coord<f64>> {
        let place = AT_SEA[0];
        let moments: Vec<Moment> = (0..seconds)
            .map(|t| Moment {
                time_s: f64::from(t),
                at: Coord { x: 3.0, y: -4.0 },
                lap: None,
                standing: true,
                along_m: None,
            })
            .collect();
        let mut chance = Chance::new(seed);
        let (lat0, lon0) = place.degrees(Coord { x: 3.0, y: -4.0 });
        receive(&moments, receiver, &place, Ground::default(), &mut chance)
            .iter()
            .map(|epoch| Coord {
                x: (epoch.lon_deg - lon0) * 78_847.0,
                y: (epoch.lat_deg - lat0) * 111_132.0,
            })
            .collect()
    }

    #[test]
    fn errors_have_the_stated_size_and_memory() {
        let receiver = Receiver {
            class: Class::Differential,
            claim: Claim::Sigma,
            hdop: 1.0,
            satellites: 9,
            claimed_m: Some(0.8),
            sigma_m: 0.8,
            tau_s: 20.0,
            white_share: 0.2,
            smoothed_s: 0.0,
        };
        let errors = standing(&receiver, 300_000, 4);
        let n = errors.len();
        for axis in [|c: &Coord<f64>| c.x, |c: &Coord<f64>| c.y] {
            for lag in [0_usize, 1, 20, 60] {
                let found = (0..n - lag)
                    .map(|i| axis(&errors[i]) * axis(&errors[i + lag]))
                    .sum::<f64>()
                    / (n - lag) as f64;
                let slow = 0.8 * 0.64 * (-(lag as f64) / 20.0).exp();
                let expected = slow + if lag == 0 { 0.2 * 0.64 } else { 0.0 };
                // The series holds some 7 500 stretches that do not depend on each other, so the standard error is 1.6 % of the
                // variance. Four of those are allowed.
                assert!(
                    (found - expected).abs() < 0.042,
                    "lag {lag}: {found}, {expected}"
                );
            }
        }
    }

    #[test]
    fn truth_and_claim_differ_by_a_fifth() {
        let mut chance = Chance::new(9);
        let n = 4000;
        let logs: Vec<f64> = (0..n)
            .map(|_| {
                let receiver = Receiver::random(Class::RtkFloat, Claim::Sigma, &mut chance);
                (receiver.sigma_m / receiver.claimed_m.unwrap()).ln()
            })
            .collect();
        let mean = logs.iter().sum::<f64>() / f64::from(n);
        let sd = (logs.iter().map(|l| (l - mean).powi(2)).sum::<f64>() / f64::from(n)).sqrt();
        assert!(mean.abs() < 0.013 && (sd - 0.2).abs() < 0.01, "{mean} {sd}");
    }
}
