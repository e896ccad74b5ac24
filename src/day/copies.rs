//! One log under two names: most likely a logger's file put into the folder of another garden as well, which then has this
//! garden's area and order.

use super::find::{Site, Source};
use crate::job::{Job, Span};
use crate::read::hash;
use crate::regular;
use rayon::prelude::*;
use std::collections::{BTreeMap, HashSet};
use std::io::Read;
use std::path::{Path, PathBuf};

/// So much of a log tells most logs of one length apart: they begin at different times.
const HEAD: u64 = 4096;

/// Surveys whose edge was taken from one and the same log, though each has a file of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copies {
    /// What they are called, in the order of the day; at least two.
    pub surveys: Vec<String>,
    /// The log of the first.
    pub log: PathBuf,
}

/// A lawn's log, and what it is known by.
struct Walked<'a> {
    survey: &'a str,
    log: PathBuf,
    known: String,
}

/// All logs of one content that lie in two places and are measured as two surveys. A sheet that names another's file, or another
/// part of its time, does so on purpose.
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

/// Logs that an edge is taken from, and which part of their time.
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

/// Those that are known by what another is known by, read as far as `most_bytes` and known by that as well.
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

/// Two or more that are known by one thing, in the order of the day.
fn grouped(walked: Vec<Walked<'_>>) -> impl Iterator<Item = Vec<Walked<'_>>> {
    let mut by: BTreeMap<String, Vec<Walked<'_>>> = BTreeMap::new();
    for one in walked {
        by.entry(one.known.clone()).or_default().push(one);
    }
    by.into_values().filter(|group| group.len() > 1)
}
