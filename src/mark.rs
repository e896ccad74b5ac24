//! A mark: a single place that the surveyor marked on site, such as a waypoint at the middle of a bed. Readers of logs give marks
//! beside fixes.

/// A place that the surveyor marked on site.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    pub label: String,
    /// WGS 84, degrees.
    pub lat_deg: f64,
    pub lon_deg: f64,
    /// Radius of what is marked, metres; `None` where no size was found in the mark's texts.
    pub radius_m: Option<f64>,
    /// All texts of the mark (name, comment, description), as read.
    pub text: String,
    /// Seconds on the log's own clock, see [`crate::fix::Fix::clock_s`].
    pub clock_s: Option<f64>,
    /// Index into [`crate::read::Log::files`].
    pub file: u16,
    /// Line of that file, from 1.
    pub line: u32,
}
