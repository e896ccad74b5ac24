//! Finds room for labels: none lies on a drawn line, on another label or off the paper. Every line drawn and every label placed is told
//! to the [`Placer`], which then says whether a spot is free. Lines are kept by the squares of a grid that they pass through, so
//! that only those near a label need be looked at.

use geo::{Coord, Rect};
use std::collections::HashMap;

/// Room that is left free round every label, millimetres.
const CLEAR_MM: f64 = 0.5;
/// Lines are looked up in squares of this size, millimetres.
const SQUARE_MM: f64 = 6.0;

/// A rectangle about its middle, turned clockwise on the paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    pub middle: Coord<f64>,
    pub width_mm: f64,
    pub height_mm: f64,
    pub turn_deg: f64,
}

impl Block {
    /// Directions of length 1 along and across the block.
    fn axes(&self) -> [Coord<f64>; 2] {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        [Coord { x: cos, y: sin }, Coord { x: -sin, y: cos }]
    }

    fn corners(&self) -> [Coord<f64>; 4] {
        let [u, v] = self.axes();
        let (w, h) = (0.5 * self.width_mm, 0.5 * self.height_mm);
        [(-w, -h), (w, -h), (w, h), (-w, h)].map(|(a, b)| Coord {
            x: self.middle.x + a * u.x + b * v.x,
            y: self.middle.y + a * u.y + b * v.y,
        })
    }

    /// The block made larger by so much on every side.
    fn grown(&self, by_mm: f64) -> Block {
        Block {
            width_mm: self.width_mm + 2.0 * by_mm,
            height_mm: self.height_mm + 2.0 * by_mm,
            ..*self
        }
    }

    /// A place as seen from the block: how far along and across it from its middle.
    fn local(&self, at: Coord<f64>) -> Coord<f64> {
        let [u, v] = self.axes();
        let (dx, dy) = (at.x - self.middle.x, at.y - self.middle.y);
        Coord {
            x: dx * u.x + dy * u.y,
            y: dx * v.x + dy * v.y,
        }
    }

    /// The part of the line from `a` to `b` that lies inside the block, as parts (0 to 1) of the way where it enters and leaves; `None` where
    /// the line misses the block. This is Liang and Barsky's clipping in the block's own directions.
    pub(crate) fn cuts(&self, a: Coord<f64>, b: Coord<f64>) -> Option<(f64, f64)> {
        let (a, b) = (self.local(a), self.local(b));
        let (mut from, mut to) = (0.0, 1.0);
        for (start, end, half) in [
            (a.x, b.x, 0.5 * self.width_mm),
            (a.y, b.y, 0.5 * self.height_mm),
        ] {
            let step = end - start;
            if step.abs() < 1e-12 {
                if start.abs() > half {
                    return None;
                }
                continue;
            }
            let (one, two) = ((-half - start) / step, (half - start) / step);
            from = f64::max(from, one.min(two));
            to = f64::min(to, one.max(two));
            if from > to {
                return None;
            }
        }
        Some((from, to))
    }

    /// Whether two blocks overlap. Two rectangles do not overlap exactly if, seen along the direction of some side of one of them, there is
    /// a gap between the two.
    fn meets(&self, other: &Block) -> bool {
        let (mine, theirs) = (self.corners(), other.corners());
        self.axes().into_iter().chain(other.axes()).all(|axis| {
            let span = |corners: &[Coord<f64>; 4]| {
                corners.iter().fold((f64::MAX, f64::MIN), |(low, high), c| {
                    let along = c.x * axis.x + c.y * axis.y;
                    (low.min(along), high.max(along))
                })
            };
            let ((a, b), (c, d)) = (span(&mine), span(&theirs));
            a < d && c < b
        })
    }

    /// Where a line from `from` towards the block's middle ends, just short of the block.
    pub(crate) fn door(&self, from: Coord<f64>) -> Coord<f64> {
        match self.grown(0.6 * CLEAR_MM).cuts(from, self.middle) {
            Some((enters, _)) => Coord {
                x: from.x + enters * (self.middle.x - from.x),
                y: from.y + enters * (self.middle.y - from.y),
            },
            None => self.middle,
        }
    }
}

/// Where a label may go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    pub block: Block,
    /// The place to which a thin line leads from the label, where the label does not stand right beside it.
    pub tied_to: Option<Coord<f64>>,
}

/// What is on the paper so far.
pub struct Placer {
    room: Rect<f64>,
    lines: Vec<[Coord<f64>; 2]>,
    /// For each square of the grid, the indices of the lines that pass through it.
    squares: HashMap<(i32, i32), Vec<usize>>,
    blocks: Vec<Block>,
    ties: Vec<[Coord<f64>; 2]>,
}

impl Placer {
    pub(crate) fn new(room: Rect<f64>) -> Placer {
        Placer {
            room,
            lines: Vec::new(),
            squares: HashMap::new(),
            blocks: Vec::new(),
            ties: Vec::new(),
        }
    }

    /// Takes note of a drawn line that no label may lie on.
    pub(crate) fn line(&mut self, points: &[Coord<f64>]) {
        for pair in points.windows(2) {
            let &[a, b] = pair else { continue };
            let length = (b.x - a.x).hypot(b.y - a.y);
            if !length.is_finite() {
                continue;
            }
            let index = self.lines.len();
            self.lines.push([a, b]);
            let steps = (length / (0.5 * SQUARE_MM)).ceil().clamp(1.0, 5000.0) as usize;
            let mut last = None;
            for step in 0..=steps {
                let part = step as f64 / steps as f64;
                let key = square(a.x + part * (b.x - a.x), a.y + part * (b.y - a.y));
                if last != Some(key) {
                    self.squares.entry(key).or_default().push(index);
                    last = Some(key);
                }
            }
        }
    }

    /// Takes note of a closed line.
    pub(crate) fn ring(&mut self, points: &[Coord<f64>]) {
        self.line(points);
        if let (Some(first), Some(last)) = (points.first(), points.last()) {
            self.line(&[*last, *first]);
        }
    }

    /// Every label placed so far with a little room about it, where hatching leaves gaps.
    pub(crate) fn gaps(&self) -> Vec<Block> {
        self.blocks
            .iter()
            .map(|b| b.grown(1.4 * CLEAR_MM))
            .collect()
    }

    /// Whether a label may stand here: on the paper, clear of every line, label and tie, and with a tie that crosses no label and no other
    /// tie.
    pub(crate) fn free(&self, spot: &Spot) -> bool {
        let block = spot.block.grown(CLEAR_MM);
        let corners = block.corners();
        if corners.iter().any(|c| {
            c.x < self.room.min().x
                || c.x > self.room.max().x
                || c.y < self.room.min().y
                || c.y > self.room.max().y
        }) {
            return false;
        }
        if self.blocks.iter().any(|taken| taken.meets(&block))
            || self.ties.iter().any(|[a, b]| block.cuts(*a, *b).is_some())
            || self.crossed(&block, &corners)
        {
            return false;
        }
        let Some(tied_to) = spot.tied_to else {
            return true;
        };
        let door = spot.block.door(tied_to);
        !self
            .blocks
            .iter()
            .any(|b| b.grown(0.5 * CLEAR_MM).cuts(tied_to, door).is_some())
            && !self.ties.iter().any(|tie| cross(*tie, [tied_to, door]))
    }

    /// Whether a label cannot be taken for that of another line than the one it is tied to. It cannot if no line lies between the two, or
    /// if no line at all is near the label.
    pub(crate) fn on_its_side(&self, spot: &Spot) -> bool {
        // The tie begins on the line it belongs to, so its first twentieth is left out.
        const OFF: f64 = 0.05;
        const NEAR_MM: f64 = 3.0;
        spot.tied_to.is_none_or(|tied_to| {
            let door = spot.block.door(tied_to);
            let from = tied_to + (door - tied_to) * OFF;
            let near = spot.block.grown(NEAR_MM);
            !self.lines.iter().any(|line| cross(*line, [from, door]))
                || !self.crossed(&near, &near.corners())
        })
    }

    /// Whether a drawn line crosses the block.
    fn crossed(&self, block: &Block, corners: &[Coord<f64>; 4]) -> bool {
        let span = |of: fn(&Coord<f64>) -> f64| {
            corners
                .iter()
                .map(of)
                .fold((f64::MAX, f64::MIN), |(low, high), v| {
                    (low.min(v), high.max(v))
                })
        };
        let ((left, right), (top, bottom)) = (span(|c| c.x), span(|c| c.y));
        // Lines were entered into squares at steps of half a square, so a line may pass through a square beside those it is noted in.
        let (from, to) = (
            square(left - SQUARE_MM, top - SQUARE_MM),
            square(right + SQUARE_MM, bottom + SQUARE_MM),
        );
        (from.0..=to.0).any(|x| {
            (from.1..=to.1).any(|y| {
                self.squares.get(&(x, y)).is_some_and(|indices| {
                    indices.iter().any(|i| {
                        self.lines
                            .get(*i)
                            .is_some_and(|[a, b]| block.cuts(*a, *b).is_some())
                    })
                })
            })
        })
    }

    /// The first free spot, which counts as taken from then on; `None` if none is free.
    pub(crate) fn place(&mut self, spots: impl IntoIterator<Item = Spot>) -> Option<Spot> {
        let spot = spots.into_iter().find(|spot| self.free(spot))?;
        self.blocks.push(spot.block);
        if let Some(tied_to) = spot.tied_to {
            self.ties.push([tied_to, spot.block.door(tied_to)]);
        }
        Some(spot)
    }
}

/// The square of the grid that a place lies in.
fn square(x: f64, y: f64) -> (i32, i32) {
    // Far off the paper the conversion stops at the largest whole number instead of failing.
    (
        (x / SQUARE_MM).floor() as i32,
        (y / SQUARE_MM).floor() as i32,
    )
}

/// Whether two lines cross; touching does not count.
fn cross([a, b]: [Coord<f64>; 2], [c, d]: [Coord<f64>; 2]) -> bool {
    let side = |p: Coord<f64>, q: Coord<f64>, r: Coord<f64>| {
        (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x)
    };
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::coord;

    fn block(x: f64, y: f64, turn_deg: f64) -> Block {
        Block {
            middle: coord! { x: x, y: y },
            width_mm: 10.0,
            height_mm: 2.0,
            turn_deg,
        }
    }

    #[test]
    fn a_turned_block_meets_what_it_reaches_and_no_more() {
        let level = block(0.0, 0.0, 0.0);
        assert!(level.meets(&block(9.0, 0.0, 0.0)));
        assert!(!level.meets(&block(10.1, 0.0, 0.0)));
        // At 45° its ends are 3.5 mm up and down.
        assert!(level.meets(&block(0.0, 4.0, 45.0)));
        assert!(!level.meets(&block(0.0, 6.0, 45.0)));
        assert!(
            level
                .cuts(coord! { x: 0.0, y: -5.0 }, coord! { x: 0.0, y: 5.0 })
                .is_some()
        );
        assert!(
            level
                .cuts(coord! { x: 6.0, y: -5.0 }, coord! { x: 6.0, y: 5.0 })
                .is_none()
        );
        assert!(
            level
                .cuts(coord! { x: 0.0, y: 5.0 }, coord! { x: 0.0, y: 2.0 })
                .is_none()
        );
    }

    #[test]
    fn labels_keep_off_lines_labels_and_the_edge_of_the_paper() {
        let mut placer = Placer::new(Rect::new((0.0, 0.0), (100.0, 100.0)));
        placer.line(&[coord! { x: 0.0, y: 50.0 }, coord! { x: 100.0, y: 50.0 }]);
        let spot = |x: f64, y: f64| Spot {
            block: block(x, y, 0.0),
            tied_to: None,
        };
        assert_eq!(placer.place([spot(50.0, 50.5), spot(3.0, 20.0)]), None);
        assert_eq!(placer.place([spot(50.0, 20.0)]), Some(spot(50.0, 20.0)));
        let tied = Spot {
            block: block(50.0, 24.0, 0.0),
            tied_to: Some(coord! { x: 50.0, y: 10.0 }),
        };
        assert_eq!(placer.place([tied]), None, "its line would cross a label");
        assert_eq!(
            placer.place([spot(52.0, 20.0), spot(52.0, 30.0)]),
            Some(spot(52.0, 30.0))
        );
        let tied_from = |y: f64| Spot {
            tied_to: Some(coord! { x: 80.0, y: y }),
            ..spot(80.0, 60.0)
        };
        assert!(
            placer.on_its_side(&tied_from(50.0)),
            "it begins on the line"
        );
        assert!(placer.on_its_side(&tied_from(40.0)), "no other is near");
        let near = Spot {
            block: block(80.0, 52.0, 0.0),
            ..tied_from(40.0)
        };
        assert!(!placer.on_its_side(&near));
    }
}
