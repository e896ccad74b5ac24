//! The log's own clock: times of day are counted on over midnight, so that they rise through the log. Records that are a little late are put
//! in their place, and what else is out of order is told.
//!
//! The date that a log claims is never used to sort or drop (real logs claim absurd ones, and some change it midway). Only in forms whose
//! every record has its full date, such as GPX and point lists, are days counted by it.

use crate::fix::{DAY_S, Fix, Source};
use crate::left_out::LeftOut;
use crate::limits::log::clock::DISORDER_S;
use crate::mark::Mark;
use crate::notice::Notice;
use crate::read::tally::Tally;

/// Where the clock ran back, the log goes on as if this long had passed, seconds.
const STEP_S: f64 = 1.0;
/// The most days between two records that are believed of their dates.
const MOST_DAYS: i32 = 366;
/// Several records with one time are spread over the time to the next, if that is no longer than this, seconds.
const SPREAD_S: f64 = 2.0;
/// Up to this share of a log's fixes, those without a time are left out.
const FEW: f64 = 0.05;
/// A list of this many points or more is of a walk; a shorter one may be of corners.
const MANY_POINTS: usize = 100;

/// What was out of order in a log's clock.
#[derive(Default)]
struct Disorder {
    /// Records that are late by a little, which are put in order.
    records: u64,
    /// How often the clock ran back within a file; and for the first time the file, the line and by how many seconds.
    back: usize,
    first_back: Option<(u16, u32, f64)>,
    /// Whether the clock ran back from one file to the next.
    between_files: bool,
    /// Records with the same time as the one before.
    repeated: u64,
}

impl Disorder {
    fn notices(&self, names: &[String]) -> Vec<Notice> {
        let mut warnings = Vec::new();
        if let Some((file, line, by_s)) = self.first_back {
            let name = names.get(usize::from(file)).map_or("", String::as_str);
            warnings.push(Notice::ClockBackwards {
                times: self.back,
                file: name.to_owned(),
                line,
                by_s,
            });
        }
        if self.between_files {
            warnings.push(Notice::FilesOrder {});
        }
        if self.records > 0 {
            warnings.push(Notice::TimesOutOfOrder {
                records: self.records,
                within_s: DISORDER_S,
            });
        }
        if self.repeated > 0 {
            warnings.push(Notice::TimesRepeated {
                records: self.repeated,
            });
        }
        warnings
    }
}

/// Makes `clock_s`, which is still the time of day, rise through the log in the order of `fixes`. `names` are the files' names. Gives what is
/// to be told of it.
pub(crate) fn run_on(fixes: &mut [Fix], names: &[String]) -> Vec<Notice> {
    let mut state: Option<(f64, f64, usize)> = None; // time of day, clock, index of the latest fix
    let mut told = Disorder::default();
    let mut same = false;
    for i in 0..fixes.len() {
        let (before, rest) = fixes.split_at_mut(i);
        let Some(fix) = rest.first_mut() else { break };
        let Some(tod) = fix.clock_s else { continue };
        let Some((last_tod, last_clock, last)) = state else {
            state = Some((tod, tod, i));
            continue;
        };
        let previous = before.get(last);
        let passed = passed_s(tod, last_tod, fix, previous);
        let clock = if passed >= 0.0 {
            same |= last_clock + passed == last_clock;
            last_clock + passed
        } else if passed >= -DISORDER_S {
            told.records += 1;
            fix.clock_s = Some(last_clock + passed);
            continue;
        } else {
            if previous.is_some_and(|p| p.file != fix.file) {
                told.between_files = true;
            } else {
                told.back += 1;
                told.first_back.get_or_insert((fix.file, fix.line, -passed));
            }
            last_clock + STEP_S
        };
        // The times of nearly all fixes stay as they are; not to write those anew is quicker.
        if clock != tod {
            fix.clock_s = Some(clock);
        }
        state = Some((tod, clock, i));
    }
    if told.records > 0 {
        put_in_order(fixes);
    }
    // A record that was put in order may have the same time as another there.
    if same || told.records > 0 {
        told.repeated = spread(fixes);
    }
    told.notices(names)
}

/// Takes out the few fixes without a time from a log whose others have one, as nobody knows when they were measured. Where many have none,
/// times are no help, and all stay. `streams` (which address each fix is from) is kept in step, where there is any.
pub(crate) fn leave_out_untimed(
    fixes: &mut Vec<Fix>,
    streams: &mut Vec<u8>,
    tally: &mut Tally,
) -> Option<Notice> {
    let untimed = fixes.iter().filter(|f| f.clock_s.is_none()).count();
    // A short list of points may be of corners, each of which counts.
    let corners = fixes.len() < MANY_POINTS && fixes.iter().all(|f| f.source == Source::Point);
    if untimed == 0 || corners || untimed as f64 > FEW * fixes.len() as f64 {
        return None;
    }
    let mut first = None;
    let mut timed = fixes.iter().map(|f| f.clock_s.is_some());
    streams.retain(|_| timed.next() == Some(true));
    fixes.retain(|fix| {
        if fix.clock_s.is_none() {
            first.get_or_insert(fix.line);
            tally.add(LeftOut::NoTime, fix.file, fix.line);
        }
        fix.clock_s.is_some()
    });
    Some(Notice::TimesMissing {
        records: untimed,
        first_line: first.unwrap_or(0),
    })
}

/// Seconds from the previous fix to this one; negative where the clock ran back.
fn passed_s(tod: f64, last_tod: f64, fix: &Fix, previous: Option<&Fix>) -> f64 {
    let passed = tod - last_tod;
    let is_same_day = |previous: &Fix| fix.date.is_some() && previous.date == fix.date;
    if fix.source.is_dated() && previous.is_some_and(is_same_day) {
        return passed;
    }
    if fix.source.is_dated()
        && let (Some(now), Some(then)) = (fix.date, previous.and_then(|p| p.date))
        && let Ok(days) = now
            .since((jiff::Unit::Day, then))
            .map(|span| span.get_days())
        && days.abs() <= MOST_DAYS
    {
        return passed + f64::from(days) * DAY_S;
    }
    if passed < -DAY_S / 2.0 {
        // The day before had a leap second, 23:59:60, and is a second longer.
        let leap = if last_tod >= DAY_S { 1.0 } else { 0.0 };
        passed + DAY_S + leap
    } else if passed > DAY_S - DISORDER_S {
        // A late record of the day before.
        passed - DAY_S
    } else {
        passed
    }
}

/// Moves each late record back to its place, one step at a time: late records are few, and their places near.
fn put_in_order(fixes: &mut [Fix]) {
    for i in 1..fixes.len() {
        let mut j = i;
        while j > 0
            && let (Some(a), Some(b)) = (
                fixes.get(j - 1).and_then(|f| f.clock_s),
                fixes.get(j).and_then(|f| f.clock_s),
            )
            && a > b
        {
            fixes.swap(j - 1, j);
            j -= 1;
        }
    }
}

/// Spreads records that share one time over the time to the next; returns how many were moved.
fn spread(fixes: &mut [Fix]) -> u64 {
    let mut moved = 0;
    let mut start = 0;
    while start < fixes.len() {
        let Some(time) = fixes.get(start).and_then(|f| f.clock_s) else {
            start += 1;
            continue;
        };
        let mut end = start + 1;
        while fixes.get(end).is_some_and(|f| f.clock_s == Some(time)) {
            end += 1;
        }
        let count = end - start;
        if count > 1 {
            let next = fixes.get(end).and_then(|f| f.clock_s);
            let span = next.map(|n| n - time).filter(|s| *s <= SPREAD_S);
            if let Some(span) = span {
                let run = fixes.get_mut(start..end).unwrap_or(&mut []);
                for (k, fix) in run.iter_mut().enumerate() {
                    fix.clock_s = Some(time + span * k as f64 / count as f64);
                }
            }
            moved += count as u64 - 1;
        }
        start = end;
    }
    moved
}

/// Puts the times of marks, which are times of day, on the log's clock: on the day that brings them nearest to the middle of the fixes.
pub(crate) fn place_marks(marks: &mut [Mark], fixes: &[Fix]) {
    let times = || fixes.iter().filter_map(|f| f.clock_s);
    let (Some(first), Some(last)) = (times().next(), times().next_back()) else {
        return;
    };
    let middle = (first + last) / 2.0;
    for mark in marks {
        if let Some(tod) = mark.clock_s {
            let days = ((middle - tod) / DAY_S).round().max(0.0);
            mark.clock_s = Some(tod + days * DAY_S);
        }
    }
}
