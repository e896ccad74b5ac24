//! Trials: invented walks whose true area is known exactly, to see whether the band tells the truth.
//!
//! A room beside the command line. It writes logs as a receiver would and reads results as a surveyor would;
//! nothing in the rooms that measure depends on it, and it takes no number from them.

pub mod bands;
pub mod blunder;
pub mod cell;
pub mod chance;
mod curve;
pub mod drift;
pub mod garden;
pub mod ideal;
pub mod place;
pub mod plan;
pub mod receiver;
pub mod report;
pub mod run;
pub mod score;
pub mod shape;
pub mod walker;
pub mod write;
pub mod yard;
