//! How long laying takes, and in which deliveries the turf comes. Cut turf spoils within a day or so, so it must not come faster
//! than the crew can lay it, and no delivery may be more than the vehicle carries. From the job sheet's settings of crew and
//! delivery and the turf that was ordered this works out first the visits (turf that comes at one time) and then splits
//! each of them into loads of one vehicle.

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
    /// Working hours that laying takes in all, spare pieces not counted.
    pub hours: f64,
    /// The working day on which laying ends, from 1.
    pub days: u64,
    /// Working hours from one delivery to the next.
    pub hours_per_delivery: f64,
}

/// One delivery.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drop {
    /// The working day on which it comes, counted from 1. Several deliveries of one day come in the order of the list.
    pub day: u64,
    pub pieces: u64,
    pub pallets: u64,
    pub kg: f64,
}

/// More deliveries than this can only come from a slip in the crew's rate or the vehicle's size. Visits, and the loads of each
/// visit, are kept to about this many.
const MOST_DROPS: u64 = 1000;

/// How deliveries follow the working days.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Rhythm {
    /// Working hours from one delivery to the next.
    hours: f64,
    /// Deliveries in a day, at even intervals: more than 1 only where turf does not keep for a day of work.
    a_day: u64,
    /// Working days from one delivery, or one day's deliveries, to the next.
    days: u64,
}

/// Turf comes in the morning, enough for as many whole working days as end before it spoils. Where it keeps for less than a
/// day's work it comes several times a day.
fn rhythm(lay_within_h: f64, hours_per_day: f64) -> Rhythm {
    if lay_within_h < hours_per_day {
        let a_day = (hours_per_day / lay_within_h).ceil();
        return Rhythm {
            hours: hours_per_day / a_day,
            a_day: a_day as u64,
            days: 1,
        };
    }
    // The first day's work ends `hours_per_day` after the delivery, each further day's 24 hours later.
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

/// How long laying takes, and every delivery. The first needs the crew's rate; without it, but with settings for delivery, all turf
/// comes on the first day. With neither, nothing is planned: `None` and an empty list.
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

/// How long this crew takes, and when turf must come for it.
fn laying(settings: &Settings, turf: &Turf) -> (Laying, Vec<Visit>) {
    let piece_m2 = turf.piece_width_m * turf.piece_length_m;
    // Spare pieces are not laid.
    let hours = turf.laid_pieces as f64 * piece_m2 / settings.lay_m2_per_hour;
    let rhythm = rhythm(settings.lay_within_h, settings.hours_per_day);
    let visits = visits(settings, turf, &rhythm);
    // Laying ends as many days after the last visit as the turf of that visit takes.
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

/// When how much turf must come to be laid fresh, however many vehicles bring it. `most` is what the crew can lay from one visit
/// to the next; at least one piece comes each time.
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
        // Where all that is left can be laid before the next visit, it comes now instead of on a further day.
        let pieces = if left <= most { left } else { left.min(each) };
        visits.push(Visit {
            day: 1 + visits.len() as u64 / rhythm.a_day * rhythm.days,
            pieces,
        });
        left -= pieces;
    }
    visits
}

/// How many full pallets a vehicle carries by their weight. The factor keeps rounding from losing a pallet that just fits.
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

/// Every visit split into what one vehicle brings at a time, by the weight and by the number of pallets it carries, whichever is
/// less. Each load is of whole pallets, but for the last one of a visit. A vehicle too small for one pallet is taken to bring one;
/// [`too_small`] tells of it.
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
    let most_loads = (MOST_DROPS / visits.len().max(1) as u64).max(1);
    let mut drops = Vec::new();
    for visit in visits {
        // A vehicle's size that is a slip of the pen must not make an endless list.
        let most = most.max(visit.pieces.div_ceil(most_loads));
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
