//! What is told of tapes, and whether they are taken into the adjustment.

/// Significance of the test of a single reading: Baarda's customary 0.1 %. Cost: one reading in a thousand that errs as it is said to. Of 114 tapes misread
/// by the size that this is said to tell four times in five, 108 were told, of those misread by half of it 17.
pub(crate) const SIGNIFICANCE: f64 = 0.001;
/// Chance with which an error of the smallest detectable size is found: the customary 80 %.
pub(crate) const POWER: f64 = 0.80;
/// Significance of the test of the variance factor, two-sided. Cost: one adjustment in twenty whose sigmas are right.
pub(crate) const FACTOR_SIGNIFICANCE: f64 = 0.05;
/// How much likelier than any other the named alternative must be. Of twelve walks each by RTK, differential and autonomous receivers, a side misread by a
/// metre was named in every one, with four sides, a diagonal and four right angles.
pub(crate) const ODDS: f64 = 20.0;
/// A tape that is worn, stretched or broken off at its end is out by no more than this part (judgement); if all lengths
/// differ by more and it is no slip of the unit, it is the walk that is out. No evidence measured.
pub(crate) const STRETCHED_SHARE: f64 = 0.05;
/// An error that nobody would notice is worth saying from this part of the length taped on. No evidence measured.
pub(crate) const UNSEEN_SHARE: f64 = 0.05;
/// A misreading of more than this part of a line that nobody would notice: the walk can't tell one corner from the next, and nothing vouches for the
/// letters, unless the tapes leave less than [`FIXED_SHARE`] of the area's error. Of 180 walks of trusting letters none came out wrong by more than three
/// sigmas without a flag; 56 of 60 by RTK, 38 by differential and 14 by autonomous receivers came out right without one.
pub(crate) const UNNOTICED_SHARE: f64 = 0.5;
/// Tapes that leave less than this part of the area's error fix the figure by themselves, whichever letters they stand at.
pub(crate) const FIXED_SHARE: f64 = 0.3;
/// A walk that can't tell a smaller bulge than this from none, metres, is a poor one: a side that was taped as straight is then drawn as walked where it
/// bends by more than the walk's error explains ([`BENT_TOLERANCES`]), unless the sheet says that it is straight. No evidence measured.
pub(crate) const ROUGH_M: f64 = 0.25;
/// A tolerance is three sigmas; of ten places along a side one lies beyond five about once in two thousand sides, where the
/// error forgets itself between them (a normal error against a chord whose ends err too: 1.22 sigmas).
pub(crate) const BENT_TOLERANCES: f64 = 5.0 / 3.0;
/// A further line on the check sheet must take at least this share off the area's variance. No evidence measured.
pub(crate) const WORTH_TAPING_SHARE: f64 = 0.05;
/// A remedy that leaves more than this part unseen is none. No evidence measured.
pub(crate) const REMEDY_SHARE: f64 = 0.9;
