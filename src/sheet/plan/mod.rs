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
mod thumb;
mod view;

pub use fit::size_mm;
pub use lawn::{figure, lawn, lettered};
pub use rows::{laid_out, rows};
pub use setout::{from_baseline, set_out};
pub use thumb::thumbnail;
