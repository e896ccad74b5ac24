//! Quantities from a measured lawn: turf row by row, soil, edging, and what they weigh and cost.

pub mod chance;
pub mod demand;
mod joints;
pub mod pack;
pub mod search;
