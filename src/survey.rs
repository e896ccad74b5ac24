//! The pipeline for one survey, and its result.

pub mod measured;

pub use measured::Measured;
