//! What is known of points besides their covariance: how far their sigmas are to be believed, and the edge that goes round them.

use super::chance;
use crate::fault::Fault;
use crate::limits::tape::SIGNIFICANCE;
use crate::process::WALK_FREEDOM;
use crate::ring::crosses_itself;
use geo::Coord;
use std::cell::Cell;
use std::sync::LazyLock;

/// The critical value of Baarda's test, 3.29.
#[must_use]
pub fn w_critical() -> f64 {
    chance::two_sided(1.0 - SIGNIFICANCE)
}

/// What is known of the points besides their covariance.
#[derive(Debug, Clone)]
pub struct Trust {
    /// From which a reading's normalised residual is not chance.
    pub critical: f64,
    /// Points in the order in which an edge goes round them: it does not cross itself.
    pub rings: Vec<Vec<usize>>,
    /// Multiplications left to be spent on it.
    left: Cell<u64>,
}

/// Multiplications that one adjustment with its search for what does not fit may take: some three seconds. What
/// readings that contradict each other take grows with the sixth power of their number.
const MOST_WORK: u64 = 3_000_000_000;

impl Default for Trust {
    /// Sigmas that are known, and no edge.
    fn default() -> Trust {
        Trust {
            critical: w_critical(),
            rings: Vec::new(),
            left: Cell::new(MOST_WORK),
        }
    }
}

impl Trust {
    /// Points from a walk. Its sigma is known to some 20 %, as if it had been estimated with 12 degrees of freedom (the
    /// relative sigma of such an estimate is `1/sqrt(2 f)`): Student's t in place of the normal, 4.32 in place of 3.29.
    #[must_use]
    pub fn of_walk(rings: Vec<Vec<usize>>) -> Trust {
        Trust {
            critical: walk_critical(),
            rings,
            ..Trust::default()
        }
    }

    /// Spends what one round of so many readings between so many points takes.
    pub(super) fn spend(&self, readings: usize, points: usize) -> Result<(), Fault> {
        let (readings, all) = (readings as u64, (readings + 2 * points) as u64);
        crate::steps::count(readings.saturating_mul(all) as usize);
        self.left
            .set(self.left.get().saturating_sub(readings * all * all));
        self.is_spent().map_or(Ok(()), Err)
    }

    /// The fault where nothing is left.
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

/// As [`w_critical`], for a tape against a walk: 4.32.
pub(crate) fn walk_critical() -> f64 {
    // Every tape of every survey asks for it.
    static CRITICAL: LazyLock<f64> =
        LazyLock::new(|| chance::student_quantile(1.0 - 0.5 * SIGNIFICANCE, WALK_FREEDOM));
    *CRITICAL
}
