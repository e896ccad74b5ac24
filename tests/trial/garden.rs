//! The example survey: an invented garden, walked by the simulator with a fixed seed, so that its files are the same every time.

use super::chance::Chance;
use super::place::{AT_SEA, Place};
use super::receiver::{Claim, Class, Ground, Receiver, receive};
use super::shape::{Outline, Shape};
use super::walker::{Habits, Turn, walk};
use super::write::nmea;
use geo::Coord;
use jiff::civil::{DateTime, date};
use std::f64::consts::PI;

/// What is true of the garden, in square metres and metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// All that lies within the lawn's outer edge.
    pub gross_m2: f64,
    pub patio_m2: f64,
    /// The two round beds under the trees.
    pub beds_m2: f64,
    /// The lawn itself: the gross area less the patio and the beds.
    pub net_m2: f64,
    /// The length of the lawn's outer edge.
    pub perimeter_m: f64,
    /// The distance between the corners that the sheet calls A and B.
    pub a_to_b_m: f64,
}

/// The survey's files, each with its name and its bytes, and the truth behind them.
#[derive(Debug, Clone, PartialEq)]
pub struct Garden {
    pub files: Vec<(&'static str, Vec<u8>)>,
    pub truth: Truth,
}

const SEED: u64 = 2026;
/// The garden lies on the open sea, so that it is nobody's.
const PLACE: Place = AT_SEA[0];

/// The lawn's corners in metres, anticlockwise. The side from the third to the fourth bulges out by [`BULGE_M`].
const LAWN: [(f64, f64); 5] = [
    (0.0, 0.0),
    (17.0, 0.0),
    (17.0, 10.4),
    (4.2, 13.8),
    (0.0, 11.5),
];
const BULGE_M: f64 = 1.1;
const PATIO: [(f64, f64); 4] = [(6.5, 2.0), (10.1, 2.0), (10.1, 4.8), (6.5, 4.8)];
/// The beds under the two trees: the middle and the radius, in metres.
const BIRCH: ((f64, f64), f64) = ((13.2, 7.5), 0.35);
const CHERRY: ((f64, f64), f64) = ((4.0, 8.6), 0.45);

/// The whole survey.
pub fn garden() -> Garden {
    let lawn = Outline::drawn(Shape::CurvedEdge, &LAWN, &[0.0, 0.0, BULGE_M]);
    let patio = Outline::drawn(Shape::Rectangle, &PATIO, &[]);
    let beds_m2 = PI * (BIRCH.1 * BIRCH.1 + CHERRY.1 * CHERRY.1);
    let truth = Truth {
        gross_m2: lawn.area_m2,
        patio_m2: patio.area_m2,
        beds_m2,
        net_m2: lawn.area_m2 - patio.area_m2 - beds_m2,
        perimeter_m: lawn.perimeter_m,
        a_to_b_m: LAWN[4].1 - LAWN[0].1,
    };
    let mut chance = Chance::stream(SEED, "garden");
    let receiver = Receiver {
        class: Class::RtkFixed,
        claim: Claim::Sigma,
        hdop: 0.7,
        satellites: 19,
        claimed_m: Some(0.014),
        sigma_m: 0.015,
        tau_s: 90.0,
        white_share: 0.15,
        smoothed_s: 0.0,
    };
    // The ground falls by 3 cm on each metre towards the west, and by 1 cm towards the north.
    let ground = Ground {
        east: 0.03,
        north: -0.01,
    };
    let mut log = |outline: &Outline, habits: &Habits, start: DateTime| {
        let moments = walk(outline, habits, 1.0, &mut chance);
        nmea(
            &receive(&moments, &receiver, &PLACE, ground, &mut chance),
            start,
        )
    };
    let habits = Habits {
        speed_mps: 0.95,
        pause_s: Some((5.0, 8.0)),
        start_m: 0.0,
        lead_m: 6.0,
        lead_inside: false,
        overrun_m: 1.5,
        laps: vec![Turn::Clockwise; 2],
        part_lap: 0.0,
        visits: vec![(Coord::from(CHERRY.0), 15.0)],
        wobble_m: 0.012,
        wobble_tau_s: 1.0,
        carry_m: 0.0,
        hand_m: 0.008,
        hand_varying_m: 0.005,
    };
    let lawn_log = log(&lawn, &habits, date(2026, 5, 14).at(8, 30, 0, 0));
    let habits = Habits {
        laps: vec![Turn::Anticlockwise],
        lead_m: 3.0,
        overrun_m: 1.0,
        visits: Vec::new(),
        hand_m: -0.006,
        ..habits
    };
    let patio_log = log(&patio, &habits, date(2026, 5, 14).at(8, 41, 0, 0));
    let (lat, lon) = PLACE.degrees(Coord::from(BIRCH.0));
    let sheet = format!(
        r#"# An invented garden, surveyed by boundwalk's own simulator.

[job]
number = "DEMO-1"
site = "An invented garden"
date = 2026-05-14

[walk]
files = ["lawn.nmea"]
carry_m = 0.0             # the antenna was held over the edge
carry_sigma_m = 0.02

[[deduct]]
label = "patio"
files = ["patio.nmea"]

[[bed]]
label = "birch"           # placed by its coordinates
lat = {lat:.8}
lon = {lon:.8}
radius_m = {birch}
radius_sigma_m = 0.02

[[bed]]
label = "cherry"          # placed by standing at it after the second lap
pause = 1
radius_m = {cherry}
radius_sigma_m = 0.02

[[tape]]
from = "A"
to = "B"
length_m = {tape:.2}
sigma_m = 0.01

[order]
chance_enough = 0.95

[order.turf]
noun = "roll"
piece_width_m = 0.40
piece_length_m = 2.50
method = "rows"

[order.soil]
depth_m = 0.03

[order.edging]
piece_m = 2.5
around = ["lawn", "beds"]
"#,
        birch = BIRCH.1,
        cherry = CHERRY.1,
        // The tape read 6 mm too much.
        tape = truth.a_to_b_m + 0.006,
    );
    let provenance = provenance(&truth, &receiver, &habits);
    Garden {
        files: vec![
            ("job.toml", sheet.into_bytes()),
            ("lawn.nmea", lawn_log),
            ("patio.nmea", patio_log),
            ("PROVENANCE.md", provenance.into_bytes()),
        ],
        truth,
    }
}

/// The text that says where the files come from and what is true of the garden.
fn provenance(truth: &Truth, receiver: &Receiver, habits: &Habits) -> String {
    format!(
        r#"# Where these files come from

Invented. No receiver recorded them and no such garden exists: its coordinates lie in the open Atlantic.
`tests/trial/garden.rs` drew the garden, walked it and wrote every file here, this one too (seed {SEED}).
`cargo test --test walks garden` checks that it still writes the same bytes; to write them anew after a change on
purpose, `BOUNDWALK_WRITE=1 cargo test --test walks garden`.

| true value | |
|---|---|
| lawn within its outer edge | {gross:.4} m² |
| patio | {patio:.4} m² |
| birch and cherry (radius {birch} m, {cherry} m) | {beds:.4} m² |
| net | {net:.4} m² |
| outer edge | {perimeter:.4} m |
| corner A to corner B | {a_to_b:.3} m (the sheet's tape reads 6 mm more, rounded to 1 cm) |

Lawn: five corners, one side an arc bulging out {BULGE_M} m. Two laps clockwise, standing {short:.0} to {long:.0} s at each
corner, in from a gate, 1.5 m past the start, to the cherry and out. Receiver: RTK fixed, 1 Hz, error of {sigma} m per axis
({white:.0} % of its variance white, the rest forgotten in {tau:.0} s), claiming {claimed} m; pole swaying {wobble} m; the hand
8 mm outside the edge all the way round, and 6 mm inside the patio's.
"#,
        gross = truth.gross_m2,
        patio = truth.patio_m2,
        beds = truth.beds_m2,
        net = truth.net_m2,
        perimeter = truth.perimeter_m,
        a_to_b = truth.a_to_b_m,
        birch = BIRCH.1,
        cherry = CHERRY.1,
        short = habits.pause_s.map_or(0.0, |p| p.0),
        long = habits.pause_s.map_or(0.0, |p| p.1),
        sigma = receiver.sigma_m,
        white = receiver.white_share * 100.0,
        tau = receiver.tau_s,
        claimed = receiver.claimed_m.unwrap_or(f64::NAN),
        wobble = habits.wobble_m,
    )
}
