//! What comes out when lengths and angles read from a tape are compared with a walk, or with each other: whether they fit, and which
//! do not. These are values; the words for them are in `sheet/say`.

/// A reading that does not fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Misread {
    /// What was read, such as `A-B` (a length), `square at C` (a right angle) or `D from A-B` (an offset from a line).
    pub line: String,
    /// How much too long, or too wide an angle, it was read, in `unit`.
    pub by: f64,
    /// `m`, or `deg` for an angle.
    pub unit: &'static str,
    /// The usual slip that would explain it, if there is one.
    pub slip: Option<&'static str>,
}

/// What was found of the readings as a whole.
#[derive(Debug, Clone, Default, PartialEq)]
#[non_exhaustive]
pub enum Finding {
    /// They fit each other and the walk.
    #[default]
    Clean,
    /// These readings do not fit, and were left out.
    Named(Vec<Misread>),
    /// One of these readings does not fit, and nothing tells which.
    OneOf(Vec<String>),
    /// All lengths are this many times as long as in the walk.
    Scale(f64),
    /// All lengths are out by one factor, and this text says what would explain it.
    OneError(String),
    /// The readings cannot be brought together; the text says why, and what to do.
    Torn(String),
}

/// What was found of the readings, and what follows for the result.
#[derive(Debug, Clone, Default, PartialEq)]
#[non_exhaustive]
pub struct Found {
    /// What was found of the readings as a whole.
    pub finding: Finding,
    /// How many times larger the error of the result was made, where the readings disagree and no single one is to blame; `None` where
    /// it was left.
    pub widened: Option<f64>,
    /// Lengths of which a misreading would go unnoticed unless it is at least this large, metres.
    pub unseen: Vec<(String, f64)>,
    /// Whether the walk lacks points that were taped between, or has them in another order.
    pub points_missing: bool,
}

impl Found {
    /// A short stable name of what was found, in kebab-case.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self.finding {
            Finding::Clean => "clean",
            Finding::Named(_) => "named",
            Finding::OneOf(_) => "one-of",
            Finding::Scale(_) | Finding::OneError(_) => "scale",
            Finding::Torn(_) => "torn",
        }
    }

    /// Whether it is known which line to measure again.
    #[must_use]
    pub fn has_names(&self) -> bool {
        matches!(self.finding, Finding::Named(_) | Finding::OneOf(_))
    }
}

impl From<Finding> for Found {
    fn from(finding: Finding) -> Found {
        Found {
            finding,
            ..Found::default()
        }
    }
}

/// What the lengths of one figure come to, where they do not fit each other.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Unfit(pub Finding);
