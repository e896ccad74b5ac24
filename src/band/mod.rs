//! How wrong the area can be.

pub mod propagate;
