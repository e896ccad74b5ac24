//! What to tape next, and the set-out table.

use super::edge::sides;
use super::points::{Named, named};
use super::readings::TAPE_SIGMA_M;
use super::{Adjusted, Points};
use crate::job::{Job, Tape};
use crate::order::Slope;
use crate::survey::Survey;
use crate::tape::chance::two_sided;
use crate::tape::lines;
use crate::tape::matrix::Matrix;
use crate::tape::setout::{self, Place, What};
use geo::Coord;

/// Points of the curve on the set-out table, metres apart.
const SETOUT_SPACING_M: f64 = 1.0;

/// With more named points than this a sheet of lines to tape is slow to make and no help.
const MOST_POINTS: usize = 60;

/// Chooses what to tape and sets out, on the edges as they now are.
pub fn sheets(survey: &Survey, confidence: f64) -> Sheets {
    let (points, rings) = named(survey);
    let Some(ring) = rings.first() else {
        return (None, None, None);
    };
    if ring.len() < 2 || points.len() > MOST_POINTS {
        return (None, None, None);
    }
    if let Some(adjusted) = &survey.settled.adjusted {
        let (check_sheet, set_out) = first_lawn(survey, &points, ring, &adjusted.covariance);
        return (check_sheet, set_out, None);
    }
    let ring = ring.clone();
    let points = Points::new(survey, points, rings);
    let (mut check_sheet, set_out) = first_lawn(survey, &points.named, &ring, &points.covariance);
    let mut if_taped = None;
    if let Some(sheet) = &mut check_sheet {
        if_taped = if_all_fit(survey, &points, sheet);
        let sigma_m2 = if_taped.as_ref().map(|taped| taped.sigma_m2);
        sheet.band_m2 = sigma_m2.map(|sigma_m2| two_sided(confidence) * sigma_m2);
    }
    (check_sheet, set_out, if_taped)
}

/// The check sheet, the set-out table, and what would be if the check sheet's lines were all taped and fitted.
pub type Sheets = (
    Option<lines::CheckSheet>,
    Option<setout::SetOut>,
    Option<Adjusted>,
);

/// What would be of the lawns if every line of a check sheet were taped and fitted.
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
    let mut readings = points.readings(&job, &mut Vec::new());
    points.on_plan(survey.slope.as_ref(), &mut readings);
    let (lawns, parts, outcome) = points.settle(survey, &job, &readings);
    Some(points.adjusted(survey, &lawns, &parts, outcome.adjusted?))
}

/// The check sheet and the set-out table of the first lawn.
fn first_lawn(
    survey: &Survey,
    points: &[Named],
    ring: &[(usize, usize)],
    covariance: &Matrix,
) -> (Option<lines::CheckSheet>, Option<setout::SetOut>) {
    let Some(walked) = survey.lawns.first() else {
        return (None, None);
    };
    let names: Vec<String> = points.iter().map(|p| p.name.clone()).collect();
    // A tape lies along the ground: on a slope what it should read is that of the ground laid flat.
    let stretch = survey.slope.as_ref().and_then(Slope::stretch);
    let on_ground = |plan: Coord<f64>| stretch.map_or(plan, |stretch| stretch.ground(plan));
    let at: Vec<Coord<f64>> = points.iter().map(|p| on_ground(p.at)).collect();
    // The lines are chosen by how the area answers to the corners: a ring of the corners alone says that.
    let corners: Vec<Coord<f64>> = ring.iter().map(|&(_, p)| at[p]).collect();
    let mut gradient = vec![0.0; 2 * points.len()];
    for (&(_, p), g) in ring.iter().zip(crate::ring::area_gradient_m(&corners)) {
        gradient[2 * p] = g[0];
        gradient[2 * p + 1] = g[1];
    }
    // Clockwise, as the letters go.
    let mut sides = sides(survey, walked, ring);
    sides.reverse();
    for side in &mut sides {
        std::mem::swap(&mut side.from, &mut side.to);
        side.points.reverse();
        for point in &mut side.points {
            *point = on_ground(*point);
        }
    }
    if let Some(first) = sides.iter().position(|s| s.from == 0) {
        sides.rotate_left(first);
    }
    let check_sheet = Some(lines::check_sheet(&lines::Measured {
        names: &names,
        points: &at,
        covariance,
        sides: &sides,
        area_gradient: &gradient,
        tape_sigma_m: TAPE_SIGMA_M,
    }));
    let places: Vec<Place> = survey
        .beds
        .iter()
        .map(|bed| Place {
            name: bed.label.clone(),
            what: What::BedCentre,
            at: on_ground(bed.centre),
            radius_m: Some(bed.radius_m),
        })
        .collect();
    let set_out = setout::set_out(&names, &at, &sides, &places, SETOUT_SPACING_M);
    (check_sheet, set_out)
}
