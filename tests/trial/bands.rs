//! How wide the band comes out, by receiver and size of lawn, which a reader wants to know before buying a receiver.

use super::chance::Chance;
use super::place::AT_SEA;
use super::receiver::{Claim, Class, Ground, Receiver, receive};
use super::shape::{Outline, Shape};
use super::walker::{Habits, Turn, walk};
use super::write::nmea;
use boundwalk::survey::{Input, Request, measure};
use jiff::civil::date;

/// How many walks stand behind one number.
const WALKS: u64 = 21;

/// The band at 95 % as a part of the net area: the middle one of [`WALKS`] invented walks, with receivers drawn as widely as real
/// ones err. `None` where most walks got no area.
///
/// The lawn is a rectangle half as long again as it is wide. It is walked at 1 m/s with a stop at every corner and one position a
/// second, and the log states quality and dilution and nothing more.
pub fn usual_part(class: Class, size_m2: f64, laps: usize) -> Option<f64> {
    let mut parts: Vec<f64> = (0..WALKS)
        .map(|seed| part(class, size_m2, laps, seed).unwrap_or(f64::INFINITY))
        .collect();
    parts.sort_by(f64::total_cmp);
    parts
        .get(parts.len() / 2)
        .copied()
        .filter(|part| part.is_finite())
}

/// The band of one invented walk as a part of the net area, or `None` where it got no area.
fn part(class: Class, size_m2: f64, laps: usize, seed: u64) -> Option<f64> {
    let wide = (size_m2 / 1.5).sqrt();
    let corners = [
        (0.0, 0.0),
        (1.5 * wide, 0.0),
        (1.5 * wide, wide),
        (0.0, wide),
    ];
    let lawn = Outline::drawn(Shape::Rectangle, &corners, &[]);
    let mut chance = Chance::stream(seed, "bands");
    let receiver = Receiver::widely(class, Claim::Dilution, &mut chance);
    let habits = Habits {
        speed_mps: 1.0,
        pause_s: Some((5.0, 6.0)),
        start_m: 0.0,
        lead_m: 0.0,
        overrun_m: 1.0,
        laps: vec![Turn::Clockwise; laps],
        ..Habits::random(&lawn, laps, &mut chance)
    };
    let moments = walk(&lawn, &habits, 1.0, &mut chance);
    let epochs = receive(
        &moments,
        &receiver,
        &AT_SEA[0],
        Ground::default(),
        &mut chance,
    );
    let log = nmea(&epochs, date(2026, 5, 14).at(9, 0, 0, 0));
    let request = Request {
        logs: vec![Input::Bytes {
            name: "walk".into(),
            bytes: log,
        }],
        ..Request::default()
    };
    let area = measure(&request).ok()?.area?;
    Some(area.band_m2 / area.net_m2)
}
