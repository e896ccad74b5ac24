//! Facts to sentences.

mod amount;
#[cfg(feature = "live")]
pub mod live;
mod notice;
mod refusal;
#[cfg(feature = "live")]
pub mod shown;
mod tape;
