//! What is odd about how lawns and the things taken off them lie, whatever the walk was like.

use crate::lawn::{Deduction, Laid};
use crate::limits::order::ONE_ADDRESS_M;
use crate::notice::Notice;
use geo::{Centroid, Contains, Distance, Euclidean, Point};

/// Notices for a deduction that takes nothing off (with where it lies instead), one that is larger than all lawns together, lawns that
/// share ground, and lawns far apart.
pub(super) fn doubts(laid: &Laid) -> Vec<Notice> {
    let lawn_m2: f64 = laid.lawns.iter().map(|lawn| lawn.gross_m2).sum();
    let mut told = Vec::new();
    for deduction in &laid.deductions {
        if deduction.area_m2 > lawn_m2 {
            told.push(Notice::DeductionLarger {
                label: deduction.label.clone(),
                area_m2: deduction.area_m2,
                lawn_m2,
            });
        }
        if deduction.deducted_m2 <= 0.0 {
            told.push(takes_nothing(deduction, laid));
        }
    }
    // So much of the lawns, as a part of their area, may be shared without a word: a seam between two lawns that were walked one after
    // the other.
    const SEAM: f64 = 0.01;
    if laid.overlap_m2 > SEAM * lawn_m2 {
        told.push(Notice::LawnsOverlap {
            shared_m2: laid.overlap_m2,
        });
    }
    told.extend(far_apart(laid));
    told
}

/// A notice where lawns of one job lie further apart than one delivery goes: a log of another job may be among them.
fn far_apart(laid: &Laid) -> Option<Notice> {
    let (first, others) = laid.lawns.split_first()?;
    let from = first.outer.centroid()?;
    let away = others.iter().filter_map(|lawn| {
        let apart_m = Euclidean.distance(from, lawn.outer.centroid()?);
        Some((lawn, apart_m))
    });
    let (lawn, apart_m) = away.max_by(|a, b| a.1.total_cmp(&b.1))?;
    (apart_m > ONE_ADDRESS_M).then(|| Notice::LawnsFarApart {
        one: first.label.clone(),
        other: lawn.label.clone(),
        apart_m,
    })
}

/// The notice that says where a deduction lies that takes nothing off: within another one, or away from the lawns.
pub(super) fn takes_nothing(deduction: &Deduction, laid: &Laid) -> Notice {
    let label = deduction.label.clone();
    let away_m = laid
        .lawns
        .iter()
        .map(|lawn| Euclidean.distance(&lawn.outer, &deduction.outline))
        .fold(f64::INFINITY, f64::min);
    let centre = Point(deduction.centre);
    let over = |other: &&Deduction| other.deducted_m2 > 0.0 && other.outline.contains(&centre);
    match laid.deductions.iter().find(over) {
        Some(other) => Notice::DeductedTwice {
            label,
            within: other.label.clone(),
        },
        None => Notice::DeductsNothing { label, away_m },
    }
}
