//! The lawn drawn to scale.

pub mod ground;
mod thumb;
pub mod view;

pub use thumb::thumbnail;
