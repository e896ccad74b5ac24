//! Invented walks with the errors of real receivers, which were recorded while they stood still on a known point.
//!
//! The simulator and the band share beliefs about how receivers err; these recorded series share nothing with them. A walk takes
//! a stretch of a series from a random moment on, with the quality, HDOP and sigma that the receiver claimed then. A position is
//! given when the series has one and at no other time, so that nothing is made up between two of them and gaps stay gaps. A
//! receiver that is carried errs in other ways too, when a body hides the sky or a wall is passed. The series say nothing of
//! that.

use super::chance::Chance;
use super::place::AT_SEA;
use super::receiver::Epoch;
use super::run::{Outcome, measured_outcome};
use super::shape::{Outline, Shape};
use super::walker::{Habits, Moment, walk};
use super::write::nmea;
use boundwalk::fix::Quality;
use boundwalk::job::Job;
use boundwalk::job::{Corner, Place as At, Tape};
use boundwalk::survey::{Depth, Input, Request, measure};
use geo::{Area, BooleanOps, Coord, LineString, Polygon};
use jiff::civil::date;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::fmt::Write;

/// The smallest and the largest lawn, in square metres. The logarithm of the area is spread evenly between them.
const AREA_M2: (f64, f64) = (60.0, 3000.0);
const MOST_LAPS: usize = 3;
/// How many true positions are made for each second. A series' times are met to within half the time between two of them.
const GRID_HZ: f64 = 10.0;
/// How many lawns are drawn before a series is taken to be too short for any.
const DRAWN: usize = 40;
/// How many fixes (positions) a walk must have at least.
const LEAST_FIXES: usize = 15;
/// A walk counts as one with gaps when the log lacks positions for more than this many seconds.
const GAP_S: f64 = 5.0;
/// When the log begins, in seconds of the day: at nine.
const BEGINS_S: f64 = 9.0 * 3600.0;

/// One position of a standing receiver: how far off it was, and what the receiver claimed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    pub t_s: f64,
    /// How far east and north of the truth the position was, in metres.
    pub off_m: Coord<f64>,
    pub quality: Quality,
    pub hdop: Option<f64>,
    /// The sigma that the receiver claimed, per axis, in metres.
    pub sigma_m: Option<f64>,
}

/// One receiver's errors over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    pub name: String,
    /// The positions in the order of time.
    pub samples: Vec<Sample>,
}

impl Series {
    /// Reads a series from a table: rows of `t_s,dE_m,dN_m,quality,hdop,gst_m`, with nothing between the commas for what the receiver
    /// did not claim. Lines that begin with `#` are comments, and one that begins with `t_s` is the heading.
    ///
    /// # Errors
    /// A text that says which line cannot be read.
    pub fn read(name: &str, text: &str) -> Result<Series, String> {
        let rows = text.lines().enumerate();
        let rows = rows.filter(|(_, row)| !row.starts_with('#') && !row.starts_with("t_s"));
        let samples = rows
            .map(|(line, row)| {
                sample(row).ok_or_else(|| format!("{name}, line {}: no sample: {row}", line + 1))
            })
            .collect::<Result<Vec<Sample>, String>>()?;
        Ok(Series {
            name: name.to_owned(),
            samples,
        })
    }

    /// How many seconds lie between the first position and the last.
    fn lasted_s(&self) -> f64 {
        match (self.samples.first(), self.samples.last()) {
            (Some(first), Some(last)) => last.t_s - first.t_s,
            _ => 0.0,
        }
    }
}

/// One row of the table.
fn sample(row: &str) -> Option<Sample> {
    let fields: Vec<&str> = row.trim().split(',').collect();
    let &[t_s, east, north, quality, hdop, sigma] = &fields[..] else {
        return None;
    };
    let claimed = |field: &str| match field {
        "" => Some(None),
        stated => stated.parse::<f64>().ok().map(Some),
    };
    Some(Sample {
        t_s: t_s.parse().ok()?,
        off_m: Coord {
            x: east.parse().ok()?,
            y: north.parse().ok()?,
        },
        quality: Quality::from_gga(quality.parse().ok()?)?,
        hdop: claimed(hdop)?,
        sigma_m: claimed(sigma)?,
    })
}

/// What the surveyor does beyond walking round the lawn.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Care {
    /// Measures two neighbouring sides of a rectangle by tape, between corners named by the moment at which they were stood at.
    pub taped: bool,
    /// Stands still for so many seconds before the first lap and after the last.
    pub stood_s: f64,
    /// Walks exactly this many laps. `None` for one to [`MOST_LAPS`], by chance.
    pub laps: Option<usize>,
    /// Adds a round bed on the edge or near it, placed by standing in its middle after the last lap.
    pub bed: bool,
}

/// One walk and what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Walked {
    pub receiver: String,
    pub class: &'static str,
    pub laps: usize,
    /// The true area, less the bed where there is one.
    pub area_m2: f64,
    pub perimeter_m: f64,
    pub outcome: Outcome,
}

/// Walks `walks` walks under each series, each over a stretch of its own. `first` is the number of the first walk, and another number
/// draws other walks. A series that is too short for any lawn has none.
pub fn walks(all: &[Series], walks: u64, first: u64, care: Care) -> Vec<Walked> {
    let numbered: Vec<(&Series, u64)> = all
        .iter()
        .flat_map(|series| (first..first + walks).map(move |number| (series, number)))
        .collect();
    numbered
        .par_iter()
        .filter_map(|(series, number)| one(series, *number, care))
        .collect()
}

/// The walk of this number under a series, or `None` where the series is too short or gives too few positions.
fn one(series: &Series, number: u64, care: Care) -> Option<Walked> {
    let mut chance = Chance::stream(number, &series.name);
    let (outline, habits, moments, bed) = (0..DRAWN).find_map(|_| {
        let (outline, habits, mut moments) = drawn(care, &mut chance);
        let bed = (care.bed).then(|| Bed::stood_at(&outline, &mut moments, &mut chance));
        (moments.last()?.time_s < series.lasted_s()).then_some((outline, habits, moments, bed))
    })?;
    let spare_s = series.lasted_s() - moments.last()?.time_s;
    // The walk begins a whole number of seconds after the series, so that positions on whole seconds stay on whole seconds.
    let from_s = series.samples.first()?.t_s + chance.between(0.0, spare_s).floor();
    let epochs = under(&moments, series, from_s);
    if epochs.len() < LEAST_FIXES {
        return None;
    }
    let log = nmea(&epochs, date(2026, 5, 14).at(9, 0, 0, 0));
    let mut job = if care.taped {
        taped(&outline, &moments, &mut chance)
    } else {
        Job::default()
    };
    job.beds.extend(bed.map(|bed| bed.asked()));
    let request = Request {
        name: "real".into(),
        logs: vec![Input::Bytes {
            name: "real.nmea".into(),
            bytes: log,
        }],
        job,
        depth: Depth::Numbers,
        ..Request::default()
    };
    Some(Walked {
        receiver: series.name.clone(),
        class: class(&epochs),
        laps: habits.laps.len(),
        area_m2: outline.area_m2 - bed.map_or(0.0, |bed| bed.takes_m2(&outline)),
        perimeter_m: outline.perimeter_m,
        outcome: measured_outcome(&measure(&request)),
    })
}

/// Draws a lawn and the walk round it.
fn drawn(care: Care, chance: &mut Chance) -> (Outline, Habits, Vec<Moment>) {
    let area_m2 = chance.log_between(AREA_M2.0, AREA_M2.1);
    let shape = if care.taped {
        Shape::Rectangle
    } else {
        Shape::ALL[chance.below(Shape::ALL.len())]
    };
    let outline = Outline::random(shape, area_m2, chance);
    let laps = care.laps.unwrap_or(1 + chance.below(MOST_LAPS));
    let mut habits = Habits::random(&outline, laps, chance);
    if care.taped {
        habits.pause_s = Some((15.0, 20.0));
    }
    let mut moments = walk(&outline, &habits, GRID_HZ, chance);
    stand(&mut moments, care.stood_s);
    (outline, habits, moments)
}

/// Adds a stand before the first lap and one after the last, and times all moments anew.
fn stand(moments: &mut Vec<Moment>, stood_s: f64) {
    let fixes = (stood_s * GRID_HZ).round() as usize;
    let first = moments.iter().position(|m| m.lap.is_some());
    let last = moments.iter().rposition(|m| m.lap.is_some());
    let (Some(first), Some(last), true) = (first, last, fixes > 0) else {
        return;
    };
    let still = |at: usize, moments: &[Moment]| {
        let held = Moment {
            lap: None,
            standing: true,
            ..moments[at]
        };
        vec![held; fixes]
    };
    let (before, after) = (still(first, moments), still(last, moments));
    moments.splice(last + 1..last + 1, after);
    moments.splice(first..first, before);
    for (tick, moment) in moments.iter_mut().enumerate() {
        moment.time_s = tick as f64 / GRID_HZ;
    }
}

/// A round bed.
#[derive(Debug, Clone, Copy)]
struct Bed {
    centre: Coord<f64>,
    radius_m: f64,
    /// When its middle was stood at, in seconds from the start of the log.
    stood_s: f64,
}

impl Bed {
    /// Draws a bed with a radius of 0.5 m to an eighth of the lawn's width, its middle up to two radii within the edge. It is walked to
    /// at a metre a second from where the edge is left, and stood at for twenty seconds, which ends the log.
    fn stood_at(outline: &Outline, moments: &mut Vec<Moment>, chance: &mut Chance) -> Bed {
        const STANDS_S: f64 = 20.0;
        let widest_m = (outline.area_m2.sqrt() / 8.0).max(0.6);
        let radius_m = chance.log_between(0.5, widest_m);
        let along_m = chance.between(0.0, outline.perimeter_m);
        let (here, on) = (outline.point(along_m), outline.point(along_m + 0.1));
        let inward = Coord {
            x: here.y - on.y,
            y: on.x - here.x,
        } / (on - here).x.hypot((on - here).y);
        let centre = here + inward * chance.between(0.0, 2.0 * radius_m);
        let walked = moments.iter().rposition(|m| m.along_m.is_some());
        moments.truncate(walked.map_or(0, |last| last + 1));
        let from = moments.last().map_or(centre, |m| m.at);
        let way_m = (centre - from).x.hypot((centre - from).y);
        let fixes = |seconds: f64| (seconds * GRID_HZ).ceil() as usize;
        let (walked, stood) = (fixes(way_m), fixes(STANDS_S));
        let begun = moments.len();
        for k in 1..=walked + stood {
            let share = (k as f64 / walked.max(1) as f64).min(1.0);
            moments.push(Moment {
                time_s: (begun + k - 1) as f64 / GRID_HZ,
                at: from + (centre - from) * share,
                lap: None,
                standing: k > walked,
                along_m: None,
            });
        }
        Bed {
            centre,
            radius_m,
            stood_s: (begun + walked + stood / 2) as f64 / GRID_HZ,
        }
    }

    /// The bed as the job sheet asks for it.
    fn asked(&self) -> boundwalk::job::Bed {
        boundwalk::job::Bed {
            label: "bed".into(),
            radius_m: self.radius_m,
            radius_sigma_m: None,
            place: At::Time {
                tod_s: BEGINS_S + self.stood_s,
            },
        }
    }

    /// How much of the lawn it takes: the area that the bed and the lawn share, both as polygons of a thousand sides.
    fn takes_m2(&self, outline: &Outline) -> f64 {
        const SIDES: usize = 1000;
        let ring = |at: &dyn Fn(f64) -> Coord<f64>| {
            let places = (0..SIDES).map(|k| at(k as f64 / SIDES as f64));
            Polygon::new(LineString::from_iter(places), Vec::new())
        };
        let disc = ring(&|share| {
            let (sin, cos) = (share * std::f64::consts::TAU).sin_cos();
            self.centre + Coord { x: cos, y: sin } * self.radius_m
        });
        let lawn = ring(&|share| outline.point(share * outline.perimeter_m));
        disc.intersection(&lawn).unsigned_area()
    }
}

/// What the receiver logged where it stood, from `from_s` seconds after the start of its series on and for `lasted_s` seconds.
pub fn standing_log(series: &Series, from_s: f64, lasted_s: f64) -> Vec<u8> {
    let fixes = (lasted_s * GRID_HZ) as usize;
    let still = (0..fixes).map(|tick| Moment {
        time_s: tick as f64 / GRID_HZ,
        at: Coord { x: 0.0, y: 0.0 },
        lap: None,
        standing: true,
        along_m: None,
    });
    let begins_s = series.samples.first().map_or(0.0, |s| s.t_s);
    let epochs = under(&still.collect::<Vec<_>>(), series, begins_s + from_s);
    nmea(&epochs, date(2026, 5, 14).at(9, 0, 0, 0))
}

/// What the receiver would have logged on that walk, with its errors from the moment `from_s` of the series on.
fn under(moments: &[Moment], series: &Series, from_s: f64) -> Vec<Epoch> {
    let place = &AT_SEA[0];
    let lasted_s = moments.last().map_or(0.0, |m| m.time_s);
    let within = |sample: &&Sample| (from_s..=from_s + lasted_s).contains(&sample.t_s);
    let epochs = series.samples.iter().filter(within).filter_map(|sample| {
        let moment = moments.get(((sample.t_s - from_s) * GRID_HZ).round() as usize)?;
        let (lat_deg, lon_deg) = place.degrees(moment.at + sample.off_m);
        Some(Epoch {
            time_s: moment.time_s,
            lat_deg,
            lon_deg,
            height_m: place.height_m,
            quality: sample.quality,
            satellites: 12,
            hdop: sample.hdop,
            claimed_m: sample.sigma_m.map(|sigma_m| (sigma_m, sigma_m, sigma_m)),
            talker: "GN",
            truth: *moment,
        })
    });
    epochs.collect()
}

/// A job with corners named by the moment at which they were stood at, and with two tapes along the sides that meet in the second
/// corner, each read to 2 cm.
fn taped(outline: &Outline, moments: &[Moment], chance: &mut Chance) -> Job {
    const READ_M: f64 = 0.02;
    const NAMES: [&str; 4] = ["A", "B", "C", "D"];
    let corners: Vec<Coord<f64>> = outline
        .corners_m
        .iter()
        .map(|&m| outline.point(m))
        .collect();
    let stood_s = |corner: Coord<f64>| {
        let near: Vec<f64> = moments
            .iter()
            .filter(|m| m.lap == Some(0) && (m.at - corner).x.hypot((m.at - corner).y) < 0.3)
            .map(|m| m.time_s)
            .collect();
        near.get(near.len() / 2).copied()
    };
    let named = corners.iter().zip(NAMES).filter_map(|(&corner, name)| {
        Some(Corner {
            name: name.into(),
            place: At::Time {
                tod_s: BEGINS_S + stood_s(corner)?,
            },
        })
    });
    let side = |from: usize, to: usize, chance: &mut Chance| {
        let across = corners[to] - corners[from];
        Tape {
            from: NAMES[from].into(),
            to: NAMES[to].into(),
            length_m: across.x.hypot(across.y) + READ_M * chance.normal(),
            sigma_m: Some(READ_M),
            straight: None,
        }
    };
    Job {
        corners: named.collect(),
        tapes: vec![side(0, 1, chance), side(1, 2, chance)],
        ..Job::default()
    }
}

/// The class of a walk: of what quality nearly all of its positions are, and whether some are missing.
fn class(epochs: &[Epoch]) -> &'static str {
    const NEARLY_ALL: f64 = 0.95;
    let share = |quality: Quality| {
        let own = epochs.iter().filter(|e| e.quality == quality).count();
        own as f64 / epochs.len() as f64
    };
    let gaps = epochs.windows(2).any(|w| w[1].time_s - w[0].time_s > GAP_S);
    let all = |quality| share(quality) >= NEARLY_ALL;
    match (
        all(Quality::RtkFixed),
        all(Quality::RtkFloat),
        all(Quality::Differential),
        all(Quality::Autonomous),
        gaps,
    ) {
        (true, _, _, _, false) => "RTK fixed",
        (true, _, _, _, true) => "RTK fixed, gaps",
        (_, true, _, _, false) => "RTK float",
        (_, true, _, _, true) => "RTK float, gaps",
        (_, _, true, _, false) => "differential",
        (_, _, true, _, true) => "differential, gaps",
        (_, _, _, true, false) => "code",
        (_, _, _, true, true) => "code, gaps",
        _ => "mixed",
    }
}

/// How a group of walks came out. Shares run from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    pub walks: usize,
    /// How many of them got an area.
    pub given: usize,
    /// The share of those with an area whose true area lies within the band.
    pub covered: f64,
    /// What all bands would have to be multiplied by so that 95 % of them hold the truth.
    pub times: f64,
    /// The share of those with an area that is flagged `check`.
    pub flagged: f64,
    /// How many are more than three bands off and not flagged.
    pub silent: usize,
    /// The middle one (the median) of all bands, each as a part of the true area.
    pub band: f64,
    /// The same for the edge's length, whose band is 1.96 of its sigmas: the share in which it holds the true length.
    pub edge: f64,
    /// What the bands of the length would have to be multiplied by so that 95 % of them hold the truth.
    pub edge_times: f64,
    /// The middle one of these bands, each as a part of the true length.
    pub edge_band: f64,
}

impl Score {
    pub fn of(walks: &[&Walked]) -> Score {
        let given: Vec<(f64, f64, bool)> = walks
            .iter()
            .filter_map(|walked| match &walked.outcome {
                Outcome::Measured {
                    area_m2,
                    band_m2,
                    flagged,
                    ..
                } => Some((
                    (area_m2 - walked.area_m2).abs() / band_m2,
                    band_m2 / walked.area_m2,
                    *flagged,
                )),
                _ => None,
            })
            .collect();
        let mut edges: Vec<(f64, f64)> = walks
            .iter()
            .filter_map(|walked| match walked.outcome {
                Outcome::Measured {
                    perimeter_m: Some(length_m),
                    perimeter_sigma_m: Some(sigma_m),
                    ..
                } => Some((
                    (length_m - walked.perimeter_m).abs() / (1.96 * sigma_m),
                    1.96 * sigma_m / walked.perimeter_m,
                )),
                _ => None,
            })
            .collect();
        let held = edges.iter().filter(|one| one.0 <= 1.0).count() as f64;
        let edge = held / edges.len().max(1) as f64;
        let mut of_edges = |value: fn(&(f64, f64)) -> f64, at: f64| {
            edges.sort_by(|a, b| value(a).total_cmp(&value(b)));
            let place = (at * edges.len() as f64).ceil() as usize;
            edges.get(place.max(1) - 1).map_or(f64::NAN, value)
        };
        let (edge_times, edge_band) = (of_edges(|one| one.0, 0.95), of_edges(|one| one.1, 0.5));
        let n = given.len();
        let share = |test: &dyn Fn(&(f64, f64, bool)) -> bool| {
            given.iter().filter(|one| test(one)).count() as f64 / n.max(1) as f64
        };
        let sorted = |value: fn(&(f64, f64, bool)) -> f64, at: f64| {
            let mut values: Vec<f64> = given.iter().map(value).collect();
            values.sort_by(f64::total_cmp);
            let place = (at * n as f64).ceil() as usize;
            values.get(place.max(1) - 1).copied().unwrap_or(f64::NAN)
        };
        Score {
            walks: walks.len(),
            given: n,
            covered: share(&|one| one.0 <= 1.0),
            times: sorted(|one| one.0, 0.95),
            flagged: share(&|one| one.2),
            silent: given.iter().filter(|one| one.0 > 3.0 && !one.2).count(),
            band: sorted(|one| one.1, 0.5),
            edge,
            edge_times,
            edge_band,
        }
    }
}

/// The score of each group of walks, grouped and sorted by the name that `name` gives a walk.
pub fn scores(walks: &[Walked], name: impl Fn(&Walked) -> String) -> Vec<(String, Score)> {
    let mut groups: BTreeMap<String, Vec<&Walked>> = BTreeMap::new();
    for walked in walks {
        groups.entry(name(walked)).or_default().push(walked);
    }
    groups
        .into_iter()
        .map(|(name, group)| (name, Score::of(&group)))
        .collect()
}

/// A Markdown table of these scores. `head` stands over the groups' names.
pub fn table(walks: &[Walked], head: &str, name: impl Fn(&Walked) -> String) -> String {
    let mut out = format!(
        "| {head} | walks | given | covered | band × | flagged | silent | band / area | length covered | band × | band / length |\n|---|---|---|---|---|---|---|---|---|---|---|\n"
    );
    for (name, score) in scores(walks, name) {
        // Writing to a String cannot fail.
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {:.1} % | {:.2} | {:.0} % | {} | {:.1} % | {:.1} % | {:.2} | {:.1} % |",
            score.walks,
            score.given,
            100.0 * score.covered,
            score.times,
            100.0 * score.flagged,
            score.silent,
            100.0 * score.band,
            100.0 * score.edge,
            score.edge_times,
            100.0 * score.edge_band
        );
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A series of a quarter of an hour with one fix a second, which is always off by the same.
    fn steady(off_m: Coord<f64>) -> Series {
        let sample = |t: u32| Sample {
            t_s: f64::from(t),
            off_m,
            quality: Quality::RtkFixed,
            hdop: None,
            sigma_m: Some(0.02),
        };
        Series {
            name: "steady".into(),
            samples: (0..900).map(sample).collect(),
        }
    }

    fn areas(series: Series) -> Vec<(f64, f64)> {
        let given = walks(&[series], 8, 40, Care::default()).into_iter();
        let area = |walked: Walked| match walked.outcome {
            Outcome::Measured { area_m2, .. } => Some((area_m2, walked.area_m2)),
            _ => None,
        };
        given.filter_map(area).collect()
    }

    #[test]
    fn without_an_error_the_area_is_true_and_an_even_shift_moves_none() {
        let (still, shifted) = (
            areas(steady(Coord { x: 0.0, y: 0.0 })),
            areas(steady(Coord { x: 3.0, y: -2.0 })),
        );
        assert!(still.len() >= 7 && still.len() == shifted.len());
        for (&(area_m2, true_m2), (moved_m2, _)) in still.iter().zip(shifted) {
            // What is left is the hand's error: 2 cm all the way round, on edges of 30 to 300 m.
            assert!(
                (area_m2 / true_m2 - 1.0).abs() < 0.05,
                "{area_m2} {true_m2}"
            );
            // What is left comes of the height at which the plane is laid, and of minutes written with seven decimals.
            assert!((moved_m2 - area_m2).abs() < 0.02, "{moved_m2} {area_m2}");
        }
    }

    #[test]
    fn a_series_is_read_with_what_it_claims_and_what_it_does_not() {
        let text = "# a comment\nt_s,dE_m,dN_m,quality,hdop,gst_m\n0.00,0.25,-0.5,1,1.17,\n2.5,0.0,0.0,5,,0.31\n";
        let series = Series::read("made", text).unwrap();
        let [first, second] = series.samples[..] else {
            panic!("two samples");
        };
        assert_eq!((first.hdop, first.sigma_m), (Some(1.17), None));
        assert_eq!(first.off_m, Coord { x: 0.25, y: -0.5 });
        assert_eq!((second.t_s, second.quality), (2.5, Quality::RtkFloat));
        assert_eq!((second.hdop, second.sigma_m), (None, Some(0.31)));
        let fault = Series::read("made", "0.0,1.0,2.0\n").unwrap_err();
        assert!(fault.contains("made, line 1"), "{fault}");
    }
}
