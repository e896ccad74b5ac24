//! What lies on the ground, drawn: the lawn, what is taken off, the walk, the band.

use crate::sheet::board::Ink;

/// Light enough that text on it keeps a contrast of 12:1.
pub const LAWN: Ink = Ink(0xdd, 0xec, 0xd3);
pub const EDGE: Ink = Ink(0x1f, 0x4d, 0x2b);
/// Of deductions.
pub const TAKEN: Ink = Ink(0x6b, 0x3f, 0x1d);
