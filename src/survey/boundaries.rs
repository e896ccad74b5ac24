//! Tells the logs' tracks apart and measures each: which go round a lawn, and which go round something inside one.
//!
//! A file may have several tracks or listed rings. Where the file says what a ring is, that holds. Otherwise a ring that lies inside a
//! larger one is taken off it, and pieces that only come round together are one walk.

use super::collect::Collected;
use super::corners;
use super::walked::{self, Asked, Placed, Walked};
use crate::fault::Fault;
use crate::fix::Fix;
use crate::job::Job;
use crate::lawn::region::Sides;
use crate::notice::Notice;
use crate::plane::Plane;
use crate::read::Outline;
use crate::refusal::Refusal;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// What was walked round: in one log, or in all together.
#[derive(Default)]
pub(super) struct Boundaries {
    pub lawns: Vec<Walked>,
    /// What is taken off them.
    pub inside: Vec<Walked>,
    /// What is to be told of how they were found.
    pub told: Vec<Notice>,
}

impl Boundaries {
    /// One lawn and nothing else.
    fn one(lawn: Walked) -> Boundaries {
        Boundaries {
            lawns: vec![lawn],
            ..Boundaries::default()
        }
    }

    fn all(&self) -> impl Iterator<Item = &Walked> {
        self.lawns.iter().chain(&self.inside)
    }

    fn extend(&mut self, other: Boundaries) {
        self.lawns.extend(other.lawns);
        self.inside.extend(other.inside);
        self.told.extend(other.told);
    }
}

/// Measures all that was walked round, with the corners that the job sheet names.
///
/// # Errors
/// Of kind `Withheld`: a track that goes round no lawn.
pub(super) fn find(
    job: &Job,
    collected: &mut Collected,
    plane: &Plane,
) -> Result<Boundaries, Fault> {
    for log in collected.logs() {
        walked::listed::refuse_plan_metres(log)?;
    }
    let mut found = rings(job, collected, plane)?;
    let told = corners::fix(&job.corners, plane, &mut found.lawns);
    found.told.extend(told);
    if let [only] = found.lawns.as_mut_slice()
        && !job.edges.is_empty()
    {
        let carry = collected.lawns.first().map(|lawn| lawn.carry);
        corners::carry_sides(only, &job.edges, carry.unwrap_or_default())?;
    }
    let of_each = found.all().flat_map(|ring| ring.warnings.iter().cloned());
    let told: Vec<Notice> = of_each.chain(walked::listed::drawn(found.all())).collect();
    found.told.extend(told);
    Ok(found)
}

/// Measures everything that was walked round. The logs' fixes are taken out of `collected` for it, which saves their memory, unless the
/// job sheet has places that are to be found among them afterwards.
fn rings(job: &Job, collected: &mut Collected, plane: &Plane) -> Result<Boundaries, Refusal> {
    let keep = !(job.beds.is_empty() && job.corners.is_empty());
    let mut all = Boundaries::default();
    for k in 0..collected.lawns.len() {
        let given = match keep {
            true => Vec::new(),
            false => std::mem::take(&mut collected.lawns[k].log.fixes),
        };
        let part = &collected.lawns[k];
        let fixes = match keep {
            true => Cow::Borrowed(&part.log.fixes[..]),
            false => Cow::Owned(given),
        };
        let asked = Asked::of(part, &job.beds);
        let mut found = tracks(fixes, plane, &asked)
            .or_else(|refused| between_corners(job, collected, plane, &asked, refused))?;
        if let Some(lawn) = found.lawns.last_mut() {
            let lost_s = part.log.lost_at_end_s + walked::held_at_end_s(lawn);
            lawn.warnings.extend(walked::lost_at_end(lawn, lost_s));
        }
        all.extend(found);
    }
    for part in &mut collected.deducts {
        let fixes = Cow::Owned(std::mem::take(&mut part.log.fixes));
        let placed = Placed::new(fixes, plane, part.sigma_m);
        all.inside
            .push(walked::measure(placed, &Asked::of(part, &job.beds))?);
    }
    Ok(all)
}

/// What becomes of a walk that was refused because it does not come round: if it is the only one of the job and stood at corners which
/// are taped all round, it is a lawn after all. Else it stays refused.
fn between_corners(
    job: &Job,
    collected: &Collected,
    plane: &Plane,
    asked: &Asked,
    refused: Refusal,
) -> Result<Boundaries, Refusal> {
    let [part] = collected.lawns.as_slice() else {
        return Err(refused);
    };
    let placed = Placed::new(Cow::Borrowed(&part.log.fixes), plane, asked.sigma_m);
    walked::cornered::measure(placed, plane, asked, job, &refused)
        .map(Boundaries::one)
        .ok_or(refused)
}

/// Measures a log's tracks. A single track is one ring. Of several that each come round, those that lie wholly inside another are taken
/// off it; pieces that only come round together are one walk.
fn tracks(fixes: Cow<'_, [Fix]>, plane: &Plane, asked: &Asked) -> Result<Boundaries, Refusal> {
    let declared = |fix: &Fix| match asked.outlines.get(&fix.track) {
        Some(Outline::Line) | None => false,
        Some(_) => true,
    };
    let first = fixes.first().map(|fix| fix.track);
    let plain = |fix: &Fix| Some(fix.track) == first && !declared(fix);
    if fixes.iter().all(plain) {
        let placed = Placed::new(fixes, plane, asked.sigma_m);
        return walked::measure(placed, asked).map(Boundaries::one);
    }
    let (said, others): (Vec<_>, Vec<_>) = fixes.iter().partition(|fix| declared(fix));
    let mut found = declared_rings(&said, plane, asked)?;
    if !others.is_empty() {
        found.extend(undeclared_rings(&others, plane, asked)?);
    }
    Ok(found)
}

/// Measures rings of which the file itself says what they are. A hole that cannot be measured is left out with a notice; a lawn that
/// cannot is an error.
fn declared_rings(fixes: &[&Fix], plane: &Plane, asked: &Asked) -> Result<Boundaries, Refusal> {
    let mut found = Boundaries::default();
    let measured = |ring: &[&Fix]| walked::measure(Placed::of(ring, plane, asked.sigma_m), asked);
    for ring in fixes.chunk_by(|a, b| a.track == b.track) {
        let outline = ring.first().and_then(|f| asked.outlines.get(&f.track));
        let measured = measured(ring);
        match outline {
            Some(Outline::TakenOff(label)) => match measured {
                Ok(mut hole) => {
                    hole.label = match label.as_str() {
                        "" => format!("ring {}", found.inside.len() + 1),
                        label => label.to_owned(),
                    };
                    found.inside.push(hole);
                }
                Err(why) => found.told.push(Notice::HoleLeftOut { why }),
            },
            Some(Outline::Lawn(label)) if !label.is_empty() => {
                let mut lawn = measured?;
                lawn.label.clone_from(label);
                found.lawns.push(lawn);
            }
            _ => found.lawns.push(measured?),
        }
    }
    Ok(found)
}

/// Measures rings of which the file says nothing: several rings, or pieces of one walk.
fn undeclared_rings(all: &[&Fix], plane: &Plane, asked: &Asked) -> Result<Boundaries, Refusal> {
    let measured = |fixes: &[&Fix]| walked::measure(Placed::of(fixes, plane, asked.sigma_m), asked);
    let mut names: BTreeMap<u16, Vec<&Fix>> = BTreeMap::new();
    for &fix in all {
        names.entry(fix.track).or_default().push(fix);
    }
    if names.len() == 1 {
        return measured(all).map(Boundaries::one);
    }
    let own = names.values().filter_map(|own| measured(own).ok());
    let mut rings: Vec<Walked> = own.collect();
    if rings.len() < 2 && rings.len() < names.len() {
        // No two of the tracks come round alone: they are pieces of one walk, or one ring and strays.
        let tracks = names.len();
        let (one, told) = match (measured(all), rings.pop()) {
            (Ok(whole), _) => (whole, Notice::TracksJoined { tracks }),
            (Err(_), Some(one)) => (one, Notice::TracksLeftOut { tracks }),
            (Err(refusal), None) => return Err(refusal),
        };
        return Ok(Boundaries {
            told: vec![told],
            ..Boundaries::one(one)
        });
    }
    Ok(within_each_other(rings))
}

/// Sorts rings into lawns and what is taken off them: one that lies wholly within a larger one is taken off it, others are lawns of their
/// own.
fn within_each_other(mut rings: Vec<Walked>) -> Boundaries {
    rings.sort_by(|a, b| b.area_m2.total_cmp(&a.area_m2));
    let mut found = Boundaries::default();
    let mut outlines: Vec<Sides> = Vec::new();
    for mut ring in rings {
        let within = outlines.iter().any(|outline| {
            let mut vertices = ring.edge.vertices.iter();
            vertices.all(|v| outline.contains(v.at))
        });
        if within {
            if ring.label.is_empty() {
                ring.label = format!("ring {}", found.inside.len() + 1);
            }
            found.told.push(Notice::TrackInside {
                area_m2: ring.area_m2,
            });
            found.inside.push(ring);
        } else {
            if !found.lawns.is_empty() {
                found.told.push(Notice::TrackBeside {
                    area_m2: ring.area_m2,
                });
            }
            outlines.push(Sides::of(&ring.edge.ring()));
            found.lawns.push(ring);
        }
    }
    found
}
