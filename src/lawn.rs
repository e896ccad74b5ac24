//! The lawn as ground: rings less everything that is no lawn, as polygons on the plane, with nothing deducted twice.
//!
//! The input is the outer rings of the lawns, in plane metres, and what to take off them: walked rings, paths with a width, round beds.
//! The result says for each lawn and each deduction what ground it covers, how much it takes off, and which parts of its boundary are an
//! edge of the net lawn (there alone an error of position changes the area). Polygons are combined by the library `geo`; round beds are
//! worked out as true circles.

pub mod disc;
pub mod drawn;
mod live;
mod near;
pub mod path;
pub mod region;

use crate::fault::Fault;
use disc::Disc;
use geo::bool_ops::OpType;
use geo::{Area, BoundingRect, Centroid, Coord, Intersects, MultiPolygon};
use live::Patch;
use near::Near;
use region::{Corners, Region, combine, without_slivers};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What kind of thing is taken off the lawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A point with a radius.
    Bed,
    /// A ring that was walked round.
    Walked,
    /// A path walked along its middle, with a width.
    Path,
    /// A figure that was taped.
    Taped,
}

/// The outer edge of one lawn: a closed ring in plane metres, either way round, first point not repeated.
#[derive(Debug, Clone, PartialEq)]
pub struct Outer {
    pub label: String,
    pub ring: Vec<Coord<f64>>,
}

/// One thing to take off, in plane metres: a walked ring, a path, or a round bed (which may be a tree).
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A closed ring, either way round, first point not repeated.
    Walked(Vec<Coord<f64>>),
    /// A line along the middle, and the path's width. A line that wobbles would make the path too wide: hand in a smoothed line.
    Path {
        line: Vec<Coord<f64>>,
        width_m: f64,
    },
    Bed {
        centre: Coord<f64>,
        radius_m: f64,
    },
}

/// One thing to take off, by name.
#[derive(Debug, Clone, PartialEq)]
pub struct Taking {
    pub label: String,
    pub shape: Shape,
}

/// One thing taken off the lawn, with what it comes to.
#[derive(Debug, Clone)]
pub struct Deduction {
    pub label: String,
    pub kind: Kind,
    /// Centre (bed) or centroid, plane metres.
    pub centre: Coord<f64>,
    /// Beds only, metres.
    pub radius_m: Option<f64>,
    /// Its own outline before clipping, plane metres. A bed's outline is a many-sided polygon of the same area, for
    /// drawing and cutting; its area is computed as a circle.
    pub outline: MultiPolygon<f64>,
    /// Its own whole area, square metres.
    pub area_m2: f64,
    /// What it takes off this job, m²: clipped to the lawns, without what deductions before it take.
    pub deducted_m2: f64,
    /// `deducted_m2` lawn by lawn, in the order of the lawns.
    pub deducted_of_lawn_m2: Vec<f64>,
    /// How many metres of its own boundary are an edge of the net lawn, which is where it lies within a lawn and within no other
    /// deduction. Moving that boundary out by e metres takes `live_m` × e m² more off the lawn.
    pub live_m: f64,
    /// Walked rings only: of each side of the ring as given (from its point i to the next), the part (0 to 1) that is an edge of the net
    /// lawn. Empty for others.
    pub live_sides: Vec<f64>,
}

/// One lawn as drawn: valid polygons on the plane.
#[derive(Debug, Clone)]
pub struct Lawn {
    pub label: String,
    /// Outer edge before deductions.
    pub outer: MultiPolygon<f64>,
    /// Outer edge less every deduction, beds as many-sided polygons of the same area.
    pub net: MultiPolygon<f64>,
    /// Area of `outer`. Where a ring crosses itself this is not the ring's signed area: nothing cancels here.
    pub gross_m2: f64,
    /// Gross less what the deductions take off this lawn, beds as circles.
    pub net_m2: f64,
    /// Of each side of the ring as given (from its point i to the next), the part (0 to 1) that no deduction covers.
    pub live_sides: Vec<f64>,
}

/// Lawns with everything taken off.
#[derive(Debug, Clone)]
pub struct Laid {
    /// In the order given.
    pub lawns: Vec<Lawn>,
    /// The deductions in the order given. (They are taken off in another order: walked rings, paths, beds.)
    pub deductions: Vec<Deduction>,
    /// Ground that two lawns both cover, square metres: it is counted twice, and ought to be nothing.
    pub overlap_m2: f64,
}

/// Takes everything off the lawns: walked rings first, then paths, then beds, each clipped to the lawns and to what was taken
/// before it. What is covered twice is deducted once, what lies outside isn't deducted, and the
/// net area doesn't depend on the order. A deduction may touch several lawns.
///
/// # Accuracy
/// Beds are exact circles. Areas of straight-sided shapes carry the polygon library's grid, the drawing's extent / 2³⁰
/// (1e-7 m on 100 m) at every crossing; shapes that cross nothing keep their corners.
///
/// # Errors
/// Coordinates that aren't on Earth, a radius or width that isn't above zero, the polygon library failing.
pub fn lay(outers: &[Outer], takings: &[Taking]) -> Result<Laid, Fault> {
    let lawns = outers
        .iter()
        .map(|outer| Region::inside(std::slice::from_ref(&outer.ring)))
        .collect::<Result<Vec<Region>, Fault>>()?;
    let patches = takings
        .iter()
        .map(patch)
        .collect::<Result<Vec<Patch>, Fault>>()?;

    let (rest, mut taken_m2) = straight_off(&lawns, takings, &patches)?;
    // Beds come off what is left by this: for the areas as circles, one by one, and for the picture all at once as polygons.
    let places = Near::of(rest.iter().map(Region::bounds).enumerate());
    let mut beds = Beds::default();
    for (k, (taking, taken_m2)) in takings.iter().zip(&mut taken_m2).enumerate() {
        if let Some(Patch::Disc(disc)) = patches.get(k) {
            beds.take(k, *disc, &taking.label, &rest, &places, taken_m2)?;
        }
    }
    let drawn = MultiPolygon(beds.seen().flat_map(|disc| disc.drawn()).collect());

    let live = live::Boundaries::new(&lawns, &patches, &taken_off_in_order(takings), &beds.under);
    let lawn_left = |(i, outer): (usize, &Outer)| {
        let gross_m2 = lawns[i].area_m2();
        let taken: f64 = taken_m2.iter().filter_map(|of_lawn| of_lawn.get(i)).sum();
        let rest = rest[i].polygons();
        Ok(Lawn {
            label: outer.label.clone(),
            outer: lawns[i].polygons().clone(),
            net: match less(rest, &drawn)? {
                Some(net) => without_slivers(net),
                None => without_slivers(rest.clone()),
            },
            gross_m2,
            net_m2: (gross_m2 - taken).max(0.0),
            live_sides: live.of_lawn(&outer.ring),
        })
    };
    let laid_lawns = outers.iter().enumerate().map(lawn_left);
    let laid_lawns = laid_lawns.collect::<Result<Vec<Lawn>, Fault>>()?;
    let patches = takings.iter().zip(&patches).zip(taken_m2).enumerate();
    Ok(Laid {
        lawns: laid_lawns,
        deductions: patches
            .map(|(k, ((taking, patch), of_lawn_m2))| taking.taken(k, patch, of_lawn_m2, &live))
            .collect(),
        overlap_m2: overlap_m2(&lawns)?,
    })
}

/// Takes what has straight sides off the lawns, one after the other: walked rings first, then paths. Gives what is left of each lawn, and
/// what each taking takes off each lawn, m².
fn straight_off(
    lawns: &[Region],
    takings: &[Taking],
    patches: &[Patch],
) -> Result<(Vec<Region>, Vec<Vec<f64>>), Fault> {
    let straight: Vec<&Region> = patches
        .iter()
        .filter_map(|patch| match patch {
            Patch::Region(region) => Some(region),
            Patch::Disc(_) => None,
        })
        .collect();
    // Only cutting moves corners, so that without anything to cut no corner needs to be put back.
    let cut = if straight.is_empty() { &[] } else { lawns };
    let corners = Corners::new(
        cut.iter()
            .chain(straight)
            .flat_map(|region| region.edges().iter().map(|[a, _]| *a)),
    );
    let mut rest = lawns.to_vec();
    let mut taken_m2 = vec![vec![0.0; lawns.len()]; takings.len()];
    for kind in [Kind::Walked, Kind::Path] {
        for ((taking, patch), taken_m2) in takings.iter().zip(patches).zip(&mut taken_m2) {
            let Patch::Region(region) = patch else {
                continue;
            };
            if taking.kind() != kind {
                continue;
            }
            for (rest, taken_m2) in rest.iter_mut().zip(taken_m2) {
                if let Some(less) = less(rest.polygons(), region.polygons())? {
                    let less = Region::new(less, &corners);
                    *taken_m2 = (rest.area_m2() - less.area_m2()).max(0.0);
                    *rest = less;
                }
            }
        }
    }
    Ok((rest, taken_m2))
}

/// How many beds may overlap one another at one place. More is no garden, and would take long, as each is compared with each of the
/// others.
const MOST_OVERLAPPING: usize = 64;

/// The beds taken off so far.
#[derive(Default)]
struct Beds {
    /// The beds by their index among the takings. Those that lie wholly within another are not in it.
    seen: BTreeMap<usize, Disc>,
    /// Where they are.
    near: Near,
    /// The indices of beds that lie wholly within another: no part of their edge is an edge of the lawn.
    under: BTreeSet<usize>,
}

impl Beds {
    fn seen(&self) -> impl Iterator<Item = &Disc> {
        self.seen.values()
    }

    /// Takes off one more bed: puts what it takes off each lawn into `taken_m2`. A bed that lies wholly within an earlier one takes
    /// nothing, and an earlier one that lies wholly within this one is forgotten for the beds that follow.
    ///
    /// # Errors
    /// Too many beds overlap here.
    fn take(
        &mut self,
        number: usize,
        disc: Disc,
        label: &str,
        rest: &[Region],
        places: &Near,
        taken_m2: &mut [f64],
    ) -> Result<(), Fault> {
        let (low, high) = disc.corners();
        let near = self.near.within(low, high);
        let before: Vec<Disc> = near
            .iter()
            .filter_map(|k| self.seen.get(k).copied())
            .filter(|one| one.meets(&disc))
            .collect();
        if before.iter().any(|one| one.covers(&disc)) {
            self.under.insert(number);
            return Ok(());
        }
        let crowd = |one: &Disc| before.iter().filter(|other| other.meets(one)).count();
        if before.len() > MOST_OVERLAPPING
            && before.iter().map(crowd).max() > Some(MOST_OVERLAPPING)
        {
            return Err(Fault::withheld(
                "beds-piled-up",
                format!(
                    "More than {MOST_OVERLAPPING} beds overlap one another where “{label}” lies, and none lies wholly within another."
                ),
                "Check their places and sizes; give a border of many plants as one walked deduction.",
            ));
        }
        for lawn in places.within(low, high) {
            if let (Some(rest), Some(taken_m2)) = (rest.get(lawn), taken_m2.get_mut(lawn)) {
                *taken_m2 = disc.takes_m2(rest, &before);
            }
        }
        for k in near {
            if let Some(&one) = self.seen.get(&k)
                && disc.covers(&one)
            {
                self.seen.remove(&k);
                self.near.remove(k, one.bounds());
                self.under.insert(k);
            }
        }
        self.seen.insert(number, disc);
        self.near.add(number, disc.bounds());
        Ok(())
    }
}

impl Taking {
    /// What the result says of this taking, the `k`th of all, once it is off the lawns.
    fn taken(
        &self,
        k: usize,
        patch: &Patch,
        deducted_of_lawn_m2: Vec<f64>,
        live: &live::Boundaries<'_>,
    ) -> Deduction {
        let (outline, area_m2) = match patch {
            Patch::Region(region) => (region.polygons().clone(), region.area_m2()),
            Patch::Disc(disc) => (disc.drawn(), disc.area_m2()),
        };
        Deduction {
            label: self.label.clone(),
            kind: self.kind(),
            centre: self.centre(&outline),
            radius_m: match self.shape {
                Shape::Bed { radius_m, .. } => Some(radius_m),
                _ => None,
            },
            outline,
            area_m2,
            deducted_m2: deducted_of_lawn_m2.iter().sum(),
            deducted_of_lawn_m2,
            live_m: live.length_m(k),
            live_sides: match &self.shape {
                Shape::Walked(ring) => live.of_deduction(k, ring),
                _ => Vec::new(),
            },
        }
    }

    fn kind(&self) -> Kind {
        match self.shape {
            Shape::Walked(_) => Kind::Walked,
            Shape::Path { .. } => Kind::Path,
            Shape::Bed { .. } => Kind::Bed,
        }
    }

    /// The centre of a bed; else the centroid of the outline, and where it has none the first place of the line.
    fn centre(&self, outline: &MultiPolygon<f64>) -> Coord<f64> {
        match &self.shape {
            Shape::Bed { centre, .. } => *centre,
            Shape::Walked(line) | Shape::Path { line, .. } => {
                let middle = outline.centroid().map(Coord::from);
                middle.or_else(|| line.first().copied()).unwrap_or_default()
            }
        }
    }
}

/// The ground of one taking, before anything is cut off it.
///
/// # Errors
/// Coordinates that are not on Earth, a radius or a width that is not above zero.
fn patch(taking: &Taking) -> Result<Patch, Fault> {
    match &taking.shape {
        Shape::Walked(ring) => Ok(Patch::Region(Region::inside(std::slice::from_ref(ring))?)),
        Shape::Path { line, width_m } => Ok(Patch::Region(path::outline(line, *width_m)?)),
        Shape::Bed { centre, radius_m } => {
            region::gate(&[*centre])?;
            if !(*radius_m > 0.0 && radius_m.is_finite()) {
                return Err(Fault::usage(
                    "bed-radius",
                    format!("The bed \"{}\" has a radius of {radius_m} m.", taking.label),
                    "Give its radius in metres, above zero.",
                ));
            }
            Ok(Patch::Disc(Disc {
                centre: *centre,
                radius_m: *radius_m,
            }))
        }
    }
}

/// Indices of the takings in the order in which they come off.
fn taken_off_in_order(takings: &[Taking]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..takings.len()).collect();
    order.sort_by_key(|&k| match takings.get(k).map(Taking::kind) {
        Some(Kind::Walked) => 0,
        Some(Kind::Path) => 1,
        _ => 2,
    });
    order
}

/// The ground of one less that of the other; `None` where they do not meet, so that the one stays as it is.
fn less(
    one: &MultiPolygon<f64>,
    other: &MultiPolygon<f64>,
) -> Result<Option<MultiPolygon<f64>>, Fault> {
    match (one.bounding_rect(), other.bounding_rect()) {
        (Some(a), Some(b)) if a.intersects(&b) => combine(one, other, OpType::Difference).map(Some),
        _ => Ok(None),
    }
}

/// The ground that more than one lawn covers, m², counted once for each lawn too many: the sum of the lawns less all the ground they
/// cover together.
fn overlap_m2(lawns: &[Region]) -> Result<f64, Fault> {
    let near = Near::of(lawns.iter().map(Region::bounds).enumerate());
    let beside_another = |lawn: &&Region| {
        let met = |b: geo::Rect<f64>| near.within(b.min(), b.max()).len();
        lawn.bounds().map_or(0, met) > 1
    };
    let meeting: Vec<&Region> = lawns.iter().filter(beside_another).collect();
    if meeting.is_empty() {
        return Ok(0.0);
    }
    // They are united two by two. All at once, every edge would be cut by every other one before any is dropped.
    let mut covered: Vec<_> = meeting.iter().map(|lawn| lawn.polygons().clone()).collect();
    while covered.len() > 1 {
        let pairs = covered.chunks(2).map(|pair| match pair {
            [one, other] => combine(one, other, OpType::Union),
            rest => Ok(rest.iter().flatten().cloned().collect()),
        });
        covered = pairs.collect::<Result<Vec<_>, Fault>>()?;
    }
    let covered_m2: f64 = covered.iter().map(Area::unsigned_area).sum();
    let sum_m2: f64 = meeting.iter().map(|lawn| lawn.area_m2()).sum();
    Ok((sum_m2 - covered_m2).max(0.0))
}
