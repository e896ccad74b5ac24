//! What is told of an order. No evidence was measured of these.

/// The chance at which the order's allowance is weighed against [`super::SPARE_TURF_SHARE`], however little the order is asked to cover: above that,
/// measure better before ordering.
pub(crate) const USUAL_CHANCE: f64 = 0.95;
/// Heaviest load of a tail-lift as carriers usually state it, kg. Common practice, no source fixes it.
pub(crate) const TAIL_LIFT_KG: f64 = 1000.0;
/// Lifted by one person without a second thought: the lifting equation's 23 kg load constant (NIOSH, 1994: 51 lb).
pub(crate) const LIFT_KG: f64 = 23.0;
/// Lawns of one job that lie further apart than this, metres, are told: across the largest parks and courses, so that what lies further is another address
/// (common sense, no source).
pub(crate) const ONE_ADDRESS_M: f64 = 5000.0;
