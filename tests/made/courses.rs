//! Invented walks along the edge of a known lawn that do not go round it just once: on past the start, back along a side, to and fro,
//! a lap each way. Each has the area and the length of the edge that is true.

use crate::trial::chance::{Chance, GaussMarkov};
use crate::trial::place::AT_SEA;
use crate::trial::receiver::{Ground, Receiver, receive};
use crate::trial::shape::{Outline, Shape};
use crate::trial::walker::{HAND_SIGMA_M, Moment};
use crate::trial::write::nmea;
use geo::Coord;
use jiff::civil::date;

/// How a surveyor goes about the edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Course {
    Lap,
    TwoLaps,
    ThreeLaps,
    /// Past the start, and a good part of the edge again.
    PastAndAgain,
    /// Once round, and once round the other way.
    EachWay,
    /// A lap each way, the second begun elsewhere.
    EachWayFromElsewhere,
    /// Somewhere on the way round, one stretch back and forth again.
    SideTwice,
    /// A stretch, back to the start, and then once round.
    SideAndBegunAgain,
    /// A part of the way round, back across to the start, and then once round.
    Restart,
    /// Stands still, goes back a few metres, stands, and goes on.
    StopAndBack,
}

impl Course {
    pub const ALL: [Course; 10] = [
        Course::Lap,
        Course::TwoLaps,
        Course::ThreeLaps,
        Course::PastAndAgain,
        Course::EachWay,
        Course::EachWayFromElsewhere,
        Course::SideTwice,
        Course::SideAndBegunAgain,
        Course::Restart,
        Course::StopAndBack,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Course::Lap => "one lap",
            Course::TwoLaps => "two laps",
            Course::ThreeLaps => "three laps",
            Course::PastAndAgain => "past the start and on",
            Course::EachWay => "a lap each way",
            Course::EachWayFromElsewhere => "each way, from elsewhere",
            Course::SideTwice => "a side walked again",
            Course::SideAndBegunAgain => "a side, back, begun again",
            Course::Restart => "a part, across, begun again",
            Course::StopAndBack => "a stop and some way back",
        }
    }

    /// The way from one place on the edge to the next, and seconds stood there; lengths along it are of an anticlockwise walk.
    fn legs(self, outline: &Outline, chance: &mut Chance) -> Vec<Leg> {
        let round = outline.perimeter_m;
        let corner = |chance: &mut Chance| match outline.corners_m.len() {
            0 => chance.between(0.0, round),
            n => outline.corners_m[chance.below(n)],
        };
        let start = if chance.happens(0.6) {
            corner(chance)
        } else {
            chance.between(0.0, round)
        };
        let over = if chance.happens(0.6) {
            chance.between(0.0, 4.0)
        } else {
            0.0
        };
        let on = |from: f64, by: f64| Leg::Along(from, from + by);
        let stood = |chance: &mut Chance| Leg::Stand(chance.between(4.0, 15.0));
        match self {
            Course::Lap => vec![on(start, round + over)],
            Course::TwoLaps => vec![on(start, 2.0 * round + over)],
            Course::ThreeLaps => vec![on(start, 3.0 * round + over)],
            Course::PastAndAgain => vec![on(start, round * chance.between(1.2, 1.9))],
            Course::EachWay => vec![on(start, round), stood(chance), on(start, -round)],
            Course::EachWayFromElsewhere => {
                let more = round * chance.between(0.15, 0.85);
                vec![
                    on(start, round + more),
                    stood(chance),
                    on(start + more, -round),
                ]
            }
            Course::SideTwice => {
                let (first, side) = (
                    round * chance.between(0.1, 0.6),
                    round * chance.between(0.1, 0.3),
                );
                vec![
                    on(start, first + side),
                    stood(chance),
                    on(start + first + side, -side),
                    stood(chance),
                    on(start + first, round - first + over),
                ]
            }
            Course::SideAndBegunAgain => {
                let side = round * chance.between(0.1, 0.4);
                vec![
                    on(start, side),
                    stood(chance),
                    on(start + side, -side),
                    stood(chance),
                    on(start, round + over),
                ]
            }
            Course::Restart => {
                let part = round * chance.between(0.2, 0.5);
                vec![
                    on(start, part),
                    stood(chance),
                    Leg::Across(start + part, start),
                    stood(chance),
                    on(start, round + over),
                ]
            }
            Course::StopAndBack => {
                let (first, back) = (round * chance.between(0.1, 0.8), chance.between(1.5, 6.0));
                vec![
                    on(start, first),
                    stood(chance),
                    on(start + first, -back),
                    stood(chance),
                    on(start + first - back, round - first + back + over),
                ]
            }
        }
    }
}

#[derive(Debug, Clone, Copy)]
enum Leg {
    Along(f64, f64),
    Across(f64, f64),
    Stand(f64),
}

/// A lawn of a kind, about so large; a circle is drawn of four quarters.
pub fn outline(shape: usize, area_m2: f64, chance: &mut Chance) -> (&'static str, Outline) {
    const SHAPES: [(&str, Shape); 5] = [
        ("rectangle", Shape::Rectangle),
        ("L", Shape::L),
        ("T", Shape::T),
        ("blob", Shape::Blob),
        ("kidney", Shape::Kidney),
    ];
    match SHAPES.get(shape) {
        Some(&(name, shape)) => (name, Outline::random(shape, area_m2, chance)),
        None => {
            let radius_m = (area_m2 / std::f64::consts::PI).sqrt();
            let quarters = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)]
                .map(|(x, y)| (radius_m * x, radius_m * y));
            let bulge_m = radius_m * (1.0 - 0.5f64.sqrt());
            let mut circle = Outline::drawn(Shape::Blob, &quarters, &[bulge_m; 4]);
            circle.corners_m.clear();
            ("circle", circle)
        }
    }
}

pub const SHAPES: usize = 6;

/// The log of a course about an outline.
pub fn log(
    outline: &Outline,
    course: Course,
    step_s: f64,
    receiver: impl FnOnce(&mut Chance) -> Receiver,
    chance: &mut Chance,
) -> Vec<u8> {
    let moments = Hand::random(outline, chance).walk(&course.legs(outline, chance), step_s, chance);
    let receiver = receiver(chance);
    let epochs = receive(&moments, &receiver, &AT_SEA[0], Ground::default(), chance);
    nmea(&epochs, date(2026, 5, 14).at(8, 0, 0, 0))
}

/// Who walks.
struct Hand<'a> {
    outline: &'a Outline,
    /// Which way round lengths along are counted.
    way: f64,
    pace_m_s: f64,
    /// Seconds stood at each corner.
    pause_s: f64,
    offset_m: f64,
    sway_m: f64,
}

impl Hand<'_> {
    fn random<'a>(outline: &'a Outline, chance: &mut Chance) -> Hand<'a> {
        Hand {
            outline,
            way: if chance.happens(0.5) { 1.0 } else { -1.0 },
            pace_m_s: chance.between(0.7, 1.4),
            pause_s: if chance.happens(0.5) { 5.0 } else { 0.0 },
            offset_m: HAND_SIGMA_M * chance.normal(),
            sway_m: chance.between(0.01, 0.03),
        }
    }

    fn at(&self, along_m: f64) -> Coord<f64> {
        let along_m = self.way * along_m;
        self.outline.point(along_m) + self.outline.outward(along_m) * self.offset_m
    }

    /// Where the parallel lines of both sides of a corner meet.
    fn corner(&self, corner_m: f64) -> Coord<f64> {
        let [before, after] = [-1e-7, 1e-7].map(|by| self.outline.outward(corner_m + by));
        let cos = before.x * after.x + before.y * after.y;
        self.outline.point(corner_m) + (before + after) * (self.offset_m / (1.0 + cos))
    }

    /// Places a quarter of a metre apart or nearer, each with the time from the one before it.
    fn places(&self, legs: &[Leg]) -> Vec<(Coord<f64>, f64)> {
        const APART_M: f64 = 0.25;
        let mut places: Vec<(Coord<f64>, f64)> = Vec::new();
        for leg in legs {
            match *leg {
                Leg::Stand(seconds) => places.extend(places.last().map(|last| (last.0, seconds))),
                Leg::Along(from, to) => {
                    let steps = ((to - from).abs() / APART_M).ceil();
                    let step_s = (to - from).abs() / steps.max(1.0) / self.pace_m_s;
                    for k in 0..=steps as usize {
                        let [before, here] = [-1.0, 0.0]
                            .map(|by| from + (to - from) * (k as f64 + by) / steps.max(1.0));
                        if k > 0
                            && let Some(corner_m) = self.corner_between(before, here)
                        {
                            let corner = self.corner(corner_m);
                            places.push((corner, step_s / 2.0));
                            places.push((corner, self.pause_s));
                        }
                        places.push((self.at(here), if k == 0 { 0.0 } else { step_s }));
                    }
                }
                Leg::Across(from, to) => {
                    let (a, b) = (self.at(from), self.at(to));
                    let seconds = (b - a).x.hypot((b - a).y) / self.pace_m_s;
                    places.extend([(a, 0.0), (b, seconds)]);
                }
            }
        }
        places
    }

    /// The corner passed between two lengths along, as a length along the outline.
    fn corner_between(&self, from: f64, to: f64) -> Option<f64> {
        let round = self.outline.perimeter_m;
        let (low, high) = (
            (self.way * from).min(self.way * to),
            (self.way * from).max(self.way * to),
        );
        let passed = |corner: &&f64| {
            (low - **corner).div_euclid(round) != (high - **corner).div_euclid(round)
        };
        self.outline.corners_m.iter().find(passed).copied()
    }

    fn walk(&self, legs: &[Leg], step_s: f64, chance: &mut Chance) -> Vec<Moment> {
        let places = self.places(legs);
        let mut sway = [0, 1].map(|_| GaussMarkov::new(1.0));
        let mut moments: Vec<Moment> = Vec::new();
        let mut begun_s = 0.0;
        for pair in places.windows(2) {
            let lasts_s = pair[1].1;
            loop {
                let time_s = moments.len() as f64 * step_s;
                if time_s >= begun_s + lasts_s {
                    break;
                }
                let at = pair[0].0 + (pair[1].0 - pair[0].0) * ((time_s - begun_s) / lasts_s);
                let [x, y] = [0, 1].map(|axis: usize| self.sway_m * sway[axis].at(time_s, chance));
                moments.push(Moment {
                    time_s,
                    at: at + Coord { x, y },
                    lap: None,
                    standing: pair[0].0 == pair[1].0,
                    along_m: None,
                });
            }
            begun_s += lasts_s;
        }
        moments
    }
}
