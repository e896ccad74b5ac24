//! From when on a thing is told: a notice given, a status lowered, an area withheld. Every such threshold stands here, by what it judges.
//!
//! Each says what it is compared with and has its unit in its name: `_M` (metres), `_S` (seconds), `_M2` (square metres), `_SIGMAS` (one
//! sigma is the standard deviation of the receiver's error), `_BANDS` (multiples of the area's 95 % band), `_LOG` (a natural logarithm of
//! odds), `_SHARE` (a part of 1). Then it says what it *costs* in false alarms and what it *catches*, where that was measured. "No evidence
//! measured" means just that: the value is a judgement, or follows from a reason beside it, and nobody has counted what another value would
//! do.
//!
//! What is believed of receivers, hands and walkers is in `process`. A constant that only says how something is worked out or drawn stands
//! beside the code that does so.
//!
//! # What the figures rest on
//! Invented walks (`cargo run --release --example trial`), with the options, counts and methods of `docs/accuracy.md`. *Of the clean walks* is of 10 080
//! without a blunder (`--walks 20 --first 991000000`, method 18), of which 304 are flagged, each for one thing or several; 94 give no area, and so do 337
//! of lawns hardly larger than the receiver's error, which count for no limit. Of all limits together: of 290 blunders that moved a given area by more than
//! its band 287 are flagged, and of 916 after which no area was given, 913 (`--walks 20 --first 981000000 --blunders`). The limits were chosen on other
//! walks of the same kind, so they are tuned to that simulator: nothing there shows how they do on real receivers.

pub(crate) mod list;
pub(crate) mod log;
pub(crate) mod order;
pub(crate) mod tape;
pub(crate) mod walk;

/// Part of the area that growers advise to order as spare turf on simple shapes (common practice, no source). A doubt about less of the
/// area is covered by what is ordered anyway, so that it is not told. Gaps, ends of laps, bands and the order's allowance are compared with
/// it. No evidence measured.
pub(crate) const SPARE_TURF_SHARE: f64 = 0.05;
