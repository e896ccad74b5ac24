//! What the tape says: areas of taped figures, agreement of tape and GNSS, and the adjustment of one to the other.

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
