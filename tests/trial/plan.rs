//! Which walks a trial walks: all combinations of some classes of receiver, shapes of lawn, laps and so on.

use super::blunder::Blunder;
use super::cell::{Cell, Manner, RATES_HZ, Walk};
use super::receiver::{Claim, Class};
use super::shape::Shape;

/// Every combination of these is a cell, and each cell is walked `walks` times.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub classes: Vec<Class>,
    pub shapes: Vec<Shape>,
    pub laps: Vec<usize>,
    pub rates_hz: Vec<f64>,
    pub claims: Vec<Claim>,
    pub manner: Manner,
    /// How many walks each cell has.
    pub walks: u64,
    /// The index of each cell's first walk. Another one gives other walks.
    pub first: u64,
}

impl Default for Plan {
    fn default() -> Plan {
        Plan {
            classes: Class::ALL.to_vec(),
            shapes: Shape::ALL.to_vec(),
            laps: vec![1, 2, 3],
            rates_hz: RATES_HZ.to_vec(),
            claims: Claim::ALL.to_vec(),
            manner: Manner::Plain,
            walks: 10,
            first: 0,
        }
    }
}

impl Plan {
    /// All cells of the plan.
    pub fn cells(&self) -> Vec<Cell> {
        let mut cells = Vec::new();
        for &class in &self.classes {
            for &shape in &self.shapes {
                for &laps in &self.laps {
                    for &rate_hz in &self.rates_hz {
                        cells.extend(self.claims.iter().map(|&claim| Cell {
                            class,
                            shape,
                            laps,
                            rate_hz,
                            claim,
                            manner: self.manner,
                        }));
                    }
                }
            }
        }
        cells
    }

    /// All walks of the plan, without a blunder.
    pub fn walks(&self) -> Vec<Walk> {
        let cells = self.cells();
        (0..self.walks)
            .flat_map(|index| {
                cells.iter().map(move |cell| Walk {
                    cell: *cell,
                    index: self.first.wrapping_add(index),
                    blunder: None,
                })
            })
            .collect()
    }

    /// The same walks in the same order, each with one blunder. The blunders take turns, so that each cell meets each of them.
    pub fn blundered(&self) -> Vec<Walk> {
        let cells = self.cells().len().max(1);
        self.walks()
            .into_iter()
            .enumerate()
            .map(|(i, walk)| Walk {
                blunder: Blunder::TAKEN_IN_TURN
                    .get((i % cells + i / cells) % Blunder::TAKEN_IN_TURN.len())
                    .copied(),
                ..walk
            })
            .collect()
    }

    /// The same walks in the same order, each with a drift. Every walk meets this blunder because it is the one that shows least.
    pub fn drifting(&self) -> Vec<Walk> {
        let drift = |walk| Walk {
            blunder: Some(Blunder::Drift),
            ..walk
        };
        self.walks().into_iter().map(drift).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_cell_meets_each_blunder() {
        let plan = Plan {
            walks: 8,
            ..Plan::default()
        };
        let walks = plan.blundered();
        for cell in plan.cells() {
            for blunder in Blunder::TAKEN_IN_TURN {
                let met = walks
                    .iter()
                    .any(|w| w.cell == cell && w.blunder == Some(blunder));
                assert!(met, "{cell:?} {blunder:?}");
            }
        }
    }
}
