//! What is to be told of a walk's cleaning, its laps and its closing. A walk too open to close is refused.

use super::lapped::Lapped;
use crate::left_out::LeftOut;
use crate::limits::SPARE_TURF_SHARE;
use crate::limits::walk::{closing, laps, left_out};
use crate::notice::{Course, Notice};
use crate::process::hand::PACES_M;
use crate::refusal::Refusal;
use crate::ring::{cross, distance_m};
use crate::walk::clean::Cleaned;
use crate::walk::jumps::off_m;
use crate::walk::laps::{Laps, may_gape_m, noise_m};
use crate::walk::{Spot, pauses};
use geo::{ConvexHull, Coord, MultiPoint};

/// Notices for what cleaning took out.
pub(super) fn tell_cleaning(cleaned: &Cleaned, what: &Course) -> Vec<Notice> {
    let walk = || what.clone();
    let count = |reason: LeftOut| {
        let fixes = cleaned.removed.iter().filter(|r| r.1 == reason).count();
        (fixes > 0).then_some(fixes)
    };
    let told = [
        count(LeftOut::Spike).map(|fixes| Notice::SpikesRemoved {
            walk: walk(),
            fixes,
        }),
        count(LeftOut::Frozen).map(|fixes| Notice::PositionFroze {
            walk: walk(),
            fixes,
        }),
        count(LeftOut::OffTheWalk).map(|fixes| Notice::OffTheWalk {
            walk: walk(),
            fixes,
        }),
        (cleaned.alternating_m).map(|apart_m| Notice::StreamsAlternate {
            walk: walk(),
            apart_m,
        }),
        (cleaned.streams_apart_m).map(|apart_m| Notice::StreamsWoven {
            walk: walk(),
            apart_m,
        }),
    ];
    told.into_iter().flatten().collect()
}

/// A notice for way that is not in the laps: it may be another lap, or the lawn itself.
pub(super) fn tell_left_out(laps: &Laps, what: &Course) -> Option<Notice> {
    let (walk, count, turns) = (what.clone(), laps.count(), laps.turns_left_out);
    if laps.left_out > left_out::OF_WAY_SHARE {
        return Some(Notice::MostLeftOut {
            walk,
            share: laps.left_out,
        });
    }
    // Two laps that agree are the lawn, whatever became of a third one.
    let minor = count > 1 && turns < left_out::TURNS_BESIDE_LAPS;
    (turns > left_out::TURNS).then_some(match minor {
        true => Notice::PartLapUnused {
            walk,
            laps: count,
            turns,
        },
        false => Notice::LapLeftOut {
            walk,
            laps: count,
            turns,
        },
    })
}

/// A notice for laps that lie apart. Laps of one lawn lie on top of each other; two halves of one that were taken for two laps do not,
/// and their mean is half the lawn.
pub(super) fn tell_apart(lapped: &Lapped, perimeter_m: f64, what: &Course) -> Option<Notice> {
    let passes = lapped.passes.iter();
    let middles = passes.map(|pass| centre(&lapped.spots()[pass.first..=pass.last]));
    let apart_m = widest_m(middles.collect());
    (apart_m > told_apart_m(perimeter_m, lapped.track.sigma_m)).then(|| Notice::LapsLieApart {
        walk: what.clone(),
        laps: lapped.laps.count(),
        apart_m,
    })
}

/// Distance between the two places that lie furthest apart, metres; 0 of fewer than two. They are opposite corners of the hull (the line
/// stretched round all places): going round it, what is furthest from each side moves on with the sides (rotating calipers, Shamos 1978;
/// from memory).
fn widest_m(places: Vec<Coord<f64>>) -> f64 {
    let mut ring = MultiPoint::from(places)
        .convex_hull()
        .into_inner()
        .0
        .into_inner();
    ring.pop();
    let n = ring.len();
    let (mut widest_m, mut far) = (0.0f64, 1);
    for i in 0..n {
        let side = ring[(i + 1) % n] - ring[i];
        while cross(side, ring[(far + 1) % n] - ring[far % n]) > 0.0 {
            far += 1;
        }
        let opposite = ring[far % n];
        widest_m = (widest_m.max(distance_m(ring[i], opposite)))
            .max(distance_m(ring[(i + 1) % n], opposite));
    }
    widest_m
}

/// From how many metres between their middles on laps are told to lie apart.
pub(crate) fn told_apart_m(perimeter_m: f64, sigma_m: f64) -> f64 {
    (laps::APART_EDGE_SHARE * perimeter_m).max(laps::APART_SIGMAS * sigma_m)
}

/// The middle of a path: the mean along its length, so that standing somewhere does not count for more.
fn centre(path: &[Spot]) -> Coord<f64> {
    let (mut sum, mut way_m) = (Coord { x: 0.0, y: 0.0 }, 0.0);
    for pair in path.windows(2) {
        let step_m = distance_m(pair[0].at, pair[1].at);
        sum = sum + (pair[0].at + pair[1].at) * (0.5 * step_m);
        way_m += step_m;
    }
    if way_m > 0.0 { sum / way_m } else { path[0].at }
}

/// How far the laps end from any place that stopping short of the start, or walking past it, explains, at most, metres.
pub(super) fn stray_m(spots: &[Spot], laps: &Laps, sigma_m: f64) -> f64 {
    let ahead_m = (2.0 * sigma_m).clamp(1.0, 5.0);
    let way = |from: Option<&Spot>, to: Option<&Spot>| match (from, to) {
        (Some(from), Some(to)) if distance_m(from.at, to.at) > 0.0 => {
            (to.at - from.at) * (PACES_M / distance_m(from.at, to.at))
        }
        _ => Coord { x: 0.0, y: 0.0 },
    };
    laps.each()
        .map(|(first, last)| {
            let (start, end) = (&spots[first], &spots[last]);
            let on = spots[first..last]
                .iter()
                .find(|s| distance_m(s.at, start.at) >= ahead_m);
            let back = spots[first..last]
                .iter()
                .rev()
                .find(|s| distance_m(s.at, end.at) >= ahead_m);
            let gap = end.at - start.at;
            let (on, back) = (way(Some(start), on), way(Some(end), back));
            // He may stop short of the start or walk past it, and if it is a corner, do so round the corner.
            [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)]
                .into_iter()
                .map(|(a, b)| off_m(gap, on * a, back * b))
                .fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max)
}

/// Whether the log ends with the walk's start straight ahead. Whoever stops recording early leaves such a log; a position that jumped
/// rarely does.
pub(super) fn stops_short(spots: &[Spot], laps: &Laps) -> bool {
    let Some((first, last)) = laps.each().last() else {
        return false;
    };
    let (start, end) = (spots[first].at, spots[last].at);
    let gap_m = distance_m(start, end);
    // Someone who goes on elsewhere did not stop there; someone who stands while he switches off did.
    let goes_on = |spot: &Spot| distance_m(spot.at, end) > 0.5 * gap_m;
    if spots[last..].iter().any(goes_on) {
        return false;
    }
    let back = spots[first..last].iter().rev();
    let mut back = back.filter(|spot| distance_m(spot.at, end) >= gap_m.max(1.0));
    back.next().is_some_and(|from| {
        let way = (end - from.at) / distance_m(end, from.at);
        let ahead = start - end;
        let aside_m = cross(way, ahead).abs();
        way.x * ahead.x + way.y * ahead.y > 0.0 && aside_m < closing::AHEAD_SHARE * gap_m
    })
}

/// How far the place where the surveyor stood at the end of the laps is from where he stood at their start, metres; `None` where he did
/// not stand at both. As he stood there, no step between two fixes explains a distance.
pub(super) fn stood_apart_m(
    spots: &[Spot],
    laps: &Laps,
    pace_m_s: f64,
    step_s: f64,
) -> Option<f64> {
    const BESIDE_S: f64 = 20.0;
    // He stands where he sets out, and when the laps end he has gone on by no more than a couple of paces.
    const AT_M: f64 = 1.0;
    const NEAR_M: f64 = 2.5;
    let beside = ((BESIDE_S / step_s) as usize).clamp(3, 1000);
    let stood = |around: usize, from: usize, to: usize, within_m: f64| {
        let from = from.max(around.saturating_sub(beside));
        let to = to.min(around + beside).min(spots.len() - 1);
        let mut pauses = pauses::find(&spots[from..=to], pace_m_s);
        pauses.retain(|pause| distance_m(pause.at, spots[around].at) <= within_m);
        pauses
    };
    let apart_m = laps.legs.iter().filter_map(|leg| {
        let (first, last) = (leg.bounds[0], leg.bounds[leg.bounds.len() - 1]);
        let middle = (first + last) / 2;
        let out = stood(first, 0, middle, AT_M);
        let home = stood(last, middle, spots.len(), NEAR_M);
        out.iter()
            .flat_map(|out| home.iter().map(|home| distance_m(out.at, home.at)))
            .min_by(f64::total_cmp)
    });
    apart_m.max_by(f64::total_cmp)
}

/// The distance between a lap's ends, metres, that no stretch without a fix beside them explains, of the lap for which it is largest.
/// What may hide across such a stretch is in the band already, unless it is much of the lawn.
pub(super) fn unexplained_m(cleaned: &Cleaned, laps: &Laps, area_m2: f64) -> f64 {
    let unseen_m = |spot: usize| {
        let before = spot.saturating_sub(1);
        let from = cleaned.gaps.partition_point(|gap| gap.after < before);
        let beside = cleaned.gaps[from..]
            .iter()
            .take_while(|gap| gap.after <= spot);
        beside.map(|gap| gap.across_m).sum::<f64>()
    };
    let gaps_m = laps.legs.iter().flat_map(|leg| &leg.gaps_m);
    let left_m = |((first, last), &gap_m): ((usize, usize), &f64)| {
        // A straight closing line can cut a quarter of its square off a corner.
        let much = 0.25 * gap_m * gap_m > SPARE_TURF_SHARE * area_m2 * laps.count() as f64;
        let explained_m = if much {
            0.0
        } else {
            unseen_m(first) + unseen_m(last)
        };
        gap_m - explained_m
    };
    laps.each().zip(gaps_m).map(left_m).fold(0.0, f64::max)
}

/// A notice where the laps' ends are further apart than an error and a step explain.
///
/// # Errors
/// They are too far apart to be closed.
pub(super) fn tell_closing(
    lapped: &Lapped,
    area_m2: f64,
    perimeter_m: f64,
    what: &Course,
) -> Result<Option<Notice>, Refusal> {
    if lapped.corner_list {
        return Ok(None);
    }
    let Lapped { cleaned, laps, .. } = *lapped;
    let (spots, sigma_m) = (lapped.spots(), lapped.track.sigma_m);
    let gap_m = laps.widest_gap_m();
    if gap_m > closing::OF_EDGE_SHARE * perimeter_m {
        return Err(Refusal::TooOpen {
            walk: what.clone(),
            gap_m,
            edge_m: perimeter_m,
            unseen_m: 0.0,
        });
    }
    let beyond_m = noise_m(sigma_m) + closing::STRAYS_M;
    let unexplained_m = unexplained_m(cleaned, laps, area_m2);
    let stood_apart = || {
        let apart_m = stood_apart_m(spots, laps, cleaned.pace_m_s, cleaned.step_s);
        unexplained_m > beyond_m && apart_m.is_some_and(|apart_m| apart_m > beyond_m)
    };
    let strays_m = || stray_m(spots, laps, sigma_m).min(unexplained_m);
    if unexplained_m <= may_gape_m(sigma_m) && strays_m() <= beyond_m && !stood_apart() {
        return Ok(None);
    }
    let walk = what.clone();
    Ok(Some(match stops_short(spots, laps) {
        true => Notice::StoppedShort { walk, gap_m },
        false => Notice::ClosingGap { walk, gap_m },
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::walked::Track;
    use crate::survey::walked::passes::passes;
    use crate::walk::laps;

    /// Round 10 x 8 m at a metre and a fix a second, standing five seconds at each corner, and out to the gate; from fix `jump` on
    /// thrown 1.3 m along.
    fn walk(jump: usize) -> Vec<Spot> {
        let corners: [(f64, f64); 6] = [
            (0.0, 0.0),
            (10.0, 0.0),
            (10.0, 8.0),
            (0.0, 8.0),
            (0.0, 0.0),
            (-4.0, -3.0),
        ];
        let mut places = Vec::new();
        for pair in corners.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            places.extend([a; 5]);
            let steps = (b.0 - a.0).hypot(b.1 - a.1) as usize;
            places.extend((1..steps).map(|k| {
                let share = k as f64 / steps as f64;
                (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1))
            }));
        }
        places
            .into_iter()
            .enumerate()
            .map(|(fix, (x, y))| Spot {
                at: Coord {
                    x: if fix < jump { x } else { x - 1.3 },
                    y,
                },
                t_s: fix as f64,
                sigma_m: [0.02; 2],
                fix,
            })
            .collect()
    }

    fn cleaned(spots: Vec<Spot>) -> Cleaned {
        Cleaned {
            spots,
            step_s: 1.0,
            pace_m_s: 1.0,
            ..Cleaned::default()
        }
    }

    #[test]
    fn a_standstill_that_does_not_come_back_to_its_place_is_told() {
        for (jump, apart_m) in [(usize::MAX, 0.0), (24, 1.3)] {
            let spots = walk(jump);
            let laps = laps::find(&spots, 0.02).unwrap();
            let stood_m = stood_apart_m(&spots, &laps, 1.0, 1.0).unwrap();
            assert!((stood_m - apart_m).abs() < 1e-9, "{stood_m}");
            let cleaned = cleaned(spots);
            let lapped = Lapped {
                cleaned: &cleaned,
                laps: &laps,
                passes: &passes(&laps),
                track: &Track::of_test(0.02),
                corner_list: false,
            };
            let told = tell_closing(&lapped, 80.0, 36.0, &Course::default()).unwrap();
            assert_eq!(told.is_some(), apart_m > 0.0);
        }
    }

    /// Two rounds beside each other, 12 m on, and two of one lawn.
    #[test]
    fn laps_that_do_not_lie_on_each_other_are_told() {
        for (on_m, told) in [(12.0, true), (0.3, false)] {
            let spots: Vec<Spot> = (0..=72)
                .map(|i| {
                    let angle = (i % 36) as f64 / 36.0 * std::f64::consts::TAU;
                    Spot {
                        at: Coord {
                            x: 5.0 * angle.cos() + if i > 36 { on_m } else { 0.0 },
                            y: 5.0 * angle.sin(),
                        },
                        t_s: i as f64,
                        sigma_m: [1.0; 2],
                        fix: i,
                    }
                })
                .collect();
            let laps = Laps {
                legs: vec![laps::Leg {
                    bounds: vec![0, 36, 72],
                    turn: 1.0,
                    gaps_m: vec![0.0; 2],
                    elsewhere_m2: 0.0,
                }],
                inside: Coord { x: 0.0, y: 0.0 },
                left_out: 0.0,
                turns_left_out: 0.0,
            };
            let cleaned = cleaned(spots);
            let lapped = Lapped {
                cleaned: &cleaned,
                laps: &laps,
                passes: &passes(&laps),
                track: &Track::of_test(1.0),
                corner_list: false,
            };
            let apart = tell_apart(&lapped, 31.4, &Course::default());
            assert_eq!(apart.is_some(), told, "{on_m}");
        }
    }

    #[test]
    fn the_widest_is_that_of_all_pairs() {
        let mut chance = crate::trial::chance::Chance::stream(3, "widest");
        for n in (0..6).chain([40, 400]) {
            for flat in [1.0, 0.01, 0.0] {
                let places: Vec<Coord<f64>> = (0..n)
                    .map(|_| Coord {
                        x: 7.0 * chance.normal(),
                        y: flat * chance.normal(),
                    })
                    .collect();
                let pairs = places
                    .iter()
                    .flat_map(|&a| places.iter().map(move |&b| (a, b)));
                let of_all = pairs.map(|(a, b)| distance_m(a, b)).fold(0.0, f64::max);
                assert_eq!(widest_m(places), of_all, "{n} {flat}");
            }
        }
    }

    #[test]
    fn who_never_stood_says_nothing() {
        let spots: Vec<Spot> = walk(usize::MAX).into_iter().step_by(5).collect();
        let laps = laps::find(&spots, 0.02).unwrap();
        assert_eq!(stood_apart_m(&spots, &laps, 1.0, 1.0), None);
    }
}
