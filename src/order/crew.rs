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
    /// Working hours from one delivery to the next.
    pub hours_per_delivery: f64,
    pub deliveries: Vec<Drop>,
}

/// One delivery.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drop {
    /// Working day it comes on, from 1: in the morning, or the first of several in the order of the list.
    pub day: u64,
    pub pieces: u64,
    pub pallets: u64,
    pub kg: f64,
}

/// More deliveries than this would be a slip of the rate.
const MOST_DROPS: u64 = 1000;

/// How deliveries follow the working days.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Rhythm {
    /// Working hours from one delivery to the next.
    hours: f64,
    /// So many a day, at even intervals, where turf does not keep for a day of work; else 1.
    a_day: u64,
    /// Or one every so many days, in the morning.
    days: u64,
}

/// Turf comes in the morning, for as many whole days as it keeps to the end of; where it keeps for less than a day's work it comes
/// several times a day.
fn rhythm(lay_within_h: f64, hours_per_day: f64) -> Rhythm {
    if lay_within_h < hours_per_day {
        let a_day = (hours_per_day / lay_within_h).ceil();
        return Rhythm {
            hours: hours_per_day / a_day,
            a_day: a_day as u64,
            days: 1,
        };
    }
    let days = 1.0 + ((lay_within_h - hours_per_day) / 24.0).floor();
    Rhythm {
        hours: days * hours_per_day,
        a_day: 1,
        days: days as u64,
    }
}

pub(super) fn plan(settings: &Settings, turf: &Turf) -> Laying {
    let piece_m2 = turf.piece_width_m * turf.piece_length_m;
    // Spare pieces are not laid.
    let hours = turf.laid_pieces as f64 * piece_m2 / settings.lay_m2_per_hour;
    let rhythm = rhythm(settings.lay_within_h, settings.hours_per_day);
    let most = ((rhythm.hours * settings.lay_m2_per_hour / piece_m2) as u64).max(1);
    let count = turf.ordered_pieces.div_ceil(most).max(1);
    let pallet = turf.pieces_per_pallet;
    // Even shares, of whole pallets if that keeps within what can be laid; for several days at once as much as can be, so that
    // no day is left half idle.
    let even = if rhythm.days > 1 {
        most
    } else {
        turf.ordered_pieces.div_ceil(count)
    };
    let mut each = match even.div_ceil(pallet) * pallet {
        full if full <= most => full,
        _ => even,
    };
    if count > MOST_DROPS {
        each = turf.ordered_pieces.div_ceil(MOST_DROPS);
    }
    let mut left = turf.ordered_pieces;
    let mut deliveries: Vec<Drop> = Vec::new();
    while left > 0 {
        let pieces = left.min(each);
        deliveries.push(Drop {
            day: 1 + deliveries.len() as u64 / rhythm.a_day * rhythm.days,
            pieces,
            pallets: pieces.div_ceil(pallet),
            kg: pieces as f64 * turf.kg_per_piece,
        });
        left -= pieces;
    }
    let days = deliveries.last().map_or(0, |last| {
        let takes_h = last.pieces as f64 * piece_m2 / settings.lay_m2_per_hour;
        last.day - 1 + whole_up(takes_h / settings.hours_per_day).max(1)
    });
    Laying {
        lay_m2_per_hour: settings.lay_m2_per_hour,
        hours_per_day: settings.hours_per_day,
        lay_within_h: settings.lay_within_h,
        hours,
        days,
        hours_per_delivery: rhythm.hours,
        deliveries,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: eight hours of work a day.
    #[test]
    fn turf_comes_when_it_can_be_laid_fresh() {
        let of = |lay_within_h| {
            let r = rhythm(lay_within_h, 8.0);
            (r.hours, r.a_day, r.days)
        };
        assert_eq!(of(24.0), (8.0, 1, 1)); // the next morning's hour is not worth a late roll
        assert_eq!(of(8.0), (8.0, 1, 1));
        assert_eq!(of(4.0), (4.0, 2, 1)); // in heat
        assert_eq!(of(3.0), (8.0 / 3.0, 3, 1));
        assert_eq!(of(32.0), (16.0, 1, 2)); // to the end of the second day
        assert_eq!(of(48.0), (16.0, 1, 2));
    }
}
