//! Measures a walk while it goes on. The receiver's stream comes from a `source`, is kept in a file (`keep`), and is looked at fix by fix
//! (`now`, `track`); the survey measures what there is so far (`answer`), and `marks` gathers what the surveyor says on the way. All
//! threads send their events into one channel, which the program's loop reads.

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
    /// Bytes that came from the receiver.
    Bytes(Vec<u8>),
    /// The line to the receiver opened or was lost.
    Link(Link),
    /// A line of the second input.
    Mark(String),
    /// A key on the terminal.
    Key(Key),
    /// What the survey makes of the walk so far.
    Answer(Box<Answer>),
    /// The disk did not take what was written to it.
    Unkept(io::Error),
    /// The stream is at its end.
    Ended,
    /// Somebody asked to stop.
    Stop,
}

/// Whether the line to the receiver is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Link {
    /// It is open.
    Open,
    /// It was lost, and why. Its thread tries again by itself.
    Lost(String),
}

/// A key that means something here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// A letter, a digit or a sign.
    Letter(char),
    /// Ends what is typed.
    Enter,
    /// Takes the last letter back.
    Back,
    /// Gives up what was typed.
    Escape,
}

impl Key {
    /// The keys in what a terminal sends at once. An escape character alone is the escape key; with more after it, it is an arrow or
    /// another key that means nothing here.
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
