//! Reads one file of a survey: tells its form by its content, has it read, refuses it where nothing can be measured from it, and says what was
//! damaged.

use crate::fault::Fault;
use crate::fix::{Fix, Quality, Source};
use crate::grid::{self, Grid};
use crate::left_out::LeftOut;
use crate::limits::log::MUCH_DAMAGE_SHARE;
use crate::notice::{Damage, Notice};
use crate::read::batch::{Batch, Limits};
use crate::read::input::{self, Input, Opened, Wanted};
use crate::read::nmea::Text;
use crate::read::nmea::addresses::Policy;
use crate::read::options::{MOST_FIXES, Options};
use crate::read::points::{self, Lies, Sheet};
use crate::read::sniff::{self, Form};
use crate::read::{LogFile, clock, engines, gpx, kml, nmea, phone, pos, tpv, ubx};

/// What one file gave.
pub(super) struct Part {
    pub file: LogFile,
    pub batch: Batch,
}

/// Reads the file that has this number among those of the survey.
pub(super) fn read(
    input: &Input,
    opened: Opened,
    number: u16,
    options: &Options,
) -> Result<Part, Fault> {
    let name = opened.name.clone();
    let form = match options.form {
        Some(form) => form,
        None => sniff::form(opened.head()).map_err(|fault| fault.in_file(&name))?,
    };
    let (mut batch, sha256) = read_as(form, input, opened, number, options)?;
    if let Some(fault) = refused(form, &batch, options.keep_all) {
        return Err(fault.in_file(&name));
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
    let ended = ended_early(&batch, options.max_fixes);
    batch.warnings.extend(ended);
    let timed = || batch.fixes.iter().filter(|f| f.clock_s.is_some());
    let file = LogFile {
        kind: form.kind(),
        lines: batch.lines,
        fixes: batch.fixes.len() as u64,
        damaged: batch.tally.damaged(),
        first_time: timed().next().map(time_text).unwrap_or_default(),
        last_time: timed().next_back().map(time_text).unwrap_or_default(),
        name,
        sha256,
    };
    let damage = damage(&file, &batch);
    batch.warnings.extend(damage);
    Ok(Part { file, batch })
}

/// Reads it as this form, and gives the hash of its bytes as well.
fn read_as(
    form: Form,
    input: &Input,
    mut opened: Opened,
    file: u16,
    options: &Options,
) -> Result<(Batch, String), Fault> {
    let name = opened.name.clone();
    let in_file = |fault: Fault| fault.in_file(&name);
    let limits = &options.limits();
    if matches!(form, Form::Table | Form::GeoJson | Form::Wkt | Form::Kml) {
        return read_points(form, input, opened, file, options).map_err(in_file);
    }
    if grid::is_local(options.grid.as_deref()) {
        return Err(in_file(Fault::usage(
            "local-log",
            "The grid \"local\" is for lists of points in metres of a plan, and this is a log of places on the Earth.",
            "Measure the log without it; a plan's list and a log are two surveys.",
        )));
    }
    let from = &mut opened.rest;
    let batch = match form {
        Form::Nmea => return read_nmea(input, opened, file, limits),
        Form::Ubx => ubx::read(from, file, limits),
        Form::Pos => pos::read(from, file, limits).map_err(in_file)?,
        Form::Gpsd => tpv::read(from, file, limits),
        Form::Android => phone::read(from, file, limits),
        _ => gpx::read(from, file, limits),
    };
    let sha256 = opened.finish(input, &batch);
    Ok((batch, sha256))
}

/// Why nothing can be measured from what was read; `None` where something can.
fn refused(form: Form, batch: &Batch, keep_all: bool) -> Option<Fault> {
    if let Some((line, quality)) = batch.made_up
        && !keep_all
    {
        let what = match quality {
            Quality::Manual => {
                "The receiver says that its positions were typed in by hand (quality 7)."
            }
            _ => "The receiver says that its positions are simulated (quality 8).",
        };
        return Some(Fault::withheld(
            "simulated",
            what,
            "Nothing can be measured from it: walk the lawn with a receiver that has the sky in view.",
        )
        .at_line(u64::from(line)));
    }
    if batch.swapped > 0 && batch.fixes.is_empty() {
        return Some(Fault::unreadable(
            "swapped",
            format!(
                "All {} points have latitudes beyond 90 degrees: latitude and longitude are exchanged.",
                batch.swapped
            ),
            "Exchange the two and try again.",
        ));
    }
    if form == Form::Nmea && !batch.known && batch.tally.damaged() == 0 {
        return Some(Fault::unreadable(
            "not-a-log",
            format!(
                "No position of any kind was found in its {} lines.",
                batch.lines
            ),
            sniff::WANTED,
        ));
    }
    if form == Form::Ubx && batch.sentences.is_empty() && batch.tally.damaged() == 0 {
        return Some(Fault::unreadable(
            "not-a-log",
            "These are a receiver's own messages (UBX) without its positions (NAV-PVT); raw observations are none.",
            "Turn on NAV-PVT or NMEA in the receiver and walk again, or process the observations to positions first (.pos).",
        ));
    }
    None
}

/// Drops each record with the same time and place as the one before. The reader of NMEA does that itself, within each epoch (the sentences of
/// one instant).
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
            tally.add(LeftOut::Repeated, fix.file, fix.line);
        }
        last = now;
        !again
    });
}

/// Notices that reading stopped before the end of the file, or that the file broke off.
fn ended_early(batch: &Batch, max_fixes: Option<u64>) -> Vec<Notice> {
    let stopped = batch.stopped.then_some(match max_fixes {
        Some(fixes) => Notice::StoppedAsAsked { fixes },
        None => Notice::StoppedAtMost { fixes: MOST_FIXES },
    });
    let broken = batch.broken.as_ref().map(|error| Notice::InputBroken {
        after_line: batch.lines,
        why: error.to_string(),
    });
    stopped.into_iter().chain(broken).collect()
}

/// Reads NMEA. Whether sentences without a checksum are believed depends on the whole log (the policy). A log that is in memory is read
/// with the usual policy first, any other with the one that its first part calls for, and again if the whole calls for another. A pipe
/// cannot be read again, and that is told.
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

/// Reads a drawing or a list of points, with the grid that was asked for, or else the one that the text itself names.
fn read_points(
    form: Form,
    input: &Input,
    mut opened: Opened,
    file: u16,
    options: &Options,
) -> Result<(Batch, String), Fault> {
    let mut batch = Batch::default();
    let limits = options.limits();
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
        Form::Kml => kml::read(&mut opened.rest, &sheet, &limits)?,
        _ => {
            let head = opened.head().to_vec();
            points::table::read(&mut opened.rest, &head, &sheet, batch)?
        }
    };
    let sha256 = opened.finish(input, &batch);
    Ok((batch, sha256))
}

/// ISO 8601 UTC, or the time of day where the log has no date; empty where it has no time. To a microsecond.
#[must_use]
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

/// A notice of what was left out as damaged, and whether it is much; `None` where nothing was.
fn damage(file: &LogFile, batch: &Batch) -> Option<Notice> {
    if file.damaged == 0 {
        return None;
    }
    let records: u64 = batch.sentences.values().sum();
    let kinds: Vec<Damage> = [
        LeftOut::WrongChecksum,
        LeftOut::MissingChecksum,
        LeftOut::Torn,
        LeftOut::OverLong,
        LeftOut::BadTime,
        LeftOut::BadPosition,
        LeftOut::NotANumber,
        LeftOut::BadXml,
        LeftOut::BadRow,
    ]
    .iter()
    .filter(|reason| batch.tally.count(**reason) > 0)
    .map(|reason| Damage {
        reason: *reason,
        count: batch.tally.count(*reason),
        first_lines: batch.tally.lines(*reason),
    })
    .collect();
    // Of a walk a fix more or less is nothing; of corners that were listed each is one.
    let listed = |fix: &Fix| fix.source == Source::Point && fix.clock_s.is_none();
    let much = file.damaged as f64 > MUCH_DAMAGE_SHARE * records.max(1) as f64
        || batch.fixes.first().is_some_and(listed);
    let (file, damaged) = (file.name.clone(), file.damaged);
    Some(match much {
        true => Notice::MuchDamaged {
            file,
            damaged,
            kinds,
        },
        false => Notice::Damaged {
            file,
            damaged,
            kinds,
        },
    })
}
