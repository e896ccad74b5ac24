//! The lawn drawn to scale: the plan (`lawn`), the turf rows (`rows`), the setting out from a baseline (`setout`), and a small picture for
//! lists (`thumb`). `fit` chooses paper and scale, `view` turns metres on the ground into millimetres on paper, `frame` draws what
//! stands round a drawing, and `place` finds room for labels.

mod fit;
mod frame;
pub mod ground;
mod hatch;
mod labels;
mod lawn;
mod place;
#[cfg(test)]
#[path = "../../../tests/sheet/roomy.rs"]
mod roomy;
mod rows;
mod setout;
#[cfg(feature = "day")]
mod thumb;
mod view;

pub(crate) use fit::size_mm;
pub use lawn::{figure, lawn, lettered};
pub(crate) use rows::{laid_out, rows};
pub(crate) use setout::{from_baseline, set_out};
#[cfg(feature = "day")]
pub(crate) use thumb::thumbnail;
