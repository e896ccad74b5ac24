//! What the tape says: areas of taped figures, the agreement of tape and GNSS walk, and the adjustment of one to the other.
//!
//! Two ideas carry this room. Least squares (`adjust`): corners as walked and lengths as taped contradict each other a little, and the
//! best corners are those for which the squared contradictions, each divided by its variance, have the least sum. Data snooping
//! (`snoop`): if one reading alone contradicts the rest by more than chance explains, it is named and left out. What a misread tape could
//! do without being noticed is told too (reliability). `settle` puts all of it together for a walk; `figure`, `offsets` and `shapes`
//! measure ground by tape alone; `lines` and `setout` say what to tape and how to set the lawn out; `matrix` and `chance` have the linear
//! algebra and the distributions.

pub mod adjust;
pub mod carried;
pub mod chance;
pub mod checks;
pub mod figure;
mod found;
pub mod lines;
pub mod matrix;
pub mod offsets;
pub mod outline;
pub mod reading;
pub mod setout;
pub mod settle;
pub mod shapes;
pub mod snoop;
pub mod trust;
