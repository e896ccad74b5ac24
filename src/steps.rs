//! Counts the turns of those loops that a hostile or damaged file could make very long. The fuzz target checks that the count stays
//! in proportion to the size of its input. Turns are counted rather than seconds, as they are the same on every machine.

use std::cell::Cell;

thread_local! {
    static TAKEN: Cell<u64> = const { Cell::new(0) };
}

/// Adds to the count of this thread.
pub(crate) fn count(steps: usize) {
    TAKEN.set(TAKEN.get().saturating_add(steps as u64));
}

/// The count of this thread since this was last called; sets it back to 0.
#[must_use]
pub fn taken() -> u64 {
    TAKEN.take()
}
