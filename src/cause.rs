//! What an area's error is made of.

use serde::Serialize;

/// A cause of error. Of what was drawn or listed the first three are how well the corners' places are known, read off and drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Cause {
    /// The receiver's positions.
    Position,
    /// The antenna swaying on its pole.
    Pole,
    /// How truly the hand followed the edge.
    Edge,
    /// Corners cut between two positions.
    Sampling,
    /// The line that closes a walk at its start.
    Closing,
    /// Stretches without positions.
    Gaps,
    /// The size of round beds.
    Beds,
    /// The width of paths.
    Paths,
}
