//! A yard full of logs: as many invented walks as are asked for, with logs of about the same size, to see how a day of many surveys
//! goes.

use super::chance::Chance;
use super::place::{AT_SEA, Place};
use super::receiver::{Claim, Class, Ground, Receiver, receive};
use super::shape::{Outline, Shape};
use super::walker::{Habits, Turn, walk};
use super::write::nmea;
use jiff::civil::date;

/// About how many bytes [`nmea`] writes for one epoch.
const BYTES_AN_EPOCH: usize = 195;
/// How far apart the lawns lie, in degrees, so that no two neighbours are taken for the same lawn.
const APART_DEG: f64 = 0.01;

/// The log of walk `number`, about `bytes` long: a lawn of 100 to 900 m², walked with an RTK receiver that gives one position a second,
/// in as many laps as fill the log. The same number gives the same bytes.
pub fn log(number: u64, bytes: usize) -> Vec<u8> {
    let mut chance = Chance::stream(number, "yard");
    let shape = Shape::ALL[chance.below(Shape::ALL.len())];
    let outline = Outline::random(shape, chance.log_between(100.0, 900.0), &mut chance).centred();
    let mut habits = Habits::random(&outline, 1, &mut chance);
    let stops_s = habits.pause_s.map_or(0.0, |(short, long)| {
        0.5 * (short + long) * outline.corners_m.len() as f64
    });
    let lap_s = outline.perimeter_m / habits.speed_mps + stops_s;
    let laps = (bytes as f64 / BYTES_AN_EPOCH as f64 / lap_s)
        .round()
        .max(1.0) as usize;
    let turn = habits.laps.first().copied().unwrap_or(Turn::Clockwise);
    habits.laps = vec![turn; laps];
    let receiver = Receiver::random(Class::RtkFixed, Claim::Sigma, &mut chance);
    let place = Place {
        lat_deg: AT_SEA[0].lat_deg + APART_DEG * (number % 100) as f64,
        lon_deg: AT_SEA[0].lon_deg + APART_DEG * (number / 100 % 100) as f64,
        ..AT_SEA[0]
    };
    let moments = walk(&outline, &habits, 1.0, &mut chance);
    let epochs = receive(&moments, &receiver, &place, Ground::default(), &mut chance);
    nmea(&epochs, date(2026, 5, 14).at(8, 0, 0, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logs_are_of_the_size_asked_for_and_no_two_the_same() {
        let logs: Vec<Vec<u8>> = (0..20).map(|number| log(number, 150_000)).collect();
        let all: usize = logs.iter().map(Vec::len).sum();
        assert!(
            (130_000..170_000).contains(&(all / logs.len())),
            "{}",
            all / logs.len()
        );
        assert!(logs.windows(2).all(|w| w[0] != w[1]));
        assert_eq!(log(7, 150_000), logs[7]);
    }
}
