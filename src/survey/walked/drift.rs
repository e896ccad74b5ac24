//! Whether the position drifted away through a walk while the receiver claimed that it did not.
//!
//! Several laps show it by lying apart. A single lap shows it where the surveyor stood or turned at its start and at its end: his path
//! may cross itself, and so seem to close, at a place where he never closed it (`ends`).

use super::ends::{self, Ends};
use super::passes::Pass;
use super::{Track, Walked};
use crate::band::evidence::Difference;
use crate::limits::walk::drift;
use crate::ring::{signed_area_of_m2, size_m};
use crate::tape::matrix::Matrix;
use crate::walk::Spot;
use geo::Coord;

/// How far a walk comes back from where it began, beyond what its receiver claims.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// From the place where it began to the same place as it appears later, plane metres.
    pub by: Coord<f64>,
    pub told_by: ToldBy,
    /// The most area that it moves, m², if it came evenly from some moment of the walk on.
    pub moves_m2: f64,
}

/// What shows a drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToldBy {
    /// The surveyor stood at the start and at the end, apart.
    Stood,
    /// He turned on to the edge and off it, apart.
    Turned,
    /// His laps lie apart.
    Laps,
}

/// The drift that is furthest beyond what the receiver claims, if any is.
pub(super) fn find(
    spots: &[Spot],
    passes: &[Pass],
    differences: &[Difference],
    track: &Track,
) -> Option<Drift> {
    let both_m = std::f64::consts::SQRT_2 * track.sigma_m;
    let (seen, explained_m) = match passes {
        [only] => {
            let explained_m = drift::ENDS_SIGMAS * both_m
                + drift::ENDS_HAND_M
                + drift::ENDS_OF_STEP * track.pace_m_s * track.step_s;
            // If that is as far as the ends are looked for, the ends say nothing.
            if explained_m > drift::ENDS_OF_REACH * ends::REACH_M {
                return None;
            }
            let ends = Ends::new(spots, only, track)?;
            let turned = ends.turned_apart().into_iter();
            let turned = turned.map(|by| (by, ToldBy::Turned));
            let stood = ends.stood_apart().map(|by| (by, ToldBy::Stood));
            (turned.chain(stood).collect(), explained_m)
        }
        _ => (
            laps_apart(spots, passes, differences),
            drift::LAPS_SIGMAS * both_m + drift::LAPS_HAND_M,
        ),
    };
    let seen: Vec<(Coord<f64>, ToldBy)> = seen;
    let furthest = seen
        .into_iter()
        .max_by(|a, b| size_m(a.0).total_cmp(&size_m(b.0)));
    furthest
        .filter(|(by, _)| size_m(*by) > explained_m)
        .map(|(by, told_by)| Drift {
            by,
            told_by,
            moves_m2: moves_m2(spots, passes, by),
        })
}

impl Walked {
    /// The drift, if it may move an area of this band by enough to say so.
    pub(crate) fn drifts_past(&self, band_m2: f64) -> Option<&Drift> {
        let drift = self.odd.drift.as_ref();
        drift.filter(|drift| drift.moves_m2 > drift::MOVES_BANDS * band_m2)
    }
}

/// How far each lap lies from the one before it: in its middle, at its two ends if that changes evenly along it, and added up over the
/// laps so far.
fn laps_apart(
    spots: &[Spot],
    passes: &[Pass],
    differences: &[Difference],
) -> Vec<(Coord<f64>, ToldBy)> {
    let mut apart = Vec::new();
    let mut sum = Coord { x: 0.0, y: 0.0 };
    for pass in passes {
        let (from_s, to_s) = (spots[pass.first].t_s, spots[pass.last].t_s);
        let of_lap = |d: &&Difference| d.t_s[0] >= from_s && d.t_s[0] < to_s;
        let seen: Vec<&Difference> = differences.iter().filter(of_lap).collect();
        // The place of a difference along the lap: -1 at its start, 1 at its end.
        let along = |d: &Difference| 2.0 * (d.t_s[0] - from_s) / (to_s - from_s) - 1.0;
        if let Some([mean, change]) = displaced(&seen, along) {
            sum = sum + mean;
            apart.extend([mean, mean - change, mean + change, sum]);
        }
    }
    apart.into_iter().map(|by| (by, ToldBy::Laps)).collect()
}

/// The displacement of a lap that explains these offsets best, by least squares: in its middle, and how it changes from the middle to the
/// end. `None` of too few offsets.
fn displaced(seen: &[&Difference], along: impl Fn(&Difference) -> f64) -> Option<[Coord<f64>; 2]> {
    // At least as many offsets as there are unknowns. Unknowns of which the offsets hardly tell anything are drawn towards zero, by this
    // part of the weight of each offset.
    const LEAST: usize = 4;
    const LOOSE: f64 = 0.05;
    if seen.len() < LEAST {
        return None;
    }
    let row = |d: &Difference| {
        let [x, y] = d.normal;
        [x, y, x * along(d), y * along(d)]
    };
    let sum = |value: &dyn Fn(&Difference) -> f64| seen.iter().map(|d| value(d)).sum::<f64>();
    let matrix = Matrix::from_fn(4, 4, |i, j| {
        let loose = if i == j {
            LOOSE * seen.len() as f64
        } else {
            0.0
        };
        sum(&|d| row(d)[i] * row(d)[j]) + loose
    });
    let right: Vec<f64> = (0..4).map(|i| sum(&|d| row(d)[i] * d.offset_m)).collect();
    match matrix.cholesky()?.solve(&right)[..] {
        [x, y, dx, dy] => Some([Coord { x, y }, Coord { x: dx, y: dy }]),
        _ => None,
    }
}

/// How much area a drift by `by` moves, m², if it came evenly from some moment of the walk to its end; of several moments the worst.
fn moves_m2(spots: &[Spot], passes: &[Pass], by: Coord<f64>) -> f64 {
    /// Moments it may begin at, as parts of the walk.
    const FROM: [f64; 4] = [0.0, 0.25, 0.5, 0.75];
    let (Some(first), Some(last)) = (passes.first(), passes.last()) else {
        return 0.0;
    };
    let (from_s, to_s) = (spots[first.first].t_s, spots[last.last].t_s);
    let holds_m2 = |part: &dyn Fn(f64) -> f64| -> f64 {
        let lap_m2 = |pass: &Pass| {
            let lap = &spots[pass.first..=pass.last];
            let undone = lap.iter().map(|spot| {
                let gone = (spot.t_s - from_s) / (to_s - from_s);
                spot.at - by * part(gone)
            });
            pass.turn * signed_area_of_m2(undone)
        };
        passes.iter().map(lap_m2).sum::<f64>() / passes.len() as f64
    };
    let as_walked_m2 = holds_m2(&|_| 0.0);
    FROM.into_iter()
        .map(|from| (holds_m2(&|gone| (gone - from).max(0.0) / (1.0 - from)) - as_walked_m2).abs())
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::walked::passes::passes;
    use crate::walk::{laps, pauses};

    /// Through these places at a metre and a fix a second, standing five seconds at each that is to be stood at; the position drifts evenly by `drift`
    /// from the first fix to the last.
    fn walk(places: &[(f64, f64)], stands: bool, drift: (f64, f64)) -> Vec<Spot> {
        let mut at = Vec::new();
        for pair in places.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let steps = (b.0 - a.0).hypot(b.1 - a.1).round();
            at.extend(std::iter::repeat_n(a, if stands { 5 } else { 1 }));
            at.extend((1..steps as usize).map(|k| {
                let part = k as f64 / steps;
                (a.0 + part * (b.0 - a.0), a.1 + part * (b.1 - a.1))
            }));
        }
        let n = at.len() as f64;
        let drifted = at.into_iter().enumerate().map(|(fix, (x, y))| {
            let gone = fix as f64 / n;
            (x + drift.0 * gone, y + drift.1 * gone)
        });
        spots(&drifted.collect::<Vec<_>>())
    }

    /// A fix a second.
    fn spots(places: &[(f64, f64)]) -> Vec<Spot> {
        let spot = |(fix, &(x, y)): (usize, &(f64, f64))| Spot {
            at: Coord { x, y },
            t_s: fix as f64,
            sigma_m: [0.02; 2],
            fix,
        };
        places.iter().enumerate().map(spot).collect()
    }

    fn found(spots: &[Spot], differences: &[Difference]) -> Option<(ToldBy, f64, f64)> {
        let laps = laps::find(spots, 0.02).unwrap();
        let drift = find(spots, &passes(&laps), differences, &Track::of_test(0.02))?;
        Some((drift.told_by, size_m(drift.by), drift.moves_m2))
    }

    /// From the gate below the middle of a side on to it, once round, `on` past the start and out again.
    fn once(on: f64) -> Vec<(f64, f64)> {
        let corners = [(20.0, 0.0), (20.0, 16.0), (0.0, 16.0), (0.0, 0.0)];
        let mut places = vec![(10.0, -12.0), (10.0, 0.0)];
        places.extend(corners);
        places.extend([(10.0 + on, 0.0), (10.0 + on, -12.0)]);
        places
    }

    #[test]
    fn a_lap_that_comes_back_is_left_alone() {
        for (on, stands) in [(0.0, false), (0.0, true), (4.0, false), (4.0, true)] {
            assert_eq!(found(&walk(&once(on), stands, (0.0, 0.0)), &[]), None);
        }
    }

    /// If the position drifts inwards, the way out crosses the first side; if outwards, the last side crosses the way in. At the crossing
    /// the path closes to the centimetre.
    #[test]
    fn ends_that_do_not_come_back_are_told_though_the_path_crosses_itself() {
        for (on, y) in [(0.0, 6.0), (0.0, -6.0), (3.0, 6.0), (3.0, -6.0)] {
            let spots = walk(&once(on), false, (0.0, y));
            let laps = laps::find(&spots, 0.02).unwrap();
            assert!(laps.closing_gap_m() < 0.8, "{}", laps.closing_gap_m());
            let (told_by, by_m, moves_m2) =
                found(&spots, &[]).unwrap_or_else(|| panic!("{on} {y}"));
            assert_eq!(told_by, ToldBy::Turned);
            // Most of the drift has come by the end of the lap.
            assert!((3.5..7.0).contains(&by_m), "{by_m}");
            assert!(moves_m2 > 20.0, "{moves_m2}");
        }
    }

    /// A round lawn without corners, whose path closes in a lobe of it. What was walked before and after the lobe runs on in a bend, as
    /// no way in or out does.
    #[test]
    fn bends_before_and_after_the_lap_are_told() {
        // Steps of a metre, and by how many degrees each turns.
        let bent = |degrees: [f64; 3]| {
            let turns = [12, 28, 12].into_iter().zip(degrees);
            let turns = turns.flat_map(|(steps, by)| std::iter::repeat_n(by, steps));
            let (mut at, mut heading) = ((0.0, 0.0), 0.0_f64);
            let mut places = vec![at];
            for by in turns {
                at = (at.0 + heading.cos(), at.1 + heading.sin());
                heading += by.to_radians();
                places.push(at);
            }
            spots(&places)
        };
        let (told_by, by_m, _) = found(&bent([-6.0, 11.0, -6.0]), &[]).unwrap();
        assert_eq!(told_by, ToldBy::Turned);
        assert!(by_m > 3.0, "{by_m}");
        // The same lobe between two straight ways, as at a corner of a lawn.
        assert_eq!(found(&bent([0.0, 11.0, 0.0]), &[]), None);
    }

    /// A walk that begins at a corner, in line with the first side. Only that the surveyor stood there shows where it began.
    #[test]
    fn standing_apart_is_told_where_no_turn_shows() {
        let corners = [(20.0, 0.0), (20.0, 16.0), (0.0, 16.0), (0.0, 0.0)];
        let mut places = vec![(-9.0, 0.0), (0.0, 0.0)];
        places.extend(corners);
        places.extend([(0.0, -9.0)]);
        let told = |stands: bool, drift| found(&walk(&places, stands, drift), &[]).map(|f| f.0);
        assert_eq!(told(true, (6.0, 0.0)), Some(ToldBy::Stood));
        assert_eq!(told(true, (0.0, 0.0)), None);
        assert_eq!(told(false, (0.0, 0.0)), None);
        let spots = walk(&places, true, (6.0, 0.0));
        assert!(pauses::find(&spots, 1.0).len() >= 5);
    }

    #[test]
    fn laps_further_apart_from_place_to_place_are_told_by_how_far() {
        let sides = [[0.0, 1.0], [-1.0, 0.0], [0.0, -1.0], [1.0, 0.0]];
        let corners = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];
        let mut places = corners.to_vec();
        places.extend(corners);
        places.push(corners[0]);
        let spots = walk(&places, false, (0.0, 0.0));
        // The second lap lies beside the first by up to 4 m to the east at its end.
        let seen = |by_m: f64| -> Vec<Difference> {
            (0..12)
                .map(|k| Difference {
                    t_s: [40.0 * k as f64 / 12.0, 40.0 + 40.0 * k as f64 / 12.0],
                    offset_m: by_m * k as f64 / 12.0 * sides[k / 3][0],
                    normal: sides[k / 3],
                    sigma_m: 0.02,
                    hand_m: 0.05,
                })
                .collect()
        };
        let (told_by, by_m, _) = found(&spots, &seen(4.0)).unwrap();
        assert_eq!(told_by, ToldBy::Laps);
        assert!((2.5..4.5).contains(&by_m), "{by_m}");
        assert_eq!(found(&spots, &seen(0.2)), None);
    }
}
