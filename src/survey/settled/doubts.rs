//! What is to be told of a walk and its tape where they do not quite agree, or might agree by chance.

use super::edge::Drawn;
use super::points::Named;
use crate::limits::tape;
use crate::notice::{BentSide, Notice};
use crate::survey::Survey;
use crate::tape::reading::{Line, Reading};
use crate::tape::settle;
use crate::walk::pauses;
use std::collections::BTreeSet;

/// A notice that says which sides were drawn straight, and how large a bulge the walk would not have shown.
pub(super) fn straight_note(parts: &[Drawn], adjusted: &settle::Adjusted) -> Option<Notice> {
    let (names, tolerances): (Vec<String>, Vec<f64>) = parts
        .iter()
        .zip(&adjusted.lawns)
        .filter(|(_, after)| after.from == settle::From::Corners)
        .flat_map(|(drawn, _)| drawn.names.iter())
        .map(|(name, tolerance_m)| (name.clone(), *tolerance_m))
        .unzip();
    let tolerance_m = tolerances.iter().copied().reduce(f64::max)?;
    Some(Notice::TapedStraight {
        sides: names,
        hidden_m: tolerance_m,
    })
}

/// A notice for sides that were taped as straight but that the walk has as bent, further than its error usually explains.
pub(super) fn bent_doubt(parts: &[Drawn], adjusted: &settle::Adjusted) -> Option<Notice> {
    let sides: Vec<BentSide> = parts
        .iter()
        .zip(&adjusted.lawns)
        .filter(|(_, after)| after.from == settle::From::Corners)
        .flat_map(|(drawn, _)| &drawn.bent)
        .map(|(name, bulge_m, straight)| BentSide {
            side: name.clone(),
            bulge_m: *bulge_m,
            taken_as_straight: *straight,
        })
        .collect();
    (!sides.is_empty()).then_some(Notice::TapedStraightButWalkedBent { sides })
}

/// When the walk stood still on the edge, seconds on the log's clock: at the corners, if the surveyor stops at them.
fn stood_s(survey: &Survey) -> Vec<f64> {
    let each = survey.lawns.iter().flat_map(|lawn| {
        let line = lawn.line();
        let pauses = pauses::find(&line, lawn.track.pace_m_s).into_iter();
        let middle_s = pauses.map(|pause| 0.5 * (line[pause.first].t_s + line[pause.last].t_s));
        middle_s.collect::<Vec<f64>>()
    });
    each.collect()
}

/// A notice where tapes go right round a lawn from corner to corner but pass by some of its letters. The walk then shows corners that the
/// surveyor did not see, and the others may be lettered wrongly too.
pub(super) fn left_out_of_the_round(
    survey: &Survey,
    points: &[Named],
    readings: &[Reading],
) -> Option<Notice> {
    let lengths = readings.iter().filter_map(|r| match r.line {
        Line::Length { from, to } => Some([(from, to), (to, from)]),
        _ => None,
    });
    let taped: BTreeSet<(usize, usize)> = lengths.flatten().collect();
    (0..survey.lawns.len())
        .filter(|&k| survey.lawns[k].fixed.is_empty())
        .find_map(|k| {
            let letters: Vec<usize> = (0..points.len())
                .filter(|&p| points[p].lawn == Some(k))
                .collect();
            let own = |&&(_, to): &&(usize, usize)| points[to].lawn == Some(k);
            let ends: BTreeSet<usize> = taped.iter().filter(own).map(|pair| pair.0).collect();
            let (met, passed): (Vec<usize>, Vec<usize>) =
                letters.iter().partition(|&p| ends.contains(p));
            let next = |i: usize| met[(i + 1) % met.len()];
            let round =
                met.len() >= 3 && (0..met.len()).all(|i| taped.contains(&(met[i], next(i))));
            if !round || passed.is_empty() {
                return None;
            }
            let list = |of: &[usize]| of.iter().map(|&p| points[p].name.clone()).collect();
            Some(Notice::CornerNotTaped {
                taped: list(&met),
                passed: list(&passed),
                stood_s: stood_s(survey),
            })
        })
}

/// A notice where nothing vouches for the letters: the walk is so poor that tapes from wrong corners would fit it too, and the tapes
/// alone do not fix the lawn's figure.
pub(super) fn letters_unsure(survey: &Survey, agreement: &settle::Agreement) -> Option<Notice> {
    let report = agreement.adjustment.as_ref().filter(|r| r.accepted)?;
    let lettered = survey.lawns.iter().any(|l| l.fixed.is_empty());
    let loose = report
        .areas
        .iter()
        .any(|a| a.after_sigma_m2 > tape::FIXED_SHARE * a.before_sigma_m2);
    let blind: Vec<String> = report
        .readings
        .iter()
        .filter(|r| {
            r.unit == "m"
                && r.detectable
                    .is_some_and(|d| d > tape::UNNOTICED_SHARE * r.taped)
        })
        .map(|r| r.line.clone())
        .collect();
    (lettered && loose && !blind.is_empty()).then(|| Notice::LettersUnsure {
        lines: blind,
        stood_s: stood_s(survey),
    })
}
