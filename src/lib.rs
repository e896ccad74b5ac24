//! `boundwalk`: bytes → fixes → walk → ring on a plane → lawn with deductions → area with its band
//! → order → sheets. Each arrow is one module, and each module knows only those before it.

// ground: small types everyone may use
pub mod fault;
pub mod fix;
pub mod mark;
pub mod normal;
pub mod regular;
#[doc(hidden)]
pub mod steps;
pub mod units;
pub mod visible;
pub mod write;
// logs to fixes; the job sheet; degrees to metres
pub mod grid;
pub mod job;
pub mod plane;
pub mod read;
// everything asked of one survey
pub mod asked;
// cleaning and closing a walk; rings; rings minus beds
pub mod lawn;
pub mod ring;
pub mod walk;
// how wrong can it be
pub mod band;
// what the tape says, and adjusting to it
pub mod tape;
// quantities from a measured lawn
pub mod order;
// the pipeline and its result
pub mod survey;
// everything a person or a program reads
pub mod sheet;
// what was measured, kept for years
pub mod records;
// many surveys at once
pub mod day;

// What unit tests draw with: a seeded chance and invented outlines, of which each test takes a part.
#[cfg(test)]
#[allow(dead_code)]
#[path = "../tests/trial"]
mod trial {
    pub mod chance;
    mod curve;
    pub mod shape;
}
