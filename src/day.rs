//! Many surveys in one go. They are found in folders, lists or streams (`find`, `framed`), measured on all cores (`work`, `stream`),
//! their sheets written into a folder (`keep`, `sheets`) and recorded. Each is handed on in its order once everything of it is kept, and
//! a survey that fails never touches another: it becomes a row that says why.

pub mod brief;
mod content;
pub mod copies;
pub mod find;
pub mod flatgeobuf;
pub mod framed;
pub mod keep;
pub mod line;
pub mod name;
pub mod one;
pub mod page;
pub mod sheets;
pub mod stream;
pub mod table;
pub mod watch;
mod work;

use crate::fault::Fault;
use crate::records::Records;
use crate::records::entry::Entry;
use crate::survey::Request;
use crate::survey::measured::Status;
use crate::units::Units;
use find::Site;
use keep::Folder;
use line::Line;
use serde_json::Value;
use sheets::DaySheets;
use std::ops::{AddAssign, ControlFlow};
use std::time::Duration;
use stream::Pace;
use work::{Made, Unchanged, Work, from_records};

/// How many surveys, for each thread, may be under way or waiting for one before them, and how long results gather. To wake up for
/// every single result and hand it on costs two or three percent of a quick survey, so some ten are handed on together.
const PACE: Pace = Pace {
    window: 32,
    gather: Duration::from_millis(10),
};

/// The same where records are kept. A commit (the end of a transaction) waits for the disk four times and writes the same pages of
/// every index anew, which costs as much as half of a quick survey, so some fifty surveys share one.
const PACE_RECORDED: Pace = Pace {
    window: 128,
    gather: Duration::from_millis(120),
};

/// What is asked of the day.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// What is asked of every survey.
    pub template: Request,
    /// The units of the sheets that people read.
    pub units: Units,
    /// How many surveys are measured at once; 0 stands for one for each core.
    pub threads: usize,
    /// Whether surveys are measured again even where nothing has changed.
    pub force: bool,
    /// Whether result documents are wanted, not just their numbers.
    pub documents: bool,
    /// Whether the outlines of the net lawns are wanted.
    pub outlines: bool,
}

/// What is known of one survey once it is done.
#[derive(Debug)]
#[non_exhaustive]
pub struct Done {
    /// Its row in the table of the day.
    pub line: Line,
    /// The result document on one line; empty where it is not wanted.
    pub document: Vec<u8>,
    /// The net lawn as a GeoJSON geometry; `None` where it is not wanted or there is none.
    pub geometry: Option<Value>,
    /// False where nothing could be read.
    pub read: bool,
    /// Whether this is an earlier result, since nothing that it depends on has changed.
    pub unchanged: bool,
    /// Path of its sheet within the folder of sheets.
    pub link: String,
}

/// The day in numbers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Summary {
    /// Surveys with nothing doubtful.
    pub ok: u64,
    /// Surveys that were measured but need a look.
    pub check: u64,
    /// Surveys without an honest number.
    pub withheld: u64,
    /// Those of the withheld of which nothing could be read.
    pub unread: u64,
    /// Surveys that had not changed and were not measured again.
    pub unchanged: u64,
    /// Revisions added to the records.
    pub recorded: u64,
}

impl AddAssign for Summary {
    fn add_assign(&mut self, more: Summary) {
        self.ok += more.ok;
        self.check += more.check;
        self.withheld += more.withheld;
        self.unread += more.unread;
        self.unchanged += more.unchanged;
        self.recorded += more.recorded;
    }
}

impl Summary {
    /// How many surveys there were in all.
    #[must_use]
    pub fn surveys(&self) -> u64 {
        self.ok + self.check + self.withheld
    }

    /// Counts one more.
    pub fn count(&mut self, done: &Done) {
        match done.line.status {
            Status::Ok => self.ok += 1,
            Status::Check => self.check += 1,
            Status::Withheld => self.withheld += 1,
        }
        self.unread += u64::from(!done.read);
        self.unchanged += u64::from(done.unchanged);
    }

    /// The summary in words, as in "12 surveys: 9 ok, 2 to check, 1 withheld. 3 were unchanged and not measured again."
    #[must_use]
    pub fn told(&self) -> String {
        let all = self.surveys();
        let mut text = format!("{all} survey{}", if all == 1 { "" } else { "s" });
        let parts: Vec<String> = [
            (self.ok, "ok"),
            (self.check, "to check"),
            (self.withheld, "withheld"),
        ]
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
        if !parts.is_empty() {
            text.push_str(&format!(": {}", parts.join(", ")));
        }
        text.push('.');
        match self.unchanged {
            0 => {}
            1 => text.push_str(" 1 was unchanged and not measured again."),
            n => text.push_str(&format!(" {n} were unchanged and not measured again.")),
        }
        text
    }
}

/// Where results are kept.
#[derive(Debug, Default)]
pub struct Stores {
    /// A folder of sheets.
    pub folder: Option<Folder>,
    /// A file of records.
    pub records: Option<Records>,
}

/// Measures every survey, writes what is to be kept, and hands each to `say` in the order of `sites`, once everything
/// of it is kept. `say` may stop the day; the day's own sheets are then not written.
///
/// # Errors
/// When results can no longer be kept (a full disk): what was said before is kept whole.
pub fn run(
    sites: &[Site],
    plan: &Plan,
    stores: &mut Stores,
    say: &mut dyn FnMut(&Done) -> ControlFlow<()>,
) -> Result<Summary, Fault> {
    let Stores { folder, records } = stores;
    let folder = folder.as_ref();
    let work = Work::of(plan, folder, records.as_ref())?;
    let pace = match records {
        Some(_) => PACE_RECORDED,
        None => PACE,
    };
    let threads = match plan.threads {
        0 => std::thread::available_parallelism().map_or(1, usize::from),
        threads => threads,
    };
    let mut day = Day {
        work: &work,
        records: records.as_mut(),
        sheets: folder
            .map(|folder| DaySheets::begin(folder, plan.units))
            .transpose()?,
        summary: Summary::default(),
    };
    let stopped: Option<Result<(), Fault>> = stream::in_order(
        sites,
        threads,
        Pace {
            window: pace.window * threads,
            ..pace
        },
        |site| work.made(site),
        |ready| match day.take(ready, say) {
            Ok(ControlFlow::Continue(())) => ControlFlow::Continue(()),
            Ok(ControlFlow::Break(())) => ControlFlow::Break(Ok(())),
            Err(fault) => ControlFlow::Break(Err(fault)),
        },
    );
    if let Some(stopped) = stopped {
        return stopped.map(|()| day.summary);
    }
    if let (Some(sheets), Some(folder)) = (day.sheets, folder) {
        sheets.finish(folder, &day.summary)?;
    }
    Ok(day.summary)
}

/// The day under way: where results go, in the order of the surveys.
struct Day<'a> {
    work: &'a Work<'a>,
    records: Option<&'a mut Records>,
    sheets: Option<DaySheets>,
    summary: Summary,
}

impl Day<'_> {
    /// Records and writes all that are ready, up to the first that can no longer be kept, and hands each to `say`.
    fn take(
        &mut self,
        ready: Vec<Result<Made, Fault>>,
        say: &mut dyn FnMut(&Done) -> ControlFlow<()>,
    ) -> Result<ControlFlow<()>, Fault> {
        let mut made = Vec::new();
        let kept = ready
            .into_iter()
            .try_for_each(|one| one.map(|one| made.push(one)));
        // All that are ready are recorded in one transaction, since each commit waits for the disk.
        self.record(made.iter().filter_map(|one| one.entry.as_ref()).collect())?;
        for one in made {
            let done = match one.done {
                Ok(done) => done,
                Err(unchanged) => match self.recorded(&unchanged)? {
                    Some(done) => done,
                    None => continue,
                },
            };
            self.summary.count(&done);
            if let Some(sheets) = &mut self.sheets {
                sheets.add(
                    &done.line,
                    done.geometry.as_ref(),
                    &done.document,
                    &done.link,
                )?;
            }
            if say(&done).is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        kept.map(ControlFlow::Continue)
    }

    /// Records these, all or none; does nothing where no records are kept.
    fn record(&mut self, entries: Vec<&Entry>) -> Result<(), Fault> {
        if let Some(records) = &mut self.records
            && !entries.is_empty()
        {
            records.add(&entries)?;
            self.summary.recorded += entries.len() as u64;
        }
        Ok(())
    }

    /// An unchanged survey from the records. Where what was recorded is damaged, the survey is measured again and recorded as another
    /// revision.
    fn recorded(&mut self, unchanged: &Unchanged) -> Result<Option<Done>, Fault> {
        let Some(records) = &self.records else {
            return Ok(None);
        };
        if let Some(done) = from_records(records, unchanged)? {
            return Ok(Some(done));
        }
        let again = self.work.forgetful().made(&unchanged.site)?;
        self.record(again.entry.iter().collect())?;
        Ok(again.done.ok())
    }
}
