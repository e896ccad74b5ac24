//! From when on something is told of an order of turf and soil. All of these are judgements or common practice: no evidence was measured.

/// The chance at which the order's allowance is weighed against [`super::SPARE_TURF_SHARE`], however little the order is asked to cover: above that,
/// measure better before ordering.
pub(crate) const USUAL_CHANCE: f64 = 0.95;
/// Heaviest load of a tail-lift as carriers usually state it, kg. Common practice, no source fixes it.
pub(crate) const TAIL_LIFT_KG: f64 = 1000.0;
/// The most that one person is taken to lift without a caution, kg: the lifting equation's load constant of 23 kg (NIOSH, 1994: 51 lb).
pub(crate) const LIFT_KG: f64 = 23.0;
/// Lawns of one job that lie further apart than this, metres, are told. The largest parks and golf courses are no wider, so that a lawn
/// further away is at another address (common sense, no source).
pub(crate) const ONE_ADDRESS_M: f64 = 5000.0;
