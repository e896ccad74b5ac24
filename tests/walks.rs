//! Invented walks with a known truth, through the whole of the library.

mod trial;

mod bands;
mod checked;
mod doubts;
mod edge_length;
mod formats;
mod garden;
mod heights;
mod invariance;
mod method;
mod receivers;
mod tape_walk;
mod twice;
mod ways;
