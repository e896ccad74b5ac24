//! Lines on standard error, where there is no terminal.

use super::walk::Live;
use crate::cli::say;
use boundwalk::live::now::{Now, Wrong};
use boundwalk::sheet::say::live as words;

/// A line every so many seconds of the log's clock.
const EVERY_S: f64 = 20.0;

/// When the next line is due.
#[derive(Debug, Default)]
pub struct Plain {
    next_s: Option<f64>,
}

impl Plain {
    /// Whether it is time for a line.
    pub fn is_due(&mut self, now: &Now) -> bool {
        let Some(t_s) = now.t_s() else { return false };
        let next_s = *self.next_s.get_or_insert(t_s + EVERY_S);
        if t_s < next_s {
            return false;
        }
        self.next_s = Some(t_s + EVERY_S);
        true
    }

    pub fn line(&self, live: &Live, now_s: f64) {
        say::note(&words::line(
            &live.now,
            now_s,
            live.answer.as_ref(),
            live.units,
        ));
    }

    /// What turned bad, or good again.
    pub fn wrong(&self, now: &Now, wrong: &[Wrong]) {
        let time = match now.here() {
            Some((Some(tod_s), ..)) => format!("{}; ", words::time_of_day(tod_s)),
            _ => String::new(),
        };
        match wrong {
            [] => say::note(&format!("{time}all well again")),
            all => all
                .iter()
                .for_each(|one| say::note(&format!("{time}!! {one}"))),
        }
    }
}
