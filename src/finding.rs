//! What tapes come to that were brought together with a walk or with each other, as values; the words are in `sheet/say`.

/// A reading that does not fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Misread {
    /// `A-B`, `square at C`, `D from A-B`.
    pub line: String,
    /// How much too long or wide it is, in `unit`.
    pub by: f64,
    /// `m`, or `deg` for an angle.
    pub unit: &'static str,
    /// The slip that would explain it, if one does.
    pub slip: Option<&'static str>,
}

/// What the readings come to.
#[derive(Debug, Clone, Default, PartialEq)]
#[non_exhaustive]
pub enum Finding {
    /// They fit each other and the walk.
    #[default]
    Clean,
    /// These do not and were left out.
    Named(Vec<Misread>),
    /// One of these lines does not, and nothing tells which.
    OneOf(Vec<String>),
    /// All lengths are so many times what the walk has.
    Scale(f64),
    /// The same, with what would explain it.
    OneError(String),
    /// They cannot be brought together: why, and what to do.
    Torn(String),
}

/// What was found, what became of it, and what is to be measured again.
#[derive(Debug, Clone, Default, PartialEq)]
#[non_exhaustive]
pub struct Found {
    /// What the readings come to.
    pub finding: Finding,
    /// How many times larger the error left was made, where they disagree with none to blame.
    pub widened: Option<f64>,
    /// Lengths of which a misreading would not be noticed unless it is this large, metres.
    pub unseen: Vec<(String, f64)>,
    /// The walk lacks points that were taped between, or has them in another order.
    pub points_missing: bool,
}

impl Found {
    /// A short name of it.
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
