//! A walk that was recorded twice: one file given again under another name, the same positions saved by two programs, or two
//! receivers on one walker.
//!
//! Such a file is no further lap. Counted as one it would agree with the first far better than any true lap does, and the
//! band would come out several times too narrow.

use crate::fix::Fix;
use crate::mark::Mark;
use crate::notice::Notice;
use crate::read::part::Part;
use std::collections::HashMap;

/// Two positions are the same record if they are no further apart than this, degrees (or metres of a plan): programs write six
/// decimals at the least, and may round the last.
const SAME: f64 = 1.5e-6;
/// Times of one record are the same to the millisecond.
const SAME_S: f64 = 1.5e-3;
/// Of positions of the same second so many must be the same record. The others are where a second program left one out.
const MOSTLY: f64 = 0.9;
/// Two receivers on one walker show places no further apart than this: each may err by some metres (no source; a phone's
/// usual error). Two people who walk a half of the edge each are further apart most of the time.
const TOGETHER_M: f64 = 5.0;
/// So many common seconds are no chance.
const LEAST_TOGETHER: usize = 20;
/// Of a degree of latitude.
const METRES: f64 = 111_000.0;

/// Leaves out of each file what an earlier one has already.
pub(super) fn leave_out(parts: &mut [Part]) -> Vec<Notice> {
    let mut told = Vec::new();
    for later in 1..parts.len() {
        let (before, rest) = parts.split_at_mut(later);
        let Some(part) = rest.first_mut() else { break };
        for earlier in before {
            told.extend(leave_out_of(part, earlier));
        }
    }
    told
}

fn leave_out_of(part: &mut Part, earlier: &Part) -> Option<Notice> {
    let found = Shared::between(part, earlier);
    let (file, of) = (part.file.name.clone(), earlier.file.name.clone());
    let notice = if found.is_one_record() {
        Notice::RecordedTwice {
            fixes: found.same.len(),
            file,
            of,
        }
    } else if found.is_one_walker() {
        Notice::RecordedTogether {
            fixes: found.shared.len(),
            file,
            of,
        }
    } else {
        return None;
    };
    let left = match found.is_one_record() {
        true => found.same,
        false => found.shared,
    };
    let batch = &mut part.batch;
    let mut left = left.into_iter().peekable();
    let mut at = 0;
    batch.fixes.retain(|_| {
        at += 1;
        left.next_if_eq(&(at - 1)).is_none()
    });
    if batch.fixes.is_empty() {
        batch.outlines.clear();
    }
    let is_known = |mark: &Mark| {
        let known = |other: &Mark| {
            Mark {
                file: mark.file,
                line: mark.line,
                ..other.clone()
            } == *mark
        };
        earlier.batch.marks.iter().any(known)
    };
    batch.marks.retain(|mark| !is_known(mark));
    Some(notice)
}

/// What two files have in common: numbers of fixes of the later one.
#[derive(Default)]
struct Shared {
    /// At a second at which the earlier one has a fix too.
    shared: Vec<usize>,
    /// The same record.
    same: Vec<usize>,
    /// How many of the shared ones lie together.
    together: usize,
}

impl Shared {
    fn between(part: &Part, earlier: &Part) -> Shared {
        let (fixes, known) = (&part.batch.fixes, &earlier.batch.fixes);
        let is_timed = |fixes: &[Fix]| fixes.iter().any(|fix| fix.clock_s.is_some());
        match (is_timed(fixes), is_timed(known)) {
            (true, true) if meet(fixes, known) => Shared::of_times(fixes, known, part.batch.local),
            // Without times only the whole file can be known again.
            (false, false) if fixes.len() == known.len() => {
                let same = fixes.iter().zip(known).all(|(a, b)| is_same_place(a, b));
                let all: Vec<usize> = (0..fixes.len()).filter(|_| same).collect();
                Shared {
                    shared: all.clone(),
                    same: all,
                    together: 0,
                }
            }
            _ => Shared::default(),
        }
    }

    fn of_times(fixes: &[Fix], known: &[Fix], local: bool) -> Shared {
        let mut by_second: HashMap<i64, Vec<&Fix>> = HashMap::new();
        for fix in known {
            if let Some(second) = second(fix) {
                by_second.entry(second).or_default().push(fix);
            }
        }
        let mut found = Shared::default();
        for (at, fix) in fixes.iter().enumerate() {
            let others = second(fix).and_then(|second| by_second.get(&second));
            let others = || others.into_iter().flatten().filter(|o| is_same_day(fix, o));
            let Some(near_m) = others().map(|o| apart_m(fix, o, local)).reduce(f64::min) else {
                continue;
            };
            found.shared.push(at);
            found.together += usize::from(near_m <= TOGETHER_M);
            if others().any(|o| is_same_time(fix, o) && is_same_place(fix, o)) {
                found.same.push(at);
            }
        }
        found
    }

    fn is_one_record(&self) -> bool {
        !self.same.is_empty() && self.same.len() as f64 >= MOSTLY * self.shared.len() as f64
    }

    fn is_one_walker(&self) -> bool {
        self.shared.len() >= LEAST_TOGETHER && 2 * self.together > self.shared.len()
    }
}

/// Whether any times of day can be common to both, which of most files is soon seen.
fn meet(fixes: &[Fix], known: &[Fix]) -> bool {
    let span = |fixes: &[Fix]| {
        let times = || fixes.iter().filter_map(|fix| fix.clock_s);
        Some((times().reduce(f64::min)?, times().reduce(f64::max)?))
    };
    (span(fixes).zip(span(known))).is_some_and(|(a, b)| a.0 <= b.1 && b.0 <= a.1)
}

fn second(fix: &Fix) -> Option<i64> {
    fix.clock_s.map(|s| s.floor() as i64)
}

fn is_same_day(fix: &Fix, other: &Fix) -> bool {
    (fix.date.zip(other.date)).is_none_or(|(one, other)| one == other)
}

fn is_same_time(fix: &Fix, other: &Fix) -> bool {
    (fix.clock_s.zip(other.clock_s)).is_some_and(|(one, other)| (one - other).abs() <= SAME_S)
}

fn is_same_place(fix: &Fix, other: &Fix) -> bool {
    (fix.lat_deg - other.lat_deg).abs() <= SAME && (fix.lon_deg - other.lon_deg).abs() <= SAME
}

fn apart_m(fix: &Fix, other: &Fix, local: bool) -> f64 {
    let (north, east) = (fix.lat_deg - other.lat_deg, fix.lon_deg - other.lon_deg);
    match local {
        true => north.hypot(east),
        false => METRES * north.hypot(east * fix.lat_deg.to_radians().cos()),
    }
}
