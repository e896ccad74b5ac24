//! How many steps the loops have taken that a file could make long: what the fuzz target holds to the size of its input.
//! Steps rather than seconds, as those are the same on every machine.

use std::cell::Cell;

thread_local! {
    static TAKEN: Cell<u64> = const { Cell::new(0) };
}

/// So many more were taken by this thread.
pub(crate) fn count(steps: usize) {
    TAKEN.set(TAKEN.get().saturating_add(steps as u64));
}

/// What this thread has taken since it was last asked.
#[must_use]
pub fn taken() -> u64 {
    TAKEN.take()
}
