//! Invented ways that are no walk round a lawn (hikes, drives, mowing, wandering), and some that are: seeded, recorded by invented
//! receivers.

use crate::trial::chance::Chance;
use crate::trial::place::AT_SEA;
use crate::trial::receiver::{Claim, Class, Ground, Receiver, receive};
use crate::trial::shape::{Outline, Shape};
use crate::trial::walker::{Habits, Moment, walk};
use crate::trial::write::{gpx, nmea};
use geo::Coord;
use jiff::civil::date;
use std::f64::consts::TAU;

/// A way: its places, and how fast it is gone.
pub struct Way {
    pub at: Vec<Coord<f64>>,
    pub pace_m_s: f64,
}

fn xy(x: f64, y: f64) -> Coord<f64> {
    Coord { x, y }
}

/// A path that wanders as paths in the country do, a place every 10 m.
fn path(
    from: Coord<f64>,
    mut heading: f64,
    length_m: f64,
    bend: f64,
    chance: &mut Chance,
) -> Vec<Coord<f64>> {
    let mut at = vec![from];
    let mut turning = 0.0;
    for _ in 0..(length_m / 10.0) as usize {
        turning = 0.9 * turning + bend * chance.normal();
        heading += turning;
        let last = at[at.len() - 1];
        at.push(last + xy(heading.cos(), heading.sin()) * 10.0);
    }
    at
}

/// The same path some way to its right (below zero: left), metres.
fn beside(path: &[Coord<f64>], right_m: f64) -> Vec<Coord<f64>> {
    (0..path.len())
        .map(|i| {
            let (a, b) = (path[i.saturating_sub(1)], path[(i + 1).min(path.len() - 1)]);
            let along = b - a;
            let size = along.x.hypot(along.y).max(1e-9);
            path[i] + xy(along.y, -along.x) * (right_m / size)
        })
        .collect()
}

/// Points of a closed curve whose distance from the middle varies smoothly, places 5 m apart or nearer.
fn round(middle: Coord<f64>, radius_m: f64, uneven: f64, chance: &mut Chance) -> Vec<Coord<f64>> {
    let waves: Vec<(f64, f64, f64)> = (2..5)
        .map(|k| {
            (
                f64::from(k),
                uneven * chance.normal() / f64::from(k),
                chance.between(0.0, TAU),
            )
        })
        .collect();
    let n = ((TAU * radius_m / 5.0) as usize).max(24);
    let begin = chance.between(0.0, TAU);
    (0..=n)
        .map(|i| {
            let angle = TAU * i as f64 / n as f64;
            let swell: f64 = waves
                .iter()
                .map(|(k, by, at)| by * (k * angle + at).cos())
                .sum();
            middle + xy((angle + begin).cos(), (angle + begin).sin()) * (radius_m * (1.0 + swell))
        })
        .collect()
}

/// There and back by the same path, a metre or so to either side of it.
pub fn out_and_back(chance: &mut Chance) -> Way {
    let out = path(
        xy(0.0, 0.0),
        0.0,
        chance.between(300.0, 4000.0),
        0.03,
        chance,
    );
    let mut home: Vec<_> = beside(&out, chance.between(-1.0, 1.0));
    home.reverse();
    Way {
        at: [out, home].concat(),
        pace_m_s: chance.between(1.0, 1.6),
    }
}

/// There on one side of a road and back on the other.
pub fn both_sides(chance: &mut Chance) -> Way {
    let road = path(
        xy(0.0, 0.0),
        0.0,
        chance.between(300.0, 4000.0),
        0.03,
        chance,
    );
    let half_m = chance.between(2.0, 4.0);
    let mut home = beside(&road, -half_m);
    home.reverse();
    Way {
        at: [beside(&road, half_m), home].concat(),
        pace_m_s: chance.between(1.0, 1.6),
    }
}

/// From one place to another.
pub fn one_way(chance: &mut Chance) -> Way {
    Way {
        at: path(
            xy(0.0, 0.0),
            0.0,
            chance.between(500.0, 6000.0),
            0.08,
            chance,
        ),
        pace_m_s: 1.3,
    }
}

/// Along a path to a round, round it, and back by the path.
pub fn round_at_the_end(chance: &mut Chance) -> Way {
    let out = path(
        xy(0.0, 0.0),
        0.0,
        chance.between(800.0, 3000.0),
        0.03,
        chance,
    );
    let radius_m = chance.between(20.0, 120.0);
    let end = out[out.len() - 1];
    let mut ring = round(end, radius_m, 0.1, chance);
    let shift = end - ring[0];
    ring.iter_mut().for_each(|at| *at = *at + shift);
    let mut home = beside(&out, chance.between(-1.0, 1.0));
    home.reverse();
    Way {
        at: [out, ring, home].concat(),
        pace_m_s: 1.3,
    }
}

/// Along the streets of a town, at every corner any way but back.
pub fn streets(pace_m_s: f64, block_m: f64, chance: &mut Chance) -> Way {
    let mut at = vec![xy(0.0, 0.0)];
    let mut way = xy(1.0, 0.0);
    for _ in 0..10 + chance.below(40) {
        let last = at[at.len() - 1];
        at.push(last + way * (block_m * (1 + chance.below(3)) as f64));
        way = match chance.below(3) {
            0 => way,
            1 => xy(-way.y, way.x),
            _ => xy(way.y, -way.x),
        };
    }
    Way { at, pace_m_s }
}

/// From one place out and back in every direction.
pub fn star(chance: &mut Chance) -> Way {
    let reach_m = chance.log_between(15.0, 800.0);
    let at = (0..5 + chance.below(8))
        .flat_map(|_| {
            let (angle, part) = (chance.between(0.0, TAU), chance.between(0.4, 1.0));
            let tip = xy(angle.cos(), angle.sin()) * (reach_m * part);
            [xy(0.0, 0.0), tip, tip + xy(0.5, 0.5), xy(0.7, -0.4)]
        })
        .collect();
    Way { at, pace_m_s: 1.2 }
}

/// Up and down a lawn, lane beside lane, and back along its edge.
pub fn mowing(chance: &mut Chance) -> Way {
    let (long_m, lane_m) = (chance.between(15.0, 60.0), chance.between(0.5, 1.5));
    let lanes = 8 + chance.below(20);
    let mut at = Vec::new();
    for lane in 0..lanes {
        let x = lane as f64 * lane_m;
        let ends = if lane % 2 == 0 {
            [0.0, long_m]
        } else {
            [long_m, 0.0]
        };
        at.extend(ends.map(|y| xy(x, y)));
    }
    at.extend([xy((lanes - 1) as f64 * lane_m, -lane_m), xy(0.0, -lane_m)]);
    Way { at, pace_m_s: 1.2 }
}

/// Round and round, inwards.
pub fn spiral(chance: &mut Chance) -> Way {
    let (radius_m, rounds) = (chance.between(8.0, 40.0), chance.between(4.0, 9.0));
    let n = (rounds * 60.0) as usize;
    let at = (0..=n)
        .map(|i| {
            let part = i as f64 / n as f64;
            let angle = TAU * rounds * part;
            xy(angle.cos(), angle.sin()) * (radius_m * (1.0 - 0.95 * part))
        })
        .collect();
    Way { at, pace_m_s: 1.1 }
}

/// A figure of eight so many times, the lesser lobe this part of the greater in its lengths.
pub fn eight(laps: usize, part: f64, chance: &mut Chance) -> Way {
    let radius_m = chance.log_between(8.0, 60.0);
    let places = |middle: f64, radius_m: f64, from: f64, way: f64| -> Vec<Coord<f64>> {
        (0..40)
            .map(|i| {
                let angle = from + way * TAU * f64::from(i) / 40.0;
                xy(middle + radius_m * angle.cos(), radius_m * angle.sin())
            })
            .collect()
    };
    let one = [
        places(-radius_m, radius_m, 0.0, 1.0),
        places(part * radius_m, part * radius_m, TAU / 2.0, -1.0),
    ]
    .concat();
    let mut at: Vec<_> = std::iter::repeat_n(one, laps).flatten().collect();
    at.push(at[0]);
    Way {
        at,
        pace_m_s: chance.between(0.9, 1.4),
    }
}

/// One lap of a running track: straights of 84.39 m and bends of 36.5 m radius (World Athletics' standard oval, from memory).
fn oval(wider_m: f64) -> Vec<Coord<f64>> {
    let (half_m, radius_m) = (42.195, 36.5 + wider_m);
    let bend = |x: f64, from: f64| {
        (0..16).map(move |i| {
            let angle = from + TAU / 2.0 * f64::from(i) / 16.0;
            xy(x + radius_m * angle.cos(), radius_m * angle.sin())
        })
    };
    bend(half_m, -TAU / 4.0)
        .chain(bend(-half_m, TAU / 4.0))
        .collect()
}

/// Laps of a running track.
pub fn track_laps(laps: usize, chance: &mut Chance) -> Way {
    let mut at: Vec<_> = (0..laps)
        .flat_map(|_| oval(chance.between(0.3, 1.5)))
        .collect();
    at.push(at[0]);
    Way {
        at,
        pace_m_s: chance.between(2.0, 2.8),
    }
}

/// Laps of a running track with one far outside it among them.
pub fn track_and_wide(laps: usize, chance: &mut Chance) -> Way {
    let wide = chance.below(laps);
    let mut at: Vec<_> = (0..=laps)
        .flat_map(|lap| {
            let ring = oval(0.5);
            if lap == wide {
                // Off at the start, round by the road, and back to the start.
                let mut road = vec![ring[0]];
                road.extend([
                    xy(160.0, -60.0),
                    xy(190.0, 60.0),
                    xy(120.0, 180.0),
                    xy(-40.0, 200.0),
                    xy(-140.0, 110.0),
                    xy(-150.0, -40.0),
                    xy(-60.0, -80.0),
                ]);
                road
            } else {
                ring
            }
        })
        .collect();
    at.push(at[0]);
    Way {
        at,
        pace_m_s: chance.between(2.0, 2.8),
    }
}

/// A warm-up by the roads round about, and then laps of a running track.
pub fn roads_then_track(laps: usize, chance: &mut Chance) -> Way {
    let mut at = round(xy(0.0, 150.0), 300.0, 0.1, chance);
    at.extend((0..laps).flat_map(|_| oval(0.5)));
    at.push(oval(0.5)[0]);
    Way {
        at,
        pace_m_s: chance.between(2.0, 2.8),
    }
}

/// A round walk or drive that comes home where it set out.
pub fn loop_home(pace_m_s: f64, radius_m: f64, chance: &mut Chance) -> Way {
    Way {
        at: round(xy(0.0, 0.0), radius_m, 0.2, chance),
        pace_m_s,
    }
}

/// Two laps of a lawn, and then by way of the middles of two beds out of it again, over its side.
pub fn laps_and_two_beds() -> Way {
    let lawn = [
        (0.0, 0.0),
        (0.0, 14.0),
        (-6.0, 15.5),
        (-6.0, 9.0),
        (-17.0, 8.0),
        (-18.0, -0.5),
    ];
    let beds = [
        (-9.0, 4.0),
        (-9.0, 4.0),
        (-3.0, 11.0),
        (-3.0, 11.0),
        (2.6, -1.2),
    ];
    let laps = lawn.iter().chain(&lawn).chain(&lawn[..1]);
    Way {
        at: laps.chain(&beds).map(|&(x, y)| xy(x, y)).collect(),
        pace_m_s: 1.0,
    }
}

/// The edge of a lawn 3 m wide about a house, but for the way to its door, from a gate and so many times round; and its area by the shoelace
/// formula, m².
pub fn about_a_house(laps: usize, chance: &mut Chance) -> (Way, f64) {
    let radius_m = chance.between(8.0, 14.0);
    let bow = |radius_m: f64, from: f64, to: f64| {
        (0..=60).map(move |i| {
            let angle = from + (to - from) * f64::from(i) / 60.0;
            xy(angle.cos(), angle.sin()) * radius_m
        })
    };
    let once: Vec<Coord<f64>> = bow(radius_m, 0.12, TAU - 0.12)
        .chain(bow(radius_m - 3.0, TAU - 0.15, 0.15))
        .collect();
    let next = |i: usize| once[(i + 1) % once.len()];
    let cross = |(i, at): (usize, &Coord<f64>)| at.x * next(i).y - at.y * next(i).x;
    let area_m2 = 0.5 * once.iter().enumerate().map(cross).sum::<f64>().abs();
    let gate = once[0] * ((radius_m + 6.0) / radius_m);
    let round = std::iter::repeat_n(&once, laps).flatten().copied();
    let at = std::iter::once(gate)
        .chain(round)
        .chain([once[0], once[1], gate]);
    let way = Way {
        at: at.collect(),
        pace_m_s: 1.0,
    };
    (way, area_m2)
}

/// What a logger says of how well it knows its position.
#[derive(Clone, Copy, PartialEq)]
pub enum Says {
    /// Positions and times alone.
    Nothing,
    Nmea(Class, Claim),
}

/// The log of a way, `step_s` between fixes. A place that comes twice is one stood at.
pub fn log(way: &Way, step_s: f64, says: Says, chance: &mut Chance) -> Vec<u8> {
    const STOOD_S: f64 = 12.0;
    let mut moments = Vec::new();
    let (mut time_s, mut along_m) = (0.0, 0.0);
    for pair in way.at.windows(2) {
        let length_m = (pair[1] - pair[0]).x.hypot((pair[1] - pair[0]).y);
        let mut moment = |at: Coord<f64>, standing: bool| {
            moments.push(Moment {
                time_s,
                at,
                lap: None,
                standing,
                along_m: None,
            });
            time_s += step_s;
        };
        if length_m == 0.0 {
            (0..(STOOD_S / step_s) as usize).for_each(|_| moment(pair[0], true));
        }
        while along_m < length_m {
            moment(pair[0] + (pair[1] - pair[0]) * (along_m / length_m), false);
            along_m += step_s * way.pace_m_s;
        }
        along_m -= length_m;
    }
    recorded(&moments, says, chance)
}

/// The log of a lawn walked as surveyors walk.
pub fn lawn(
    shape: Shape,
    area_m2: f64,
    laps: usize,
    says: Says,
    chance: &mut Chance,
) -> (Vec<u8>, f64) {
    let outline = Outline::random(shape, area_m2, chance);
    let mut habits = Habits::random(&outline, laps, chance);
    habits.pause_s = None;
    (
        recorded(&walk(&outline, &habits, 1.0, chance), says, chance),
        outline.area_m2,
    )
}

fn recorded(moments: &[Moment], says: Says, chance: &mut Chance) -> Vec<u8> {
    let (class, claim) = match says {
        Says::Nothing => (Class::Autonomous, Claim::Dilution),
        Says::Nmea(class, claim) => (class, claim),
    };
    let receiver = Receiver::random(class, claim, chance);
    let epochs = receive(moments, &receiver, &AT_SEA[0], Ground::default(), chance);
    let start = date(2026, 5, 14).at(8, 0, 0, 0);
    if says != Says::Nothing {
        return nmea(&epochs, start);
    }
    let text = String::from_utf8(gpx(&epochs, &[], start)).expect("text");
    text.lines()
        .map(|line| match (line.find("<fix>"), line.find("</trkpt>")) {
            (Some(from), Some(to)) => format!("{}{}\n", &line[..from], &line[to..]),
            _ => format!("{line}\n"),
        })
        .collect::<String>()
        .into_bytes()
}
