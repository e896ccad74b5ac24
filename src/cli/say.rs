//! What goes to standard error: faults and warnings, each kind once.

use boundwalk::fault::Fault;
use boundwalk::notice::{Notice, Weight};
use boundwalk::units::Units;
use boundwalk::visible::visible;
use clap::ColorChoice;
use console::{Color, Style};
use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

static IN_COLOUR: AtomicBool = AtomicBool::new(false);

/// Whether the words before faults and warnings have a colour from now on.
pub fn in_colour(choice: ColorChoice) {
    let told = |variable: &str| std::env::var_os(variable).unwrap_or_default();
    let on = match choice {
        ColorChoice::Always => true,
        ColorChoice::Never => false,
        // no-color.org: set and not empty.
        ColorChoice::Auto => {
            told("NO_COLOR").is_empty() && told("TERM") != "dumb" && std::io::stderr().is_terminal()
        }
    };
    IN_COLOUR.store(on, Ordering::Relaxed);
}

/// One paragraph a fault.
pub fn faults(faults: &[Fault]) {
    for fault in faults {
        labelled("error", Color::Red, &fault.to_string());
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
        let (word, colour) = match warning.weight() {
            Weight::Note => ("note", Color::Cyan),
            Weight::Doubt => ("warning", Color::Yellow),
        };
        let message = warning.said(units);
        match more {
            0 => labelled(word, colour, &message),
            more => labelled(
                word,
                colour,
                &format!("{message} ({more} more of this kind.)"),
            ),
        }
    }
}

/// One line of progress or advice.
pub fn note(text: &str) {
    line(text);
}

fn line(text: &str) {
    put(&visible(text));
}

/// A line that begins with what kind of thing it says.
fn labelled(word: &str, colour: Color, text: &str) {
    let style = Style::new()
        .fg(colour)
        .bold()
        .force_styling(IN_COLOUR.load(Ordering::Relaxed));
    // Colours are ours alone: what a log or a name brings along is shown, not obeyed.
    put(&format!("{}: {}", style.apply_to(word), visible(text)));
}

fn put(line: &str) {
    // Nobody is left to tell if standard error is closed.
    let _ = writeln!(std::io::stderr().lock(), "{line}");
}
