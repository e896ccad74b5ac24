//! Finds what there is to measure. Folders are gone through: one with a job sheet (`job.toml`) is one survey, and every log that no sheet
//! names is one by itself. Files that are neither are skipped with a reason, so that nothing is lost without a word. What is named
//! outright in the call is measured whatever it looks like.

use super::content::{content, head, is_own_document};
use super::name;
use crate::fault::Fault;
use crate::job::Job;
use crate::job::read::looks_like_sheet;
use crate::read::unpacked;
use crate::write::inputs::Inputs;
use crate::write::manifest::Manifest;
use rayon::prelude::*;
use std::collections::HashSet;
use std::path::{Path, PathBuf};
use walkdir::{DirEntry, WalkDir};

/// The name of the job sheet that makes its folder one survey.
pub const SHEET: &str = "job.toml";
/// Endings of names that are taken for logs whatever is inside, so that a broken log is told of and not passed over.
const LOGS: [&str; 4] = [".nmea", ".nmea.gz", ".gpx", ".gpx.gz"];

/// The most bytes of a path: Linux takes no longer ones (`PATH_MAX`), and other systems none that are much longer.
const MOST_PATH: usize = 4096;

/// Where a survey comes from.
#[derive(Debug, Clone)]
pub enum Source {
    /// A job sheet; the logs it names are beside it.
    Sheet(PathBuf),
    /// A log without a sheet.
    Log(PathBuf),
    /// A log in a zip archive, by its name there.
    Packed(PathBuf, String),
    /// A log that was handed over whole, with its job sheet where there is one.
    Given(Vec<u8>, Option<Box<Job>>),
    /// Something that cannot be measured, with the reason; it gets a row all the same.
    Broken(Fault),
}

/// One survey of the day.
#[derive(Debug, Clone)]
pub struct Site {
    /// What it is called.
    pub name: String,
    /// What it is measured from.
    pub source: Source,
}

/// A file that is no survey, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Skipped {
    /// Where it lies.
    pub path: PathBuf,
    /// Why, in words.
    pub why: String,
}

/// Everything that was found.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct Found {
    /// The surveys, in the order in which they were given, and by name within a folder.
    pub sites: Vec<Site>,
    /// Files that are no survey.
    pub skipped: Vec<Skipped>,
    /// How many hidden files and folders were passed over.
    pub hidden: u64,
    /// The files that the job sheets name, with links followed.
    pub named: Vec<PathBuf>,
}

impl Found {
    /// Every file that will be read.
    #[must_use]
    pub fn inputs(&self) -> Inputs {
        let own = self.sites.iter().filter_map(|site| match &site.source {
            Source::Sheet(path) | Source::Log(path) | Source::Packed(path, _) => Some(path),
            Source::Given(..) | Source::Broken(_) => None,
        });
        Inputs::of(own.chain(&self.named))
    }

    /// The names of the surveys.
    #[must_use]
    pub fn surveys(&self) -> Vec<&str> {
        self.sites.iter().map(|site| site.name.as_str()).collect()
    }
}

/// The name of one thing given in the call without where it lies: a folder's own name, that of a job sheet's folder, or a log's.
#[must_use]
pub fn called(path: &Path) -> String {
    let of = match path.file_name() {
        Some(own) if own == SHEET => path.parent().map(|folder| match folder.as_os_str() {
            empty if empty.is_empty() => Path::new("."),
            _ => folder,
        }),
        _ => Some(path),
    };
    let whole = of.and_then(|path| path.canonicalize().ok());
    let own = whole.as_deref().unwrap_or(path).file_name();
    own.unwrap_or_default().to_string_lossy().into_owned()
}

/// Finds the surveys in what was given. `leave` are folders not to look into, such as the one where the sheets go.
#[must_use]
pub fn find(given: &[PathBuf], leave: &[PathBuf]) -> Found {
    let leave: Vec<PathBuf> = leave.iter().filter_map(|p| p.canonicalize().ok()).collect();
    let mut look = Look {
        found: Found::default(),
        named: HashSet::new(),
        without: HashSet::new(),
        leave,
    };
    let mut candidates: Vec<Candidate> = Vec::new();
    for path in given {
        if path.is_dir() {
            look.folder(path, &mut candidates);
        } else {
            look.file(path, &mut candidates);
        }
    }
    look.settle(candidates)
}

/// Something that may be a survey, in the order in which it was met.
enum Candidate {
    Site(Site),
    /// A file met in a folder, which is looked into only once all job sheets are known.
    Loose {
        name: String,
        path: PathBuf,
    },
}

/// A search under way.
struct Look {
    found: Found,
    /// Files that job sheets name; they are no surveys by themselves.
    named: HashSet<PathBuf>,
    /// Folders whose job sheet cannot be read, so that nobody knows which files belong to it.
    without: HashSet<PathBuf>,
    /// Folders not to look into.
    leave: Vec<PathBuf>,
}

impl Look {
    /// Goes through a folder and all below it, in the order of names, but not into hidden folders, those to be left, and those
    /// that this program wrote sheets into.
    fn folder(&mut self, root: &Path, candidates: &mut Vec<Candidate>) {
        let own = name::root(root);
        let named = |path: &Path| name::under(&own, path.strip_prefix(root).unwrap_or(path));
        let mut hidden = 0;
        let mut written = Vec::new();
        let leave = self.leave.clone();
        let walk = WalkDir::new(root)
            .follow_links(true)
            .sort_by_file_name()
            .into_iter()
            .filter_entry(|entry| {
                let keep = entry.depth() == 0 || !is_hidden(entry);
                hidden += u64::from(!keep);
                let left = keep
                    && entry.file_type().is_dir()
                    && !leave.is_empty()
                    && entry
                        .path()
                        .canonicalize()
                        .is_ok_and(|p| leave.contains(&p));
                let sheets = keep && !left && entry.file_type().is_dir();
                if sheets && let Some(list) = Manifest::of_sheets(entry.path()) {
                    written.push((entry.path().to_owned(), list));
                    return false;
                }
                keep && !left
            });
        for entry in walk {
            let met = match entry {
                Ok(entry) => self.met(named(entry.path()), entry),
                Err(error) => {
                    let path = error.path().unwrap_or(root);
                    self.barred(named(path), path, &error)
                }
            };
            candidates.extend(met);
        }
        self.found.hidden += hidden;
        for (folder, list) in written {
            self.pass_over(folder, &list);
        }
    }

    /// What one entry of a folder may be: a folder with a job sheet is a survey, a file is looked into later, anything else is skipped.
    fn met(&mut self, name: String, entry: DirEntry) -> Option<Candidate> {
        if entry.file_type().is_dir() {
            let sheet = entry.path().join(SHEET);
            return sheet.is_file().then(|| self.sheet(name, sheet));
        }
        let (is_file, path) = (entry.file_type().is_file(), entry.into_path());
        if !is_file {
            // To open a pipe could wait for ever, and a device may give bytes without an end.
            self.found.skipped.push(Skipped {
                path,
                why: "it is a pipe, a socket or a device, not a file: name it outright to have it read".into(),
            });
            return None;
        }
        (path.file_name()? != SHEET).then_some(Candidate::Loose { name, path })
    }

    /// A folder or file that cannot be looked into becomes a survey without an area, so that it is told of.
    fn barred(&mut self, name: String, path: &Path, error: &walkdir::Error) -> Option<Candidate> {
        if error.loop_ancestor().is_some() {
            // A link that leads back to a folder above it; that folder is gone through already.
            self.found.skipped.push(Skipped {
                path: path.to_owned(),
                why: plain(error),
            });
            return None;
        }
        Some(Candidate::Site(Site {
            name,
            source: Source::Broken(
                Fault::unreadable(
                    "cannot-look",
                    format!("it cannot be looked into ({}).", plain(error)),
                    "Check that you may read it, then run again.",
                )
                .in_file(path.display().to_string()),
            ),
        }))
    }

    /// Skips a folder that this program wrote sheets into. A log that somebody put among them is named among what was skipped.
    fn pass_over(&mut self, folder: PathBuf, list: &Manifest) {
        let among = "it lies among sheets that boundwalk wrote: move it out to have it measured";
        for path in list.strangers(&folder) {
            if path.is_dir() || (path.is_file() && content(&path).is_ok()) {
                let why = among.into();
                self.found.skipped.push(Skipped { path, why });
            }
        }
        self.found.skipped.push(Skipped {
            path: folder,
            why: "boundwalk wrote the sheets in it".into(),
        });
    }

    /// A file named outright is measured whatever it looks like. A pipe is taken for a log without looking into it, since that would take
    /// its beginning away.
    fn file(&mut self, path: &Path, candidates: &mut Vec<Candidate>) {
        let sheet = head(path).is_ok_and(|head| looks_like_sheet(&head));
        let mut name = name::root(path);
        if sheet {
            if path.file_name().is_some_and(|own| own == SHEET) {
                let folder = match path.parent() {
                    Some(folder) if !folder.as_os_str().is_empty() => folder,
                    _ => Path::new("."),
                };
                name = name::root(folder);
            }
            candidates.push(self.sheet(name, path.to_owned()));
        } else {
            candidates.push(Candidate::Site(Site {
                name,
                source: Source::Log(path.to_owned()),
            }));
        }
    }

    /// A job sheet as a survey. The files it names are noted, so that they are not measured a second time by themselves.
    fn sheet(&mut self, name: String, path: PathBuf) -> Candidate {
        match Job::from_file(&path) {
            Ok(job) => {
                self.named
                    .extend(job.files().filter_map(|file| file.canonicalize().ok()));
            }
            Err(_) => self.without.extend(path.parent().map(Path::to_owned)),
        }
        Candidate::Site(Site {
            name,
            source: Source::Sheet(path),
        })
    }

    /// Looks into the loose files on all cores, leaves out what was given twice, and gives every survey a name of its own.
    fn settle(mut self, candidates: Vec<Candidate>) -> Found {
        let judged: Vec<(Candidate, Option<Verdict>)> = candidates
            .into_par_iter()
            .map(|candidate| {
                let verdict = match &candidate {
                    Candidate::Site(_) => None,
                    Candidate::Loose { path, .. } => Some(self.judge(path)),
                };
                (candidate, verdict)
            })
            .collect();
        let mut met: HashSet<PathBuf> = HashSet::new();
        let mut names: HashSet<String> = HashSet::new();
        let mut all: Vec<(String, Source)> = Vec::new();
        for (candidate, verdict) in judged {
            match (candidate, verdict) {
                (Candidate::Site(site), _) => all.extend(each_log(site.name, site.source)),
                (Candidate::Loose { name, path }, Some(Verdict::Log)) => {
                    all.extend(each_log(name, Source::Log(path)));
                }
                (Candidate::Loose { path, .. }, Some(Verdict::No(why))) => {
                    self.found.skipped.push(Skipped { path, why });
                }
                (Candidate::Loose { .. }, _) => {}
            }
        }
        for (name, source) in all {
            if let Source::Sheet(path) | Source::Log(path) = &source
                && let Ok(whole) = path.canonicalize()
                && !met.insert(whole)
            {
                self.found.skipped.push(Skipped {
                    path: path.clone(),
                    why: "it is named twice".into(),
                });
                continue;
            }
            let mut unique = name.clone();
            let mut count = 1;
            while !names.insert(unique.clone()) {
                count += 1;
                unique = format!("{name} ({count})");
            }
            self.found.sites.push(Site {
                name: unique,
                source,
            });
        }
        self.found.named = self.named.into_iter().collect();
        self.found.named.sort();
        self.found
    }

    /// Whether a loose file is a survey by itself.
    fn judge(&self, path: &Path) -> Verdict {
        if !self.named.is_empty()
            && path
                .canonicalize()
                .is_ok_and(|whole| self.named.contains(&whole))
        {
            return Verdict::Named;
        }
        let file_name = path
            .file_name()
            .map(|own| own.to_string_lossy().to_ascii_lowercase())
            .unwrap_or_default();
        let is_log = LOGS.iter().any(|ending| file_name.ends_with(ending));
        if path
            .parent()
            .is_some_and(|folder| self.without.contains(folder))
        {
            let verdict = if is_log { Ok(()) } else { content(path) };
            return match verdict {
                Ok(()) => Verdict::No(
                    "the job sheet beside it cannot be read, so it is not known what this log is"
                        .into(),
                ),
                Err(why) => Verdict::No(why),
            };
        }
        // A GPX file that this program wrote shows the edge of a lawn that was measured; it is no walk.
        if is_log && !(file_name.ends_with(".gpx") && head(path).is_ok_and(|h| is_own_document(&h)))
        {
            return Verdict::Log;
        }
        match content(path) {
            Ok(()) => Verdict::Log,
            Err(why) => Verdict::No(why),
        }
    }
}

/// A log is one survey; an archive with several logs is one survey for each.
fn each_log(name: String, source: Source) -> Vec<(String, Source)> {
    let Source::Log(path) = source else {
        return vec![(name, source)];
    };
    match unpacked::logs_in(&path) {
        Some(Ok(members)) if members.len() > 1 => members
            .into_iter()
            .map(|member| {
                (
                    format!("{name}/{member}"),
                    Source::Packed(path.clone(), member),
                )
            })
            .collect(),
        Some(Err(fault)) => vec![(name, Source::Broken(fault))],
        _ => vec![(name, Source::Log(path))],
    }
}

/// What a loose file is.
enum Verdict {
    Log,
    /// A part of a survey that has a job sheet.
    Named,
    /// No log, and why.
    No(String),
}

fn is_hidden(entry: &DirEntry) -> bool {
    entry.file_name().to_string_lossy().starts_with('.')
}

/// What went wrong, without the path that the library adds.
fn plain(error: &walkdir::Error) -> String {
    match error.io_error() {
        Some(io) => io.to_string(),
        None if error.loop_ancestor().is_some() => "a link leads back to a folder above it".into(),
        None => error.to_string(),
    }
}

/// The paths in a list: one on each line, or separated by NUL bytes (as `find -print0` writes them). A line may also be a JSON text, or a
/// JSON object with a `path` (NDJSON). Empty lines are passed over.
#[must_use]
pub fn list(bytes: &[u8]) -> Vec<PathBuf> {
    let separator = if bytes.contains(&0) { 0 } else { b'\n' };
    bytes
        .split(|b| *b == separator)
        .map(|line| line.strip_suffix(b"\r").unwrap_or(line))
        .filter(|line| !line.trim_ascii().is_empty())
        .map(|line| {
            // A longer line is no path; its beginning stands for it where it is told of.
            let path = || from_bytes(line.get(..MOST_PATH).unwrap_or(line));
            from_json(line).unwrap_or_else(path)
        })
        .collect()
}

fn from_json(line: &[u8]) -> Option<PathBuf> {
    if !matches!(line.first(), Some(b'"' | b'{')) {
        return None;
    }
    match serde_json::from_slice(line).ok()? {
        serde_json::Value::String(path) => Some(path.into()),
        serde_json::Value::Object(entry) => Some(entry.get("path")?.as_str()?.into()),
        _ => None,
    }
}

#[cfg(unix)]
fn from_bytes(line: &[u8]) -> PathBuf {
    use std::os::unix::ffi::OsStrExt;
    std::ffi::OsStr::from_bytes(line).into()
}

#[cfg(not(unix))]
fn from_bytes(line: &[u8]) -> PathBuf {
    String::from_utf8_lossy(line).into_owned().into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    const FIX: &[u8] = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n";

    fn names(found: &Found) -> Vec<&str> {
        found.sites.iter().map(|site| site.name.as_str()).collect()
    }

    #[test]
    fn sheets_loose_logs_and_the_rest() {
        let temp = tempfile::tempdir().unwrap();
        let yard = temp.path().join("yard");
        let put = |path: &str, bytes: &[u8]| {
            let path = yard.join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        };
        put("J-1/job.toml", b"[walk]\nfiles = [\"lawn.nmea\"]\n");
        put("J-1/lawn.nmea", FIX);
        put("J-1/spare.nmea", FIX);
        put("J-2/job.toml", b"[wolk]\n");
        put("J-2/lawn.nmea", FIX);
        put("late/a.log", FIX);
        put("late/b.log", b"started\nstopped\n");
        put(
            "late/points.csv",
            b"name;lat;lon\nA;52,1;-1,2\nB;52,2;-1,2\n",
        );
        put(
            "late/prices.csv",
            b"item,one,two\nturf,2.40,2.80\nsoil,40.1,41.2\n",
        );
        put("late/.hidden.nmea", FIX);
        put("late/empty.nmea", b"");
        put("late/J-9.toml", b"[[lawn]]\nfiles = [\"a.log\"]\n");
        put(
            "late/lawn.geojson",
            b"{\"type\": \"FeatureCollection\", \"features\": [{\"properties\": {\"net_m2\": 1}}]}",
        );
        put("out/J-1/result.nmea", FIX);
        let found = find(std::slice::from_ref(&yard), &[yard.join("out")]);
        assert_eq!(
            names(&found),
            [
                "yard/J-1",
                "yard/J-1/spare.nmea",
                "yard/J-2",
                "yard/late/a.log",
                "yard/late/empty.nmea",
                "yard/late/points.csv"
            ]
        );
        let skipped: Vec<String> = found
            .skipped
            .iter()
            .map(|s| name::joined(s.path.strip_prefix(&yard).unwrap()))
            .collect();
        assert_eq!(
            skipped,
            [
                "J-2/lawn.nmea",
                "late/J-9.toml",
                "late/b.log",
                "late/lawn.geojson",
                "late/prices.csv"
            ]
        );
        let why = &found.skipped[1].why;
        assert!(
            why.contains("only looked for under the name job.toml"),
            "{why}"
        );
        assert_eq!(found.hidden, 1);
    }

    #[cfg(unix)]
    #[test]
    fn what_is_no_file_is_passed_over_and_named() {
        use rustix::fs::{CWD, FileType, Mode, mknodat};
        use std::os::unix::fs::symlink;
        let temp = tempfile::tempdir().unwrap();
        let yard = temp.path().join("yard");
        fs::create_dir(&yard).unwrap();
        fs::write(yard.join("a.nmea"), FIX).unwrap();
        for name in ["pipe.nmea", "pipe"] {
            mknodat(CWD, yard.join(name), FileType::Fifo, Mode::RWXU, 0).unwrap();
        }
        let _socket = std::os::unix::net::UnixListener::bind(yard.join("socket.gpx")).unwrap();
        symlink("/dev/zero", yard.join("zero.nmea")).unwrap();
        symlink(&yard, yard.join("round")).unwrap();
        let found = find(std::slice::from_ref(&yard), &[]);
        assert_eq!(names(&found), ["yard/a.nmea"]);
        let mut skipped: Vec<String> = found
            .skipped
            .iter()
            .map(|s| name::joined(s.path.strip_prefix(&yard).unwrap()))
            .collect();
        skipped.sort();
        assert_eq!(
            skipped,
            ["pipe", "pipe.nmea", "round", "socket.gpx", "zero.nmea"]
        );
        // Named outright, a pipe is a log like any other, and is not opened to look what it is.
        let found = find(&[yard.join("pipe")], &[]);
        assert_eq!(found.sites.len(), 1);
    }

    #[test]
    fn the_same_file_twice_is_one_survey() {
        let temp = tempfile::tempdir().unwrap();
        let log = temp.path().join("a.nmea");
        fs::write(&log, FIX).unwrap();
        let found = find(&[log.clone(), temp.path().to_owned(), log], &[]);
        assert_eq!(found.sites.len(), 1);
        assert_eq!(found.skipped.len(), 2);
        // What is not there still has its line.
        let found = find(&["no/such.nmea".into()], &[]);
        assert_eq!(names(&found), ["no/such.nmea"]);
    }

    #[test]
    fn lists_are_lines_or_json() {
        let paths = |bytes: &[u8]| -> Vec<String> {
            list(bytes)
                .iter()
                .map(|p| p.display().to_string())
                .collect()
        };
        assert_eq!(
            paths(b"a b.nmea\r\n\n\"c\\u0064.gpx\"\n{\"path\": \"e/f\", \"n\": 1}\n{odd}\n"),
            ["a b.nmea", "cd.gpx", "e/f", "{odd}"]
        );
        assert_eq!(paths(b"a\nb\0c\0"), ["a\nb", "c"]);
        assert_eq!(paths(&[b'x'; 100_000])[0].len(), MOST_PATH);
    }
}
