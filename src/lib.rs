//! Walk the edge of a lawn with a GNSS logger; get its net area with an honest band, and the turf order that follows.
//!
//! ```
//! use boundwalk::{Input, Request, measure};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let log = Input::File("fixtures/garden/lawn.nmea".into());
//! let measured = measure(&Request::of([log]))?;
//! if let Some(area) = &measured.area {
//!     println!("{:.1} ± {:.1} m² net", area.net_m2, area.band_m2);
//! }
//! for warning in &measured.warnings {
//!     eprintln!("{}: {}", warning.code(), warning);
//! }
//! # Ok(()) }
//! ```
//!
//! Every length is in metres, every area in square metres on the horizontal, every time in seconds; names say so (`_m`,
//! `_m2`, `_s`). A survey that was read but gives no honest number is a result with status `withheld`, not an error:
//! [`measure`] fails only where a call is wrong or nothing could be read. An approximate working measurement for ordering
//! materials; not a survey of legal boundaries.
//!
//! | feature | in the default | brings |
//! |---|---|---|
//! | none | | reading, measuring, the order; [`sheet::one`] as text, JSON, GeoJSON and CSV |
//! | `sheets` | yes | [`sheet::all`]: HTML, PDF, SVG, PNG, DXF, GPX and KML as well |
//! | `records` | yes | [`records`]: what was measured, kept in a GeoPackage |
//! | `day` | yes | [`day`]: many surveys at once; with it come `sheets` and `records` |
//! | `live` | yes | a walk measured while it goes on: sources, the kept log, marks; its page needs `sheets` as well |
//! | `cli` | yes | the program; with it come `day` and `live` |
//! | `proj` | no | any grid by EPSG code; PROJ is built from source. Without it UTM and grids on ETRS89 alone |
//!
//! Inside: bytes → fixes → walk → ring on a plane → lawn with deductions → area with its band → order → sheets. Each arrow
//! is one module, and each module knows only those before it. The modules that are left out of this page are there for the
//! project's own tests, benchmarks and fuzz targets; nothing is promised of them.

#![deny(missing_docs)]
// A function whose result is the point of calling it is to say so, so that a call that drops the result is told.
#![warn(clippy::must_use_candidate)]

pub use asked::{Depth, Request};
pub use fault::{Fault, Kind as FaultKind};
pub use job::Job;
pub use notice::{Notice, Weight};
pub use read::inspect::{Inspected, inspect};
pub use read::{Input, Log, read};
pub use survey::measured::Measured;
pub use survey::{measure, taped::measure as measure_tape};
pub use units::Units;

/// What [`Measured`] is made of.
pub mod result {
    pub use crate::survey::checked::*;
    pub use crate::survey::measured::*;
}

// The ground floor: small types that every other module may use.
#[doc(hidden)]
pub mod cause;
pub mod fault;
pub mod finding;
#[doc(hidden)]
pub mod fix;
#[doc(hidden)]
pub mod left_out;
mod limits;
#[doc(hidden)]
pub mod mark;
pub mod next_step;
#[doc(hidden)]
pub mod normal;
pub mod notice;
#[cfg(feature = "sheets")]
mod picture;
#[doc(hidden)]
pub mod process;
pub mod refusal;
#[doc(hidden)]
pub mod regular;
#[doc(hidden)]
pub mod steps;
pub mod units;
#[doc(hidden)]
pub mod visible;
#[doc(hidden)]
pub mod write;
// From logs to fixes (single positions); the job sheet; from degrees to metres.
#[doc(hidden)]
pub mod grid;
pub mod job;
#[doc(hidden)]
pub mod plane;
pub mod read;
// Everything that is asked of one survey, as one value.
#[doc(hidden)]
pub mod asked;
// Closed rings of places: their area and their length.
#[doc(hidden)]
pub mod ring;
// A walk, cleaned of bad positions and cut into laps.
#[doc(hidden)]
pub mod walk;
// One closed edge fitted through the laps of a walk.
#[doc(hidden)]
pub mod edge;
// The lawn: what lies inside the edges, less beds and paths.
#[doc(hidden)]
pub mod lawn;
// How far the area may be from the truth: its 95 % band.
#[doc(hidden)]
pub mod band;
// Lengths read from a tape, and the figure that fits them and the walk best.
#[doc(hidden)]
pub mod tape;
// What to order for a measured lawn: turf, soil, edging and so on.
#[doc(hidden)]
pub mod order;
// The whole way from a request to a measured result.
#[doc(hidden)]
pub mod survey;
// A walk that is measured while it goes on.
#[cfg(feature = "live")]
#[doc(hidden)]
pub mod live;
// Everything that is written for a person or another program to read.
pub mod sheet;
// What was measured, kept for years in a GeoPackage.
#[cfg(feature = "records")]
pub mod records;
// Many surveys measured in one run.
#[cfg(feature = "day")]
pub mod day;

// Shared with the integration tests: the unit tests take it in from the folder `tests`.
#[cfg(test)]
#[path = "../tests/made/kept.rs"]
mod kept;
// Random numbers from a fixed seed, and invented outlines. No test uses all of it, so unused parts are allowed.
#[cfg(test)]
#[allow(dead_code)]
#[path = "../tests/trial"]
mod trial {
    pub mod chance;
    mod curve;
    pub mod shape;
}
