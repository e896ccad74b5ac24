//! Trials: invented walks whose true area is known exactly, to see whether the band tells the truth.
//!
//! No part of the product: what tests, benchmarks and examples share. It writes logs as a receiver would and reads
//! results as a surveyor would; nothing that measures depends on it, and it takes no number from what measures.

// Each program that includes this file uses a part of it. A benchmark counts as a test, yet calls none of the unit tests.
#![allow(dead_code, unused_imports)]

pub mod bands;
pub mod blunder;
pub mod cell;
pub mod chance;
mod curve;
pub mod drift;
pub mod garden;
pub mod ideal;
#[cfg(test)]
#[path = "../made/kept.rs"]
mod kept;
pub mod place;
pub mod plan;
pub mod real;
pub mod receiver;
pub mod report;
pub mod run;
pub mod score;
pub mod shape;
pub mod walker;
pub mod write;
pub mod yard;
