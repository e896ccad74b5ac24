//! How the ground falls, as the heights of the walks say.

use super::Survey;
use super::walked::Walked;
use crate::band::ground::{Ground, Height, fit};
use crate::fault::Warning;
use crate::fix::Fix;
use crate::order::Slope;
use crate::walk::Spot;

/// Heights used of one ring at most: more say no more of a plane.
const MOST: usize = 1000;

/// The heights along a walked line. Spots carry the index of their fix; `fixes` are in that order.
pub(super) fn heights(line: &[Spot], fixes: &[(usize, &Fix)]) -> Vec<Height> {
    line.iter()
        .step_by(line.len().div_ceil(MOST).max(1))
        .filter_map(|spot| {
            // Of a log that is one walk each fix stands at its own index.
            let fix = match fixes.get(spot.fix) {
                Some((index, fix)) if *index == spot.fix => fix,
                _ => {
                    fixes
                        .get(fixes.binary_search_by_key(&spot.fix, |f| f.0).ok()?)?
                        .1
                }
            };
            let height_m = fix.height_m.filter(|h| h.is_finite())?;
            Some(Height {
                at: spot.at,
                t_s: spot.t_s,
                height_m,
                sigma_m: spot.sigma(),
            })
        })
        .collect()
}

/// The slope of all lawns together, where their heights are good enough for one; a note where they are not.
pub(super) fn slope(survey: &Survey, warnings: &mut Vec<Warning>) -> Option<Slope> {
    let heights: Vec<Height> = survey
        .lawns
        .iter()
        .flat_map(|lawn: &Walked| lawn.heights.iter().copied())
        .collect();
    let plan = "Areas are as on a plan. Where the lawn falls more than 1 in 7, measure the fall and give slope_percent in the job sheet.";
    match fit(&heights, survey.process.scale()) {
        Ground::Plane(fall) => Some(Slope {
            percent: fall.percent,
            sigma_percent: fall.sigma_percent,
            fall_deg: Some(fall.towards_deg),
            source: "heights",
        }),
        Ground::Rough { sigma_percent } => {
            warnings.push(Warning::note(
                "slope-unknown",
                format!(
                    "The heights in the log are too rough for a slope (it would be out by {sigma_percent:.0} %, one sigma) and were not \
                     used. {plan}"
                ),
            ));
            None
        }
        Ground::Uneven { off_m } => {
            warnings.push(Warning::note(
                "slope-unknown",
                format!(
                    "The ground is no one plane: its heights are {off_m:.1} m off the best one, and were not used. {plan}"
                ),
            ));
            None
        }
        Ground::Level | Ground::Unknown => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::survey::measured::Measured;
    use crate::survey::{Input, Request, measure};
    use crate::trial::chance::Chance;
    use crate::trial::place::AT_SEA;
    use crate::trial::receiver::{Claim, Class, Ground as Rise, Receiver, receive};
    use crate::trial::shape::{Outline, Shape};
    use crate::trial::walker::{Habits, walk};
    use crate::trial::write::nmea;

    /// A rectangle of 300 m² on ground that rises a tenth: 8 in 100 to the east and 6 to the south.
    fn measured(class: Class, rise: Rise) -> Measured {
        let mut chance = Chance::new(5);
        let outline = Outline::random(Shape::Rectangle, 300.0, &mut chance);
        let habits = Habits::random(&outline, 1, &mut chance);
        let moments = walk(&outline, &habits, 1.0, &mut chance);
        let receiver = Receiver::random(class, Claim::Sigma, &mut chance);
        let epochs = receive(&moments, &receiver, &AT_SEA[0], rise, &mut chance);
        let log = nmea(&epochs, jiff::civil::date(2026, 5, 14).at(9, 0, 0, 0));
        let request = Request {
            logs: vec![Input::Bytes {
                name: "slope.nmea".into(),
                bytes: log,
            }],
            ..Request::default()
        };
        measure(&request).unwrap()
    }

    #[test]
    fn heights_of_an_rtk_receiver_give_the_slope_and_those_of_a_phone_a_note() {
        let rise = Rise {
            east: 0.08,
            north: -0.06,
        };
        let found = measured(Class::RtkFixed, rise);
        let slope = found.slope.unwrap();
        assert!(
            (slope.percent - 10.0).abs() < 3.0 * slope.sigma_percent && slope.sigma_percent < 1.0,
            "{slope:?}"
        );
        // It falls to the west and a little north.
        assert!((slope.fall_deg.unwrap() - 306.87).abs() < 5.0, "{slope:?}");
        let area = found.area.unwrap();
        let ratio = area.slope_m2.unwrap() / area.net_m2;
        assert!((ratio - 1.00499).abs() < 0.001, "{ratio}");

        let level = measured(Class::RtkFixed, Rise::default());
        assert!(level.slope.is_none() && level.warnings.iter().all(|w| w.code != "slope-unknown"));
        let phone = measured(Class::Autonomous, rise);
        assert!(phone.slope.is_none() && phone.warnings.iter().any(|w| w.code == "slope-unknown"));
    }
}
