//! Shows a live walk as lines on standard error, for where there is no terminal to draw on: a line every twenty seconds, and one at once
//! when something turns bad or good again.

use crate::cli::say;
use boundwalk::live::answer::Answer;
use boundwalk::live::now::{Now, Wrong};
use boundwalk::sheet::say::live as words;
use boundwalk::units::Units;

/// How often a line is written, seconds on the clock of the log.
const EVERY_S: f64 = 20.0;

/// Knows when the next line is due, in seconds since the first position.
#[derive(Debug)]
pub struct Plain {
    next_s: f64,
}

impl Default for Plain {
    fn default() -> Plain {
        Plain { next_s: EVERY_S }
    }
}

impl Plain {
    /// Whether it is time for a line; if it is, the next one is due twenty seconds later.
    pub fn is_due(&mut self, now: &Now) -> bool {
        let walked_s = now.walked_s();
        let is_due = walked_s >= self.next_s;
        if is_due {
            self.next_s = walked_s + EVERY_S;
        }
        is_due
    }

    pub fn line(&self, now: &Now, now_s: f64, answer: Option<&Answer>, units: Units) {
        say::note(&words::line(now, now_s, answer, units));
    }

    /// Says everything that is wrong now, or that all is well again.
    pub fn wrong(&self, now: &Now, wrong: &[Wrong], units: Units) {
        let time = match now.here() {
            Some((Some(tod_s), ..)) => format!("{}; ", words::time_of_day(tod_s)),
            _ => String::new(),
        };
        match wrong {
            [] => say::note(&format!("{time}all well again")),
            all => all
                .iter()
                .for_each(|one| say::note(&format!("{time}!! {}", one.said(units)))),
        }
    }
}
