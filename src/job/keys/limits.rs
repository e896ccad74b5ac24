//! The range in which a number of a sheet must lie, and how messages say it.

use std::fmt;

/// A range of numbers. Numbers that are not finite never lie in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    low: f64,
    low_allowed: bool,
    high: f64,
    /// 0 as well, though it lies below `low`.
    or_zero: bool,
}

impl Limits {
    /// Any finite number.
    pub(crate) const ANY: Limits = Limits {
        low: f64::NEG_INFINITY,
        low_allowed: true,
        high: f64::INFINITY,
        or_zero: false,
    };
    /// Above 0.
    pub(crate) const POSITIVE: Limits = Limits {
        low: 0.0,
        low_allowed: false,
        high: f64::INFINITY,
        or_zero: false,
    };
    /// 0 or more.
    pub(crate) const NOT_NEGATIVE: Limits = Limits {
        low: 0.0,
        low_allowed: true,
        high: f64::INFINITY,
        or_zero: false,
    };
    /// From `low` to `high`, both allowed.
    pub(crate) const fn between(low: f64, high: f64) -> Limits {
        Limits {
            low,
            low_allowed: true,
            high,
            or_zero: false,
        }
    }
    /// Percent, none or up to `high`: what lies between 0 and 1 is a part of one, written where percent are asked for (0.19 for 19).
    pub(crate) const fn percent(high: f64) -> Limits {
        Limits {
            or_zero: true,
            ..Limits::between(1.0, high)
        }
    }
    /// The same, and at most `high`.
    pub(crate) const fn up_to(self, high: f64) -> Limits {
        Limits { high, ..self }
    }
    pub(super) fn allow(&self, value: f64) -> bool {
        value.is_finite()
            && value <= self.high
            && (value > self.low
                || (self.low_allowed && value >= self.low)
                || (self.or_zero && value == 0.0))
    }
}

impl fmt::Display for Limits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.or_zero {
            return write!(f, "0, or percent from {} to {}", self.low, self.high);
        }
        match (
            self.low.is_finite(),
            self.low_allowed,
            self.high.is_finite(),
        ) {
            (false, _, false) => write!(f, "a plain number"),
            (false, _, true) => write!(f, "{} or less", self.high),
            (true, true, false) => write!(f, "{} or more", self.low),
            (true, false, false) => write!(f, "more than {}", self.low),
            (true, true, true) => write!(f, "from {} to {}", self.low, self.high),
            (true, false, true) => write!(f, "more than {} and at most {}", self.low, self.high),
        }
    }
}
