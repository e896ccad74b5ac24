//! True outlines: lawns whose area and perimeter are known exactly, because a formula gives them.
//!
//! A place on an outline is told by its length along the edge, anticlockwise from the outline's first point.

use super::chance::Chance;
use super::curve::{Curve, Formula, Piece};
use geo::Coord;
use std::f64::consts::{PI, TAU};

/// The kinds of lawn a trial walks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Shape {
    Rectangle,
    L,
    T,
    /// A bent bean: two arcs about one centre, the inner one hollow, with round ends.
    Kidney,
    /// Any smooth closed line.
    Blob,
    /// A rectangle with one wavy side.
    CurvedEdge,
    /// Long and thin.
    Strip,
}

impl Shape {
    pub const ALL: [Shape; 7] = [
        Shape::Rectangle,
        Shape::L,
        Shape::T,
        Shape::Kidney,
        Shape::Blob,
        Shape::CurvedEdge,
        Shape::Strip,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Shape::Rectangle => "rectangle",
            Shape::L => "l",
            Shape::T => "t",
            Shape::Kidney => "kidney",
            Shape::Blob => "blob",
            Shape::CurvedEdge => "curved-edge",
            Shape::Strip => "strip",
        }
    }
}

/// A closed outline, anticlockwise, with its exact area and perimeter.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    pub shape: Shape,
    pub area_m2: f64,
    pub perimeter_m: f64,
    /// The lengths along the edge at which a corner stands, from 0 to below the perimeter.
    pub corners_m: Vec<f64>,
    pieces: Vec<Piece>,
    /// The length along the edge at which each piece starts.
    starts_m: Vec<f64>,
    /// The pieces are turned by this angle (its cosine and sine) and then shifted, to lie where the outline lies.
    turn: (f64, f64),
    shift: Coord<f64>,
}

impl Outline {
    /// A lawn of this shape and exactly this area, with proportions and a rotation by chance and its middle near the origin.
    pub fn random(shape: Shape, area_m2: f64, chance: &mut Chance) -> Outline {
        let outline = match shape {
            Shape::Rectangle => rectangle(shape, area_m2, chance.between(1.0, 2.5)),
            Shape::Strip => rectangle(shape, area_m2, chance.between(6.0, 16.0)),
            Shape::L => {
                let (wide, foot) = (chance.between(0.3, 0.6), chance.between(0.3, 0.6));
                let tall = chance.between(0.8, 1.5);
                corners(
                    shape,
                    area_m2,
                    &[
                        (0.0, 0.0),
                        (1.0, 0.0),
                        (1.0, tall * foot),
                        (wide, tall * foot),
                        (wide, tall),
                        (0.0, tall),
                    ],
                )
            }
            Shape::T => {
                let (left, right) = (chance.between(0.2, 0.4), chance.between(0.6, 0.8));
                let (bar, tall) = (chance.between(0.3, 0.5), chance.between(0.8, 1.3));
                corners(
                    shape,
                    area_m2,
                    &[
                        (left, 0.0),
                        (right, 0.0),
                        (right, tall - bar),
                        (1.0, tall - bar),
                        (1.0, tall),
                        (0.0, tall),
                        (0.0, tall - bar),
                        (left, tall - bar),
                    ],
                )
            }
            Shape::Kidney => kidney(area_m2, chance.between(0.4, 0.6), chance.between(0.9, 1.8)),
            Shape::Blob => {
                let harmonics = (2..=5)
                    .map(|k| {
                        let k = f64::from(k);
                        // The quicker waves swing less, so that the line stays one a mower could follow.
                        let swing = 0.5 / (k * k);
                        (k, swing * chance.normal(), swing * chance.normal())
                    })
                    .collect();
                blob(area_m2, harmonics)
            }
            Shape::CurvedEdge => curved_edge(
                area_m2,
                chance.between(1.0, 2.0),
                chance.between(0.04, 0.12),
                (1 + chance.below(4)) as f64,
            ),
        };
        outline.turned(chance.between(0.0, TAU)).centred()
    }

    /// A lawn drawn by hand: corners, anticlockwise, joined by straight sides, or by an arc where a bulge other than 0 is given. The
    /// bulge is how far, in metres, the middle of that side lies off the straight line (the arc's sagitta). Above zero it bulges
    /// outward, to the right of an anticlockwise walk.
    pub fn drawn(shape: Shape, corners: &[(f64, f64)], bulges_m: &[f64]) -> Outline {
        let n = corners.len();
        let mut area_m2 = 0.0;
        let pieces = (0..n)
            .map(|i| {
                let (a, b) = (corners[i], corners[(i + 1) % n]);
                let (from, to) = (Coord::from(a), Coord::from(b));
                area_m2 += 0.5 * (from.x * to.y - from.y * to.x);
                let bulge = bulges_m.get(i).copied().unwrap_or(0.0);
                if bulge == 0.0 {
                    return Piece::Line { from, to };
                }
                // The circle through both ends, with the sagitta s over the chord c, has the radius R = c²/(8 s) + s/2.
                let chord = (to.x - from.x).hypot(to.y - from.y);
                let radius_m = chord * chord / (8.0 * bulge.abs()) + bulge.abs() / 2.0;
                let half = (chord / (2.0 * radius_m)).asin();
                area_m2 += bulge.signum() * radius_m * radius_m * (half - half.sin() * half.cos());
                let ahead = (to - from) / chord;
                let left = Coord {
                    x: -ahead.y,
                    y: ahead.x,
                };
                let middle = (from + to) / 2.0;
                let centre = middle + left * (bulge.signum() * radius_m * half.cos());
                Piece::Arc {
                    centre,
                    radius_m,
                    start_rad: (from.y - centre.y).atan2(from.x - centre.x),
                    sweep_rad: bulge.signum() * 2.0 * half,
                }
            })
            .collect();
        Outline::of(shape, area_m2, pieces, &vec![true; n])
    }

    /// The outline of these pieces, one after the other. `corner_before` tells of each whether a corner stands at its start.
    fn of(shape: Shape, area_m2: f64, pieces: Vec<Piece>, corner_before: &[bool]) -> Outline {
        let mut starts_m = Vec::with_capacity(pieces.len());
        let mut perimeter_m = 0.0;
        for piece in &pieces {
            starts_m.push(perimeter_m);
            perimeter_m += piece.length_m();
        }
        let corners_m = starts_m
            .iter()
            .zip(corner_before)
            .filter(|(_, corner)| **corner)
            .map(|(start, _)| *start)
            .collect();
        Outline {
            shape,
            area_m2,
            perimeter_m,
            corners_m,
            pieces,
            starts_m,
            turn: (1.0, 0.0),
            shift: Coord { x: 0.0, y: 0.0 },
        }
    }

    /// The same outline, turned anticlockwise about the origin.
    pub fn turned(mut self, angle_rad: f64) -> Outline {
        let (sin, cos) = angle_rad.sin_cos();
        let (c, s) = self.turn;
        self.turn = (c * cos - s * sin, c * sin + s * cos);
        self.shift = Coord {
            x: self.shift.x * cos - self.shift.y * sin,
            y: self.shift.x * sin + self.shift.y * cos,
        };
        self
    }

    /// The same outline, shifted so that the mean of points along its edge is the origin.
    pub fn centred(mut self) -> Outline {
        let n = 256;
        let mut sum = Coord { x: 0.0, y: 0.0 };
        for i in 0..n {
            sum = sum + self.point(self.perimeter_m * f64::from(i) / f64::from(n));
        }
        self.shift = self.shift - sum / f64::from(n);
        self
    }

    /// The point at a length along the edge, and the direction in which an anticlockwise walk passes it, as a vector of length 1.
    /// The length may be below zero or more than the perimeter; it then counts on over further laps.
    pub fn at(&self, along_m: f64) -> (Coord<f64>, Coord<f64>) {
        let along_m = along_m.rem_euclid(self.perimeter_m);
        let i = self
            .starts_m
            .partition_point(|start| *start <= along_m)
            .saturating_sub(1);
        let (point, ahead) = self.pieces[i].at(along_m - self.starts_m[i]);
        (self.placed(point) + self.shift, self.placed(ahead))
    }

    /// The point at a length along the edge.
    pub fn point(&self, along_m: f64) -> Coord<f64> {
        self.at(along_m).0
    }

    /// The direction out of the lawn, square to the edge, as a vector of length 1.
    pub fn outward(&self, along_m: f64) -> Coord<f64> {
        let ahead = self.at(along_m).1;
        Coord {
            x: ahead.y,
            y: -ahead.x,
        }
    }

    /// How much more the parallel line at this distance d outside the edge (below zero: inside) encloses than the edge itself, where
    /// its sides run on until they meet at each corner: P d + d² (sum of tan(turn / 2) over the corners + half of what the smooth
    /// stretches turn), P being the perimeter and angles in radians.
    pub fn widening_m2(&self, outside_m: f64) -> f64 {
        let (mut tangents, mut turned) = (0.0, 0.0);
        for corner in &self.corners_m {
            let (before, after) = (self.outward(corner - 1e-7), self.outward(corner + 1e-7));
            let sin = before.x * after.y - before.y * after.x;
            let cos = before.x * after.x + before.y * after.y;
            tangents += sin / (1.0 + cos);
            turned += sin.atan2(cos);
        }
        self.perimeter_m * outside_m + outside_m * outside_m * (tangents + (TAU - turned) / 2.0)
    }

    /// A point or direction of the pieces, turned as the outline is.
    fn placed(&self, at: Coord<f64>) -> Coord<f64> {
        let (c, s) = self.turn;
        Coord {
            x: c * at.x - s * at.y,
            y: s * at.x + c * at.y,
        }
    }

    /// A polygon whose points lie on the edge, on curves no further apart than this, and at every corner.
    pub fn polygon(&self, spacing_m: f64) -> Vec<Coord<f64>> {
        let mut ring = Vec::new();
        for (piece, start) in self.pieces.iter().zip(&self.starts_m) {
            let steps = match piece {
                Piece::Line { .. } => 1,
                _ => (piece.length_m() / spacing_m).ceil().max(1.0) as usize,
            };
            for k in 0..steps {
                ring.push(self.point(start + piece.length_m() * k as f64 / steps as f64));
            }
        }
        ring
    }
}

/// A rectangle that is `ratio` times as long as it is wide.
fn rectangle(shape: Shape, area_m2: f64, ratio: f64) -> Outline {
    corners(
        shape,
        area_m2,
        &[(0.0, 0.0), (ratio, 0.0), (ratio, 1.0), (0.0, 1.0)],
    )
}

/// A lawn with straight sides between these corners, scaled to the area.
fn corners(shape: Shape, area_m2: f64, at: &[(f64, f64)]) -> Outline {
    let raw = Outline::drawn(shape, at, &[]);
    let scale = (area_m2 / raw.area_m2).sqrt();
    let at: Vec<(f64, f64)> = at.iter().map(|(x, y)| (x * scale, y * scale)).collect();
    let mut outline = Outline::drawn(shape, &at, &[]);
    outline.area_m2 = area_m2;
    outline
}

/// A sector of a ring with round ends. The ring has the middle radius R and the half-width w = `thin` R, and the sector the angle
/// `bend`. Its area is 2 w R bend + pi w², and its perimeter 2 R bend + 2 pi w.
fn kidney(area_m2: f64, thin: f64, bend: f64) -> Outline {
    let r = (area_m2 / (2.0 * thin * bend + PI * thin * thin)).sqrt();
    let w = thin * r;
    let end = |angle: f64| Coord {
        x: r * angle.cos(),
        y: r * angle.sin(),
    };
    let pieces = vec![
        Piece::Arc {
            centre: Coord { x: 0.0, y: 0.0 },
            radius_m: r + w,
            start_rad: 0.0,
            sweep_rad: bend,
        },
        Piece::Arc {
            centre: end(bend),
            radius_m: w,
            start_rad: bend,
            sweep_rad: PI,
        },
        Piece::Arc {
            centre: Coord { x: 0.0, y: 0.0 },
            radius_m: r - w,
            start_rad: bend,
            sweep_rad: -bend,
        },
        Piece::Arc {
            centre: end(0.0),
            radius_m: w,
            start_rad: PI,
            sweep_rad: PI,
        },
    ];
    Outline::of(Shape::Kidney, area_m2, pieces, &[])
}

/// A smooth closed line r = R (1 + sum of the harmonics), see [`Formula::Polar`]. Its area is pi R² (1 + half the sum of the
/// squares of all coefficients).
fn blob(area_m2: f64, harmonics: Vec<(f64, f64, f64)>) -> Outline {
    let squares: f64 = harmonics.iter().map(|(_, a, b)| a * a + b * b).sum();
    let radius_m = (area_m2 / (PI * (1.0 + squares / 2.0))).sqrt();
    let curve = Curve::new(Formula::Polar {
        radius_m,
        harmonics,
    });
    Outline::of(Shape::Blob, area_m2, vec![Piece::Curve(curve)], &[])
}

/// A rectangle `length` by `height` whose top side swings as a sine of n = `half_waves` half waves. Under the sine lies the area
/// swing length (1 - cos(pi n)) / (pi n).
fn curved_edge(area_m2: f64, ratio: f64, swing: f64, half_waves: f64) -> Outline {
    let angle = PI * half_waves;
    let under = ratio * (1.0 + swing * ratio * (1.0 - angle.cos()) / angle);
    let height_m = (area_m2 / under).sqrt();
    let length_m = ratio * height_m;
    let curve = Curve::new(Formula::Wave {
        length_m,
        height_m,
        swing_m: swing * length_m,
        half_waves,
    });
    let (o, e) = (
        Coord { x: 0.0, y: 0.0 },
        Coord {
            x: length_m,
            y: 0.0,
        },
    );
    let ne = Coord {
        x: length_m,
        y: height_m,
    };
    let nw = Coord {
        x: 0.0,
        y: height_m,
    };
    let pieces = vec![
        Piece::Line { from: o, to: e },
        Piece::Line { from: e, to: ne },
        Piece::Curve(curve),
        Piece::Line { from: nw, to: o },
    ];
    Outline::of(Shape::CurvedEdge, area_m2, pieces, &[true; 4])
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    fn shoelace(ring: &[Coord<f64>]) -> f64 {
        let n = ring.len();
        (0..n)
            .map(|i| {
                let (a, b) = (ring[i], ring[(i + 1) % n]);
                0.5 * (a.x * b.y - a.y * b.x)
            })
            .sum()
    }

    #[test]
    fn stated_area_and_perimeter_are_those_of_a_dense_polygon() {
        let mut chance = Chance::new(5);
        for shape in Shape::ALL {
            for area_m2 in [20.0, 313.0, 5000.0] {
                let outline = Outline::random(shape, area_m2, &mut chance);
                assert_eq!(outline.area_m2, area_m2);
                let ring = outline.polygon(outline.perimeter_m / 40_000.0);
                // A polygon of n sides on a circle has 6.6 / n² less of its area, and 1.6 / n² less of its length.
                assert_relative_eq!(shoelace(&ring), area_m2, max_relative = 2e-8);
                let round: f64 = (0..ring.len())
                    .map(|i| {
                        let step = ring[(i + 1) % ring.len()] - ring[i];
                        step.x.hypot(step.y)
                    })
                    .sum();
                assert_relative_eq!(round, outline.perimeter_m, max_relative = 1e-6);
            }
        }
    }

    #[test]
    fn a_length_along_is_a_length_along() {
        let mut chance = Chance::new(8);
        for shape in Shape::ALL {
            let outline = Outline::random(shape, 200.0, &mut chance);
            for k in 0..500 {
                let s = outline.perimeter_m * f64::from(k) / 500.0 + 0.013;
                let step = 1e-3;
                let (here, ahead) = outline.at(s);
                let there = outline.point(s + step);
                let gone = there - here;
                let at_corner = outline.corners_m.iter().any(|c| {
                    (s..s + step).contains(&(c + if *c == 0.0 { outline.perimeter_m } else { 0.0 }))
                });
                if !at_corner {
                    // Between two nodes of a curve lengths are shared out evenly, which is some 20 micrometres off.
                    assert_abs_diff_eq!(gone.x.hypot(gone.y), step, epsilon = 5e-6);
                    assert_abs_diff_eq!(gone.x, ahead.x * step, epsilon = 5e-6);
                }
            }
        }
    }

    #[test]
    fn parallel_lines_enclose_what_the_formula_says() {
        // A square of 10 m gains 21 m² at d = 0.5 and loses 19 m² at d = -0.5. At d = 0.5 a triangle of 30, 40 and 50 m gains 61.5 m²,
        // and an L of 64 m round gains 33 m². A circle gains the ring pi ((r + d)² - r²). These figures were derived for this project
        // and checked with a geometry library.
        let drawn = |at: &[(f64, f64)]| Outline::drawn(Shape::L, at, &[]);
        let square = drawn(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
        assert_abs_diff_eq!(square.widening_m2(0.5), 21.0, epsilon = 1e-9);
        assert_abs_diff_eq!(square.widening_m2(-0.5), -19.0, epsilon = 1e-9);
        let triangle = drawn(&[(0.0, 0.0), (40.0, 0.0), (0.0, 30.0)]);
        assert_abs_diff_eq!(triangle.widening_m2(0.5), 61.5, epsilon = 1e-9);
        let l = [
            (0.0, 0.0),
            (18.0, 0.0),
            (18.0, 8.0),
            (10.0, 8.0),
            (10.0, 14.0),
            (0.0, 14.0),
        ];
        assert_abs_diff_eq!(drawn(&l).widening_m2(0.5), 33.0, epsilon = 1e-9);
        let circle = blob(PI * 25.0, Vec::new());
        assert_abs_diff_eq!(circle.widening_m2(1.0), PI * 11.0, epsilon = 1e-4);
    }

    #[test]
    fn drawn_sides_may_bulge() {
        // A half circle of radius 3 on a side of 6 takes 9 pi / 2 off where it is hollow, and adds as much where it bulges out.
        let square = [(0.0, 0.0), (6.0, 0.0), (6.0, 6.0), (0.0, 6.0)];
        let out = Outline::drawn(Shape::CurvedEdge, &square, &[0.0, 3.0]);
        assert_abs_diff_eq!(out.area_m2, 36.0 + 4.5 * PI, epsilon = 1e-9);
        assert_abs_diff_eq!(out.perimeter_m, 18.0 + 3.0 * PI, epsilon = 1e-9);
        let hollow = Outline::drawn(Shape::CurvedEdge, &square, &[0.0, -3.0]);
        assert_abs_diff_eq!(hollow.area_m2, 36.0 - 4.5 * PI, epsilon = 1e-9);
        assert_relative_eq!(
            shoelace(&out.polygon(1e-3)),
            out.area_m2,
            max_relative = 1e-6
        );
        assert_relative_eq!(
            shoelace(&hollow.polygon(1e-3)),
            hollow.area_m2,
            max_relative = 1e-6
        );
    }
}
