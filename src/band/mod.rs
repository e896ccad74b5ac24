//! How wrong the area can be: from a stated error process, never by taking fixes a second apart for independent.
//!
//! The area is a sum over the fixes, so a small error `e_i` of fix `i` changes it by `g_i · e_i`, where `g_i` is the area's gradient
//! there (`crate::ring`). The errors of a GNSS receiver are correlated in time: they drift. One second apart they are nearly the same,
//! ten minutes apart they are independent. The model for that is the first-order Gauss-Markov process: the correlation of two errors is
//! `exp(-dt / tau)` with a correlation time `tau`. `propagate` turns the gradients and such a process into the variance of the area.
//!
//! Neither `tau` nor the true size of the errors is known. So there is a table of beliefs, each a `tau` and a scale (how many times
//! larger than claimed the errors are) with a weight (`model`). What the walk itself shows changes the weights by Bayes' rule: how far
//! two laps are apart at the same place, how the position wanders while the walker stands (`evidence`), how rough the walk is from second
//! to second (`rough`). The area's error is then a mixture of normal distributions, one for each belief, and the band is the half-width
//! that holds 95 % of it (`budget`). Other causes of error (the pole, the hand, beds, gaps) are added as variances.
//!
//! `telling` says in advance how large a drift would show; `ground` fits a plane to the heights; `moments` and `tridiagonal` are the
//! arithmetic behind.

pub mod budget;
pub mod evidence;
pub mod ground;
pub mod model;
pub mod moments;
pub mod propagate;
pub mod rough;
pub mod telling;
mod tridiagonal;
