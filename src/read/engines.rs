//! Two position engines in one log, or two talkers that disagree: one consistent stream is chosen, so that
//! positions metres apart never alternate along the walk.

use crate::fix::{Fix, Quality};
use crate::notice::Notice;
use crate::read::batch::Batch;
use crate::read::tally::Reason;
use std::collections::BTreeMap;

/// Streams whose positions differ by this much, in the middle, are different engines (metres).
const DIFFERENT_M: f64 = 1.0;
/// So many comparisons before two streams are judged.
const ENOUGH: usize = 3;
/// And they must be so large a share of the lesser stream's fixes.
const SHARE: f64 = 0.2;
/// Comparisons kept for each pair of streams.
const MOST: usize = 20_000;
/// A fix is compared with the other stream's before and after it, if they are no further apart (seconds).
const NEAR_S: f64 = 3.0;
/// Times closer than this are the same (seconds).
const SAME_S: f64 = 0.02;
/// A stream with fewer than this share of the largest stream's fixes isn't complete enough to be chosen.
const COMPLETE: f64 = 0.5;

#[derive(Debug, Clone, Copy, Default)]
struct Score {
    fixes: f64,
    quality: f64,
    satellites: f64,
}

/// Drops the fixes of engines that contradict the chosen one, or with `only_tell` says that there are two.
pub(crate) fn choose(batch: &mut Batch, only_tell: bool) {
    let first = batch.streams.first();
    if batch.streams.iter().all(|stream| Some(stream) == first) {
        return;
    }
    let mut scores: BTreeMap<u8, Score> = BTreeMap::new();
    for (fix, stream) in batch.fixes.iter().zip(&batch.streams) {
        let score = scores.entry(*stream).or_default();
        score.fixes += 1.0;
        score.quality += weight(fix.quality);
        score.satellites += f64::from(fix.satellites.unwrap_or(0));
    }
    let apart = compare(&batch.fixes, &batch.streams);
    if apart.is_empty() {
        return;
    }
    let most = scores.values().map(|s| s.fixes).fold(0.0, f64::max);
    let mut order: Vec<(u8, Score)> = scores.iter().map(|(k, v)| (*k, *v)).collect();
    order.sort_by(|(a_number, a), (b_number, b)| {
        let complete = |s: &Score| s.fixes >= COMPLETE * most;
        complete(b)
            .cmp(&complete(a))
            .then((b.quality / b.fixes).total_cmp(&(a.quality / a.fixes)))
            .then((b.satellites / b.fixes).total_cmp(&(a.satellites / a.fixes)))
            .then(b.fixes.total_cmp(&a.fixes))
            .then(a_number.cmp(b_number))
    });
    let mut kept: Vec<u8> = Vec::new();
    let mut left: Vec<(u8, u8, f64)> = Vec::new();
    for (stream, score) in &order {
        let clash = kept.iter().find_map(|other| {
            let pair = (*stream.min(other), *stream.max(other));
            let found = apart.get(&pair)?;
            let fewer = scores
                .get(other)
                .map_or(score.fixes, |s| s.fixes.min(score.fixes));
            let enough = found.len() >= ENOUGH && found.len() as f64 >= SHARE * fewer;
            let middle = median(found)?;
            (enough && middle > DIFFERENT_M).then_some((*other, middle))
        });
        match clash {
            Some((other, middle)) => left.push((*stream, other, middle)),
            None => kept.push(*stream),
        }
    }
    let place = |stream: u8| {
        order
            .iter()
            .position(|(s, _)| *s == stream)
            .unwrap_or(usize::MAX)
    };
    let mut keep: Vec<bool> = batch
        .streams
        .iter()
        .map(|stream| !left.iter().any(|(gone, _, _)| gone == stream))
        .collect();
    // What is left at one time in two places is a single glitch: the better stream's stays.
    for i in 1..batch.fixes.len() {
        let (Some(a), Some(b)) = (batch.fixes.get(i - 1), batch.fixes.get(i)) else {
            continue;
        };
        let (Some(&s), Some(&t)) = (batch.streams.get(i - 1), batch.streams.get(i)) else {
            continue;
        };
        let both = keep.get(i - 1) == Some(&true) && keep.get(i) == Some(&true);
        if both && s != t && together(a, b) {
            let worse = if place(s) <= place(t) { i } else { i - 1 };
            if let Some(flag) = keep.get_mut(worse) {
                *flag = false;
            }
        }
    }
    if only_tell {
        keep.fill(true);
    }
    for (fix, _) in batch.fixes.iter().zip(&keep).filter(|(_, keep)| !**keep) {
        batch.tally.add(Reason::OtherEngine, fix.file, fix.line);
    }
    let mut flags = keep.iter();
    batch.fixes.retain(|_| flags.next() == Some(&true));
    let mut flags = keep.iter();
    batch.streams.retain(|_| flags.next() == Some(&true));
    for (gone, other, middle) in left {
        let name = |n: u8| {
            batch
                .stream_names
                .get(usize::from(n))
                .cloned()
                .unwrap_or_default()
        };
        batch.warnings.push(Notice::TwoEngines {
            used: name(other),
            left_out: name(gone),
            apart_m: middle,
        });
    }
}

/// How much a quality speaks for its stream.
fn weight(quality: Quality) -> f64 {
    match quality {
        Quality::RtkFixed => 5.0,
        Quality::RtkFloat => 4.0,
        Quality::Differential | Quality::Pps => 3.0,
        Quality::Autonomous => 2.0,
        Quality::Unknown => 1.0,
        Quality::NoFix | Quality::DeadReckoning | Quality::Manual | Quality::Simulator => 0.0,
    }
}

fn together(a: &Fix, b: &Fix) -> bool {
    matches!((a.clock_s, b.clock_s), (Some(a), Some(b)) if (a - b).abs() < SAME_S)
}

/// Distances between the streams where they can be compared: at one time, or one between two of the other.
fn compare(fixes: &[Fix], streams: &[u8]) -> BTreeMap<(u8, u8), Vec<f64>> {
    let mut apart: BTreeMap<(u8, u8), Vec<f64>> = BTreeMap::new();
    let mut note = |s: u8, t: u8, metres: f64| {
        let found = apart.entry((s.min(t), s.max(t))).or_default();
        if found.len() < MOST {
            found.push(metres);
        }
    };
    for (pair, names) in fixes.windows(2).zip(streams.windows(2)) {
        if let ([a, b], [s, t]) = (pair, names)
            && s != t
            && together(a, b)
        {
            note(*s, *t, distance_m(a.lat_deg, a.lon_deg, b));
        }
    }
    for (three, names) in fixes.windows(3).zip(streams.windows(3)) {
        if let ([a, b, c], [s, t, u]) = (three, names)
            && s == u
            && s != t
            && let (Some(at), Some(now), Some(then)) = (a.clock_s, b.clock_s, c.clock_s)
            && at + SAME_S < now
            && now + SAME_S < then
            && then - at < NEAR_S
        {
            let part = (now - at) / (then - at);
            let lat = a.lat_deg + part * (c.lat_deg - a.lat_deg);
            let lon = a.lon_deg + part * turn(c.lon_deg - a.lon_deg);
            note(*s, *t, distance_m(lat, lon, b));
        }
    }
    apart
}

fn turn(deg: f64) -> f64 {
    if deg > 180.0 {
        deg - 360.0
    } else if deg < -180.0 {
        deg + 360.0
    } else {
        deg
    }
}

/// On a sphere of 111 320 m to the degree: good to 1 % over metres, which is all that is asked of it.
fn distance_m(lat_deg: f64, lon_deg: f64, to: &Fix) -> f64 {
    const DEGREE_M: f64 = 111_320.0;
    let north = (to.lat_deg - lat_deg) * DEGREE_M;
    let east = turn(to.lon_deg - lon_deg) * DEGREE_M * lat_deg.to_radians().cos();
    north.hypot(east)
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}
