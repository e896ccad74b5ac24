//! What a piece of turf is, how it may be laid, and how one part-laid lawn is told better from another. The other modules of
//! the laying (`pack`, `joints`, `search`) all work by these types.

use super::demand::Demand;

/// Lengths closer than this are the same length, metres.
pub(crate) const SAME_M: f64 = 1e-6;

/// What a piece is and how it may be laid; all lengths in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rule {
    pub length_m: f64,
    /// No piece is shorter than this, unless it is a whole row.
    pub min_piece_m: f64,
    /// No joint lies nearer than this to a joint of the row before.
    pub stagger_m: f64,
}

impl Rule {
    /// The fewest pieces that could cover the demands, all offcuts used: total length over piece length.
    pub fn lower_bound(&self, demands: &[Demand]) -> u64 {
        let total: f64 = demands.iter().map(Demand::length_m).sum();
        self.whole_up(total)
    }

    /// The pieces needed where no offcut is used again: each demand rounded up by itself.
    #[must_use]
    pub fn no_reuse(&self, demands: &[Demand]) -> u64 {
        demands.iter().map(|d| self.whole_up(d.length_m())).sum()
    }

    fn whole_up(&self, length_m: f64) -> u64 {
        ((length_m - SAME_M) / self.length_m).ceil().max(0.0) as u64
    }
}

/// One piece in its place along its row, metres in the turned lawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Laid {
    pub start_m: f64,
    pub end_m: f64,
    /// The number of the fresh piece it is, or was cut from, counted from 1.
    pub of: u32,
    /// Whether it is cut from what an earlier cut left over.
    pub offcut: bool,
}

/// What is left of piece number `of` after a cut, `length_m` long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offcut {
    pub length_m: f64,
    pub of: u32,
}

impl Offcut {
    /// What is left when `cut_m` come off.
    pub(super) fn less(self, cut_m: f64) -> Offcut {
        Offcut {
            length_m: self.length_m - cut_m,
            of: self.of,
        }
    }
}

/// How much an offcut that lies ready is counted as lost already, when part-laid lawns are compared. It may still be used,
/// or may not. Which count leads to the fewest pieces differs from lawn to lawn, so several are tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taste {
    /// The loss counted for its length, as a part of that. With 1 the laying takes the fewest fresh pieces at every step.
    pub lying: f64,
    /// The loss counted for each offcut whatever its length, since it is one more thing to place; as a part of a whole piece.
    pub each: f64,
}

/// Found by trial on random lawns; the first alone reaches the lower bound most often.
pub const TASTES: [Taste; 3] = [
    Taste {
        lying: 0.06,
        each: 0.02,
    },
    Taste {
        lying: 1.0,
        each: 0.0,
    },
    Taste {
        lying: 0.3,
        each: 0.05,
    },
];

impl Taste {
    /// How many metres an offcut of this length is counted as lost. One shorter than the least piece can only fill a whole short row,
    /// so nine tenths of it count as lost.
    pub(super) fn cost(self, length: f64, rule: &Rule) -> f64 {
        if length + SAME_M < rule.min_piece_m {
            (0.9 * length).max(self.lying * length)
        } else {
            self.lying * length + self.each * rule.length_m
        }
    }
}
