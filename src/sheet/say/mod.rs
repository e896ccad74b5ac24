//! Facts to sentences.

#[cfg(feature = "live")]
pub mod live;
mod notice;
mod refusal;
mod tape;
