//! Measures one survey of the day: from its job sheet and logs to a result, whatever happens on the way. A fault, and even a panic (a
//! defect of the program), becomes a result without an area, so that the other surveys go on.

use super::find::{Site, Source};
pub use crate::asked::Fingerprint;
use crate::fault::{Fault, Kind};
use crate::job::Job;
use crate::read::Input;
use crate::survey::collect::Collected;
use crate::survey::{self, Depth, Measured, Request, report};
use std::panic::{AssertUnwindSafe, catch_unwind};

/// A survey ready to be measured.
#[derive(Debug)]
pub struct Loaded {
    /// Everything that is asked: logs, job sheet and options.
    pub request: Request,
}

/// What became of a survey.
#[derive(Debug)]
pub struct Taken {
    /// The result.
    pub measured: Measured,
    /// The request that it answers.
    pub request: Request,
    /// A hash of everything that the result depends on; `None` where not every input could be read, so that it is tried again next time.
    pub fingerprint: Option<Fingerprint>,
    /// False where nothing could be read, or the sheet or the call is wrong.
    pub read: bool,
}

/// Reads the job sheet, if there is one, and puts together what is asked of the survey. `template` has the options of the call.
///
/// # Errors
/// A sheet that cannot be used, with its first fault and how many more there are.
pub fn load(site: &Site, template: &Request) -> Result<Loaded, Fault> {
    let mut request = template.clone();
    request.name.clone_from(&site.name);
    match &site.source {
        Source::Broken(fault) => return Err(fault.clone()),
        Source::Log(path) => request.logs = vec![Input::File(path.clone())],
        Source::Given(bytes, job) => {
            request.logs = vec![Input::Bytes {
                name: site.name.clone(),
                bytes: bytes.clone(),
            }];
            if let Some(job) = job {
                request.job = (**job).clone();
            }
        }
        Source::Packed(archive, member) => {
            request.logs = vec![Input::Packed {
                archive: Box::new(Input::File(archive.clone())),
                member: member.clone(),
            }];
        }
        Source::Sheet(path) => {
            let shown = path.display().to_string();
            request.job = Job::from_file(path).map_err(|faults| faults.first(&shown))?;
            let walked = request.job.walks.iter().any(|walk| !walk.files.is_empty());
            if !walked && !request.job.is_taped() {
                return Err(Fault::usage(
                    "no-logs",
                    "the sheet names no log that was walked.",
                    "Add files = [\"lawn.nmea\"] to [walk], or [[shape]] tables of what was taped.",
                )
                .in_file(shown));
            }
        }
    }
    Ok(Loaded { request })
}

impl Loaded {
    /// The fingerprint of the inputs as they lie on the disk; `None` where one cannot be read.
    #[must_use]
    pub fn fingerprint(&self) -> Option<Fingerprint> {
        self.request.fingerprint_on_disk()
    }

    /// Measures the survey. Faults and panics become a result without an area.
    #[must_use]
    pub fn measure(self) -> Taken {
        let outcome = catch_unwind(AssertUnwindSafe(|| survey::measure(&self.request)));
        match outcome {
            Ok(Ok(measured)) => Taken {
                fingerprint: match self.request.depth {
                    // Where only numbers are wanted nothing is kept, so nothing need be compared later.
                    Depth::Numbers => None,
                    // The hashes of the logs come from reading them. Where the survey was refused before that, the files are hashed on the disk.
                    Depth::Document | Depth::Drawing => self
                        .request
                        .fingerprint_read(&measured.log.files)
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

/// The result of a survey that could not be measured: without an area, with the reason.
#[must_use]
pub fn failed(request: Request, fault: &Fault) -> Taken {
    Taken {
        measured: report::withheld(
            &request,
            &Collected::default(),
            &[],
            None,
            fault.clone(),
            Vec::new(),
        ),
        request,
        fingerprint: None,
        read: fault.kind() == Kind::Withheld,
    }
}

/// A panic as a fault, with what it said.
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn garden(folder: &std::path::Path) -> Site {
        let garden = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/garden/");
        for name in ["job.toml", "lawn.nmea", "patio.nmea"] {
            fs::copy([garden, name].concat(), folder.join(name)).unwrap();
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
        assert!(
            taken.measured.warnings[0]
                .to_string()
                .contains("patio.nmea")
        );
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
