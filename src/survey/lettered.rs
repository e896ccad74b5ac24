//! A taped lawn on its plan: its corners, lettered in the order in which its figures were taped, so that "A to B" is the first side of
//! the first figure; its sides; and its set-out.

use super::measured::{DrawnSide, LawnSheets, Point};
use super::settled::{SETOUT_SPACING_M, nearest, outline};
use crate::lawn::{Deduction, Kind, Lawn};
use crate::order::slope::Stretch;
use crate::ring::distance_m;
use crate::tape::setout::{self, Place, STRAIGHT_M, Side, What};
use crate::units::letter;
use geo::{Coord, MultiPolygon};

/// A bend sharper than this is a corner, degrees. A circle is drawn with sides that bend by 5°, and has none.
const CORNER_DEG: f64 = 20.0;
/// Places nearer to each other than this are one, metres: joining figures moves their corners by less.
const SAME_M: f64 = 0.01;
/// With more corners than this nothing is lettered: such an edge is a curve taken at many places.
const MOST_CORNERS: usize = 60;

/// What is drawn of a taped lawn beside its outline.
#[derive(Debug, Default)]
pub struct Lettered {
    pub corners: Vec<Point>,
    pub sides: Vec<DrawnSide>,
    /// The sheets of every lawn that is drawn.
    pub sheets: Vec<LawnSheets>,
}

/// One lawn's outline, in the direction in which its letters go on.
struct Ring {
    at: Vec<Coord<f64>>,
    /// For each corner its index in `at`, and its place in the order of the letters: which figure, and which of that figure's places.
    corners: Vec<(usize, (usize, usize))>,
}

/// Letters all corners and sets out each lawn. `figures` are what the lawns were joined from, in the order of the sheet; `sigma_m` is
/// that of a taped length; `stretch` is that of a slope whose fall is known.
pub(crate) fn lettered(
    lawns: &[Lawn],
    deductions: &[Deduction],
    figures: &[MultiPolygon<f64>],
    sigma_m: f64,
    stretch: Option<Stretch>,
) -> Lettered {
    // A tape lies along the ground: on a slope places are set out as they lie when the ground is laid flat.
    let on_ground = |plan: Coord<f64>| stretch.map_or(plan, |stretch| stretch.ground(plan));
    let rings: Vec<Ring> = lawns.iter().map(|lawn| ring(lawn, figures)).collect();
    let mut order: Vec<((usize, usize), Coord<f64>)> = rings
        .iter()
        .flat_map(|ring| ring.corners.iter().map(|&(k, place)| (place, ring.at[k])))
        .collect();
    order.sort_by_key(|corner| corner.0);
    if order.len() > MOST_CORNERS {
        return Lettered::default();
    }
    let names: Vec<String> = (0..order.len()).map(letter).collect();
    let at: Vec<Coord<f64>> = order.iter().map(|corner| corner.1).collect();
    let number = |place: (usize, usize)| order.partition_point(|corner| corner.0 < place);
    let mut all = Lettered {
        corners: names
            .iter()
            .zip(&at)
            .map(|(name, at)| Point {
                name: name.clone(),
                lat: None,
                lon: None,
                x_m: at.x,
                y_m: at.y,
                sigma_m,
            })
            .collect(),
        ..Lettered::default()
    };
    let on_tape: Vec<Coord<f64>> = at.iter().copied().map(on_ground).collect();
    for (lawn, ring) in rings.iter().enumerate() {
        let mut sides = sides(ring, number);
        all.sides
            .extend(sides.iter().map(|side| drawn(side, &names)));
        let own = deductions
            .iter()
            .filter(|deduction| nearest(lawns, deduction.centre) == lawn);
        let mut places: Vec<Place> = own.flat_map(places).collect();
        let edge = sides.iter_mut().flat_map(|side| &mut side.points);
        for at in edge.chain(places.iter_mut().map(|place| &mut place.at)) {
            *at = on_ground(*at);
        }
        all.sheets.push(LawnSheets {
            label: lawns[lawn].label.clone(),
            check_sheet: None,
            set_out: setout::set_out(&names, &on_tape, &sides, &places, SETOUT_SPACING_M),
        });
    }
    all
}

/// The outline of one lawn with its corners.
fn ring(lawn: &Lawn, figures: &[MultiPolygon<f64>]) -> Ring {
    let outer = lawn.outer.iter().next();
    let mut at: Vec<Coord<f64>> = outer.map_or(Vec::new(), |one| one.exterior().0.clone());
    at.dedup_by(|a, b| distance_m(*a, *b) < SAME_M);
    if at.len() > 1 && distance_m(at[0], at[at.len() - 1]) < SAME_M {
        at.pop();
    }
    let mut found = corners(&at, figures);
    // Of the two directions, take the one in which the first letter is followed by the lower of its neighbours.
    let first = (0..found.len()).min_by_key(|&k| found[k].1);
    if let Some(first) = first {
        let n = found.len();
        let (after, before) = (found[(first + 1) % n].1, found[(first + n - 1) % n].1);
        if before < after {
            at.reverse();
            found = corners(&at, figures);
        }
        let first = (0..n).min_by_key(|&k| found[k].1).unwrap_or(0);
        found.rotate_left(first);
    }
    Ring { at, corners: found }
}

/// Where the outline bends sharply, and which corner of which figure that is. A corner where two figures meet belongs to none of them,
/// and comes after all others.
fn corners(at: &[Coord<f64>], figures: &[MultiPolygon<f64>]) -> Vec<(usize, (usize, usize))> {
    let n = at.len();
    let bend_deg = |k: usize| {
        let (before, here, after) = (at[(k + n - 1) % n], at[k], at[(k + 1) % n]);
        let (into, out) = (here - before, after - here);
        let turn = (into.x * out.y - into.y * out.x).atan2(into.x * out.x + into.y * out.y);
        turn.to_degrees().abs()
    };
    let place = |corner: Coord<f64>| {
        figures.iter().enumerate().find_map(|(number, figure)| {
            let mut own = figure.iter().flat_map(|one| one.exterior().coords());
            let own = own.position(|at| distance_m(*at, corner) < SAME_M)?;
            Some((number, own))
        })
    };
    let sharp = (0..n).filter(|&k| n > 2 && bend_deg(k) > CORNER_DEG);
    sharp
        .map(|k| (k, place(at[k]).unwrap_or((figures.len(), k))))
        .collect()
}

/// The sides from corner to corner; none of an outline with fewer than two corners.
fn sides(ring: &Ring, number: impl Fn((usize, usize)) -> usize) -> Vec<Side> {
    let n = ring.at.len();
    if ring.corners.len() < 2 {
        return Vec::new();
    }
    let following = ring.corners.iter().cycle().skip(1);
    ring.corners
        .iter()
        .zip(following)
        .map(|(&(from, start), &(to, end))| Side {
            from: number(start),
            to: number(end),
            points: (0..=(to + n - from) % n)
                .map(|step| ring.at[(from + step) % n])
                .collect(),
            tolerance_m: STRAIGHT_M,
        })
        .collect()
}

/// A side as the plan draws it, with its length.
fn drawn(side: &Side, names: &[String]) -> DrawnSide {
    let name = |k: usize| names.get(k).cloned().unwrap_or_default();
    let steps = side.points.windows(2);
    DrawnSide {
        from: name(side.from),
        to: name(side.to),
        length_m: steps.map(|pair| distance_m(pair[0], pair[1])).sum(),
        straight: side.is_straight(),
        points: side.points.clone(),
    }
}

/// What is set out of a deduction: the middle of a bed, else the corners of its outline.
fn places(deduction: &Deduction) -> Vec<Place> {
    match (deduction.kind, deduction.radius_m) {
        (Kind::Bed, Some(radius_m)) => vec![Place {
            name: deduction.label.clone(),
            what: What::BedCentre,
            at: deduction.centre,
            radius_m: Some(radius_m),
        }],
        _ => outline(deduction),
    }
}
