//! How often a closed path goes round each part of what it encloses.

use geo::Coord;

/// Areas by how often a closed path goes round them, square metres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wound {
    /// Once or more often the way asked for.
    pub round_m2: f64,
    /// Of these, twice or more often.
    pub more_m2: f64,
    /// The other way round.
    pub back_m2: f64,
    /// Signed: each part as often as the path goes round it.
    pub signed_m2: f64,
}

/// Goes through a ring in rows; `turn` is +1 for counter-clockwise. Good to about a hundredth.
pub(crate) fn wound(ring: &[Coord<f64>], turn: f64) -> Wound {
    const ROWS: usize = 160;
    let south = ring.iter().map(|at| at.y).fold(f64::INFINITY, f64::min);
    let north = ring.iter().map(|at| at.y).fold(f64::NEG_INFINITY, f64::max);
    let high_m = (north - south) / ROWS as f64;
    if !(high_m > 0.0 && high_m.is_finite()) {
        return Wound::default();
    }
    // Where the middle of each row crosses the ring, and which way: southwards is +1, as what lies east of it is then inside a
    // counter-clockwise ring.
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
        // A lobe of 80 m² and one of 20 m² that share a corner.
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
