//! How long laying takes, and in how many deliveries turf must come to be laid fresh.

use super::turf::Turf;
use super::whole_up;
use crate::job::order::Crew as Settings;
use serde::Serialize;

/// `order.laying` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Laying {
    pub lay_m2_per_hour: f64,
    pub hours_per_day: f64,
    /// Turf is laid within this time of its delivery.
    pub lay_within_h: f64,
    pub hours: f64,
    pub days: u64,
    /// Working hours within `lay_within_h`, where a delivery comes at the start of a working day.
    pub hours_per_delivery: f64,
    pub deliveries: Vec<Drop>,
}

/// One delivery.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drop {
    /// Working day it comes at the start of, from 1; with several a day, in their order.
    pub day: u64,
    pub pieces: u64,
    pub pallets: u64,
    pub kg: f64,
}

/// More deliveries than this would be a slip of the rate.
const MOST_DROPS: u64 = 1000;

/// Hours of work in `lay_within_h` hours from the start of a working day.
fn working_hours(lay_within_h: f64, hours_per_day: f64) -> f64 {
    let days = (lay_within_h / 24.0).floor();
    days * hours_per_day + (lay_within_h - 24.0 * days).min(hours_per_day)
}

pub(super) fn plan(settings: &Settings, turf: &Turf) -> Laying {
    let piece_m2 = turf.piece_width_m * turf.piece_length_m;
    let hours = turf.ordered_pieces as f64 * piece_m2 / settings.lay_m2_per_hour;
    let hours_per_delivery = working_hours(settings.lay_within_h, settings.hours_per_day);
    let most = ((hours_per_delivery * settings.lay_m2_per_hour / piece_m2) as u64).max(1);
    let count = turf.ordered_pieces.div_ceil(most).clamp(1, MOST_DROPS);
    let each = turf.ordered_pieces.div_ceil(count);
    // Whole pallets come whole, if that keeps within what can be laid.
    let pallet = turf.pieces_per_pallet;
    let each = match each.div_ceil(pallet) * pallet {
        full if full <= most => full,
        _ => each,
    };
    let mut left = turf.ordered_pieces;
    let mut laid = 0;
    let mut deliveries = Vec::new();
    while left > 0 {
        let pieces = left.min(each);
        deliveries.push(Drop {
            day: 1
                + (laid as f64 * piece_m2 / settings.lay_m2_per_hour / settings.hours_per_day)
                    as u64,
            pieces,
            pallets: pieces.div_ceil(pallet),
            kg: pieces as f64 * turf.kg_per_piece,
        });
        left -= pieces;
        laid += pieces;
    }
    Laying {
        lay_m2_per_hour: settings.lay_m2_per_hour,
        hours_per_day: settings.hours_per_day,
        lay_within_h: settings.lay_within_h,
        hours,
        days: whole_up(hours / settings.hours_per_day),
        hours_per_delivery,
        deliveries,
    }
}
