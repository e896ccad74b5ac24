//! Turns what the job sheet says was taped into readings between the named points of the walk.

use crate::job::shape::Hand;
use crate::job::taped::{Offset, Square};
use crate::job::{Job, Tape};
use crate::notice::Notice;
use crate::process::hand::TAPE_SIGMA_M;
use crate::tape::reading::{Line, Reading};
use geo::Coord;

/// The points that a tape is taken between.
pub(super) struct Between<'a> {
    pub names: &'a [String],
    /// How many of them, from the first on, are corners of each lawn.
    pub letters: &'a [usize],
    pub at: &'a [Coord<f64>],
}

/// The job sheet's readings whose points exist. One that names a place that is not there is told in a notice.
pub(super) fn readings(job: &Job, between: &Between) -> (Vec<Reading>, Vec<Notice>) {
    let lengths = job.tapes.iter().map(|tape| between.length(tape));
    let squares = job.squares.iter().map(|square| between.square(square));
    let offsets = job.offsets.iter().map(|offset| between.offset(offset));
    let (mut readings, mut told) = (Vec::new(), Vec::new());
    for read in lengths.chain(squares).chain(offsets) {
        match read {
            Ok(some) => readings.extend(some),
            Err(missing) => told.push(missing),
        }
    }
    readings.retain(|r| r.line.is_among(between.names.len()));
    (readings, told)
}

impl Between<'_> {
    /// The indices of the points of these names, in any case of letters; a notice where one does not exist.
    fn find<const N: usize>(&self, wanted: [&str; N], line: &str) -> Result<[usize; N], Notice> {
        let place = |wanted: &str| {
            self.names
                .iter()
                .position(|n| n.eq_ignore_ascii_case(wanted))
        };
        let found = wanted.map(place);
        match found.iter().all(Option::is_some) {
            true => Ok(found.map(Option::unwrap_or_default)),
            false => Err(Notice::NoSuchPoint {
                line: line.to_owned(),
                points: self.names.to_vec(),
            }),
        }
    }

    /// A taped length between two points.
    fn length(&self, tape: &Tape) -> Result<Vec<Reading>, Notice> {
        let label = format!("{}-{}", tape.from, tape.to);
        let [from, to] = self.find([&tape.from, &tape.to], &label)?;
        Ok(vec![Reading {
            line: Line::Length { from, to },
            value: tape.length_m,
            sigma: tape.sigma_m.unwrap_or(TAPE_SIGMA_M),
            label,
        }])
    }

    /// The angle at a corner, between its neighbours on its own lawn; no reading where it is not a corner of three or more.
    fn square(&self, square: &Square) -> Result<Vec<Reading>, Notice> {
        let label = format!("square at {}", square.corner);
        let [at] = self.find([&square.corner], &label)?;
        let reading = self.neighbours(at).map(|(from, to)| Reading {
            line: Line::Angle { at, from, to },
            value: square.angle_deg.to_radians(),
            sigma: square.sigma_deg.to_radians(),
            label,
        });
        Ok(reading.into_iter().collect())
    }

    /// The corners before and after a corner on its lawn; `None` for other points, and on lawns of fewer than three corners.
    fn neighbours(&self, corner: usize) -> Option<(usize, usize)> {
        let mut first = 0;
        for &count in self.letters {
            if corner < first + count {
                let within = corner - first;
                let before = first + (within + count - 1) % count;
                let after = first + (within + 1) % count;
                return (count >= 3).then_some((before, after));
            }
            first += count;
        }
        None
    }

    /// An offset from a line, and the chainage along it where it is given. Where the sheet does not say on which side the point lies, the
    /// walk does.
    fn offset(&self, offset: &Offset) -> Result<Vec<Reading>, Notice> {
        let Offset {
            point, from, to, ..
        } = offset;
        let label = format!("{point} from {from}-{to}");
        let chainage = format!("along {from}-{to} to {point}");
        let [point, from, to] = self.find([point, from, to], &label)?;
        let line = Line::Offset { point, from, to };
        let left = match offset.side {
            Some(side) => side == Hand::Left,
            None => line.value(self.at) >= 0.0,
        };
        let sigma = offset.sigma_m.unwrap_or(TAPE_SIGMA_M);
        let mut readings = vec![Reading {
            line,
            value: if left {
                offset.offset_m
            } else {
                -offset.offset_m
            },
            sigma,
            label,
        }];
        readings.extend(offset.chainage_m.map(|chainage_m| Reading {
            line: Line::Chainage { point, from, to },
            value: chainage_m,
            sigma,
            label: chainage,
        }));
        Ok(readings)
    }
}
