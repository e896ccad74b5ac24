//! How wrong the area can be: from a stated error process, never by taking fixes a second apart for independent.

pub mod budget;
pub mod evidence;
pub mod ground;
pub mod model;
pub mod moments;
pub mod propagate;
pub mod rough;
pub mod telling;
mod tridiagonal;
