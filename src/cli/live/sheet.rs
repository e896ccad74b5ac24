//! The job sheet that is written beside the log of a live walk: what the sheet named with `--job` says, and what was marked on the way.
//! It is written anew after each mark, so that nothing is lost whenever the program ends.

use crate::cli::Stop;
use boundwalk::fault::Fault;
use boundwalk::job::{Job, SheetFile};
use boundwalk::live::marks::Marks;
use boundwalk::write::{InTheWay, Why, unwritable};
use std::io::Write;
use std::path::{Path, PathBuf};

/// The job sheet and the marks in it.
#[derive(Debug)]
pub struct Sheet {
    path: PathBuf,
    pub marks: Marks,
    /// Its text as it was last written, by which a change by somebody else is noticed.
    written: Option<String>,
}

impl Sheet {
    /// A sheet with the name of the log. The sheet `base`, named with `--job`, is only read and stays as it is.
    pub fn beside(log: &Path, base: Option<&Path>) -> Result<Sheet, Stop> {
        let path = log.with_extension("toml");
        let table = match base {
            Some(base) => table(base, &path)?,
            None => toml::Table::new(),
        };
        let marks = Marks::over(table, log).map_err(|why| {
            Fault::usage(
                "live-sheet",
                why,
                "Take files out of its [walk], or keep a sheet without logs for each kind of job.",
            )
            .in_file(base.unwrap_or(log).display().to_string())
        })?;
        let mut sheet = Sheet {
            path,
            marks,
            written: None,
        };
        sheet.write()?;
        Ok(sheet)
    }

    /// This sheet as what is to be measured; `None` where there is nothing in it.
    pub fn to_measure(&self) -> Option<&Path> {
        self.written.is_some().then_some(&self.path)
    }

    /// Writes the sheet anew, whole or not at all, if there is anything in it. A fault where somebody else wrote or changed it: that one stays.
    pub fn write(&mut self) -> Result<(), Fault> {
        if self.marks.is_empty() && self.written.is_none() {
            return Ok(());
        }
        let text = self.marks.sheet();
        let there = std::fs::read_to_string(&self.path).ok();
        let in_the_way = match (&self.written, &there) {
            (None, _) => self.path.exists().then_some(Why::NotOurs),
            (Some(written), there) => {
                (there.is_some() && there.as_ref() != Some(written)).then_some(Why::Changed)
            }
        };
        if let Some(why) = in_the_way {
            let path = self.path.clone();
            return Err(InTheWay { path, why }.told("boundwalk live again"));
        }
        let folder = match self.path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        let put = || {
            let mut file = tempfile::NamedTempFile::new_in(folder)?;
            file.write_all(text.as_bytes())?;
            file.as_file().sync_all()?;
            file.persist(&self.path).map_err(|failed| failed.error)
        };
        put().map_err(|error| unwritable(&self.path, &error))?;
        self.written = Some(text);
        Ok(())
    }
}

/// The contents of the sheet to begin with. A fault where something is wrong in it, or where it names files beside it that a copy in
/// another folder would not find.
fn table(base: &Path, copy: &Path) -> Result<toml::Table, Stop> {
    let job = Job::from_file(base)?;
    let folder = |path: &Path| {
        let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        absolute.parent().map(Path::to_owned)
    };
    let walked = job.walks.iter().flat_map(|walk| &walk.files).count();
    if job.files().count() > walked && folder(base) != folder(copy) {
        return Err(Fault::usage(
            "live-sheet",
            "the sheet names files beside it, and the log would lie in another folder.",
            "Give --out the folder of the sheet.",
        )
        .in_file(base.display().to_string())
        .into());
    }
    let read = SheetFile::read(base).map_err(|error| unwritable(base, &error))?;
    let text = String::from_utf8_lossy(&read.1);
    text.trim_start_matches('\u{feff}')
        .parse()
        .map_err(|error: toml::de::Error| {
            Fault::usage(
                "job-syntax",
                error.message().to_owned(),
                "Correct the line.",
            )
            .in_file(base.display().to_string())
            .into()
        })
}
