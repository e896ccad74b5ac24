//! One walk from the number that it is drawn by to its result: the lawn, the surveyor, the receiver and the log, and then what
//! boundwalk itself makes of that log.

use super::blunder::inject;
use super::cell::{Manner, Walk};
use super::chance::Chance;
use super::ideal::{Ideal, ideal};
use super::place::{AT_SEA, Place};
use super::receiver::{Claim, Class, Epoch, Ground, Receiver, receive};
use super::shape::Outline;
use super::walker::{Habits, walk};
use super::write::{gpx, nmea};
use boundwalk::job::{Carry, Side};
use boundwalk::survey::measured::Status;
use boundwalk::survey::{Depth, Input, Measured, Request, measure};
use geo::Coord;
use jiff::ToSpan;
use jiff::civil::{DateTime, date};

/// The smallest and the largest lawn, in square metres. The logarithm of the area is spread evenly between them.
pub const AREA_M2: (f64, f64) = (20.0, 5000.0);

/// A walk with its log and its truth.
#[derive(Debug, Clone)]
pub struct Walked {
    pub walk: Walk,
    pub outline: Outline,
    pub habits: Habits,
    pub receiver: Receiver,
    pub ideal: Ideal,
    /// The area of the received positions for someone who knew which of them belong to which lap: the mean of the laps' plain
    /// polygons, before any blunder, less what lies between the edge and an antenna carried beside it. Where boundwalk gives another
    /// area than this, that is its own doing and not the receiver's.
    pub plain_m2: f64,
    /// By how much the blunder moved that area.
    pub moved_m2: f64,
    pub epochs: Vec<Epoch>,
    pub start: DateTime,
    /// What was done to the log, in words; empty for a clean one.
    pub blunder: String,
}

/// Walks this walk, with a receiver drawn by [`Receiver::random`].
pub fn walked(walk_number: Walk) -> Walked {
    walked_with(walk_number, Receiver::random)
}

/// How a receiver is drawn, of a class and with a way of claiming its accuracy.
pub type Draw = fn(Class, Claim, &mut Chance) -> Receiver;

/// Walks this walk, with a receiver drawn in the way given.
pub fn walked_with(walk_number: Walk, receiver: Draw) -> Walked {
    let cell = walk_number.cell;
    // A walk with a blunder is drawn by the number of the clean walk, so that they are the same but for the blunder.
    let seed = walk_number.clean().number();
    let draw = &mut Chance::stream(seed, "lawn");
    let area_m2 = draw.log_between(AREA_M2.0, AREA_M2.1);
    let outline = Outline::random(cell.shape, area_m2, draw);
    let place = AT_SEA[draw.below(AT_SEA.len())];
    let start = date(2026, 5, 14).at(0, 0, 0, 0);
    let start = start.saturating_add((draw.below(86_400) as i64).seconds());
    let draw = &mut Chance::stream(seed, "surveyor");
    let mut habits = Habits::random(&outline, cell.laps, draw);
    match cell.manner {
        Manner::Plain => {}
        Manner::Carried => {
            // A small lawn has not much room for a line on its inside.
            let most_m = (0.05 * area_m2.sqrt()).min(0.5);
            habits.carry_m = draw.between(-most_m, most_m);
        }
        Manner::PartLap => habits.part_lap = draw.between(0.2, 0.8),
        Manner::TurnRound => {
            for turn in habits.laps.iter_mut().skip(1).step_by(2) {
                *turn = turn.other();
            }
        }
    }
    let moments = walk(&outline, &habits, cell.rate_hz, draw);
    let draw = &mut Chance::stream(seed, "receiver");
    let receiver = receiver(cell.class, cell.claim, draw);
    let mut epochs = receive(&moments, &receiver, &place, Ground::default(), draw);
    let ideal = ideal(&moments, &habits, &receiver, outline.perimeter_m);
    let antenna_m2 = plain_m2(&epochs, &habits, &place);
    let mut said = String::new();
    if let Some(blunder) = walk_number.blunder {
        let draw = &mut Chance::stream(seed, "blunder");
        said = inject(
            blunder,
            &mut epochs,
            &outline.corners_m,
            outline.perimeter_m,
            draw,
        );
    }
    let moved_m2 = plain_m2(&epochs, &habits, &place) - antenna_m2;
    let plain_m2 = antenna_m2 - outline.widening_m2(habits.carry_m);
    Walked {
        walk: walk_number,
        outline,
        habits,
        receiver,
        ideal,
        plain_m2,
        moved_m2,
        epochs,
        start,
        blunder: said,
    }
}

/// The mean area of the laps' polygons, of the positions as they were received: where the antenna was, and not the edge.
fn plain_m2(epochs: &[Epoch], habits: &Habits, place: &Place) -> f64 {
    let laps = habits.laps.len();
    let area_m2: f64 = (0..laps)
        .map(|lap| {
            let ring: Vec<Coord<f64>> = epochs
                .iter()
                .filter(|epoch| epoch.truth.lap == Some(lap))
                .map(|epoch| place.metres(epoch.lat_deg, epoch.lon_deg))
                .collect();
            let n = ring.len();
            let cross = |i: usize| {
                let (a, b) = (ring[i], ring[(i + 1) % n]);
                a.x * b.y - a.y * b.x
            };
            (0..n).map(cross).sum::<f64>().abs() / 2.0
        })
        .sum();
    area_m2 / laps.max(1) as f64
}

impl Walked {
    /// The log in NMEA 0183.
    pub fn nmea(&self) -> Vec<u8> {
        nmea(&self.epochs, self.start)
    }

    /// The log in GPX 1.1.
    pub fn gpx(&self) -> Vec<u8> {
        gpx(&self.epochs, &[], self.start)
    }

    /// Whether nobody could measure this lawn with this receiver: even with sigma known, the band would be more than two fifths of the
    /// area.
    pub fn hopeless(&self) -> bool {
        self.ideal.fair_m2 > 0.4 * self.outline.area_m2
    }
}

/// What came out of measuring a log: an area with a band, a result document that withholds the area and says why, or a refusal.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    Measured {
        area_m2: f64,
        band_m2: f64,
        /// Whether the result has the status `check`, which asks the surveyor to look at it.
        flagged: bool,
        laps: u32,
        perimeter_m: Option<f64>,
        perimeter_sigma_m: Option<f64>,
        /// The codes of its warnings, joined by `+`.
        codes: String,
    },
    Withheld {
        codes: String,
    },
    /// No result document at all.
    Refused {
        code: String,
    },
}

/// Measures the walk's NMEA log.
pub fn outcome(walked: &Walked) -> Outcome {
    measured_outcome(&measure(&request(walked, walked.nmea())))
}

/// What a surveyor would ask of boundwalk with this log: only the numbers, and an antenna carried beside the edge where it was.
pub fn request(walked: &Walked, log: Vec<u8>) -> Request {
    let carry_m = walked.habits.carry_m;
    let carry = match walked.walk.cell.manner {
        Manner::Carried => Carry {
            offset_m: Some(carry_m.abs()),
            side: Some(if carry_m < 0.0 {
                Side::Inside
            } else {
                Side::Outside
            }),
            sigma_m: None,
        },
        _ => Carry::default(),
    };
    Request {
        name: "trial".into(),
        logs: vec![Input::Bytes {
            name: "trial.nmea".into(),
            bytes: log,
        }],
        carry,
        depth: Depth::Numbers,
        ..Request::default()
    }
}

/// What came out, told from boundwalk's own result.
pub fn measured_outcome(result: &Result<Measured, boundwalk::fault::Fault>) -> Outcome {
    let measured = match result {
        Err(fault) => {
            return Outcome::Refused {
                code: fault.code().into(),
            };
        }
        Ok(measured) => measured,
    };
    let codes: Vec<&str> = measured.warnings.iter().map(|w| w.code()).collect();
    let codes = codes.join("+");
    match (&measured.area, measured.status) {
        (Some(area), Status::Ok | Status::Check) => Outcome::Measured {
            area_m2: area.net_m2,
            band_m2: area.band_m2,
            flagged: measured.status == Status::Check,
            laps: measured.ring.as_ref().map_or(0, |ring| ring.laps),
            perimeter_m: measured.perimeter_m,
            perimeter_sigma_m: measured.perimeter_sigma_m,
            codes,
        },
        _ => Outcome::Withheld { codes },
    }
}

#[cfg(test)]
mod tests {
    use super::super::blunder::Blunder;
    use super::*;

    #[test]
    fn a_number_gives_the_same_walk_again() {
        let walk = Walk::from_number(987_654_321).unwrap();
        assert_eq!(walked(walk).nmea(), walked(walk).nmea());
    }

    #[test]
    fn a_blundered_walk_is_the_clean_walk_elsewhere() {
        let clean = Walk::from_number(123_456).unwrap().clean();
        let spoilt = Walk {
            blunder: Some(Blunder::Jump),
            ..clean
        };
        let (clean, spoilt) = (walked(clean), walked(spoilt));
        let differing = clean
            .epochs
            .iter()
            .zip(&spoilt.epochs)
            .filter(|(a, b)| a != b)
            .count();
        assert_eq!(differing, 1);
        assert!(clean.blunder.is_empty() && !spoilt.blunder.is_empty());
    }
}
