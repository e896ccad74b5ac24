//! The sentences that a person reads for each reason to give no area (a refusal): what was seen, and what to do.

use super::amount::{area, bare, length, pace};
use crate::cause::Cause;
use crate::process::Receiver;
use crate::refusal::{Course, Refusal};
use crate::units::{Rounded, Units};
use serde::{Serialize, Serializer};
use std::fmt::{self, Display, Formatter};

const ONE_EDGE: &str = "Walk the whole edge once round, without crossing the path or going back beside it; give the log of each lawn a \
     [[lawn]] of its own in a job sheet.";
const ALL_THE_WAY: &str = "Walk the whole edge back to where you started, and a few steps past it.";
const HOW_TO_SAY: &str = "If they are metres, say --grid local, or grid = \"local\" in the job sheet; if they are eastings and northings \
    of a national grid, name it with --grid EPSG:nnnn. Degrees need seven decimals to show a lawn.";

impl Display for Course {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        f.write_str(if self.drawn {
            "the outline"
        } else {
            "the walk"
        })?;
        match self.label.as_str() {
            "" => Ok(()),
            label => write!(f, " “{label}”"),
        }
    }
}

/// A document holds a refusal as a sentence that says what was seen.
impl Serialize for Refusal {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&self.seen())
    }
}

impl Refusal {
    /// What was seen, in a sentence.
    #[must_use]
    pub fn seen(&self) -> String {
        self.said(Units::Metric)
    }

    /// What was seen, in a sentence with lengths and areas in these units.
    #[must_use]
    #[allow(
        clippy::too_many_lines,
        reason = "one sentence a reason, in one match so that the compiler asks for that of a new one"
    )]
    pub fn said(&self, units: Units) -> String {
        let m = |m: f64, digits: usize| length(units, m, digits);
        let m2 = |m2: f64, digits: usize| area(units, m2, digits);
        match self {
            Refusal::OfADrive {
                walk,
                pace_m_s,
                refusal,
            } => format!(
                "The path of {walk} was driven or ridden, not walked, at about {}. {}",
                pace(*pace_m_s, units),
                refusal.said(units)
            ),
            Refusal::TooFewFixes { walk, usable } => format!(
                "There are only {usable} usable position(s) in {walk}; an edge needs at least four."
            ),
            Refusal::StandsStill { walk } => format!(
                "The receiver hardly moved during {walk}: its fixes only wander about one place."
            ),
            Refusal::OpenWalk {
                walk,
                turned_share,
                ends_apart_m,
            } => format!(
                "The path of {walk} does not come round: it goes {:.0} % of the way about its inside, and its ends are {} apart.",
                100.0 * turned_share,
                m(*ends_apart_m, 1)
            ),
            Refusal::TooOpen {
                walk,
                gap_m,
                edge_m,
                unseen_m,
            } => {
                let gaps = match *unseen_m > 0.0 {
                    true => format!(", and {} of it lie across gaps in the log", m(*unseen_m, 0)),
                    false => String::new(),
                };
                format!(
                    "The two ends of {walk} are {} apart on an edge of {}{gaps}: too open to close.",
                    m(*gap_m, 1),
                    m(*edge_m, 0)
                )
            }
            Refusal::LapsCancel { walk } => format!(
                "The laps of {walk} cancel each other: the path crosses itself like a figure of eight."
            ),
            Refusal::FigureOfEight {
                walk,
                round_m2,
                back_m2,
            } => format!(
                "The path of {walk} crosses itself like a figure of eight: {} are walked round one way, {} the other.",
                m2(*round_m2, 0),
                m2(*back_m2, 0)
            ),
            Refusal::LapsDisagree {
                walk,
                laps,
                least_m2,
                most_m2,
            } => format!(
                "The {laps} laps of {walk} hold from {} to {}, and no most of them agree, so none is taken for the lawn.",
                bare(m2(*least_m2, 0)),
                m2(*most_m2, 0)
            ),
            Refusal::SeveralRounds { walk, other_m2 } => format!(
                "Besides the lap(s) found, {walk} also goes round another place, of {}; nothing says which of them is the lawn.",
                m2(*other_m2, 0)
            ),
            Refusal::OutAndBack { walk, beside_share } => format!(
                "{:.0} % of the path of {walk} is walked back close beside itself, so it is no edge that comes round a lawn.",
                100.0 * beside_share
            ),
            Refusal::UpAndDown {
                walk,
                times_as_long,
            } => format!(
                "The path of {walk} goes to and fro: it is {times_as_long:.1} times as long as the way round all of it, so it is no edge \
                 that comes round a lawn."
            ),
            Refusal::IsElsewhere {
                walk,
                away_m,
                laps,
                lap_m,
            } => format!(
                "Of the path of {walk} {} are not part of the {laps} lap(s) of {} that were found: it is no walk round a lawn.",
                m(*away_m, 0),
                m(*lap_m, 0)
            ),
            Refusal::NoEdgeDrawn {
                walk,
                laps,
                area_m2,
                sigma_m,
            } => format!(
                "No edge can be drawn through the {laps} lap(s) of {walk}: they hold {}, and this receiver errs by about {}.",
                m2(*area_m2, 0),
                m(*sigma_m, 1)
            ),
            Refusal::LargerThanAnyField { walk, area_m2, .. } => format!(
                "The outline of {walk} holds {:.0} km², more than any field.",
                area_m2 / 1e6
            ),
            Refusal::GoesRoundTwice { walk, turns } => format!(
                "The corners of {walk} go round {turns:.0} times, so its area would count {turns:.0} times."
            ),
            Refusal::DrawnLine { walk, gap_m, way_m } => format!(
                "The ends of {walk} as drawn are {} apart, of {} in all: it leads from one place to another, and goes round nothing.",
                m(*gap_m, 0),
                m(*way_m, 0)
            ),
            Refusal::PlanMetres { apart_m, decimals } => format!(
                "Read as degrees, corners of the list lie {:.0} km apart, and no number has more than {decimals} decimals: they \
                 look like metres of a plan.",
                apart_m / 1000.0
            ),
            Refusal::CarryCollapses { walk, offset_m } => format!(
                "With the antenna carried {offset_m} m outside the edge, nothing is left inside {walk}."
            ),
            Refusal::SidesCollapse {} => {
                "With the sides moved as [[edge]] says, nothing is left inside the edge.".to_owned()
            }
            Refusal::AllTaken {
                label,
                label_m2,
                deductions_m2,
                gross_m2,
            } => format!(
                "What is taken off leaves {} of the lawn: {} of {}, most of it “{label}” ({}).",
                if gross_m2 > deductions_m2 {
                    "nothing certain"
                } else {
                    "nothing"
                },
                m2(*deductions_m2, 1),
                m2(*gross_m2, 1),
                m2(*label_m2, 1)
            ),
            Refusal::AllTapedTaken {
                deductions_m2,
                gross_m2,
            } => format!(
                "The deductions ({}) are no smaller than the lawn ({}).",
                m2(*deductions_m2, 2),
                m2(*gross_m2, 2)
            ),
            Refusal::BandExceedsArea {
                net_m2,
                band_m2,
                mostly,
                stopped_short,
                ..
            } => {
                let shown = Rounded::new(units.area(*net_m2), units.area(*band_m2));
                let unit = units.area_unit();
                let error = match (mostly, stopped_short) {
                    (Some(Cause::Position), true) => {
                        "the log stops short of its start, and what may lie behind that is as large as the lawn"
                    }
                    (Some(Cause::Position), false) => {
                        "the receiver's error is as large as the lawn"
                    }
                    (Some(Cause::Edge), _) => {
                        "how truly the edge was followed is not known to less than the lawn itself"
                    }
                    _ => "its error is as large as the lawn",
                };
                format!(
                    "The area comes out as {} {unit} with an error band of ± {} {unit}: {error}.",
                    shown.value, shown.uncertainty
                )
            }
        }
    }

    /// What to do. All pieces of advice stand in one match, long as it is, so that the compiler asks for that of a new reason.
    #[must_use]
    pub fn advice(&self) -> &'static str {
        match self {
            Refusal::OfADrive { refusal, .. } => refusal.advice(),
            Refusal::TooFewFixes { .. } => {
                "Check that the logger recorded the whole walk, and walk it again."
            }
            Refusal::StandsStill { .. } => {
                "Walk round the edge of the lawn with the logger running; a log of standing still holds no area."
            }
            Refusal::OpenWalk { .. } | Refusal::TooOpen { .. } => ALL_THE_WAY,
            Refusal::LapsCancel { .. } => {
                "Walk each part as a closed walk of its own, in one direction, without crossing the path."
            }
            Refusal::FigureOfEight { .. }
            | Refusal::SeveralRounds { .. }
            | Refusal::OutAndBack { .. }
            | Refusal::UpAndDown { .. } => ONE_EDGE,
            Refusal::LapsDisagree { .. } => {
                "Look at the plan for parts cut off or taken in. Walk the edge again, or give each lawn a log of its own."
            }
            Refusal::IsElsewhere { .. } => {
                "Cut the log down to the walk round the lawn, or walk it again with the logger started at the edge."
            }
            Refusal::NoEdgeDrawn { .. } => {
                "Measure a lawn as small as this with a tape, or walk it with a better receiver."
            }
            Refusal::LargerThanAnyField { listed: false, .. } => {
                "This is a journey, not the edge of a lawn: give the log of the walk round the lawn."
            }
            Refusal::LargerThanAnyField { .. } | Refusal::PlanMetres { .. } => HOW_TO_SAY,
            Refusal::GoesRoundTwice { .. } => {
                "List each corner once, in order. Several lists of one lawn are several surveys; of several lawns, give each a [[lawn]] in a \
                 job sheet."
            }
            Refusal::DrawnLine { .. } => {
                "Draw the edge of the lawn all the way round, back to where it begins."
            }
            Refusal::CarryCollapses { .. } => "Check carry_m and carry_side.",
            Refusal::SidesCollapse {} => "Check the carry_m and carry_side of [[edge]].",
            Refusal::AllTaken { .. } => {
                "Check the sizes, units and places of the deductions on the job sheet, and which log is whose."
            }
            Refusal::AllTapedTaken { .. } => {
                "Check their lengths and which shapes have deduct = true."
            }
            Refusal::BandExceedsArea {
                mostly,
                stopped_short,
                receiver,
                ..
            } => match (mostly, stopped_short, receiver) {
                (Some(Cause::Position), true, _) => {
                    "Walk it again, to the start and a few steps past it."
                }
                (Some(Cause::Position), _, Receiver::RtkFixed) => {
                    "Tape this lawn, or walk it again under a freer sky."
                }
                (Some(Cause::Position), _, Receiver::RtkFloat) => {
                    "Tape this lawn, or wait for a fixed solution and walk it again."
                }
                (Some(Cause::Position), ..) => "Tape this lawn, or walk it with an RTK receiver.",
                (Some(Cause::Edge), ..) => {
                    "Check carry_m and carry_sigma_m; hold the antenna over the edge, or tape this lawn."
                }
                _ => "Tape this lawn, or walk it again with a position every second.",
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A foot is 0.3048 m (international yard and pound agreement, 1959).
    #[test]
    fn reasons_are_said_in_the_readers_units() {
        let open = Refusal::OpenWalk {
            walk: Course::default(),
            turned_share: 0.8,
            ends_apart_m: 3.048,
        };
        assert!(open.seen().ends_with("its ends are 3.0 m apart."));
        assert!(
            open.said(Units::Imperial)
                .ends_with("its ends are 10 ft apart.")
        );
        let taken = Refusal::AllTapedTaken {
            deductions_m2: 100.0 * 0.3048 * 0.3048,
            gross_m2: 9.0,
        };
        let said = taken.said(Units::Imperial);
        assert!(said.starts_with("The deductions (100 ft²)"), "{said}");
    }
}
