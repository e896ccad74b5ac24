//! The surveyor, who walks from the gate to the edge, round it once or more, and back, with a pole in a hand that is not still.
//!
//! [`walk`] first plans the way as a row of legs, each with the seconds it takes, and then reads off where the antenna was at each
//! moment at which the receiver will give a position. The antenna may be carried beside the edge, on a line that runs parallel
//! to it and turns at the tip of the mitre of each corner (where the two parallel sides meet).

use super::chance::{Chance, GaussMarkov};
use super::shape::Outline;
use geo::Coord;
use std::f64::consts::TAU;

/// How one surveyor walks.
#[derive(Debug, Clone, PartialEq)]
pub struct Habits {
    pub speed_mps: f64,
    /// How many seconds the surveyor stands at every corner, shortest and longest. `None` for one who walks through them.
    pub pause_s: Option<(f64, f64)>,
    /// Where on the edge the walk starts, in metres along it.
    pub start_m: f64,
    /// Metres from the gate to the edge; the way back is as long. 0 stands for no way in.
    pub lead_m: f64,
    /// Whether the way in starts inside the lawn (from the house), and not outside it.
    pub lead_inside: bool,
    /// How far the surveyor walks on past the start after the last lap.
    pub overrun_m: f64,
    /// The whole laps, and which way round each goes. Where the way changes, the surveyor turns after the lap has closed.
    pub laps: Vec<Turn>,
    /// The part of one more lap after which the surveyor breaks it off, from 0 to below 1.
    pub part_lap: f64,
    /// The places gone to after the laps, straight from one to the next, and the seconds stood at each.
    pub visits: Vec<(Coord<f64>, f64)>,
    /// How far the pole's top sways, in metres per axis (one sigma), and how many seconds it takes to forget itself.
    pub wobble_m: f64,
    pub wobble_tau_s: f64,
    /// How far outside the edge (below zero: inside) the antenna is carried on purpose.
    pub carry_m: f64,
    /// How far outward of that line the hand truly holds it, the same all the way round and in every lap.
    pub hand_m: f64,
    /// A part of the hand's offset that changes smoothly along the edge and comes back at the same place in each lap, in metres (one
    /// sigma).
    pub hand_varying_m: f64,
}

/// Which way round a lap goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    Anticlockwise,
    Clockwise,
}

impl Turn {
    pub fn other(self) -> Turn {
        match self {
            Turn::Anticlockwise => Turn::Clockwise,
            Turn::Clockwise => Turn::Anticlockwise,
        }
    }
}

/// How truly a hand follows an edge: one sigma of its constant offset, in metres. This is common practice, without a source.
pub const HAND_SIGMA_M: f64 = 0.02;

impl Habits {
    /// A surveyor drawn by chance, who walks this many whole laps.
    pub fn random(outline: &Outline, laps: usize, chance: &mut Chance) -> Habits {
        let turn = if chance.happens(0.5) {
            Turn::Anticlockwise
        } else {
            Turn::Clockwise
        };
        let corner = outline.corners_m.get(chance.below(outline.corners_m.len()));
        let anywhere_m = chance.between(0.0, outline.perimeter_m);
        let start_m = match corner {
            Some(corner_m) if chance.happens(0.6) => *corner_m,
            _ => anywhere_m,
        };
        let pauses = chance.happens(0.6);
        let mean_pause_s = chance.between(3.0, 10.0);
        let leads = chance.happens(0.8);
        Habits {
            speed_mps: chance.between(0.7, 1.4),
            pause_s: pauses.then_some((mean_pause_s.max(4.0) - 1.0, mean_pause_s.max(4.0))),
            start_m,
            lead_m: if leads {
                chance.between(2.0, 15.0)
            } else {
                0.0
            },
            lead_inside: false,
            overrun_m: if chance.happens(0.6) {
                chance.between(0.0, 5.0)
            } else {
                0.0
            },
            laps: vec![turn; laps],
            part_lap: 0.0,
            visits: Vec::new(),
            wobble_m: chance.between(0.01, 0.03),
            wobble_tau_s: chance.between(0.6, 1.5),
            carry_m: 0.0,
            hand_m: HAND_SIGMA_M * chance.normal(),
            hand_varying_m: if chance.happens(0.3) { 0.01 } else { 0.0 },
        }
    }
}

/// Where the antenna truly was at one moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    pub time_s: f64,
    /// Metres east and north of the lawn's middle, on the ground.
    pub at: Coord<f64>,
    /// Which whole lap this belongs to, counted from 0. `None` on the ways in and out, past the start, and in a part lap.
    pub lap: Option<usize>,
    pub standing: bool,
    /// Metres along the edge, to tell places by. `None` on the straight ways: off the edge, and round a corner.
    pub along_m: Option<f64>,
}

/// The course of one leg.
#[derive(Debug, Clone, Copy)]
enum Where {
    /// Along the edge, from the first length along it to the second, in metres.
    Edge(f64, f64),
    /// Straight from one point to another.
    Straight(Coord<f64>, Coord<f64>),
}

/// A stretch of the walk that is gone at one speed, or a stand.
#[derive(Debug, Clone, Copy)]
struct Leg {
    path: Where,
    seconds: f64,
    lap: Option<usize>,
    standing: bool,
}

/// The walk as it is being planned: its legs so far, and what the next ones need to know.
struct Plan<'a> {
    outline: &'a Outline,
    habits: &'a Habits,
    legs: Vec<Leg>,
    chance: &'a mut Chance,
    /// How far the pace is off its usual value now, as a logarithm. It changes slowly from stretch to stretch.
    pace: f64,
}

/// After so many metres the pace is drawn anew, and it varies by this part of itself (one sigma).
const PACE_STRETCH_M: f64 = 3.0;
const PACE_SIGMA: f64 = 0.06;

impl Plan<'_> {
    /// How far outside the edge the antenna is held, on purpose and by the hand together.
    fn offset_m(&self) -> f64 {
        self.habits.carry_m + self.habits.hand_m
    }

    /// Where the antenna is when the surveyor stands at this length along the edge, away from corners.
    fn beside(&self, along_m: f64) -> Coord<f64> {
        self.outline.point(along_m) + self.outline.outward(along_m) * self.offset_m()
    }

    /// Adds a way that is walked, in stretches of about [`PACE_STRETCH_M`] with a pace each.
    fn step(&mut self, path: Where, lap: Option<usize>) {
        let length = match path {
            Where::Edge(from, to) => (to - from).abs(),
            Where::Straight(a, b) => (b.x - a.x).hypot(b.y - a.y),
        };
        let parts = (length / PACE_STRETCH_M).ceil().max(1.0);
        for k in 0..parts as usize {
            let (p, q) = (k as f64 / parts, (k as f64 + 1.0) / parts);
            self.pace = 0.7 * self.pace + 0.71 * PACE_SIGMA * self.chance.normal();
            let path = match path {
                Where::Edge(from, to) => {
                    Where::Edge(from + (to - from) * p, from + (to - from) * q)
                }
                Where::Straight(a, b) => Where::Straight(a + (b - a) * p, a + (b - a) * q),
            };
            let speed = self.habits.speed_mps * self.pace.clamp(-0.3, 0.3).exp();
            self.legs.push(Leg {
                path,
                seconds: length / parts / speed,
                lap,
                standing: false,
            });
        }
    }

    /// Adds a stand of so many seconds.
    fn stand(&mut self, path: Where, seconds: f64, lap: Option<usize>) {
        self.legs.push(Leg {
            path,
            seconds,
            lap,
            standing: true,
        });
    }

    /// The corner of the line that the antenna is carried on: how many metres of each side it leaves out (where it runs inside the
    /// corner, and else 0), and the point where it turns, the tip of the mitre.
    fn corner(&self, corner_m: f64) -> (f64, Coord<f64>) {
        let d = self.offset_m();
        let before = self.outline.outward(corner_m - 1e-7);
        let after = self.outline.outward(corner_m + 1e-7);
        let (cross, dot) = (
            before.x * after.y - before.y * after.x,
            before.x * after.x + before.y * after.y,
        );
        let overlap_m = -d * cross / (1.0 + dot).max(0.05);
        let tip = (before + after) * (d / (1.0 + dot).max(0.05));
        (overlap_m.max(0.0), self.outline.point(corner_m) + tip)
    }

    /// The place on the carried line where a lap starts or ends: the mitre's tip at a corner, and else beside the edge.
    fn waymark(&self, along_m: f64) -> Coord<f64> {
        match self.is_corner(along_m) {
            true => self.corner(along_m).1,
            false => self.beside(along_m),
        }
    }

    /// Whether a corner stands at this length along the edge, whatever the lap.
    fn is_corner(&self, along_m: f64) -> bool {
        let round = self.outline.perimeter_m;
        self.outline.corners_m.iter().any(|corner| {
            let off = (along_m - corner).rem_euclid(round);
            off.min(round - off) < 1e-6
        })
    }

    /// Walks along the edge from one place to another, either way, and round each corner between them.
    fn follow(&mut self, from_m: f64, to_m: f64, lap: Option<usize>) {
        let round = self.outline.perimeter_m;
        let onward = (to_m - from_m).signum();
        let mut stops: Vec<f64> = Vec::new();
        let (low, high) = (from_m.min(to_m), from_m.max(to_m));
        for corner in &self.outline.corners_m {
            let mut at = corner + ((low - corner) / round).floor() * round;
            while at <= high + 1e-6 {
                // A corner at the very start is none to come to: the surveyor stands at it already.
                if at >= low - 1e-6 && (at - from_m).abs() > 1e-6 {
                    stops.push(at);
                }
                at += round;
            }
        }
        stops.sort_by(f64::total_cmp);
        if onward < 0.0 {
            stops.reverse();
        }
        let mut here = from_m;
        if self.is_corner(from_m) {
            here = self.leave(from_m, onward, lap);
        }
        for corner in stops {
            let (overlap, tip) = self.corner(corner);
            let enter = corner - onward * (overlap + 1e-7);
            if (enter - here) * onward > 0.0 {
                self.step(Where::Edge(here, enter), lap);
            }
            self.step(Where::Straight(self.beside(enter), tip), lap);
            if let Some((short, long)) = self.habits.pause_s {
                let seconds = self.chance.between(short, long);
                self.stand(Where::Straight(tip, tip), seconds, lap);
            }
            here = corner;
            if (to_m - corner).abs() > 1e-6 {
                here = self.leave(corner, onward, lap);
            }
        }
        if (to_m - here) * onward > 1e-6 {
            self.step(Where::Edge(here, to_m), lap);
        }
    }

    /// Walks from a corner onto the side after it, and gives the length along the edge at which it is reached.
    fn leave(&mut self, corner_m: f64, onward: f64, lap: Option<usize>) -> f64 {
        let (overlap, tip) = self.corner(corner_m);
        let leave = corner_m + onward * (overlap + 1e-7);
        self.step(Where::Straight(tip, self.beside(leave)), lap);
        leave
    }
}

/// Walks round the outline, and gives the antenna's true positions at the moments at which the receiver gives one: `rate_hz` in each
/// second.
pub fn walk(outline: &Outline, habits: &Habits, rate_hz: f64, chance: &mut Chance) -> Vec<Moment> {
    let mut way = chance.clone();
    let mut plan = Plan {
        outline,
        habits,
        legs: Vec::new(),
        chance: &mut way,
        pace: 0.0,
    };
    let round = outline.perimeter_m;
    let gate = |plan: &mut Plan, along_m: f64| {
        let (_, ahead) = outline.at(along_m);
        let sign = if habits.lead_inside { -1.0 } else { 1.0 };
        let aside = plan.chance.between(-0.5, 0.5);
        plan.waymark(along_m)
            + (outline.outward(along_m) * sign + ahead * aside) * (habits.lead_m / aside.hypot(1.0))
    };
    let mut at_m = habits.start_m;
    if habits.lead_m > 0.0 {
        let from = gate(&mut plan, at_m);
        let waits_s = plan.chance.between(0.0, 15.0);
        plan.stand(Where::Straight(from, from), waits_s, None);
        let to = plan.waymark(at_m);
        plan.step(Where::Straight(from, to), None);
    }
    if let Some((short, long)) = habits.pause_s {
        let seconds = plan.chance.between(short, long);
        let here = plan.waymark(at_m);
        plan.stand(Where::Straight(here, here), seconds, Some(0));
    }
    let sign = |turn: &Turn| match turn {
        Turn::Anticlockwise => 1.0,
        Turn::Clockwise => -1.0,
    };
    for (lap, turn) in habits.laps.iter().enumerate() {
        plan.follow(at_m, at_m + sign(turn) * round, Some(lap));
        at_m += sign(turn) * round;
    }
    let last = habits.laps.last().map_or(1.0, sign);
    let more_m = habits.overrun_m + habits.part_lap * round;
    if more_m > 0.0 {
        plan.follow(at_m, at_m + last * more_m, None);
        at_m += last * more_m;
    }
    let mut here = plan.waymark(at_m);
    for (to, seconds) in &habits.visits {
        plan.step(Where::Straight(here, *to), None);
        plan.stand(Where::Straight(*to, *to), *seconds, None);
        here = *to;
    }
    if habits.lead_m > 0.0 {
        let to = gate(&mut plan, at_m);
        plan.step(Where::Straight(here, to), None);
    }
    let legs = plan.legs;
    sample(outline, habits, &legs, rate_hz, chance)
}

/// Reads off from the planned legs where the antenna was at each of the receiver's moments, and adds the sway of the pole and the
/// hand's change along the edge.
fn sample(
    outline: &Outline,
    habits: &Habits,
    legs: &[Leg],
    rate_hz: f64,
    chance: &mut Chance,
) -> Vec<Moment> {
    let d = habits.carry_m + habits.hand_m;
    let phases: Vec<(f64, f64)> = (1..=3)
        .map(|k| (f64::from(k), chance.between(0.0, TAU)))
        .collect();
    let (mut sway_x, mut sway_y) = (
        GaussMarkov::new(habits.wobble_tau_s),
        GaussMarkov::new(habits.wobble_tau_s),
    );
    let mut moments = Vec::new();
    let mut legs = legs.iter();
    let mut begun_s = 0.0;
    let mut leg = legs.next();
    let mut epoch = 0_u64;
    while let Some(here) = leg {
        let time_s = epoch as f64 / rate_hz;
        if time_s > begun_s + here.seconds {
            begun_s += here.seconds;
            leg = legs.next();
            continue;
        }
        let part = if here.seconds > 0.0 {
            (time_s - begun_s) / here.seconds
        } else {
            0.0
        };
        let (mut at, along_m) = match here.path {
            Where::Straight(a, b) => (a + (b - a) * part, None),
            Where::Edge(from, to) => {
                let along_m = from + (to - from) * part;
                let varying: f64 = phases
                    .iter()
                    .map(|(k, phase)| (TAU * k * along_m / outline.perimeter_m + phase).sin())
                    .sum();
                // Three sines of amplitude 1 have together the variance 3/2, which is divided out.
                let hand_m = d + habits.hand_varying_m * varying / 1.5_f64.sqrt();
                let out = outline.outward(along_m);
                (outline.point(along_m) + out * hand_m, Some(along_m))
            }
        };
        at.x += habits.wobble_m * sway_x.at(time_s, chance);
        at.y += habits.wobble_m * sway_y.at(time_s, chance);
        moments.push(Moment {
            time_s,
            at,
            lap: here.lap,
            standing: here.standing,
            along_m,
        });
        epoch += 1;
    }
    moments
}

#[cfg(test)]
mod tests {
    use super::super::shape::Shape;
    use super::*;
    use approx::assert_abs_diff_eq;

    /// A surveyor without any error of hand or pole, who starts at the first corner.
    fn steady(laps: Vec<Turn>) -> Habits {
        Habits {
            speed_mps: 1.0,
            pause_s: Some((4.0, 4.0)),
            start_m: 0.0,
            lead_m: 0.0,
            lead_inside: false,
            overrun_m: 0.0,
            laps,
            part_lap: 0.0,
            visits: Vec::new(),
            wobble_m: 0.0,
            wobble_tau_s: 1.0,
            carry_m: 0.0,
            hand_m: 0.0,
            hand_varying_m: 0.0,
        }
    }

    fn shoelace(moments: &[Moment]) -> f64 {
        let n = moments.len();
        (0..n)
            .map(|i| {
                let (a, b) = (moments[i].at, moments[(i + 1) % n].at);
                0.5 * (a.x * b.y - a.y * b.x)
            })
            .sum()
    }

    fn rectangle() -> Outline {
        let corners = [(0.0, 0.0), (20.0, 0.0), (20.0, 15.0), (0.0, 15.0)];
        Outline::drawn(Shape::Rectangle, &corners, &[])
    }

    #[test]
    fn a_steady_walk_with_pauses_encloses_the_lawn() {
        let outline = rectangle();
        for (laps, factor) in [
            (vec![Turn::Anticlockwise], 1.0),
            (vec![Turn::Clockwise], -1.0),
            (vec![Turn::Anticlockwise; 3], 3.0),
            (vec![Turn::Anticlockwise, Turn::Clockwise], 0.0),
        ] {
            let moments = walk(&outline, &steady(laps), 5.0, &mut Chance::new(1));
            assert_abs_diff_eq!(shoelace(&moments), factor * 300.0, epsilon = 1e-5);
        }
    }

    #[test]
    fn a_carried_antenna_walks_the_parallel_line() {
        // A parallel line at the distance d encloses P d more, P being the perimeter, and d² times the tangent of half the turn at
        // each corner: d² for a square corner, -d² for one that points inward.
        let outline = rectangle();
        let l = Outline::drawn(
            Shape::L,
            &[
                (0.0, 0.0),
                (18.0, 0.0),
                (18.0, 8.0),
                (10.0, 8.0),
                (10.0, 14.0),
                (0.0, 14.0),
            ],
            &[],
        );
        for (outline, corners) in [(&outline, 4.0), (&l, 4.0)] {
            for d in [0.5, -0.5] {
                let habits = Habits {
                    carry_m: d,
                    ..steady(vec![Turn::Clockwise])
                };
                let moments = walk(outline, &habits, 10.0, &mut Chance::new(1));
                let expected = outline.area_m2 + outline.perimeter_m * d + corners * d * d;
                assert_abs_diff_eq!(-shoelace(&moments), expected, epsilon = 0.03);
            }
        }
    }

    #[test]
    fn ways_in_and_out_are_no_part_of_a_lap() {
        let outline = rectangle();
        let habits = Habits {
            lead_m: 8.0,
            overrun_m: 4.0,
            start_m: 7.0,
            ..steady(vec![Turn::Anticlockwise])
        };
        let moments = walk(&outline, &habits, 10.0, &mut Chance::new(2));
        let first = moments.first().unwrap();
        assert_abs_diff_eq!(first.at.y, -8.0, epsilon = 1.0);
        assert!(first.lap.is_none() && first.along_m.is_none());
        let lap: Vec<Moment> = moments
            .iter()
            .filter(|m| m.lap == Some(0))
            .copied()
            .collect();
        assert_abs_diff_eq!(shoelace(&lap), 300.0, epsilon = 0.5);
        assert!(moments.last().unwrap().lap.is_none());
    }
}
