//! What to tape next (check sheets) and how to set the lawns out (set-out tables), of every lawn with what lies in it.

use super::edge::sides;
use super::points::{Named, named};
use super::{Adjusted, Points};
use crate::job::{Job, Tape};
use crate::lawn::{Deduction, Kind, Lawn};
use crate::order::Slope;
use crate::process::hand::TAPE_SIGMA_M;
use crate::survey::Survey;
use crate::survey::measured::LawnSheets;
use crate::tape::chance::two_sided;
use crate::tape::lines;
use crate::tape::matrix::Matrix;
use crate::tape::setout::{self, Place, Side, What};
use geo::{Area, Coord, Distance, Euclidean, LineString, Simplify};

/// How far apart the points of a curve are on the set-out table, metres.
pub(crate) const SETOUT_SPACING_M: f64 = 1.0;

/// With more named points than this no sheets are made: they would be slow to make and no help.
const MOST_POINTS: usize = 60;

/// The check sheets and the set-out tables, and what would come of it if the first check sheet's lines were all taped and fitted.
#[derive(Default)]
pub struct Sheets {
    pub check_sheet: Option<lines::CheckSheet>,
    pub set_out: Option<setout::SetOut>,
    pub other_lawns: Vec<LawnSheets>,
    pub if_taped: Option<Adjusted>,
}

/// Chooses what to tape and sets out, on the edges as they now are. Empty where no lawn has two corners, or there are too many points.
pub fn sheets(survey: &Survey, confidence: f64) -> Sheets {
    let (points, rings) = named(survey);
    if rings.iter().all(|ring| ring.len() < 2) || points.len() > MOST_POINTS {
        return Sheets::default();
    }
    let all = |points: &[Named], rings: &[Vec<(usize, usize)>], covariance: &Matrix| {
        let mut each = (0..rings.len()).map(|k| of_lawn(survey, k, points, rings, covariance));
        let (check_sheet, set_out) = each.next().unwrap_or_default();
        let labels = survey
            .laid
            .lawns
            .iter()
            .skip(1)
            .map(|lawn| lawn.label.clone());
        Sheets {
            check_sheet,
            set_out,
            other_lawns: labels
                .zip(each)
                .map(|(label, (check_sheet, set_out))| LawnSheets {
                    label,
                    check_sheet,
                    set_out,
                })
                .collect(),
            if_taped: None,
        }
    };
    if let Some(adjusted) = &survey.settled.adjusted {
        return all(&points, &rings, &adjusted.covariance);
    }
    let points = Points::new(survey, points, rings);
    let mut sheets = all(&points.named, &points.rings, &points.covariance);
    if let Some(sheet) = &mut sheets.check_sheet {
        sheets.if_taped = if_all_fit(survey, &points, sheet);
        let sigma_m2 = sheets.if_taped.as_ref().map(|taped| taped.sigma_m2);
        sheet.band_m2 = sigma_m2.map(|sigma_m2| two_sided(confidence) * sigma_m2);
    }
    sheets
}

/// What would become of the lawns if every line of a check sheet were taped and read as expected; `None` where the adjustment would not
/// be accepted.
fn if_all_fit(survey: &Survey, points: &Points, sheet: &lines::CheckSheet) -> Option<Adjusted> {
    let job = Job {
        tapes: sheet
            .lines
            .iter()
            .map(|l| Tape {
                from: l.from.clone(),
                to: l.to.clone(),
                length_m: l.expected_m,
                sigma_m: Some(sheet.tape_sigma_m),
                straight: None,
            })
            .collect(),
        ..Job::default()
    };
    let (mut readings, _) = points.readings(&job);
    points.on_plan(survey.slope.as_ref(), &mut readings);
    let (lawns, parts, outcome) = points.settle(survey, &job, &readings);
    Some(points.adjusted(survey, &lawns, &parts, outcome.adjusted?))
}

/// The check sheet and the set-out table of one lawn; `None` for both where it has fewer than two corners.
fn of_lawn(
    survey: &Survey,
    lawn: usize,
    points: &[Named],
    rings: &[Vec<(usize, usize)>],
    covariance: &Matrix,
) -> (Option<lines::CheckSheet>, Option<setout::SetOut>) {
    let (Some(walked), Some(ring)) = (survey.lawns.get(lawn), rings.get(lawn)) else {
        return (None, None);
    };
    if ring.len() < 2 {
        return (None, None);
    }
    let names: Vec<String> = points.iter().map(|p| p.name.clone()).collect();
    // A tape lies along the ground: on a slope it reads what lies between places when the ground is laid flat.
    let stretch = survey.slope.as_ref().and_then(Slope::stretch);
    let on_ground = |plan: Coord<f64>| stretch.map_or(plan, |stretch| stretch.ground(plan));
    let at: Vec<Coord<f64>> = points.iter().map(|p| on_ground(p.at)).collect();
    // The lines are chosen by how the area answers to its corners: the gradient of a ring of corners alone says that.
    let corners: Vec<Coord<f64>> = ring.iter().map(|&(_, p)| at[p]).collect();
    let mut gradient = vec![0.0; 2 * points.len()];
    for (&(_, p), g) in ring.iter().zip(crate::ring::area_gradient_m(&corners)) {
        gradient[2 * p] = g[0];
        gradient[2 * p + 1] = g[1];
    }
    let mut sides = clockwise(sides(survey, walked, ring));
    for point in sides.iter_mut().flat_map(|side| &mut side.points) {
        *point = on_ground(*point);
    }
    let check_sheet = Some(lines::check_sheet(&lines::Measured {
        names: &names,
        points: &at,
        covariance,
        sides: &sides,
        area_gradient: &gradient,
        tape_sigma_m: TAPE_SIGMA_M,
    }));
    let mut places = places_on(survey, lawn);
    for place in &mut places {
        place.at = on_ground(place.at);
    }
    let set_out = setout::set_out(&names, &at, &sides, &places, SETOUT_SPACING_M);
    (check_sheet, set_out)
}

/// The sides in the direction of the letters, beginning with the corner that is lettered first.
fn clockwise(mut sides: Vec<Side>) -> Vec<Side> {
    sides.reverse();
    for side in &mut sides {
        std::mem::swap(&mut side.from, &mut side.to);
        side.points.reverse();
    }
    let lettered_first = sides.iter().map(|side| side.from).min();
    if let Some(first) = (sides.iter()).position(|s| Some(s.from) == lettered_first) {
        sides.rotate_left(first);
    }
    sides
}

/// What is set out of a lawn beside its edge: the middles of beds, and the corners of all else that is taken off it.
fn places_on(survey: &Survey, lawn: usize) -> Vec<Place> {
    let on_lawn = |at: Coord<f64>| nearest(&survey.laid.lawns, at) == lawn;
    let beds = survey.beds.iter().filter(|bed| on_lawn(bed.centre));
    let beds = beds.map(|bed| Place {
        name: bed.label.clone(),
        what: What::BedCentre,
        at: bed.centre,
        radius_m: Some(bed.radius_m),
    });
    let others = survey.laid.deductions.iter();
    let others = others.filter(|d| d.kind != Kind::Bed && on_lawn(d.centre));
    beds.chain(others.flat_map(outline)).collect()
}

/// The index of the lawn that a place lies in or is nearest to; 0 where there is none.
pub(crate) fn nearest(lawns: &[Lawn], place: Coord<f64>) -> usize {
    let place = geo::Point(place);
    let away = |lawn: &Lawn| Euclidean.distance(&place, &lawn.outer);
    let nearest = lawns
        .iter()
        .enumerate()
        .min_by(|a, b| away(a.1).total_cmp(&away(b.1)));
    nearest.map_or(0, |(k, _)| k)
}

/// How many places are set out of one deduction at most; and how far a bend must stand out to count, metres.
const MOST_PLACES: usize = 16;
const BEND_M: f64 = 0.08;

/// The corners of what was walked round, or of a path's two sides, numbered as they follow each other.
pub(crate) fn outline(deduction: &Deduction) -> Vec<Place> {
    let largest = deduction
        .outline
        .iter()
        .max_by(|a, b| a.unsigned_area().total_cmp(&b.unsigned_area()));
    let Some(largest) = largest else {
        return Vec::new();
    };
    // Simplifying never removes the ring's first place, so that it must be a corner: the farthest from the centre is one.
    let mut whole = largest.exterior().0.clone();
    whole.pop();
    let away = |at: &Coord<f64>| (at.x - deduction.centre.x).hypot(at.y - deduction.centre.y);
    let farthest = (whole.iter().enumerate()).max_by(|a, b| away(a.1).total_cmp(&away(b.1)));
    let farthest = farthest.map_or(0, |(at, _)| at);
    whole.rotate_left(farthest);
    whole.extend(whole.first().copied());
    let whole = LineString(whole);
    let mut bend_m = BEND_M;
    let mut ring = whole.simplify(bend_m);
    while ring.0.len() > MOST_PLACES + 1 && bend_m < 1e6 {
        bend_m *= 1.5;
        ring = whole.simplify(bend_m);
    }
    let corners = ring.0.len().saturating_sub(1);
    let each = ring.0.iter().take(corners).enumerate();
    each.map(|(k, at)| Place {
        name: format!("{} {}", deduction.label, k + 1),
        what: What::Deduction,
        at: *at,
        radius_m: None,
    })
    .collect()
}
