//! Turns facts into sentences. Warnings, refusals and findings are values everywhere else; their words stand only here, so nothing is
//! ever decided by them.

mod amount;
mod left_out;
#[cfg(feature = "live")]
pub mod live;
mod next_step;
mod notice;
mod refusal;
#[cfg(feature = "live")]
pub mod shown;
mod tape;
