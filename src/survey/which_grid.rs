//! Helps with a list of eastings and northings that names no grid: which of the grids known here would put it on the ground near the
//! other files of the job. The answer becomes the advice of the fault.

use super::Request;
use crate::fault::Fault;
use crate::grid::likely::{self, Place};
use crate::job;
use crate::read::{self, Input};
use std::path::PathBuf;

/// How many other files are looked at, at most. A job's files lie together, so that the first few say where.
const MOST: usize = 20;

/// The fault as it is, unless it is about numbers without a grid: then with advice on which grid would fit.
pub(super) fn asked(fault: Fault, request: &Request) -> Fault {
    match fault.off_grid() {
        Some(numbers) => {
            let advice = likely::advice(numbers, &places(request));
            fault.advising(advice)
        }
        None => fault,
    }
}

/// Where the job is known to be: the first position of each file that has one, and what its sheet gives by latitude and longitude.
fn places(request: &Request) -> Vec<Place> {
    let job = &request.job;
    let walked = job.walks.iter().flat_map(|walk| &walk.files);
    let named = walked
        .chain(job.deducts.iter().flat_map(|deduct| &deduct.files))
        .chain(job.paths.iter().flat_map(|path| &path.files));
    let named = named.map(|path: &PathBuf| Input::File(path.clone()));
    let given = request.logs.iter().chain(&request.deduct).cloned();
    let options = read::Options {
        max_fixes: Some(1),
        // Only regular files are opened, as a pipe has been read already and would have nothing more.
        regular: true,
        unhashed: true,
        ..read::Options::default()
    };
    let first = |input: Input| {
        if matches!(input, Input::Stdin) {
            return None;
        }
        let log = read::read_with(std::slice::from_ref(&input), &options).ok()?;
        let fix = log.fixes.first().map(|fix| (fix.lat_deg, fix.lon_deg));
        let mark = || log.marks.first().map(|mark| (mark.lat_deg, mark.lon_deg));
        let (lat_deg, lon_deg) = fix.or_else(mark).filter(|_| !log.local)?;
        Some(Place {
            name: input.name(),
            lat_deg,
            lon_deg,
        })
    };
    let on_sheet = job.beds.iter().map(|bed| (&bed.label, &bed.place));
    let on_sheet = on_sheet.chain(
        job.corners
            .iter()
            .map(|corner| (&corner.name, &corner.place)),
    );
    let on_sheet = on_sheet.filter_map(|(name, place)| match place {
        job::Place::At {
            lat_deg, lon_deg, ..
        } => Some(Place {
            name: name.clone(),
            lat_deg: *lat_deg,
            lon_deg: *lon_deg,
        }),
        _ => None,
    });
    given
        .chain(named)
        .take(MOST)
        .filter_map(first)
        .chain(on_sheet)
        .collect()
}
