//! `[[shape]]`: a figure that was measured with a tape, as the job sheet states it. All lengths are in metres, in whatever unit the sheet has
//! them.

mod read;

/// One taped figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// What sheets call it.
    pub label: String,
    /// What was taped.
    pub figure: Figure,
    /// Whether it is taken off the lawn instead of added to it.
    pub deduct: bool,
    /// One sigma of each taped length, metres.
    pub sigma_m: Option<f64>,
    /// Where it lies on the plan, if that is known.
    pub place: Option<Place>,
    /// Line of the sheet, from 1.
    pub line: Option<u64>,
}

/// Where a shape's baseline lies on the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Start of the baseline (centre of a circle, an ellipse or radii): metres east and north of the plan's origin.
    pub east_m: f64,
    /// Metres to the north.
    pub north_m: f64,
    /// Direction of the baseline, degrees clockwise from north.
    pub bearing_deg: f64,
}

/// Which side of its baseline a figure lies on, looking along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// To the left.
    Left,
    /// To the right.
    Right,
}

/// How the area between offsets is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// Straight from offset to offset.
    Trapezoid,
    /// Along parabolas, each through three offsets (Simpson's rule).
    Simpson,
}

/// A diagonal of a polygon, between corners counted from 0 (A).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diagonal {
    /// One corner.
    pub from: usize,
    /// The other.
    pub to: usize,
    /// Distance between them, metres.
    pub length_m: f64,
}

/// Offsets on one side of a baseline.
#[derive(Debug, Clone, PartialEq)]
pub struct Ordinates {
    /// Which side of the baseline.
    pub hand: Hand,
    /// Distances along the baseline, metres, each larger than the one before.
    pub chainage_m: Vec<f64>,
    /// Distances at right angles to the baseline, metres, one for each chainage.
    pub offsets_m: Vec<f64>,
}

/// How a circle was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Across {
    /// From the centre to the edge, metres.
    Radius(f64),
    /// From edge to edge, metres.
    Diameter(f64),
}

/// What was taped, in the sheet's own words: metres (`_m`), degrees (`_deg`). `hand` says where the figure lies beside its
/// baseline; it matters only on a plan.
#[derive(Debug, Clone, PartialEq)]
#[allow(missing_docs)]
pub enum Figure {
    Rectangle {
        length_m: f64,
        width_m: f64,
        hand: Hand,
    },
    /// Base along the baseline; the foot of the height is half way unless told.
    Triangle {
        base_m: f64,
        height_m: f64,
        foot_m: Option<f64>,
        hand: Hand,
    },
    /// Three sides, the first along the baseline.
    ThreeSides { sides_m: [f64; 3], hand: Hand },
    /// A whole circle, or the part of it that `sector_deg` states.
    Circle { across: Across, sector_deg: f64 },
    /// Length and width over all.
    Ellipse { length_m: f64, width_m: f64 },
    /// Two parallel sides and the distance between them.
    Trapezoid {
        parallel_m: [f64; 2],
        height_m: f64,
        hand: Hand,
    },
    /// Sides in order (A-B, B-C, … back to A) and diagonals; the first side lies along the baseline.
    Polygon {
        sides_m: Vec<f64>,
        diagonals: Vec<Diagonal>,
        /// Corners that point into the figure, from 0.
        inward: Vec<usize>,
        hand: Hand,
    },
    /// Radii at equal angles from one centre, clockwise, the first along the bearing.
    Radii { radii_m: Vec<f64> },
    Offsets {
        rule: Rule,
        /// One side of the baseline, or both.
        sides: Vec<Ordinates>,
    },
}

impl Figure {
    /// The sheet's word for the kind.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Figure::Rectangle { .. } => "rectangle",
            Figure::Triangle { .. } | Figure::ThreeSides { .. } => "triangle",
            Figure::Circle { .. } => "circle",
            Figure::Ellipse { .. } => "ellipse",
            Figure::Trapezoid { .. } => "trapezoid",
            Figure::Polygon { .. } => "polygon",
            Figure::Radii { .. } => "radii",
            Figure::Offsets { .. } => "offsets",
        }
    }
}
