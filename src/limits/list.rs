//! From when on something is told of a list of corners, which was typed or drawn and not walked, or no area is given for it. All of these
//! are judgements, each with its reason; none was fitted to a list of cases, and no evidence was measured.

/// More than any lawn or field holds, square metres: five kilometres each way. A golf course has well under 1 km², and the largest
/// fields under one crop some 10 km² (from memory). Above this no area is given, whether it was walked or listed.
pub(crate) const LARGEST_M2: f64 = 25e6;
/// Number of decimals of a degree with which only places 100 m apart can be told from each other: no lawn is listed so coarsely.
pub(crate) const COARSE_DECIMALS: i32 = 3;
/// Corners of one lawn are never further apart than this, metres. It catches metres of a plan that were read as degrees, of which each
/// would be 100 km.
pub(crate) const FAR_M: f64 = 10_000.0;
/// Ends of a drawn line that lie further apart than this part of its length leave out a side, or it is no ring at all.
pub(crate) const OPEN_SHARE: f64 = 0.1;
/// The ends of half a circle are 2/π of its length apart: beyond that it is a way from one place to another, and no area is given.
pub(crate) const NO_RING_SHARE: f64 = 2.0 / std::f64::consts::PI;
/// A list of corners need not come back to its first. The side that closes it is odd where it is over twice as long as any
/// listed: no third side of a triangle is as long, so that three corners are never told of.
pub(crate) const ODD_CLOSING_SIDES: f64 = 2.0;
/// A corner is odd, and likely mistyped, where the triangle with its neighbours is over half of the area, and both its sides are at
/// least [`ODD_SIDES`] times as long as any other. The area alone says nothing, as half of a square hangs on each of its corners.
pub(crate) const ODD_AREA_SHARE: f64 = 0.5;
pub(crate) const ODD_SIDES: f64 = 1.5;
/// Number of full turns from which a list of corners is taken to go round the lawn twice: it would hold twice the area, so that none is
/// given.
pub(crate) const TWICE_TURNS: f64 = 1.5;
/// Parts of a lawn that are given by tape may overlap by this share of the smaller one, as coordinates are rounded. More is told.
pub(crate) const OVERLAP_SHARE: f64 = 0.005;
