//! What an outline is made of: straight lines, arcs of circles, and curves given by a formula. For each, this tells its length and
//! the point at any length along it.

use geo::Coord;
use std::f64::consts::{PI, TAU};

/// One stretch of an outline without a corner inside it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Piece {
    Line {
        from: Coord<f64>,
        to: Coord<f64>,
    },
    Arc {
        centre: Coord<f64>,
        radius_m: f64,
        start_rad: f64,
        /// The angle that the arc goes through; below zero it goes clockwise.
        sweep_rad: f64,
    },
    Curve(Curve),
}

/// A curve whose length no formula gives: the formula of its points, and the lengths along it, measured once. A formula's parameter
/// runs from 0 at the curve's start to 1 at its end.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Curve {
    formula: Formula,
    /// The length from the start to each of [`NODES`] points; point `i` has the parameter `i / (NODES - 1)`.
    lengths_m: Vec<f64>,
}

/// The formula of a curve's points.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Formula {
    /// Waves on a straight line from (`length_m`, `height_m`) back to (0, `height_m`): a sine of `half_waves` half waves that swings
    /// by `swing_m`.
    Wave {
        length_m: f64,
        height_m: f64,
        swing_m: f64,
        half_waves: f64,
    },
    /// A closed line round the origin, whose distance from it is r = radius (1 + sum of a cos(k t) + b sin(k t)) at the angle t. The
    /// harmonics are the (k, a, b) of that sum.
    Polar {
        radius_m: f64,
        harmonics: Vec<(f64, f64, f64)>,
    },
}

/// How many points a curve's length is measured over. Straight lines from point to point are shorter than the curve, by about 1e-7
/// of the whole.
const NODES: usize = 4001;

impl Formula {
    /// The point of this parameter, from 0 to 1.
    fn point(&self, u: f64) -> Coord<f64> {
        match self {
            Formula::Wave {
                length_m,
                height_m,
                swing_m,
                half_waves,
            } => Coord {
                x: length_m * (1.0 - u),
                y: height_m + swing_m * (PI * half_waves * (1.0 - u)).sin(),
            },
            Formula::Polar {
                radius_m,
                harmonics,
            } => {
                let t = TAU * u;
                let wave: f64 = harmonics
                    .iter()
                    .map(|(k, a, b)| a * (k * t).cos() + b * (k * t).sin())
                    .sum();
                let r = radius_m * (1.0 + wave);
                Coord {
                    x: r * t.cos(),
                    y: r * t.sin(),
                }
            }
        }
    }
}

impl Curve {
    /// The curve of a formula, with its lengths measured.
    pub(super) fn new(formula: Formula) -> Curve {
        let mut lengths_m = Vec::with_capacity(NODES);
        let mut total_m = 0.0;
        let mut before = formula.point(0.0);
        for i in 0..NODES {
            let here = formula.point(i as f64 / (NODES - 1) as f64);
            total_m += (here.x - before.x).hypot(here.y - before.y);
            lengths_m.push(total_m);
            before = here;
        }
        Curve { formula, lengths_m }
    }

    fn length_m(&self) -> f64 {
        self.lengths_m.last().copied().unwrap_or(0.0)
    }

    /// The parameter at a length along the curve. Its point lies on the curve exactly, and is at most some 20 micrometres too far or
    /// not far enough along it.
    fn parameter(&self, along_m: f64) -> f64 {
        let after = self
            .lengths_m
            .partition_point(|l| *l < along_m)
            .clamp(1, NODES - 1);
        let (l0, l1) = (self.lengths_m[after - 1], self.lengths_m[after]);
        let part = if l1 > l0 {
            (along_m - l0) / (l1 - l0)
        } else {
            0.0
        };
        (after as f64 - 1.0 + part) / (NODES - 1) as f64
    }
}

impl Piece {
    pub(super) fn length_m(&self) -> f64 {
        match self {
            Piece::Line { from, to } => (to.x - from.x).hypot(to.y - from.y),
            Piece::Arc {
                radius_m,
                sweep_rad,
                ..
            } => radius_m * sweep_rad.abs(),
            Piece::Curve(curve) => curve.length_m(),
        }
    }

    /// The point at a length along the piece, and the direction there as a vector of length 1.
    pub(super) fn at(&self, along_m: f64) -> (Coord<f64>, Coord<f64>) {
        match self {
            Piece::Line { from, to } => {
                let length = self.length_m();
                let ahead = Coord {
                    x: (to.x - from.x) / length,
                    y: (to.y - from.y) / length,
                };
                (*from + ahead * along_m, ahead)
            }
            Piece::Arc {
                centre,
                radius_m,
                start_rad,
                sweep_rad,
            } => {
                let sign = sweep_rad.signum();
                let angle = start_rad + sign * along_m / radius_m;
                let (sin, cos) = angle.sin_cos();
                (
                    *centre + Coord { x: cos, y: sin } * *radius_m,
                    Coord {
                        x: -sin * sign,
                        y: cos * sign,
                    },
                )
            }
            Piece::Curve(curve) => {
                let u = curve.parameter(along_m);
                let h = 1e-6;
                let step = curve.formula.point(u + h) - curve.formula.point(u - h);
                let size = step.x.hypot(step.y);
                (curve.formula.point(u), step / size)
            }
        }
    }
}
