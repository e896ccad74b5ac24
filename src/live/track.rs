//! The track to draw, and how far round the present lap has come. This is a quick guess, fix by fix, for the walker's eye; the survey finds
//! the laps it measures by itself. The track takes no more memory however long the walk.

use crate::ring::distance_m;
use geo::Coord;

/// The most points that are kept to draw. Where there are more, every other one is left out; a screen has fewer places anyway.
const MOST: usize = 2048;
/// How far apart the points kept are at first, metres. Less than this may be the receiver's noise and no way walked.
const FIRST_APART_M: f64 = 0.5;
/// A lap is done where the walk comes back to within this of a place where it was before, metres.
const NEAR_M: f64 = 1.5;
/// For a lap to be done, the walk must meanwhile have been so many times as far away from that place.
const AWAY: f64 = 3.0;
/// For a first lap to be done, so many metres must have been walked since that place; no lawn that is walked round has a shorter edge.
const SHORTEST_M: f64 = 12.0;

/// A walk on the plane, metres.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// Points in the order walked, at least `apart_m` from each other.
    pub points: Vec<Coord<f64>>,
    /// For each of them, how much had been walked by then, metres.
    along_m: Vec<f64>,
    /// How far apart points are kept at present, metres.
    apart_m: f64,
    /// The last place that counted for the way walked.
    last: Option<Coord<f64>>,
    /// How much was walked in all, metres.
    walked_m: f64,
    /// Where laps begin; known once the first lap is done, since the walk may begin away from the edge.
    start: Option<Coord<f64>>,
    /// How much had been walked when this lap began, metres.
    lap_from_m: f64,
    /// How many laps came back to where they began.
    pub laps: u32,
    /// Distance from here to where the lap began, metres; before the first lap is done, to the nearest place of the first half of the walk.
    pub gap_m: f64,
    /// Whether this lap has been far enough away from its beginning to come back to it.
    been_away: bool,
}

impl Default for Track {
    fn default() -> Track {
        Track {
            points: Vec::new(),
            along_m: Vec::new(),
            apart_m: FIRST_APART_M,
            last: None,
            walked_m: 0.0,
            start: None,
            lap_from_m: 0.0,
            laps: 0,
            gap_m: 0.0,
            been_away: false,
        }
    }
}

impl Track {
    /// Forgets everything: the edge begins at the next place.
    pub fn begin(&mut self) {
        *self = Track::default();
    }

    /// How far was walked in this lap, metres.
    #[must_use]
    pub(crate) fn lap_m(&self) -> f64 {
        self.walked_m - self.lap_from_m
    }

    /// Walks on to a place whose error is about so many metres (one sigma).
    pub(crate) fn walk(&mut self, at: Coord<f64>, sigma_m: f64) {
        let last = *self.last.get_or_insert(at);
        let step_m = distance_m(last, at);
        if step_m >= FIRST_APART_M + sigma_m {
            self.walked_m += step_m;
            self.last = Some(at);
        }
        let near_m = NEAR_M + 2.0 * sigma_m;
        match self.start {
            None => self.first_lap(at, near_m),
            Some(start) => self.next_lap(distance_m(start, at), near_m),
        }
        self.keep(at);
    }

    /// Looks whether the walk has come back to some place where it was before, which ends the first lap and shows where laps begin.
    fn first_lap(&mut self, at: Coord<f64>, near_m: f64) {
        let before_m = self.walked_m - SHORTEST_M;
        let long_ago = self.along_m.partition_point(|along_m| *along_m <= before_m);
        let away = |(nth, point): (usize, &Coord<f64>)| (nth, distance_m(*point, at));
        let nearest = |first: usize| {
            let places = self.points.iter().enumerate().map(away).take(first);
            places.min_by(|a, b| a.1.total_cmp(&b.1))
        };
        // The gap is not to what was walked a moment ago: the lap began somewhere in the first half.
        let half_m = self.walked_m / 2.0;
        let half = self.along_m.partition_point(|along_m| *along_m <= half_m);
        self.gap_m = nearest(half).map_or(0.0, |(_, gap_m)| gap_m);
        let Some((nth, gap_m)) = nearest(long_ago) else {
            return;
        };
        let mut since = self.points.iter().skip(nth);
        let been_away = since.any(|&p| distance_m(p, at) > AWAY * near_m);
        if gap_m < near_m && been_away {
            self.start = self.points.get(nth).copied();
            self.done();
        }
    }

    /// Looks whether a further lap is done, once it is known where laps begin.
    fn next_lap(&mut self, gap_m: f64, near_m: f64) {
        self.gap_m = gap_m;
        self.been_away |= gap_m > AWAY * near_m;
        if self.been_away && gap_m < near_m {
            self.done();
        }
    }

    /// Counts a lap and begins the next.
    fn done(&mut self) {
        self.laps += 1;
        self.lap_from_m = self.walked_m;
        self.been_away = false;
    }

    /// Keeps a point to draw, and thins the points out where there are too many.
    fn keep(&mut self, at: Coord<f64>) {
        let last = self.points.last();
        if last.is_none_or(|&last| distance_m(last, at) >= self.apart_m) {
            self.points.push(at);
            self.along_m.push(self.walked_m);
        }
        if self.points.len() > MOST {
            self.points = self.points.iter().step_by(2).copied().collect();
            self.along_m = self.along_m.iter().step_by(2).copied().collect();
            self.apart_m *= 2.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RADIUS_M: f64 = 10.0;
    const STEPS: u32 = 400;

    fn round(step: u32) -> Coord<f64> {
        let turn = f64::from(step) / f64::from(STEPS) * std::f64::consts::TAU;
        Coord {
            x: RADIUS_M * turn.cos(),
            y: RADIUS_M * turn.sin(),
        }
    }

    #[test]
    fn rounds_are_counted_and_memory_is_bounded() {
        let mut track = Track::default();
        let rounds = 1000;
        for step in 0..rounds * STEPS {
            track.walk(round(step), 0.02);
            assert!(track.points.len() <= MOST);
        }
        assert_eq!(track.laps, rounds);
    }

    /// Half round, the way back to the start is a diameter and the way walked half the circle.
    #[test]
    fn half_a_lap() {
        let mut track = Track::default();
        for step in 0..=STEPS + STEPS / 2 {
            track.walk(round(step), 0.02);
        }
        assert_eq!(track.laps, 1);
        assert!((track.gap_m - 2.0 * RADIUS_M).abs() < 2.0 * NEAR_M);
        let half_m = std::f64::consts::PI * RADIUS_M;
        let off_m = (track.lap_m() - half_m).abs();
        assert!(off_m < 2.0 * NEAR_M, "{off_m}");
    }

    /// The logger was switched on at the van, 30 m away.
    #[test]
    fn the_way_to_the_edge_is_no_part_of_a_lap() {
        let mut track = Track::default();
        for step in 0..60u32 {
            let x = RADIUS_M + 30.0 - 0.5 * f64::from(step);
            track.walk(Coord { x, y: 0.0 }, 0.02);
        }
        for step in 0..3 * STEPS {
            track.walk(round(step), 0.02);
        }
        assert_eq!(track.laps, 3);
    }
}
