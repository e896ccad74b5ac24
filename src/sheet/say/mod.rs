//! Facts to sentences.

mod notice;
