//! Whether a walk comes round a place that can be a lawn: once in each lap, along its edge and not to and fro, and round no other place
//! beside it. Each question has two limits: from the first on a notice is given, from the second on there is no area.

use crate::left_out::LeftOut;
use crate::limits::walk::round as limits;
use crate::notice::{Course, Notice};
use crate::process::hand::DRIVEN_M_S;
use crate::refusal::Refusal;
use crate::ring::foot;
use crate::ring::wound::{Wound, wound};
use crate::ring::{distance_m, dot, perimeter_of_m, signed_area_of_m2};
use crate::walk::Spot;
use crate::walk::clean::Cleaned;
use crate::walk::laps::agree::{self, Agreed, OddLap, OtherRound, other_round, stride};
use crate::walk::laps::{Laps, calmed, noise_m};
use geo::{ConvexHull, Coord, LineString, MultiPoint};

/// A notice where the edge was driven and not walked.
pub(super) fn driven(pace_m_s: f64, carry_sigma_m: f64, what: &Course) -> Option<Notice> {
    (pace_m_s > DRIVEN_M_S).then(|| Notice::Driven {
        walk: what.clone(),
        pace_m_s,
        carry_sigma_m,
    })
}

/// The laps that agree with each other.
///
/// # Errors
/// Most of them do not agree.
pub(super) fn agreed(
    spots: &[Spot],
    laps: Laps,
    sigma_m: f64,
    what: &Course,
) -> Result<Agreed, Refusal> {
    agree::agreed(spots, laps, sigma_m).map_err(|no| Refusal::LapsDisagree {
        walk: what.clone(),
        laps: no.laps,
        least_m2: no.least_m2,
        most_m2: no.most_m2,
    })
}

/// Gives the fixes of laps that were left out that reason in place of "lead-in" or "lead-out". Both lists are in the order of the walk.
pub(super) fn name(odd: &[OddLap], removed: &mut [(usize, LeftOut)], spots: &[Spot]) {
    for (fix, reason) in removed {
        let begun = odd.partition_point(|lap| spots[lap.first].fix <= *fix);
        let lap = begun.checked_sub(1).and_then(|lap| odd.get(lap));
        if lap.is_some_and(|lap| *fix <= spots[lap.last].fix)
            && matches!(reason, LeftOut::LeadIn | LeftOut::LeadOut)
        {
            *reason = LeftOut::OddLap;
        }
    }
}

/// What speaks against the laps found being the edge of a lawn, as notices.
///
/// # Errors
/// They cannot be one.
pub(super) fn look(
    cleaned: &Cleaned,
    agreed: &Agreed,
    sigma_m: f64,
    what: &Course,
    stands_in_beds: bool,
) -> Result<Vec<Notice>, Refusal> {
    let spots = &cleaned.spots;
    let mut told = tell_odd(spots, agreed, what);
    let lap = usual(spots, agreed, sigma_m);
    open(cleaned, &agreed.laps, &lap, sigma_m, what)?;
    told.extend(crossed(&lap, sigma_m, what)?);
    let elsewhere = other_round(spots, agreed, sigma_m, cleaned.pace_m_s);
    let to_beds = |other: &OtherRound| stands_in_beds && other.stood_within;
    let no_way_to_beds = elsewhere.filter(|other| !to_beds(other));
    told.extend(other(no_way_to_beds, agreed.usual_m2, what)?);
    told.extend(to_and_fro(&lap, sigma_m, what)?);
    // Laps that a jump has displaced are no way to somewhere else.
    if !elsewhere.is_some_and(|other| other.shifted) {
        told.extend(away(&agreed.laps, &lap, what)?);
    }
    Ok(told)
}

/// A notice for each lap that was left out.
fn tell_odd(spots: &[Spot], agreed: &Agreed, what: &Course) -> Vec<Notice> {
    let tell = |odd: &OddLap| Notice::LapDisagrees {
        walk: what.clone(),
        lap: odd.lap,
        of: odd.of,
        from_s: spots[odd.first].t_s,
        to_s: spots[odd.last].t_s,
        area_m2: odd.area_m2,
        others_m2: agreed.usual_m2,
    };
    agreed.odd.iter().map(tell).collect()
}

/// The lap whose area is the usual one, with its places evenly apart, and further apart than noise.
struct Usual {
    ring: Vec<Coord<f64>>,
    way_m: f64,
    wound: Wound,
}

/// Takes the lap whose area is nearest to the usual one.
fn usual(spots: &[Spot], agreed: &Agreed, sigma_m: f64) -> Usual {
    let laps = agreed
        .laps
        .legs
        .iter()
        .flat_map(|leg| leg.bounds.windows(2).map(move |w| (w[0], w[1], leg.turn)));
    let off_m2 = |&(first, last, turn): &(usize, usize, f64)| {
        let area_m2 = turn * signed_area_of_m2(spots[first..=last].iter().map(|spot| spot.at));
        (area_m2 - agreed.usual_m2).abs()
    };
    let (first, last, turn) = laps
        .min_by(|a, b| off_m2(a).total_cmp(&off_m2(b)))
        .unwrap_or((0, spots.len() - 1, 1.0));
    // The noise is averaged away first: at ten fixes a second it goes to and fro more than any walker.
    let calmed = calmed(&spots[first..=last], sigma_m);
    let every = stride(calmed.len());
    let all: Vec<Coord<f64>> = calmed.into_iter().step_by(every).collect();
    let apart_m = (perimeter_of_m(all.iter().copied()) / 240.0)
        .max(2.0 * sigma_m.min(3.0))
        .max(0.3);
    let mut ring: Vec<Coord<f64>> = Vec::new();
    for &at in &all {
        if ring
            .last()
            .is_none_or(|&last| distance_m(last, at) >= apart_m)
        {
            ring.push(at);
        }
    }
    Usual {
        way_m: perimeter_of_m(ring.iter().copied()),
        wound: wound(&all, turn),
        ring,
    }
}

/// Refuses a lap of which a good part was never walked.
fn open(
    cleaned: &Cleaned,
    laps: &Laps,
    lap: &Usual,
    sigma_m: f64,
    what: &Course,
) -> Result<(), Refusal> {
    let gap_m = laps.widest_gap_m();
    let step_m = cleaned.pace_m_s * cleaned.step_s;
    // What one lap passes over, another may show.
    let unseen_m: f64 = laps
        .each()
        .map(|(first, last)| {
            let gaps = &cleaned.gaps;
            let from = gaps.partition_point(|gap| gap.after < first);
            let within = gaps[from..].iter().take_while(|gap| gap.after < last);
            within.map(|gap| gap.across_m).sum::<f64>()
        })
        .fold(f64::INFINITY, f64::min);
    let closes =
        gap_m <= (limits::OPEN_SHARE * lap.way_m).min(limits::OPEN_M) + noise_m(sigma_m) + step_m;
    if closes && gap_m + unseen_m <= limits::UNSEEN_SHARE * lap.way_m + noise_m(sigma_m) {
        return Ok(());
    }
    Err(Refusal::TooOpen {
        walk: what.clone(),
        gap_m,
        edge_m: lap.way_m,
        unseen_m,
    })
}

/// Looks for lobes that are walked round the other way, as in a figure of eight: they count against the rest.
fn crossed(lap: &Usual, sigma_m: f64, what: &Course) -> Result<Option<Notice>, Refusal> {
    let Wound {
        round_m2, back_m2, ..
    } = lap.wound;
    let beyond_m2 = back_m2 - limits::LOOPS_SIGMAS2 * sigma_m * sigma_m;
    if beyond_m2 > limits::BACK_SHARE.1 * round_m2 {
        return Err(Refusal::FigureOfEight {
            walk: what.clone(),
            round_m2,
            back_m2,
        });
    }
    Ok(
        (beyond_m2 > limits::BACK_SHARE.0 * round_m2).then(|| Notice::LapsCross {
            walk: what.clone(),
            back_m2,
        }),
    )
}

/// Looks at another place that the walk comes round as well: if it is large, nobody can say which is meant.
fn other(
    other: Option<OtherRound>,
    usual_m2: f64,
    what: &Course,
) -> Result<Option<Notice>, Refusal> {
    let Some(OtherRound {
        area_m2,
        part,
        shifted,
        ..
    }) = other
    else {
        return Ok(None);
    };
    if !shifted && (area_m2 > limits::OTHER_SHARE.1 * usual_m2 || part > 1.0) {
        return Err(Refusal::SeveralRounds {
            walk: what.clone(),
            other_m2: area_m2,
        });
    }
    Ok(
        (area_m2 > limits::OTHER_SHARE.0 * usual_m2 || part > limits::OTHER_SHARE.1).then(|| {
            Notice::OtherRound {
                walk: what.clone(),
                area_m2,
            }
        }),
    )
}

/// Looks for a path that was walked out and back, or up and down as in mowing: it is no edge, whatever lies between its lanes.
fn to_and_fro(lap: &Usual, sigma_m: f64, what: &Course) -> Result<Option<Notice>, Refusal> {
    let part = beside(lap, sigma_m);
    let hull = MultiPoint::from(lap.ring.clone()).convex_hull();
    let around_m = perimeter_of_m(LineString::clone(hull.exterior()).0);
    let longer = lap.way_m / around_m.max(1e-9);
    let (beside, fro) = (limits::BESIDE_SHARE, limits::TO_AND_FRO);
    let walk = what.clone();
    if part > beside.1 || longer > fro.1 {
        return Err(if part > beside.0 {
            Refusal::OutAndBack {
                walk,
                beside_share: part,
            }
        } else {
            Refusal::UpAndDown {
                walk,
                times_as_long: longer,
            }
        });
    }
    Ok(match (part > beside.0, longer > fro.0) {
        (true, _) => Some(Notice::BackBeside { walk, share: part }),
        (false, true) => Some(Notice::ToAndFro {
            walk,
            times_as_long: longer,
        }),
        (false, false) => None,
    })
}

/// The part of a lap's places, 0 to 1, that have another part of the lap close beside them, walked the other way.
fn beside(lap: &Usual, sigma_m: f64) -> f64 {
    // Two parts go opposite ways if the cosine of the angle between them is below this.
    const BACK: f64 = -0.7;
    let n = lap.ring.len();
    if n < 8 {
        return 0.0;
    }
    let near_m = (limits::NEAR_SHARE.0 * lap.way_m)
        .max((limits::NEAR_SIGMAS * sigma_m).min(limits::NEAR_SHARE.1 * lap.way_m));
    let next = |i: usize| lap.ring[(i + 1) % n];
    let along: Vec<Coord<f64>> = (0..n)
        .map(|i| (next(i) - lap.ring[i]) / distance_m(next(i), lap.ring[i]).max(1e-9))
        .collect();
    let step_m = lap.way_m / n as f64;
    // The path is beside itself over its own next steps, which do not count.
    let apart = (3.0 * near_m / step_m).ceil() as usize + 1;
    let goes_back = |i: usize| {
        (apart..n.saturating_sub(apart))
            .map(|k| (i + k) % n)
            .any(|j| {
                dot(along[i], along[j]) < BACK
                    && distance_m(lap.ring[i], foot(lap.ring[i], lap.ring[j], next(j))) < near_m
            })
    };
    (0..n).filter(|&i| goes_back(i)).count() as f64 / n as f64
}

/// Looks for laps that are a small part of a long path and so an accident of it.
fn away(laps: &Laps, lap: &Usual, what: &Course) -> Result<Option<Notice>, Refusal> {
    let laps_m = lap.way_m * laps.count() as f64;
    let away_m = laps_m * laps.left_out / (1.0 - laps.left_out).max(1e-3);
    if away_m < limits::AWAY_M || laps.left_out < limits::AWAY_SHARE.0 {
        return Ok(None);
    }
    if laps.left_out > limits::AWAY_SHARE.1 {
        return Err(Refusal::IsElsewhere {
            walk: what.clone(),
            away_m,
            laps: laps.count(),
            lap_m: lap.way_m,
        });
    }
    Ok(Some(Notice::MostlyElsewhere {
        walk: what.clone(),
        away_m,
        laps: laps.count(),
        lap_m: lap.way_m,
    }))
}
