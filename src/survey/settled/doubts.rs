//! What is to be told of a walk and its tape that do not quite agree, or agree by chance.

use super::Settled;
use super::edge::Drawn;
use super::points::Named;
use crate::fault::Warning;
use crate::job::Job;
use crate::survey::Survey;
use crate::tape::reading::{Line, Reading};
use crate::tape::settle;
use crate::walk::pauses;
use std::collections::BTreeSet;

pub(super) fn nothing_to_tape(job: &Job) -> Settled {
    let mut settled = Settled::default();
    if !(job.tapes.is_empty() && job.squares.is_empty() && job.offsets.is_empty()) {
        settled.warnings.push(Warning::doubt(
            "no-corners-to-tape",
            "The edge shows fewer than two corners, so the tape readings of the job sheet could not be set against it. Stop for \
             a few seconds at the places you tape between.",
        ));
    }
    settled
}

/// More corners than can be set against a tape.
pub(super) fn too_much_to_tape(points: usize) -> Settled {
    Settled {
        warnings: vec![Warning::doubt(
            "too-many-corners-to-tape",
            format!(
                "The edge has {points} corners and beds: too many to set the tape readings of the job sheet against, so these were not \
                 used. Name the corners that were taped between in [[corner]]: then no others count as corners."
            ),
        )],
        ..Settled::default()
    }
}

/// Says which sides were drawn straight, and how much of a bulge the walk would not have shown.
pub(super) fn straight_note(parts: &[Drawn], adjusted: &settle::Adjusted) -> Option<Warning> {
    let (names, tolerances): (Vec<&str>, Vec<f64>) = parts
        .iter()
        .zip(&adjusted.lawns)
        .filter(|(_, after)| after.from == settle::From::Corners)
        .flat_map(|(drawn, _)| drawn.names.iter())
        .map(|(name, tolerance_m)| (name.as_str(), *tolerance_m))
        .unzip();
    let tolerance_m = tolerances.iter().copied().reduce(f64::max)?;
    Some(Warning::note(
        "taped-straight",
        format!(
            "The edge was taken as straight where it was taped from corner to corner: {}. A bulge of less than {tolerance_m:.1} m \
             would not show in this walk; if a side has one, add straight = false to its [[tape]].",
            names.join(", ")
        ),
    ))
}

/// Sides taped as straight which the walk has as bent, further than its error usually explains.
pub(super) fn bent_doubt(parts: &[Drawn], adjusted: &settle::Adjusted) -> Option<Warning> {
    let bent: Vec<String> = parts
        .iter()
        .zip(&adjusted.lawns)
        .filter(|(_, after)| after.from == settle::From::Corners)
        .flat_map(|(drawn, _)| &drawn.bent)
        .map(|(name, bulge_m, straight)| {
            let taken = if *straight {
                "taken as straight"
            } else {
                "taken as walked"
            };
            format!("{name} ({bulge_m:.1} m, {taken})")
        })
        .collect();
    (!bent.is_empty()).then(|| {
        Warning::doubt(
            "taped-straight-but-walked-bent",
            format!(
                "The walk bulges from the straight line that was taped by more than its error explains: {}. Look whether the edge \
                 bends there: add straight = false to its [[tape]] if it does, and tape offsets to it, straight = true if it does not.",
                bent.join(", ")
            ),
        )
    })
}

/// What to do where letters may not stand at the corners that were taped.
pub(super) const NAME_THEM: &str = "Look at the plan whether each letter stands at a corner; if not, name the corners in [[corner]] by \
     the time or the pause, or measure the sides and a diagonal as a [[shape]].";

/// What to do where tape and walk disagree.
pub(super) const READS_THE_SAME: &str = "If the tape reads the same again, it is the walk that is out: walk it again, or \
     measure the sides and a diagonal as a [[shape]].";

/// When the walk stood still on the edge: the corners, if the surveyor stops at them.
fn stood_still(survey: &Survey) -> String {
    let times: Vec<String> = survey
        .lawns
        .iter()
        .flat_map(|lawn| {
            let line = lawn.line();
            let pauses = pauses::find(&line, lawn.pace_m_s).into_iter();
            let middle_s = pauses.map(|pause| 0.5 * (line[pause.first].t_s + line[pause.last].t_s));
            middle_s.collect::<Vec<f64>>()
        })
        .take(12)
        .map(|t_s| {
            let s = t_s.rem_euclid(86_400.0) as u32;
            format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
        })
        .collect();
    if times.is_empty() {
        return String::new();
    }
    format!(
        " The walk stands still on the edge at {}.",
        times.join(", ")
    )
}

/// Tapes that go right round a lawn from corner to corner but pass by some of its letters: then the walk shows corners
/// that the surveyor did not see, and the others may be lettered wrongly too.
pub(super) fn left_out_of_the_round(
    survey: &Survey,
    points: &[Named],
    readings: &[Reading],
) -> Option<Warning> {
    // Of so many corners only the first are named.
    const NAMED: usize = 12;
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
            let list = |of: &[usize]| {
                let names = of.iter().take(NAMED).map(|&p| points[p].name.as_str());
                let names = names.collect::<Vec<&str>>().join(", ");
                match of.len().saturating_sub(NAMED) {
                    0 => names,
                    more => format!("{names} and {more} more"),
                }
            };
            Some(Warning::doubt(
                "corner-not-taped",
                format!(
                    "The tape goes right round {}, but the walk also shows a corner at {}. {NAME_THEM}{}",
                    list(&met),
                    list(&passed),
                    stood_still(survey)
                ),
            ))
        })
}

/// A misreading of more than this part of a line that nobody would notice: the walk can't tell one corner from the next.
const UNNOTICED: f64 = 0.5;

/// Tapes that leave less than this part of the area's error fix the figure by themselves, whichever letters they stand at.
const FIXED_BY_TAPE: f64 = 0.3;

/// Where the walk is so poor that tapes from wrong corners would fit it too, and the tapes alone don't fix the lawn's figure,
/// nothing vouches for the letters.
pub(super) fn letters_unsure(survey: &Survey, agreement: &settle::Agreement) -> Option<Warning> {
    let report = agreement.adjustment.as_ref().filter(|r| r.accepted)?;
    let lettered = survey.lawns.iter().any(|l| l.fixed.is_empty());
    let loose = report
        .areas
        .iter()
        .any(|a| a.after_sigma_m2 > FIXED_BY_TAPE * a.before_sigma_m2);
    let blind: Vec<&str> = report
        .readings
        .iter()
        .filter(|r| r.unit == "m" && r.detectable.is_some_and(|d| d > UNNOTICED * r.taped))
        .map(|r| r.line.as_str())
        .collect();
    (lettered && loose && !blind.is_empty()).then(|| {
        Warning::doubt(
            "letters-unsure",
            format!(
                "This walk is too rough to tell whether {} were taped between the corners it has under those letters. \
                 {NAME_THEM}{}",
                blind.join(", "),
                stood_still(survey)
            ),
        )
    })
}
