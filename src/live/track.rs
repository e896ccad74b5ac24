//! The track to draw, and how far round the lap has come: of bounded size however long the walk.

use crate::ring::distance_m;
use geo::Coord;

/// Points kept to draw; where there are more, every other one goes. A screen has fewer places.
const MOST: usize = 2048;
/// How far apart points are kept at first, metres: less than this is the receiver's noise, not a way walked.
const FIRST_APART_M: f64 = 0.5;
/// A lap is done where the walk comes as near as this to a place where it was before, metres ...
const NEAR_M: f64 = 1.5;
/// ... after it was so many times as far away ...
const AWAY: f64 = 3.0;
/// ... and so far to walk, metres: no lawn that is walked round is smaller.
const SHORTEST_M: f64 = 12.0;

/// A walk on the plane, metres.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// In the order walked, at least so far from each other.
    pub points: Vec<Coord<f64>>,
    /// How far it was to each of them.
    along_m: Vec<f64>,
    apart_m: f64,
    /// The last place that counted for the way walked.
    last: Option<Coord<f64>>,
    walked_m: f64,
    /// Where laps begin, once one has shown it: the way to the edge is left behind.
    start: Option<Coord<f64>>,
    /// How far it was to where this lap began.
    lap_from_m: f64,
    /// Laps that came back to where they began.
    pub laps: u32,
    /// From here to where the lap began; before the first is done, to the nearest place where the walk was before.
    pub gap_m: f64,
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
    /// The edge begins at the next place.
    pub fn begin(&mut self) {
        *self = Track::default();
    }

    /// How far was walked in this lap.
    #[must_use]
    pub(crate) fn lap_m(&self) -> f64 {
        self.walked_m - self.lap_from_m
    }

    /// Walks on to a place known to within so many metres.
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

    /// Whether the walk is back where it was before.
    fn first_lap(&mut self, at: Coord<f64>, near_m: f64) {
        let before_m = self.walked_m - SHORTEST_M;
        let long_ago = self.along_m.partition_point(|along_m| *along_m <= before_m);
        let away = |(nth, point): (usize, &Coord<f64>)| (nth, distance_m(*point, at));
        let nearest = |first: usize| {
            let places = self.points.iter().enumerate().map(away).take(first);
            places.min_by(|a, b| a.1.total_cmp(&b.1))
        };
        // Not to what was walked a moment ago: the lap began somewhere in the first half.
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

    fn next_lap(&mut self, gap_m: f64, near_m: f64) {
        self.gap_m = gap_m;
        self.been_away |= gap_m > AWAY * near_m;
        if self.been_away && gap_m < near_m {
            self.done();
        }
    }

    fn done(&mut self) {
        self.laps += 1;
        self.lap_from_m = self.walked_m;
        self.been_away = false;
    }

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
