//! What the GPX sheets of this program say of themselves, so that a lawn read back is the same lawn.

/// How their creator begins, whichever version wrote them.
pub(crate) const CREATED: &str = "boundwalk sheet ";
/// The types of their tracks and waypoints.
#[cfg(feature = "sheets")]
pub(crate) const LAWN_EDGE: &str = "lawn edge";
pub(crate) const TAKEN_OFF: &str = "taken off";
pub(crate) const CORNER: &str = "corner";
/// In the keywords: the height at which a metre of the survey's plane was a metre. Not the height of any point.
const AT_HEIGHT: &str = "plane at ";

/// As it is written.
#[cfg(feature = "sheets")]
pub(crate) fn at_height(height_m: f64) -> String {
    format!("{AT_HEIGHT}{height_m:.3} m")
}

/// As it is read.
pub(crate) fn height_of_m(keywords: &str) -> Option<f64> {
    let (_, after) = keywords.split_once(AT_HEIGHT)?;
    let height_m: f64 = after.split(' ').next()?.parse().ok()?;
    height_m.is_finite().then_some(height_m)
}
