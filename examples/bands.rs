//! How wide the band comes out, by receiver and size of lawn, as a Markdown table.
//!
//! Each cell is the middle one of nine invented walks: a rectangle half as long again as it is wide, two laps at
//! 1 m/s with a stop at every corner, one position a second, a log that states the quality and dilution and nothing
//! more. The area is measured by the real pipeline; the band is at 95 %, as a part of the net area.

use boundwalk::survey::{Input, Request, measure};
use boundwalk::trial::chance::Chance;
use boundwalk::trial::place::AT_SEA;
use boundwalk::trial::receiver::{Claim, Class, Ground, Receiver, receive};
use boundwalk::trial::shape::{Outline, Shape};
use boundwalk::trial::walker::{Habits, Turn, walk};
use boundwalk::trial::write::nmea;
use jiff::civil::date;

const SIZES_M2: [f64; 6] = [50.0, 100.0, 200.0, 500.0, 1000.0, 5000.0];
const RECEIVERS: [(Class, &str); 4] = [
    (Class::Autonomous, "lone, phone grade"),
    (Class::Differential, "with SBAS or differential corrections"),
    (Class::RtkFloat, "RTK, float"),
    (Class::RtkFixed, "RTK, fixed"),
];
const WALKS: u64 = 9;

fn main() {
    print!("| receiver |");
    for size_m2 in SIZES_M2 {
        print!(" {size_m2} m² |");
    }
    println!("\n|---|{}", "---|".repeat(SIZES_M2.len()));
    for (class, name) in RECEIVERS {
        print!("| {name} |");
        for size_m2 in SIZES_M2 {
            print!(" {} |", cell(class, size_m2));
        }
        println!();
    }
}

/// The middle band of the walks in percent, or that most of them were refused.
fn cell(class: Class, size_m2: f64) -> String {
    let mut parts: Vec<f64> = (0..WALKS)
        .map(|seed| band_part(class, size_m2, seed).unwrap_or(f64::INFINITY))
        .collect();
    parts.sort_by(f64::total_cmp);
    match parts.get(parts.len() / 2) {
        Some(part) if part.is_finite() && *part < 0.0995 => format!("{:.1} %", 100.0 * part),
        Some(part) if part.is_finite() => format!("{:.0} %", 100.0 * part),
        _ => "refused".to_owned(),
    }
}

/// Band over net area of one invented walk; none where no area was given.
fn band_part(class: Class, size_m2: f64, seed: u64) -> Option<f64> {
    let wide = (size_m2 / 1.5).sqrt();
    let corners = [(0.0, 0.0), (1.5 * wide, 0.0), (1.5 * wide, wide), (0.0, wide)];
    let lawn = Outline::drawn(Shape::Rectangle, &corners, &[]);
    let mut chance = Chance::stream(seed, "bands");
    let receiver = Receiver {
        hdop: 1.0,
        claimed_m: None,
        sigma_m: class.sigma_m(1.0),
        tau_s: chance.log_between(15.0, 600.0),
        ..Receiver::random(class, Claim::Dilution, &mut chance)
    };
    let habits = Habits {
        speed_mps: 1.0,
        pause_s: Some((5.0, 6.0)),
        start_m: 0.0,
        lead_m: 0.0,
        overrun_m: 1.0,
        laps: vec![Turn::Clockwise; 2],
        ..Habits::random(&lawn, 2, &mut chance)
    };
    let moments = walk(&lawn, &habits, 1.0, &mut chance);
    let epochs = receive(&moments, &receiver, &AT_SEA[0], Ground::default(), &mut chance);
    let log = nmea(&epochs, date(2026, 5, 14).at(9, 0, 0, 0));
    let request = Request {
        logs: vec![Input::Bytes { name: "walk".into(), bytes: log }],
        ..Request::default()
    };
    let area = measure(&request).ok()?.area?;
    Some(area.band_m2 / area.net_m2)
}
