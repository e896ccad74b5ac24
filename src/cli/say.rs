//! What goes to standard error: faults and warnings, each kind once.

use boundwalk::fault::Fault;
use boundwalk::notice::{Notice, Weight};
use boundwalk::units::Units;
use boundwalk::visible::visible;
use std::io::Write;

/// One paragraph a fault.
pub fn faults(faults: &[Fault]) {
    for fault in faults {
        line(&format!("error: {fault}"));
    }
}

/// Warnings, one of each kind, in the reader's units; how many more there were of it.
pub fn warnings(warnings: &[Notice], units: Units) {
    let mut told: Vec<&str> = Vec::new();
    for warning in warnings {
        if told.contains(&warning.code()) {
            continue;
        }
        told.push(warning.code());
        let more = warnings
            .iter()
            .filter(|w| w.code() == warning.code())
            .count()
            - 1;
        let word = match warning.weight() {
            Weight::Note => "note",
            Weight::Doubt => "warning",
        };
        let message = warning.said(units);
        match more {
            0 => line(&format!("{word}: {message}")),
            more => line(&format!("{word}: {message} ({more} more of this kind.)")),
        }
    }
}

/// One line of progress or advice.
pub fn note(text: &str) {
    line(text);
}

fn line(text: &str) {
    // Nobody is left to tell if standard error is closed.
    let _ = writeln!(std::io::stderr().lock(), "{}", visible(text));
}
