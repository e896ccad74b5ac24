//! What the tape says: areas of taped figures, agreement of tape and GNSS, and the adjustment of one to the other.

pub mod adjust;
pub mod chance;
pub mod figure;
pub mod matrix;
pub mod offsets;
pub mod reading;
pub mod shapes;
pub mod snoop;
