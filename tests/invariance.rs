//! The area must not depend on what the ground does not depend on: where the walk started, which way round it went,
//! how the garden lies, how the log was cut up, whether the surveyor stood a while, or the log's format.
//!
//! Without noise the same positions must give the same area but for [`SAME`] of it. Another place or another rotation is
//! written with more digits than a receiver has; a log that does not say how sure its positions are leaves [`UNTOLD`]. With
//! noise: within a tenth of the band.

use crate::trial::chance::Chance;
use crate::trial::place::{AT_SEA, Place};
use crate::trial::receiver::{Claim, Class, Epoch, Ground, Receiver, receive};
use crate::trial::shape::{Outline, Shape};
use crate::trial::walker::{Habits, Turn, walk};
use crate::trial::write::{gpx, nmea};
use boundwalk::survey::measured::Area;
use boundwalk::survey::{Input, Request, measure};
use jiff::SignedDuration;
use jiff::civil::{DateTime, date};

/// Of the area.
const SAME: f64 = 1e-9;
/// Of the area: positions taken for less sure are smoothed more.
const UNTOLD: f64 = 1e-5;

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
        smoothed_s: 0.0,
    }
}

/// One lap of the lawn at five fixes a second, from a place some way along a side back to it, pausing at corners; no way
/// in or out. The pace is such that a whole number of steps goes round: the same steps then go round from wherever
/// they begin.
fn one_lap(outline: &Outline, noisy: bool, place: &Place) -> Vec<Epoch> {
    let mut habits = Habits {
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
    let finely = walk(outline, &habits, 1000.0, &mut Chance::new(3));
    let moving = finely.iter().filter(|moment| !moment.standing).count();
    let moving_s = moving as f64 / 1000.0;
    habits.speed_mps = moving_s / ((5.0 * moving_s).round() / 5.0);
    let mut chance = Chance::new(3);
    let mut moments = walk(outline, &habits, 5.0, &mut chance);
    // The last would stand where the first does but for the log's last digit.
    moments.pop();
    let receiver = receiver(if noisy { 0.02 } else { 0.0 });
    receive(&moments, &receiver, place, Ground::default(), &mut chance)
}

fn area_of(logs: Vec<Vec<u8>>) -> Area {
    area_at(logs, None)
}

fn area_at(logs: Vec<Vec<u8>>, sigma_m: Option<f64>) -> Area {
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
        sigma_m,
        ..Request::default()
    })
    .unwrap();
    measured
        .area
        .unwrap_or_else(|| panic!("{:?}", measured.warnings))
}

/// The true positions in degrees by a projection that keeps areas, unlike the simulator's own: along the meridian, then
/// along the parallel (the sinusoidal projection on the ellipsoid, Snyder, Map Projections: A Working Manual, 1987, p.
/// 247; the arc of the meridian by its radius half-way).
fn exactly(mut epochs: Vec<Epoch>, place: &Place) -> Vec<Epoch> {
    const SEMI_MAJOR_M: f64 = 6_378_137.0;
    const E2: f64 = 2.0 / 298.257_223_563 - 1.0 / (298.257_223_563 * 298.257_223_563);
    let across_m = |lat: f64| SEMI_MAJOR_M / (1.0 - E2 * lat.sin().powi(2)).sqrt();
    let along_m = |lat: f64| across_m(lat).powi(3) * (1.0 - E2) / SEMI_MAJOR_M.powi(2);
    let middle = place.lat_deg.to_radians();
    for epoch in &mut epochs {
        let at = epoch.truth.at;
        let half_way = middle + at.y / along_m(middle) / 2.0;
        let lat = middle + at.y / along_m(half_way);
        epoch.lat_deg = lat.to_degrees();
        let lon_deg = place.lon_deg + (at.x / across_m(lat) / lat.cos()).to_degrees();
        epoch.lon_deg = (lon_deg + 180.0).rem_euclid(360.0) - 180.0;
        epoch.height_m = 0.0;
    }
    epochs
}

/// A track to the last digit, with the height above the ellipsoid that NMEA gives too.
fn finely(epochs: &[Epoch]) -> Vec<u8> {
    let mut track = String::from("<gpx version=\"1.1\" creator=\"test\"><trk><trkseg>\n");
    for Epoch {
        time_s,
        lat_deg,
        lon_deg,
        height_m,
        ..
    } in epochs
    {
        let time = start() + SignedDuration::from_millis((time_s * 1000.0).round() as i64);
        track += &format!(
            "<trkpt lat=\"{lat_deg}\" lon=\"{lon_deg}\"><ele>{height_m}</ele><time>{}.{:03}Z</time>\
             <geoidheight>0</geoidheight></trkpt>\n",
            time.strftime("%Y-%m-%dT%H:%M:%S"),
            time.millisecond()
        );
    }
    track += "</trkseg></trk></gpx>\n";
    track.into_bytes()
}

fn area(epochs: &[Epoch]) -> Area {
    area_of(vec![nmea(epochs, start())])
}

fn truly(outline: &Outline, place: &Place) -> Area {
    let epochs = exactly(one_lap(outline, false, place), place);
    area_of(vec![finely(&epochs)])
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
        let lies = |turn: f64| truly(&lawn(shape, turn), &AT_SEA[0]);
        let before = lies(0.0);
        for turn in [0.7, 1.9, 3.3] {
            agree(false, SAME, &before, &lies(turn), shape.name());
        }
    }
}

#[test]
fn the_place_on_earth_does_not_matter() {
    for shape in SHAPES {
        let outline = lawn(shape, 0.4);
        let before = truly(&outline, &AT_SEA[0]);
        for place in &AT_SEA[1..] {
            let after = truly(&outline, place);
            agree(false, SAME, &before, &after, shape.name());
        }
    }
}

#[test]
fn the_format_does_not_matter() {
    each(|outline, noisy, epochs, before| {
        // GPX cannot say RTK nor a sigma: the surveyor says it. The same positions, to the last digit of NMEA.
        let ticks = |deg: f64| (deg * 6e8).round() / 6e8;
        let mut told = epochs.to_vec();
        for epoch in &mut told {
            epoch.lat_deg = ticks(epoch.lat_deg);
            epoch.lon_deg = ticks(epoch.lon_deg);
            epoch.height_m = (epoch.height_m * 1000.0).round() / 1000.0;
        }
        let sigma_m = Some(0.02);
        let [one, other] =
            [nmea(epochs, start()), finely(&told)].map(|log| area_at(vec![log], sigma_m));
        agree(noisy, SAME, &one, &other, outline.shape.name());
        // Nobody says it: what is told apart by how sure the positions are then differs a little.
        let fine = area_of(vec![finely(&told)]);
        agree(noisy, UNTOLD, before, &fine, outline.shape.name());
        // Nor does the simulator's say how far the geoid lies: 46 m of height are 1.4e-5 of an area.
        let after = area_of(vec![gpx(epochs, &[], start())]);
        agree(noisy, 2e-5, before, &after, outline.shape.name());
    });
}
