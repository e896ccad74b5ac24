//! What is known of points besides their covariance: how far their sigmas are to be believed, and the edge that goes round them. It also
//! limits the work of one adjustment.
//!
//! A test compares a residual with its sigma. If the sigma itself is only roughly known, as that of a walk, large residuals are commoner,
//! and the critical value from which on one is no chance must be higher.

use super::chance;
use crate::fault::Fault;
use crate::limits::tape::SIGNIFICANCE;
use crate::process::WALK_FREEDOM;
use crate::ring::crosses_itself;
use geo::Coord;
use std::cell::Cell;
use std::sync::LazyLock;

/// The critical value of Baarda's test where sigmas are known: 3.29, passed by chance once in a thousand times.
#[must_use]
pub fn w_critical() -> f64 {
    chance::two_sided(1.0 - SIGNIFICANCE)
}

/// What is known of the points besides their covariance.
#[derive(Debug, Clone)]
pub struct Trust {
    /// From this size on a reading's normalised residual is no chance.
    pub critical: f64,
    /// The indices of the points in the order in which an edge goes round them, for each lawn. Such an edge does not cross itself.
    pub rings: Vec<Vec<usize>>,
    /// How many multiplications are left to be spent on it.
    left: Cell<u64>,
}

/// How many multiplications one adjustment, with its search for what does not fit, may take: some three seconds. What readings that
/// contradict each other take grows with the sixth power of their number.
const MOST_WORK: u64 = 3_000_000_000;

impl Default for Trust {
    /// Sigmas that are exactly known, and no edge.
    fn default() -> Trust {
        Trust {
            critical: w_critical(),
            rings: Vec::new(),
            left: Cell::new(MOST_WORK),
        }
    }
}

impl Trust {
    /// For points from a walk. Its sigma is known to some 20 %, as if it had been estimated with 12 degrees of freedom (the relative
    /// sigma of such an estimate is `1/sqrt(2 f)`). So Student's t takes the place of the normal distribution, and 4.32 that of 3.29.
    #[must_use]
    pub fn of_walk(rings: Vec<Vec<usize>>) -> Trust {
        Trust {
            critical: walk_critical(),
            rings,
            ..Trust::default()
        }
    }

    /// Takes off what one round of the iteration with so many readings between so many points costs.
    ///
    /// # Errors
    /// Nothing is left.
    pub(super) fn spend(&self, readings: usize, points: usize) -> Result<(), Fault> {
        let (readings, all) = (readings as u64, (readings + 2 * points) as u64);
        crate::steps::count(readings.saturating_mul(all) as usize);
        self.left
            .set(self.left.get().saturating_sub(readings * all * all));
        self.is_spent().map_or(Ok(()), Err)
    }

    /// The fault to be given where nothing is left; `None` where something is.
    pub(super) fn is_spent(&self) -> Option<Fault> {
        (self.left.get() == 0).then(|| {
            Fault::usage(
                "tape-too-much",
                "There are too many readings that do not fit each other to find out which of them is wrong.",
                "Leave out what was taped twice, and set the rest against the walk a side at a time.",
            )
        })
    }

    /// Whether one of the edges crosses itself.
    pub(super) fn crossed(&self, points: &[Coord<f64>]) -> bool {
        self.rings.iter().any(|ring| {
            let corners = ring.iter().filter_map(|&i| points.get(i));
            crosses_itself(&corners.copied().collect::<Vec<_>>())
        })
    }
}

/// The critical value for a tape against a walk, 4.32; see [`Trust::of_walk`].
pub(crate) fn walk_critical() -> f64 {
    // It is worked out once, as every tape of every survey asks for it.
    static CRITICAL: LazyLock<f64> =
        LazyLock::new(|| chance::student_quantile(1.0 - 0.5 * SIGNIFICANCE, WALK_FREEDOM));
    *CRITICAL
}
