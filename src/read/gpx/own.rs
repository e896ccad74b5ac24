//! Words by which a GPX file that this program wrote is known, and its tracks and waypoints told apart, so that a lawn that is read back is
//! the same lawn. The writer (`sheet`) and the reader share them.

/// How the attribute `creator` of such a file begins, whichever version wrote it.
pub(crate) const CREATED: &str = "boundwalk sheet ";
/// The types of the tracks and waypoints in it.
#[cfg(feature = "sheets")]
pub(crate) const LAWN_EDGE: &str = "lawn edge";
pub(crate) const TAKEN_OFF: &str = "taken off";
pub(crate) const CORNER: &str = "corner";
/// What stands before a height in the keywords of the file: the height at which a metre on the survey's plane is a metre on the ground. It
/// is not the height of any point.
const AT_HEIGHT: &str = "plane at ";

/// The keyword that says this height.
#[cfg(feature = "sheets")]
pub(crate) fn at_height(height_m: f64) -> String {
    format!("{AT_HEIGHT}{height_m:.3} m")
}

/// The height that the keywords say, metres; `None` where they say none.
pub(crate) fn height_of_m(keywords: &str) -> Option<f64> {
    let (_, after) = keywords.split_once(AT_HEIGHT)?;
    let height_m: f64 = after.split(' ').next()?.parse().ok()?;
    height_m.is_finite().then_some(height_m)
}
