//! A walk measured while it goes on: the stream is kept, what is seen of it fix by fix, and what the survey's own stages make of
//! what there is so far. All threads report to one channel; the program's loop is the only one that listens.

pub mod answer;
pub mod keep;
pub mod marks;
pub mod now;
pub mod serve;
pub mod source;
pub mod track;
pub mod typed;

use answer::Answer;
use std::io;

/// What the threads of a live survey report.
#[derive(Debug)]
pub enum Event {
    /// Came from the receiver.
    Bytes(Vec<u8>),
    /// The line to the receiver.
    Link(Link),
    /// A line of the second input.
    Mark(String),
    /// A key on the terminal.
    Key(Key),
    /// What the survey makes of it so far.
    Answer(Box<Answer>),
    /// The disk does not take what was written to it.
    Unkept(io::Error),
    /// The stream is at its end.
    Ended,
    /// Somebody asked to stop.
    Stop,
}

/// Whether anything can come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Link {
    /// It is open.
    Open,
    /// It is not; it is tried again by itself.
    Lost(String),
}

/// A key, as far as it means anything here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A letter, a digit or a sign.
    Letter(char),
    /// What was typed is done.
    Enter,
    /// The last letter typed is taken back.
    Back,
    /// What was typed is not wanted.
    Escape,
}

impl Key {
    /// The keys of what a terminal sends at once. An escape alone is the key; before anything else it begins an arrow or another key
    /// that means nothing here.
    ///
    /// ```
    /// use boundwalk::live::Key;
    /// assert_eq!(Key::typed(b"b\r"), [Key::Letter('b'), Key::Enter]);
    /// assert_eq!(Key::typed("é\x7f".as_bytes()), [Key::Letter('é'), Key::Back]);
    /// assert_eq!(Key::typed(b"\x1b"), [Key::Escape]);
    /// assert_eq!(Key::typed(b"\x1b[A"), []);
    /// ```
    #[must_use]
    pub fn typed(sent: &[u8]) -> Vec<Key> {
        match sent {
            [0x1b] => return vec![Key::Escape],
            [0x1b, ..] => return Vec::new(),
            _ => {}
        }
        let text = String::from_utf8_lossy(sent);
        let letters = text.chars().filter_map(|letter| match letter {
            '\r' | '\n' => Some(Key::Enter),
            '\u{8}' | '\u{7f}' => Some(Key::Back),
            letter if letter.is_control() || letter == '\u{fffd}' => None,
            letter => Some(Key::Letter(letter)),
        });
        letters.collect()
    }
}
