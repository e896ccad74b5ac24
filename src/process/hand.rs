//! What is believed of hands, poles, tapes and walkers before a log is seen, each one sigma unless it says otherwise. Most are judgements: where a source
//! or a reason is not named, there is none.

/// Speed above which nobody walks an edge, metres a second.
pub(crate) const FASTEST_M_S: f64 = 3.5;
/// Typical speed above which an edge was driven, not walked, metres a second: a walk is 1 to 2, and even a run round a lawn is no faster.
/// Common practice, no source.
pub(crate) const DRIVEN_M_S: f64 = 3.0;

/// How closely the hand held the antenna to the edge, unless it is told: metres, the same all the way round.
pub(crate) const CARRY_SIGMA_M: f64 = 0.02;
/// That figure is itself known to about a fifth: these are possible scales of it, each after its weight. Their weighted mean square is one.
pub(crate) const CARRY_SCALES: [(f64, f64); 3] = [(0.25, 0.745), (0.5, 0.975), (0.25, 1.243)];
/// The same for an edge that was driven, as the time in which that distance is covered, seconds: a driver keeps to the edge, and knows
/// where on the vehicle the antenna is, to about a metre at 3 m/s, and less closely the faster he goes. Common practice, no source.
pub(crate) const DRIVEN_SIGMA_S: f64 = 0.3;

/// How far two passes of one place lie apart because of the hand and the pole, and not of the receiver, metres (sigma of the difference).
pub(crate) const PASSES_APART_M: f64 = 0.05;
/// The same for the two ends of a single lap: nobody stops where he set out to the centimetre.
pub(crate) const ENDS_APART_M: f64 = 0.4;
/// How far two laps lie apart at the most because of the hand, metres, where one lap shows what the other passes in a gap.
pub(crate) const LAPS_APART_M: f64 = 0.1;
/// How far a standing pole sways, or is held out of plumb, metres.
pub(crate) const STANDING_SWAY_M: f64 = 0.03;
/// Sway of a hand or a pole from one node of the edge to the next, metres per axis. Common practice, no source.
pub(crate) const NODE_SWAY_M: f64 = 0.015;
/// How steadily a pole or a hand keeps its height, metres.
pub(crate) const HEIGHT_M: f64 = 0.03;

/// How far a pole wobbles from one fix to the next at the most, metres.
pub(crate) const REACH_WOBBLE_M: f64 = 0.15;

/// Whoever stops short of where he set out, or walks past it, does so by no more than this, metres: a pace, and a second one as a lap may
/// end between two fixes.
pub(crate) const PACES_M: f64 = 1.5;
/// Between two fixes on one straight nobody goes back by more than this, metres: as far as the pole sways.
pub(crate) const STEP_BACK_M: f64 = 0.12;
/// How far a step from one fix to the next may well end from where the way before and after leads: a part of the step, and so many metres
/// on top of it.
pub(crate) const STEP_ASIDE_SHARE: f64 = 0.25;
pub(crate) const STEP_ASIDE_M: f64 = 0.32;
/// A step on one straight that goes on by less than this part of what the walker's pace makes of it is not a long step.
pub(crate) const STALLED_SHARE: f64 = 0.3;
/// The spread of where a step ends: by the walker, as a part of the step, and by the hand and the pole, metres. Both are one sigma, where
/// [`STEP_ASIDE_SHARE`] and [`STEP_ASIDE_M`] are the most.
pub(crate) const STEP_SIGMA_SHARE: f64 = 0.25;
pub(crate) const STEP_SIGMA_M: f64 = 0.2;
/// How much rarer a step is within which the walker rests than one without a rest, as a natural logarithm of the ratio.
pub(crate) const RESTED_LOG: f64 = 3.0;

/// A taped length where the sheet doesn't say, metres: read to a centimetre, with sag, slope and finding the edge
/// (judgement, in line with the 0.05 to 0.09 ft of textbook taping examples).
pub(crate) const TAPE_SIGMA_M: f64 = 0.02;
/// How sure a bed's radius and a path's width are unless told, metres.
pub(crate) const BED_RADIUS_SIGMA_M: f64 = 0.02;
pub(crate) const PATH_WIDTH_SIGMA_M: f64 = 0.02;
/// How closely a corner of the walk is the corner on the ground, metres per axis, over and above the receiver.
pub(crate) const CORNER_SIGMA_M: f64 = 0.03;
/// How far the middle of a side that was taped as straight bulges, metres: a taut line and a kept edge (judgement).
pub(crate) const BULGE_SIGMA_M: f64 = 0.02;
/// How truly a plan puts a corner, metres each way, unless told: two tapes of 0.02 m each, this program's own
/// default, fix it to 0.03 m, and where a soft edge turns is pointed at to about 0.04 m.
pub(crate) const PLAN_SIGMA_M: f64 = 0.05;
/// A corner called square, degrees: a 3-4-5 triangle whose long side is 20 mm off is 0.48 degrees off
/// (5 x 0.02 / (3 x 4) radians).
pub(crate) const SQUARE_SIGMA_DEG: f64 = 0.5;
/// The tape in a triangle taped into a corner, metres.
pub(crate) const TRIANGLE_SIGMA_M: f64 = 0.01;
/// A slope taken with a board, a level and a rule over a few metres, or with a clinometer: a degree or so, in percent. Judgement.
pub(crate) const SLOPE_SIGMA_PERCENT: f64 = 2.0;
