//! Merges the sentences of one epoch (the instant of a measurement, by its time of day) into fixes, one for each position engine (a program
//! within a receiver that works out a position of its own).
//!
//! Two epochs are kept open, because some loggers write the accuracy of one epoch after the first sentence of
//! the next. Positions of one epoch that agree are one fix; positions that don't are kept apart, each under the
//! sentence that gave it, and `crate::read::engines` chooses between them over the whole file.

use super::sentence::{Kind, Parsed, Position};
use crate::fix::{DAY_S, Fix, Quality, Source};
use crate::left_out::LeftOut;
use crate::read::tally::Tally;
use jiff::civil::Date;

/// Sentences whose times differ by less belong to one epoch (microseconds). gpsd uses the same 0.01 s.
const SAME_TIME_US: i64 = 10_000;
/// Positions of one epoch that differ by less than this and their last digits are one position, metres.
const SAME_PLACE_M: f64 = 0.25;
/// One minute of latitude, metres, to within 0.5 %.
const MINUTE_M: f64 = 1852.0;
/// How many streams of an epoch have their position kept as they wrote it, by which a repeated sentence is known.
const SAID: usize = 4;
/// The most engines beside the first that are kept apart, more than any receiver has.
const MORE: usize = 7;
const HALF_DAY_US: i64 = 43_200_000_000;

/// How much a kind of sentence is preferred for position and quality: the highest is taken.
fn rank(source: Source) -> u8 {
    match source {
        Source::GGA => 4,
        Source::GNS => 3,
        Source::RMC => 2,
        _ => 1,
    }
}

/// One engine's position in an epoch.
#[derive(Debug, Clone, Copy)]
struct Solution {
    position: Position,
    source: Source,
    stream: u8,
    talker: [u8; 2],
    line: u32,
    quality: Option<Quality>,
    quality_rank: u8,
    satellites: Option<u8>,
    hdop: Option<f32>,
    altitude_m: Option<f64>,
    separation_m: Option<f64>,
}

/// A position as a stream wrote it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Said {
    stream: u8,
    decimals: u8,
    lat_deg: f64,
    lon_deg: f64,
}

impl Said {
    #[inline]
    fn of(stream: u8, position: &Position) -> Said {
        Said {
            stream,
            decimals: position.decimals,
            lat_deg: position.lat_deg,
            lon_deg: position.lon_deg,
        }
    }
}

/// The accuracy that a talker stated, one sigma to the east and to the north, metres, and whether GST said so.
#[derive(Debug, Clone)]
struct Accuracy {
    talker: [u8; 2],
    east_m: Option<f32>,
    north_m: Option<f32>,
    from_gst: bool,
}

/// What the sentences of one instant have said so far.
#[derive(Debug, Clone, Default)]
struct Epoch {
    /// Whether it is in use.
    open: bool,
    time_us: Option<i64>,
    date: Option<Date>,
    first: Option<Solution>,
    more: Vec<Solution>,
    accuracy: Option<Accuracy>,
    /// The position of each stream, as far as there is room. `seen` has a bit for each stream that spoke (its number modulo 64).
    said: [Said; SAID],
    said_count: usize,
    seen: u64,
    /// Talkers that say that their position is void.
    void: Vec<[u8; 2]>,
    /// Line of the first void sentence.
    void_line: Option<u32>,
}

/// One sentence with where it came from.
#[derive(Debug, Clone, Copy)]
pub struct From {
    pub kind: Kind,
    pub talker: [u8; 2],
    /// Number of the address in the file's table.
    pub stream: u8,
    pub line: u32,
}

/// Puts sentences together into epochs, and hands each on as fixes when it is complete.
#[derive(Debug, Default)]
pub struct Merger {
    /// The two open epochs, which take turns: an epoch is too large to be moved about.
    slots: [Epoch; 2],
    /// Whether the second of `slots` is the newer one.
    turned: bool,
    pub merged: Merged,
}

/// What the merger gives: fixes with the stream that each position came from.
#[derive(Debug, Default)]
pub struct Merged {
    file: u16,
    keep_all: bool,
    pub fixes: Vec<Fix>,
    pub streams: Vec<u8>,
    pub tally: Tally,
    /// Line and quality of the first position that was typed in or simulated.
    pub made_up: Option<(u32, Quality)>,
    /// Time of day of the last epoch, with a position or without.
    pub ends_us: Option<i64>,
    /// Date and time of day last known.
    day: Option<(Date, i64)>,
    /// Whether any fix has no time, or one that isn't later than that of the fix before it by less than half a day.
    unsteady: bool,
    last_us: Option<i64>,
}

impl Merger {
    /// `keep_all`: also keep what can't be measured from (void, dead reckoning, made up), for `inspect`.
    pub(crate) fn new(file: u16, keep_all: bool) -> Merger {
        Merger {
            merged: Merged {
                file,
                keep_all,
                ..Merged::default()
            },
            ..Merger::default()
        }
    }

    /// Takes one sentence.
    #[inline]
    pub(crate) fn add(&mut self, from: From, parsed: &Parsed) {
        let merged = &mut self.merged;
        if let Some(quality @ (Quality::Manual | Quality::Simulator)) = parsed.quality
            && merged.made_up.is_none()
        {
            merged.made_up = Some((from.line, quality));
        }
        if from.kind.source().is_none() && parsed.time_us.is_none() {
            return;
        }
        let [a, b] = &mut self.slots;
        let (newer, older) = if self.turned { (b, a) } else { (a, b) };
        for epoch in [newer, &mut *older] {
            if epoch.open && same_time(epoch.time_us, parsed.time_us) {
                match epoch.take(from, parsed) {
                    Taken::Yes => return,
                    Taken::Repeated => {
                        merged.tally.add(LeftOut::Repeated, merged.file, from.line);
                        return;
                    }
                    Taken::Another => break,
                }
            }
        }
        if older.open {
            merged.flush(older);
        }
        older.begin(parsed.time_us);
        // What comes back need not be looked at, as an epoch that was just begun takes any sentence.
        let _ = older.take(from, parsed);
        self.turned = !self.turned;
    }

    /// Ends the reading: hands over the open epochs, and gives the first fixes the date that came after them.
    pub(crate) fn end(&mut self) {
        let [a, b] = &mut self.slots;
        let (newer, older) = if self.turned { (b, a) } else { (a, b) };
        for epoch in [older, newer] {
            if epoch.open {
                self.merged.flush(epoch);
                epoch.open = false;
            }
        }
        self.merged.date_the_first();
    }
}

impl Merged {
    /// How long the log goes on after its last position, seconds.
    pub(crate) fn lost_at_end_s(&self) -> f64 {
        let last_s = self.fixes.last().and_then(|fix| fix.clock_s);
        match (last_s, self.ends_us) {
            (Some(last_s), Some(ends_us)) => (ends_us as f64 / 1.0e6 - last_s).rem_euclid(DAY_S),
            _ => 0.0,
        }
    }

    /// Whether every fix has a time, later than that of the one before it by less than half a day.
    pub(crate) fn is_steady(&self) -> bool {
        !self.unsteady
    }

    /// Gives fixes at the beginning, which came before any date, the first date that is known, or the day before where midnight passed since.
    fn date_the_first(&mut self) {
        let Some(known) = self.fixes.iter().position(|fix| fix.date.is_some()) else {
            return;
        };
        let (before, after) = self.fixes.split_at_mut(known);
        let Some(mut next) = after.first().map(|fix| (fix.date, fix.clock_s)) else {
            return;
        };
        for fix in before.iter_mut().rev() {
            if let (Some(a), Some(b)) = (fix.clock_s, next.1)
                && a - b > 43_200.0
            {
                next.0 = next.0.and_then(|date| date.yesterday().ok());
            }
            fix.date = next.0;
            next.1 = fix.clock_s;
        }
    }

    /// Makes fixes of an epoch that is complete, one for each engine. A position that is void, dead reckoning or made up is counted and
    /// left out.
    fn flush(&mut self, epoch: &Epoch) {
        self.ends_us = epoch.time_us.or(self.ends_us);
        let date = self.date_of(epoch);
        let Some(first) = &epoch.first else {
            if let Some(line) = epoch.void_line {
                self.tally.add(LeftOut::Void, self.file, line);
            }
            return;
        };
        let lone = epoch.more.is_empty();
        for solution in std::iter::once(first).chain(&epoch.more) {
            let mut quality = solution.quality.unwrap_or(Quality::Unknown);
            let made_up = matches!(quality, Quality::Manual | Quality::Simulator);
            let void = !made_up && epoch.void.contains(&solution.talker);
            let dropped = match quality {
                _ if void => Some(LeftOut::Void),
                Quality::DeadReckoning => Some(LeftOut::DeadReckoning),
                _ => None,
            };
            if let Some(reason) = dropped {
                self.tally.add(reason, self.file, solution.line);
            }
            if (dropped.is_some() || made_up) && !self.keep_all {
                continue;
            }
            if void {
                quality = Quality::NoFix;
            }
            let accuracy = epoch
                .accuracy
                .as_ref()
                .filter(|a| lone || a.talker == solution.talker);
            self.fixes.push(Fix {
                lat_deg: solution.position.lat_deg,
                lon_deg: solution.position.lon_deg,
                height_m: solution
                    .altitude_m
                    .map(|a| a + solution.separation_m.unwrap_or(0.0)),
                clock_s: epoch.time_us.map(|us| us as f64 / 1.0e6),
                date,
                quality,
                satellites: solution.satellites,
                hdop: solution.hdop,
                sigma_east_m: accuracy.and_then(|a| a.east_m),
                sigma_north_m: accuracy.and_then(|a| a.north_m),
                source: solution.source,
                file: self.file,
                line: solution.line,
                track: 0,
                segment: 0,
            });
            self.streams.push(solution.stream);
            let after = match (epoch.time_us, self.last_us) {
                (Some(now), Some(last)) => (1..HALF_DAY_US).contains(&(now - last)),
                (now, _) => now.is_some(),
            };
            self.unsteady |= !after;
            self.last_us = epoch.time_us;
        }
    }

    /// The epoch's own date, or the last one known, a day on where midnight has passed since.
    fn date_of(&mut self, epoch: &Epoch) -> Option<Date> {
        let time = epoch.time_us;
        let date = match (epoch.date, self.day) {
            (Some(date), _) => Some(date),
            (None, Some((date, then))) => match time {
                Some(now) if then - now > HALF_DAY_US => date.tomorrow().ok(),
                _ => Some(date),
            },
            (None, None) => None,
        };
        if let (Some(date), Some(now)) = (date, time) {
            self.day = Some((date, now));
        }
        date
    }
}

enum Taken {
    Yes,
    /// It repeats what was said already.
    Repeated,
    /// It is from a stream that has spoken, with another position: another epoch with the same time.
    Another,
}

/// Whether two times, or two missing times, are those of one epoch.
fn same_time(a: Option<i64>, b: Option<i64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < SAME_TIME_US,
        (None, None) => true,
        _ => false,
    }
}

impl Epoch {
    /// Empties it and opens it for another time.
    fn begin(&mut self, time_us: Option<i64>) {
        self.open = true;
        self.time_us = time_us;
        self.date = None;
        self.first = None;
        self.more.clear();
        self.accuracy = None;
        self.said_count = 0;
        self.seen = 0;
        self.void.clear();
        self.void_line = None;
    }

    #[inline]
    fn take(&mut self, from: From, parsed: &Parsed) -> Taken {
        let Some(source) = from.kind.source() else {
            self.take_facts(from, parsed);
            return Taken::Yes;
        };
        let bit = 1u64 << (from.stream % 64);
        if self.seen & bit != 0 {
            return match &parsed.position {
                Some(position) => {
                    let said = self.said.get(..self.said_count).unwrap_or(&[]);
                    match said.contains(&Said::of(from.stream, position)) {
                        true => Taken::Repeated,
                        false => Taken::Another,
                    }
                }
                // It says once more that there is no position, which is nothing new.
                None => Taken::Yes,
            };
        }
        self.seen |= bit;
        if parsed.void {
            self.void.push(from.talker);
            self.void_line.get_or_insert(from.line);
        } else if parsed.date.is_some() {
            self.date = parsed.date;
        }
        let Some(position) = &parsed.position else {
            return Taken::Yes;
        };
        if let Some(free) = self.said.get_mut(self.said_count) {
            *free = Said::of(from.stream, position);
            self.said_count += 1;
        }
        let room = self.more.len() < MORE;
        let mut solutions = self.first.iter_mut().chain(&mut self.more);
        if let Some(same) = solutions.find(|s| agree(&s.position, position)) {
            same.merge(from, source, position, parsed);
        } else if self.first.is_none() {
            self.first = Some(Solution::new(from, source, position, parsed));
        } else if room {
            self.more
                .push(Solution::new(from, source, position, parsed));
        }
        Taken::Yes
    }

    /// Takes a sentence without a position: its date and accuracy.
    fn take_facts(&mut self, from: From, parsed: &Parsed) {
        if parsed.date.is_some() {
            self.date = parsed.date;
        }
        if parsed.sigma_east_m.is_none() && parsed.sigma_north_m.is_none() {
            return;
        }
        let from_gst = from.kind == Kind::Gst;
        // GST is the accuracy sentence; GBS (fault detection) only stands in for it.
        if from_gst || self.accuracy.as_ref().is_none_or(|a| !a.from_gst) {
            self.accuracy = Some(Accuracy {
                talker: from.talker,
                east_m: parsed.sigma_east_m,
                north_m: parsed.sigma_north_m,
                from_gst,
            });
        }
    }
}

impl Solution {
    #[inline]
    fn new(from: From, source: Source, position: &Position, parsed: &Parsed) -> Solution {
        Solution {
            position: *position,
            source,
            stream: from.stream,
            talker: from.talker,
            line: from.line,
            quality: parsed.quality,
            quality_rank: quality_rank(source, parsed),
            satellites: parsed.satellites,
            hdop: parsed.hdop,
            altitude_m: parsed.altitude_m,
            separation_m: parsed.separation_m,
        }
    }

    /// Takes another sentence of the same engine: the position with more decimals stays, and what is missing is filled in.
    #[inline]
    fn merge(&mut self, from: From, source: Source, position: &Position, parsed: &Parsed) {
        let finer = (position.decimals, rank(source)) > (self.position.decimals, rank(self.source));
        if finer {
            self.position = *position;
            self.source = source;
            self.stream = from.stream;
            self.talker = from.talker;
            self.line = from.line;
        }
        let quality_rank = quality_rank(source, parsed);
        if quality_rank > self.quality_rank {
            self.quality = parsed.quality;
            self.quality_rank = quality_rank;
        }
        // A receiver may send a sentence for each constellation, which counts its own satellites only. The largest number is nearest to all
        // of them.
        self.satellites = self.satellites.max(parsed.satellites);
        self.hdop = self.hdop.or(parsed.hdop);
        if self.altitude_m.is_none() {
            self.altitude_m = parsed.altitude_m;
            self.separation_m = parsed.separation_m;
        }
    }
}

/// How much the quality in a sentence is preferred; 0 where it has none.
#[inline]
fn quality_rank(source: Source, parsed: &Parsed) -> u8 {
    if parsed.quality.is_some() {
        rank(source)
    } else {
        0
    }
}

/// Whether two positions are the same but for their rounding.
fn agree(a: &Position, b: &Position) -> bool {
    (a.lat_deg == b.lat_deg && a.lon_deg == b.lon_deg) || near(a, b)
}

/// Whether two positions lie nearer to each other than [`SAME_PLACE_M`] and the last digit of both.
#[cold]
fn near(a: &Position, b: &Position) -> bool {
    let unit = |p: &Position| MINUTE_M * 10f64.powi(-i32::from(p.decimals));
    let limit = SAME_PLACE_M + unit(a) + unit(b);
    let north = (a.lat_deg - b.lat_deg) * 60.0 * MINUTE_M;
    let mut turn = (a.lon_deg - b.lon_deg).abs();
    if turn > 180.0 {
        turn = 360.0 - turn;
    }
    let east = turn * 60.0 * MINUTE_M * a.lat_deg.to_radians().cos();
    north.hypot(east) <= limit
}
