//! Facts to sentences.

mod notice;
mod refusal;
