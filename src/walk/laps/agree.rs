//! Whether the laps found are laps of one lawn. What was taken for one lap but goes round twice is split into two; a lap that holds
//! another area than most is left out and named; where no majority agrees there is no result. The file also looks for another closed
//! round beside the laps, such as a bed walked in the same log.

use super::inside::winding_rad;
use super::{Laps, Leg};
use crate::limits::walk::{laps as limits, round};
use crate::ring::wound::wound;
use crate::ring::{distance_m, distance2_m2, perimeter_of_m, signed_area_of_m2};
use crate::walk::pace::median;
use crate::walk::{Spot, pauses};
use geo::Coord;
use std::f64::consts::PI;

/// A lap that was left out because it holds another area than the rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OddLap {
    /// Which of all laps it is, counted from 1.
    pub lap: usize,
    /// The number of all laps, the odd ones among them.
    pub of: usize,
    /// First and last spot of it.
    pub first: usize,
    pub last: usize,
    pub area_m2: f64,
}

/// What became of the laps.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreed {
    pub laps: Laps,
    pub odd: Vec<OddLap>,
    /// The median of what the laps hold, m², worked out before any is left out.
    pub usual_m2: f64,
}

/// No majority of the laps agrees: how many there are, and the least and the most that one of them holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disagree {
    pub laps: usize,
    pub least_m2: f64,
    pub most_m2: f64,
}

/// By how much noise and the hand may make two laps of one lawn differ in area, m²: a width, by the length of the lap.
fn allowed_m2(sigma_m: f64, way_m: f64) -> f64 {
    (limits::ODD_SIGMAS * sigma_m + limits::ODD_HAND_M) * way_m
}

/// How many places of a lap are used at the most: they are enough for how often it goes round, and for its length.
const PLACES: usize = 400;

/// The step with which `count` places are thinned to [`PLACES`] at the most.
pub(crate) fn stride(count: usize) -> usize {
    count.div_ceil(PLACES).max(1)
}

/// The places of a stretch of a walk, thinned by number to [`PLACES`] at the most.
fn places(spots: &[Spot]) -> Vec<Coord<f64>> {
    spots
        .iter()
        .step_by(stride(spots.len()))
        .map(|spot| spot.at)
        .collect()
}

/// One lap: its spots, and what it holds.
#[derive(Debug, Clone, Copy)]
struct Held {
    first: usize,
    last: usize,
    area_m2: f64,
    way_m: f64,
}

/// What each lap of a leg holds. Areas are positive in the direction of the leg.
fn held(spots: &[Spot], leg: &Leg) -> Vec<Held> {
    let lap = |w: &[usize]| {
        let ring = || spots[w[0]..=w[1]].iter().map(|spot| spot.at);
        Held {
            first: w[0],
            last: w[1],
            area_m2: leg.turn * signed_area_of_m2(ring()),
            way_m: perimeter_of_m(places(&spots[w[0]..=w[1]])),
        }
    };
    leg.bounds.windows(2).map(lap).collect()
}

/// Splits laps that go round more often than once, and leaves out those that hold another area than most.
///
/// # Errors
/// No more than half of the laps agree.
pub(crate) fn agreed(spots: &[Spot], mut laps: Laps, sigma_m: f64) -> Result<Agreed, Disagree> {
    for leg in &mut laps.legs {
        take_apart(spots, leg, sigma_m);
    }
    let of_leg: Vec<Vec<Held>> = laps.legs.iter().map(|leg| held(spots, leg)).collect();
    let all: Vec<Held> = of_leg.concat();
    let mut areas_m2: Vec<f64> = all.iter().map(|lap| lap.area_m2).collect();
    let usual_m2 = median(&mut areas_m2).unwrap_or(0.0);
    let mut off_m2: Vec<f64> = all
        .iter()
        .map(|lap| (lap.area_m2 - usual_m2).abs())
        .collect();
    // 1.4826 times the median distance from the median is one sigma if the areas are normally distributed, and outliers hardly move it.
    // Five sigmas are passed once in a million.
    let scatter_m2 = if all.len() > 3 {
        (5.0 * 1.4826 * median(&mut off_m2).unwrap_or(0.0))
            .min(limits::SCATTER_SHARE * usual_m2.abs())
    } else {
        0.0
    };
    let fits = |lap: &Held| {
        let allowed_m2 = allowed_m2(sigma_m, lap.way_m).max(scatter_m2);
        (lap.area_m2 - usual_m2).abs() <= allowed_m2.max(limits::ODD_SHARE * usual_m2.abs())
    };
    // Of two laps that disagree the median is one of them, and nothing says which is right: more than half must agree.
    let kept = all.iter().filter(|lap| fits(lap)).count();
    if 2 * kept <= all.len() {
        return Err(Disagree {
            laps: all.len(),
            least_m2: areas_m2.iter().copied().fold(f64::INFINITY, f64::min),
            most_m2: areas_m2.into_iter().fold(f64::NEG_INFINITY, f64::max),
        });
    }
    let odd: Vec<OddLap> = (1..)
        .zip(&all)
        .filter(|(_, lap)| !fits(lap))
        .map(|(lap, held)| OddLap {
            lap,
            of: all.len(),
            first: held.first,
            last: held.last,
            area_m2: held.area_m2,
        })
        .collect();
    if !odd.is_empty() {
        laps.legs = laps
            .legs
            .iter()
            .zip(&of_leg)
            .flat_map(|(leg, held)| kept_of(leg, &held.iter().map(fits).collect::<Vec<bool>>()))
            .collect();
    }
    Ok(Agreed {
        laps,
        odd,
        usual_m2,
    })
}

/// Splits a leg where laps were left out: each run of kept laps is a leg of its own.
fn kept_of(leg: &Leg, kept: &[bool]) -> Vec<Leg> {
    let mut legs = Vec::new();
    let mut from = 0;
    while from < kept.len() {
        let run = kept[from..].iter().take_while(|&&kept| kept).count();
        if run > 0 {
            legs.push(Leg {
                bounds: leg.bounds[from..=from + run].to_vec(),
                turn: leg.turn,
                gaps_m: leg.gaps_m[from..from + run].to_vec(),
                elsewhere_m2: leg.elsewhere_m2,
            });
        }
        from += run + 1;
    }
    legs
}

/// From this part of what a lap goes round on, what it goes round twice is more than a place where its ends cross.
const TWICE: f64 = 0.3;

/// Splits each lap of a leg that goes round most of its inside twice or more often. The lap then counts as several.
fn take_apart(spots: &[Spot], leg: &mut Leg, sigma_m: f64) {
    let mut bounds = vec![leg.bounds[0]];
    for lap in leg.bounds.windows(2) {
        let ring = places(&spots[lap[0]..=lap[1]]);
        let round = wound(&ring, leg.turn);
        let noise_m2 = allowed_m2(sigma_m, perimeter_of_m(ring.iter().copied()));
        if round.more_m2 > (TWICE * round.round_m2).max(noise_m2) {
            let times = (round.signed_m2 / round.round_m2).round().max(2.0) as usize;
            bounds.extend(parted(spots, lap[0], lap[1], times));
        }
        bounds.push(lap[1]);
    }
    if bounds.len() > leg.bounds.len() {
        let gap_m = |w: &[usize]| distance_m(spots[w[0]].at, spots[w[1]].at);
        leg.gaps_m = bounds.windows(2).map(gap_m).collect();
        leg.bounds = bounds;
        leg.elsewhere_m2 = 0.0;
    }
}

/// Where a stretch that goes round `times` times comes by its start again: the spots nearest to the start at about equal parts of the
/// way. Gives `times - 1` of them.
fn parted(spots: &[Spot], first: usize, last: usize, times: usize) -> Vec<usize> {
    // Laps of one walker differ in length by less than this part of one.
    const UNEQUAL: f64 = 0.25;
    let way_m: Vec<f64> = std::iter::once(0.0)
        .chain(spots[first..=last].windows(2).scan(0.0, |way, w| {
            *way += distance_m(w[0].at, w[1].at);
            Some(*way)
        }))
        .collect();
    let lap_m = way_m[way_m.len() - 1] / times as f64;
    let at_m = |m: f64| way_m.partition_point(|&way| way < m);
    (1..times)
        .filter_map(|lap| {
            let (from, to) = (lap as f64 - UNEQUAL, lap as f64 + UNEQUAL);
            (at_m(from * lap_m)..at_m(to * lap_m))
                .map(|i| first + i)
                .min_by(|&a, &b| {
                    let away = |i: usize| distance2_m2(spots[i].at, spots[first].at);
                    away(a).total_cmp(&away(b))
                })
        })
        .collect()
}

/// Another closed round that the walk makes beside its laps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtherRound {
    pub area_m2: f64,
    /// The way of all rounds in that stretch, as a part of the way of all laps.
    pub part: f64,
    /// It holds about as much as a lap and lies near to them: it may be a lap of the same lawn, shifted by a jump.
    pub shifted: bool,
    /// It lies within the laps and the surveyor stood still on it, as one does on the way round beds.
    pub stood_within: bool,
}

/// The largest closed round that the walk makes before, between or after its laps, if it is another place than theirs and holds more than
/// the loops that noise makes; `None` otherwise. Plain ways in and out go round nothing.
pub(crate) fn other_round(
    spots: &[Spot],
    agreed: &Agreed,
    sigma_m: f64,
    pace_m_s: f64,
) -> Option<OtherRound> {
    let laps = &agreed.laps;
    let way_m = |legs: &[Held]| -> f64 { legs.iter().map(|lap| lap.way_m).sum() };
    let laps_m: f64 = laps.legs.iter().map(|leg| way_m(&held(spots, leg))).sum();
    let lap_m = laps_m / laps.count().max(1) as f64;
    let ring = places(&spots[laps.legs[0].bounds[0]..=laps.legs[0].bounds[1]]);
    let alike = |widest: &Held| (0.5..2.0).contains(&(widest.area_m2 / agreed.usual_m2));
    let about = |inside: Coord<f64>| {
        winding_rad(ring.iter().copied(), inside)
            .last()
            .is_some_and(|rad| rad.abs() > PI)
    };
    // Only a sample of a round's places is held against the laps: all of them would take time in the square of its length.
    const SAMPLED: usize = 32;
    let within = |spots: &[Spot]| {
        let sample = || spots.iter().step_by(spots.len().div_ceil(SAMPLED));
        let inside = sample().filter(|spot| about(spot.at)).count();
        inside as f64 >= round::WITHIN_SHARE * sample().count() as f64
    };
    beside(agreed, spots.len() - 1)
        .into_iter()
        .filter(|&(from, to)| {
            to > from + 3
                && perimeter_of_m(places(&spots[from..=to])) > round::OTHER_LAP_SHARE * lap_m
        })
        .filter_map(|(from, to)| {
            let stretch = &spots[from..=to];
            let found = super::find(stretch, sigma_m).ok()?;
            let rounds: Vec<Held> = found
                .legs
                .iter()
                .flat_map(|leg| held(stretch, leg))
                .collect();
            let widest = rounds
                .iter()
                .max_by(|a, b| a.area_m2.total_cmp(&b.area_m2))?;
            let more = widest.area_m2 > round::LOOPS_SIGMAS2 * sigma_m * sigma_m;
            let round = &stretch[widest.first..=widest.last];
            let apart_m = distance_m(middle(&places(round)), middle(&ring));
            (more && !(alike(widest) && about(found.inside))).then(|| OtherRound {
                area_m2: widest.area_m2,
                part: way_m(&rounds) / laps_m,
                shifted: alike(widest) && apart_m < limits::APART_EDGE_SHARE * lap_m,
                stood_within: within(round) && !pauses::find(round, pace_m_s).is_empty(),
            })
        })
        .max_by(|a, b| a.area_m2.total_cmp(&b.area_m2))
}

/// The mean of some places; the origin where there is none.
fn middle(places: &[Coord<f64>]) -> Coord<f64> {
    let sum = places
        .iter()
        .fold(Coord { x: 0.0, y: 0.0 }, |sum, &at| sum + at);
    sum / places.len().max(1) as f64
}

/// The stretches of a walk before, between and after its laps, from spot to spot. Laps that were left out count as laps here.
fn beside(agreed: &Agreed, last: usize) -> Vec<(usize, usize)> {
    let mut taken: Vec<(usize, usize)> = agreed.laps.legs.iter().map(Leg::ends).collect();
    taken.extend(agreed.odd.iter().map(|odd| (odd.first, odd.last)));
    taken.sort_unstable();
    let before = std::iter::once(0).chain(taken.iter().map(|span| span.1));
    let after = taken.iter().map(|span| span.0).chain([last]);
    before.zip(after).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Rounds one after the other, 48 places each, of these radii.
    fn rounds(radii_m: &[f64]) -> Vec<Spot> {
        let n = 48 * radii_m.len();
        (0..=n)
            .map(|fix| {
                let angle = TAU * fix as f64 / 48.0;
                let radius_m = radii_m[(fix / 48).min(radii_m.len() - 1)];
                Spot {
                    at: Coord {
                        x: radius_m * angle.cos(),
                        y: radius_m * angle.sin(),
                    },
                    t_s: fix as f64,
                    sigma_m: [0.02; 2],
                    fix,
                }
            })
            .collect()
    }

    /// These spots, read as laps of so many rounds each.
    fn laps(spots: &[Spot], each: usize) -> Laps {
        let bounds: Vec<usize> = (0..spots.len()).step_by(48 * each).collect();
        Laps {
            legs: vec![Leg {
                gaps_m: vec![0.0; bounds.len() - 1],
                bounds,
                turn: 1.0,
                elsewhere_m2: 0.0,
            }],
            inside: Coord { x: 0.0, y: 0.0 },
            left_out: 0.0,
            turns_left_out: 0.0,
        }
    }

    #[test]
    fn a_lap_that_holds_four_times_as_much_is_left_out_and_named() {
        let mut radii_m = [60.0; 11];
        radii_m[3] = 120.0;
        let spots = rounds(&radii_m);
        let agreed = agreed(&spots, laps(&spots, 1), 2.0).unwrap();
        assert_eq!((agreed.laps.count(), agreed.laps.legs.len()), (10, 2));
        let odd: Vec<(usize, usize)> = agreed.odd.iter().map(|odd| (odd.lap, odd.of)).collect();
        assert_eq!(odd, [(4, 11)]);
    }

    #[test]
    fn twelve_laps_read_as_six_are_twelve() {
        let spots = rounds(&[60.0; 12]);
        let agreed = agreed(&spots, laps(&spots, 2), 2.0).unwrap();
        assert_eq!((agreed.laps.count(), agreed.odd.len()), (12, 0));
        assert!(
            (agreed.usual_m2 / (60.0 * 60.0 * PI) - 1.0).abs() < 0.01,
            "{}",
            agreed.usual_m2
        );
    }

    #[test]
    fn where_no_most_of_the_laps_agree_there_is_none() {
        for radii_m in [
            &[20.0, 30.0][..],
            &[20.0, 26.0, 33.0],
            &[40.0, 34.0, 28.0, 22.0, 16.0, 10.0],
        ] {
            let spots = rounds(radii_m);
            assert!(
                agreed(&spots, laps(&spots, 1), 0.02).is_err(),
                "{radii_m:?}"
            );
        }
        // As far as noise and the hand may put them apart they agree: the band says so.
        for (radii_m, sigma_m) in [([20.0, 20.3], 0.02), ([20.0, 25.0], 4.0)] {
            let spots = rounds(&radii_m);
            assert!(
                agreed(&spots, laps(&spots, 1), sigma_m).is_ok(),
                "{radii_m:?}"
            );
        }
    }
}
