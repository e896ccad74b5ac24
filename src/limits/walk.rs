//! What is told of a walk, or stands against it.

/// Stretches without a fix on the edge.
///
/// Of all limits on gaps together: 24 % of drawn walks by RTK that have gaps are flagged (38 % before), half of them because a corner may hide where the
/// walk does not show it. None of the clean walks is flagged, as these have no gaps. Of 1260 gaps laid round a corner none moved the area past its band
/// without a word.
pub(crate) mod gap {
    /// A gap is told where more may hide in it than so many bands, and more than the spare that is ordered anyway. Cost: above. No other value measured.
    pub(crate) const HIDES_BANDS: f64 = 0.3;
    /// And where all gaps together make more than this part of the area's variance: the band allows for them, and that they are the better part of it is
    /// what is worth a word. Cost: above.
    pub(crate) const OF_VARIANCE_SHARE: f64 = 0.5;
    /// A gap in which so much of the edge would be walked is told whatever the band is: even how often the walk goes round is not sure. No evidence measured.
    pub(crate) const OF_EDGE_SHARE: f64 = 0.25;
}

/// Positions lost beside the laps, where they may have taken a part of the edge.
///
/// None of the clean walks is flagged. Of 1260 walks whose fixes were lost for a while one was off by more than its band without a word.
pub(crate) mod lost {
    /// Part of the time of a lap: nobody would call it a corner cut. No evidence measured.
    pub(crate) const OF_LAP_SHARE: f64 = 0.08;
    /// Part of the way that is not in the laps from which a loss counts, however much could have been gone round in it. No evidence measured.
    pub(crate) const BESIDE_SHARE: f64 = 0.15;
    /// Where less was walked beside the laps: so long a part of a lap. A round piece of [`super::super::SPARE_TURF_SHARE`] of the lawn has an edge
    /// that is so long for the lawn's. No evidence measured.
    pub(crate) const GOES_ROUND_SHARE: f64 = 0.22;
}

/// Positions taken for frozen, for spikes, or for those of a second receiver.
///
/// Of the clean walks 12 are flagged for stretches off the walk, 5 of these for nothing else, and none as frozen. Of 1260 frozen stretches none moved the
/// area past its band without a word, nor did any of 1260 pairs of engines woven into one log.
pub(crate) mod cleaning {
    /// A position held for longer is stuck, wherever it goes on, seconds. No evidence measured.
    pub(crate) const STUCK_S: f64 = 15.0;
    /// Who goes on from no further than this part of the way he would have walked meanwhile has stood. No evidence measured.
    pub(crate) const STOOD_SHARE: f64 = 0.25;
    /// So many fixes alike to the last digit, of a receiver whose single steps are as unsteady as [`ALIVE_M`], are no pause: then a step as long as
    /// hurrying and noise allow ([`HURRY_PACES`], [`HURRY_SIGMAS`]) is enough of a sign that it caught up. No evidence measured.
    pub(crate) const HELD_FIXES: usize = 4;
    pub(crate) const ALIVE_M: f64 = 0.03;
    pub(crate) const HURRY_PACES: f64 = 1.5;
    /// Of the unsteadiness of single steps.
    pub(crate) const HURRY_SIGMAS: f64 = 3.0;
    /// An excursion that is longer is doubtful rather than a spike, seconds. No evidence measured.
    pub(crate) const SPIKE_S: f64 = 4.0;
    /// Part of one walk's fixes from which a second stream is more than stray ones. No evidence measured.
    pub(crate) const STREAM_SHARE: f64 = 0.2;
    /// Every other fix lies aside by so many times what chance does to the mean. Cost: one walk in 10⁶, by the normal distribution.
    pub(crate) const ALTERNATE_SIGMAS: f64 = 5.3;
    /// Of fewer fixes nothing of the kind is said.
    pub(crate) const ALTERNATE_FIXES: usize = 20;
}

/// Steps at which the position moved and not the walker.
///
/// Of the clean walks 80 are flagged, 71 of these for nothing else. Of 1260 shifts of 1 to 30 m one moved the area past its band and was not told, of as
/// many single fixes thrown aside none. At one fix a second 3 to 6 % of clean walks by RTK and SBAS were flagged (an earlier method), as two corners within three steps look
/// like a jump.
pub(crate) mod jump {
    /// Jumps that may be steps of the walker are told where together they move the area by so many bands. No evidence measured.
    pub(crate) const MOVES_BANDS: f64 = 0.2;
    /// A step is doubted from this logarithm of the odds on, weighed by the bands that a jump there moves the area by. No other value measured.
    pub(crate) const DOUBTED_LOG: f64 = 5.0;
    /// Or where its strain times those bands comes to so much. No other value measured.
    pub(crate) const STRAINED_BANDS: f64 = 0.85;
    /// What moves the area by less needs no doubt.
    pub(crate) const LEAST_BANDS: f64 = 0.55;
    /// The more it moves the less it takes, up to so many bands, by this power of them. No evidence measured.
    pub(crate) const MOST_BANDS: f64 = 2.0;
    pub(crate) const WEIGHED_POWER: f64 = 0.3;
    /// The most that other laps say for a jump. No evidence measured.
    pub(crate) const LAPS_SAY_LOG: f64 = 6.0;
    /// How much a strain of 1 says for a jump. Noise passes it once in 25 000 steps, which would make it ten; jumps are rare.
    pub(crate) const STRAIN_LOG: f64 = 7.0;
    /// The most that a strain weighs: past what noise explains it only says that the walker did something, and how far says no more.
    pub(crate) const MOST_STRAIN: f64 = 1.2;
    /// A jump so near to a lap in time, seconds, or within half a lap, decides where the lap seems to close.
    pub(crate) const NEAR_LAP_S: f64 = 15.0;
    /// A step tells nothing that strains less than this, and is no likelier than [`ODD_LOG`] to be one where the position moved.
    pub(crate) const ODD_STRAIN: f64 = 0.4;
    pub(crate) const ODD_LOG: f64 = 1.5;
    /// A jump matters that is no smaller than so many sigmas of the receiver. No evidence measured.
    pub(crate) const MATTERS_SIGMAS: f64 = 0.7;
    /// What noise does to a step at the most, in the unsteadiness of single ones, or in what the receiver wanders meanwhile. Cost: once in 25 000 steps, by
    /// the normal distribution of two dimensions.
    pub(crate) const NOISE_SIGMAS: f64 = 4.5;
    /// The same as a multiple of what one step in ten is off. No evidence measured.
    pub(crate) const NOISE_OF_USUAL: f64 = 2.8;
}

/// How far the position drifts through a walk without the receiver's word.
///
/// Of the clean walks 42 are flagged for their ends, 39 of these for nothing else, and none for laps that drift. Of 3024 other walks without a blunder
/// (`--walks 6 --first 900000000`, method 10) all of it flags 9 that nothing else flagged (0.3 %; of one lap 0.8 %). Of drifts that move the laps by more
/// than 1.3 bands it leaves silent, by RTK fixed, float and SBAS: 7, 16 and 19 % with one lap, 0.1, 1.0 and 1.0 % with two or three.
pub(crate) mod drift {
    /// From when on a distance is a drift, in sigmas of the difference of two positions. On simulated walks of two and three laps 2.6 flag 2 in 1000 by RTK
    /// float and 3 by SBAS that were not flagged before, and leave 2 to 5 % and 11 to 14 % of the drifts silent; 2.8 flag none, and leave one in a hundred
    /// more.
    pub(crate) const LAPS_SIGMAS: f64 = 2.6;
    /// Of one lap 2.9, with the hand and the step below, flag 1 to 3 in 100 and leave 10 % of the drifts by RTK fixed silent, 23 to 27 % by float and 36 to
    /// 39 % by SBAS; most of those run along the first side, which looks like walking on past the start. On another sample (`--laps 1 --walks 20 --first
    /// 985000000 --blunders`) 8.5 % are silent by RTK fixed and 19.7 % by float; with half the hand and two thirds of the step 5.3 and 18.8 %, and every
    /// thirteenth honest single lap by RTK fixed is flagged besides; with 2.3 sigmas as well 5.2 and 18.2 %.
    pub(crate) const ENDS_SIGMAS: f64 = 2.9;
    /// What the hand and the pole add to that between laps, metres.
    pub(crate) const LAPS_HAND_M: f64 = 0.3;
    /// The same between two ends at which nobody steps on one spot, metres; and between fixes a part of a step.
    pub(crate) const ENDS_HAND_M: f64 = 0.45;
    pub(crate) const ENDS_OF_STEP: f64 = 0.45;
    /// Where that is further than this part of how far the ends are looked for each other, they tell nothing.
    pub(crate) const ENDS_OF_REACH: f64 = 0.4;
    /// A drift is told where it may move the area by so many bands. Half of one would not be seen in the area, but a drift need not have come evenly.
    pub(crate) const MOVES_BANDS: f64 = 0.5;
    /// How many times more than is usual of its kind a receiver must be believed to err for that to be told. One of the clean
    /// walks is flagged, and not for this alone. Of 242 drifts through laps of the size that
    /// this is said to tell four times in five, 212 were told (88 %), of those half as large 89.
    pub(crate) const RECEIVER_ERRS_TIMES: f64 = 2.0;
}

/// Laps that do not agree with each other.
///
/// Of the clean walks 87 are flagged as differing in area or length, 76 of these for nothing else, and 11 as lying apart (5). Of 118 shifts within one of
/// two laps, of the size that is said to be told four times in five, 114 were told.
pub(crate) mod laps {
    /// How far the areas of laps may differ before that is told: so many sigmas of the hand, which does not hold quite the same edge on each lap, and so
    /// many of the rest. Two laps differ with about twice the sigma of their mean. No other value measured.
    pub(crate) const DIFFER_HAND_SIGMAS: f64 = 4.0;
    pub(crate) const DIFFER_NOISE_SIGMAS: f64 = 4.0;
    /// Laps of one edge differ in length by less than this part of the longest, or than so many sigmas of the receiver, which turns a small lawn's edge about.
    /// Tried on simulated walks (`tests/edge_length.rs`); how many are flagged is not counted there.
    pub(crate) const SHORTER_SHARE: f64 = 0.25;
    pub(crate) const SHORTER_SIGMAS: f64 = 6.0;
    /// Middles of laps that are further apart than this part of the edge's length are not of one place: three eighths of the width of a round lawn. Told,
    /// and what lies so near to the laps and holds about as much is one of them that a jump shifted. Catches parts of one lap that are taken for laps,
    /// which halve the lawn: how many is not counted.
    pub(crate) const APART_EDGE_SHARE: f64 = 0.12;
    /// On a small lawn: than so many sigmas. No evidence measured.
    pub(crate) const APART_SIGMAS: f64 = 2.5;
    /// A lap is taken apart or left out only where it differs by more than this part of the rest: small lawns and poor receivers differ by less, and the
    /// band says so.
    pub(crate) const ODD_SHARE: f64 = 0.10;
    /// Laps that scatter by more than this part of what they hold do not agree, however evenly they scatter: a spiral is no lawn. Of 120 spirals 2 come out
    /// without a word, 51 with one and 67 give no area.
    pub(crate) const SCATTER_SHARE: f64 = 0.25;
    /// How far noise puts the area of one lap from another's, in sigmas times metres of the edge. An error that keeps for an eighth of
    /// a lap does most, half a sigma times the edge; one that keeps longer shifts the whole lap, one that changes sooner averages out.
    /// Three and a half of that, of two laps.
    pub(crate) const ODD_SIGMAS: f64 = 2.5;
    /// How far the hand does, metres: four times its two centimetres.
    pub(crate) const ODD_HAND_M: f64 = 0.08;
}

/// Way that is not in the laps found.
///
/// Of the clean walks 58 are flagged because most of the way is not in the laps, 52 of these for nothing else, and 3 to 11 because another lap may be. What
/// they catch has not been counted.
pub(crate) mod left_out {
    /// Turns about the inside from which it is suspiciously like another lap. No evidence measured.
    pub(crate) const TURNS: f64 = 0.45;
    /// The same beside two laps that were found and agree: they are the lawn, whatever became of a third. No evidence measured.
    pub(crate) const TURNS_BESIDE_LAPS: f64 = 1.2;
    /// Part of the whole way from which it is doubtful that the laps are the lawn. Cost: above, 0.6 %.
    pub(crate) const OF_WAY_SHARE: f64 = 0.55;
}

/// How far the ends of a lap may lie from each other.
///
/// Of the clean walks 10 are flagged, 7 of these for nothing else; what is caught is counted with the blunders as a whole.
pub(crate) mod closing {
    /// How far the receiver's error puts them apart, in sigmas of the distance of two positions. Cost: independent errors pass it once in 170 laps.
    pub(crate) const NOISE_SIGMAS: f64 = 3.2;
    /// Further than that by so much is told whichever way it lies, metres: stopping a pace short or past the start is neither. No evidence measured.
    pub(crate) const GAPES_M: f64 = 1.2;
    /// Further than that by so much is told where stopping short of the start or walking past it does not explain it, or where the surveyor stood at both,
    /// metres. No evidence measured.
    pub(crate) const STRAYS_M: f64 = 0.4;
    /// A closing line of so much of the edge closes nothing: no area. No evidence measured.
    pub(crate) const OF_EDGE_SHARE: f64 = 0.25;
    /// The log ends with the start straight ahead where that is no further to either side than this part of the way there: then he stopped early. It
    /// chooses between two notices and tells no more or less.
    pub(crate) const AHEAD_SHARE: f64 = 0.25;
}

/// What is walked round the other way, or twice.
///
/// Of the clean walks 3 are flagged, one of these for nothing else; here or by [`round::BACK_SHARE`].
pub(crate) mod crossing {
    /// Told from this part of the area on, or of the band, whichever is more. No evidence measured.
    pub(crate) const OF_AREA_SHARE: f64 = 0.02;
    pub(crate) const BACK_BANDS: f64 = 0.25;
    pub(crate) const TWICE_BANDS: f64 = 0.16;
}

/// Whether the way walked can be a lawn's edge. Of pairs the first is told and from the second on no area is given.
///
/// What each catches is counted of invented ways in `docs/accuracy.md` ("What is no walk round a lawn"), with the numbers below. Of 1800 small lawns (30
/// and 60 m²) one is refused as open. Of the clean walks 19 are flagged for another round, 9 of these for nothing else, none for going to and fro or
/// elsewhere.
pub(crate) mod round {
    /// A closing line longer than this part of the edge, or than so many metres, noise aside, is no closing: nobody stops so far short
    /// of where he set out.
    pub(crate) const OPEN_SHARE: f64 = 0.10;
    pub(crate) const OPEN_M: f64 = 15.0;
    /// Straight lines across gaps and the closing together, as a part of the edge.
    pub(crate) const UNSEEN_SHARE: f64 = 0.25;
    /// What is walked round the other way, as a part of what is walked round: told, and from where it is a figure of eight. Of 240 with lobes about alike 1
    /// comes out without a word and 231 give no area; of 240 with one lobe a quarter of the other 4 come out without a word.
    pub(crate) const BACK_SHARE: (f64, f64) = (0.04, 0.5);
    /// Square metres of loops that the receiver's error makes, in sigmas squared.
    pub(crate) const LOOPS_SIGMAS2: f64 = 8.0;
    /// Another place that the walk comes round, as a part of the lawn or of its way: told, and from where nobody can say which is meant.
    pub(crate) const OTHER_SHARE: (f64, f64) = (0.1, 0.5);
    /// Part of such a round that lies within the lawn where it is the way to beds, no other place: the ends are at the edge, within its error
    /// to either side. No evidence measured.
    pub(crate) const WITHIN_SHARE: f64 = 0.75;
    /// A stretch beside the laps that is shorter than this part of a lap is no round worth a word.
    pub(crate) const OTHER_LAP_SHARE: f64 = 0.2;
    /// Part of a lap walked back beside itself: told, and from where it is a path and not an edge. Of 120 ways out and back none comes out without a word
    /// and 110 give no area.
    pub(crate) const BESIDE_SHARE: (f64, f64) = (0.3, 0.6);
    /// How near that is, as a part of the lap's length (a verge 1 m wide and 100 m long is not), and within [`NEAR_SIGMAS`] as a larger one: a strip twenty
    /// times as long as wide, one and a half metres wide, is not either.
    pub(crate) const NEAR_SHARE: (f64, f64) = (1.0 / 200.0, 1.0 / 80.0);
    pub(crate) const NEAR_SIGMAS: f64 = 2.5;
    /// Length of a lap by the length of a line stretched round it: told, and from where it is mowing and not an edge. A star of
    /// five points comes to 1.4, a comb of as many teeth as it is long to 3. Of 120 mowings 1 comes out without a word and 98 give no area.
    pub(crate) const TO_AND_FRO: (f64, f64) = (2.2, 4.0);
    /// Way beside the laps, metres, that is a way from somewhere else and not from the gate, and as a part of the whole: told, and
    /// from where the lap is an accident of a longer path. Of 120 roads with eight laps of a track none gives an area.
    pub(crate) const AWAY_M: f64 = 300.0;
    pub(crate) const AWAY_SHARE: (f64, f64) = (0.25, 0.55);
}

/// Whether the walker got anywhere, by windows of time: else nothing was walked, and there is no area.
pub(crate) mod still {
    /// At a stroll within seconds, metres a second. No evidence measured.
    pub(crate) const STROLL_M_S: f64 = 0.25;
    /// Or, however slowly, by so many times what the receiver wanders meanwhile, and at the least so many metres in half a minute. No evidence measured.
    pub(crate) const WANDERINGS: f64 = 2.0;
    pub(crate) const GETS_ON_M: f64 = 3.0;
    /// Parts of the windows in which one who walks gets on. A receiver that stands and errs as it claims wanders so far in one of seven.
    pub(crate) const OF_SHORT_SHARE: f64 = 0.2;
    pub(crate) const OF_LONG_SHARE: f64 = 0.5;
}

/// A corner of the sheet that is further from every edge than this and three sigmas of the receiver is not one of its corners, metres: it is not found, and
/// that is told. No evidence measured.
pub(crate) const CORNER_OFF_M: f64 = 3.0;

/// Heights and slopes.
pub(crate) mod slope {
    /// Slopes further apart than this are not one slope measured twice: sigmas of their difference, and percent. No evidence measured.
    pub(crate) const APART_SIGMAS: f64 = 3.0;
    pub(crate) const APART_PERCENT: f64 = 1.0;
    /// The error of ground over plan that a slope may bring in at most; more, and the plan alone is nearer the truth: no slope is taken, and that is told.
    /// By RTK it is taken as a rule, by others seldom.
    pub(crate) const WORST_FACTOR: f64 = 0.005;
}
