//! What a thread does with one survey: it measures it, or finds an earlier result that still holds; then it draws the sheets and puts
//! them into their folder. An earlier result holds as long as the fingerprint (a hash of everything the result depends on) is
//! the same.

use super::find::Site;
use super::keep::{Folder, Kept};
use super::line::Line;
use super::one::{self, Fingerprint, Taken};
use super::{Done, Plan, name, page, sheets};
use crate::fault::Fault;
use crate::notice::{Notice, Weight};
use crate::records::Records;
use crate::records::entry::Entry;
use crate::sheet::{self, Sheet};
use crate::survey::{Depth, Measured, Request};
use serde_json::Value;
use std::collections::{HashMap, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Width and height of the small pictures, millimetres: 64 pixels of CSS (96 to the inch).
const THUMB_MM: f64 = 17.0;

/// A survey that was recorded before from the same inputs and settings.
pub(super) struct Unchanged {
    pub site: Site,
    pub fingerprint: Fingerprint,
}

/// What a thread hands over of one survey.
pub(super) struct Made {
    /// The survey once it is done, or one that is unchanged and must be fetched from the records, to which the thread has no access.
    pub done: Result<Done, Unchanged>,
    /// What is to be recorded, if anything.
    pub entry: Option<Entry>,
}

/// What every thread works by.
pub(super) struct Work<'a> {
    plan: &'a Plan,
    /// What is asked of every survey, as deep as the results need.
    template: Request,
    folder: Option<&'a Folder>,
    /// The fingerprints of what was last recorded under each name; `None` where no records are kept.
    recorded: Option<HashMap<String, HashSet<String>>>,
}

impl<'a> Work<'a> {
    /// Makes the threads' work ready; reads the fingerprints from the records, if there are any.
    ///
    /// # Errors
    /// When the records cannot be read.
    pub(crate) fn of(
        plan: &'a Plan,
        folder: Option<&'a Folder>,
        records: Option<&Records>,
    ) -> Result<Work<'a>, Fault> {
        let mut template = plan.template.clone();
        template.depth = match (folder.is_some() || records.is_some(), plan.documents) {
            (true, _) => Depth::Drawing,
            (false, true) => Depth::Document,
            (false, false) => Depth::Numbers,
        };
        Ok(Work {
            plan,
            template,
            folder,
            recorded: records.map(Records::fingerprints).transpose()?,
        })
    }

    /// One survey from its files to what is said of it. A fault means that results can no longer be kept at all; what is wrong with this survey
    /// alone stands in its result.
    pub(crate) fn made(&self, site: &Site) -> Result<Made, Fault> {
        let whole = catch_unwind(AssertUnwindSafe(|| self.measured_or_kept(site)));
        whole.unwrap_or_else(|panic| {
            // It broke while its sheets were drawn.
            self.put(one::failed(self.named(site), &one::broken(panic.as_ref())))
        })
    }

    /// The same work as if nothing had been recorded yet, so that every survey is measured.
    pub(crate) fn forgetful(&self) -> Work<'_> {
        Work {
            recorded: Some(HashMap::new()),
            template: self.template.clone(),
            ..*self
        }
    }

    /// What is asked of this survey, as far as it is known without its job sheet.
    fn named(&self, site: &Site) -> Request {
        Request {
            name: site.name.clone(),
            ..self.template.clone()
        }
    }

    /// Takes an earlier result where it still holds, else measures.
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

    /// Whether there may be an earlier result in every place where results are kept. If not, the logs need not be read for their fingerprint.
    fn may_be_kept(&self, name: &str) -> bool {
        let recorded = self.recorded.as_ref().map(|all| all.contains_key(name));
        let in_folder = self.folder.map(|folder| folder.has(name));
        matches!(
            (recorded, in_folder),
            (Some(true), None | Some(true)) | (None, Some(true))
        )
    }

    /// Whether the latest record of a garden of this name has this fingerprint; `None` where no records are kept.
    fn is_recorded(&self, name: &str, fingerprint: &Fingerprint) -> Option<bool> {
        let recorded = self.recorded.as_ref()?;
        Some(
            recorded
                .get(name)
                .is_some_and(|all| all.contains(&fingerprint.0)),
        )
    }

    /// Writes a survey's set of sheets, and gives what is said and recorded of it. A fault means that the sheets cannot be written.
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
                // A number that cannot be written concerns this survey alone: it becomes a result without an area.
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
                measured.reason(self.plan.units).as_deref(),
            )?;
        }
        Ok(Made {
            done: Ok(Done {
                line: Line::of(measured, self.plan.units),
                document: rendered.document,
                geometry: rendered.geometry,
                read: taken.read,
                unchanged: false,
                link: link(self.folder, &measured.survey.name),
            }),
            entry: rendered.entry,
        })
    }

    /// Whether an earlier set stays in place of what was made now. It does where the survey's logs or job sheet have vanished, since a
    /// result that says only that must not replace a good one.
    fn stays(&self, taken: &Taken) -> bool {
        let name = &taken.measured.survey.name;
        taken.fingerprint.is_none() && self.folder.is_some_and(|folder| folder.has_result(name))
    }

    /// Makes everything that is to be written of a survey, as far as it is wanted.
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
        // Where a survey was measured again only because its sheets were missing, there is nothing new to record.
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

/// An earlier result from the survey's folder, where it still holds.
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

/// An unchanged survey as its latest record has it; `None` where that record is damaged or not there.
pub(super) fn from_records(
    records: &Records,
    unchanged: &Unchanged,
) -> Result<Option<Done>, Fault> {
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

/// Everything that is written of one survey.
struct Rendered {
    document: Vec<u8>,
    geometry: Option<Value>,
    sheets: Vec<Sheet>,
    entry: Option<Entry>,
}

/// The path, within the folder of sheets, of the sheet of a survey to open first.
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
