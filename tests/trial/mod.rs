//! Trials: invented walks whose true area is known exactly, to see whether the band (the "plus or minus" that boundwalk states
//! beside an area) tells the truth.
//!
//! A trial goes through these steps. `shape` draws a lawn, `walker` walks round it, `receiver` turns the true positions into
//! positions with errors, `blunder` may spoil them, and `write` writes them as a log file. `run` has boundwalk measure that log
//! as it would measure any other, `score` compares the results with the truth, and `report` and `drift` print the tables.
//! `cell` and `plan` say which walks are walked; `real` takes the errors from recordings of real receivers instead.
//!
//! All this is no part of the product: the tests, benchmarks and examples share it. It writes logs as a receiver would and reads
//! results as a surveyor would. Nothing that measures depends on it, and it takes no number from what measures, so that one
//! mistake cannot be in both.

// Each program that includes this file uses only a part of it, and the compiler would warn of the rest. A benchmark is compiled
// as a test is, yet it calls none of the unit tests.
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
