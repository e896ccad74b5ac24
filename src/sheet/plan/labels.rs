//! What a plan says in words: letters at corners, lengths along edges, names of what is taken off. For each label a list of possible
//! spots is made, the best first; the placer takes the first that is free. A label that stands away from what it names gets a
//! thin line to it, called a tie.

use super::ground::{EDGE, TAKEN};
use super::place::{Block, Placer, Spot};
use super::view::View;
use crate::sheet::board::face::{CAPITAL, DEPTH};
use crate::sheet::board::{Anchor, Circle, Group, Ink, Mark, Stroke, Text, Weight, at, face, line};
use geo::Coord;

/// Sizes of the font on plans, millimetres (7 to 9 points).
const LETTER_MM: f64 = 3.1;
const LENGTH_MM: f64 = 2.7;
pub(crate) const NAME_MM: f64 = 2.7;

/// The thin line from a label to what it names.
const TIE: Stroke = Stroke::whole(Ink::SOFT, 0.13);

/// A label of one or two lines, before it has a place.
#[derive(Debug, Clone)]
pub struct Words {
    pub lines: Vec<String>,
    pub size_mm: f64,
    pub weight: Weight,
    pub ink: Ink,
}

impl Words {
    pub(crate) fn new(lines: &[&str], size_mm: f64, ink: Ink) -> Words {
        Words {
            lines: lines.iter().map(|line| face::clean(line)).collect(),
            size_mm,
            weight: Weight::Regular,
            ink,
        }
    }

    /// Distance from one line to the next.
    fn step_mm(&self) -> f64 {
        1.2 * self.size_mm
    }

    pub(crate) fn width_mm(&self) -> f64 {
        self.lines
            .iter()
            .map(|line| face::width_mm(line, self.size_mm, self.weight))
            .fold(0.0, f64::max)
    }

    pub(crate) fn height_mm(&self) -> f64 {
        (CAPITAL + DEPTH) * self.size_mm + self.step_mm() * (self.lines.len().max(1) - 1) as f64
    }

    pub(crate) fn block(&self, middle: Coord<f64>, turn_deg: f64) -> Block {
        Block {
            middle,
            width_mm: self.width_mm(),
            height_mm: self.height_mm(),
            turn_deg,
        }
    }

    /// The label's texts at the place of `block`.
    pub(crate) fn marks(&self, block: &Block) -> Vec<Mark> {
        let (sin, cos) = block.turn_deg.to_radians().sin_cos();
        let top = -0.5 * self.height_mm() + CAPITAL * self.size_mm;
        self.lines
            .iter()
            .enumerate()
            .map(|(i, said)| {
                let down = top + self.step_mm() * i as f64;
                Mark::Text(Text {
                    text: said.clone(),
                    at: at(block.middle.x - down * sin, block.middle.y + down * cos),
                    size_mm: self.size_mm,
                    weight: self.weight,
                    anchor: Anchor::Middle,
                    turn_deg: block.turn_deg,
                    ink: self.ink,
                })
            })
            .collect()
    }

    /// Puts the label down at the first free spot, with a tie if the spot asks for one. False if no spot is free.
    pub(crate) fn put(
        &self,
        class: &'static str,
        tip: Option<(String, String)>,
        spots: impl IntoIterator<Item = Spot>,
        placer: &mut Placer,
        marks: &mut Vec<Mark>,
    ) -> bool {
        let Some(spot) = placer.place(spots) else {
            return false;
        };
        if let Some(tied_to) = spot.tied_to {
            marks.push(tie(tied_to, spot.block.door(tied_to)));
        }
        marks.push(Mark::Group(Group {
            class,
            tip,
            marks: self.marks(&spot.block),
        }));
        true
    }
}

fn tie(from: Coord<f64>, to: Coord<f64>) -> Mark {
    Mark::Group(Group {
        class: "tie",
        tip: None,
        marks: vec![line(&[from, to], TIE)],
    })
}

/// The turn by which a text runs the same way and is not upside down: above -90° and up to 90°.
pub(crate) fn upright(turn_deg: f64) -> f64 {
    let turn = (turn_deg + 90.0).rem_euclid(180.0) - 90.0;
    if turn == -90.0 { 90.0 } else { turn }
}

/// Spots round a place: first close by in the wanted direction, then to its sides, then farther off with a tie.
/// `clear_mm` is the radius of what stands at the place.
pub(crate) fn round_about(
    place: Coord<f64>,
    toward: Coord<f64>,
    clear_mm: f64,
    width_mm: f64,
    height_mm: f64,
) -> Vec<Spot> {
    let wanted = toward.y.atan2(toward.x);
    let mut spots = Vec::new();
    for away_mm in [0.9, 2.2, 4.0, 6.5, 9.5, 13.0, 17.0, 22.0, 28.0, 36.0, 46.0] {
        for step in [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 7, -7, 8] {
            let angle = wanted + f64::from(step) * std::f64::consts::PI / 8.0;
            let (sin, cos) = angle.sin_cos();
            // How far the block reaches towards the place in this direction.
            let reach = (0.5 * width_mm * cos.abs()).hypot(0.5 * height_mm * sin.abs());
            let far = clear_mm + away_mm + reach;
            let middle = at(place.x + far * cos, place.y + far * sin);
            spots.push(Spot {
                block: Block {
                    middle,
                    width_mm,
                    height_mm,
                    turn_deg: 0.0,
                },
                tied_to: (away_mm > 2.5)
                    .then(|| at(place.x + clear_mm * cos, place.y + clear_mm * sin)),
            });
        }
    }
    spots
}

/// Draws a lettered corner: a dot where it is, and its letter in a ring outside the lawn. Where no spot is free only the dot is drawn, and
/// false comes back.
pub(crate) fn corner(
    name: &str,
    place: Coord<f64>,
    outward: Coord<f64>,
    tip: (String, String),
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> bool {
    let wide = face::width_mm(name, LETTER_MM, Weight::Bold);
    let radius = f64::max(2.2, 0.5 * wide + 0.9);
    let spots = round_about(place, outward, 0.7, 2.0 * radius, 2.0 * radius);
    let dot = Mark::Circle(Circle {
        centre: place,
        radius_mm: 0.55,
        fill: Some(EDGE),
        stroke: None,
    });
    let Some(spot) = placer.place(spots) else {
        marks.push(dot);
        return false;
    };
    let middle = spot.block.middle;
    if let Some(tied_to) = spot.tied_to {
        let (dx, dy) = (tied_to.x - middle.x, tied_to.y - middle.y);
        let part = radius / dx.hypot(dy).max(radius);
        marks.push(tie(tied_to, at(middle.x + part * dx, middle.y + part * dy)));
    }
    marks.push(Mark::Group(Group {
        class: "corner",
        tip: Some(tip),
        marks: vec![
            dot,
            Mark::Circle(Circle {
                centre: middle,
                radius_mm: radius,
                fill: Some(Ink::WHITE),
                stroke: Some(Stroke::whole(EDGE, 0.3)),
            }),
            Mark::Text(Text {
                text: name.to_owned(),
                at: at(middle.x, middle.y + 0.5 * CAPITAL * LETTER_MM),
                size_mm: LETTER_MM,
                weight: Weight::Bold,
                anchor: Anchor::Middle,
                turn_deg: 0.0,
                ink: EDGE,
            }),
        ],
    }));
    true
}

/// Writes a length along its edge, outside the lawn where there is room. `outside` is +1 where the outside lies to the right of the line
/// on the paper, -1 where it lies to the left. False if no spot is free.
pub(crate) fn along(
    said: &str,
    points: &[Coord<f64>],
    outside: f64,
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> bool {
    let words = Words::new(&[said], LENGTH_MM, Ink::TEXT);
    let half = 0.5 * words.height_mm();
    let mut spots = Vec::new();
    for away_mm in [0.9, 1.8, 3.0, 4.5, 6.5, 9.0, 12.0, 16.0, 21.0, 27.0, 34.0] {
        for side in [outside, -outside] {
            for part in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
                let Some((place, way)) = point_along(points, part) else {
                    continue;
                };
                let normal = at(-way.y * side, way.x * side);
                let far = away_mm + half;
                spots.push(Spot {
                    block: words.block(
                        at(place.x + far * normal.x, place.y + far * normal.y),
                        upright(way.y.atan2(way.x).to_degrees()),
                    ),
                    tied_to: (away_mm > 4.0).then_some(place),
                });
            }
        }
    }
    // A length beyond another line would be read as that line's length, so such spots are passed over.
    let here = |spot: &Spot| placer.free(spot) && placer.on_its_side(spot);
    let spot = spots.into_iter().find(here);
    words.put("length", None, spot, placer, marks)
}

/// The place at this part (0 to 1) of a line's length, and the line's direction there as a step of length 1, taken over a third of the
/// whole length about that place. `None` for a line without length.
pub(crate) fn point_along(points: &[Coord<f64>], part: f64) -> Option<(Coord<f64>, Coord<f64>)> {
    let lengths: Vec<f64> = points
        .windows(2)
        .map(|w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y))
        .collect();
    let whole: f64 = lengths.iter().sum();
    if !(whole.is_finite() && whole > 0.0) {
        return None;
    }
    let place = |along: f64| {
        let mut left = along.clamp(0.0, whole);
        for (pair, length) in points.windows(2).zip(&lengths) {
            if left <= *length && *length > 0.0 {
                let p = left / length;
                return at(
                    pair[0].x + p * (pair[1].x - pair[0].x),
                    pair[0].y + p * (pair[1].y - pair[0].y),
                );
            }
            left -= length;
        }
        points.last().copied().unwrap_or(at(0.0, 0.0))
    };
    let here = part * whole;
    let (before, after) = (place(here - whole / 6.0), place(here + whole / 6.0));
    let (dx, dy) = (after.x - before.x, after.y - before.y);
    let length = dx.hypot(dy);
    let way = if length > 0.0 {
        at(dx / length, dy / length)
    } else {
        at(1.0, 0.0)
    };
    Some((place(here), way))
}

/// Writes the name of something: inside its outline where there is room, else beside it. False if no spot is free.
pub(crate) fn taken(
    words: &Words,
    rings: &[Vec<Coord<f64>>],
    middle: Coord<f64>,
    tip: (String, String),
    placer: &mut Placer,
    marks: &mut Vec<Mark>,
) -> bool {
    let inside = Spot {
        block: words.block(middle, 0.0),
        tied_to: None,
    };
    let within = contains(rings, middle);
    let (width, height) = (words.width_mm(), words.height_mm());
    let clear = rings
        .iter()
        .flatten()
        .map(|p| (p.x - middle.x).hypot(p.y - middle.y))
        .fold(0.0, f64::max);
    let outside = round_about(middle, at(1.0, -0.4), clear.min(60.0), width, height);
    let spots = within.then_some(inside).into_iter().chain(outside);
    words.put("taken", Some(tip), spots, placer, marks)
}

/// Whether a place lies inside the rings (even-odd).
pub(crate) fn contains(rings: &[Vec<Coord<f64>>], at: Coord<f64>) -> bool {
    let mut inside = false;
    for ring in rings {
        for (i, a) in ring.iter().enumerate() {
            let Some(b) = ring.get(i + 1).or(ring.first()) else {
                continue;
            };
            if (a.y > at.y) != (b.y > at.y) && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x)
            {
                inside = !inside;
            }
        }
    }
    inside
}

/// The direction, on the paper, that leads away from the lawn at a corner: the mean of those of 16 directions in which there is no lawn
/// close by. Upwards where they cancel out.
pub(crate) fn outward(view: &View, rings: &[Vec<Coord<f64>>], place: Coord<f64>) -> Coord<f64> {
    let here = view.at(place);
    let steps = 16;
    // How far from the corner it is looked for lawn, millimetres.
    let probe = 1.5;
    let open: Vec<bool> = (0..steps)
        .map(|k| {
            let angle = std::f64::consts::TAU * f64::from(k) / f64::from(steps);
            !contains(
                rings,
                at(here.x + probe * angle.cos(), here.y + probe * angle.sin()),
            )
        })
        .collect();
    let (mut x, mut y) = (0.0, 0.0);
    for (k, open) in open.iter().enumerate() {
        if *open {
            let angle = std::f64::consts::TAU * k as f64 / f64::from(steps);
            x += angle.cos();
            y += angle.sin();
        }
    }
    if x.hypot(y) < 1e-6 {
        at(0.0, -1.0)
    } else {
        at(x, y)
    }
}

/// Colour of the names of what is taken off.
pub(crate) const TAKEN_INK: Ink = TAKEN;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_never_stand_on_their_heads() {
        for (turn, shown) in [
            (0.0, 0.0),
            (91.0, -89.0),
            (-91.0, 89.0),
            (180.0, 0.0),
            (270.0, 90.0),
        ] {
            approx::assert_abs_diff_eq!(upright(turn), shown, epsilon = 1e-9);
        }
    }

    #[test]
    fn the_middle_of_a_bent_line_is_half_its_length_along() {
        let bent = [at(0.0, 0.0), at(10.0, 0.0), at(10.0, 30.0)];
        let (place, way) = point_along(&bent, 0.5).expect("a line");
        assert_eq!(place, at(10.0, 10.0));
        assert!(way.y > 0.9);
        assert!(point_along(&[at(1.0, 1.0)], 0.5).is_none());
    }

    #[test]
    fn outward_of_a_square_is_away_from_it() {
        let ring = vec![at(0.0, 0.0), at(20.0, 0.0), at(20.0, 20.0), at(0.0, 20.0)];
        let view = View {
            middle_m: at(0.0, 0.0),
            middle_mm: at(0.0, 0.0),
            mm_per_m: 1.0,
            turn_rad: 0.0,
        };
        // The top left corner on the paper: (0, 0).
        let away = outward(&view, std::slice::from_ref(&ring), at(0.0, 0.0));
        assert!(away.x < 0.0 && away.y < 0.0);
    }
}
