//! Finds walks that were recorded twice: one file given again under another name, the same positions saved by two programs, or two
//! receivers on one walker. What a file has in common with an earlier one is left out of it.
//!
//! Such a file is no further lap. Counted as one it would agree with the first far better than any true lap does, and the
//! band would come out several times too narrow.

use crate::fix::Fix;
use crate::limits::log::twice as limits;
use crate::mark::Mark;
use crate::notice::Notice;
use crate::read::part::Part;
use std::collections::{BTreeMap, HashMap, HashSet};

/// Two positions are the same record if they are no further apart than this, degrees (or metres of a plan): programs write six
/// decimals at the least, and may round the last.
const SAME: f64 = 1.5e-6;
/// Times of one record are the same to the millisecond.
const SAME_S: f64 = 1.5e-3;
/// How many positions of one second, and how many files of one length without times, are kept to compare later ones with: three receivers
/// at 20 positions a second. Without a bound, each of very many files of one time would be compared with all others.
const MOST_ALIKE: usize = 64;

/// Leaves out of each file what an earlier one has already, and gives at most one notice for each file.
pub(super) fn leave_out(parts: &mut [Part]) -> Vec<Notice> {
    let mut told = Vec::new();
    let mut known = Known::default();
    for (number, meets) in meeting(parts).into_iter().enumerate() {
        let (before, rest) = parts.split_at_mut(number);
        let Some(part) = rest.first_mut().filter(|_| meets) else {
            continue;
        };
        told.extend(known.leave_out(part, before));
        known.add(number, part);
    }
    told
}

/// For each file, whether its times of day overlap with those of another file, or it has no times: only these need be compared.
fn meeting(parts: &[Part]) -> Vec<bool> {
    let mut spans: Vec<(f64, f64, usize)> = Vec::new();
    let mut meets = vec![false; parts.len()];
    for (number, part) in parts.iter().enumerate() {
        let times = || part.batch.fixes.iter().filter_map(|fix| fix.clock_s);
        match times().reduce(f64::min).zip(times().reduce(f64::max)) {
            Some((from, to)) => spans.push((from, to, number)),
            None => meets[number] = true,
        }
    }
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut longest: Option<(f64, usize)> = None;
    for (from, to, number) in spans {
        if let Some((until, other)) = longest
            && from <= until
        {
            meets[number] = true;
            meets[other] = true;
        }
        if longest.is_none_or(|(until, _)| to > until) {
            longest = Some((to, number));
        }
    }
    meets
}

/// What earlier files have, in a form in which it is quickly found. A fix stands as the number of its file and its own number in it.
#[derive(Default)]
struct Known {
    by_second: HashMap<i64, Vec<(usize, usize)>>,
    /// Files without times, by how many positions they have.
    as_long: HashMap<usize, Vec<usize>>,
    marks: HashSet<(String, [u64; 3])>,
}

impl Known {
    fn add(&mut self, number: usize, part: &Part) {
        let mut timed = false;
        for (at, fix) in part.batch.fixes.iter().enumerate() {
            if let Some(second) = second(fix) {
                timed = true;
                let alike = self.by_second.entry(second).or_default();
                if alike.len() < MOST_ALIKE {
                    alike.push((number, at));
                }
            }
        }
        let alike = self.as_long.entry(part.batch.fixes.len()).or_default();
        if !timed && alike.len() < MOST_ALIKE {
            alike.push(number);
        }
        self.marks.extend(part.batch.marks.iter().map(key));
    }

    /// Leaves out of a file what those before it have, and gives a notice with the name of the file that it has most in common with.
    fn leave_out(&self, part: &mut Part, before: &[Part]) -> Option<Notice> {
        let found = self.shared(part, before);
        let found = found.iter().filter(|(_, shared)| shared.is_twice());
        let (&most, shared) = found
            .clone()
            .max_by_key(|(_, shared)| shared.left_out().len())?;
        let (file, of) = (part.file.name.clone(), before.get(most)?.file.name.clone());
        let fixes = shared.left_out().len();
        let notice = match shared.is_one_record() {
            true => Notice::RecordedTwice { file, of, fixes },
            false => Notice::RecordedTogether { file, of, fixes },
        };
        let left: HashSet<usize> = found
            .flat_map(|(_, shared)| shared.left_out())
            .copied()
            .collect();
        let batch = &mut part.batch;
        let mut at = 0..;
        batch
            .fixes
            .retain(|_| at.next().is_some_and(|at| !left.contains(&at)));
        if batch.fixes.is_empty() {
            batch.outlines.clear();
        }
        batch.marks.retain(|mark| !self.marks.contains(&key(mark)));
        Some(notice)
    }

    /// What a file has in common with each of those before it that it meets.
    fn shared(&self, part: &Part, before: &[Part]) -> BTreeMap<usize, Shared> {
        let mut found: BTreeMap<usize, Shared> = BTreeMap::new();
        let fix_of = |&(number, at): &(usize, usize)| before.get(number)?.batch.fixes.get(at);
        for (at, fix) in part.batch.fixes.iter().enumerate() {
            let known = second(fix).and_then(|second| self.by_second.get(&second));
            for of_one in known
                .into_iter()
                .flat_map(|known| known.chunk_by(|a, b| a.0 == b.0))
            {
                crate::steps::count(of_one.len());
                let others = || {
                    of_one
                        .iter()
                        .filter_map(fix_of)
                        .filter(|o| is_same_day(fix, o))
                };
                let away_m = others().map(|o| apart_m(fix, o, part.batch.local));
                let (Some(near_m), Some((number, _))) = (away_m.reduce(f64::min), of_one.first())
                else {
                    continue;
                };
                let shared = found.entry(*number).or_default();
                shared.all.push(at);
                shared.together += usize::from(near_m <= limits::TOGETHER_M);
                if others().any(|o| is_same_time(fix, o) && is_same_place(fix, o)) {
                    shared.same.push(at);
                }
            }
        }
        // Without times a file is known again only if all of its places are the same, in the same order.
        let fixes = &part.batch.fixes;
        let timed = fixes.iter().any(|fix| fix.clock_s.is_some());
        let as_long = self.as_long.get(&fixes.len()).filter(|_| !timed);
        for &number in as_long.into_iter().flatten() {
            let known = before.get(number).map_or(&[][..], |part| &part.batch.fixes);
            let alike = fixes
                .iter()
                .zip(known)
                .take_while(|(a, b)| is_same_place(a, b));
            let alike = alike.count();
            crate::steps::count(alike);
            if alike == fixes.len() {
                let all: Vec<usize> = (0..alike).collect();
                let shared = found.entry(number).or_default();
                (shared.all, shared.same) = (all.clone(), all);
                break;
            }
        }
        found
    }
}

/// What two files have in common: numbers of fixes of the later one.
#[derive(Default)]
struct Shared {
    /// Fixes at a second at which the earlier file has a fix too.
    all: Vec<usize>,
    /// Fixes that are the same record as one of the earlier file.
    same: Vec<usize>,
    /// How many of `all` lie near the earlier file's fix of that second.
    together: usize,
}

impl Shared {
    /// Whether one file is a copy of the other, in whole or in part.
    fn is_one_record(&self) -> bool {
        !self.same.is_empty()
            && self.same.len() as f64 >= limits::SAME_SHARE * self.all.len() as f64
    }

    /// Whether both files are of one walk, by one receiver or by two on one walker.
    fn is_twice(&self) -> bool {
        let one_walker =
            self.all.len() >= limits::TOGETHER_FIXES && 2 * self.together > self.all.len();
        self.is_one_record() || one_walker
    }

    /// The fixes of the later file that are left out: of a copy those that are the same, of a second receiver all of the same seconds.
    fn left_out(&self) -> &[usize] {
        match self.is_one_record() {
            true => &self.same,
            false => &self.all,
        }
    }
}

/// The parts of a mark that stay the same whichever program saves it.
fn key(mark: &Mark) -> (String, [u64; 3]) {
    let numbers = [mark.lat_deg, mark.lon_deg, mark.radius_m.unwrap_or(0.0)];
    (mark.label.clone(), numbers.map(f64::to_bits))
}

fn second(fix: &Fix) -> Option<i64> {
    fix.clock_s.map(|s| s.floor() as i64)
}

/// Whether two fixes may be of one day: where either has no date, they may.
fn is_same_day(fix: &Fix, other: &Fix) -> bool {
    (fix.date.zip(other.date)).is_none_or(|(one, other)| one == other)
}

fn is_same_time(fix: &Fix, other: &Fix) -> bool {
    (fix.clock_s.zip(other.clock_s)).is_some_and(|(one, other)| (one - other).abs() <= SAME_S)
}

fn is_same_place(fix: &Fix, other: &Fix) -> bool {
    (fix.lat_deg - other.lat_deg).abs() <= SAME && (fix.lon_deg - other.lon_deg).abs() <= SAME
}

/// Distance between two fixes, metres. A list in metres of a plan has these in place of degrees.
fn apart_m(fix: &Fix, other: &Fix, local: bool) -> f64 {
    match local {
        true => (fix.lat_deg - other.lat_deg).hypot(fix.lon_deg - other.lon_deg),
        false => fix.apart_m(other),
    }
}
