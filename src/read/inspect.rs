//! A look at one log without measuring it: what is in it, and whether it is fit to measure from. This is what `boundwalk inspect` shows.
//! Unlike a measurement it also keeps fixes that can't be measured from.

use crate::fault::Fault;
use crate::fix::{Fix, Quality};
use crate::limits::log::pause;
use crate::notice::{Notice, Weight};
use crate::read::sky::Sky;
use crate::read::tally::Tally;
use crate::read::{Dropped, Input, LogFile, LogKind, Options, clock, read_with, time_text};
use serde::Serialize;
use std::collections::BTreeMap;

mod standing;
mod verdict;

pub use standing::Standing;
pub use verdict::Verdict;

/// All files that were looked at.
#[derive(Debug, Clone, Serialize)]
pub struct Inspection {
    /// In the order they were named.
    pub files: Vec<Inspected>,
    /// Files that could not be read, where others could.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<Fault>,
}

/// What was found in one file. Written as JSON, it is an entry of `files` in the inspection document.
#[derive(Debug, Clone, Serialize)]
#[non_exhaustive]
pub struct Inspected {
    /// Without its folder.
    pub name: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// Told by its content.
    pub kind: LogKind,
    /// Lines read.
    pub lines: u64,
    /// Positions read.
    pub fixes: u64,
    /// Named points.
    pub marks: u64,
    /// Records that could not be read.
    pub damaged: u64,
    /// Lines that hold nothing known.
    pub unknown: u64,
    /// ISO 8601 UTC, or the time of day where the log has no date; empty where it has no time.
    pub first_time: String,
    /// As `first_time`.
    pub last_time: String,
    /// Fixes a second, from the median interval between fixes; `None` where there are no times.
    pub rate_hz: Option<f64>,
    /// Times without fixes.
    pub gaps: Vec<Gap>,
    /// GGA quality digit, or "unknown", to the number of fixes.
    pub qualities: BTreeMap<String, u64>,
    /// Stretches of fixes of one quality, in order.
    pub spells: Vec<Spell>,
    /// Sentence address to how often it stands there.
    pub sentences: BTreeMap<String, u64>,
    /// How many satellites the fixes used.
    pub satellites: Option<Range>,
    /// Horizontal dilution of precision.
    pub hdop: Option<Range>,
    /// Satellites in view.
    pub sky: Option<Sky>,
    /// Where the receiver stood still.
    pub standing: Vec<Standing>,
    /// What was left out, by reason.
    pub dropped: Vec<Dropped>,
    /// Whether it is fit to measure from.
    pub verdict: Verdict,
    /// Reasons in plain words, the weightiest first.
    pub why: Vec<String>,
    /// What was read another way than it stands there: columns guessed, checksums let pass, times put in order.
    pub notes: Vec<String>,
    /// Every fix as read, before any cleaning.
    #[serde(skip)]
    pub as_read: Vec<Fix>,
    /// The commonest quality in each of at most [`STRIP`] equal parts of the log's time, none shorter than the usual
    /// interval; `None` where there was no fix.
    #[serde(skip)]
    pub strip: Vec<Option<Quality>>,
}

/// The most parts of the log's time in [`Inspected::strip`].
pub const STRIP: usize = 60;

/// A time without fixes.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Gap {
    /// The last fix before it.
    pub from: String,
    /// The first fix after it.
    pub to: String,
    /// How long it lasted.
    pub seconds: f64,
    /// Line of the first fix after it.
    pub line: u32,
}

/// A stretch of fixes of one quality.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Spell {
    /// As in [`Inspected::qualities`].
    pub quality: String,
    /// How many.
    pub fixes: u64,
    /// The first.
    pub from: String,
    /// The last.
    pub to: String,
}

/// The least, the middle and the largest of something.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Range {
    /// The smallest value.
    pub least: f64,
    /// The median.
    pub middle: f64,
    /// The largest value.
    pub most: f64,
}

/// Looks at one file. The reading options' `keep_all` is set.
///
/// # Errors
/// Where the file can't be opened or is no log at all.
pub fn inspect(input: &Input, options: &Options) -> Result<Inspected, Fault> {
    let options = Options {
        keep_all: true,
        ..options.clone()
    };
    let log = read_with(std::slice::from_ref(input), &options)?;
    if log.local {
        return Err(Fault::usage(
            "inspect-plan",
            "This is a list in metres of a plan; there is no receiver's work in it to look at.",
            "Measure it: `boundwalk measure --grid local FILE`.",
        )
        .in_file(input.name()));
    }
    let mut usable: Vec<Fix> = log.fixes.iter().filter(|f| is_usable(f)).cloned().collect();
    let names: Vec<String> = log.files.iter().map(|f| f.name.clone()).collect();
    let mut warnings = log.warnings;
    warnings.extend(clock::leave_out_untimed(
        &mut usable,
        &mut Vec::new(),
        &mut Tally::default(),
    ));
    warnings.extend(clock::run_on(&mut usable, &names));
    let file = log.files.into_iter().next();
    let file = file.unwrap_or_else(|| nothing_of(input));
    let interval_s = interval(&usable);
    let strip = strip_of(&log.fixes, &usable, interval_s, &names);
    let has_sky = log.sky.worst_pdop.is_some() || !log.sky.in_view.is_empty();
    let mut seen = Inspected {
        name: file.name,
        sha256: file.sha256,
        kind: file.kind,
        lines: file.lines,
        fixes: log.fixes.len() as u64,
        marks: log.marks.len() as u64,
        damaged: file.damaged,
        unknown: log.unknown,
        first_time: file.first_time,
        last_time: file.last_time,
        rate_hz: interval_s.map(|s| 1.0 / s),
        gaps: gaps(&usable, interval_s),
        qualities: qualities(&log.fixes),
        spells: spells(&log.fixes),
        sentences: log.sentences,
        satellites: range(usable.iter().filter_map(|f| f.satellites.map(f64::from))),
        hdop: range(usable.iter().filter_map(|f| f.hdop.map(f64::from))),
        sky: has_sky.then_some(log.sky),
        standing: standing::find(&usable),
        dropped: log.dropped,
        verdict: Verdict::Fit,
        why: Vec::new(),
        notes: Vec::new(),
        as_read: log.fixes,
        strip,
    };
    seen.judge(&usable, warnings);
    Ok(seen)
}

/// The entry of a file of which nothing was read.
fn nothing_of(input: &Input) -> LogFile {
    LogFile {
        name: input.name(),
        sha256: String::new(),
        kind: LogKind::Nmea,
        lines: 0,
        fixes: 0,
        damaged: 0,
        first_time: String::new(),
        last_time: String::new(),
    }
}

/// [`Inspected::strip`], which shows fixes that are not usable as well. Nearly always all are usable, and their clock has been run on already.
fn strip_of(
    all: &[Fix],
    usable: &[Fix],
    interval_s: Option<f64>,
    names: &[String],
) -> Vec<Option<Quality>> {
    if usable.len() == all.len() {
        return strip(usable, interval_s);
    }
    let mut all = all.to_vec();
    clock::run_on(&mut all, names);
    strip(&all, interval(&all))
}

impl Inspected {
    /// Fills in whether the log is fit to measure from, and why. Warnings that cast no doubt on it become notes.
    fn judge(&mut self, usable: &[Fix], warnings: Vec<Notice>) {
        let is_doubt = |notice: &Notice| notice.weight() == Weight::Doubt;
        let (doubts, notes): (Vec<Notice>, Vec<Notice>) = warnings.into_iter().partition(is_doubt);
        let doubts = doubts.iter().map(ToString::to_string).collect();
        (self.verdict, self.why) = verdict::judge(self, usable, doubts);
        for notice in notes {
            match notice {
                // It was asked for, so it is no doubt; but the figures are of a part of the log only.
                Notice::StoppedAsAsked { .. } => self.why.push(notice.to_string()),
                // The list `dropped` says it in more detail.
                Notice::Damaged { .. } => {}
                _ => self.notes.push(notice.to_string()),
            }
        }
    }

    /// Whether there is anything that `measure` would look at: a position or a marked place.
    #[must_use]
    pub fn holds_something(&self) -> bool {
        let made_up = |f: &Fix| matches!(f.quality, Quality::Manual | Quality::Simulator);
        self.marks > 0 || self.as_read.iter().any(|f| is_usable(f) || made_up(f))
    }
}

/// Whether a fix could be measured from.
#[must_use]
pub fn is_usable(fix: &Fix) -> bool {
    !matches!(
        fix.quality,
        Quality::NoFix | Quality::DeadReckoning | Quality::Manual | Quality::Simulator
    )
}

/// A quality as the document names it.
#[must_use]
pub fn quality_name(quality: Quality) -> String {
    match quality.digit() {
        Some(digit) => digit.to_string(),
        None => "unknown".to_string(),
    }
}

/// The middle interval between fixes, seconds; `None` where there are no times.
fn interval(fixes: &[Fix]) -> Option<f64> {
    let times: Vec<f64> = fixes.iter().filter_map(|f| f.clock_s).collect();
    let mut steps: Vec<f64> = times
        .windows(2)
        .filter_map(|pair| match pair {
            [a, b] if b > a => Some(b - a),
            _ => None,
        })
        .collect();
    if steps.is_empty() {
        return None;
    }
    let middle = steps.len() / 2;
    let (_, middle_s, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
    // Times have a resolution; a microsecond clears what their difference lost.
    Some(*middle_s)
        .map(|s| (s * 1.0e6).round() / 1.0e6)
        .filter(|s| *s > 0.0)
}

/// The times without fixes, in order; none where there are no times.
fn gaps(fixes: &[Fix], interval_s: Option<f64>) -> Vec<Gap> {
    let Some(interval_s) = interval_s else {
        return Vec::new();
    };
    let least = (pause::GAP_INTERVALS * interval_s).max(pause::GAP_S);
    let timed: Vec<&Fix> = fixes.iter().filter(|f| f.clock_s.is_some()).collect();
    timed
        .windows(2)
        .filter_map(|pair| {
            let [a, b] = pair else { return None };
            let seconds = b.clock_s? - a.clock_s?;
            (seconds > least).then(|| Gap {
                from: time_text(a),
                to: time_text(b),
                seconds,
                line: b.line,
            })
        })
        .collect()
}

/// How many fixes there are of each quality. Fixes of one quality that follow each other are counted at once, which is quicker.
fn qualities(fixes: &[Fix]) -> BTreeMap<String, u64> {
    let mut counts: BTreeMap<Quality, u64> = BTreeMap::new();
    for stretch in fixes.chunk_by(|a, b| a.quality == b.quality) {
        let quality = stretch.first().map_or(Quality::Unknown, |fix| fix.quality);
        *counts.entry(quality).or_default() += stretch.len() as u64;
    }
    let named = counts
        .into_iter()
        .map(|(quality, count)| (quality_name(quality), count));
    named.fold(BTreeMap::new(), |mut all, (name, count)| {
        *all.entry(name).or_default() += count;
        all
    })
}

/// Stretches of one quality, in order. Short ones are kept, as changes to and fro between RTK float and fixed are what one looks for.
fn spells(fixes: &[Fix]) -> Vec<Spell> {
    let mut spells: Vec<Spell> = Vec::new();
    let mut last = None;
    for fix in fixes {
        match spells.last_mut() {
            Some(spell) if last == Some(fix.quality) => {
                spell.fixes += 1;
                spell.to = String::new();
            }
            _ => spells.push(Spell {
                quality: quality_name(fix.quality),
                fixes: 1,
                from: time_text(fix),
                to: String::new(),
            }),
        }
        last = Some(fix.quality);
    }
    let mut at = 0usize;
    for spell in &mut spells {
        at += usize::try_from(spell.fixes).unwrap_or(0);
        if let Some(fix) = at.checked_sub(1).and_then(|i| fixes.get(i)) {
            spell.to = time_text(fix);
        }
    }
    spells
}

/// The least, median and largest of some values; `None` where there are none.
fn range(values: impl Iterator<Item = f64>) -> Option<Range> {
    let mut values: Vec<f64> = values.collect();
    if values.is_empty() {
        return None;
    }
    let half = values.len() / 2;
    let (below, middle, above) = values.select_nth_unstable_by(half, f64::total_cmp);
    let least = |a: f64, b: &f64| if b.total_cmp(&a).is_lt() { *b } else { a };
    let most = |a: f64, b: &f64| if b.total_cmp(&a).is_gt() { *b } else { a };
    Some(Range {
        least: below.iter().fold(*middle, least),
        middle: *middle,
        most: above.iter().fold(*middle, most),
    })
}

/// The commonest quality in each part of the time of these fixes; empty where they have no times.
fn strip(fixes: &[Fix], interval_s: Option<f64>) -> Vec<Option<Quality>> {
    let times = || fixes.iter().filter_map(|f| f.clock_s);
    let (Some(first), Some(last)) = (times().next(), times().next_back()) else {
        return Vec::new();
    };
    let Some(interval_s) = interval_s.filter(|_| last > first) else {
        return Vec::new();
    };
    // Half an interval is added at either end, so that each fix of a steady log lies in the middle of its part.
    let (from, span) = (first - interval_s / 2.0, last - first + interval_s);
    let parts = (span / interval_s).round().clamp(1.0, STRIP as f64) as usize;
    let width = span / parts as f64;
    let mut counts = vec![BTreeMap::<Quality, u64>::new(); parts];
    for fix in fixes {
        if let Some(clock) = fix.clock_s {
            let part = (((clock - from) / width) as usize).min(parts - 1);
            if let Some(counts) = counts.get_mut(part) {
                *counts.entry(fix.quality).or_default() += 1;
            }
        }
    }
    let commonest = |c: &BTreeMap<Quality, u64>| c.iter().max_by_key(|(_, n)| **n).map(|(q, _)| *q);
    counts.iter().map(commonest).collect()
}
