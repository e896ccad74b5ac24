//! What a file can make large costs no more than its size allows, counted in steps of the loops rather than by the clock.

use boundwalk::job::Job;
use boundwalk::steps;
use boundwalk::survey::{Input, Measured, Request, measure};
use std::f64::consts::TAU;
use std::fmt::Write;
use std::path::Path;

/// A drawn edge with so many corners on a wavy circle, taped from A to B to C, and the steps it took to measure.
fn taped(corners: usize) -> (Measured, u64) {
    let mut list = "x,y\n".to_owned();
    let at = |i: usize| {
        let angle = TAU * i as f64 / corners as f64;
        let radius_m = 0.2 * corners as f64 + if i.is_multiple_of(2) { 0.4 } else { -0.4 };
        (radius_m * angle.cos(), radius_m * angle.sin())
    };
    for (x, y) in (0..corners).map(at) {
        writeln!(list, "{x:.4},{y:.4}").expect("room");
    }
    let mut sheet = "[walk]\nfiles = [\"list.csv\"]\n".to_owned();
    for (a, b) in [(0, 1), (1, 2), (0, 2)] {
        let length_m = (at(a).0 - at(b).0).hypot(at(a).1 - at(b).1);
        let [from, to] = [a, b].map(|i| ["A", "B", "C"][i]);
        writeln!(
            sheet,
            "[[tape]]\nfrom = \"{from}\"\nto = \"{to}\"\nlength_m = {length_m:.3}"
        )
        .expect("room");
    }
    let request = Request {
        logs: vec![Input::Bytes {
            name: "list.csv".into(),
            bytes: list.into_bytes(),
        }],
        job: Job::from_bytes(sheet.as_bytes(), "job.toml", Path::new("nowhere")).expect("a sheet"),
        grid: Some("local".into()),
        ..Request::default()
    };
    let _ = steps::taken();
    let measured = measure(&request).expect("a lawn");
    (measured, steps::taken())
}

/// Once its time grew with the cube of the corners and a large factor: over 20 s for 800.
#[test]
fn a_tape_on_an_edge_of_very_many_corners() {
    let (measured, steps) = taped(800);
    let tape = measured.taped.tape.expect("was set against the walk");
    assert_eq!(tape.checks.len(), 3);
    assert!(tape.adjustment.is_some_and(|report| report.accepted));
    assert!(steps < 20_000_000, "{steps}");
    for warning in &measured.warnings {
        assert!(warning.to_string().len() < 1000, "{}", warning.to_string());
    }
}

#[test]
fn more_corners_than_can_be_set_against_a_tape_are_told() {
    let (measured, steps) = taped(1300);
    assert!(measured.taped.tape.is_none() && measured.area.is_some());
    let told = |w: &boundwalk::notice::Notice| w.code() == "too-many-corners-to-tape";
    assert!(
        measured.warnings.iter().any(told),
        "{:?}",
        measured.warnings
    );
    assert!(steps < 1_000_000, "{steps}");
}

/// Once each file was held against every other: 2000 small logs of one morning took half a minute.
#[test]
fn many_files_of_the_same_time() {
    let steps = |files: usize| {
        let log = |file: usize| {
            let mut table = "time,lat,lon\n".to_owned();
            for s in 0..60 {
                let lat = 52.0 + 1e-3 * file as f64 + 1e-5 * f64::from(s);
                writeln!(table, "2026-05-14T08:00:{s:02}Z,{lat:.7},1.0").expect("room");
            }
            Input::Bytes {
                name: format!("{file}.csv"),
                bytes: table.into_bytes(),
            }
        };
        let logs: Vec<Input> = (0..files).map(log).collect();
        let _ = steps::taken();
        let log = boundwalk::read(&logs).expect("a log");
        assert_eq!(log.fixes.len(), 60 * files);
        steps::taken()
    };
    let (some, twice_as_many) = (steps(200), steps(400));
    assert!(
        some > 0 && 5 * twice_as_many < 12 * some,
        "{some} {twice_as_many}"
    );
}
