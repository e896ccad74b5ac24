//! A log may hold positions of two engines (programs within a receiver that each work out a position) or of two receivers. Each address of
//! NMEA sentences, such as `GNGGA`, is a stream. Where streams contradict each other, one is chosen, so that positions that are
//! metres apart never alternate along the walk.

use crate::fix::{Fix, Quality};
use crate::left_out::LeftOut;
use crate::notice::Notice;
use crate::read::batch::Batch;
use std::collections::BTreeMap;

/// Streams whose positions differ by this much, in the middle, are different engines (metres).
const DIFFERENT_M: f64 = 1.0;
/// How many comparisons are needed to judge two streams.
const ENOUGH: usize = 3;
/// The comparisons must also be at least this share of the shorter stream's fixes.
const SHARE: f64 = 0.2;
/// The most comparisons that are kept for each pair of streams.
const MOST: usize = 20_000;
/// A fix is compared with the other stream's before and after it, if they are no further apart (seconds).
const NEAR_S: f64 = 3.0;
/// Times closer than this are the same (seconds).
const SAME_S: f64 = 0.02;
/// A stream with fewer than this share of the largest stream's fixes isn't complete enough to be chosen.
const COMPLETE: f64 = 0.5;

/// How good a stream is: its number of fixes, and over all of these the sums of their weights by quality and of their satellites.
#[derive(Debug, Clone, Copy, Default)]
struct Score {
    fixes: f64,
    quality: f64,
    satellites: f64,
}

/// A stream that contradicts a better one and is left out, that better one, and the median distance between them, metres.
struct Clash {
    gone: u8,
    other: u8,
    apart_m: f64,
}

/// Drops the fixes of engines that contradict the chosen one, or with `only_tell` says that there are two.
pub(crate) fn choose(batch: &mut Batch, only_tell: bool) {
    let first = batch.streams.first();
    if batch.streams.iter().all(|stream| Some(stream) == first) {
        return;
    }
    let apart = compare(&batch.fixes, &batch.streams);
    if apart.is_empty() {
        return;
    }
    let order = best_first(batch);
    let clashes = clashes(&order, &apart);
    if !only_tell {
        let best_first: Vec<u8> = order.iter().map(|(stream, _)| *stream).collect();
        leave_out(batch, &clashes, &best_first);
    }
    let names = &batch.stream_names;
    let name = |stream: u8| names.get(usize::from(stream)).cloned().unwrap_or_default();
    let told = clashes.iter().map(|clash| Notice::TwoEngines {
        used: name(clash.other),
        left_out: name(clash.gone),
        apart_m: clash.apart_m,
    });
    batch.warnings.extend(told);
}

/// The streams with their scores, the best first: a complete one before others, then by quality, number of satellites and number of fixes.
fn best_first(batch: &Batch) -> Vec<(u8, Score)> {
    let mut scores: BTreeMap<u8, Score> = BTreeMap::new();
    for (fix, stream) in batch.fixes.iter().zip(&batch.streams) {
        let score = scores.entry(*stream).or_default();
        score.fixes += 1.0;
        score.quality += weight(fix.quality);
        score.satellites += f64::from(fix.satellites.unwrap_or(0));
    }
    let most = scores.values().map(|s| s.fixes).fold(0.0, f64::max);
    let mut order: Vec<(u8, Score)> = scores.into_iter().collect();
    order.sort_by(|(a_number, a), (b_number, b)| {
        let complete = |s: &Score| s.fixes >= COMPLETE * most;
        complete(b)
            .cmp(&complete(a))
            .then((b.quality / b.fixes).total_cmp(&(a.quality / a.fixes)))
            .then((b.satellites / b.fixes).total_cmp(&(a.satellites / a.fixes)))
            .then(b.fixes.total_cmp(&a.fixes))
            .then(a_number.cmp(b_number))
    });
    order
}

/// Goes through the streams from the best on, and gives each that contradicts a better one that is kept.
fn clashes(order: &[(u8, Score)], apart: &BTreeMap<(u8, u8), Vec<f64>>) -> Vec<Clash> {
    let mut kept: Vec<&(u8, Score)> = Vec::new();
    let mut clashes = Vec::new();
    for one in order {
        let (stream, score) = one;
        let clash = kept.iter().find_map(|(other, better)| {
            let found = apart.get(&(*stream.min(other), *stream.max(other)))?;
            let fewer = better.fixes.min(score.fixes);
            let enough = found.len() >= ENOUGH && found.len() as f64 >= SHARE * fewer;
            let apart_m = median(found)?;
            (enough && apart_m > DIFFERENT_M).then_some(Clash {
                gone: *stream,
                other: *other,
                apart_m,
            })
        });
        match clash {
            Some(clash) => clashes.push(clash),
            None => kept.push(one),
        }
    }
    clashes
}

/// Takes out the fixes of streams that contradict a better one. Where two of the remaining streams have a fix each at one time, the fix of
/// the worse is taken out.
fn leave_out(batch: &mut Batch, clashes: &[Clash], best_first: &[u8]) {
    let gone = |stream: &u8| clashes.iter().any(|clash| clash.gone == *stream);
    let mut keep: Vec<bool> = batch.streams.iter().map(|stream| !gone(stream)).collect();
    let place = |stream: u8| best_first.iter().position(|s| *s == stream);
    let pairs = batch.fixes.windows(2).zip(batch.streams.windows(2));
    for (i, pair) in pairs.enumerate() {
        // The streams agree as a whole, and the better one's fix stays.
        if let ([a, b], [s, t]) = pair
            && keep[i]
            && keep[i + 1]
            && s != t
            && together(a, b)
        {
            let worse = usize::from(place(*s) <= place(*t));
            keep[i + worse] = false;
        }
    }
    for (fix, _) in batch.fixes.iter().zip(&keep).filter(|(_, keep)| !**keep) {
        batch.tally.add(LeftOut::OtherEngine, fix.file, fix.line);
    }
    let mut flags = keep.iter();
    batch.fixes.retain(|_| flags.next() == Some(&true));
    let mut flags = keep.iter();
    batch.streams.retain(|_| flags.next() == Some(&true));
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

/// Whether two fixes have the same time.
fn together(a: &Fix, b: &Fix) -> bool {
    matches!((a.clock_s, b.clock_s), (Some(a), Some(b)) if (a - b).abs() < SAME_S)
}

/// Distances in metres between each pair of streams where they can be compared: where both have a fix at one time, or a fix of one stands
/// between two of the other, which are joined by a straight line.
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
            note(*s, *t, a.apart_m(b));
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
            let (ahead, off) = (c.off_m(a), b.off_m(a));
            note(
                *s,
                *t,
                (off.0 - part * ahead.0).hypot(off.1 - part * ahead.1),
            );
        }
    }
    apart
}

/// The median; of an even number of values the higher of the two in the middle.
fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}
