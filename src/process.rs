//! What is believed of receivers and places before a log is seen, and in `hand` of hands, poles, tapes and walkers. Every belief stands
//! here, with why it is held.
//!
//! *Sigma* is the standard deviation of a position on one axis. Errors of positions that follow each other are alike: how alike is described by a
//! correlation time, after which the likeness has fallen to a third (a Gauss-Markov error), and by a small part that is independent from
//! fix to fix (white).
//!
//! # What the beliefs rest on
//! - *The series*: errors of standing receivers in `fixtures/receivers` (six, of five receivers), looked at by
//!   `cargo run --release --example real`.
//! - *The study*: figures measured on 19 standing receivers that are not part of this project. Over the length of a walk the
//!   logarithm of (true error / claimed sigma) had a standard deviation of 0.7 to 0.8 in every class, with a mean of −0.7 for RTK
//!   fixed, +0.85 for float, +0.3 for differential and −0.8 for code receivers; a band made for spreads of 0.2 to 0.3 about none held
//!   96 % with RTK fixed, 85 % with float, 76 to 79 % with differential and 95 % with code receivers, of these 66 % between
//!   buildings. Errors at 10 s and at 60 s went together with a correlation of 0.98 over the receivers.
//! - Published levels, named where they are used.

pub(crate) mod hand;

use crate::fix::Quality;
use serde::Serialize;

/// Receiver class, as the log shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Receiver {
    Autonomous,
    Differential,
    RtkFloat,
    RtkFixed,
    Unknown,
}

/// Where the position sigma came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SigmaSource {
    /// Claimed by the log (the NMEA sentences GST or GBS, or an accuracy field).
    Gst,
    /// The class's planning figure times HDOP, the dilution of precision by the layout of the satellites.
    Hdop,
    /// Corrected by what the laps, standstills and the closing showed.
    Laps,
    /// Given by the surveyor.
    Given,
    /// Assumed, and the result says so: nothing in the log tells how accurate it is.
    Assumed,
}

impl Receiver {
    #[must_use]
    pub fn of(quality: Quality) -> Receiver {
        match quality {
            Quality::Autonomous | Quality::Pps => Receiver::Autonomous,
            Quality::Differential => Receiver::Differential,
            Quality::RtkFloat => Receiver::RtkFloat,
            Quality::RtkFixed => Receiver::RtkFixed,
            _ => Receiver::Unknown,
        }
    }

    /// Planning figure, metres per axis, one sigma, open sky: autonomous 2.0, SBAS or differential 0.8, RTK float 0.3,
    /// RTK fixed 0.02. A judgement between published levels (the GPS SPS performance standard, FAA WAAS reports, EGNOS and Galileo
    /// HAS service definitions; in part from memory). A log that says nothing is taken for an autonomous receiver.
    #[must_use]
    pub fn sigma_m(self) -> f64 {
        match self {
            Receiver::Autonomous | Receiver::Unknown => 2.0,
            Receiver::Differential => 0.8,
            Receiver::RtkFloat => 0.3,
            Receiver::RtkFixed => 0.02,
        }
    }

    /// The class of a receiver whose kind the log does not say, told by the sigma that it states, metres per axis: the class whose planning
    /// figure is nearest by ratio. A table that states 14 mm was written by a receiver that can reach that; no phone claims it.
    #[must_use]
    pub fn stating(sigma_m: f64) -> Receiver {
        let off = |class: &Receiver| (sigma_m / class.sigma_m()).ln().abs();
        let classes = [
            Receiver::Autonomous,
            Receiver::Differential,
            Receiver::RtkFloat,
            Receiver::RtkFixed,
        ];
        let nearest = classes.into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.unwrap_or(Receiver::Unknown)
    }

    /// The least sigma believed of a receiver of this class, whatever it claims, metres per axis: real receivers
    /// claim a half to a third of their errors, and phones stand still metres away from the truth.
    #[must_use]
    pub fn floor_m(self) -> f64 {
        match self {
            Receiver::Autonomous | Receiver::Unknown => 0.8,
            Receiver::Differential => 0.3,
            Receiver::RtkFloat => 0.10,
            Receiver::RtkFixed => 0.01,
        }
    }

    /// The name of the class on sheets.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Receiver::Autonomous => "autonomous (phone-grade)",
            Receiver::Differential => "differential or SBAS",
            Receiver::RtkFloat => "RTK float",
            Receiver::RtkFixed => "RTK fixed",
            Receiver::Unknown => "unknown receiver",
        }
    }

    /// How large the true error of receivers of this class is, against what they claim in the way that `source` says.
    ///
    /// What counts is how much the error changes during a walk, as an even shift moves no area, so that the centres lie below the
    /// study's means where those have a constant part in them. They are set so that bands hold on walks under the series and
    /// under series drawn as widely as the study's (not those that figures are reported of); its own spreads are in the widths.
    /// Receivers that state a sigma miss it by as much as those of which only a class is known.
    #[must_use]
    pub fn claim(self, source: SigmaSource) -> ClaimSpread {
        let (centre, width) = match (source, self) {
            // Whoever gives a sigma knows the receiver: within a fifth, a judgement.
            (SigmaSource::Given, _) => (0.0, 0.2),
            // Nothing is stated, or corners were listed: the class's figure, within a factor of two or so, a judgement.
            (SigmaSource::Assumed, _) => (0.0, 0.5),
            (_, Receiver::RtkFixed) => (-0.3, 0.6),
            (_, Receiver::RtkFloat) => (0.3, 0.8),
            (_, Receiver::Differential) => (0.55, 0.8),
            (_, Receiver::Autonomous) => (-0.1, 0.8),
            (_, Receiver::Unknown) => (0.0, 0.8),
        };
        ClaimSpread { centre, width }
    }

    /// How much the errors of receivers of this class change from second to second, as a part of how much they change in `ROUGH_LAG_S`: for
    /// each kind of receiver its share of all, the logarithm of that part, and the standard deviation of the logarithm.
    ///
    /// Of code and float receivers of the series the roughness is 0.02 to 0.15 of the change in half a minute: they smooth what they
    /// give. Some smooth little, and are white from fix to fix by a quarter of their error and more; of them roughness says
    /// little, as it may be either. That they are three in ten is a judgement: no series shows one. RTK fixed is noise for the better part (0.3 to 0.8 in both
    /// series).
    #[must_use]
    pub fn roughness(self) -> &'static [Roughness] {
        // Logarithms are natural: -2.6 is a part of 0.07, -0.6 of 0.55 and -1.2 of 0.3.
        const SMOOTHED: [Roughness; 2] = [
            Roughness {
                share: 0.7,
                log: -2.6,
                spread: 0.65,
            },
            Roughness {
                share: 0.3,
                log: -0.6,
                spread: 0.7,
            },
        ];
        const NOISE: [Roughness; 1] = [Roughness {
            share: 1.0,
            log: -1.2,
            spread: 0.8,
        }];
        match self {
            Receiver::RtkFixed => &NOISE,
            _ => &SMOOTHED,
        }
    }
}

/// What a figure of horizontal accuracy means. Receivers' own sentences (GST, GBS) state one sigma of each axis; other figures are of the
/// position as a whole. `read::accuracy` tells which is meant by the name under which a figure stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Accuracy {
    /// One sigma of each axis, as GST has it.
    Axis,
    /// The root mean square of the horizontal error: the two axes' sigmas together.
    Rms,
    /// Twice the root mean square of the horizontal error.
    TwiceRms,
    /// The radius that holds the true position 68 times in 100: what Android's documentation says of a location's accuracy, and what loggers
    /// on phones pass on.
    Radius68,
    /// The radius that holds the true position 95 times in 100.
    Radius95,
    /// The radius that holds it one time in two, called circular error probable.
    Radius50,
    /// The distance within which the error lies 95 times in 100 on each axis by itself.
    Axis95,
}

impl Accuracy {
    /// How many sigmas of one axis the figure is, for normal errors that are alike in both axes. For these the radius that holds a share
    /// `p` is
    /// `sqrt(-2 ln(1 - p))` sigmas (Rayleigh's distribution).
    pub(crate) fn sigmas(self) -> f32 {
        let radius = |share: f32| (-2.0 * (1.0 - share).ln()).sqrt();
        match self {
            Accuracy::Axis => 1.0,
            Accuracy::Axis95 => 1.96,
            Accuracy::Rms => std::f32::consts::SQRT_2,
            Accuracy::TwiceRms => 2.0 * std::f32::consts::SQRT_2,
            Accuracy::Radius68 => radius(0.68),
            Accuracy::Radius95 => radius(0.95),
            Accuracy::Radius50 => radius(0.5),
        }
    }

    /// One sigma of each axis, metres, from a stated figure in metres.
    pub(crate) fn axis_m(self, figure_m: f32) -> f32 {
        figure_m / self.sigmas()
    }
}

/// What is believed of the natural logarithm of (true error / claimed sigma): it is normal about `centre`, with the standard deviation
/// `width`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClaimSpread {
    pub centre: f64,
    pub width: f64,
}

impl ClaimSpread {
    /// What is believed of a receiver that loses its position for [`LOST_S`] and more now and then: it is under a poor sky, and one that
    /// measures by codes errs more there. In the study the bands of such logs were too narrow by a factor of 1.3, and those of code
    /// receivers without gaps too wide by 1.1. Nothing of the kind was seen with RTK fixed. Other classes come back unchanged.
    pub(crate) fn losing_fixes(self, class: Receiver) -> ClaimSpread {
        const POOR_SKY: f64 = 0.35;
        match class {
            Receiver::Autonomous | Receiver::Unknown => ClaimSpread {
                centre: self.centre + POOR_SKY,
                ..self
            },
            _ => self,
        }
    }
}

/// Seconds without a position from which a receiver counts as losing them.
pub(crate) const LOST_S: f64 = 5.0;

/// Seconds that a fixed solution must have held after another quality before it counts as one. False ones were seen in logs of standing
/// receivers (fixed, claiming 1 cm, and 2.6 m off); that they let go within so long is a judgement.
pub(crate) const SETTLES_S: f64 = 10.0;

/// A position that stays within this many of its sigmas is held by the receiver rather than measured anew: some receivers keep it, to the
/// last digit or nearly so, while they move slowly. In the series no receiver that does not repeat its position stays as near for 16 s: the
/// least are 0.08 sigmas by code and 0.13 with RTK fixed, and 0.03 among 60 drawn receivers.
pub(crate) const HELD_SIGMAS: f64 = 0.02;

/// Parts of a receiver's error that a standstill may show: it lasts a minute, and what moves an area goes on for several, so that a slower
/// part of the error hardly shows in it. Of four series (the other two hold their position) the error changed in half a minute by 0.71 to
/// 1.07 times as much, against its spread over the next 200 s, as a Gauss-Markov error of 15 to 600 s does: up to half of its variance is
/// of such a part, and single minutes show less. Taken to be as likely anywhere from 0.4 to 1. With all of it taken for shown, single laps by
/// drawn code and float receivers were covered two to five in a hundred less often with a minute's standing than without.
pub(crate) const STANDING_SHOWS: [f64; 4] = [1.0, 0.74, 0.54, 0.4];

/// See [`Receiver::roughness`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roughness {
    pub share: f64,
    pub log: f64,
    pub spread: f64,
}

/// Seconds over which the change of the error is compared with its roughness. Changes over about that time are those that move an area.
pub(crate) const ROUGH_LAG_S: f64 = 30.0;
/// Roughness of the path itself where it goes straight: the swaying pole, the hand and the step, metres. A walk that is smoother
/// shows no more than that the receiver smooths. Common practice for a pole of 2 m, no source.
pub(crate) const ROUGH_HAND_M: f64 = 0.012;
/// Share of the error's variance that is independent from fix to fix (white). In the series it is less (0.1 % for code and float, 3 to 7 %
/// for RTK fixed); in receivers that smooth nothing it is more.
pub const WHITE_SHARE: f64 = 0.10;
/// How the pole wobbles about the edge, metres per axis, independent from second to second.
pub const WOBBLE_M: f64 = 0.02;
/// Range over which an unknown correlation time is averaged, seconds, evenly in its logarithm. Real logs show 10 s to
/// many minutes, and no single figure is defensible.
pub(crate) const CORRELATION_RANGE_S: (f64, f64) = (15.0, 600.0);
/// Share of the error's variance that comes back at the same place on every lap: signals bent by what stands there. Laps make
/// the rest smaller, not this. A judgement, no source: the series stand still and cannot show it.
pub(crate) const REPEATS_SHARE: f64 = 0.10;
/// Over how many metres along the edge that part stays the same: a few wavelengths of what interferes, seen from a walker.
/// A judgement, no source.
pub(crate) const REPEATS_OVER_M: f64 = 6.0;
/// Vertical sigma divided by horizontal. One and a half to two: common practice, no source; the larger is the safer.
pub(crate) const VERTICAL_FACTOR: f64 = 2.0;
/// How well a walk's sigma is known, as the degrees of freedom of an estimate that is as good: to some 20 % (1/√(2·12)).
pub(crate) const WALK_FREEDOM: f64 = 12.0;
/// Share of receivers that err by far more than is usual of their class, and by how many times more they may err. With these in the belief,
/// laps and standstills can show that a receiver is one of them. A judgement, no source.
pub(crate) const LIARS_SHARE: f64 = 0.002;
pub(crate) const LIAR_SCALES: [f64; 8] = [1.7, 2.4, 3.4, 5.0, 10.0, 25.0, 60.0, 150.0];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_radius_of_68_percent_is_one_and_a_half_sigmas() {
        assert!((Accuracy::Radius68.axis_m(1.5096) - 1.0).abs() < 1e-4);
    }
}
