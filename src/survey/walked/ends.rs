//! The start and the end of a single lap: where the surveyor came on to the edge and where he left it, by where he stood and turned, whatever place the
//! path is closed at.

use super::passes::Pass;
use crate::ring::{cross, distance_m, dot, size_m};
use crate::walk::{Spot, pauses};
use geo::Coord;

/// How far from the closing place, along the way, a start or an end is looked for, metres: the furthest drift that is looked for, and a bit.
pub const REACH_M: f64 = 12.0;

/// A turn that is a corner's, or that of stepping on to an edge or off it; two ways that are one; two that are not, radians.
const SHARP_RAD: f64 = 0.87;
const SAME_RAD: f64 = 0.61;
const OTHER_RAD: f64 = 0.70;

/// A walk by its length.
struct Way {
    at: Vec<Coord<f64>>,
    /// Metres from its start.
    gone_m: Vec<f64>,
    spot: Vec<usize>,
}

impl Way {
    /// At places a hand's breadth or more apart; a walk stays on its way while it stands.
    fn new(spots: &[Spot], calm_s: f64) -> Way {
        const APART_M: f64 = 0.2;
        let mut way = Way {
            at: Vec::new(),
            gone_m: Vec::new(),
            spot: Vec::new(),
        };
        let calmed = crate::walk::turning::averaged(spots, |i| spots[i].at, |_| calm_s);
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

    fn length_m(&self) -> f64 {
        self.gone_m.last().copied().unwrap_or(0.0)
    }

    fn gone_m(&self, spot: usize) -> f64 {
        let after = self.spot.partition_point(|&s| s <= spot);
        self.gone_m[after.saturating_sub(1)]
    }

    fn place(&self, gone_m: f64) -> Coord<f64> {
        let last = self.at.len() - 1;
        let to = self.gone_m.partition_point(|&m| m <= gone_m).clamp(1, last);
        let (a, b) = (self.gone_m[to - 1], self.gone_m[to]);
        let part = ((gone_m - a) / (b - a)).clamp(0.0, 1.0);
        self.at[to - 1] + (self.at[to] - self.at[to - 1]) * part
    }

    /// Which way it goes from one place to another; `None` past its ends, or where it wanders.
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

/// A place where the surveyor stood.
struct Stand {
    from_m: f64,
    to_m: f64,
    at: Coord<f64>,
}

impl Stand {
    /// How far along the way a place is from it, metres.
    fn off_m(&self, gone_m: f64) -> f64 {
        (self.from_m - gone_m).max(gone_m - self.to_m).max(0.0)
    }
}

/// Both ends of a lap, on the way that was walked.
pub struct Ends {
    way: Way,
    /// Where the lap is closed.
    start_m: f64,
    end_m: f64,
    /// +1 counter-clockwise, -1 clockwise.
    turn: f64,
    /// A heading is taken over so much of the way.
    heading_m: f64,
    reach_m: f64,
    /// What is no further than this is at a place.
    near_m: f64,
    stands: Vec<Stand>,
}

impl Ends {
    pub fn new(
        spots: &[Spot],
        pass: &Pass,
        sigma_m: f64,
        pace_m_s: f64,
        step_s: f64,
    ) -> Option<Ends> {
        // Over so long positions are averaged on either side, seconds.
        const CALM_S: (f64, f64) = (0.75, 2.0);
        // Places that a way has at the least.
        const LEAST: usize = 10;
        let way = Way::new(spots, sigma_m.clamp(CALM_S.0, CALM_S.1));
        if way.at.len() < LEAST {
            return None;
        }
        let (start_m, end_m) = (way.gone_m(pass.first), way.gone_m(pass.last));
        let (lap_m, step_m) = (end_m - start_m, pace_m_s * step_s);
        let stands = pauses::find(spots, pace_m_s).into_iter();
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

    /// Whether the walk goes straight on there without a stop, rather than setting out on the lap or ending it.
    fn passes_through(&self, gone_m: f64) -> bool {
        // Shorter than this it is no way; who came in from some way off would have gone out again.
        const NO_WAY_M: f64 = 0.3;
        const CAME_IN_M: f64 = 2.0;
        let stood = self
            .stands
            .iter()
            .any(|s| s.off_m(gone_m) < self.near_m.max(1.0));
        let before_m = self.heading_m.min(gone_m);
        let after_m = self.heading_m.min(self.way.length_m() - gone_m);
        if stood || before_m <= NO_WAY_M {
            return false;
        }
        if after_m <= NO_WAY_M {
            return self.start_m > CAME_IN_M;
        }
        let headings = (
            self.way.heading(gone_m - before_m, gone_m),
            self.way.heading(gone_m, gone_m + after_m),
        );
        matches!(headings, (Some(before), Some(after)) if turn_rad(before, after).abs() < SAME_RAD)
    }

    /// Where the way first turns sharply against the lap's own turn, from a closing place on or (`ahead` -1) back: there somebody steps on to an edge
    /// from outside, or off it. `None` where it turns with the lap before, at a corner.
    fn steps_over(&self, gone_m: f64, ahead: f64) -> Option<f64> {
        const STRIDE_M: f64 = 0.2;
        const TURNED_RAD: f64 = 0.70;
        let mut sharpest: Option<(f64, f64)> = None;
        let mut off_m = 0.5 * self.heading_m;
        while off_m < self.reach_m + self.heading_m {
            let here_m = gone_m + ahead * off_m;
            off_m += STRIDE_M;
            let before = self.way.heading(here_m - self.heading_m, here_m);
            let after = self.way.heading(here_m, here_m + self.heading_m);
            let (Some(before), Some(after)) = (before, after) else {
                continue;
            };
            let against_rad = -self.turn * turn_rad(before, after);
            match sharpest {
                None if against_rad < -SHARP_RAD => return None,
                None if against_rad > SHARP_RAD => sharpest = Some((against_rad, here_m)),
                Some((most, _)) if against_rad > most => sharpest = Some((against_rad, here_m)),
                Some((_, at_m))
                    if against_rad < TURNED_RAD || (here_m - at_m).abs() > self.heading_m =>
                {
                    return Some(at_m);
                }
                _ => {}
            }
        }
        sharpest.map(|(_, at_m)| at_m)
    }

    /// From where the surveyor stepped on to the edge to where he was there again, for each way in which the closing place passes over that: it lies on the way
    /// in, on the way out, or further along the edge.
    pub fn turned_apart(&self) -> Vec<Coord<f64>> {
        if !self.closes_at_a_corner() {
            return Vec::new();
        }
        let (start_m, end_m) = (self.start_m, self.end_m);
        let through_start = self.passes_through(start_m);
        let through_end = self.passes_through(end_m);
        let on = |looked: bool, ahead: f64| {
            let at_m = looked.then(|| self.steps_over(start_m, ahead)).flatten()?;
            Some(self.way.place(end_m) - self.way.place(at_m))
        };
        let off = |looked: bool, ahead: f64| {
            let at_m = looked.then(|| self.steps_over(end_m, ahead)).flatten()?;
            Some(self.way.place(at_m) - self.way.place(start_m))
        };
        let both = through_start && through_end;
        [
            on(through_start, 1.0),
            off(through_end, -1.0),
            on(both, -1.0),
            off(both, 1.0),
        ]
        .into_iter()
        .flatten()
        .collect()
    }

    /// From where the surveyor stood at the start to where he stood at the end, if he did at both, and not at the corner where the path is
    /// closed.
    pub fn stood_apart(&self) -> Option<Coord<f64>> {
        // Where the log begins he waits for the receiver.
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
