//! The example survey in `fixtures/garden` is what the simulator writes. With BOUNDWALK_WRITE set it is written anew first.

use crate::trial::garden::garden;
use std::fs;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden")
}

#[test]
fn the_simulator_still_writes_these_bytes() {
    let write = std::env::var_os("BOUNDWALK_WRITE").is_some();
    let mut total = 0;
    for (name, bytes) in garden().files {
        if write {
            fs::write(folder().join(name), &bytes).unwrap();
        }
        let committed = fs::read(folder().join(name)).unwrap_or_default();
        let line = committed
            .split(|b| *b == b'\n')
            .zip(bytes.split(|b| *b == b'\n'))
            .position(|(a, b)| a != b);
        assert!(
            committed == bytes,
            "{name} differs, first in line {line:?} (from 0)"
        );
        total += bytes.len();
    }
    assert!(total < 400_000, "{total} bytes");
}

#[test]
fn the_truth_is_what_the_drawing_says() {
    let truth = garden().truth;
    // The five corners by hand: cross products 0, 176.8, 190.92, 48.3, 0; the arc over the chord of 13.2439 m with
    // a rise of 1.1 m: R = 13.2439² / 8.8 + 0.55 = 20.482 m, segment R²/2 (phi - sin phi) = 9.767 m².
    let chord = (12.8_f64.powi(2) + 3.4 * 3.4).sqrt();
    let radius = chord * chord / 8.8 + 0.55;
    let phi = 2.0 * (chord / (2.0 * radius)).asin();
    let segment = radius * radius / 2.0 * (phi - phi.sin());
    let polygon = (17.0 * 10.4 + (17.0 * 13.8 - 4.2 * 10.4) + 4.2 * 11.5) / 2.0;
    assert!((truth.gross_m2 - polygon - segment).abs() < 1e-9);
    assert!((truth.patio_m2 - 3.6 * 2.8).abs() < 1e-9);
}
