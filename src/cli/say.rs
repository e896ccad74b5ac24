//! What goes to standard error: faults, warnings and notes. Hidden characters in them, which a log or a file's name may bring along, are
//! shown by their number.

use boundwalk::fault::Fault;
use boundwalk::notice::{Notice, Weight};
use boundwalk::units::Units;
use boundwalk::visible::visible;
use clap::ColorChoice;
use console::{Color, Style};
use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

static IN_COLOUR: AtomicBool = AtomicBool::new(false);

/// Decides whether the words before faults and warnings have a colour from now on.
pub fn in_colour(choice: ColorChoice) {
    let told = |variable: &str| std::env::var_os(variable).unwrap_or_default();
    let on = match choice {
        ColorChoice::Always => true,
        ColorChoice::Never => false,
        // By the convention of no-color.org the variable counts if it is set and not empty.
        ColorChoice::Auto => {
            told("NO_COLOR").is_empty() && told("TERM") != "dumb" && std::io::stderr().is_terminal()
        }
    };
    IN_COLOUR.store(on, Ordering::Relaxed);
}

/// Says each fault, as a paragraph of its own.
pub fn faults(faults: &[Fault]) {
    for fault in faults {
        labelled("error", Color::Red, &fault.to_string());
    }
}

/// Says the first warning of each kind, in the reader's units, and how many more of that kind there were.
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

/// Says one line of progress or advice.
pub fn note(text: &str) {
    line(text);
}

fn line(text: &str) {
    put(&visible(text));
}

/// Says a line that begins with a word for what kind of thing it is.
fn labelled(word: &str, colour: Color, text: &str) {
    let style = Style::new()
        .fg(colour)
        .bold()
        .force_styling(IN_COLOUR.load(Ordering::Relaxed));
    // Only the word is coloured here. Escape sequences in the text are shown by their number and so do nothing.
    put(&format!("{}: {}", style.apply_to(word), visible(text)));
}

fn put(line: &str) {
    // Where standard error is closed there is nobody to tell.
    let _ = writeln!(std::io::stderr().lock(), "{line}");
}
