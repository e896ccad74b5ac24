//! Marks: what the surveyor says on the way, as lines or by keys (here is a bed, here is a corner, the edge begins here). They are gathered
//! and turned into a job sheet like any other, by which the log can be measured again at any time.

use crate::fix::DAY_S;
use crate::units::length_m;
use std::path::Path;
use toml::Value;
use toml::value::{Datetime, Time};

/// What was marked.
#[derive(Debug, Clone, PartialEq)]
pub enum What {
    /// The middle of a round bed.
    Bed {
        diameter_m: f64,
        label: Option<String>,
    },
    /// A corner of the lawn.
    Corner(Option<String>),
    /// The walk along the edge begins here.
    Start,
    /// The walk along the edge, or round a bed, ends here.
    End,
    /// From here on another lawn is walked round.
    Lawn(Option<String>),
    /// From here on a bed's edge is walked round.
    BedEdge(Option<String>),
    /// Words for the sheet.
    Note(String),
}

/// A line of the second input.
#[derive(Debug, Clone, PartialEq)]
pub enum Line {
    /// A mark, with the time of day (UTC, seconds) where the line says one.
    Mark(Option<f64>, What),
    /// The last mark is taken back.
    Undo,
    /// The walk is over.
    Finish,
}

/// Where a mark is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Where {
    /// Where the walk was at this time of the day (UTC), seconds.
    Time(f64),
    /// At this latitude and longitude, degrees, where the receiver gives no time.
    Place(f64, f64),
}

/// The words that a line may begin with.
const WORDS: &str = "bed 0.7 m [NAME], corner [NAME], start, end, lawn [NAME], edge [NAME], note TEXT, undo, finish";

/// Reads a line such as `bed 70cm birch` or `10:42:30 corner B`; `None` for an empty line or a comment.
///
/// # Errors
/// What is wrong with it, in a sentence.
pub fn read(line: &str) -> Result<Option<Line>, String> {
    let line = line.trim();
    if line.is_empty() || line.starts_with('#') {
        return Ok(None);
    }
    let (first, rest) = split(line);
    let (tod_s, word, rest) = match time_of_day_s(first) {
        Some(tod_s) => {
            let (word, rest) = split(rest);
            (Some(tod_s), word, rest)
        }
        None => (None, first, rest),
    };
    let name = (!rest.is_empty()).then(|| rest.to_owned());
    let what = match word.to_ascii_lowercase().as_str() {
        "bed" => bed(rest)?,
        "corner" => What::Corner(name),
        "start" => What::Start,
        "end" => What::End,
        "lawn" => What::Lawn(name),
        "edge" => What::BedEdge(name),
        "note" if name.is_none() => return Err("A note needs words.".to_owned()),
        "note" => What::Note(rest.to_owned()),
        "undo" => return Ok(Some(Line::Undo)),
        "finish" => return Ok(Some(Line::Finish)),
        _ => return Err(format!("“{word}” marks nothing. Write one of: {WORDS}.")),
    };
    Ok(Some(Line::Mark(tod_s, what)))
}

/// The first word of a text, and the rest.
fn split(text: &str) -> (&str, &str) {
    let (first, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    (first, rest.trim())
}

/// Seconds since midnight from a time such as `10:42:30` or `10:42:30.5`; `None` for anything else.
fn time_of_day_s(text: &str) -> Option<f64> {
    let mut parts = text.splitn(3, ':');
    let (hour, minute) = (
        parts.next()?.parse::<u8>().ok()?,
        parts.next()?.parse::<u8>().ok()?,
    );
    let second = parts.next()?.parse::<f64>().ok()?;
    let is_time = hour < 24 && minute < 60 && (0.0..60.0).contains(&second);
    is_time.then(|| f64::from(hour) * 3600.0 + f64::from(minute) * 60.0 + second)
}

/// A round bed from a diameter with or without a unit and perhaps a name, as in `0.7`, `70 cm birch` or `2ft 4in`.
fn bed(text: &str) -> Result<What, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    // As many words as possible from the beginning that are a length together; the rest is the name.
    let found = (1..=words.len()).rev().find_map(|n| {
        let length = words[..n].join(" ");
        length_m(&length.replace(',', ".")).ok().map(|m| (n, m))
    });
    match found {
        Some((n, diameter_m)) if diameter_m > 0.0 => {
            let label = words[n..].join(" ");
            Ok(What::Bed {
                diameter_m,
                label: (!label.is_empty()).then_some(label),
            })
        }
        _ => Err("A bed needs its diameter: bed 0.7, or bed 70cm birch.".to_owned()),
    }
}

/// All marks, and the job sheet that they are added to.
#[derive(Debug, Clone, Default)]
pub struct Marks {
    /// The contents of the sheet to begin with.
    base: toml::Table,
    /// The name of the log's file.
    log: String,
    all: Vec<(Where, What)>,
}

impl Marks {
    /// No marks yet, over this sheet. `log` is the log beside the sheet, of which only the file's name counts.
    ///
    /// # Errors
    /// Where the sheet to begin with names logs of its own, in a sentence.
    pub fn over(base: toml::Table, log: &Path) -> Result<Marks, &'static str> {
        let walked = base.get("walk").and_then(|walk| walk.get("files"));
        if walked.is_some() || base.contains_key("lawn") {
            return Err("the sheet names logs that were walked before.");
        }
        Ok(Marks {
            base,
            log: log
                .file_name()
                .map(|name| name.to_string_lossy().into_owned())
                .unwrap_or_default(),
            all: Vec::new(),
        })
    }

    /// Whether there is anything for a sheet to say.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.all.is_empty() && self.base.is_empty()
    }

    /// The marks, in the order in which they were made.
    #[must_use]
    pub fn all(&self) -> &[(Where, What)] {
        &self.all
    }

    /// Adds a mark.
    ///
    /// # Errors
    /// Where the mark needs a time and there is none, in a sentence.
    pub fn add(&mut self, at: Where, what: What) -> Result<(), &'static str> {
        let timed = !matches!(what, What::Bed { .. } | What::Corner(_) | What::Note(_));
        if timed && !matches!(at, Where::Time(_)) {
            return Err("The receiver gives no time, so nothing can begin or end here.");
        }
        self.all.push((at, what));
        Ok(())
    }

    /// Takes the last mark back; `None` where there is none.
    pub fn undo(&mut self) -> Option<What> {
        Some(self.all.pop()?.1)
    }

    /// The job sheet as text. Beds and corners without a name get one: "bed 1", "A" and so on.
    #[must_use]
    pub fn sheet(&self) -> String {
        let mut sheet = self.base.clone();
        self.walks(&mut sheet);
        let (mut beds, mut corners) = (0, 0);
        for (at, what) in &self.all {
            match what {
                What::Bed { diameter_m, label } => {
                    beds += 1;
                    let label = label.clone().unwrap_or_else(|| format!("bed {beds}"));
                    let mut bed = placed("label", &label, *at);
                    bed.insert("diameter_m".into(), Value::Float(*diameter_m));
                    push(&mut sheet, "bed", bed);
                }
                What::Corner(name) => {
                    let name = name
                        .clone()
                        .unwrap_or_else(|| crate::units::letter(corners));
                    corners += 1;
                    push(&mut sheet, "corner", placed("name", &name, *at));
                }
                What::Note(text) => note(&mut sheet, *at, text),
                _ => {}
            }
        }
        toml::to_string_pretty(&sheet).unwrap_or_default()
    }

    /// Adds to the sheet what was walked round and when: one lawn as `walk`, several as `lawn`, beds as `deduct`.
    fn walks(&self, sheet: &mut toml::Table) {
        let stretches = self.stretches();
        let (beds, lawns): (Vec<_>, Vec<_>) = stretches.iter().partition(|s| s.bed);
        let table = |stretch: &Stretch, label: &str| {
            let mut table = toml::Table::new();
            if !label.is_empty() {
                table.insert("label".into(), label.into());
            }
            table.insert("files".into(), vec![Value::from(self.log.clone())].into());
            for (key, tod_s) in [("start", stretch.start_s), ("end", stretch.end_s)] {
                if let Some(tod_s) = tod_s {
                    table.insert(key.into(), time(tod_s));
                }
            }
            table
        };
        let walk = sheet.remove("walk");
        let carried = walk.as_ref().and_then(Value::as_table);
        for (number, lawn) in lawns.iter().enumerate() {
            let label = match (&lawn.label, lawns.len()) {
                (Some(label), _) => label.clone(),
                (None, 1) => String::new(),
                (None, _) => format!("lawn {}", number + 1),
            };
            let mut own = carried.cloned().unwrap_or_default();
            own.extend(table(lawn, &label));
            match lawns.len() {
                1 => drop(sheet.insert("walk".into(), own.into())),
                _ => push(sheet, "lawn", own),
            }
        }
        for (number, bed) in beds.iter().enumerate() {
            let label = bed.label.clone();
            let label = label.unwrap_or_else(|| format!("walked bed {}", number + 1));
            push(sheet, "deduct", table(bed, &label));
        }
    }

    /// The stretches of the log, each with what was walked round in it. A new one ends the one under way. A lawn whose start was not
    /// marked begins with the log, unless its start is marked later.
    fn stretches(&self) -> Vec<Stretch> {
        let mut all: Vec<Stretch> = Vec::new();
        for (at, what) in &self.all {
            let Where::Time(tod_s) = *at else { continue };
            let next = match what {
                What::Start | What::End => None,
                What::Lawn(label) => Some((false, label)),
                What::BedEdge(label) => Some((true, label)),
                What::Bed { .. } | What::Corner(_) | What::Note(_) => continue,
            };
            if *what == What::Start {
                all.retain(|stretch| !stretch.unsaid);
                match all.last_mut().filter(|last| last.end_s.is_none()) {
                    Some(last) => last.start_s = Some(tod_s),
                    None => all.push(Stretch::from(tod_s, false, None)),
                }
                continue;
            }
            if all.is_empty() {
                all.push(Stretch {
                    unsaid: true,
                    ..Stretch::default()
                });
            }
            if let Some(last) = all.last_mut() {
                last.end_s.get_or_insert(tod_s);
            }
            all.extend(next.map(|(bed, label)| Stretch::from(tod_s, bed, label.clone())));
        }
        // Where only beds were marked, the lawn is what comes after them, or the whole log.
        if !all.iter().any(|stretch| !stretch.bed) {
            all.push(Stretch {
                start_s: all.last().and_then(|bed| bed.end_s),
                ..Stretch::default()
            });
        }
        all
    }
}

/// A part of the log in which one thing was walked round.
#[derive(Debug, Clone, Default, PartialEq)]
struct Stretch {
    /// Whether it goes round a bed and not round a lawn.
    bed: bool,
    label: Option<String>,
    /// Start and end, seconds of the day; `None` for the log's own.
    start_s: Option<f64>,
    end_s: Option<f64>,
    /// Whether its start was not marked but assumed.
    unsaid: bool,
}

impl Stretch {
    fn from(tod_s: f64, bed: bool, label: Option<String>) -> Stretch {
        Stretch {
            bed,
            label,
            start_s: Some(tod_s),
            ..Stretch::default()
        }
    }
}

/// Adds a table to a list of tables in the sheet, such as `[[bed]]`.
fn push(sheet: &mut toml::Table, key: &str, table: toml::Table) {
    let list = sheet.entry(key).or_insert_with(|| Value::Array(Vec::new()));
    if let Some(list) = list.as_array_mut() {
        list.push(table.into());
    }
}

/// A table with a name under this key, and where it is.
fn placed(name: &str, value: &str, at: Where) -> toml::Table {
    let mut table = toml::Table::new();
    table.insert(name.into(), value.into());
    match at {
        Where::Time(tod_s) => drop(table.insert("time".into(), time(tod_s))),
        Where::Place(lat_deg, lon_deg) => {
            table.insert("lat".into(), lat_deg.into());
            table.insert("lon".into(), lon_deg.into());
        }
    }
    table
}

/// Adds a note behind those that the sheet has already.
fn note(sheet: &mut toml::Table, at: Where, text: &str) {
    let job = sheet
        .entry("job")
        .or_insert_with(|| toml::Table::new().into());
    let Some(job) = job.as_table_mut() else {
        return;
    };
    let mut notes: Vec<String> = match job.get("notes").and_then(Value::as_str) {
        Some(there) => vec![there.to_owned()],
        None => Vec::new(),
    };
    notes.push(match at {
        Where::Time(tod_s) => format!("{}: {text}", time(tod_s)),
        Where::Place(..) => text.to_owned(),
    });
    job.insert("notes".into(), notes.join("\n").into());
}

/// A time of the day to a tenth of a second, as TOML has it.
fn time(tod_s: f64) -> Value {
    let tenths = (tod_s * 10.0).round().rem_euclid(10.0 * DAY_S) as u32;
    let seconds = tenths / 10;
    Value::Datetime(Datetime {
        date: None,
        time: Some(Time {
            hour: (seconds / 3600) as u8,
            minute: (seconds / 60 % 60) as u8,
            second: Some((seconds % 60) as u8),
            nanosecond: (!tenths.is_multiple_of(10)).then_some(tenths % 10 * 100_000_000),
        }),
        offset: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Job, Place};

    fn marked(lines: &[&str]) -> Marks {
        let mut marks =
            Marks::over(toml::Table::new(), Path::new("a/20260514-083000.log")).unwrap();
        for line in lines {
            match read(line).unwrap().unwrap() {
                Line::Mark(Some(tod_s), what) => marks.add(Where::Time(tod_s), what).unwrap(),
                Line::Undo => drop(marks.undo()),
                other => panic!("{other:?}"),
            }
        }
        marks
    }

    /// As the reader of job sheets takes it.
    fn job(marks: &Marks) -> Job {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        std::fs::write(&path, marks.sheet()).unwrap();
        Job::from_file(&path).unwrap()
    }

    #[test]
    fn marks_are_a_job_sheet() {
        let marks = marked(&[
            "08:31:00 bed 70cm birch",
            "08:31:20.5 bed 2ft 4in",
            "08:31:30 corner",
            "08:31:40 corner Gate",
            "08:31:50 corner",
            "08:32:00 note mind the step",
            "08:32:10 corner",
            "08:32:11 undo",
        ]);
        let job = job(&marks);
        assert_eq!(job.beds.len(), 2);
        assert_eq!(job.beds[0].label, "birch");
        assert!((job.beds[0].radius_m - 0.35).abs() < 1e-12);
        // A foot is 0.3048 m and an inch 0.0254 m (international yard and pound agreement, 1959).
        assert!((job.beds[1].radius_m - (2.0 * 0.3048 + 4.0 * 0.0254) / 2.0).abs() < 1e-12);
        assert_eq!(job.beds[1].place, Place::Time { tod_s: 30_680.5 });
        let names: Vec<&str> = job.corners.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["A", "Gate", "C"]);
        assert_eq!(
            job.paperwork.notes.as_deref(),
            Some("08:32:00: mind the step")
        );
        assert_eq!(job.walks.len(), 1);
        assert!(job.walks[0].files[0].ends_with("20260514-083000.log"));
        assert_eq!(job.walks[0].span, crate::job::Span::default());
    }

    /// What a stretch is called, its start and its end.
    type Named = (String, [Option<f64>; 2]);

    fn spans(lines: &[&str]) -> (Vec<Named>, Vec<Named>) {
        let job = job(&marked(lines));
        (
            job.walks
                .iter()
                .map(|w| (w.label.clone(), [w.span.start_s, w.span.end_s]))
                .collect(),
            job.deducts
                .iter()
                .map(|d| (d.label.clone(), [d.span.start_s, d.span.end_s]))
                .collect(),
        )
    }

    #[test]
    fn stretches_of_one_log() {
        let one = |label: &str, start_s, end_s| (label.to_owned(), [start_s, end_s]);
        let at = |minute: u32| Some(f64::from(36_000 + 60 * minute));
        // The lawn, then a bed's edge, and nothing said of the lawn.
        assert_eq!(
            spans(&["10:05:00 edge roses", "10:06:00 end"]),
            (
                vec![one("lawn", None, at(5))],
                vec![one("roses", at(5), at(6))]
            )
        );
        // The bed first: the lawn's start is said.
        assert_eq!(
            spans(&[
                "10:05:00 edge",
                "10:06:00 end",
                "10:07:00 start",
                "10:09:00 end"
            ]),
            (
                vec![one("lawn", at(7), at(9))],
                vec![one("walked bed 1", at(5), at(6))]
            )
        );
        // Started twice: the second holds.
        assert_eq!(
            spans(&["10:01:00 start", "10:02:00 start", "10:09:00 end"]).0,
            [one("lawn", at(2), at(9))]
        );
        assert_eq!(
            spans(&["10:01:00 start", "10:04:00 lawn back", "10:09:00 end"]).0,
            [one("lawn 1", at(1), at(4)), one("back", at(4), at(9))]
        );
    }

    #[test]
    fn what_means_nothing_is_said() {
        for wrong in [
            "bed",
            "bed birch",
            "bed -1",
            "tree 3",
            "note",
            "25:00:00 corner",
        ] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
        assert_eq!(read("  # nothing").unwrap(), None);
        let mut marks = Marks::default();
        assert!(marks.add(Where::Place(52.0, -1.0), What::Start).is_err());
        assert!(
            marks
                .add(Where::Place(52.0, -1.0), What::Corner(None))
                .is_ok()
        );
        let base: toml::Table = "[walk]\nfiles = [\"a.nmea\"]\n".parse().unwrap();
        assert!(Marks::over(base, Path::new("a.log")).is_err());
    }
}
