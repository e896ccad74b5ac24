//! What the job sheet says was taped, between the points of the walk.

use crate::job::{Job, shape::Hand};
use crate::notice::Notice;
use crate::tape::reading::{Line, Reading};
use geo::Coord;

/// One sigma of a taped length unless told, metres.
pub(super) const TAPE_SIGMA_M: f64 = 0.02;

/// The job sheet's readings whose points exist. One that names a place that is not there is told, not dropped.
pub(super) fn readings(
    job: &Job,
    names: &[String],
    letters: &[usize],
    at: &[Coord<f64>],
    warnings: &mut Vec<Notice>,
) -> Vec<Reading> {
    let mut readings = Vec::new();
    let mut find = |wanted: &[&str], line: &str| -> Option<Vec<usize>> {
        let found: Vec<usize> = wanted
            .iter()
            .filter_map(|w| names.iter().position(|n| n.eq_ignore_ascii_case(w)))
            .collect();
        if found.len() == wanted.len() {
            return Some(found);
        }
        warnings.push(Notice::NoSuchPoint {
            line: line.to_owned(),
            points: names.to_vec(),
        });
        None
    };
    for tape in &job.tapes {
        let label = format!("{}-{}", tape.from, tape.to);
        if let Some(p) = find(&[&tape.from, &tape.to], &label) {
            readings.push(Reading {
                line: Line::Length {
                    from: p[0],
                    to: p[1],
                },
                value: tape.length_m,
                sigma: tape.sigma_m.unwrap_or(TAPE_SIGMA_M),
                label,
            });
        }
    }
    // A right angle is between a corner's neighbours on its own lawn.
    let neighbours = |corner: usize| -> Option<(usize, usize)> {
        let mut first = 0;
        for &count in letters {
            if corner < first + count {
                let within = corner - first;
                return (count >= 3).then(|| {
                    (
                        first + (within + count - 1) % count,
                        first + (within + 1) % count,
                    )
                });
            }
            first += count;
        }
        None
    };
    for square in &job.squares {
        let label = format!("square at {}", square.corner);
        if let Some(p) = find(&[&square.corner], &label)
            && let Some((from, to)) = neighbours(p[0])
        {
            readings.push(Reading {
                line: Line::Angle { at: p[0], from, to },
                value: square.angle_deg.to_radians(),
                sigma: square.sigma_deg.to_radians(),
                label,
            });
        }
    }
    for offset in &job.offsets {
        let label = format!("{} from {}-{}", offset.point, offset.from, offset.to);
        let Some(p) = find(&[&offset.point, &offset.from, &offset.to], &label) else {
            continue;
        };
        let line = Line::Offset {
            point: p[0],
            from: p[1],
            to: p[2],
        };
        let left = match offset.side {
            Some(side) => side == Hand::Left,
            None => line.value(at) >= 0.0,
        };
        let sigma = offset.sigma_m.unwrap_or(TAPE_SIGMA_M);
        readings.push(Reading {
            line,
            value: if left {
                offset.offset_m
            } else {
                -offset.offset_m
            },
            sigma,
            label: label.clone(),
        });
        if let Some(chainage_m) = offset.chainage_m {
            readings.push(Reading {
                line: Line::Chainage {
                    point: p[0],
                    from: p[1],
                    to: p[2],
                },
                value: chainage_m,
                sigma,
                label: format!("along {}-{} to {}", offset.from, offset.to, offset.point),
            });
        }
    }
    readings.retain(|r| r.line.is_among(names.len()));
    readings
}
