//! The start and the end of a single lap: where the surveyor came on to the edge and where he left it, by where he stood and turned,
//! whatever place the path is closed at.
//!
//! Coming on to an edge from a gate, one turns sharply, and turns again to leave it. Those two places are one place on the ground. If
//! they lie apart in the log by more than noise, the position drifted in between.

use super::Track;
use super::passes::Pass;
use crate::ring::{cross, distance_m, dot, foot, size_m};
use crate::walk::{Spot, pauses};
use geo::Coord;

/// How far from the closing place, along the way, a start or an end is looked for, metres: somewhat more than the furthest drift that is
/// looked for.
pub(crate) const REACH_M: f64 = 12.0;

/// From this angle on a turn is sharp, as at a corner or in stepping on to an edge or off it; and from the other on two ways are not one,
/// radians (45 and 40 degrees).
const SHARP_RAD: f64 = 0.78;
const OTHER_RAD: f64 = 0.70;

/// Someone who waits within this distance of the log's beginning or end, along the way, waits there for the receiver, metres.
const AT_ONCE_M: f64 = 1.0;
/// A way shorter than this has no direction, metres.
const NO_WAY_M: f64 = 0.5;

/// A walk by its length: places, how far along the way each is, metres, and the index of its spot.
struct Way {
    at: Vec<Coord<f64>>,
    /// Metres from its start.
    gone_m: Vec<f64>,
    spot: Vec<usize>,
}

impl Way {
    /// Thins a walk to places 20 cm or more apart, after averaging over `calm_s` seconds to either side. While the walker stands the way
    /// does not grow.
    fn new(spots: &[Spot], calm_s: f64) -> Way {
        const APART_M: f64 = 0.2;
        let mut way = Way {
            at: Vec::new(),
            gone_m: Vec::new(),
            spot: Vec::new(),
        };
        let (Some(begins), Some(ends)) = (spots.first(), spots.last()) else {
            return way;
        };
        // Near its ends the window is shortened on both sides alike, so that the ends of the log stay where they are.
        let (begins_s, ends_s) = (begins.t_s, ends.t_s);
        let half_s = |t_s: f64| calm_s.min(t_s - begins_s).min(ends_s - t_s);
        let calmed = crate::walk::turning::averaged(spots, |i| spots[i].at, half_s);
        for (i, &at) in calmed.iter().enumerate() {
            let step_m = way.at.last().map(|&last| distance_m(last, at));
            if step_m.is_some_and(|m| m < APART_M) {
                continue;
            }
            let before_m = way.gone_m.last().copied().unwrap_or(0.0);
            way.gone_m.push(before_m + step_m.unwrap_or(0.0));
            way.at.push(at);
            way.spot.push(i);
        }
        way
    }

    /// Its length, metres.
    fn length_m(&self) -> f64 {
        self.gone_m.last().copied().unwrap_or(0.0)
    }

    /// How far along the way a spot is, metres.
    fn gone_m(&self, spot: usize) -> f64 {
        let after = self.spot.partition_point(|&s| s <= spot);
        self.gone_m[after.saturating_sub(1)]
    }

    /// The place so far along the way; its first or last place beyond its ends.
    fn place(&self, gone_m: f64) -> Coord<f64> {
        let last = self.at.len() - 1;
        let to = self.gone_m.partition_point(|&m| m <= gone_m).clamp(1, last);
        let (a, b) = (self.gone_m[to - 1], self.gone_m[to]);
        let part = ((gone_m - a) / (b - a)).clamp(0.0, 1.0);
        self.at[to - 1] + (self.at[to] - self.at[to - 1]) * part
    }

    /// The vector from one place along the way to another; `None` past its ends, or where the way wanders instead of getting on.
    fn heading(&self, from_m: f64, to_m: f64) -> Option<Coord<f64>> {
        const WANDERS: f64 = 0.5;
        const ROUNDING_M: f64 = 1e-9;
        if from_m < -ROUNDING_M || to_m > self.length_m() + ROUNDING_M {
            return None;
        }
        let span = self.place(to_m) - self.place(from_m);
        (size_m(span) > WANDERS * (to_m - from_m)).then_some(span)
    }
}

/// The turn from one way to another, radians, to the left positive.
fn turn_rad(from: Coord<f64>, to: Coord<f64>) -> f64 {
    cross(from, to).atan2(dot(from, to))
}

/// A sharp turn of the way: how far along it, and by how much, radians, to the left positive.
struct Turn {
    at_m: f64,
    by_rad: f64,
}

/// A place where the surveyor stood.
struct Stand {
    from_m: f64,
    to_m: f64,
    at: Coord<f64>,
}

impl Stand {
    /// How far a place is from it along the way, metres; 0 for a place within it.
    fn off_m(&self, gone_m: f64) -> f64 {
        (self.from_m - gone_m).max(gone_m - self.to_m).max(0.0)
    }
}

/// Both ends of a lap, on the way that was walked.
pub struct Ends {
    way: Way,
    /// Where along the way the lap is closed, metres.
    start_m: f64,
    end_m: f64,
    /// +1 counter-clockwise, -1 clockwise.
    turn: f64,
    /// Over how many metres of the way a heading is taken.
    heading_m: f64,
    /// How far from the closing place, along the way, is looked, metres.
    reach_m: f64,
    /// What is no further from a place than this is at it, metres.
    near_m: f64,
    stands: Vec<Stand>,
}

impl Ends {
    /// Both ends of one lap; `None` where the walk has too few places.
    pub(crate) fn new(spots: &[Spot], pass: &Pass, track: &Track) -> Option<Ends> {
        let (sigma_m, step_m) = (track.sigma_m, track.step_m());
        // Over so long positions are averaged on either side, seconds.
        const CALM_S: (f64, f64) = (0.75, 2.0);
        // Places that a way has at the least.
        const LEAST: usize = 10;
        let way = Way::new(spots, sigma_m.clamp(CALM_S.0, CALM_S.1));
        if way.at.len() < LEAST {
            return None;
        }
        let (start_m, end_m) = (way.gone_m(pass.first), way.gone_m(pass.last));
        let lap_m = end_m - start_m;
        let stands = pauses::find(spots, track.pace_m_s).into_iter();
        let stands = stands.map(|pause| Stand {
            from_m: way.gone_m(pause.first),
            to_m: way.gone_m(pause.last),
            at: pause.at,
        });
        Some(Ends {
            stands: stands.collect(),
            start_m,
            end_m,
            turn: pass.turn,
            heading_m: (1.2 + 1.5 * sigma_m + 0.5 * step_m).min(lap_m / 8.0),
            reach_m: REACH_M.min(lap_m / 4.0),
            near_m: 0.5 + 2.0 * sigma_m + 0.5 * step_m,
            way,
        })
    }

    /// Whether the lap is closed at a corner, or where its path crosses itself.
    fn closes_at_a_corner(&self) -> bool {
        let home = self.way.heading(self.end_m - self.heading_m, self.end_m);
        let out = self
            .way
            .heading(self.start_m, self.start_m + self.heading_m);
        matches!((home, out), (Some(home), Some(out)) if turn_rad(home, out).abs() > OTHER_RAD)
    }

    /// Where along the way the surveyor sets out, if he waited where the log begins, before the lap; and where he stops, if he waited
    /// where it ends. While he waits, the receiver's error turns his way in every direction, which is no turn of his.
    fn sets_out_m(&self) -> f64 {
        let waits = self.stands.first().filter(|s| s.from_m < AT_ONCE_M);
        waits.map_or(0.0, |s| s.to_m).min(self.start_m)
    }

    fn stops_m(&self) -> f64 {
        let length_m = self.way.length_m();
        let waits = self.stands.last().filter(|s| s.to_m > length_m - AT_ONCE_M);
        waits.map_or(length_m, |s| s.from_m).max(self.end_m)
    }

    /// The sharp turns of the way between two places of it, each at its sharpest point.
    fn sharp_turns(&self, from_m: f64, to_m: f64) -> Vec<Turn> {
        const STRIDE_M: f64 = 0.2;
        let mut turns: Vec<Turn> = Vec::new();
        let strides = ((to_m - from_m) / STRIDE_M).max(0.0) as usize;
        for at_m in (0..=strides).map(|k| from_m + k as f64 * STRIDE_M) {
            // Near an end of the way the heading is taken over less.
            let before_m = self.heading_m.min(at_m - self.sets_out_m());
            let after_m = self.heading_m.min(self.stops_m() - at_m);
            if before_m.min(after_m) < NO_WAY_M {
                continue;
            }
            let before = self.way.heading(at_m - before_m, at_m);
            let after = self.way.heading(at_m, at_m + after_m);
            // Where the way wanders he turned about.
            let by_rad = match (before, after) {
                (Some(before), Some(after)) => turn_rad(before, after),
                _ => -self.turn * std::f64::consts::PI,
            };
            if by_rad.abs() < SHARP_RAD {
                continue;
            }
            match turns.last_mut() {
                Some(last) if at_m - last.at_m < self.heading_m => {
                    if by_rad.abs() > last.by_rad.abs() {
                        *last = Turn { at_m, by_rad };
                    }
                }
                _ => turns.push(Turn { at_m, by_rad }),
            }
        }
        turns
    }

    /// Where the surveyor may have come on to the edge, and where he may have left it: at sharp turns no later than where the path
    /// closes, and no earlier than where it closes again. If the way goes straight on where the path closes, the path closes on the way
    /// in or on the way out; then that place may lie further on, where the way first turns sharply against the lap's own turn, as at
    /// corners the edge turns with it.
    fn turns(&self) -> (Vec<Turn>, Vec<Turn>) {
        let (so_far_m, from_m) = (self.start_m + self.near_m, self.end_m - self.near_m);
        let mut on = self.sharp_turns(0.0, so_far_m);
        let mut off = self.sharp_turns(from_m, self.way.length_m());
        let crosses = self.closes_at_a_corner();
        if on.is_empty() && crosses && self.goes_straight_on(self.start_m) {
            let ahead = self.sharp_turns(so_far_m, self.start_m + self.reach_m);
            on.extend(ahead.into_iter().next().filter(|t| self.against(t)));
        }
        if off.is_empty() && crosses && self.goes_straight_on(self.end_m) {
            let behind = self.sharp_turns(self.end_m - self.reach_m, from_m);
            off.extend(behind.into_iter().last().filter(|t| self.against(t)));
        }
        (on, off)
    }

    /// Whether the way goes straight on at a place; also where too little of the way is left to say.
    fn goes_straight_on(&self, gone_m: f64) -> bool {
        const STRAIGHT_RAD: f64 = 0.3;
        let before = self.way.heading((gone_m - self.heading_m).max(0.0), gone_m);
        let after_m = (gone_m + self.heading_m).min(self.way.length_m());
        match (before, self.way.heading(gone_m, after_m)) {
            (Some(before), Some(after)) => turn_rad(before, after).abs() < STRAIGHT_RAD,
            _ => true,
        }
    }

    /// Whether a part of the way keeps near to the straight line between its ends.
    fn is_straight(&self, from_m: f64, to_m: f64) -> bool {
        let (from, to) = (self.way.place(from_m), self.way.place(to_m));
        let within = self.way.gone_m.partition_point(|&m| m < from_m)
            ..self.way.gone_m.partition_point(|&m| m <= to_m);
        self.way.at[within]
            .iter()
            .all(|&at| distance_m(at, foot(at, from, to)) <= self.near_m)
    }

    /// Whether a turn goes against the lap's own.
    fn against(&self, turn: &Turn) -> bool {
        turn.by_rad * self.turn < 0.0
    }

    /// The vector from a place to the nearest one on a part of the way.
    fn to_way(&self, place: Coord<f64>, (from_m, to_m): (f64, f64)) -> Coord<f64> {
        let inner = self.way.gone_m.partition_point(|&m| m <= from_m)
            ..self.way.gone_m.partition_point(|&m| m < to_m);
        let mut part = vec![self.way.place(from_m)];
        part.extend_from_slice(&self.way.at[inner]);
        part.push(self.way.place(to_m));
        let nearest = part
            .windows(2)
            .map(|side| foot(place, side[0], side[1]) - place);
        nearest
            .min_by(|a, b| size_m(*a).total_cmp(&size_m(*b)))
            .unwrap_or(Coord { x: 0.0, y: 0.0 })
    }

    /// How far the ends lie apart, as vectors: from where the surveyor came on to the edge to the nearest place of the walk's end, and
    /// from the nearest place of its beginning to where he left it. If he turned neither on to it nor off it, but the path crosses
    /// itself, the log's ends are taken instead.
    pub(crate) fn turned_apart(&self) -> Vec<Coord<f64>> {
        let length_m = self.way.length_m();
        let (on, off) = self.turns();
        let mut on: Vec<f64> = on.iter().map(|t| t.at_m).collect();
        let mut off: Vec<f64> = off.iter().map(|t| t.at_m).collect();
        let crosses = self.closes_at_a_corner();
        // Two straight ways that cross may simply be the way in and the way out at a corner.
        let straight =
            self.is_straight(0.0, self.start_m) && self.is_straight(self.end_m, length_m);
        // If he turned only on to the edge (and left it straight on), it is enough that he came back to where he came on; and the other
        // way about.
        let nowhere = on.is_empty() && off.is_empty() && crosses && !straight;
        let (look_on, look_off) = (nowhere || !on.is_empty(), nowhere || !off.is_empty());
        // What was walked before he came on to the edge cannot be where he left it.
        let first_m = on.first().copied().unwrap_or(0.0) - self.near_m;
        let last_m = off.last().copied().unwrap_or(length_m) + self.near_m;
        on.push(0.0);
        off.push(length_m);
        let beginning = (
            first_m.max(0.0),
            (self.start_m + self.reach_m).min(self.end_m),
        );
        let ending = (
            (self.end_m - self.reach_m).max(self.start_m),
            last_m.min(length_m),
        );
        let apart = |places: &[f64], part: (f64, f64)| {
            let each = places
                .iter()
                .map(|&at_m| self.to_way(self.way.place(at_m), part));
            each.min_by(|a, b| size_m(*a).total_cmp(&size_m(*b)))
        };
        let on_by = apart(&on, ending).filter(|_| look_on);
        let off_by = apart(&off, beginning).filter(|_| look_off);
        on_by
            .into_iter()
            .chain(off_by.map(|by| by * -1.0))
            .collect()
    }

    /// The vector from where the surveyor stood at the start to where he stood at the end; `None` if he did not stand at both, or stood
    /// at the corner where the path is closed, or at the gate.
    pub(crate) fn stood_apart(&self) -> Option<Coord<f64>> {
        // Within this distance of the log's beginning he only waits for the receiver, metres.
        const GATE_M: f64 = 1.5;
        if !self.closes_at_a_corner() {
            return None;
        }
        let nearest = |gone_m: f64| {
            let off_m = |stand: &&Stand| stand.off_m(gone_m);
            let near = self.stands.iter().filter(|s| off_m(s) <= self.reach_m);
            near.min_by(|a, b| off_m(a).total_cmp(&off_m(b)))
        };
        let (out, home) = (nearest(self.start_m)?, nearest(self.end_m)?);
        let elsewhere = out.off_m(self.start_m) > self.near_m;
        let at_the_gate = distance_m(out.at, self.way.at[0]) <= GATE_M;
        (elsewhere && !at_the_gate).then(|| home.at - out.at)
    }
}
