//! The lawn drawn to scale: the plan, the turf rows, the setting out; and a small picture for lists.

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
