//! Reads all files of a survey and puts them together into one [`Log`]: with one clock, in one order, and with one tally of what was dropped.

use crate::fault::Fault;
use crate::left_out::LeftOut;
use crate::notice::Notice;
use crate::read::batch::Batch;
use crate::read::input::{self, Input, Wanted};
use crate::read::options::{Options, Order};
use crate::read::part::{self, Part};
use crate::read::tally::Tally;
use crate::read::{Log, Outline, clock, sniff, twice, unpacked};
use std::borrow::Cow;
use std::collections::{BTreeMap, VecDeque};
use std::mem::take;

/// Reads the files of one survey, in the order given.
///
/// # Errors
/// `Unreadable` where a file can't be opened or is no log, or where there is no fix and no mark in any of them;
/// `Withheld` where positions were simulated or typed in by hand.
pub fn read(inputs: &[Input]) -> Result<Log, Fault> {
    read_with(inputs, &Options::default())
}

/// As [`read`], with options.
///
/// # Errors
/// As [`read`]; with `keep_all`, simulated positions are no error.
pub fn read_with(inputs: &[Input], options: &Options) -> Result<Log, Fault> {
    if inputs.is_empty() {
        return Err(Fault::usage(
            "no-files",
            "No log was named.",
            "Name at least one log, or a job sheet that names them.",
        ));
    }
    let mut parts = parts(inputs, options)?;
    let names: Vec<String> = parts.iter().map(|part| part.file.name.clone()).collect();
    let steady = matches!(parts.as_slice(), [only] if only.batch.steady);
    let mut log = Log {
        files: parts.iter().map(|part| part.file.clone()).collect(),
        ..Log::default()
    };
    if options.order == Order::ByTime {
        parts.sort_by_key(|part| {
            let first = part.batch.fixes.first();
            first.map(|fix| (fix.date, fix.clock_s.map_or(0, |s| (s * 1e6) as i64)))
        });
    }
    if !options.keep_all {
        log.warnings = twice::leave_out(&mut parts);
    }
    let mut tally = Tally::default();
    let mut last = Last::default();
    for Part { file, mut batch } in parts {
        last.number(&mut batch, &log);
        append(&mut log, &mut batch);
        for notice in batch.warnings {
            let named = matches!(notice, Notice::Damaged { .. } | Notice::MuchDamaged { .. });
            log.warnings.push(match names.len() > 1 && !named {
                true => Notice::InFile {
                    file: file.name.clone(),
                    notice: Box::new(notice),
                },
                false => notice,
            });
        }
        tally.join(batch.tally);
    }
    if !options.keep_all && !steady {
        log.warnings.extend(clock::run_on(&mut log.fixes, &names));
    }
    clock::place_marks(&mut log.marks, &log.fixes);
    log.dropped = tally.dropped(&names);
    if log.fixes.is_empty() && log.marks.is_empty() && !options.keep_all {
        return Err(nothing(&log, &tally));
    }
    Ok(log)
}

/// Reads each file. The files of an archive stand in its place.
fn parts(inputs: &[Input], options: &Options) -> Result<Vec<Part>, Fault> {
    let mut left: VecDeque<Cow<'_, Input>> = VecDeque::with_capacity(inputs.len());
    for input in inputs {
        match unpacked::unpacked(input, options.regular)? {
            Some(logs) => left.extend(logs.into_iter().map(Cow::Owned)),
            None => left.push_back(Cow::Borrowed(input)),
        }
    }
    let wanted = Wanted {
        hash: !options.unhashed,
        max_fixes: options.max_fixes,
        regular: options.regular,
    };
    let mut parts = Vec::with_capacity(left.len());
    while let Some(input) = left.pop_front() {
        let mut opened = input::open(&input, wanted)?;
        match unpacked::piped(&input, &mut opened)? {
            Some(logs) => logs
                .into_iter()
                .rev()
                .for_each(|log| left.push_front(Cow::Owned(log))),
            None => {
                let file = u16::try_from(parts.len()).unwrap_or(u16::MAX);
                parts.push(part::read(&input, opened, file, options)?);
            }
        }
    }
    Ok(parts)
}

/// The last numbers of a track and a segment so far: they count on through all files.
#[derive(Default)]
struct Last {
    track: u16,
    segment: u16,
}

impl Last {
    /// Numbers a file's tracks and segments on from those of the log.
    fn number(&mut self, batch: &mut Batch, log: &Log) {
        // A drawn ring (a lawn, or what is taken off) never goes on in another file, so the next file begins a new track.
        let rings = |outlines: &BTreeMap<u16, Outline>| {
            outlines.values().any(|outline| *outline != Outline::Line)
        };
        if !log.fixes.is_empty() && (rings(&log.outlines) || rings(&batch.outlines)) {
            self.track = self.track.saturating_add(1);
        }
        let Last { track, segment } = *self;
        let outlines = take(&mut batch.outlines).into_iter();
        batch.outlines = outlines
            .map(|(own, outline)| (own.saturating_add(track), outline))
            .collect();
        if (track, segment) != (0, 0) {
            for fix in &mut batch.fixes {
                fix.track = fix.track.saturating_add(track);
                fix.segment = fix.segment.saturating_add(segment);
            }
        }
        if let Some(fix) = batch.fixes.last() {
            *self = Last {
                track: fix.track,
                segment: fix.segment,
            };
        }
    }
}

/// Adds what a file holds to the end of the log. What concerns the end of the log is that of the last file.
fn append(log: &mut Log, batch: &mut Batch) {
    log.outlines.append(&mut batch.outlines);
    log.local |= batch.local;
    log.plane_height_m = log.plane_height_m.or(batch.plane_height_m);
    for (name, count) in &batch.sentences {
        *log.sentences.entry(name.clone()).or_default() += count;
    }
    if log.fixes.is_empty() {
        log.fixes = take(&mut batch.fixes);
    } else {
        log.fixes.append(&mut batch.fixes);
    }
    log.marks.append(&mut batch.marks);
    log.unknown += batch.unknown;
    log.lost_at_end_s = batch.lost_at_end_s;
    log.sky = take(&mut batch.sky);
}

/// The fault of a survey in which there is no usable position, with what was left out and why.
fn nothing(log: &Log, tally: &Tally) -> Fault {
    let mut what = "There is no usable position in it.".to_string();
    let reasons: Vec<String> = log
        .dropped
        .iter()
        .map(|d| {
            let first = d
                .first
                .first()
                .map_or(String::new(), |f| format!(", first at {f}"));
            format!("{} ({}{first})", d.reason, d.count)
        })
        .collect();
    if !reasons.is_empty() {
        what = format!("{what} Left out: {}.", reasons.join("; "));
    }
    let advice = if tally.count(LeftOut::Void) > 0 {
        "The receiver never had a position: let it stand in the open until it has one, then walk."
    } else if log.sentences.is_empty() {
        sniff::WANTED
    } else {
        "Check that the logger records positions (GGA or RMC) and copy the log again."
    };
    let fault = Fault::unreadable("no-fixes", what, advice);
    match log.files.as_slice() {
        [only] => fault.in_file(&only.name),
        _ => fault,
    }
}
