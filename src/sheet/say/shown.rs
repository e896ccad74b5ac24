//! All that is shown of a walk at one moment while it goes on. The terminal and the page on a phone both draw this, each in its way, so
//! they cannot say different things.

use super::live as words;
use crate::live::answer::Answer;
use crate::live::now::Now;
use crate::units::{Rounded, Units};
use geo::Coord;

/// What is said where there is no area yet.
pub const NO_AREA: &str = "no area yet: walk on, all the way round";
/// What is said where nothing is wrong.
pub const NOTHING_WRONG: &str = "nothing wrong";
/// A view never shows fewer metres than this across. The positions of a receiver that stands still wander about, which must not look
/// like a walk.
const SMALLEST_M: f64 = 5.0;

/// A walk at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown<'a> {
    /// The receiver's time of day.
    pub time: String,
    /// The log's name, and how much it has.
    pub log: String,
    /// Net area and band, rounded.
    pub area: Option<Rounded>,
    /// The unit that areas are given in.
    pub area_unit: &'static str,
    /// From how many to how many pieces the order may take.
    pub pieces: Option<String>,
    /// What is wrong now, worst first.
    pub wrong: Vec<String>,
    /// What else is seen and measured, each thing by its name.
    pub rows: Vec<(&'static str, String)>,
    /// What speaks against the area.
    pub doubts: Vec<String>,
    /// The last message to the walker.
    pub said: &'a str,
    /// The way walked, once there is a position.
    pub ground: Option<Ground<'a>>,
}

/// The way walked as seen from above, in metres on the plane, and the rectangle that shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Ground<'a> {
    /// Places in the order walked.
    pub walked: &'a [Coord<f64>],
    /// Where it began (`S`), and what was marked: `B` a bed, `C` a corner.
    pub signs: Vec<(Coord<f64>, char)>,
    /// Where the walker is.
    pub here: Coord<f64>,
    /// The rectangle's south-west corner.
    pub least: Coord<f64>,
    /// The rectangle's width and height.
    pub size: Coord<f64>,
}

impl<'a> Shown<'a> {
    /// Gathers what is seen at `now_s` (seconds since the start), the answer so far, and the places of marks with their signs. The texts
    /// `log` and `said` are left empty for the caller to fill in.
    #[must_use]
    pub fn of(
        now: &'a Now,
        now_s: f64,
        answer: Option<&'a Answer>,
        signs: &[(Coord<f64>, char)],
        units: Units,
    ) -> Shown<'a> {
        let mut rows = words::seen(now, now_s, units);
        rows.extend(answer.into_iter().flat_map(|a| words::answer(a, units)));
        let doubts = answer.into_iter().flat_map(|answer| &answer.doubts);
        Shown {
            time: match now.here() {
                Some((Some(tod_s), ..)) => format!("{} UTC", words::time_of_day(tod_s)),
                _ => "no time".to_owned(),
            },
            log: String::new(),
            area: answer.and_then(|answer| words::area(answer, units)),
            area_unit: units.area_unit(),
            pieces: answer.and_then(words::pieces),
            wrong: now
                .wrong(now_s)
                .into_iter()
                .map(|one| one.said(units))
                .collect(),
            rows,
            doubts: doubts.map(|doubt| doubt.said(units)).collect(),
            said: "",
            ground: Ground::of(now, signs),
        }
    }
}

impl<'a> Ground<'a> {
    /// `None` before the first position. Marks whose sign is a blank are not shown.
    fn of(now: &'a Now, marked: &[(Coord<f64>, char)]) -> Option<Ground<'a>> {
        let walked = &now.track.points[..];
        let (&start, here) = (walked.first()?, now.at()?);
        let (mut least, mut most) = (here, here);
        for place in walked {
            least = Coord {
                x: least.x.min(place.x),
                y: least.y.min(place.y),
            };
            most = Coord {
                x: most.x.max(place.x),
                y: most.y.max(place.y),
            };
        }
        let mut signs = vec![(start, 'S')];
        signs.extend(marked.iter().filter(|(_, sign)| *sign != ' '));
        let size = most - least;
        Some(Ground {
            walked,
            signs,
            here,
            least,
            size: Coord {
                x: size.x.max(SMALLEST_M),
                y: size.y.max(SMALLEST_M),
            },
        })
    }
}
