//! What in a walk makes the area doubtful. Each finding is weighed against the band: what moves the area by little beside what is unsure
//! anyway is not told.

use super::Survey;
use super::walked::{Drift, ToldBy, Walked};
use crate::limits::SPARE_TURF_SHARE;
use crate::limits::walk::{crossing, drift, gap, laps};
use crate::normal;
use crate::notice::{Course, Notice};
use crate::ring::size_m;
use crate::walk::clean::Gap;

/// All such notices. `band_m2` is the band with what the tape has settled; `walked_band_m2` is the 95 % band before any tape, against
/// which noise is weighed.
pub(super) fn of(survey: &Survey, band_m2: f64, walked_band_m2: f64) -> Vec<Notice> {
    let mut told = Vec::new();
    for ring in survey.lawns.iter().chain(&survey.deducts) {
        told.extend(missing(ring, band_m2));
        told.extend(laps(ring, walked_band_m2));
        told.extend(jumps(ring, walked_band_m2));
        told.extend(ends(ring, walked_band_m2));
        told.extend(crossing(survey, ring, band_m2));
    }
    let scale = survey.process.scale();
    // A single lap that stopped short differs from itself by what was not walked, and says nothing of the receiver.
    let by_its_gap =
        |lawn: &Walked| lawn.laps == 1 && super::refused::stopped_short(&lawn.warnings);
    if survey.process.beyond_usual() > drift::RECEIVER_ERRS_TIMES
        && !survey.lawns.iter().all(by_its_gap)
    {
        told.push(Notice::ReceiverErrsMore { times: scale });
    }
    told
}

/// Stretches without a fix, on the laps and beside them.
fn missing(ring: &Walked, band_m2: f64) -> Vec<Notice> {
    let gaps = ring.gaps.iter();
    let gaps = gaps.filter(|gap| gap_matters(ring, gap, band_m2));
    let gaps = gaps.map(|gap| Notice::GapMayHideACorner {
        walk: ring.course(),
        lasted_s: gap.lasted_s,
        across_m: gap.across_m,
        hides_m2: gap.may_hide_m2,
    });
    let lost = ring
        .odd
        .lost_beside_s
        .map(|lost_s| Notice::FixesLostBeside {
            walk: ring.course(),
            lost_s,
            laps: ring.laps as usize,
        });
    gaps.chain(lost).collect()
}

/// Laps whose areas or lengths are too far apart.
fn laps(ring: &Walked, walked_band_m2: f64) -> Vec<Notice> {
    let areas = ring.laps_differ_m2(walked_band_m2);
    let areas = areas.map(|(least_m2, most_m2)| Notice::LapsDiffer {
        walk: ring.course(),
        least_m2,
        most_m2,
    });
    let (least_m, most_m) = ring.edge.laps_m;
    let may_differ_m =
        (laps::SHORTER_SHARE * most_m).max(laps::SHORTER_SIGMAS * ring.track.sigma_m);
    let lengths = (most_m - least_m > may_differ_m).then(|| Notice::LapLengthsDiffer {
        walk: ring.course(),
        // A length may come out negative where more is taken off for noise than a small lawn's edge has.
        least_m: least_m.max(0.0),
        most_m,
    });
    areas.into_iter().chain(lengths).collect()
}

/// Jumps, or the step that is most likely one.
fn jumps(ring: &Walked, walked_band_m2: f64) -> Option<Notice> {
    let jumps = ring.jumps_past(walked_band_m2);
    let longest = jumps.iter().max_by(|a, b| a.by_m.total_cmp(&b.by_m));
    match longest {
        Some(jump) => Some(Notice::PositionJumps {
            walk: ring.course(),
            times: jumps.len(),
            by_m: jump.by_m,
        }),
        None => ring
            .doubted(walked_band_m2)
            .map(|step| Notice::PositionMayJump {
                walk: ring.course(),
                by_m: step.by_m(),
                moves_m2: step.moves_m2,
            }),
    }
}

/// A drift, and another place where the lap may close as likely.
fn ends(ring: &Walked, walked_band_m2: f64) -> Vec<Notice> {
    let drift = ring.drifts_past(walked_band_m2);
    let drift = drift.map(|drift| tell_drift(drift, ring.course()));
    let more_m2 = ring.closed.elsewhere_m2;
    let elsewhere = (more_m2.abs() > walked_band_m2).then(|| Notice::MayCloseElsewhere {
        walk: ring.course(),
        more_m2,
    });
    drift.into_iter().chain(elsewhere).collect()
}

/// Parts of a single lawn that are walked round the other way, or twice.
fn crossing(survey: &Survey, ring: &Walked, band_m2: f64) -> Option<Notice> {
    let lawn = survey.laid.lawns.iter().find(|l| l.label == ring.label);
    let lawn = lawn.filter(|_| survey.lawns.len() == 1)?;
    let signed_m2 = ring.area_m2 - ring.carried_m2;
    let back_m2 = 0.5 * (lawn.gross_m2 - ring.area_m2);
    let twice_m2 = (-2.0 * back_m2).max(ring.edge.loops_m2.abs());
    let walk = ring.course();
    if back_m2 > (crossing::OF_AREA_SHARE * signed_m2).max(crossing::BACK_BANDS * band_m2) {
        Some(Notice::CrossesBack { walk, back_m2 })
    } else if twice_m2 > (crossing::OF_AREA_SHARE * signed_m2).max(crossing::TWICE_BANDS * band_m2)
    {
        Some(Notice::CrossesTwice { walk, twice_m2 })
    } else {
        None
    }
}

/// The notice for a drift, by what shows it.
fn tell_drift(drift: &Drift, walk: Course) -> Notice {
    let (apart_m, moves_m2) = (size_m(drift.by), drift.moves_m2);
    match drift.told_by {
        ToldBy::Laps => Notice::LapsDrift {
            walk,
            apart_m,
            moves_m2,
        },
        ToldBy::Stood => Notice::EndsStoodApart {
            walk,
            apart_m,
            moves_m2,
        },
        ToldBy::Turned => Notice::EndsTurnedApart {
            walk,
            apart_m,
            moves_m2,
        },
    }
}

/// Whether a stretch without a fix is told. The band allows for what may hide there. It is told where gaps are the better part of the
/// band and more than the spare that is ordered anyway may hide there, or where so much is missing that even how often the walk goes
/// round is not sure.
fn gap_matters(ring: &Walked, gap: &Gap, band_m2: f64) -> bool {
    let sigma_m2 = band_m2 / normal::quantile(0.975);
    let hides_m2 = gap.may_hide_m2 / f64::from(ring.laps);
    let widens = ring.gaps_m4() > gap::OF_VARIANCE_SHARE * sigma_m2 * sigma_m2;
    widens && hides_m2 > (gap::HIDES_BANDS * band_m2).max(SPARE_TURF_SHARE * ring.area_m2)
        || ring.track.pace_m_s * gap.lasted_s > gap::OF_EDGE_SHARE * ring.edge.perimeter_m
}
