//! Lists that this program wrote (`points.csv`): their column `what` says what each row is, so that a lawn that is read back is the same lawn.

use crate::fix::Fix;
use crate::read::Outline;
use crate::read::batch::Batch;

/// What a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A lettered corner. It lies on the edge, but the edge may have more places than its corners.
    Corner,
    Bed,
    Mark,
    /// A place on the edge of a lawn, in order.
    Edge,
    /// A place on the edge of something that is taken off, in order.
    Hole,
}

impl What {
    const WORDS: [(What, &str); 5] = [
        (What::Corner, "corner"),
        (What::Bed, "bed"),
        (What::Mark, "mark"),
        (What::Edge, "edge"),
        (What::Hole, "hole"),
    ];

    /// The word for it in the list.
    pub(crate) fn word(self) -> &'static str {
        let mut words = What::WORDS.iter();
        words.find(|w| w.0 == self).map_or("", |w| w.1)
    }

    pub(super) fn of(cell: &str) -> Option<What> {
        let mut words = What::WORDS.iter();
        words.find(|w| cell.eq_ignore_ascii_case(w.1)).map(|w| w.0)
    }
}

/// The rings of one list, as its rows are read.
#[derive(Debug, Default)]
pub(super) struct Rings {
    corners: Vec<Fix>,
    /// The ring that the last row belonged to (its kind and name), and its track.
    last: Option<(What, String, u16)>,
}

impl Rings {
    /// How many rows are kept here that are not among the batch's fixes.
    pub(crate) fn kept(&self) -> usize {
        self.corners.len()
    }

    pub(crate) fn corner(&mut self, fix: Fix) {
        self.corners.push(fix);
    }

    /// Takes a place on an edge. The rows of one ring follow each other, so that another name or kind begins another ring.
    pub(crate) fn place(
        &mut self,
        what: What,
        ring: &str,
        label: &str,
        mut fix: Fix,
        batch: &mut Batch,
    ) {
        let track = match &self.last {
            Some((w, r, track)) if *w == what && r == ring => *track,
            other => {
                let track = other.as_ref().map_or(0, |(_, _, t)| t.saturating_add(1));
                let label = label.to_owned();
                let outline = match what {
                    What::Hole => Outline::TakenOff(label),
                    _ => Outline::Lawn(label),
                };
                batch.outlines.insert(track, outline);
                self.last = Some((what, ring.to_owned(), track));
                track
            }
        };
        (fix.track, fix.segment) = (track, track);
        batch.fixes.push(fix);
    }

    /// Ends the list. Where it had no edge, its corners are the edge.
    pub(crate) fn close(self, batch: &mut Batch) {
        if self.last.is_none() {
            batch.fixes.extend(self.corners);
        }
    }
}
