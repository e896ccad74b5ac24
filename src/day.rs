//! Many surveys in one go: found, measured over all cores, written and kept, one failure never touching another.

pub mod find;
pub mod keep;
pub mod line;
pub mod name;
pub mod one;
pub mod page;
pub mod sheets;
pub mod stream;
pub mod table;
pub mod watch;

use crate::fault::Fault;
use crate::notice::{Notice, Weight};
use crate::records::Records;
use crate::records::entry::Entry;
use crate::sheet::{self, Sheet};
use crate::survey::measured::Status;
use crate::survey::{Depth, Measured, Request};
use crate::units::Units;
use find::Site;
use keep::{Folder, Kept};
use line::Line;
use one::{Fingerprint, Taken};
use serde_json::Value;
use std::collections::{HashMap, HashSet};
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Duration;
use stream::Pace;

/// Surveys that may be under way or waiting for one before them, for each thread. Waking up for every result, and handing it
/// on, is two or three percent of what a quick survey costs: some ten are handed on together.
const PACE: Pace = Pace {
    window: 32,
    gather: Duration::from_millis(10),
};

/// The same where records are kept. A commit waits for the disk four times and writes the same pages of every index anew, which
/// costs as much as half of a quick survey: some fifty share one.
const PACE_RECORDED: Pace = Pace {
    window: 128,
    gather: Duration::from_millis(120),
};

/// Sides of the thumbnails, millimetres: 64 pixels of CSS (96 to the inch).
const THUMB_MM: f64 = 17.0;

/// What is asked of the day.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// What is asked of every survey.
    pub template: Request,
    /// For the sheets people read.
    pub units: Units,
    /// 0: one for each core.
    pub threads: usize,
    /// Measure also what has not changed.
    pub force: bool,
    /// Result documents are wanted, not just their numbers.
    pub documents: bool,
    /// The net lawns are wanted.
    pub outlines: bool,
}

/// What is known of one survey once it is done.
#[derive(Debug)]
pub struct Done {
    /// Its row in the table of the day.
    pub line: Line,
    /// The result document on one line; empty where it is not wanted.
    pub document: Vec<u8>,
    /// The net lawn, GeoJSON.
    pub geometry: Option<Value>,
    /// False where nothing could be read.
    pub read: bool,
    /// As it was measured before: nothing it depends on has changed.
    pub unchanged: bool,
    /// Address of its sheet within the folder of sheets.
    pub link: String,
}

/// The day in numbers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Summary {
    /// Nothing doubtful.
    pub ok: u64,
    /// Measured, but to be looked at.
    pub check: u64,
    /// Without an honest number.
    pub withheld: u64,
    /// Of the withheld, those of which nothing could be read.
    pub unread: u64,
    /// As measured before, and not measured again.
    pub unchanged: u64,
    /// Revisions added to the records.
    pub recorded: u64,
}

impl Summary {
    /// All of them.
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

    /// "12 surveys: 9 ok, 2 to check, 1 withheld. 3 were unchanged and not measured again."
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
/// of it is kept. `say` may stop the day.
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
    let mut template = plan.template.clone();
    template.depth = match (folder.is_some() || records.is_some(), plan.documents) {
        (true, _) => Depth::Drawing,
        (false, true) => Depth::Document,
        (false, false) => Depth::Numbers,
    };
    let work = Work {
        plan,
        template,
        folder,
        recorded: match records {
            Some(records) => Some(records.fingerprints()?),
            None => None,
        },
    };
    let mut day = match folder {
        Some(folder) => Some(sheets::DaySheets::begin(folder, plan.units)?),
        None => None,
    };
    let mut summary = Summary::default();
    let threads = match plan.threads {
        0 => std::thread::available_parallelism().map_or(1, usize::from),
        threads => threads,
    };
    let pace = if records.is_some() {
        PACE_RECORDED
    } else {
        PACE
    };
    let mut take = |ready: Vec<Result<Made, Fault>>| -> Result<ControlFlow<()>, Fault> {
        let mut broken = None;
        let mut made = Vec::new();
        for one in ready {
            match one {
                Ok(one) => made.push(one),
                Err(fault) => {
                    broken = Some(fault);
                    break;
                }
            }
        }
        if let Some(records) = records.as_mut() {
            // All that are ready in one transaction: a commit waits for the disk.
            let entries: Vec<&Entry> = made.iter().filter_map(|one| one.entry.as_ref()).collect();
            if !entries.is_empty() {
                records.add(&entries)?;
                summary.recorded += entries.len() as u64;
            }
        }
        for one in made {
            let done = match (one.done, records.as_mut()) {
                (Ok(done), _) => done,
                (Err(unchanged), Some(records)) => match from_records(records, &unchanged)? {
                    Some(done) => done,
                    // What was recorded is damaged: measured again, it comes after that as another revision.
                    None => {
                        let again = work.forgetful().made(&unchanged.site)?;
                        if let Some(entry) = &again.entry {
                            records.add(&[entry])?;
                            summary.recorded += 1;
                        }
                        let Ok(done) = again.done else { continue };
                        done
                    }
                },
                (Err(_), None) => continue,
            };
            summary.count(&done);
            if let Some(day) = &mut day {
                day.add(
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
        match broken {
            Some(fault) => Err(fault),
            None => Ok(ControlFlow::Continue(())),
        }
    };
    let stopped: Option<Result<(), Fault>> = stream::in_order(
        sites,
        threads,
        Pace {
            window: pace.window * threads,
            ..pace
        },
        |site| work.made(site),
        |ready| match take(ready) {
            Ok(ControlFlow::Continue(())) => ControlFlow::Continue(()),
            Ok(ControlFlow::Break(())) => ControlFlow::Break(Ok(())),
            Err(fault) => ControlFlow::Break(Err(fault)),
        },
    );
    match stopped {
        Some(Err(fault)) => return Err(fault),
        Some(Ok(())) => return Ok(summary),
        None => {}
    }
    if let (Some(day), Some(folder)) = (day, folder) {
        day.finish(folder, &summary)?;
    }
    Ok(summary)
}

/// An unchanged survey as its latest record has it; `None` where that is damaged.
fn from_records(records: &Records, unchanged: &Unchanged) -> Result<Option<Done>, Fault> {
    let name = &unchanged.site.name;
    let Some(record) = records.unchanged(name, &unchanged.fingerprint.0)? else {
        return Ok(None);
    };
    let Ok((mut document, parsed)) = records.document(&record)? else {
        return Ok(None);
    };
    let Some(line) = Line::kept(&parsed, record.reason.clone()) else {
        return Ok(None);
    };
    document.push('\n');
    Ok(Some(Done {
        line,
        document: document.into_bytes(),
        geometry: records.outline(record.id)?,
        read: true,
        unchanged: true,
        link: link(None, name),
    }))
}

/// A survey that was recorded before from the same inputs and settings.
struct Unchanged {
    site: Site,
    fingerprint: Fingerprint,
}

/// What a thread hands over of one survey.
struct Made {
    /// An unchanged one is to be had from the records.
    done: Result<Done, Unchanged>,
    /// To be recorded.
    entry: Option<Entry>,
}

/// What every thread works by.
struct Work<'a> {
    plan: &'a Plan,
    template: Request,
    folder: Option<&'a Folder>,
    /// The fingerprints of what was last recorded under each name; `None` where no records are kept.
    recorded: Option<HashMap<String, HashSet<String>>>,
}

impl Work<'_> {
    /// One survey from its files to what is said of it. An error means that results can no longer be kept.
    fn made(&self, site: &Site) -> Result<Made, Fault> {
        let whole = catch_unwind(AssertUnwindSafe(|| self.measured_or_kept(site)));
        whole.unwrap_or_else(|panic| {
            // Broken while its sheets were drawn.
            self.put(one::failed(self.named(site), &one::broken(panic.as_ref())))
        })
    }

    /// As if nothing had been recorded yet.
    fn forgetful(&self) -> Work<'_> {
        Work {
            recorded: Some(HashMap::new()),
            template: self.template.clone(),
            ..*self
        }
    }

    fn named(&self, site: &Site) -> Request {
        Request {
            name: site.name.clone(),
            ..self.template.clone()
        }
    }

    fn measured_or_kept(&self, site: &Site) -> Result<Made, Fault> {
        let loaded = match one::load(site, &self.template) {
            Ok(loaded) => loaded,
            Err(fault) => return self.put(one::failed(self.named(site), &fault)),
        };
        if !self.plan.force
            && self.may_be_kept(&site.name)
            && let Some(fingerprint) = loaded.fingerprint()
            && self.is_recorded(&site.name, &fingerprint) != Some(false)
        {
            let done = match self.folder {
                Some(folder) => kept(folder, &site.name, &fingerprint).map(Ok),
                None => Some(Err(Unchanged {
                    site: site.clone(),
                    fingerprint,
                })),
            };
            if let Some(done) = done {
                return Ok(Made { done, entry: None });
            }
        }
        self.put(loaded.measure())
    }

    /// Whether there is anything to compare a fingerprint with: without, the logs need not be read twice.
    fn may_be_kept(&self, name: &str) -> bool {
        let recorded = self.recorded.as_ref().map(|all| all.contains_key(name));
        let in_folder = self.folder.map(|folder| folder.has(name));
        matches!(
            (recorded, in_folder),
            (Some(true), None | Some(true)) | (None, Some(true))
        )
    }

    /// Whether a garden's latest record under this name is of the same; `None` where no records are kept.
    fn is_recorded(&self, name: &str, fingerprint: &Fingerprint) -> Option<bool> {
        let recorded = self.recorded.as_ref()?;
        Some(
            recorded
                .get(name)
                .is_some_and(|all| all.contains(&fingerprint.0)),
        )
    }

    /// Writes a survey's set of sheets, and says what there is to say. Only what can't be written is an error.
    fn put(&self, mut taken: Taken) -> Result<Made, Fault> {
        let stays = self.stays(&taken);
        if stays {
            let mut doubts = taken.measured.warnings.iter_mut();
            if let Some(first) = doubts.find(|notice| notice.weight() == Weight::Doubt) {
                *first = Notice::SheetsStay(Box::new(first.clone()));
            }
        }
        let rendered = match self.render(&taken) {
            Ok(rendered) => rendered,
            Err(fault) => {
                // A number that can't be written is this survey's own trouble: it is told without its numbers.
                taken = one::failed(taken.request, &fault);
                self.render(&taken)?
            }
        };
        let measured = &taken.measured;
        if let Some(folder) = self.folder
            && !stays
        {
            folder.put(
                &measured.survey.name,
                &rendered.sheets,
                taken.fingerprint.as_ref(),
                measured.reason().as_deref(),
            )?;
        }
        Ok(Made {
            done: Ok(Done {
                line: Line::of(measured),
                document: rendered.document,
                geometry: rendered.geometry,
                read: taken.read,
                unchanged: false,
                link: link(self.folder, &measured.survey.name),
            }),
            entry: rendered.entry,
        })
    }

    /// Whether an earlier set is better than what there is to put in its place: of a survey whose logs or sheet have
    /// vanished nothing is known but that.
    fn stays(&self, taken: &Taken) -> bool {
        let name = &taken.measured.survey.name;
        taken.fingerprint.is_none() && self.folder.is_some_and(|folder| folder.has_result(name))
    }

    fn render(&self, taken: &Taken) -> Result<Rendered, Fault> {
        let measured = &taken.measured;
        let kept = self.folder.is_some();
        let geometry = if self.plan.outlines || kept {
            outline(measured)?
        } else {
            None
        };
        let document = if self.plan.documents || kept {
            sheet::json::line(measured)?
        } else {
            Vec::new()
        };
        let mut sheets = Vec::new();
        if kept {
            sheets = sheet::all(measured, self.plan.units)?;
            if measured.area.is_some() {
                sheets.push(Sheet {
                    name: page::THUMBNAIL,
                    bytes: sheet::plan::thumbnail(measured, THUMB_MM, THUMB_MM).into_bytes(),
                });
            }
        }
        let print = taken.fingerprint.as_ref();
        let known = print.and_then(|print| self.is_recorded(&measured.survey.name, print));
        // Measured again only because its sheets were missing: nothing new to record.
        let new = known != Some(true) || self.plan.force;
        let entry = match print {
            Some(print) if self.recorded.is_some() && new => {
                Some(Entry::of(measured, &taken.request, Some(&print.0))?)
            }
            // Where not every input could be read there is nothing to record.
            _ => None,
        };
        Ok(Rendered {
            document,
            geometry,
            sheets,
            entry,
        })
    }
}

/// An earlier result that still holds, from its folder.
fn kept(folder: &Folder, name: &str, fingerprint: &Fingerprint) -> Option<Done> {
    let Kept {
        document,
        geometry,
        reason,
    } = folder.unchanged(name, fingerprint)?;
    let parsed: Value = serde_json::from_slice(&document).ok()?;
    Some(Done {
        line: Line::kept(&parsed, reason)?,
        document: sheets::squeezed(&document),
        geometry,
        read: true,
        unchanged: true,
        link: link(Some(folder), name),
    })
}

/// Everything that is written of one survey.
struct Rendered {
    document: Vec<u8>,
    geometry: Option<Value>,
    sheets: Vec<Sheet>,
    entry: Option<Entry>,
}

/// The sheet of a survey to open first.
fn link(folder: Option<&Folder>, name: &str) -> String {
    let own = name::folder(name);
    let page = format!("{own}/sheet.html");
    match folder {
        Some(folder) if folder.root().join(&page).is_file() => page,
        _ => format!("{own}/report.txt"),
    }
}

/// The net lawn of a survey that has an area, as GeoJSON.
fn outline(measured: &Measured) -> Result<Option<Value>, Fault> {
    let (Some(plane), Some(_)) = (&measured.on, &measured.area) else {
        return Ok(None);
    };
    let net = geo::MultiPolygon(
        measured
            .drawing
            .lawns
            .iter()
            .flat_map(|lawn| lawn.net.0.clone())
            .collect(),
    );
    let polygons = sheet::geojson::polygons(plane, &net)?;
    Ok(polygons.and_then(|polygons| serde_json::to_value(geojson::Geometry::new(polygons)).ok()))
}
