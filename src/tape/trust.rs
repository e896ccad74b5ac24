//! What is known of points besides their covariance: how far their sigmas are to be believed, and the edge that goes round them.

use super::adjust::SIGNIFICANCE;
use super::chance;
use crate::ring::crosses_itself;
use geo::Coord;
use std::sync::LazyLock;

/// Degrees of freedom with which a walk's sigma is known.
const WALK_FREEDOM: f64 = 12.0;

/// The critical value of Baarda's test, 3.29.
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
}

impl Default for Trust {
    /// Sigmas that are known, and no edge.
    fn default() -> Trust {
        Trust {
            critical: w_critical(),
            rings: Vec::new(),
        }
    }
}

impl Trust {
    /// Points from a walk. Its sigma is known to some 20 %, as if it had been estimated with 12 degrees of freedom (the
    /// relative sigma of such an estimate is `1/sqrt(2 f)`): Student's t in place of the normal, 4.32 in place of 3.29.
    pub fn of_walk(rings: Vec<Vec<usize>>) -> Trust {
        Trust {
            critical: walk_critical(),
            rings,
        }
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
pub fn walk_critical() -> f64 {
    // Every tape of every survey asks for it.
    static CRITICAL: LazyLock<f64> =
        LazyLock::new(|| chance::student_quantile(1.0 - 0.5 * SIGNIFICANCE, WALK_FREEDOM));
    *CRITICAL
}
