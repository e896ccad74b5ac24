//! Made-up lawns for the order's tests and benches.

use geo::{BooleanOps, LineString, MultiPolygon, Polygon};
use std::f64::consts::TAU;

pub use crate::seeded::Seeded;

impl Seeded {
    /// Uniform between `low` and `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
}

pub fn polygon(points: &[(f64, f64)]) -> MultiPolygon<f64> {
    MultiPolygon(vec![Polygon::new(
        points.iter().copied().collect::<LineString<f64>>(),
        vec![],
    )])
}

pub fn circle(x: f64, y: f64, radius: f64, corners: u32) -> MultiPolygon<f64> {
    polygon(
        &(0..corners)
            .map(|k| {
                let angle = TAU * f64::from(k) / f64::from(corners);
                (x + radius * angle.cos(), y + radius * angle.sin())
            })
            .collect::<Vec<_>>(),
    )
}

/// A curved lawn of about `area_m2` with `beds` round beds.
pub fn curved(dice: &mut Seeded, area_m2: f64, corners: u32, beds: usize) -> MultiPolygon<f64> {
    let waves: Vec<(f64, f64)> = (2..6)
        .map(|_| (dice.between(0.0, 0.12), dice.between(0.0, TAU)))
        .collect();
    let stretch = dice.between(1.0, 1.8);
    let size = (area_m2 / std::f64::consts::PI).sqrt();
    let outline: Vec<(f64, f64)> = (0..corners)
        .map(|k| {
            let angle = TAU * f64::from(k) / f64::from(corners);
            let radius = size
                * (1.0
                    + waves
                        .iter()
                        .enumerate()
                        .map(|(n, (a, p))| a * (angle * (n + 2) as f64 + p).cos())
                        .sum::<f64>());
            (
                radius * angle.cos() * stretch.sqrt(),
                radius * angle.sin() / stretch.sqrt(),
            )
        })
        .collect();
    less_beds(dice, polygon(&outline), size, beds)
}

fn less_beds(
    dice: &mut Seeded,
    lawn: MultiPolygon<f64>,
    size: f64,
    beds: usize,
) -> MultiPolygon<f64> {
    (0..beds).fold(lawn, |lawn, _| {
        let radius = dice.between(0.2, 0.18 * size.max(1.5));
        let (x, y) = (
            dice.between(-0.8, 0.8) * size,
            dice.between(-0.8, 0.8) * size,
        );
        lawn.difference(&circle(x, y, radius, 48))
    })
}

/// Any lawn: rectangle, L, triangle, irregular quadrilateral or curved; 12 to 700 m²; turned; up to four beds.
pub fn any(dice: &mut Seeded) -> MultiPolygon<f64> {
    let size = dice.between(3.5, 26.0);
    let part = dice.between(0.4, 1.0);
    let (w, h) = (size, size * part);
    let shape = match dice.below(6) {
        0 => vec![(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)],
        1 => {
            let (a, b) = (w * dice.between(0.3, 0.7), h * dice.between(0.3, 0.7));
            vec![(0.0, 0.0), (w, 0.0), (w, b), (a, b), (a, h), (0.0, h)]
        }
        2 => vec![(0.0, 0.0), (w, 0.0), (w * dice.between(0.1, 0.9), h)],
        3 => vec![
            (0.0, 0.0),
            (w, h * dice.between(-0.2, 0.2)),
            (w * dice.between(0.7, 1.0), h),
            (w * dice.between(0.0, 0.3), h * dice.between(0.7, 1.0)),
        ],
        _ => {
            let beds = dice.below(5);
            return curved(dice, 0.6 * w * h + 8.0, 90, beds);
        }
    };
    let (sin, cos) = dice.between(0.0, TAU).sin_cos();
    let turned: Vec<(f64, f64)> = shape
        .iter()
        .map(|(x, y)| {
            let (x, y) = (x - 0.5 * w, y - 0.5 * h);
            (x * cos - y * sin, x * sin + y * cos)
        })
        .collect();
    let beds = dice.below(4);
    less_beds(dice, polygon(&turned), 0.4 * size, beds)
}
