//! What a tape, a builder's square or an offset says about named points, as functions of the points' plane coordinates.
//!
//! Least squares needs two things of each kind of reading: its value for given coordinates, and its gradient, which says how the value
//! changes if a coordinate does.

use crate::fault::Fault;
use crate::ring::{cross, dot};
use geo::Coord;

/// A relation between points (by index) that was measured. Lengths in metres, angles in radians.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Line {
    Length {
        from: usize,
        to: usize,
    },
    /// The angle between the rays from `at` to `from` and to `to`, 0 to pi, whichever way round.
    Angle {
        at: usize,
        from: usize,
        to: usize,
    },
    /// The distance of a point from the line `from`-`to`, positive on its left.
    Offset {
        point: usize,
        from: usize,
        to: usize,
    },
    /// How far along the line `from`-`to` the point's foot lies.
    Chainage {
        point: usize,
        from: usize,
        to: usize,
    },
}

/// One measured relation.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    pub line: Line,
    /// Metres, or radians for an angle.
    pub value: f64,
    /// One sigma in the same unit, above 0.
    pub sigma: f64,
    /// What sheets call it: `A-B`, `square at C`.
    pub label: String,
}

impl Reading {
    /// Refuses a reading between `n` points that says nothing an adjustment could use.
    pub(super) fn refuse_impossible(&self, n: usize) -> Result<(), Fault> {
        let positive = match self.line {
            Line::Length { .. } | Line::Angle { .. } => self.value > 0.0,
            Line::Offset { .. } | Line::Chainage { .. } => true,
        };
        let certain = self.sigma > 0.0 && self.sigma.is_finite();
        if !(self.line.is_among(n) && self.value.is_finite() && positive && certain) {
            return Err(Fault::usage(
                "tape-reading",
                format!(
                    "The reading {} isn't possible: its points must be different, its value and sigma above zero.",
                    self.label
                ),
                "Correct it in the job sheet.",
            ));
        }
        Ok(())
    }
}

impl Line {
    fn points(self) -> Vec<usize> {
        match self {
            Line::Length { from, to } => vec![from, to],
            Line::Angle { at, from, to } => vec![at, from, to],
            Line::Offset { point, from, to } | Line::Chainage { point, from, to } => {
                vec![point, from, to]
            }
        }
    }

    /// Whether every index is one of `n` points and no two are the same.
    pub(crate) fn is_among(self, n: usize) -> bool {
        let points = self.points();
        points.iter().all(|p| *p < n)
            && points
                .iter()
                .enumerate()
                .all(|(k, p)| !points.iter().skip(k + 1).any(|q| q == p))
    }

    /// True for what is read off the tape, which a wrong scale would lengthen.
    pub(crate) fn is_taped(self) -> bool {
        !matches!(self, Line::Angle { .. })
    }

    /// What the coordinates say the reading should be.
    pub(crate) fn value(self, points: &[Coord<f64>]) -> f64 {
        match self {
            Line::Length { from, to } => length(points[to] - points[from]),
            Line::Angle {
                at: corner,
                from,
                to,
            } => {
                let p = points[from] - points[corner];
                let q = points[to] - points[corner];
                cross(p, q).abs().atan2(dot(p, q))
            }
            Line::Offset { point, from, to } => {
                let w = points[to] - points[from];
                cross(w, points[point] - points[from]) / length(w)
            }
            Line::Chainage { point, from, to } => {
                let w = points[to] - points[from];
                dot(w, points[point] - points[from]) / length(w)
            }
        }
    }

    /// The derivative of that value by every coordinate, in the order x0, y0, x1, y1, …
    pub(crate) fn gradient(self, points: &[Coord<f64>]) -> Vec<f64> {
        let mut row = vec![0.0; 2 * points.len()];
        let mut add = |i: usize, by: Coord<f64>| {
            row[2 * i] += by.x;
            row[2 * i + 1] += by.y;
        };
        match self {
            Line::Length { from, to } => {
                let u = unit(points[to] - points[from]);
                add(to, u);
                add(from, -u);
            }
            Line::Angle {
                at: corner,
                from,
                to,
            } => {
                let p = points[from] - points[corner];
                let q = points[to] - points[corner];
                let sign = if cross(p, q) < 0.0 { -1.0 } else { 1.0 };
                let by_p = turned(p) * (-sign / dot(p, p));
                let by_q = turned(q) * (sign / dot(q, q));
                add(from, by_p);
                add(to, by_q);
                add(corner, -by_p);
                add(corner, -by_q);
            }
            Line::Offset { point, from, to } => {
                let w = points[to] - points[from];
                let n = turned(unit(w));
                let share = Line::Chainage { point, from, to }.value(points) / length(w);
                add(point, n);
                add(to, n * -share);
                add(from, n * (share - 1.0));
            }
            Line::Chainage { point, from, to } => {
                let w = points[to] - points[from];
                let u = unit(w);
                let n = turned(u);
                let share = Line::Offset { point, from, to }.value(points) / length(w);
                add(point, u);
                add(to, n * share);
                add(from, -u);
                add(from, n * -share);
            }
        }
        row
    }
}

/// Length of a vector, metres.
pub(super) fn length(a: Coord<f64>) -> f64 {
    a.x.hypot(a.y)
}

/// The vector of length 1 in the same direction; not a number for one without length.
fn unit(a: Coord<f64>) -> Coord<f64> {
    a * (1.0 / length(a))
}

/// The vector turned to the left by a right angle.
fn turned(a: Coord<f64>) -> Coord<f64> {
    Coord { x: -a.y, y: a.x }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const POINTS: [Coord<f64>; 3] = [
        Coord { x: 1.0, y: 2.0 },
        Coord { x: 9.0, y: 3.5 },
        Coord { x: 4.0, y: 7.0 },
    ];

    #[test]
    fn gradients_are_the_slopes_of_their_values() {
        // Central differences share nothing with the formulas but the value itself.
        let lines = [
            Line::Length { from: 0, to: 2 },
            Line::Angle {
                at: 0,
                from: 1,
                to: 2,
            },
            Line::Angle {
                at: 0,
                from: 2,
                to: 1,
            },
            Line::Offset {
                point: 2,
                from: 0,
                to: 1,
            },
            Line::Chainage {
                point: 2,
                from: 1,
                to: 0,
            },
        ];
        for line in lines {
            let row = line.gradient(&POINTS);
            for (k, slope) in row.iter().enumerate() {
                let step = 1e-5;
                let shifted = |by: f64| {
                    let mut moved = POINTS;
                    match k % 2 {
                        0 => moved[k / 2].x += by,
                        _ => moved[k / 2].y += by,
                    }
                    line.value(&moved)
                };
                let seen = (shifted(step) - shifted(-step)) / (2.0 * step);
                assert_relative_eq!(*slope, seen, epsilon = 1e-8);
            }
        }
    }

    #[test]
    fn a_point_on_the_left_has_a_positive_offset() {
        let points = [
            Coord { x: 0.0, y: 0.0 },
            Coord { x: 10.0, y: 0.0 },
            Coord { x: 3.0, y: 4.0 },
        ];
        let offset = Line::Offset {
            point: 2,
            from: 0,
            to: 1,
        };
        let chainage = Line::Chainage {
            point: 2,
            from: 0,
            to: 1,
        };
        assert_relative_eq!(offset.value(&points), 4.0);
        assert_relative_eq!(chainage.value(&points), 3.0);
    }

    #[test]
    fn a_reading_must_name_points_that_exist_and_differ() {
        assert!(Line::Length { from: 0, to: 2 }.is_among(3));
        assert!(!Line::Length { from: 0, to: 3 }.is_among(3));
        assert!(
            !Line::Angle {
                at: 1,
                from: 0,
                to: 1
            }
            .is_among(3)
        );
    }
}
