//! Dates that cannot be: the log's, the sheet's, and how they stand to each other.
//!
//! No date moves an area. A wrong one stands on the record, on the quotation and in `records --since`, where nobody
//! would find the survey again. The machine's clock is not asked, as the same inputs must give the same result.

use crate::fix::DAY_S;
use crate::job::Job;
use crate::job::keys::Origin;
use crate::limits::log::date;
use crate::notice::Notice;
use crate::read::{Log, LogFile};
use jiff::civil::Date;
use jiff::{Span, Unit};

/// Days after which a GPS receiver's count of weeks begins anew: it has ten bits, so that it rolls over after 1024 weeks (IS-GPS-200,
/// "transmission week number"; from memory). Firmware that does not know of that shows a date so many days too early, or too late where
/// it was told wrongly. The counts began on 1980-01-06, 1999-08-22 and 2019-04-07.
const ROLLOVER_DAYS: i64 = 1024 * 7;
/// How many rollovers a date may have slipped by: more is damage and no slip.
const MOST_SLIPS: i64 = 2;

/// What one log says of its days.
#[derive(Debug)]
struct Dated {
    file: String,
    /// The date of its first position.
    first: Date,
    /// The earliest and the latest day on which its clock was started, worked out from each of its dates: in a log with one calendar both
    /// are the same day.
    earliest: Date,
    latest: Date,
}

/// The day under which the survey is recorded: the sheet's, else the first date of a log that can be; `None` where there is none.
pub(crate) fn walked_on(job: &Job, files: &[LogFile]) -> Option<Date> {
    let of_log = |file: &LogFile| {
        let date: Date = file.first_time.get(..10)?.parse().ok()?;
        can_be(date).then_some(date)
    };
    job.date.or_else(|| files.iter().find_map(of_log))
}

/// What is wrong with the dates of a survey: of the logs of its lawns, of the others, and of all `files` read.
pub(crate) fn look(job: &Job, lawns: &[&Log], others: &[&Log], files: &[LogFile]) -> Vec<Notice> {
    let mut warnings = Vec::new();
    let lawns: Vec<Dated> = lawns.iter().flat_map(|log| dated(log)).collect();
    let others: Vec<Dated> = others.iter().flat_map(|log| dated(log)).collect();
    let confirmed = |log: &Dated| job.date.is_some_and(|sheet| near(sheet, log.first));
    for log in lawns.iter().chain(&others) {
        warnings.extend(jumps(log, job));
        match job.date {
            Some(sheet) if slipped(sheet, log.first) => warnings.push(rollover(sheet, log)),
            _ if !can_be(log.first) && !confirmed(log) => warnings.push(impossible(log, job)),
            _ => {}
        }
    }
    let mut believed = lawns.iter().filter(|log| can_be(log.first));
    // Several lawns of one job may be walked on several days, so that it is enough if one was walked on the sheet's day.
    if let (Some(sheet), Some(log)) = (job.date, believed.next())
        && !lawns
            .iter()
            .any(|log| confirmed(log) || slipped(sheet, log.first))
    {
        warnings.push(Notice::DateDisagrees {
            sheet,
            line: line_of(job, "job.date"),
            file: log.file.clone(),
            log: log.first,
        });
    }
    warnings.extend(of_sheet(job, walked_on(job, files), !lawns.is_empty()));
    warnings
}

/// What is wrong with the sheet's own dates. `logs_tell` says that the sheet's date was already compared with a log's.
pub(crate) fn of_sheet(job: &Job, walked_on: Option<Date>, logs_tell: bool) -> Vec<Notice> {
    let mut warnings = Vec::new();
    if let Some(date) = job.date.filter(|date| !can_be(*date) && !logs_tell) {
        warnings.push(Notice::SheetDateImpossible {
            sheet: date,
            line: line_of(job, "job.date"),
            first: date::FIRST,
            last: date::LAST,
        });
    }
    let until = job.price.as_ref().and_then(|price| price.quote_valid_until);
    if let (Some(until), Some(walked)) = (until, walked_on)
        && until < walked
    {
        warnings.push(Notice::QuotationExpired {
            until,
            line: line_of(job, "price.valid_until"),
            walked,
        });
    }
    warnings
}

/// Whether the date lies within the days on which a survey may have been walked.
fn can_be(date: Date) -> bool {
    (date::FIRST..=date::LAST).contains(&date)
}

/// The days from one date to another, negative backwards.
fn days(from: Date, to: Date) -> i64 {
    from.until((Unit::Day, to))
        .map_or(0, |span| i64::from(span.get_days()))
}

/// Whether two dates are the same day, give or take a time zone.
fn near(one: Date, other: Date) -> bool {
    days(one, other).abs() <= date::SAME_DAY_DAYS
}

/// Whether two dates are a whole number of rollovers apart, give or take a day.
fn slipped(one: Date, other: Date) -> bool {
    let apart = days(one, other).abs();
    let slips = (apart + ROLLOVER_DAYS / 2) / ROLLOVER_DAYS;
    (1..=MOST_SLIPS).contains(&slips)
        && (apart - slips * ROLLOVER_DAYS).abs() <= date::SAME_DAY_DAYS
}

/// The date that a receiver meant if it lost or gained a rollover or two: that with the fewest rollovers which can be; `None` where none
/// can.
fn meant(date: Date) -> Option<Date> {
    let way = if date < date::FIRST { 1 } else { -1 };
    (1..=MOST_SLIPS)
        .filter_map(|slips| {
            date.checked_add(Span::new().try_days(way * slips * ROLLOVER_DAYS).ok()?)
                .ok()
        })
        .find(|meant| can_be(*meant))
}

/// What each file of a log says of its days; files without a date are left out.
fn dated(log: &Log) -> Vec<Dated> {
    let mut all: Vec<Option<Dated>> = log.files.iter().map(|_| None).collect();
    let mut last = None;
    for fix in &log.fixes {
        // Nearly all fixes have the date of the fix before.
        if fix.date.is_none() || last == Some((fix.date, fix.file)) {
            continue;
        }
        last = Some((fix.date, fix.file));
        let (Some(date), Some(place)) = (fix.date, all.get_mut(usize::from(fix.file))) else {
            continue;
        };
        let passed = (fix.clock_s.unwrap_or(0.0) / DAY_S).floor() as i64;
        let started = Span::new()
            .try_days(-passed)
            .and_then(|span| date.checked_add(span))
            .unwrap_or(date);
        let file = place.get_or_insert_with(|| Dated {
            file: log
                .files
                .get(usize::from(fix.file))
                .map_or_else(String::new, |file| file.name.clone()),
            first: date,
            earliest: started,
            latest: started,
        });
        file.earliest = file.earliest.min(started);
        file.latest = file.latest.max(started);
    }
    all.into_iter().flatten().collect()
}

/// A notice for a log whose dates contradict each other; it says which date the record has, if the sheet gives one.
fn jumps(log: &Dated, job: &Job) -> Option<Notice> {
    if near(log.earliest, log.latest) {
        return None;
    }
    let (file, from, to) = (log.file.clone(), log.earliest, log.latest);
    Some(match job.date {
        Some(sheet) => Notice::DatesJump {
            file,
            from,
            to,
            sheet,
        },
        None => Notice::DatesJumpUnsaid { file, from, to },
    })
}

/// The notice for a log whose date cannot be, with the date that its receiver probably meant.
fn impossible(log: &Dated, job: &Job) -> Notice {
    Notice::LogDateImpossible {
        file: log.file.clone(),
        log: log.first,
        first: date::FIRST,
        last: date::LAST,
        meant: meant(log.first),
        sheet: job.date,
    }
}

/// The notice for a log whose date is a whole number of week rollovers away from the sheet's.
fn rollover(sheet: Date, log: &Dated) -> Notice {
    Notice::DateRollover {
        file: log.file.clone(),
        log: log.first,
        sheet,
        weeks: days(log.first, sheet).abs() / 7,
    }
}

/// The line of the sheet that has this key; `None` where the sheet has not.
fn line_of(job: &Job, key: &str) -> Option<u64> {
    let setting = job.settings.iter().find(|setting| setting.key == key)?;
    match setting.from {
        Origin::Sheet { line } => Some(line),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::Input;
    use crate::survey::measured::Status;
    use crate::survey::{Measured, Request, measure};
    use std::path::Path;

    /// Round a square of 20 m at sea, a metre a second; the times are of these days, each for as long.
    fn walked(days: &[&str], sheet: &str) -> Measured {
        let mut log = String::from("<gpx version=\"1.1\" creator=\"test\"><trk><trkseg>\n");
        let steps = 80;
        for step in 0..=steps {
            let along = step % 20;
            let (x, y) = match step / 20 {
                0 => (along, 0),
                1 => (20, along),
                2 => (20 - along, 20),
                3 => (0, 20 - along),
                _ => (0, 0),
            };
            let (lat, lon) = (45.0 + f64::from(y) * 9e-6, -30.0 + f64::from(x) * 12.7e-6);
            let day = days[step as usize * days.len() / (steps as usize + 1)];
            log.push_str(&format!(
                "<trkpt lat=\"{lat:.8}\" lon=\"{lon:.8}\"><time>{day}T09:{:02}:{:02}Z</time></trkpt>\n",
                step / 60,
                step % 60
            ));
        }
        log.push_str("</trkseg></trk></gpx>\n");
        let job = Job::from_bytes(sheet.as_bytes(), "job.toml", Path::new("")).unwrap();
        measure(&Request {
            logs: vec![Input::Bytes {
                name: "lawn.gpx".into(),
                bytes: log.into_bytes(),
            }],
            job,
            ..Request::default()
        })
        .unwrap()
    }

    /// The warnings of this module, each with whether it makes the result doubtful.
    fn told(measured: &Measured) -> Vec<(&'static str, bool)> {
        let all = measured.warnings.iter();
        let ours = all.filter(|w| w.code().contains("date") || w.code() == "quotation-expired");
        ours.map(|w| (w.code(), w.weight() == crate::notice::Weight::Doubt))
            .collect()
    }

    fn says(measured: &Measured, words: &str) -> bool {
        measured
            .warnings
            .iter()
            .any(|w| w.to_string().contains(words))
    }

    #[test]
    fn a_day_that_can_be_is_taken_without_a_word() {
        for (day, sheet, date) in [
            ("2026-05-14", "", "2026-05-14"),
            ("2008-01-01", "", "2008-01-01"),
            ("2026-05-14", "[job]\ndate = 2026-05-15\n", "2026-05-15"),
            // An old log with a sheet that says so.
            ("2003-06-01", "[job]\ndate = 2003-06-01\n", "2003-06-01"),
        ] {
            let measured = walked(&[day], sheet);
            assert_eq!(told(&measured), [], "{day}");
            assert_eq!(measured.survey.date.as_deref(), Some(date));
        }
    }

    #[test]
    fn a_day_that_cannot_be_is_told_and_not_recorded() {
        let measured = walked(&["7509-10-07"], "");
        assert_eq!(told(&measured), [("date-impossible", true)]);
        assert_eq!(
            (measured.status, measured.survey.date.as_deref()),
            (Status::Check, None)
        );
        assert!(says(&measured, "lawn.gpx says it was walked on 7509-10-07"));
        assert!(!says(&measured, "GPS weeks"));
    }

    /// The counts of GPS weeks began anew on 1999-08-22 and 2019-04-07 (IS-GPS-200 has the ten bits; the days from memory), so a receiver that does not know of the second shows the first in its place.
    #[test]
    fn a_lost_count_of_weeks_is_told_with_the_day_that_was_meant() {
        let measured = walked(&["1999-08-22"], "");
        assert_eq!(told(&measured), [("date-impossible", true)]);
        assert!(says(&measured, "put date = 2019-04-07"));
        // Ahead: 2026-07-01 shown as 2046-02-14 (7168 days by the calendar).
        assert!(says(&walked(&["2046-02-14"], ""), "put date = 2026-07-01"));
        // The sheet has the right day: nothing is wrong with the record.
        let measured = walked(&["2006-09-28"], "[job]\ndate = 2026-05-14\n");
        assert_eq!(told(&measured), [("date-rollover", false)]);
        assert_eq!(measured.survey.date.as_deref(), Some("2026-05-14"));
        // The same where the day shown could be.
        let measured = walked(&["2009-09-28"], "[job]\ndate = 2029-05-14\n");
        assert_eq!(told(&measured), [("date-rollover", false)]);
    }

    #[test]
    fn a_sheet_of_another_day_than_its_log_is_told() {
        let measured = walked(
            &["2026-05-14"],
            "[job]\nnumber = \"J-1\"\ndate = 2026-05-17\n",
        );
        assert_eq!(told(&measured), [("date-disagrees", true)]);
        assert!(says(
            &measured,
            "says 2026-05-17 (line 3), but lawn.gpx was walked on 2026-05-14"
        ));
        let measured = walked(&["1999-08-22"], "[job]\ndate = 2026-05-14\n");
        assert_eq!(told(&measured), [("date-impossible", true)]);
    }

    #[test]
    fn dates_that_jump_within_a_log_are_told() {
        let days = ["2006-12-16", "2010-09-25", "2019-04-07"];
        let measured = walked(&days, "[job]\ndate = 2019-04-07\n");
        assert!(
            told(&measured).contains(&("dates-jump", false)),
            "{:?}",
            told(&measured)
        );
        let measured = walked(&days, "");
        assert!(told(&measured).contains(&("dates-jump", true)));
        assert!(says(
            &measured,
            "from as early as 2006-12-16 to as late as 2019-04-07"
        ));
    }

    #[test]
    fn a_quotation_that_ran_out_before_the_survey_is_told() {
        let sheet = |until: &str| {
            format!(
                "[job]\ndate = 2026-05-14\n[order.turf]\npiece_width_m = 0.4\npiece_length_m = 2.5\n\
                 [price]\ncurrency = \"GBP\"\ndocument = \"quotation\"\nvalid_until = {until}\n"
            )
        };
        assert_eq!(told(&walked(&["2026-05-14"], &sheet("2026-05-14"))), []);
        let late = walked(&["2026-05-14"], &sheet("2026-05-13"));
        assert_eq!(told(&late), [("quotation-expired", true)]);
        assert!(says(
            &late,
            "valid until 2026-05-13 (line 9), before the day of the survey, 2026-05-14"
        ));
    }
}
