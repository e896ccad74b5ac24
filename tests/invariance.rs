//! The area must not depend on what the ground does not depend on: where the walk started, which way round it went,
//! how the garden lies, how the log was cut up, whether the surveyor stood a while, or the log's format.
//!
//! Without noise the same positions must give the same area but for [`SAME`] of it; positions written anew (another
//! place, another rotation) differ by the last digit of a log, 0.1 to 0.2 mm, and must agree to 1e-5, another
//! format, which says nothing of sigmas, to 1e-4. With noise: within a tenth of the band.

use boundwalk::survey::measured::Area;
use boundwalk::survey::{Input, Request, measure};
use boundwalk::trial::chance::Chance;
use boundwalk::trial::place::{AT_SEA, Place};
use boundwalk::trial::receiver::{Claim, Class, Epoch, Ground, Receiver, receive};
use boundwalk::trial::shape::{Outline, Shape};
use boundwalk::trial::walker::{Habits, Turn, walk};
use boundwalk::trial::write::{gpx, nmea};
use jiff::civil::{DateTime, date};

/// Fixes close in time are averaged before a curve is laid through them, and which go together depends on where the
/// log starts: 3e-7 of the area at most here.
const SAME: f64 = 1e-6;

fn start() -> DateTime {
    date(2026, 5, 14).at(8, 0, 0, 0)
}

fn lawn(shape: Shape, turn_rad: f64) -> Outline {
    Outline::random(shape, 300.0, &mut Chance::new(17)).turned(turn_rad)
}

fn receiver(sigma_m: f64) -> Receiver {
    Receiver {
        class: Class::RtkFixed,
        claim: Claim::Sigma,
        hdop: 0.8,
        satellites: 17,
        claimed_m: Some(0.02),
        sigma_m,
        tau_s: 80.0,
        white_share: 0.15,
    }
}

/// One lap of the lawn, from a place some way along a side back to it, pausing at corners; no way in or out.
fn one_lap(outline: &Outline, noisy: bool, place: &Place) -> Vec<Epoch> {
    let habits = Habits {
        speed_mps: 1.0,
        pause_s: Some((5.0, 5.0)),
        start_m: 1.3,
        lead_m: 0.0,
        lead_inside: false,
        overrun_m: 0.0,
        laps: vec![Turn::Anticlockwise],
        part_lap: 0.0,
        visits: Vec::new(),
        wobble_m: if noisy { 0.01 } else { 0.0 },
        wobble_tau_s: 1.0,
        carry_m: 0.0,
        hand_m: 0.0,
        hand_varying_m: 0.0,
    };
    let mut chance = Chance::new(3);
    let moments = walk(outline, &habits, 5.0, &mut chance);
    let receiver = receiver(if noisy { 0.02 } else { 0.0 });
    receive(&moments, &receiver, place, Ground::default(), &mut chance)
}

fn area_of(logs: Vec<Vec<u8>>) -> Area {
    let logs = logs
        .into_iter()
        .enumerate()
        .map(|(i, bytes)| Input::Bytes {
            name: format!("part {i}"),
            bytes,
        })
        .collect();
    let measured = measure(&Request {
        logs,
        ..Request::default()
    })
    .unwrap();
    measured
        .area
        .unwrap_or_else(|| panic!("{:?}", measured.warnings))
}

fn area(epochs: &[Epoch]) -> Area {
    area_of(vec![nmea(epochs, start())])
}

/// The same positions in another order, at the same five a second.
fn retimed(mut epochs: Vec<Epoch>) -> Vec<Epoch> {
    for (i, epoch) in epochs.iter_mut().enumerate() {
        epoch.time_s = i as f64 / 5.0;
    }
    epochs
}

fn agree(noisy: bool, exact: f64, one: &Area, other: &Area, what: &str) {
    let off = (one.net_m2 - other.net_m2).abs();
    let allowed = if noisy {
        one.band_m2 / 10.0
    } else {
        exact * one.net_m2
    };
    assert!(
        off <= allowed,
        "{what}, noisy {noisy}: {} and {} differ by {off:e}, allowed {allowed:e}",
        one.net_m2,
        other.net_m2
    );
}

const SHAPES: [Shape; 4] = [Shape::Rectangle, Shape::L, Shape::CurvedEdge, Shape::Kidney];

/// Runs a check for each shape, with and without noise.
fn each(check: impl Fn(&Outline, bool, &[Epoch], &Area)) {
    for shape in SHAPES {
        let outline = lawn(shape, 0.4);
        for noisy in [false, true] {
            let epochs = one_lap(&outline, noisy, &AT_SEA[0]);
            check(&outline, noisy, &epochs, &area(&epochs));
        }
    }
}

#[test]
fn noise_free_areas_are_true() {
    each(|outline, noisy, _, area| {
        if !noisy {
            let off = (area.net_m2 - outline.area_m2).abs();
            assert!(
                off < 2e-4 * outline.area_m2,
                "{:?}: {} for {}",
                outline.shape,
                area.net_m2,
                outline.area_m2
            );
        }
    });
}

#[test]
fn the_starting_point_does_not_matter() {
    each(|outline, noisy, epochs, before| {
        for part in [3, 5] {
            let mut turned = epochs.to_vec();
            turned.rotate_left(epochs.len() / part);
            let after = area(&retimed(turned));
            agree(noisy, SAME, before, &after, outline.shape.name());
        }
    });
}

#[test]
fn the_direction_does_not_matter() {
    each(|outline, noisy, epochs, before| {
        let mut back = epochs.to_vec();
        back.reverse();
        let after = area(&retimed(back));
        agree(noisy, SAME, before, &after, outline.shape.name());
    });
}

#[test]
fn splitting_the_log_does_not_matter() {
    each(|outline, noisy, epochs, before| {
        let (one, two) = epochs.split_at(epochs.len() / 3);
        let after = area_of(vec![nmea(one, start()), nmea(two, start())]);
        agree(noisy, SAME, before, &after, outline.shape.name());
    });
}

#[test]
fn another_pause_does_not_matter() {
    each(|outline, noisy, epochs, before| {
        let at = epochs.len() / 4;
        let mut longer = epochs[..=at].to_vec();
        longer.extend(std::iter::repeat_n(epochs[at].clone(), 100));
        longer.extend_from_slice(&epochs[at + 1..]);
        let after = area(&retimed(longer));
        agree(noisy, SAME, before, &after, outline.shape.name());
    });
}

#[test]
fn rotation_does_not_matter() {
    for shape in SHAPES {
        let lies = |turn: f64| area(&one_lap(&lawn(shape, turn), false, &AT_SEA[0]));
        let before = lies(0.0);
        for turn in [0.7, 1.9, 3.3] {
            agree(false, 1e-5, &before, &lies(turn), shape.name());
        }
    }
}

#[test]
fn the_place_on_earth_does_not_matter() {
    for shape in SHAPES {
        let outline = lawn(shape, 0.4);
        let before = area(&one_lap(&outline, false, &AT_SEA[0]));
        for place in &AT_SEA[1..] {
            let after = area(&one_lap(&outline, false, place));
            agree(false, 1e-5, &before, &after, shape.name());
        }
    }
}

#[test]
fn the_format_does_not_matter() {
    each(|outline, noisy, epochs, before| {
        // GPX cannot say RTK nor a sigma; the area must not mind.
        let after = area_of(vec![gpx(epochs, &[], start())]);
        agree(noisy, 1e-4, before, &after, outline.shape.name());
    });
}
