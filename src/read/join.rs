//! Reads a survey's files and puts them together: one clock, one order, one tally.

use crate::fault::Fault;
use crate::fix::{Fix, Quality};
use crate::grid::{self, Grid};
use crate::notice::{Damage, Notice};
use crate::read::batch::{Batch, Limits};
use crate::read::input::{self, Input, Opened, Wanted};
use crate::read::nmea::Text;
use crate::read::nmea::addresses::Policy;
use crate::read::points::{self, Lies, Sheet};
use crate::read::sniff::{self, Form};
use crate::read::tally::{Reason, Tally};
use crate::read::{
    Log, LogFile, LogKind, Outline, archive, clock, engines, gpx, kml, nmea, phone, pos, tpv, ubx,
};
use std::borrow::Cow;
use std::collections::{BTreeMap, VecDeque};

/// How several files follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Order {
    /// As they were given.
    #[default]
    Given,
    /// By the time of their first fix.
    ByTime,
}

/// How to read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    /// In which order several files are joined.
    pub order: Order,
    /// Where the coordinates of point lists lie: a grid of eastings and northings, such as `EPSG:27700`, or `local`.
    pub grid: Option<String>,
    /// Stop each file after so many fixes.
    pub max_fixes: Option<u64>,
    /// The files were named by a job sheet or found in a folder: pipes and devices among them are not opened.
    pub regular: bool,
    /// Leave out the files' hashes, where nobody will look at them.
    pub unhashed: bool,
    /// Read the files as this form, whatever they look like: for trials of one reader.
    #[doc(hidden)]
    pub form: Option<Form>,
    /// For a look at one log, not for measuring: keep what can't be measured from (void, dead reckoning, simulated),
    /// in the order of the file and with plain times of day, and look at the sky.
    pub keep_all: bool,
}

/// Fixes kept of one file unless told otherwise: 23 days at 10 Hz, and 2 GB of memory.
const MOST_FIXES: u64 = 20_000_000;
/// Damage above this share of the records makes a log doubtful.
const MUCH_DAMAGE: f64 = 0.05;

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
    let limits = Limits {
        most_fixes: usize::try_from(options.max_fixes.unwrap_or(MOST_FIXES)).unwrap_or(usize::MAX),
        keep_all: options.keep_all,
    };
    let parts = parts(inputs, &limits, options)?;
    let names: Vec<String> = parts.iter().map(|p| p.name.clone()).collect();
    let mut log = Log::default();
    let mut tally = Tally::default();
    let mut order: Vec<usize> = (0..parts.len()).collect();
    if options.order == Order::ByTime {
        let start = |i: &usize| {
            let fix = parts.get(*i).and_then(|p| p.batch.fixes.first());
            fix.map(|f| (f.date, f.clock_s.map_or(0, |s| (s * 1e6) as i64)))
        };
        order.sort_by_key(start);
    }
    let (mut track, mut segment) = (0u16, 0u16);
    let steady = matches!(parts.as_slice(), [only] if only.batch.steady);
    let mut files: Vec<Option<LogFile>> = parts.iter().map(|_| None).collect();
    let mut parts: Vec<Option<Part>> = parts.into_iter().map(Some).collect();
    for index in order {
        let Some(mut part) = parts.get_mut(index).and_then(Option::take) else {
            continue;
        };
        let batch = &mut part.batch;
        if let Some(place) = files.get_mut(index) {
            *place = Some(described(&part.name, part.sha256, part.kind, batch));
        }
        // Rings that are said to be lawns or taken off never run on into another file's.
        let rings = |outlines: &BTreeMap<u16, Outline>| {
            outlines.values().any(|outline| *outline != Outline::Line)
        };
        if !log.fixes.is_empty() && (rings(&log.outlines) || rings(&batch.outlines)) {
            track = track.saturating_add(1);
        }
        let first_track = track;
        renumber(&mut batch.fixes, &mut track, &mut segment);
        log.outlines.extend(
            std::mem::take(&mut batch.outlines)
                .into_iter()
                .map(|(own, outline)| (own.saturating_add(first_track), outline)),
        );
        log.local |= batch.local;
        log.plane_height_m = log.plane_height_m.or(batch.plane_height_m);
        for (name, count) in &batch.sentences {
            *log.sentences.entry(name.clone()).or_default() += count;
        }
        note_damage(&part.name, batch);
        if log.fixes.is_empty() {
            log.fixes = std::mem::take(&mut batch.fixes);
        } else {
            log.fixes.append(&mut batch.fixes);
        }
        log.marks.append(&mut batch.marks);
        log.unknown += batch.unknown;
        log.lost_at_end_s = batch.lost_at_end_s;
        log.sky = std::mem::take(&mut batch.sky);
        for mut warning in std::mem::take(&mut batch.warnings) {
            let named = matches!(warning, Notice::Damaged { .. } | Notice::MuchDamaged { .. });
            if names.len() > 1 && !named {
                warning = Notice::InFile {
                    file: part.name.clone(),
                    notice: Box::new(warning),
                };
            }
            log.warnings.push(warning);
        }
        tally.join(std::mem::take(&mut batch.tally));
    }
    log.files = files.into_iter().flatten().collect();
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

/// Drops records that say the time and place of the one before again. NMEA has its own eye for them, within an epoch.
fn once(batch: &mut Batch) {
    if !batch.streams.is_empty() {
        return;
    }
    let mut last: Option<(f64, f64, f64)> = None;
    let tally = &mut batch.tally;
    batch.fixes.retain(|fix| {
        let now = fix.clock_s.map(|clock| (clock, fix.lat_deg, fix.lon_deg));
        let again = now.is_some() && now == last;
        if again {
            tally.add(Reason::Repeated, fix.file, fix.line);
        }
        last = now;
        !again
    });
}

/// Each file, those of an archive in its place.
fn parts(inputs: &[Input], limits: &Limits, options: &Options) -> Result<Vec<Part>, Fault> {
    let mut left: VecDeque<Cow<'_, Input>> = VecDeque::with_capacity(inputs.len());
    for input in inputs {
        match archive::unpacked(input, options.regular)? {
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
        match archive::piped(&input, &mut opened)? {
            Some(logs) => logs
                .into_iter()
                .rev()
                .for_each(|log| left.push_front(Cow::Owned(log))),
            None => {
                let file = u16::try_from(parts.len()).unwrap_or(u16::MAX);
                parts.push(one(&input, opened, file, limits, options)?);
            }
        }
    }
    Ok(parts)
}

struct Part {
    name: String,
    sha256: String,
    kind: LogKind,
    batch: Batch,
}

fn one(
    input: &Input,
    opened: Opened,
    file: u16,
    limits: &Limits,
    options: &Options,
) -> Result<Part, Fault> {
    let name = opened.name.clone();
    let form = match options.form {
        Some(form) => form,
        None => sniff::form(opened.head()).map_err(|fault| fault.in_file(&name))?,
    };
    let drawn = matches!(form, Form::Table | Form::GeoJson | Form::Wkt | Form::Kml);
    if !drawn && grid::is_local(options.grid.as_deref()) {
        return Err(Fault::usage(
            "local-log",
            "The grid \"local\" is for lists of points in metres of a plan, and this is a log of places on the Earth.",
            "Measure the log without it; a plan's list and a log are two surveys.",
        )
        .in_file(&name));
    }
    let (mut batch, sha256) = match form {
        Form::Nmea => read_nmea(input, opened, file, limits)?,
        Form::Gpx | Form::Tcx | Form::Ubx | Form::Pos | Form::Gpsd | Form::Android => {
            let mut opened = opened;
            let from = &mut opened.rest;
            let batch = match form {
                Form::Ubx => ubx::read(from, file, limits),
                Form::Pos => pos::read(from, file, limits).map_err(|fault| fault.in_file(&name))?,
                Form::Gpsd => tpv::read(from, file, limits),
                Form::Android => phone::read(from, file, limits),
                _ => gpx::read(from, file, limits),
            };
            let sha256 = opened.finish(input, &batch);
            (batch, sha256)
        }
        Form::Table | Form::GeoJson | Form::Wkt | Form::Kml => {
            read_points(form, input, opened, file, limits, options)
                .map_err(|fault| fault.in_file(&name))?
        }
    };
    if let Some((line, quality)) = batch.made_up
        && !options.keep_all
    {
        let what = match quality {
            Quality::Manual => {
                "The receiver says that its positions were typed in by hand (quality 7)."
            }
            _ => "The receiver says that its positions are simulated (quality 8).",
        };
        return Err(Fault::withheld(
            "simulated",
            what,
            "Nothing can be measured from it: walk the lawn with a receiver that has the sky in view.",
        )
        .in_file(&name)
        .at_line(u64::from(line)));
    }
    if batch.swapped > 0 && batch.fixes.is_empty() {
        return Err(Fault::unreadable(
            "swapped",
            format!(
                "All {} points have latitudes beyond 90 degrees: latitude and longitude are exchanged.",
                batch.swapped
            ),
            "Exchange the two and try again.",
        )
        .in_file(&name));
    }
    if form == Form::Nmea && !batch.known && batch.tally.damaged() == 0 {
        return Err(Fault::unreadable(
            "not-a-log",
            format!(
                "No position of any kind was found in its {} lines.",
                batch.lines
            ),
            sniff::WANTED,
        )
        .in_file(&name));
    }
    if form == Form::Ubx && batch.sentences.is_empty() && batch.tally.damaged() == 0 {
        return Err(Fault::unreadable(
            "not-a-log",
            "These are a receiver's own messages (UBX) without its positions (NAV-PVT); raw observations are none.",
            "Turn on NAV-PVT or NMEA in the receiver and walk again, or process the observations to positions first (.pos).",
        )
        .in_file(&name));
    }
    once(&mut batch);
    if !options.keep_all && !batch.steady {
        let Batch {
            fixes,
            streams,
            tally,
            ..
        } = &mut batch;
        let left_out = clock::leave_out_untimed(fixes, streams, tally);
        batch.warnings.extend(left_out);
    }
    let stated = std::mem::take(&mut batch.accuracies).into_iter();
    let stated = stated.map(|accuracy| Notice::AccuracyStated { accuracy });
    batch.warnings.extend(stated);
    engines::choose(&mut batch, options.keep_all);
    if batch.stopped {
        batch.warnings.push(match options.max_fixes {
            Some(fixes) => Notice::StoppedAsAsked { fixes },
            None => Notice::StoppedAtMost { fixes: MOST_FIXES },
        });
    }
    if let Some(e) = &batch.broken {
        batch.warnings.push(Notice::InputBroken {
            after_line: batch.lines,
            why: e.to_string(),
        });
    }
    let kind = match form {
        Form::Nmea => LogKind::Nmea,
        Form::Gpx => LogKind::Gpx,
        Form::Tcx => LogKind::Tcx,
        Form::Kml => LogKind::Kml,
        Form::Ubx => LogKind::Ubx,
        Form::Pos => LogKind::Pos,
        Form::Gpsd => LogKind::Gpsd,
        Form::Android => LogKind::Android,
        Form::Table | Form::GeoJson | Form::Wkt => LogKind::Points,
    };
    Ok(Part {
        name,
        sha256,
        kind,
        batch,
    })
}

/// NMEA is read once with the checksum policy that its first part calls for (what is in memory already with the usual one),
/// and again if the whole calls for another.
fn read_nmea(
    input: &Input,
    mut opened: Opened,
    file: u16,
    limits: &Limits,
) -> Result<(Batch, String), Fault> {
    let end = nmea::scan::end_of_line(opened.head());
    if let Some(text) = opened.whole() {
        let read = |policy| nmea::read(Text::Whole(text), end, policy, file, limits);
        let mut pass = read(Policy::default());
        let policy = match pass.batch.stopped {
            true => nmea::first_policy(text),
            false => pass.policy.clone(),
        };
        if policy != Policy::default() {
            pass = read(policy);
        }
        let sha256 = opened.finish(input, &pass.batch);
        return Ok((pass.batch, sha256));
    }
    let guess = nmea::first_policy(opened.head());
    let pass = nmea::read(
        Text::Coming(&mut opened.rest),
        end,
        guess.clone(),
        file,
        limits,
    );
    let sha256 = opened.finish(input, &pass.batch);
    let mut batch = pass.batch;
    if pass.policy != guess {
        if input.rereadable() {
            let again = Wanted {
                hash: false,
                max_fixes: None,
                regular: true,
            };
            let mut again = input::open(input, again)?;
            let text = Text::Coming(&mut again.rest);
            batch = nmea::read(text, end, pass.policy, file, limits).batch;
        } else {
            batch.warnings.push(Notice::ChecksumsMixed {});
        }
    }
    Ok((batch, sha256))
}

fn read_points(
    form: Form,
    input: &Input,
    mut opened: Opened,
    file: u16,
    limits: &Limits,
    options: &Options,
) -> Result<(Batch, String), Fault> {
    let mut batch = Batch::default();
    let text = match form {
        Form::Wkt => points::wkt::text(&mut opened.rest, &mut batch)?,
        _ => String::new(),
    };
    let code = match &options.grid {
        Some(code) => Some(code.clone()),
        None => points::wkt::srid(&text).map(|n| format!("EPSG:{n}")),
    };
    let local = grid::is_local(code.as_deref());
    batch.local = local;
    let grid = code
        .filter(|_| !local)
        .map(|code| Grid::new(&code))
        .transpose()?;
    let to_degrees = grid
        .as_ref()
        .map(|grid| move |x: f64, y: f64| grid.to_degrees(geo::Coord { x, y }));
    let sheet = Sheet {
        file,
        most_fixes: limits.most_fixes,
        keep_all: limits.keep_all,
        lies: match &to_degrees {
            Some(to_degrees) => Lies::OnGrid(to_degrees),
            None if local => Lies::OnAPlan,
            None => Lies::InDegrees,
        },
    };
    let batch = match form {
        Form::Wkt => points::wkt::read(&text, &sheet, batch)?,
        Form::GeoJson => points::geojson::read(&mut opened.rest, &sheet, batch)?,
        Form::Kml => kml::read(&mut opened.rest, &sheet, limits)?,
        _ => {
            let head = opened.head().to_vec();
            points::table::read(&mut opened.rest, &head, &sheet, batch)?
        }
    };
    let sha256 = opened.finish(input, &batch);
    Ok((batch, sha256))
}

fn described(name: &str, sha256: String, kind: LogKind, batch: &Batch) -> LogFile {
    let timed = || batch.fixes.iter().filter(|f| f.clock_s.is_some());
    LogFile {
        name: name.to_string(),
        sha256,
        kind,
        lines: batch.lines,
        fixes: batch.fixes.len() as u64,
        damaged: batch.tally.damaged(),
        first_time: timed().next().map(time_text).unwrap_or_default(),
        last_time: timed().next_back().map(time_text).unwrap_or_default(),
    }
}

/// ISO 8601 UTC, or the time of day where the log has no date; empty where it has no time. To a microsecond.
pub fn time_text(fix: &Fix) -> String {
    let Some(clock) = fix.clock_s else {
        return String::new();
    };
    let micros = (clock * 1.0e6).round() as i64;
    // A leap second is 23:59:60.
    let leap = (86_400_000_000..86_401_000_000).contains(&micros);
    let (s, us) = (micros / 1_000_000 % 86_400, micros % 1_000_000);
    let mut text = if leap {
        "23:59:60".to_string()
    } else {
        format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
    };
    if us > 0 {
        text.push_str(format!(".{us:06}").trim_end_matches('0'));
    }
    match fix.date {
        Some(date) => format!("{date}T{text}Z"),
        None => text,
    }
}

/// Tracks and segments counted through the whole log.
fn renumber(fixes: &mut [Fix], track: &mut u16, segment: &mut u16) {
    let (first_track, first_segment) = (*track, *segment);
    if (first_track, first_segment) == (0, 0) {
        if let Some(last) = fixes.last() {
            (*track, *segment) = (last.track, last.segment);
        }
        return;
    }
    for fix in fixes.iter_mut() {
        fix.track = fix.track.saturating_add(first_track);
        fix.segment = fix.segment.saturating_add(first_segment);
        *track = fix.track;
        *segment = fix.segment;
    }
}

fn note_damage(name: &str, batch: &mut Batch) {
    let damaged = batch.tally.damaged();
    if damaged == 0 {
        return;
    }
    let records: u64 = batch.sentences.values().sum();
    let kinds: Vec<Damage> = [
        Reason::WrongChecksum,
        Reason::MissingChecksum,
        Reason::Torn,
        Reason::OverLong,
        Reason::BadTime,
        Reason::BadPosition,
        Reason::NotANumber,
        Reason::BadXml,
        Reason::BadRow,
    ]
    .iter()
    .filter(|reason| batch.tally.count(**reason) > 0)
    .map(|reason| Damage {
        reason: reason.text(),
        count: batch.tally.count(*reason),
        first_lines: batch.tally.lines(*reason),
    })
    .collect();
    let file = name.to_owned();
    let much = damaged as f64 > MUCH_DAMAGE * records.max(1) as f64;
    batch.warnings.push(if much {
        Notice::MuchDamaged {
            file,
            damaged,
            kinds,
        }
    } else {
        Notice::Damaged {
            file,
            damaged,
            kinds,
        }
    });
}

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
    let advice = if tally.count(Reason::Void) > 0 {
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
