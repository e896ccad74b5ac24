//! Rings minus beds: polygons on the plane, nothing deducted twice.

use geo::{Coord, MultiPolygon};
use serde::Serialize;

/// What kind of thing is taken off the lawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// A point with a radius.
    Bed,
    /// A ring that was walked round.
    Walked,
    /// A path walked along its middle, with a width.
    Path,
}

/// One thing taken off the lawn.
#[derive(Debug, Clone)]
pub struct Deduction {
    pub label: String,
    pub kind: Kind,
    /// Centre (bed) or centroid, plane metres.
    pub centre: Coord<f64>,
    /// Beds only, metres.
    pub radius_m: Option<f64>,
    /// Its own outline before clipping, plane metres. A bed's outline is a many-sided polygon for
    /// drawing and cutting; its area is computed as a circle.
    pub outline: MultiPolygon<f64>,
    /// Its own whole area, square metres.
    pub area_m2: f64,
    /// What it takes off this job: clipped to the lawn and to the deductions before it.
    pub deducted_m2: f64,
}

/// One lawn as drawn: valid polygons on the plane.
#[derive(Debug, Clone)]
pub struct Lawn {
    pub label: String,
    /// Outer edge before deductions.
    pub outer: MultiPolygon<f64>,
    /// Outer edge less every deduction.
    pub net: MultiPolygon<f64>,
}
