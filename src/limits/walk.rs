//! From when on something is told of a walk, its area is flagged, or no area is given. A *lap* is one round of the edge; *sigma* is the
//! standard deviation of a position; the *band* is the area's 95 % band.

/// Stretches without a fix on the edge.
///
/// Of all limits on gaps together: 24 % of drawn walks by RTK that have gaps are flagged, half of them because a corner may hide where the
/// walk does not show it. None of the clean walks is flagged, as these have no gaps. Of 1260 gaps laid round a corner none moved the area
/// past its band without a word.
pub(crate) mod gap {
    /// A gap is told where more area may hide in it than this many bands, and more than the spare turf that is ordered anyway. Cost: above.
    /// No other value measured.
    pub(crate) const HIDES_BANDS: f64 = 0.3;
    /// And only where all gaps together make more than this part of the area's variance. The band allows for gaps; what is told is that
    /// they are most of it. Cost: above.
    pub(crate) const OF_VARIANCE_SHARE: f64 = 0.5;
    /// A gap in which this part of the edge could be walked is told whatever the band is, as even how often the walk goes round is then not
    /// sure. No evidence measured.
    pub(crate) const OF_EDGE_SHARE: f64 = 0.25;
}

/// Positions lost beside the laps, where they may have taken a part of the edge.
///
/// None of the clean walks is flagged. Of 1260 walks whose fixes were lost for a while one was off by more than its band without a word.
pub(crate) mod lost {
    /// A loss that lasts this part of the time of a lap takes more than a corner off the edge. No evidence measured.
    pub(crate) const OF_LAP_SHARE: f64 = 0.08;
    /// Part of the way that is not in the laps from which a loss counts, however much could have been gone round in it. No evidence measured.
    pub(crate) const BESIDE_SHARE: f64 = 0.15;
    /// Where less was walked beside the laps, a loss counts in which this part of a lap could be walked: a round piece of
    /// [`super::super::SPARE_TURF_SHARE`] of a round lawn has an edge of this part of the lawn's. No evidence measured.
    pub(crate) const GOES_ROUND_SHARE: f64 = 0.22;
}

/// Positions that are taken for frozen (the receiver repeats the last one), for spikes (a short excursion and back), or for those of a
/// second receiver.
///
/// Of the clean walks 12 are flagged for stretches off the walk, 5 of these for nothing else, and none as frozen. Of 1260 frozen stretches none moved the
/// area past its band without a word, nor did any of 1260 pairs of engines woven into one log.
pub(crate) mod cleaning {
    /// A position held for longer is stuck, wherever it goes on, seconds. No evidence measured.
    pub(crate) const STUCK_S: f64 = 15.0;
    /// A walker stood, and the position was not frozen, where it goes on no further away than this part of what he would have walked
    /// meanwhile. No evidence measured.
    pub(crate) const STOOD_SHARE: f64 = 0.25;
    /// Of a receiver whose single steps are at least as unsteady as [`ALIVE_M`], this many fixes alike to the last digit are no pause of
    /// the walker. A step after them that is as long as hurrying and noise allow ([`HURRY_PACES`], [`HURRY_SIGMAS`]) is then sign enough
    /// that the receiver was stuck and caught up. No evidence measured.
    pub(crate) const HELD_FIXES: usize = 4;
    pub(crate) const ALIVE_M: f64 = 0.03;
    pub(crate) const HURRY_PACES: f64 = 1.5;
    /// Counted in the unsteadiness of single steps.
    pub(crate) const HURRY_SIGMAS: f64 = 3.0;
    /// The longest spike, seconds: an excursion that lasts longer may be real, so that it makes the walk doubtful. No evidence measured.
    pub(crate) const SPIKE_S: f64 = 4.0;
    /// From this part of one walk's fixes on, those that lie aside are a second receiver's, and not stray ones. No evidence measured.
    pub(crate) const STREAM_SHARE: f64 = 0.2;
    /// Two receivers are woven into one log where every other fix lies aside, on average, by this many sigmas of that average. Cost: one
    /// walk in 10⁶, by the normal distribution.
    pub(crate) const ALTERNATE_SIGMAS: f64 = 5.3;
    /// The fewest fixes of which that is judged.
    pub(crate) const ALTERNATE_FIXES: usize = 20;
}

/// Jumps: steps from one fix to the next at which the position moved and the walker did not.
///
/// The *strain* of a step is how far it ends from where the way before and after it leads, as a part of what a walker and noise explain at
/// most; from 1 on it is a jump. The *logarithm of the odds* is how much likelier the step is if the position jumped than if the walker
/// made it.
///
/// Of the clean walks 80 are flagged, 71 of these for nothing else. Of 1260 shifts of 1 to 30 m one moved the area past its band and was not told, of as
/// many single fixes thrown aside none. At one fix a second 3 to 6 % of clean walks by RTK and SBAS were flagged (by an earlier method), as
/// two corners within three steps look like a jump.
pub(crate) mod jump {
    /// Jumps that may be steps of the walker are told where together they move the area by this many bands. No evidence measured.
    pub(crate) const MOVES_BANDS: f64 = 0.2;
    /// A step is doubted from this logarithm of the odds on, which is weighed by how many bands a jump there moves the area
    /// ([`WEIGHED_POWER`]). No other value measured.
    pub(crate) const DOUBTED_LOG: f64 = 5.0;
    /// A step is also doubted where its strain times those bands comes to this much. No other value measured.
    pub(crate) const STRAINED_BANDS: f64 = 0.85;
    /// A step that moves the area by fewer bands than this is not doubted.
    pub(crate) const LEAST_BANDS: f64 = 0.55;
    /// The more a jump moves the area, the lower the odds that are enough to doubt it: they are multiplied by this power of the bands that
    /// it moves, up to so many bands. No evidence measured.
    pub(crate) const MOST_BANDS: f64 = 2.0;
    pub(crate) const WEIGHED_POWER: f64 = 0.3;
    /// The most that a comparison with other laps adds to the logarithm of the odds. No evidence measured.
    pub(crate) const LAPS_SAY_LOG: f64 = 6.0;
    /// How much a strain of 1 says for a jump, as a logarithm of odds. Noise passes it once in 25 000 steps, of which the logarithm is ten;
    /// it is set lower as jumps are rare.
    pub(crate) const STRAIN_LOG: f64 = 7.0;
    /// The most that a strain counts as. Past what noise explains, a larger one does not say any better whether the walker or the position
    /// moved.
    pub(crate) const MOST_STRAIN: f64 = 1.2;
    /// A jump so near to a lap in time, seconds, or within half a lap, decides where the lap seems to close.
    pub(crate) const NEAR_LAP_S: f64 = 15.0;
    /// A step is looked at no further where its strain is less than this and the logarithm of its odds less than [`ODD_LOG`].
    pub(crate) const ODD_STRAIN: f64 = 0.4;
    pub(crate) const ODD_LOG: f64 = 1.5;
    /// A jump matters from this many sigmas of the receiver on. No evidence measured.
    pub(crate) const MATTERS_SIGMAS: f64 = 0.7;
    /// How far noise moves a step at the most, as a multiple of the unsteadiness of single steps, or of how far the receiver wanders
    /// meanwhile. Cost: once in 25 000 steps, by the normal distribution of two dimensions.
    pub(crate) const NOISE_SIGMAS: f64 = 4.5;
    /// The same bound as a multiple of how far off one step in ten is. The smaller of the two bounds counts. No evidence measured.
    pub(crate) const NOISE_OF_USUAL: f64 = 2.8;
}

/// Drifts: the position moves away slowly through a walk, by more than the receiver claims to err.
///
/// Of the clean walks 42 are flagged for their ends, 39 of these for nothing else, and none for laps that drift. Of 3024 other walks without a blunder
/// (`--walks 6 --first 900000000`, method 10) all of it flags 9 that nothing else flagged (0.3 %; of one lap 0.8 %). Of drifts that move the laps by more
/// than 1.3 bands it leaves silent, by RTK fixed, float and SBAS: 7, 16 and 19 % with one lap, 0.1, 1.0 and 1.0 % with two or three.
pub(crate) mod drift {
    /// From when on a distance between laps is a drift, in sigmas of the difference of two positions. On simulated walks of two and three
    /// laps 2.6 flag 2 in 1000 by RTK float and 3 by SBAS that nothing else flags, and leave 2 to 5 % and 11 to 14 % of the drifts silent;
    /// 2.8 flag none, and leave one in a hundred more.
    pub(crate) const LAPS_SIGMAS: f64 = 2.6;
    /// The same between the two ends of a single lap. 2.9, with the hand and the step below, flag 1 to 3 in 100 and leave 10 % of the
    /// drifts by RTK fixed silent, 23 to 27 % by float and 36 to 39 % by SBAS; most of those run along the first side, which looks like
    /// walking on past the start. On another sample (`--laps 1 --walks 20 --first
    /// 985000000 --blunders`) 8.5 % are silent by RTK fixed and 19.7 % by float; with half the hand and two thirds of the step 5.3 and 18.8 %, and every
    /// thirteenth honest single lap by RTK fixed is flagged besides; with 2.3 sigmas as well 5.2 and 18.2 %.
    pub(crate) const ENDS_SIGMAS: f64 = 2.9;
    /// How far the hand and the pole put two laps apart on top of that, metres.
    pub(crate) const LAPS_HAND_M: f64 = 0.3;
    /// The same between the two ends of a lap, where nobody stops on the very spot that he set out from, metres; and on top of it a part of
    /// the step from one fix to the next.
    pub(crate) const ENDS_HAND_M: f64 = 0.45;
    pub(crate) const ENDS_OF_STEP: f64 = 0.45;
    /// Where all that comes to more than this part of the distance within which the ends of a lap are looked for, the ends tell nothing.
    pub(crate) const ENDS_OF_REACH: f64 = 0.4;
    /// A drift is told where it may move the area by this many bands. Half a band would not be seen in the area, but the drift may have
    /// come unevenly and move it further.
    pub(crate) const MOVES_BANDS: f64 = 0.5;
    /// How many times more than is usual of its class a receiver must be believed to err for that to be told. One of the clean
    /// walks is flagged, and not for this alone. Of 242 drifts through laps of the size that
    /// this is said to tell four times in five, 212 were told (88 %), of those half as large 89.
    pub(crate) const RECEIVER_ERRS_TIMES: f64 = 2.0;
}

/// Laps that do not agree with each other.
///
/// Of the clean walks 87 are flagged as differing in area or length, 76 of these for nothing else, and 11 as lying apart (5). Of 118 shifts within one of
/// two laps, of the size that is said to be told four times in five, 114 were told.
pub(crate) mod laps {
    /// How far the areas of laps may differ before that is told: this many sigmas of the hand, which does not hold quite the same edge on
    /// each lap, and as many as the next limit says of all other errors. Two laps differ with about twice the sigma of their mean. No other
    /// value measured.
    pub(crate) const DIFFER_HAND_SIGMAS: f64 = 4.0;
    pub(crate) const DIFFER_NOISE_SIGMAS: f64 = 4.0;
    /// The same where laps go one way round and the other. One lap of a lawn that is bent about a house looks so too where its width is lost in the
    /// noise, and holds half of what such laps do. Of 80 such lawns, 3 m wide and more, by differential and autonomous receivers 8 came out more than a
    /// band off without a word where 4 was the limit, none now. It costs flags: of lawns walked a lap each way under receivers that err as real ones
    /// do, 3 in 100 by an autonomous receiver that were `ok` with 4, 1 in 100 by RTK float, none by RTK fixed.
    pub(crate) const DIFFER_BACK_SIGMAS: f64 = 1.5;
    /// Laps of one edge differ in length by less than this part of the longest, or than this many sigmas of the receiver, whose error may
    /// bend a small lawn's edge to and fro. Tried on simulated walks (`tests/edge_length.rs`); how many are flagged is not counted there.
    pub(crate) const SHORTER_SHARE: f64 = 0.25;
    pub(crate) const SHORTER_SIGMAS: f64 = 6.0;
    /// Laps whose middles are further apart than this part of the edge's length (three eighths of the width of a round lawn) are not of one
    /// place, and that is told. What lies nearer to the laps and holds about as much area is one of them that a jump shifted. This catches
    /// parts of one lap that are taken for laps, which halve the lawn: how many is not counted.
    pub(crate) const APART_EDGE_SHARE: f64 = 0.12;
    /// On a small lawn they must be further apart than this many sigmas of the receiver. No evidence measured.
    pub(crate) const APART_SIGMAS: f64 = 2.5;
    /// A lap is split or left out only where its area differs from the usual one by more than this part. Laps of small lawns or by poor
    /// receivers may differ by less, and the band allows for that.
    pub(crate) const ODD_SHARE: f64 = 0.10;
    /// A lap whose area differs from the usual one (the median of all laps) by more than this part does not agree with it, however evenly
    /// the laps scatter: a spiral is no lawn. Of 120 spirals 2 come out without a word, 51 with one and 67 give no area.
    pub(crate) const SCATTER_SHARE: f64 = 0.25;
    /// How far noise puts the area of one lap from another's at the most, in sigmas times metres of the edge. An error that stays the same
    /// for an eighth of a lap does most, half a sigma times the edge; one that stays longer shifts the whole lap, one that changes sooner
    /// averages out. This is three and a half times that, for the difference of two laps (a factor of √2).
    pub(crate) const ODD_SIGMAS: f64 = 2.5;
    /// How far the hand puts it, in square metres for each metre of the edge: four times its two centimetres.
    pub(crate) const ODD_HAND_M: f64 = 0.08;
}

/// Parts of the way walked that are in none of the laps found.
///
/// Of the clean walks 58 are flagged because most of the way is not in the laps, 52 of these for nothing else, and 3 to 11 because another lap may be. What
/// they catch has not been counted.
pub(crate) mod left_out {
    /// From this many turns about a place inside the lawn on, such a part may be another lap. No evidence measured.
    pub(crate) const TURNS: f64 = 0.45;
    /// Where two laps were found that agree, they are the lawn, whatever became of a third: up to this many turns are then told only as a
    /// part of a lap that is not used. No evidence measured.
    pub(crate) const TURNS_BESIDE_LAPS: f64 = 1.2;
    /// Part of the whole way from which it is doubtful that the laps are the lawn. Cost: above, 0.6 %.
    pub(crate) const OF_WAY_SHARE: f64 = 0.55;
}

/// How far the ends of a lap may lie from each other.
///
/// Of the clean walks 10 are flagged, 7 of these for nothing else; what is caught is counted with the blunders as a whole.
pub(crate) mod closing {
    /// How far the receiver's error puts the ends apart at the most, in sigmas of one axis of the difference of two positions. Cost:
    /// independent errors pass it once in 170 laps.
    pub(crate) const NOISE_SIGMAS: f64 = 3.2;
    /// Ends that are further apart than that by this much are told in whichever direction they lie, metres: to stop a pace short of the
    /// start or past it is less. No evidence measured.
    pub(crate) const GAPES_M: f64 = 1.2;
    /// Ends that are further apart by this much are told where stopping short of the start or walking past it does not explain it, or where
    /// the surveyor stood still at both ends, metres. No evidence measured.
    pub(crate) const STRAYS_M: f64 = 0.4;
    /// Where the straight line from the end to the start is longer than this part of the edge, the lap is not closed, and no area is given.
    /// No evidence measured.
    pub(crate) const OF_EDGE_SHARE: f64 = 0.25;
    /// The start lies straight ahead of the end of the log where it is no further to either side than this part of the way there: then the
    /// walker stopped early. This only chooses between two notices.
    pub(crate) const AHEAD_SHARE: f64 = 0.25;
}

/// Parts of the area that are walked round the other way (the path crosses itself), or twice.
///
/// Of the clean walks 3 are flagged, one of these for nothing else; here or by [`round::BACK_SHARE`].
pub(crate) mod crossing {
    /// Such a part is told from this part of the area on, or this part of the band, whichever is more. No evidence measured.
    pub(crate) const OF_AREA_SHARE: f64 = 0.02;
    pub(crate) const BACK_BANDS: f64 = 0.25;
    pub(crate) const TWICE_BANDS: f64 = 0.16;
}

/// Whether the way walked can be a lawn's edge. Where a limit is a pair, it is told from the first on, and no area is given from the second
/// on.
///
/// What each catches is counted of invented ways in `docs/accuracy.md` ("What is no walk round a lawn"), with the numbers below. Of 1800 small lawns (30
/// and 60 m²) one is refused as open. Of the clean walks 19 are flagged for another round, 9 of these for nothing else, none for going to and fro or
/// elsewhere.
pub(crate) mod round {
    /// A lap whose ends lie further apart than this part of the edge, or than this many metres, apart from noise, is open: nobody stops so
    /// far short of where he set out.
    pub(crate) const OPEN_SHARE: f64 = 0.10;
    pub(crate) const OPEN_M: f64 = 15.0;
    /// The most of the edge that may be straight lines across gaps and from the end to the start, as a part of it.
    pub(crate) const UNSEEN_SHARE: f64 = 0.25;
    /// Area walked round the other way, as a part of all area walked round: from the second on it is a figure of eight. Of 240 such figures
    /// with lobes about alike 1 comes out without a word and 231 give no area; of 240 with one lobe a quarter of the other 4 come out
    /// without a word.
    pub(crate) const BACK_SHARE: (f64, f64) = (0.04, 0.5);
    /// Area of the small loops that the receiver's error makes by itself, in sigmas squared.
    pub(crate) const LOOPS_SIGMAS2: f64 = 8.0;
    /// Another place that the walk goes round, as a part of the lawn's area. From the second on nobody can say which of the two is meant.
    /// It is also told where the way round it is longer than the second part of the laps' way, and no area is given where it is longer than
    /// all of that.
    pub(crate) const OTHER_SHARE: (f64, f64) = (0.1, 0.5);
    /// Where this part of such a round lies within the lawn, it is the way to beds and no other place. The rest is left for its ends, which
    /// lie on the edge, within the receiver's error to either side. No evidence measured.
    pub(crate) const WITHIN_SHARE: f64 = 0.75;
    /// A stretch beside the laps that is shorter than this part of a lap is no round worth a word.
    pub(crate) const OTHER_LAP_SHARE: f64 = 0.2;
    /// Part of a lap that goes back beside itself: from the second on it is a path walked out and back, and no edge. Of 120 ways out and
    /// back none comes out without a word and 110 give no area.
    pub(crate) const BESIDE_SHARE: (f64, f64) = (0.3, 0.6);
    /// What counts as beside itself: nearer than the first part of the lap's length (which a verge 1 m wide and 100 m long is not), or
    /// nearer than [`NEAR_SIGMAS`] and the second part (which a strip one and a half metres wide and twenty times as long is not).
    pub(crate) const NEAR_SHARE: (f64, f64) = (1.0 / 200.0, 1.0 / 80.0);
    pub(crate) const NEAR_SIGMAS: f64 = 2.5;
    /// Length of a lap divided by the length of a line stretched round it: from the second on it is mowing to and fro, and no edge. A star
    /// of five points comes to 1.4, a comb of as many teeth as it is long to 3. Of 120 mowings 1 comes out without a word and 98 give no
    /// area.
    pub(crate) const TO_AND_FRO: (f64, f64) = (2.2, 4.0);
    /// A way beside the laps that is longer than this, metres, comes from somewhere else than the gate. As a part of the whole way it is
    /// then told, and from the second on the lap is only an accident of a longer path. Of 120 roads with eight laps of a track none gives
    /// an area.
    pub(crate) const AWAY_M: f64 = 300.0;
    pub(crate) const AWAY_SHARE: (f64, f64) = (0.25, 0.55);
}

/// Whether the walker got on at all, judged in windows of time. If not, nothing was walked, and there is no area.
pub(crate) mod still {
    /// Speed at which a walker gets on in a short window of some seconds, metres a second. No evidence measured.
    pub(crate) const STROLL_M_S: f64 = 0.25;
    /// However slowly, a walker gets on who moves by this many times as far as the receiver wanders meanwhile, and by at least so many
    /// metres in half a minute. No evidence measured.
    pub(crate) const WANDERINGS: f64 = 2.0;
    pub(crate) const GETS_ON_M: f64 = 3.0;
    /// Part of the windows in which whoever walks gets on: of windows of 10 s and 30 s, and of windows of a minute. A receiver that stands
    /// and errs as it claims wanders so far in one of seven.
    pub(crate) const OF_SHORT_SHARE: f64 = 0.2;
    pub(crate) const OF_LONG_SHARE: f64 = 0.5;
}

/// A corner that the job sheet places further from every edge than this, metres, and three sigmas of the receiver is none of the lawn's
/// corners: it is not found, and that is told. No evidence measured.
pub(crate) const CORNER_OFF_M: f64 = 3.0;

/// Heights and slopes.
pub(crate) mod slope {
    /// Two slopes that are further apart than this many sigmas of their difference, and than this many percent, are not one slope measured
    /// twice. No evidence measured.
    pub(crate) const APART_SIGMAS: f64 = 3.0;
    pub(crate) const APART_PERCENT: f64 = 1.0;
    /// The largest error that a measured slope may bring into the factor from the plan's area to the ground's. With more, the area on plan
    /// is nearer the truth, so that no slope is taken, and that is told. By RTK it is taken as a rule, by others seldom.
    pub(crate) const WORST_FACTOR: f64 = 0.005;
}
