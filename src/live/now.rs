//! What is seen of the walk fix by fix, without waiting for the survey: the kind of solution, the pace, the track, and what is wrong at
//! this moment. A fix is a position at one moment. RTK receivers reach centimetres by the phase of the satellites' carrier waves:
//! "fixed" once they know its whole number of waves, "float" as long as they do not.

use super::Link;
use super::track::Track;
use crate::band::model::fix_sigma_m;
use crate::fix::{DAY_S, Fix, Quality};
use crate::limits::log::clock::DISORDER_S;
use crate::limits::log::live as limits;
use crate::plane::Plane;
use crate::process::hand::{DRIVEN_M_S, FASTEST_M_S};
use crate::ring::distance_m;
use crate::walk::wander_m;
use geo::Coord;
use std::collections::VecDeque;

/// How long something that happened in a moment, such as a jump, is told of, seconds.
const TOLD_S: f64 = 8.0;
/// How long a stretch the pace is taken over, seconds.
const PACE_S: f64 = 3.0;
/// How long a stretch the number of positions a second is counted over, seconds.
const RATE_S: f64 = 5.0;

/// What is wrong at this moment, in the order in which it matters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wrong {
    /// The disk does not take what comes; so many bytes are held in memory.
    NotKept { bytes: usize },
    /// Nothing comes.
    Silent { for_s: f64 },
    /// Something comes, but no position.
    NoPosition { for_s: f64 },
    /// The solution is of a worse kind than the best one so far.
    Worse { is: Quality, was: Quality },
    /// The solution is float: it uses the carrier phase, but its ambiguities (unknown whole numbers of waves) are not resolved.
    Float,
    /// The position does not change at all, not even in its last digit.
    Frozen { for_s: f64 },
    /// There was a step that walking and noise do not explain.
    Jump { by_m: f64 },
    /// The pace is faster than anyone walks an edge.
    TooFast { m_s: f64 },
    /// Positions have no time.
    NoClock,
    /// The clock ran back.
    ClockBack { by_s: f64 },
    /// Sentences are torn or their checksums are wrong.
    Torn { sentences: u64 },
    /// The log is too long to be measured while it grows.
    Unmeasured,
}

/// A fix as it was taken.
#[derive(Debug, Clone, PartialEq)]
struct Last {
    fix: Fix,
    at: Coord<f64>,
    /// Seconds on a clock that always runs on (see [`Now::clock_s`]).
    t_s: f64,
    /// When it came, seconds since the start.
    came_s: f64,
}

/// What is seen of the walk at this moment.
#[derive(Debug, Default)]
pub struct Now {
    plane: Option<Plane>,
    last: Option<Last>,
    begun_s: Option<f64>,
    /// How many positions were taken.
    pub fixes: u64,
    /// How many of the latest positions in a row had no time.
    untimed: u32,
    /// The best solution so far.
    best: Option<Quality>,
    /// Times and places of the last few seconds.
    recent: VecDeque<(f64, Coord<f64>)>,
    /// Since when the position is the same to its last digit.
    same_since_s: Option<f64>,
    /// The last jump: when it was, on the clock of [`Last::t_s`], and how far.
    jump: Option<(f64, f64)>,
    /// When the receiver's clock last ran back, and by how many seconds.
    clock_back: Option<(f64, f64)>,
    /// When sentences were last damaged, and how many.
    torn: Option<(f64, u64)>,
    /// When the last byte came, seconds since the start.
    byte_s: f64,
    /// How many bytes the disk has not taken.
    held: usize,
    /// Whether the log is too long to be measured while it grows.
    unmeasured: bool,
    /// Why the line to the receiver is lost, while it is.
    pub lost: Option<String>,
    /// The way walked.
    pub track: Track,
}

/// How good a kind of solution is, more being better; `None` where the log does not say, or there is no position.
fn rank(quality: Quality) -> Option<u8> {
    Some(match quality {
        Quality::RtkFixed => 3,
        Quality::RtkFloat => 2,
        Quality::Differential | Quality::Pps | Quality::Autonomous => 1,
        _ => return None,
    })
}

/// The error of a fix along each axis, one sigma in metres: what the fix claims, or what is usual for its kind.
fn sigma_m(fix: &Fix) -> f64 {
    let ([east_m, north_m], _) = fix_sigma_m(fix, None);
    east_m.hypot(north_m) / std::f64::consts::SQRT_2
}

impl Now {
    /// Takes note that something came, so many seconds since the start, and how many damaged sentences were in it.
    pub fn heard(&mut self, came_s: f64, damaged: u64) {
        self.byte_s = came_s;
        // A sentence that was under way when the line was opened is always torn and does not count.
        if damaged > 0 && self.fixes > 0 {
            let t_s = self.t_s().unwrap_or_default();
            let before = self.torn.filter(|(then_s, _)| t_s - then_s < TOLD_S);
            self.torn = Some((t_s, damaged + before.map_or(0, |(_, n)| n)));
        }
    }

    /// Takes note that the line to the receiver opened or was lost.
    pub fn link(&mut self, link: Link, came_s: f64) {
        self.lost = match link {
            Link::Open => None,
            Link::Lost(why) => Some(why),
        };
        self.byte_s = self.byte_s.max(match self.lost {
            None => came_s,
            Some(_) => 0.0,
        });
    }

    /// Takes note of how many bytes the disk has not taken.
    pub fn held(&mut self, bytes: usize) {
        self.held = bytes;
    }

    /// Takes note whether the log is too long to be measured while it grows.
    pub fn unmeasured(&mut self, is: bool) {
        self.unmeasured = is;
    }

    /// Takes a position that came so many seconds since the start. One with the same time as the last one is left out.
    pub fn fix(&mut self, fix: &Fix, came_s: f64) {
        if self.plane.is_none() {
            self.plane = Plane::new(fix.lat_deg, fix.lon_deg, 0.0).ok();
        }
        let Some(plane) = &self.plane else { return };
        let at = plane.forward(fix.lat_deg, fix.lon_deg);
        if fix.clock_s.is_some()
            && self
                .last
                .as_ref()
                .is_some_and(|l| l.fix.clock_s == fix.clock_s)
        {
            return;
        }
        self.untimed = match fix.clock_s {
            None => self.untimed.saturating_add(1),
            Some(_) => 0,
        };
        let t_s = self.clock_s(fix, came_s);
        let sigma_m = sigma_m(fix);
        if let Some(last) = &self.last {
            let gap_s = (t_s - last.t_s).max(0.01);
            let step_m = distance_m(last.at, at);
            let explained_m = limits::JUMP_M
                + FASTEST_M_S * gap_s
                + limits::JUMP_SIGMAS * wander_m(sigma_m, gap_s);
            if step_m > explained_m {
                self.jump = Some((t_s, step_m));
                self.recent.clear();
            }
            let same = (last.fix.lat_deg, last.fix.lon_deg) == (fix.lat_deg, fix.lon_deg);
            let since_s = self.same_since_s.unwrap_or(last.t_s);
            self.same_since_s = same.then_some(since_s);
        }
        if rank(fix.quality) > self.best.and_then(rank) {
            self.best = Some(fix.quality);
        }
        self.recent.push_back((t_s, at));
        while self.recent.front().is_some_and(|(t, _)| t_s - t > RATE_S) {
            self.recent.pop_front();
        }
        self.begun_s.get_or_insert(t_s);
        self.fixes += 1;
        self.track.walk(at, sigma_m);
        let fix = fix.clone();
        self.last = Some(Last {
            fix,
            at,
            t_s,
            came_s,
        });
    }

    /// The time of a fix, in seconds on a clock that always runs on, over midnight and even where the receiver's clock jumps back.
    fn clock_s(&mut self, fix: &Fix, came_s: f64) -> f64 {
        let Some(last) = &self.last else {
            return fix.clock_s.unwrap_or(0.0);
        };
        let (Some(now_s), Some(then_s)) = (fix.clock_s, last.fix.clock_s) else {
            return last.t_s + (came_s - last.came_s).max(0.0);
        };
        let step_s = match now_s - then_s {
            step_s if step_s < -DAY_S / 2.0 => step_s + DAY_S,
            step_s => step_s,
        };
        if step_s < -DISORDER_S {
            self.clock_back = Some((last.t_s, -step_s));
            // How long this step truly was is not known; a second is assumed.
            return last.t_s + 1.0;
        }
        last.t_s + step_s.max(0.0)
    }

    /// The last kind of solution, and how long ago it came, seconds; `None` before the first.
    #[must_use]
    pub(crate) fn solution(&self, now_s: f64) -> Option<(Quality, f64)> {
        let last = self.last.as_ref()?;
        Some((last.fix.quality, (now_s - last.came_s).max(0.0)))
    }

    /// The receiver's time of day (seconds, where it gives one) and its place (latitude and longitude, degrees); `None` before the first
    /// position.
    #[must_use]
    pub fn here(&self) -> Option<(Option<f64>, f64, f64)> {
        let fix = &self.last.as_ref()?.fix;
        let tod_s = fix.clock_s.map(|s| s.rem_euclid(DAY_S));
        Some((tod_s, fix.lat_deg, fix.lon_deg))
    }

    /// The time of the last position on the clock that always runs on, seconds.
    #[must_use]
    fn t_s(&self) -> Option<f64> {
        Some(self.last.as_ref()?.t_s)
    }

    /// Seconds since the first position, on the clock that always runs on.
    #[must_use]
    pub fn walked_s(&self) -> f64 {
        let last_s = self.t_s().unwrap_or_default();
        last_s - self.begun_s.unwrap_or(last_s)
    }

    /// Where the walker is, metres on the plane; `None` before the first position.
    #[must_use]
    pub fn at(&self) -> Option<Coord<f64>> {
        Some(self.last.as_ref()?.at)
    }

    /// Positions a second over the last few seconds; `None` where there are too few.
    #[must_use]
    pub(crate) fn rate_hz(&self) -> Option<f64> {
        let (first, last) = (self.recent.front()?.0, self.recent.back()?.0);
        (last > first).then(|| (self.recent.len() - 1) as f64 / (last - first))
    }

    /// The pace over the last few seconds, metres a second; `None` where these are too short.
    #[must_use]
    pub(crate) fn pace_m_s(&self) -> Option<f64> {
        let (last_s, last) = self.recent.back()?;
        let (first_s, first) = self.recent.iter().find(|(t, _)| last_s - t <= PACE_S)?;
        let lasted_s = last_s - first_s;
        // Over a shorter time noise alone would look like speed.
        (lasted_s > 0.6 * PACE_S).then(|| distance_m(*first, *last) / lasted_s)
    }

    /// Everything that is wrong, so many seconds since the start, in the order in which it matters.
    #[must_use]
    pub fn wrong(&self, now_s: f64) -> Vec<Wrong> {
        let mut all = Vec::new();
        if self.held > 0 {
            all.push(Wrong::NotKept { bytes: self.held });
        }
        let silent_s = now_s - self.byte_s;
        let unplaced_s = self.last.as_ref().map_or(now_s, |last| now_s - last.came_s);
        if silent_s >= limits::SILENT_S || self.lost.is_some() {
            all.push(Wrong::Silent { for_s: silent_s });
        } else if unplaced_s >= limits::SILENT_S {
            all.push(Wrong::NoPosition { for_s: unplaced_s });
        }
        let Some(last) = &self.last else { return all };
        let is = last.fix.quality;
        if let Some(was) = self.best.filter(|best| rank(*best) > rank(is)) {
            all.push(Wrong::Worse { is, was });
        } else if is == Quality::RtkFloat {
            all.push(Wrong::Float);
        }
        if let Some(for_s) = self.same_since_s.map(|since_s| last.t_s - since_s)
            && for_s >= limits::FROZEN_S
        {
            all.push(Wrong::Frozen { for_s });
        }
        let told = |(then_s, _): &(f64, f64)| last.t_s - then_s < TOLD_S;
        if let Some((_, by_m)) = self.jump.filter(told) {
            all.push(Wrong::Jump { by_m });
        }
        if let Some(m_s) = self.pace_m_s().filter(|m_s| *m_s > DRIVEN_M_S) {
            all.push(Wrong::TooFast { m_s });
        }
        if self.untimed >= 3 {
            all.push(Wrong::NoClock);
        }
        if let Some((_, by_s)) = self.clock_back.filter(told) {
            all.push(Wrong::ClockBack { by_s });
        }
        let torn = self.torn.filter(|(then_s, sentences)| {
            last.t_s - then_s < TOLD_S && *sentences >= limits::TORN_SENTENCES
        });
        all.extend(torn.map(|(_, sentences)| Wrong::Torn { sentences }));
        all.extend(self.unmeasured.then_some(Wrong::Unmeasured));
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::answer::may_be;
    use crate::read::piece::Pieces;

    /// The answer that is shown stays an old one from then on, so the walker must be told.
    #[test]
    fn a_log_too_long_to_be_measured_is_said() {
        let log = std::fs::read("fixtures/garden/lawn.nmea").unwrap();
        let mut now = Now::default();
        for fix in Pieces::default().take(&log[..2000]).fixes {
            now.heard(0.0, 0);
            now.fix(&fix, 0.0);
        }
        for (bytes, wrong) in [
            (256 << 20, None),
            ((256 << 20) + 1, Some(Wrong::Unmeasured)),
        ] {
            now.unmeasured(!may_be(bytes));
            assert_eq!(now.wrong(0.1).pop(), wrong);
        }
    }
}
