//! When something is told of lengths read from a tape, and when they are taken into the adjustment (the figure that fits all readings and
//! the walk best, each weighed by its error).

/// Significance of the test of a single reading (the w-test: what is left of it after the adjustment, in its own sigmas): Baarda's
/// customary 0.1 %. Cost: one reading in a thousand that errs as it is said to. Of 114 tapes misread by the size that this is said to tell
/// four times in five, 108 were told, of those misread by half of it 17.
pub(crate) const SIGNIFICANCE: f64 = 0.001;
/// The smallest error that is called detectable is the one that is found with this chance: the customary 80 %.
pub(crate) const POWER: f64 = 0.80;
/// Significance of the two-sided test of the variance factor (whether all readings together err as much as their sigmas say). Cost: one
/// adjustment in twenty whose sigmas are right.
pub(crate) const FACTOR_SIGNIFICANCE: f64 = 0.05;
/// How many times likelier than any other explanation the one that is named must be. Of twelve walks each by RTK, differential and
/// autonomous receivers, a side misread by a metre was named in every one, with four sides, a diagonal and four right angles.
pub(crate) const ODDS: f64 = 20.0;
/// A tape that is worn, stretched or broken off at its end is out by no more than this part of a length (judgement). If all lengths
/// differ by more and no mistaken unit explains it, it is the walk that is out. No evidence measured.
pub(crate) const STRETCHED_SHARE: f64 = 0.05;
/// How large a misreading would go unnoticed is told from this part of the taped length on. No evidence measured.
pub(crate) const UNSEEN_SHARE: f64 = 0.05;
/// Where a misreading of more than this part of a line would go unnoticed, the walk can't tell one corner from the next, and nothing shows
/// that the letters stand at the right corners, unless the tapes leave less than [`FIXED_SHARE`] of the area's error. Of 180 walks whose
/// letters were trusted none came out wrong by more than three sigmas without a flag; 56 of 60 by RTK, 38 by differential and 14 by
/// autonomous receivers came out right without one.
pub(crate) const UNNOTICED_SHARE: f64 = 0.5;
/// Tapes that leave less than this part of the area's error fix the figure by themselves, whichever letters they stand at.
pub(crate) const FIXED_SHARE: f64 = 0.3;
/// A walk that can't tell a bulge of a side smaller than this from none, metres, is a poor one. A side that was taped as straight is then
/// drawn as walked where it bends by more than the walk's error explains ([`BENT_TOLERANCES`]), unless the sheet says that it is straight.
/// No evidence measured.
pub(crate) const ROUGH_M: f64 = 0.25;
/// How many tolerances of three sigmas a side must bend by, so five sigmas in all. Of ten places along a side one lies beyond that about
/// once in two thousand sides, where the errors at the places are independent (a normal error against a chord whose ends err too: 1.22
/// sigmas).
pub(crate) const BENT_TOLERANCES: f64 = 5.0 / 3.0;
/// A further line is worth taping, and stands on the check sheet, where it takes at least this share off the area's variance. No evidence
/// measured.
pub(crate) const WORTH_TAPING_SHARE: f64 = 0.05;
/// A remedy for a drift that would go unnoticed (a second lap, or taping the lines of the check sheet) is named only where the drift that
/// would still go unnoticed then moves the area by less than this part of what it does now. No evidence measured.
pub(crate) const REMEDY_SHARE: f64 = 0.9;
