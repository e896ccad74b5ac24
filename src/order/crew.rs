//! How long laying takes, and in how many deliveries turf must come to be laid fresh, and to fit on its vehicle.

use super::turf::Turf;
use super::whole_up;
use crate::job::order::{Crew as Settings, Delivery};
use crate::notice::Notice;
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

/// Turf that comes at one time, by one vehicle or several.
#[derive(Debug, Clone, Copy)]
struct Visit {
    day: u64,
    pieces: u64,
}

/// How long laying takes, where a crew's rate is given, and every delivery, where that or a vehicle is.
pub(super) fn plan(
    crew: Option<&Settings>,
    delivery: Option<&Delivery>,
    turf: &Turf,
) -> (Option<Laying>, Vec<Drop>) {
    let (laying, visits) = match (crew, delivery) {
        (Some(crew), _) => {
            let (laying, visits) = laying(crew, turf);
            (Some(laying), visits)
        }
        (None, Some(_)) => (
            None,
            vec![Visit {
                day: 1,
                pieces: turf.ordered_pieces,
            }],
        ),
        (None, None) => return (None, Vec::new()),
    };
    (laying, loads(&visits, turf, delivery))
}

fn laying(settings: &Settings, turf: &Turf) -> (Laying, Vec<Visit>) {
    let piece_m2 = turf.piece_width_m * turf.piece_length_m;
    // Spare pieces are not laid.
    let hours = turf.laid_pieces as f64 * piece_m2 / settings.lay_m2_per_hour;
    let rhythm = rhythm(settings.lay_within_h, settings.hours_per_day);
    let visits = visits(settings, turf, &rhythm);
    let days = visits.last().map_or(0, |last| {
        let takes_h = last.pieces as f64 * piece_m2 / settings.lay_m2_per_hour;
        last.day - 1 + whole_up(takes_h / settings.hours_per_day).max(1)
    });
    let laying = Laying {
        lay_m2_per_hour: settings.lay_m2_per_hour,
        hours_per_day: settings.hours_per_day,
        lay_within_h: settings.lay_within_h,
        hours,
        days,
        hours_per_delivery: rhythm.hours,
    };
    (laying, visits)
}

/// When turf must come to be laid fresh, however many vehicles bring it.
fn visits(settings: &Settings, turf: &Turf, rhythm: &Rhythm) -> Vec<Visit> {
    let piece_m2 = turf.piece_width_m * turf.piece_length_m;
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
        // Whole pallets, so that no visit breaks one; less than a pallet comes at once only where such are sold.
        _ if pallet <= most || !turf.part_pallets => (most / pallet).max(1) * pallet,
        _ => even,
    };
    if count > MOST_DROPS {
        each = turf.ordered_pieces.div_ceil(MOST_DROPS);
    }
    let mut left = turf.ordered_pieces;
    let mut visits: Vec<Visit> = Vec::new();
    while left > 0 {
        // What is left breaks no pallet: it need not wait for another day where it can be laid in this one.
        let pieces = if left <= most { left } else { left.min(each) };
        visits.push(Visit {
            day: 1 + visits.len() as u64 / rhythm.a_day * rhythm.days,
            pieces,
        });
        left -= pieces;
    }
    visits
}

/// How many full pallets a vehicle carries by their weight.
fn carried(vehicle_t: f64, turf: &Turf) -> u64 {
    (1000.0 * vehicle_t / turf.pallet_kg * (1.0 + 1e-9)) as u64
}

/// Tells of a vehicle that carries not even one pallet.
pub(super) fn too_small(delivery: Option<&Delivery>, turf: &Turf) -> Option<Notice> {
    let vehicle_t = delivery?.vehicle_t?;
    (carried(vehicle_t, turf) == 0).then_some(Notice::VehicleTooSmall {
        pallet_t: turf.pallet_kg / 1000.0,
        vehicle_t,
    })
}

/// Each load that comes: of whole pallets but for the last of a visit, and no more than one vehicle brings.
fn loads(visits: &[Visit], turf: &Turf, delivery: Option<&Delivery>) -> Vec<Drop> {
    let vehicle_t = delivery.and_then(|d| d.vehicle_t);
    let by_weight = vehicle_t.map(|vehicle_t| carried(vehicle_t, turf).max(1));
    let by_room = delivery.and_then(|d| d.pallets_per_drop).map(u64::from);
    let most = by_weight
        .into_iter()
        .chain(by_room)
        .min()
        .unwrap_or(u64::MAX);
    let most = most.saturating_mul(turf.pieces_per_pallet);
    let mut drops = Vec::new();
    for visit in visits {
        // A slip of the vehicle's size makes no endless list.
        let most = most.max(visit.pieces.div_ceil(MOST_DROPS));
        let mut left = visit.pieces;
        while left > 0 {
            let pieces = left.min(most);
            drops.push(Drop {
                day: visit.day,
                pieces,
                pallets: pieces.div_ceil(turf.pieces_per_pallet),
                kg: pieces as f64 * turf.kg_per_piece,
            });
            left -= pieces;
        }
    }
    drops
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
