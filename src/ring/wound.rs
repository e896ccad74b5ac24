//! How often a closed path goes round each part of what it encloses: once, twice, or the other way round as in a figure of eight.
//!
//! The path is cut by horizontal rows. Along a row the number of times that the path goes round changes by one at every crossing, up or
//! down by the direction in which the path crosses, so that counting crossings from the west gives it everywhere.

use geo::Coord;

/// What a closed path encloses, by how often it goes round it, square metres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wound {
    /// What it goes round once or more often in the direction asked for.
    pub round_m2: f64,
    /// The part of that which it goes round twice or more often.
    pub more_m2: f64,
    /// What it goes round the other way.
    pub back_m2: f64,
    /// The signed area: each part counts as often as the path goes round it, negative where it goes the other way.
    pub signed_m2: f64,
}

/// Measures a ring row by row, to about a hundredth of its area; `turn` is +1 for counter-clockwise as the direction asked for and -1 for
/// clockwise. All is 0 for a ring without height.
pub(crate) fn wound(ring: &[Coord<f64>], turn: f64) -> Wound {
    const ROWS: usize = 160;
    let south = ring.iter().map(|at| at.y).fold(f64::INFINITY, f64::min);
    let north = ring.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
    let high_m = (north - south) / ROWS as f64;
    if !(high_m > 0.0 && high_m.is_finite()) {
        return Wound::default();
    }
    // Where the middle of each row crosses the ring, and by how much the count changes there: by +1 where the ring runs southwards, as
    // what lies east of that is inside a counter-clockwise ring.
    let mut crossings: Vec<Vec<(f64, f64)>> = vec![Vec::new(); ROWS];
    let ends = ring.iter().skip(1).chain(ring.first());
    for (a, b) in ring.iter().zip(ends) {
        let row = |y: f64| ((y - south) / high_m - 0.5).ceil().clamp(0.0, ROWS as f64) as usize;
        let (from, to) = (row(a.y.min(b.y)), row(a.y.max(b.y)));
        for (row, crossed) in crossings.iter_mut().enumerate().take(to).skip(from) {
            let y = south + (row as f64 + 0.5) * high_m;
            let x = a.x + (b.x - a.x) * (y - a.y) / (b.y - a.y);
            crossed.push((x, turn * if b.y < a.y { 1.0 } else { -1.0 }));
        }
    }
    let mut wound = Wound::default();
    for row in &mut crossings {
        row.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut times = 0.0;
        for pair in row.windows(2) {
            times += pair[0].1;
            let part_m2 = high_m * (pair[1].0 - pair[0].0);
            wound.signed_m2 += times * part_m2;
            if times < -0.5 {
                wound.back_m2 += part_m2;
            } else if times > 0.5 {
                wound.round_m2 += part_m2;
                wound.more_m2 += if times > 1.5 { part_m2 } else { 0.0 };
            }
        }
    }
    wound
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(corners: &[(f64, f64)]) -> Vec<Coord<f64>> {
        corners.iter().map(|&(x, y)| Coord { x, y }).collect()
    }

    #[test]
    fn a_square_once_twice_and_as_an_eight() {
        let square = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)];
        let near =
            |found: f64, true_m2: f64| assert!((found - true_m2).abs() < 0.8, "{found} {true_m2}");
        let once = wound(&ring(&square), 1.0);
        near(once.round_m2, 80.0);
        near(once.signed_m2, 80.0);
        assert_eq!((once.more_m2, once.back_m2), (0.0, 0.0));
        near(wound(&ring(&square), -1.0).back_m2, 80.0);
        let twice = wound(&ring(&[square, square].concat()), 1.0);
        near(twice.more_m2, 80.0);
        near(twice.signed_m2, 160.0);
        // A figure of eight with a lobe of 80 m² and one of 20 m² that share a corner.
        let eight = [
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 8.0),
            (0.0, 8.0),
            (0.0, 0.0),
            (0.0, -5.0),
            (-4.0, -5.0),
            (-4.0, 0.0),
        ];
        let eight = wound(&ring(&eight), 1.0);
        near(eight.round_m2, 80.0);
        near(eight.back_m2, 20.0);
        near(eight.signed_m2, 60.0);
    }
}
