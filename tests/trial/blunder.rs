//! Blunders: what goes wrong beyond the ordinary error of a receiver, put into a log on purpose. A trial then counts how many of
//! them boundwalk notices.

use super::chance::Chance;
use super::receiver::Epoch;
use boundwalk::fix::Quality;

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Blunder {
    /// One fix (a position in the log) is 1 to 30 m off.
    Jump,
    /// Every fix of some seconds is off by the same 1 to 30 m.
    Shift,
    /// The position stays where it is while the surveyor walks on.
    Frozen,
    /// For some seconds there is no position, and the log says so.
    Lost,
    /// The log holds nothing of the time in which a corner (or a bend) is walked round.
    Gap,
    /// North stands for south, or east for west, in one fix or some.
    Hemisphere,
    /// The latitude is a minute too much or too little, in one fix or some.
    Minute,
    /// The receiver reckons positions in two ways whose results are metres apart. They take turns, or both stand in every epoch.
    TwoEngines,
    /// The position drifts 2 to 10 m away, and what the receiver claims does not say so.
    Drift,
}

impl Blunder {
    /// The blunders that take turns in one set of walks. Drifts have a set of their own.
    pub const TAKEN_IN_TURN: [Blunder; 8] = [
        Blunder::Jump,
        Blunder::Shift,
        Blunder::Frozen,
        Blunder::Lost,
        Blunder::Gap,
        Blunder::Hemisphere,
        Blunder::Minute,
        Blunder::TwoEngines,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Blunder::Jump => "jump",
            Blunder::Shift => "shift",
            Blunder::Frozen => "frozen",
            Blunder::Lost => "lost",
            Blunder::Gap => "gap",
            Blunder::Hemisphere => "hemisphere",
            Blunder::Minute => "minute",
            Blunder::TwoEngines => "two-engines",
            Blunder::Drift => "drift",
        }
    }
}

/// Metres to a degree of latitude, near enough for a blunder's size.
const PER_DEGREE_M: f64 = 111_200.0;

/// Puts the blunder into the log, somewhere on a lap, and says in words what was done.
pub fn inject(
    blunder: Blunder,
    epochs: &mut Vec<Epoch>,
    corners_m: &[f64],
    perimeter_m: f64,
    chance: &mut Chance,
) -> String {
    let on_lap: Vec<usize> = (0..epochs.len())
        .filter(|i| epochs.get(*i).is_some_and(|e| e.truth.lap.is_some()))
        .collect();
    let Some(at) = on_lap.get(chance.below(on_lap.len())).copied() else {
        return "nothing: no lap was walked".into();
    };
    let at_s = epochs[at].time_s;
    let stretch = |seconds: f64| move |e: &&mut Epoch| (at_s..at_s + seconds).contains(&e.time_s);
    match blunder {
        Blunder::Jump | Blunder::Shift => {
            let metres = chance.log_between(1.0, 30.0);
            let angle = chance.between(0.0, std::f64::consts::TAU);
            let seconds = match blunder {
                Blunder::Jump => 1e-6,
                // One in four lasts to the end of the log.
                _ if chance.happens(0.25) => f64::MAX,
                _ => chance.log_between(2.0, 120.0),
            };
            epochs.iter_mut().filter(stretch(seconds)).for_each(|e| {
                displace(e, metres * angle.cos(), metres * angle.sin());
            });
            let lasting = match blunder {
                Blunder::Jump => "one fix".into(),
                _ if seconds == f64::MAX => "to the end".into(),
                _ => format!("{seconds:.0} s"),
            };
            format!("{metres:.1} m off at {at_s:.1} s, {lasting}")
        }
        Blunder::Drift => drift(epochs, at_s, chance),
        Blunder::Frozen => {
            let seconds = chance.log_between(3.0, 60.0);
            let (lat, lon, height) = (epochs[at].lat_deg, epochs[at].lon_deg, epochs[at].height_m);
            epochs.iter_mut().filter(stretch(seconds)).for_each(|e| {
                (e.lat_deg, e.lon_deg, e.height_m) = (lat, lon, height);
            });
            format!("frozen at {at_s:.1} s for {seconds:.0} s")
        }
        Blunder::Lost => {
            let seconds = chance.log_between(1.0, 60.0);
            epochs
                .iter_mut()
                .filter(stretch(seconds))
                .for_each(|e| e.quality = Quality::NoFix);
            format!("no fix at {at_s:.1} s for {seconds:.0} s")
        }
        Blunder::Gap => {
            // The gap reaches from some metres before a corner to some metres after it. Without corners it is any stretch.
            let from_m = chance.between(1.0, 8.0);
            let to_m = chance.between(1.0, 8.0);
            let centre_m = match corners_m.get(chance.below(corners_m.len())) {
                Some(corner_m) => *corner_m,
                None => chance.between(0.0, perimeter_m),
            };
            let lap = epochs[at].truth.lap;
            let mut gone = Vec::new();
            let near = |along_m: f64| {
                let ahead = (along_m - centre_m + perimeter_m / 2.0).rem_euclid(perimeter_m)
                    - perimeter_m / 2.0;
                -from_m < ahead && ahead < to_m
            };
            for (i, epoch) in epochs.iter().enumerate() {
                if epoch.truth.lap == lap && epoch.truth.along_m.is_some_and(near) {
                    gone.push(i);
                }
            }
            // What was logged while standing at the corner goes too: all epochs between the first and the last of one run.
            let mut run: Vec<usize> = Vec::new();
            for i in gone {
                let gap_s = run
                    .last()
                    .map_or(0.0, |l| epochs[i].time_s - epochs[*l].time_s);
                if gap_s > 20.0 {
                    break;
                }
                run.push(i);
            }
            let (Some(first), Some(last)) = (run.first(), run.last()) else {
                return "nothing: no fix near that corner".into();
            };
            let text = format!(
                "nothing logged from {:.1} s to {:.1} s",
                epochs[*first].time_s, epochs[*last].time_s
            );
            epochs.drain(*first..=*last);
            text
        }
        Blunder::Hemisphere => {
            let seconds = one_or_some(chance);
            let north = chance.happens(0.5);
            epochs.iter_mut().filter(stretch(seconds)).for_each(|e| {
                if north {
                    e.lat_deg = -e.lat_deg;
                } else {
                    e.lon_deg = -e.lon_deg;
                }
            });
            let what = if north { "latitude" } else { "longitude" };
            format!("{what} of the other hemisphere at {at_s:.1} s, {seconds:.1} s")
        }
        Blunder::Minute => {
            let seconds = one_or_some(chance);
            let sign = if chance.happens(0.5) { 1.0 } else { -1.0 };
            epochs
                .iter_mut()
                .filter(stretch(seconds))
                .for_each(|e| e.lat_deg += sign / 60.0);
            format!("latitude a minute off at {at_s:.1} s, {seconds:.1} s")
        }
        Blunder::TwoEngines => {
            let metres = chance.log_between(1.5, 10.0);
            let angle = chance.between(0.0, std::f64::consts::TAU);
            let (east, north) = (metres * angle.cos(), metres * angle.sin());
            // This goes on through the whole log, or from this place on.
            let from_s = if chance.happens(0.5) { 0.0 } else { at_s };
            if chance.happens(0.5) {
                for (i, e) in epochs.iter_mut().enumerate() {
                    if i % 2 == 1 && e.time_s >= from_s {
                        displace(e, east, north);
                    }
                }
                return format!("every other fix {metres:.1} m off from {from_s:.1} s");
            }
            let mut both = Vec::with_capacity(epochs.len() * 2);
            for e in epochs.drain(..) {
                let mut other = e.clone();
                displace(&mut other, east, north);
                other.talker = "GA";
                let twice = e.time_s >= from_s;
                both.push(e);
                if twice {
                    both.push(other);
                }
            }
            *epochs = both;
            format!("a second engine {metres:.1} m off from {from_s:.1} s")
        }
    }
}

/// Lets the positions drift evenly in one direction from a moment on. The drift goes on to the end of the log, or stops before it and
/// stays as large as it then is.
fn drift(epochs: &mut [Epoch], from_s: f64, chance: &mut Chance) -> String {
    let metres = chance.between(2.0, 10.0);
    let angle = chance.between(0.0, std::f64::consts::TAU);
    let rest_s = epochs.last().map_or(0.0, |e| e.time_s) - from_s;
    let part = if chance.happens(0.5) {
        1.0
    } else {
        chance.between(0.2, 1.0)
    };
    let seconds = (part * rest_s).max(1e-6);
    for e in epochs.iter_mut().filter(|e| e.time_s > from_s) {
        let gone_m = metres * ((e.time_s - from_s) / seconds).min(1.0);
        displace(e, gone_m * angle.cos(), gone_m * angle.sin());
    }
    format!("drifts {metres:.1} m off from {from_s:.1} s on, over {seconds:.0} s")
}

/// For how many seconds a blunder lasts: one fix, or a stretch of 1 to 30 s.
fn one_or_some(chance: &mut Chance) -> f64 {
    if chance.happens(0.5) {
        1e-6
    } else {
        chance.log_between(1.0, 30.0)
    }
}

/// Moves a position by so many metres east and north.
fn displace(epoch: &mut Epoch, east_m: f64, north_m: f64) {
    let circle_m = PER_DEGREE_M * epoch.lat_deg.to_radians().cos();
    epoch.lat_deg += north_m / PER_DEGREE_M;
    epoch.lon_deg = (epoch.lon_deg + east_m / circle_m + 180.0).rem_euclid(360.0) - 180.0;
}

#[cfg(test)]
mod tests {
    use super::super::place::AT_SEA;
    use super::super::receiver::{Claim, Class, Ground, Receiver, receive};
    use super::super::shape::{Outline, Shape};
    use super::super::walker::{Habits, walk};
    use super::*;

    #[test]
    fn every_blunder_changes_the_log_and_says_so() {
        let mut chance = Chance::new(21);
        let outline = Outline::random(Shape::L, 300.0, &mut chance);
        let habits = Habits::random(&outline, 2, &mut chance);
        let moments = walk(&outline, &habits, 1.0, &mut chance);
        let receiver = Receiver::random(Class::RtkFixed, Claim::Sigma, &mut chance);
        let clean = receive(
            &moments,
            &receiver,
            &AT_SEA[1],
            Ground::default(),
            &mut chance,
        );
        for blunder in Blunder::TAKEN_IN_TURN.into_iter().chain([Blunder::Drift]) {
            for seed in 0..20 {
                let mut spoilt = clean.clone();
                let mut chance = Chance::new(seed);
                let said = inject(
                    blunder,
                    &mut spoilt,
                    &outline.corners_m,
                    outline.perimeter_m,
                    &mut chance,
                );
                assert!(!said.is_empty());
                // Where nothing could be done, the words begin with "nothing". In every other case something has changed.
                assert!(spoilt != clean || said.starts_with("nothing"), "{said}");
                assert!(
                    spoilt
                        .iter()
                        .all(|e| e.lat_deg.abs() <= 90.0 && e.lon_deg.abs() <= 180.0)
                );
            }
        }
    }
}
