//! Where the round beds are: waypoints with a size, and the job sheet's beds, which are placed by latitude and longitude, by the time at
//! which the surveyor stood there, or by the number of a standstill inside the edge.

use super::Request;
use super::collect::Collected;
use super::corners::{passed_at, stood};
use super::walked::{Placed, Walked};
use crate::job::Place;
use crate::lawn::region::Sides;
use crate::notice::{NotFound, Notice};
use crate::plane::Plane;
use crate::process::hand::BED_RADIUS_SIGMA_M;
use crate::ring::distance_m;
use crate::walk::{Spot, clean, pauses, wander_m};
use geo::Coord;
use std::borrow::Cow;
use std::cell::OnceCell;

/// A circular bed on the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Bed {
    pub label: String,
    /// Plane metres.
    pub centre: Coord<f64>,
    pub radius_m: f64,
    pub radius_sigma_m: f64,
}

/// Finds every bed that has a size and a place. One that lacks either is told in a notice and never dropped in silence.
pub(crate) fn find(
    request: &Request,
    collected: &Collected,
    plane: &Plane,
    lawns: &[Walked],
) -> (Vec<Bed>, Vec<Notice>) {
    let (mut beds, mut told) = (Vec::new(), Vec::new());
    let logs = collected
        .lawns
        .iter()
        .chain(&collected.deducts)
        .map(|part| &part.log);
    for mark in logs.flat_map(|log| &log.marks) {
        match mark.radius_m {
            Some(radius_m) => beds.push(Bed {
                label: mark.label.clone(),
                centre: plane.forward(mark.lat_deg, mark.lon_deg),
                radius_m,
                radius_sigma_m: BED_RADIUS_SIGMA_M,
            }),
            None => told.push(Notice::MarkWithoutSize {
                label: mark.label.clone(),
            }),
        }
    }
    let walks = Walks {
        plane,
        collected,
        lawns,
        spots: OnceCell::new(),
        standstills: OnceCell::new(),
    };
    for bed in &request.job.beds {
        match walks.place(&bed.place) {
            Ok(centre) => beds.push(Bed {
                label: bed.label.clone(),
                centre,
                radius_m: bed.radius_m,
                radius_sigma_m: bed.radius_sigma_m.unwrap_or(BED_RADIUS_SIGMA_M),
            }),
            Err(why) => told.push(Notice::BedNotFound {
                label: bed.label.clone(),
                why,
            }),
        }
    }
    (beds, told)
}

/// Where the surveyor walked and stood. It is worked out once, however many beds are placed by it.
struct Walks<'a> {
    plane: &'a Plane,
    collected: &'a Collected,
    lawns: &'a [Walked],
    spots: OnceCell<Vec<(Vec<Spot>, f64)>>,
    standstills: OnceCell<Vec<Coord<f64>>>,
}

impl Walks<'_> {
    /// The place of a bed on the plane, or why it has none.
    fn place(&self, place: &Place) -> Result<Coord<f64>, NotFound> {
        let spots = || {
            self.spots
                .get_or_init(|| all_spots(self.plane, self.collected))
        };
        match *place {
            Place::At { lat_deg, lon_deg } => Ok(self.plane.forward(lat_deg, lon_deg)),
            Place::Time { tod_s } => stood_at(tod_s, spots()),
            Place::Pause(number) => {
                let found = self
                    .standstills
                    .get_or_init(|| standstills_inside(spots(), self.lawns));
                usize::try_from(number)
                    .ok()
                    .and_then(|n| found.get(n.checked_sub(1)?).copied())
                    .ok_or(NotFound::Standstills {
                        found: found.len(),
                        asked: number.into(),
                    })
            }
        }
    }
}

/// Every lawn log's fixes on the plane, with its pace in metres a second: cleaned of blunders, but with the ways in and out, where beds
/// may be.
fn all_spots(plane: &Plane, collected: &Collected) -> Vec<(Vec<Spot>, f64)> {
    collected
        .lawns
        .iter()
        .map(|part| {
            let fixes = match part.uncut.as_slice() {
                [] => &part.log.fixes,
                uncut => uncut,
            };
            let placed = Placed::new(Cow::Borrowed(fixes), plane, part.sigma_m);
            let cleaned = clean::clean(placed.spots);
            (cleaned.spots, cleaned.pace_m_s)
        })
        .collect()
}

/// Where the surveyor stood at a time of day (seconds after midnight UTC).
fn stood_at(tod_s: f64, walks: &[(Vec<Spot>, f64)]) -> Result<Coord<f64>, NotFound> {
    let stood = |(spots, _): &(Vec<Spot>, f64)| Some(stood(spots, passed_at(spots, tod_s)?));
    let found = walks.iter().find_map(stood);
    found.ok_or(NotFound::NoFixThen)
}

/// Standstills well inside an edge, in order of time. Those on the edge, within 30 cm and one sigma of it, are corners.
fn standstills_inside(walks: &[(Vec<Spot>, f64)], lawns: &[Walked]) -> Vec<Coord<f64>> {
    let rings: Vec<Sides> = lawns.iter().map(|l| Sides::of(&l.edge.ring())).collect();
    let clear = |ring: &Sides, at: Coord<f64>, margin_m: f64| {
        let margin = Coord {
            x: margin_m,
            y: margin_m,
        };
        ring.near(at - margin, at + margin)
            .all(|[a, b]| distance_m(crate::ring::foot(at, a, b), at) > margin_m)
    };
    let mut found: Vec<(f64, Coord<f64>)> = Vec::new();
    for (spots, pace_m_s) in walks {
        for pause in pauses::find(spots, *pace_m_s) {
            let margin_m = 0.3 + spots[pause.first].sigma();
            if rings
                .iter()
                .any(|ring| ring.contains(pause.at) && clear(ring, pause.at, margin_m))
            {
                found.push((spots[pause.first].t_s, pause.at));
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().map(|(_, at)| at).collect()
}

/// The middle line of a walked path: cleaned, with standstills collapsed, and thinned to steps that noise does not roughen.
pub(crate) fn path_line(placed: Placed) -> Vec<Coord<f64>> {
    let cleaned = clean::clean(placed.spots);
    let mut line: Vec<Coord<f64>> = Vec::new();
    for spot in &cleaned.spots {
        let least_m = 0.5f64.max(3.0 * wander_m(spot.sigma(), 1.0));
        if line
            .last()
            .is_none_or(|&last| distance_m(last, spot.at) >= least_m)
        {
            line.push(spot.at);
        }
    }
    if let (Some(end), Some(&last)) = (cleaned.spots.last(), line.last())
        && distance_m(end.at, last) > 0.1
    {
        line.push(end.at);
    }
    line
}
