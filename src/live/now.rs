//! What is seen of the walk fix by fix, without waiting for the survey: solution, pace, track, and what is wrong at this moment.

use super::Link;
use super::track::Track;
use crate::band::model::fix_sigma_m;
use crate::fix::{DAY_S, Fix, Quality};
use crate::limits::log::live as limits;
use crate::plane::Plane;
use crate::process::hand::{DRIVEN_M_S, FASTEST_M_S};
use crate::ring::distance_m;
use crate::walk::wander_m;
use geo::Coord;
use std::collections::VecDeque;

/// What happens in a moment is told for so long, seconds.
const TOLD_S: f64 = 8.0;
/// Pace is taken over so long, seconds.
const PACE_S: f64 = 3.0;
/// Positions a second are counted over so long, seconds.
const RATE_S: f64 = 5.0;

/// What is wrong at this moment, in the order in which it matters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wrong {
    /// The disk does not take what comes: so many bytes are held.
    NotKept { bytes: usize },
    /// Nothing comes.
    Silent { for_s: f64 },
    /// Something comes, but no position.
    NoPosition { for_s: f64 },
    /// A worse solution than there was.
    Worse { is: Quality, was: Quality },
    /// Carrier phase whose ambiguities are not resolved.
    Float,
    /// The position does not change by its last digit.
    Frozen { for_s: f64 },
    /// A step that walking does not explain.
    Jump { by_m: f64 },
    /// Faster than anyone walks an edge.
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
    /// Seconds on a clock that runs on.
    t_s: f64,
    /// When it came, seconds since the start.
    came_s: f64,
}

/// All of it.
#[derive(Debug, Default)]
pub struct Now {
    plane: Option<Plane>,
    last: Option<Last>,
    begun_s: Option<f64>,
    /// Positions taken.
    pub fixes: u64,
    /// Positions without a time, one after another.
    untimed: u32,
    /// The best solution so far.
    best: Option<Quality>,
    /// Place and time of the last few seconds.
    recent: VecDeque<(f64, Coord<f64>)>,
    /// Since when the position is the same to its last digit.
    same_since_s: Option<f64>,
    /// When it was on the clock of [`Last::t_s`], and what, as the two that follow.
    jump: Option<(f64, f64)>,
    clock_back: Option<(f64, f64)>,
    torn: Option<(f64, u64)>,
    /// When the last byte came, seconds since the start.
    byte_s: f64,
    held: usize,
    unmeasured: bool,
    /// The line to the receiver.
    pub lost: Option<String>,
    /// The way walked.
    pub track: Track,
}

/// How good a solution is; `None` where the log does not say.
fn rank(quality: Quality) -> Option<u8> {
    Some(match quality {
        Quality::RtkFixed => 3,
        Quality::RtkFloat => 2,
        Quality::Differential | Quality::Pps | Quality::Autonomous => 1,
        _ => return None,
    })
}

/// One sigma of a fix, metres: what it claims, or what its kind is planned with.
fn sigma_m(fix: &Fix) -> f64 {
    let ([east_m, north_m], _) = fix_sigma_m(fix, None);
    east_m.hypot(north_m) / std::f64::consts::SQRT_2
}

impl Now {
    /// Something came, at this many seconds since the start.
    pub fn heard(&mut self, came_s: f64, damaged: u64) {
        self.byte_s = came_s;
        // What was under way when the line was opened is torn and nobody's fault.
        if damaged > 0 && self.fixes > 0 {
            let t_s = self.t_s().unwrap_or_default();
            let before = self.torn.filter(|(then_s, _)| t_s - then_s < TOLD_S);
            self.torn = Some((t_s, damaged + before.map_or(0, |(_, n)| n)));
        }
    }

    /// The line to the receiver opened or was lost.
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

    /// What the disk does not take.
    pub fn held(&mut self, bytes: usize) {
        self.held = bytes;
    }

    /// Whether the log is not measured any more while it grows.
    pub fn unmeasured(&mut self, is: bool) {
        self.unmeasured = is;
    }

    /// Takes a position that came so many seconds since the start. One that says the time of the last one again is left out.
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

    /// A clock that runs on, over midnight and whatever the receiver's does.
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
        if step_s < -limits::DISORDER_S {
            self.clock_back = Some((last.t_s, -step_s));
            // Nothing says how long this step was.
            return last.t_s + 1.0;
        }
        last.t_s + step_s.max(0.0)
    }

    /// The last solution, and how long ago it came, seconds.
    #[must_use]
    pub(crate) fn solution(&self, now_s: f64) -> Option<(Quality, f64)> {
        let last = self.last.as_ref()?;
        Some((last.fix.quality, (now_s - last.came_s).max(0.0)))
    }

    /// The receiver's time of day, seconds, and its place, degrees.
    #[must_use]
    pub fn here(&self) -> Option<(Option<f64>, f64, f64)> {
        let fix = &self.last.as_ref()?.fix;
        let tod_s = fix.clock_s.map(|s| s.rem_euclid(DAY_S));
        Some((tod_s, fix.lat_deg, fix.lon_deg))
    }

    /// Seconds on a clock that runs on from the first position.
    #[must_use]
    fn t_s(&self) -> Option<f64> {
        Some(self.last.as_ref()?.t_s)
    }

    /// Seconds on that clock since the first position.
    #[must_use]
    pub fn walked_s(&self) -> f64 {
        let last_s = self.t_s().unwrap_or_default();
        last_s - self.begun_s.unwrap_or(last_s)
    }

    /// Where it stands, plane metres.
    #[must_use]
    pub fn at(&self) -> Option<Coord<f64>> {
        Some(self.last.as_ref()?.at)
    }

    /// Positions a second.
    #[must_use]
    pub(crate) fn rate_hz(&self) -> Option<f64> {
        let (first, last) = (self.recent.front()?.0, self.recent.back()?.0);
        (last > first).then(|| (self.recent.len() - 1) as f64 / (last - first))
    }

    /// Metres a second over the last few.
    #[must_use]
    pub(crate) fn pace_m_s(&self) -> Option<f64> {
        let (last_s, last) = self.recent.back()?;
        let (first_s, first) = self.recent.iter().find(|(t, _)| last_s - t <= PACE_S)?;
        let lasted_s = last_s - first_s;
        // Over less, noise is a speed.
        (lasted_s > 0.6 * PACE_S).then(|| distance_m(*first, *last) / lasted_s)
    }

    /// All that is wrong, at so many seconds since the start.
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

    /// The answer that is shown is of before from then on.
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
