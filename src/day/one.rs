//! One survey of the day: its sheet and logs to a result, whatever happens on the way.

use super::find::{Site, Source};
use crate::fault::{Fault, Kind};
use crate::job::Job;
use crate::read::Input;
use crate::survey::collect::Collected;
use crate::survey::{self, Depth, Measured, Request, report};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;

/// The hash of everything a result depends on: this program's version and method, the settings of the call, the job sheet, and the
/// names and contents of the logs. In hexadecimal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fingerprint(pub String);

/// A survey ready to be measured.
#[derive(Debug)]
pub struct Loaded {
    pub request: Request,
    /// SHA-256 of the sheet's bytes; of nothing where there is no sheet.
    sheet: [u8; 32],
    /// Every log, in the order in which they are read.
    files: Vec<PathBuf>,
}

/// What became of a survey.
#[derive(Debug)]
pub struct Taken {
    pub measured: Measured,
    /// The request that it answers.
    pub request: Request,
    /// `None` where not every input could be read: such a survey is always tried again.
    pub fingerprint: Option<Fingerprint>,
    /// False where nothing could be read, or the sheet or the call is wrong.
    pub read: bool,
}

/// Reads the sheet.
///
/// # Errors
/// A sheet that cannot be used, with its first fault and how many more there are.
pub fn load(site: &Site, template: &Request) -> Result<Loaded, Fault> {
    let mut request = template.clone();
    request.name.clone_from(&site.name);
    let (sheet, files) = match &site.source {
        Source::Broken(fault) => return Err(fault.clone()),
        Source::Log(path) => {
            request.logs = vec![Input::File(path.clone())];
            ([0; 32], vec![path.clone()])
        }
        Source::Sheet(path) => {
            let shown = path.display().to_string();
            let bytes = std::fs::read(path).map_err(|error| {
                Fault::unreadable(
                    "unreadable",
                    format!("the job sheet cannot be read ({error})."),
                    "Check that it is still there and that you may read it.",
                )
                .in_file(&shown)
            })?;
            let folder = path.parent().unwrap_or(std::path::Path::new(""));
            let job = Job::from_bytes(&bytes, &shown, folder).map_err(|faults| {
                let more = faults.0.len().saturating_sub(1);
                match faults.0.into_iter().next() {
                    Some(first) if more > 0 => Fault::new(
                        first.kind(),
                        first.code(),
                        format!("{first} ({more} more in this sheet.)"),
                        format!("`boundwalk job {shown}` shows them all."),
                    ),
                    Some(first) => first,
                    None => {
                        Fault::usage("job-sheet", "the job sheet has faults.", "").in_file(&shown)
                    }
                }
            })?;
            let files: Vec<PathBuf> = job.files().map(std::path::Path::to_owned).collect();
            if job.walks.iter().all(|walk| walk.files.is_empty()) {
                return Err(Fault::usage(
                    "no-logs",
                    "the sheet names no log that was walked.",
                    "Add files = [\"lawn.nmea\"] to [walk].",
                )
                .in_file(shown));
            }
            request.job = job;
            (Sha256::digest(&bytes).into(), files)
        }
    };
    Ok(Loaded {
        request,
        sheet,
        files,
    })
}

impl Loaded {
    /// The fingerprint of the inputs as they lie on the disk; `None` where one cannot be read.
    pub fn fingerprint(&self) -> Option<Fingerprint> {
        let hashes: Option<Vec<(String, String)>> = self
            .files
            .iter()
            .map(|path| Some((Input::File(path.clone()).name(), hash_of(path)?)))
            .collect();
        Some(self.with(&hashes?))
    }

    /// The same of the inputs as they were read.
    fn fingerprint_read(&self, measured: &Measured) -> Option<Fingerprint> {
        let files = &measured.log.files;
        let as_asked = files.len() == self.files.len()
            && files
                .iter()
                .zip(&self.files)
                .all(|(read, asked)| read.name == Input::File(asked.clone()).name());
        as_asked.then(|| {
            let hashes: Vec<_> = files
                .iter()
                .map(|file| (file.name.clone(), file.sha256.clone()))
                .collect();
            self.with(&hashes)
        })
    }

    fn with(&self, files: &[(String, String)]) -> Fingerprint {
        let asked = &self.request;
        let mut hash = Sha256::new();
        // Lengths go in as well, so that no two lists run together into the same bytes.
        let mut put = |bytes: &[u8]| {
            hash.update((bytes.len() as u64).to_le_bytes());
            hash.update(bytes);
        };
        put(env!("CARGO_PKG_VERSION").as_bytes());
        put(report::SCHEMA.as_bytes());
        put(&report::METHOD.to_le_bytes());
        put(settings(asked).as_bytes());
        put(asked.name.as_bytes());
        put(&self.sheet);
        for (name, sha256) in files {
            put(name.as_bytes());
            put(sha256.as_bytes());
        }
        Fingerprint(hex(&hash.finalize()))
    }

    /// Measures. Faults and panics become a result without an area.
    pub fn measure(self) -> Taken {
        let outcome = catch_unwind(AssertUnwindSafe(|| survey::measure(&self.request)));
        match outcome {
            Ok(Ok(measured)) => Taken {
                fingerprint: match self.request.depth {
                    // Of this nothing is kept.
                    Depth::Numbers => None,
                    // A survey refused before its logs were told of is known by what lies on the disk.
                    Depth::Document | Depth::Drawing => self
                        .fingerprint_read(&measured)
                        .or_else(|| self.fingerprint()),
                },
                measured,
                request: self.request,
                read: true,
            },
            Ok(Err(fault)) => failed(self.request, &fault),
            Err(panic) => failed(self.request, &broken(panic.as_ref())),
        }
    }
}

/// The settings of the call, as text.
fn settings(asked: &Request) -> String {
    format!(
        "{:?} {:?} {:?} {:?} {:?} {:?} {:?}",
        asked.carry,
        asked.sigma_m,
        asked.correlation_s,
        asked.confidence,
        asked.strict,
        asked.grid,
        asked.max_fixes
    )
}

/// A survey that gave nothing: its line all the same, with the reason.
pub fn failed(request: Request, fault: &Fault) -> Taken {
    Taken {
        measured: report::withheld(&request, &Collected::default(), None, fault, Vec::new()),
        request,
        fingerprint: None,
        read: fault.kind() == Kind::Withheld,
    }
}

/// What a panic says, as a fault.
pub fn broken(panic: &(dyn std::any::Any + Send)) -> Fault {
    let said = panic
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_default();
    Fault::withheld(
        "defect",
        format!("boundwalk broke off while measuring this survey ({said})."),
        "This is a defect: please report it with the log. The other surveys are not touched by it.",
    )
}

fn hash_of(path: &std::path::Path) -> Option<String> {
    let mut file = File::open(path).ok()?;
    let mut hash = Sha256::new();
    let mut block = vec![0; 64 * 1024];
    loop {
        match file.read(&mut block).ok()? {
            0 => return Some(hex(&hash.finalize())),
            n => hash.update(block.get(..n)?),
        }
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn garden(folder: &std::path::Path) -> Site {
        for (name, bytes) in crate::trial::garden::garden().files {
            fs::write(folder.join(name), bytes).unwrap();
        }
        Site {
            name: "garden".into(),
            source: Source::Sheet(folder.join("job.toml")),
        }
    }

    /// What is hashed beforehand is what was read, and everything that changes the result changes it.
    #[test]
    fn a_fingerprint_changes_with_everything_the_result_depends_on() {
        let temp = tempfile::tempdir().unwrap();
        let site = garden(temp.path());
        let plain = Request::default();
        let before = load(&site, &plain).unwrap().fingerprint().unwrap();
        let taken = load(&site, &plain).unwrap().measure();
        assert_eq!(taken.fingerprint.as_ref(), Some(&before));
        assert!(taken.measured.area.is_some() && taken.read);

        let other = Request {
            sigma_m: Some(0.02),
            ..Request::default()
        };
        assert_ne!(load(&site, &other).unwrap().fingerprint().unwrap(), before);
        let patio = temp.path().join("patio.nmea");
        let mut log = fs::read(&patio).unwrap();
        log.extend(b"\r\n");
        fs::write(&patio, log).unwrap();
        let after = load(&site, &plain).unwrap().fingerprint().unwrap();
        assert_ne!(after, before);
        fs::remove_file(&patio).unwrap();
        assert_eq!(load(&site, &plain).unwrap().fingerprint(), None);
        let taken = load(&site, &plain).unwrap().measure();
        assert!(!taken.read && taken.fingerprint.is_none());
        assert!(taken.measured.warnings[0].message.contains("patio.nmea"));
    }

    #[test]
    fn a_sheet_with_faults_tells_the_first_and_counts_the_rest() {
        let temp = tempfile::tempdir().unwrap();
        let path = temp.path().join("job.toml");
        fs::write(&path, "[wolk]\n[[bed]]\nradius_m = -1\n").unwrap();
        let site = Site {
            name: "x".into(),
            source: Source::Sheet(path),
        };
        let fault = load(&site, &Request::default()).err().unwrap();
        assert!(
            fault.to_string().contains("line 1") && fault.to_string().contains("2 more"),
            "{fault}"
        );
    }

    #[test]
    fn a_panic_is_told_in_words() {
        let panic = catch_unwind(|| panic!("index out of {}", "bounds")).unwrap_err();
        assert!(
            broken(panic.as_ref())
                .to_string()
                .contains("index out of bounds")
        );
    }
}
