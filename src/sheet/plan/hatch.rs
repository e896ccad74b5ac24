//! Hatching: parallel lines inside an outline, with gaps where a label stands. Each line is cut by the outline's edges into stretches
//! that are inside and outside in turn.

use super::place::Block;
use geo::Coord;

/// Lines at 45°, `spacing_mm` apart, inside the rings, with gaps where the blocks are. Inside is decided by the even-odd rule, so a ring
/// within a ring is a hole. None where a coordinate is not finite or there would be over 10 000 lines.
pub(crate) fn lines(
    rings: &[Vec<Coord<f64>>],
    spacing_mm: f64,
    gaps: &[Block],
) -> Vec<Vec<Coord<f64>>> {
    // On each line x + y is the same number c. From line to line c grows by `step`, which puts the lines `spacing_mm` apart.
    let step = spacing_mm * std::f64::consts::SQRT_2;
    let across = |c: &Coord<f64>| c.x + c.y;
    let (low, high) = rings
        .iter()
        .flatten()
        .map(across)
        .fold((f64::MAX, f64::MIN), |(low, high), v| {
            (low.min(v), high.max(v))
        });
    let mut lines = Vec::new();
    if !(low.is_finite() && high.is_finite()) || step <= 0.0 || high - low > 10_000.0 * step {
        return lines;
    }
    let mut c = (low / step).floor() * step + 0.5 * step;
    while c < high {
        let mut hits: Vec<Coord<f64>> = Vec::new();
        for ring in rings {
            for (i, a) in ring.iter().enumerate() {
                let Some(b) = ring.get(i + 1).or(ring.first()) else {
                    continue;
                };
                let (va, vb) = (across(a) - c, across(b) - c);
                if (va < 0.0) != (vb < 0.0) {
                    let part = va / (va - vb);
                    hits.push(Coord {
                        x: a.x + part * (b.x - a.x),
                        y: a.y + part * (b.y - a.y),
                    });
                }
            }
        }
        hits.sort_by(|a, b| a.x.total_cmp(&b.x));
        for pair in hits.chunks_exact(2) {
            if let &[a, b] = pair {
                lines.extend(open(a, b, gaps));
            }
        }
        c += step;
    }
    lines
}

/// What is left of the line from `a` to `b` outside the gaps, as parts from 0 to 1 of its length until the end.
fn open(a: Coord<f64>, b: Coord<f64>, gaps: &[Block]) -> Vec<Vec<Coord<f64>>> {
    let mut parts = vec![(0.0, 1.0)];
    for gap in gaps {
        let Some((from, to)) = gap.cuts(a, b) else {
            continue;
        };
        parts = parts
            .into_iter()
            .flat_map(|(start, end): (f64, f64)| [(start, end.min(from)), (start.max(to), end)])
            .filter(|(start, end)| end - start > 1e-6)
            .collect();
    }
    let at = |part: f64| Coord {
        x: a.x + part * (b.x - a.x),
        y: a.y + part * (b.y - a.y),
    };
    parts
        .into_iter()
        .map(|(start, end)| vec![at(start), at(end)])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::coord;

    fn square(low: f64, high: f64) -> Vec<Coord<f64>> {
        vec![
            coord! { x: low, y: low },
            coord! { x: high, y: low },
            coord! { x: high, y: high },
            coord! { x: low, y: high },
        ]
    }

    fn length(lines: &[Vec<Coord<f64>>]) -> f64 {
        lines
            .iter()
            .map(|l| (l[1].x - l[0].x).hypot(l[1].y - l[0].y))
            .sum()
    }

    #[test]
    fn lines_cover_the_area_evenly_and_leave_holes_and_gaps_open() {
        // So many millimetres of line a square millimetre as 1 over the spacing.
        let whole = lines(&[square(0.0, 40.0)], 2.0, &[]);
        approx::assert_relative_eq!(length(&whole), 1600.0 / 2.0, max_relative = 0.01);
        let holed = lines(&[square(0.0, 40.0), square(10.0, 30.0)], 2.0, &[]);
        approx::assert_relative_eq!(length(&holed), 1200.0 / 2.0, max_relative = 0.01);
        let gap = Block {
            middle: coord! { x: 20.0, y: 20.0 },
            width_mm: 20.0,
            height_mm: 20.0,
            turn_deg: 0.0,
        };
        let open = lines(&[square(0.0, 40.0)], 2.0, &[gap]);
        approx::assert_relative_eq!(length(&open), length(&holed), max_relative = 1e-6);
        assert!(
            open.iter()
                .all(|l| gap.cuts(l[0], l[1]).is_none_or(|(a, b)| b - a < 1e-6))
        );
    }
}
