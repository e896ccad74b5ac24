//! Whether what a result says would stay unseen is what the program truly does not see: errors of just that size are laid
//! into simulated walks, and counted is how many are told.
//!
//! `BOUNDWALK_DRIFTS=16 cargo test --test walks checked -- --nocapture` takes more walks and prints the figures of
//! `docs/accuracy.md`.

use crate::trial::cell::{Cell, Manner, Walk};
use crate::trial::chance::Chance;
use crate::trial::receiver::{Claim, Class, Epoch};
use crate::trial::run::{Walked, request, walked};
use crate::trial::shape::Shape;
use boundwalk::job::Tape;
use boundwalk::next_step::NextStep;
use boundwalk::survey::checked::{By, ErrorKind};
use boundwalk::survey::measured::Status;
use boundwalk::survey::{Depth, Measured, measure};

/// Walks of each kind of receiver and number of laps.
fn walks() -> u64 {
    std::env::var("BOUNDWALK_DRIFTS").map_or(2, |n| n.parse().unwrap())
}

fn measured(walked: &Walked) -> Measured {
    let mut asked = request(walked, walked.nmea());
    asked.depth = Depth::Document;
    measure(&asked).unwrap()
}

fn simulated(class: Class, laps: usize, index: u64) -> Walked {
    let shapes = [Shape::Rectangle, Shape::L, Shape::Kidney, Shape::Blob];
    walked(Walk {
        cell: Cell {
            class,
            shape: shapes[(index % 4) as usize],
            laps,
            rate_hz: [1.0, 5.0][(index / 4 % 2) as usize],
            claim: [Claim::Sigma, Claim::Dilution][(index / 8 % 2) as usize],
            manner: Manner::Plain,
        },
        index: 7_000 + index,
        blunder: None,
    })
}

/// When the laps begin and end, seconds.
fn laps_s(walked: &Walked) -> (f64, f64) {
    let on_lap: Vec<f64> = (walked.epochs.iter())
        .filter(|e| e.truth.lap.is_some())
        .map(|e| e.time_s)
        .collect();
    (on_lap[0], on_lap[on_lap.len() - 1])
}

fn displace(epoch: &mut Epoch, [east_m, north_m]: [f64; 2]) {
    const DEGREE_M: f64 = 111_200.0;
    epoch.lat_deg += north_m / DEGREE_M;
    epoch.lon_deg += east_m / (DEGREE_M * epoch.lat_deg.to_radians().cos());
}

fn moved(walked: &Walked, by_m: impl Fn(f64) -> [f64; 2]) -> Walked {
    let mut moved = walked.clone();
    for epoch in &mut moved.epochs {
        displace(epoch, by_m(epoch.time_s));
    }
    moved
}

fn drift_m2(result: &Measured) -> Option<(f64, [f64; 2])> {
    let unseen = &result.checked.unseen;
    let drift = unseen.iter().find(|u| u.error == ErrorKind::Drift)?;
    Some((drift.area_m2?, drift.by_m?))
}

fn told(walked: &Walked) -> usize {
    usize::from(measured(walked).status != Status::Ok)
}

#[derive(Default)]
struct Tally {
    laid: usize,
    told: usize,
    /// Of half the size again, and of half the size.
    told_of_more: usize,
    told_of_less: usize,
    /// What stays unseen, as a part of the area.
    unseen: Vec<f64>,
}

impl Tally {
    /// Lays an error into a walk at the size stated, at one and a half times and at half of it.
    fn lay(&mut self, spoilt: impl Fn(f64) -> Walked) {
        self.laid += 1;
        self.told += told(&spoilt(1.0));
        self.told_of_more += told(&spoilt(1.5));
        self.told_of_less += told(&spoilt(0.5));
    }

    fn print(&mut self, what: &str) {
        self.unseen.sort_by(f64::total_cmp);
        println!(
            "| {what} | {} | {} | {} | {} | {:.1} % |",
            self.laid,
            self.told_of_less,
            self.told,
            self.told_of_more,
            100.0 * self.unseen.get(self.unseen.len() / 2).unwrap_or(&f64::NAN)
        );
    }

    fn add(&mut self, other: &Tally) {
        self.laid += other.laid;
        self.told += other.told;
        self.told_of_more += other.told_of_more;
    }

    fn assert_told(&self) {
        assert!(self.laid > 10);
        assert!(
            10 * self.told >= 8 * self.laid,
            "{} of {}",
            self.told,
            self.laid
        );
        assert!(self.told_of_more >= self.told);
    }
}

/// The walks that are fit to be measured, with nothing told of them as they are.
fn sound(class: Class, laps: usize) -> impl Iterator<Item = (Walked, Measured)> {
    (0..walks()).filter_map(move |index| {
        let clean = simulated(class, laps, index);
        let result = measured(&clean);
        (result.status == Status::Ok && !clean.hopeless()).then_some((clean, result))
    })
}

#[test]
fn a_drift_of_the_size_stated_is_told_by_the_laps() {
    let mut all = Tally::default();
    for laps in [2, 3] {
        for class in Class::ALL {
            let mut tally = Tally::default();
            for (clean, result) in sound(class, laps) {
                let (m2, by_m) = drift_m2(&result).unwrap();
                tally.unseen.push(m2 / result.area.as_ref().unwrap().net_m2);
                let (from_s, to_s) = laps_s(&clean);
                for sign in [1.0, -1.0] {
                    tally.lay(|times| {
                        moved(&clean, |t_s| {
                            let part = sign * times * (t_s - from_s) / (to_s - from_s);
                            by_m.map(|m| part * m)
                        })
                    });
                }
            }
            tally.print(&format!("drift, {laps} laps, {}", class.name()));
            all.add(&tally);
        }
    }
    all.assert_told();
}

/// A part of the first lap is moved aside, from the place farthest from its end on, and with it all that follows.
#[test]
fn a_shift_of_the_size_stated_is_told_by_the_laps() {
    let mut all = Tally::default();
    for class in Class::ALL {
        let mut tally = Tally::default();
        for (clean, result) in sound(class, 2) {
            let unseen = &result.checked.unseen;
            let shift = unseen.iter().find(|u| u.error == ErrorKind::Shift).unwrap();
            let m2 = shift.area_m2.unwrap();
            tally.unseen.push(m2 / result.area.as_ref().unwrap().net_m2);
            let first: Vec<_> = (clean.epochs.iter())
                .filter(|e| e.truth.lap == Some(0))
                .collect();
            let end = first[first.len() - 1].truth.at;
            let way = |e: &Epoch| (end.x - e.truth.at.x, end.y - e.truth.at.y);
            let far = |e: &&&Epoch| way(e).0.hypot(way(e).1);
            let from = first
                .iter()
                .max_by(|a, b| far(a).total_cmp(&far(b)))
                .unwrap();
            let (x, y) = way(from);
            for sign in [1.0, -1.0] {
                tally.lay(|times| {
                    // Of two laps one is moved: its area by twice what the mean is.
                    let part = sign * times * 2.0 * m2 / (x * x + y * y);
                    moved(&clean, |t_s| match t_s < from.time_s {
                        true => [0.0; 2],
                        false => [-part * y, part * x],
                    })
                });
            }
        }
        tally.print(&format!("shift, 2 laps, {}", class.name()));
        all.add(&tally);
    }
    all.assert_told();
}

#[test]
fn nothing_bounds_a_drift_of_one_lap_and_a_second_would() {
    let mut seen = 0;
    for (_, result) in sound(Class::RtkFixed, 1) {
        assert!(drift_m2(&result).is_none());
        assert_eq!(result.checked.count(), 1);
        assert_eq!(result.checked.by[0].check, By::Closing);
        let would = &result.checked.would[0];
        assert_eq!(would.remedy, NextStep::SecondLap);
        let net_m2 = result.area.as_ref().unwrap().net_m2;
        assert!((1e-4..0.1).contains(&(would.area_m2 / net_m2)), "{would:?}");
        seen += 1;
    }
    assert!(seen > 0);
}

/// Four sides and both diagonals of a walked rectangle, each as the walk has it but for a tape's 2 cm.
#[test]
fn a_misread_tape_of_the_size_stated_is_told() {
    let mut tally = Tally::default();
    for index in 0..4 * walks() {
        let mut clean = simulated(Class::RtkFixed, 1, 4 * index);
        // What is told of the walk itself is not the tape's.
        clean.habits.carry_m = 0.0;
        let plain = measured(&clean);
        let [a, b, c, d] = plain.points.as_slice() else {
            continue;
        };
        let mut chance = Chance::stream(index, "tape");
        let pairs = [(a, b), (b, c), (c, d), (d, a), (a, c), (b, d)];
        let tapes: Vec<Tape> = pairs
            .iter()
            .map(|(p, q)| Tape {
                from: p.name.clone(),
                to: q.name.clone(),
                length_m: (p.x_m - q.x_m).hypot(p.y_m - q.y_m) + 0.02 * chance.normal(),
                sigma_m: None,
                straight: Some(true),
            })
            .collect();
        let with = |k: usize, misread_m: f64| {
            let mut asked = request(&clean, clean.nmea());
            asked.depth = Depth::Document;
            asked.job.tapes = tapes.clone();
            asked.job.tapes[k].length_m += misread_m;
            measure(&asked).unwrap()
        };
        let right = with(0, 0.0);
        if right.status != Status::Ok {
            continue;
        }
        let unseen = &right.checked.unseen;
        let stated = unseen.iter().find(|u| u.error == ErrorKind::Tape).unwrap();
        let (stated_m2, area) = (stated.area_m2.unwrap(), right.area.as_ref().unwrap());
        tally.unseen.push(stated_m2 / area.net_m2);
        let adjustment = right.taped.tape.as_ref().unwrap();
        let adjustment = adjustment.adjustment.as_ref().unwrap();
        for (k, reading) in adjustment.readings.iter().enumerate() {
            let detectable_m = reading.detectable.unwrap();
            tally.laid += 1;
            let told = |times: f64| {
                let result = with(k, times * detectable_m);
                if let (Status::Ok, Some(now)) = (result.status, &result.area) {
                    let moved_m2 = (now.net_m2 - area.net_m2).abs();
                    assert!(
                        moved_m2 < 1.1 * times * stated_m2,
                        "{moved_m2}, {stated_m2}"
                    );
                }
                usize::from(result.status != Status::Ok)
            };
            tally.told += told(1.0);
            tally.told_of_more += told(1.5);
            tally.told_of_less += told(0.5);
        }
    }
    tally.print("misread tape, RTK fixed");
    tally.assert_told();
}
