//! Finds one and the same log under two names. Most likely somebody put a logger's file into the folder of a second garden, which then
//! gets the first garden's area and order. Logs are compared by size, then by the hash of their beginning, then by the hash of
//! all of them, so that few need be read whole.

use super::find::{Site, Source};
use crate::job::{Job, Span};
use crate::read::hash;
use crate::regular;
use rayon::prelude::*;
use std::collections::{BTreeMap, HashSet};
use std::io::Read;
use std::path::{Path, PathBuf};

/// So many bytes are enough to tell most logs of equal length apart, since they begin at different times.
const HEAD: u64 = 4096;

/// Surveys whose edge was taken from one and the same log, though each has a file of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copies {
    /// The names of the surveys, in the order of the day; at least two.
    pub surveys: Vec<String>,
    /// The log of the first.
    pub log: PathBuf,
}

/// A log that a survey's edge was taken from, and a text by which it is compared: logs with different texts are different.
struct Walked<'a> {
    survey: &'a str,
    log: PathBuf,
    known: String,
}

/// All logs that have the same content, lie in several places and are measured as several surveys. A job sheet that names the very file
/// of another survey, or another stretch of its time, does so on purpose and is not listed.
#[must_use]
pub fn copies(sites: &[Site]) -> Vec<Copies> {
    let sized = sites.iter().flat_map(|site| {
        let size = |log: &Path| Some(log.metadata().ok().filter(|m| m.len() > 0)?.len());
        logs(&site.source)
            .into_iter()
            .filter_map(move |(log, span)| {
                let known = format!("{} {span:?}", size(&log)?);
                let survey = site.name.as_str();
                Some(Walked { survey, log, known })
            })
    });
    let begun = alike(sized.collect(), HEAD);
    let mut found: Vec<Copies> = grouped(alike(begun, u64::MAX))
        .filter_map(|alike| {
            let places: HashSet<_> = alike
                .iter()
                .filter_map(|w| w.log.canonicalize().ok())
                .collect();
            let mut surveys: Vec<String> = alike.iter().map(|w| w.survey.to_owned()).collect();
            surveys.dedup();
            let log = alike.into_iter().next()?.log;
            (places.len() > 1 && surveys.len() > 1).then_some(Copies { surveys, log })
        })
        .collect();
    found.sort_by(|a, b| a.surveys.cmp(&b.surveys));
    found
}

/// The logs that a survey's edge is taken from, each with the stretch of its time that is used; none for a log in an archive or on a stream.
fn logs(source: &Source) -> Vec<(PathBuf, Span)> {
    match source {
        Source::Log(path) => vec![(path.clone(), Span::default())],
        Source::Sheet(path) => Job::from_file(path).map_or_else(
            |_| Vec::new(),
            |job| {
                let walks = job.walks.into_iter();
                walks
                    .flat_map(|walk| walk.files.into_iter().map(move |log| (log, walk.span)))
                    .collect()
            },
        ),
        Source::Packed(..) | Source::Given(..) | Source::Broken(_) => Vec::new(),
    }
}

/// Keeps the logs whose text another has as well, and adds the hash of their first `most_bytes` to the text. Logs that cannot be read
/// are left out.
fn alike(walked: Vec<Walked<'_>>, most_bytes: u64) -> Vec<Walked<'_>> {
    let together: Vec<Walked<'_>> = grouped(walked).flatten().collect();
    together
        .into_par_iter()
        .filter_map(|mut walked| {
            let read = regular::open(&walked.log).ok()?.take(most_bytes);
            walked.known.push_str(&hash::of(read).ok()?);
            Some(walked)
        })
        .collect()
}

/// Groups of two or more logs with the same text, each in the order of the day.
fn grouped(walked: Vec<Walked<'_>>) -> impl Iterator<Item = Vec<Walked<'_>>> {
    let mut by: BTreeMap<String, Vec<Walked<'_>>> = BTreeMap::new();
    for one in walked {
        by.entry(one.known.clone()).or_default().push(one);
    }
    by.into_values().filter(|group| group.len() > 1)
}
