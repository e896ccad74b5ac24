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

use crate::fault::Fault;
use crate::sheet::{self, Sheet};
use crate::survey::measured::Status;
use crate::survey::{Measured, Request};
use crate::units::Units;
use find::Site;
use keep::{Folder, Kept};
use line::Line;
use one::{Fingerprint, Taken};
use serde_json::Value;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Surveys that may be under way or waiting for one before them, for each thread.
const WINDOW: usize = 16;

/// What is asked of the day.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// What is asked of every survey.
    pub template: Request,
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
    pub ok: u64,
    pub check: u64,
    pub withheld: u64,
    /// Of the withheld, those of which nothing could be read.
    pub unread: u64,
    pub unchanged: u64,
}

impl Summary {
    pub fn surveys(&self) -> u64 {
        self.ok + self.check + self.withheld
    }

    fn count(&mut self, done: &Done) {
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

/// Measures every survey, writes what is to be kept, and hands each to `say` in the order of `sites`, once everything
/// of it is kept. `say` may stop the day.
///
/// # Errors
/// When results can no longer be kept (a full disk): what was said before is kept whole.
pub fn run(
    sites: &[Site],
    plan: &Plan,
    folder: Option<&Folder>,
    say: &mut dyn FnMut(&Done) -> ControlFlow<()>,
) -> Result<Summary, Fault> {
    let mut template = plan.template.clone();
    template.numbers_only = !plan.documents && folder.is_none();
    let work = Work {
        plan,
        template,
        folder,
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
    let stopped: Option<Option<Fault>> = stream::in_order(
        sites,
        threads,
        WINDOW * threads,
        |site| work.done(site),
        |ready| {
            for done in ready {
                let done = match done {
                    Ok(done) => done,
                    Err(fault) => return ControlFlow::Break(Some(fault)),
                };
                summary.count(&done);
                if let Some(day) = &mut day
                    && let Err(fault) = day.add(
                        &done.line,
                        done.geometry.as_ref(),
                        &done.document,
                        &done.link,
                    )
                {
                    return ControlFlow::Break(Some(fault));
                }
                if say(&done).is_break() {
                    return ControlFlow::Break(None);
                }
            }
            ControlFlow::Continue(())
        },
    );
    match stopped {
        Some(Some(fault)) => return Err(fault),
        Some(None) => return Ok(summary),
        None => {}
    }
    if let Some(day) = day {
        day.finish(&summary)?;
    }
    Ok(summary)
}

/// What every thread works by.
struct Work<'a> {
    plan: &'a Plan,
    template: Request,
    folder: Option<&'a Folder>,
}

impl Work<'_> {
    /// One survey from its files to what is said of it. An error means that results can no longer be kept.
    fn done(&self, site: &Site) -> Result<Done, Fault> {
        let whole = catch_unwind(AssertUnwindSafe(|| self.measured_or_kept(site)));
        whole.unwrap_or_else(|panic| {
            // Broken while its sheets were drawn.
            self.put(one::failed(self.named(site), &one::broken(panic.as_ref())))
        })
    }

    fn named(&self, site: &Site) -> Request {
        Request {
            name: site.name.clone(),
            ..self.template.clone()
        }
    }

    fn measured_or_kept(&self, site: &Site) -> Result<Done, Fault> {
        let loaded = match one::load(site, &self.template) {
            Ok(loaded) => loaded,
            Err(fault) => return self.put(one::failed(self.named(site), &fault)),
        };
        if !self.plan.force
            && self.folder.is_some()
            && let Some(fingerprint) = loaded.fingerprint()
            && let Some(done) = self.kept(site, &fingerprint)
        {
            return Ok(done);
        }
        self.put(loaded.measure())
    }

    /// An earlier result that still holds, with everything that is asked for in its place.
    fn kept(&self, site: &Site, fingerprint: &Fingerprint) -> Option<Done> {
        let kept = self.folder?.unchanged(&site.name, fingerprint)?;
        let Kept {
            document,
            geometry,
            reason,
        } = kept;
        let parsed: Value = serde_json::from_slice(&document).ok()?;
        Some(Done {
            line: Line::kept(&parsed, reason)?,
            document: sheets::squeezed(&document),
            geometry,
            read: true,
            unchanged: true,
            link: link(&site.name),
        })
    }

    /// Writes a survey's set of sheets, and says what there is to say. Only what can't be written is an error.
    fn put(&self, mut taken: Taken) -> Result<Done, Fault> {
        let rendered = match self.render(&taken) {
            Ok(rendered) => rendered,
            Err(fault) => {
                // A number that can't be written is this survey's own trouble: it is told without its numbers.
                taken = one::failed(taken.request, &fault);
                self.render(&taken)?
            }
        };
        if let Some(folder) = self.folder {
            folder.put(
                &taken.measured.survey.name,
                &rendered.sheets,
                taken.fingerprint.as_ref(),
                taken.measured.reason(),
            )?;
        }
        Ok(Done {
            line: Line::of(&taken.measured),
            document: rendered.document,
            geometry: rendered.geometry,
            read: taken.read,
            unchanged: false,
            link: link(&taken.measured.survey.name),
        })
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
            if let Some(bytes) = geometry.as_ref().and_then(page::thumbnail) {
                let name = page::THUMBNAIL;
                sheets.push(Sheet { name, bytes });
            }
        }
        Ok(Rendered {
            document,
            geometry,
            sheets,
        })
    }
}

/// Everything that is written of one survey.
struct Rendered {
    document: Vec<u8>,
    geometry: Option<Value>,
    sheets: Vec<Sheet>,
}

fn link(name: &str) -> String {
    format!("{}/report.txt", name::folder(name))
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
