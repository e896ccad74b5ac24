//! How long it takes to search for the rows of turf that need the fewest pieces on a lawn.

#[path = "../tests/order/lawns.rs"]
mod lawns;
#[path = "../tests/made/seeded.rs"]
mod seeded;

use boundwalk::order::rule::Rule;
use boundwalk::order::search::search;
use geo::{Area, MultiPolygon};
use lawns::{Seeded, any, curved};

const ROLL: Rule = Rule {
    length_m: 2.5,
    min_piece_m: 0.5,
    stagger_m: 0.3,
};

fn main() {
    divan::main();
}

/// Lays the lawn, and gives how many pieces it takes. A piece covers 1 m², so a layout with fewer pieces than square metres is wrong and
/// fails the benchmark: fast and wrong is worth nothing.
fn pieces(lawn: &MultiPolygon<f64>) -> u32 {
    let Some(laid) = search(lawn, lawn, 0.4, &ROLL, None) else {
        panic!("no layout");
    };
    assert!(f64::from(laid.packing.pieces) > lawn.unsigned_area());
    laid.packing.pieces
}

/// A curved lawn of 100 m² with three beds, and as many corners as a walk with one position a second gives it.
#[divan::bench(sample_count = 20)]
fn garden(bencher: divan::Bencher) {
    let lawn = curved(&mut Seeded(7), 100.0, 120, 3);
    bencher.bench(|| pieces(&lawn));
}

/// A curved lawn of 2 ha with twenty beds, and as many corners as a walk with one position a second gives it.
#[divan::bench(sample_count = 5)]
fn two_hectares(bencher: divan::Bencher) {
    let lawn = curved(&mut Seeded(8), 20_000.0, 600, 20);
    bencher.bench(|| pieces(&lawn));
}

/// Twenty lawns of all shapes and sizes.
#[divan::bench(sample_count = 5)]
fn twenty_lawns(bencher: divan::Bencher) {
    let mut dice = Seeded(9);
    let lawns: Vec<MultiPolygon<f64>> = (0..20).map(|_| any(&mut dice)).collect();
    bencher.bench(|| lawns.iter().map(pieces).sum::<u32>());
}
