//! Tells a file that has arrived from one that is still arriving.
//!
//! A folder that loggers sync into is looked at again and again. A survey is measured once everything of it has kept its
//! size and time of change from one look to the next; one that changes later is measured again.

use super::find::{Site, Source};
use crate::job::Job;
use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// A file's size and time of change; `None` where it is not there.
type State = Option<(u64, Option<SystemTime>)>;

/// Every file of one survey with its state at one look.
type Stamp = Vec<(PathBuf, State)>;

/// What was seen at earlier looks.
#[derive(Debug, Default)]
pub struct Watch {
    /// Each survey as it was at the last look, by its name.
    seen: HashMap<String, Stamp>,
    /// Each survey as it was when it was last measured.
    measured: HashMap<String, Stamp>,
}

/// What there is to do after a look.
#[derive(Debug, Default)]
pub struct Ready {
    /// Surveys that have arrived and were not yet measured in this state.
    pub new: Vec<Site>,
    /// All surveys that have arrived, whether measured before or not.
    pub whole: Vec<Site>,
    /// How many are still arriving.
    pub waiting: usize,
}

impl Watch {
    /// Compares what is there now with the last look. What comes back as new counts as measured from then on.
    pub fn look(&mut self, sites: Vec<Site>) -> Ready {
        let mut ready = Ready::default();
        let mut seen = HashMap::new();
        for site in sites {
            let now = stamp(&site.source);
            let still = self.seen.get(&site.name) == Some(&now);
            seen.insert(site.name.clone(), now.clone());
            if !still {
                ready.waiting += 1;
                continue;
            }
            if self.measured.get(&site.name) != Some(&now) {
                self.measured.insert(site.name.clone(), now);
                ready.new.push(site.clone());
            }
            ready.whole.push(site);
        }
        self.seen = seen;
        // Surveys that are no longer there are forgotten, so that one that comes back is new.
        let there: HashSet<&String> = self.seen.keys().collect();
        self.measured.retain(|name, _| there.contains(name));
        ready
    }
}

/// The states of all files of a survey: the log, or the job sheet and every file that it names.
fn stamp(source: &Source) -> Stamp {
    match source {
        Source::Log(path) | Source::Packed(path, _) => vec![(path.clone(), state(path))],
        Source::Sheet(path) => {
            let mut all = vec![(path.clone(), state(path))];
            // A job sheet that is still being written may have faults; the files it names are looked at once it can be read.
            if let Ok(job) = Job::from_file(path) {
                all.extend(job.files().map(|file| (file.to_owned(), state(file))));
            }
            all
        }
        Source::Given(..) | Source::Broken(_) => Vec::new(),
    }
}

fn state(path: &Path) -> State {
    let meta = std::fs::metadata(path).ok()?;
    Some((meta.len(), meta.modified().ok()))
}

#[cfg(test)]
mod tests {
    use super::super::find::find;
    use super::*;
    use std::fs;

    #[test]
    fn measured_when_still_and_again_when_changed() {
        let temp = tempfile::tempdir().unwrap();
        let log = temp.path().join("a.nmea");
        let look = |watch: &mut Watch| {
            let ready = watch.look(find(&[temp.path().to_owned()], &[]).sites);
            (ready.new.len(), ready.whole.len(), ready.waiting)
        };
        let mut watch = Watch::default();
        assert_eq!(look(&mut watch), (0, 0, 0));
        fs::write(&log, "$GPGGA,1").unwrap();
        assert_eq!(look(&mut watch), (0, 0, 1));
        fs::write(&log, "$GPGGA,123").unwrap();
        assert_eq!(look(&mut watch), (0, 0, 1));
        assert_eq!(look(&mut watch), (1, 1, 0));
        assert_eq!(look(&mut watch), (0, 1, 0));
        fs::write(&log, "$GPGGA,12345").unwrap();
        assert_eq!(look(&mut watch), (0, 0, 1));
        assert_eq!(look(&mut watch), (1, 1, 0));
        // A sheet waits for the logs it names.
        fs::write(
            temp.path().join("job.toml"),
            "[walk]\nfiles = [\"a.nmea\"]\n",
        )
        .unwrap();
        assert_eq!(look(&mut watch), (0, 0, 1));
        fs::write(&log, "$GPGGA,1234567").unwrap();
        assert_eq!(look(&mut watch), (0, 0, 1));
        assert_eq!(look(&mut watch), (1, 1, 0));
        fs::remove_file(temp.path().join("job.toml")).unwrap();
        fs::remove_file(&log).unwrap();
        assert_eq!(look(&mut watch), (0, 0, 0));
        fs::write(&log, "$GPGGA,1234567").unwrap();
        look(&mut watch);
        assert_eq!(look(&mut watch), (1, 1, 0));
    }
}
