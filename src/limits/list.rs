//! Lists of corners that nobody walked. All of these are judgements, each with its reason; no list of cases was fitted to, and no evidence was measured.

/// More than any lawn or field holds, square metres: five kilometres each way. A golf course has well under 1 km², and the largest
/// fields under one crop some 10 km² (from memory). No area is given, walked or listed.
pub(crate) const LARGEST_M2: f64 = 25e6;
/// Degrees with so few decimals tell places no closer together than 100 m apart: no lawn is listed so.
pub(crate) const COARSE_DECIMALS: i32 = 3;
/// Corners of one lawn are never further apart than this, metres; metres of a plan read as degrees are 100 km for each metre.
pub(crate) const FAR_M: f64 = 10_000.0;
/// Ends of a drawn line that lie further apart than this part of its length leave out a side, or it is no ring at all.
pub(crate) const OPEN_SHARE: f64 = 0.1;
/// The ends of half a circle are 2/π of its length apart: beyond that it is a way from one place to another, and no area is given.
pub(crate) const NO_RING_SHARE: f64 = 2.0 / std::f64::consts::PI;
/// A list of corners need not come back to its first. The side that closes it is odd where it is over twice as long as any
/// listed: no third side of a triangle is as long, so that three corners are never told of.
pub(crate) const ODD_CLOSING_SIDES: f64 = 2.0;
/// A corner is odd where the triangle with its neighbours is over half of the area, and both its sides are so much longer than
/// any other. Half of a square hangs on each of its corners, so the area alone says nothing.
pub(crate) const ODD_AREA_SHARE: f64 = 0.5;
pub(crate) const ODD_SIDES: f64 = 1.5;
/// Turns of a list of corners from which it goes round twice: it would hold twice the area, and none is given.
pub(crate) const TWICE_TURNS: f64 = 1.5;
/// Parts of a lawn given by tape that overlap by more than this share of the smaller overlap by more than a rounded coordinate.
pub(crate) const OVERLAP_SHARE: f64 = 0.005;
