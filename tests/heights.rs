//! The slope of the ground from the heights of a walk.

use crate::trial::chance::Chance;
use crate::trial::place::AT_SEA;
use crate::trial::receiver::{Claim, Class, Ground as Rise, Receiver, receive};
use crate::trial::shape::{Outline, Shape};
use crate::trial::walker::{Habits, walk};
use crate::trial::write::nmea;
use boundwalk::survey::{Input, Measured, Request, measure};

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
    assert!(level.slope.is_none() && level.warnings.iter().all(|w| w.code() != "slope-unknown"));
    let phone = measured(Class::Autonomous, rise);
    assert!(phone.slope.is_none() && phone.warnings.iter().any(|w| w.code() == "slope-unknown"));
}
